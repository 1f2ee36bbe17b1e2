// The index after it was found again, on the second shaft, and at the very limit of its place.
import { beforeAll, describe, expect, test } from "vitest";
import { COUNTER_INDEX_CONTRADICTIONS } from "../../shared/layout.ts";
import {
  EVENT_INDEX_FOUND,
  EVENT_INDEX_LOST,
  EVENT_REFERENCE_FOUND,
  INDEX_EXTRA_EDGE,
  INDEX_MISSING_TOOTH,
} from "../../shared/units.ts";
import { ticksOf, wheelEdges, withGlitch } from "./kit/tach-edges.ts";
import { TachStage, tachCompile } from "./kit/tach-stage.ts";

let module: WebAssembly.Module;
beforeAll(async () => {
  module = await tachCompile();
});

const MISSING = { positions: 36, index: INDEX_MISSING_TOOTH };
const codesOf = (stage: TachStage): number[] => stage.events.map(({ code }) => code);

describe("an index found again", () => {
  test("[TACH-041] begins with a clean count: one cycle that contradicts it does not lose it", () => {
    const bare = wheelEdges({ positions: 36, turns: 25 });
    const shown = wheelEdges({ ...MISSING, turns: 25 });
    const isOut = ({ place }: { place: number }): boolean => place >= 360 && place < 540;
    const edges = [
      ...shown.filter((one) => one.place < 360),
      ...bare.filter(isOut),
      ...shown.filter((one) => one.place >= 540),
    ];
    // It is found at 648; the gap of the cycle that follows is filled, 683.
    const stage = new TachStage(module, MISSING).feed(ticksOf(withGlitch(edges, 683)));
    expect(stage.counter(COUNTER_INDEX_CONTRADICTIONS)).toBe(3);
    expect(codesOf(stage)).toEqual([EVENT_REFERENCE_FOUND, EVENT_INDEX_LOST, EVENT_INDEX_FOUND]);
  });

  test("[TACH-041] is counted for the shaft that it is of", () => {
    const edges = withGlitch(wheelEdges({ ...MISSING, turns: 20 }), 359);
    const stage = new TachStage(module, MISSING, 1).feed(ticksOf(edges));
    expect(stage.counter(COUNTER_INDEX_CONTRADICTIONS)).toBe(1);
  });

  // A pitch of 2¹⁵ ticks and a tolerance of 1/8 are exact in binary: so is a mark 5/8 of a pitch on.
  test.each([
    ["at the limit", 0.625, true],
    ["a tick beyond it", 0.625 + 2 ** -15, false],
    ["at the limit before", 0.375, true],
    ["a tick before that", 0.375 - 2 ** -15, false],
  ])("[TACH-042] an extra edge %s of its place while the index is lost", (_name, part, isFound) => {
    const pitch = 2 ** 15;
    const at = (place: number): number => 1000 + place * pitch;
    const ticks: number[] = [];
    for (let place = 0; place < 36 * 20; place += 1) {
      ticks.push(at(place));
      const turn = Math.floor(place / 36);
      // Half-way up to the eighth turn; none in two; then at the part under test.
      if (place % 36 !== 35 || turn === 8 || turn === 9) continue;
      ticks.push(at(place + (turn < 8 ? 0.5 : part)));
    }
    const wheel = { positions: 36, index: INDEX_EXTRA_EDGE, tolerance: 0.125, accelerationMax: 0 };
    const stage = new TachStage(module, wheel).feed(ticks);
    expect(codesOf(stage).includes(EVENT_INDEX_LOST)).toBe(true);
    expect(codesOf(stage).includes(EVENT_INDEX_FOUND)).toBe(isFound);
  });
});
