// The angle that a device is defined to have, against Lagrange's parabola; the edges that it takes,
// against its stated tolerance; both against the firmware on glitches of any place.
import { describe, expect, it } from "vitest";
import type { WheelShape } from "../../../harness/method/box-signal.ts";
import { DeviceAngle, placesPerKnot } from "../../../harness/method/device-angle.ts";
import { DOUBTFUL_EDGES, deviceEdges } from "../../../harness/method/device-edges.ts";
import { countEdges } from "../../../harness/method/edge-count.ts";
import type { Scene } from "../../../harness/scene/scene.ts";
import { edgesOf, PLAIN_WHEEL, timeOfRamp } from "../../kit/known-signal.ts";
import { opinionsOf } from "../../kit/opinions-of.ts";
import { suiteCases } from "../../kit/regression-suite.ts";

const RAMP = { startRev: 0.3, speed: 0.004, acceleration: 5e-8 };
const RATE_HZ = 12_800;

describe("angle of a device", () => {
  it("[METH-007] is the parabola through a knot and the two before it, every s-th edge", () => {
    // Of 60 places every fifth leaves 12, of 97 none but the first does.
    expect([1, 7, 24, 60, 97, 255].map(placesPerKnot)).toEqual([1, 1, 2, 5, 1, 17]);
    const wheel: WheelShape = { ...PLAIN_WHEEL, positions: 60, index: "missing-tooth" };
    const edges = edgesOf(RAMP, wheel, 20_000);
    // A bad tooth, so that the parabola is none of the motion itself.
    edges[205]! += 0.9;
    const [run] = countEdges(edges, wheel);
    const device = deviceEdges(run!, wheel, RATE_HZ);
    const angle = new DeviceAngle(device, wheel, 0);
    const knots = run!.at.flatMap((at, i) =>
      run!.place[i]! % 5 === 0 ? [{ at, rev: run!.place[i]! / 60 }] : [],
    );
    const parabola = (time: number, k: number): number => {
      const three = knots.slice(k - 1, k + 2);
      return three.reduce((sum, one) => {
        const others = three.filter((other) => other !== one);
        const weight = others.reduce(
          (w, other) => (w * (time - other.at)) / (one.at - other.at),
          1,
        );
        return sum + weight * one.rev;
      }, 0);
    };
    for (let k = 1; k + 1 < knots.length; k += 1) {
      for (const share of [0.1, 0.5, 0.9]) {
        const time = knots[k]!.at + share * (knots[k + 1]!.at - knots[k]!.at);
        expect(angle.revAt(time)).toBeCloseTo(parabola(time, k), 10);
        expect(Math.abs(angle.timeAt(angle.revAt(time)) - time)).toBeLessThan(1e-6);
      }
    }
    // In the steady middle of two cycles the speed is the cycles' own.
    const steady = new DeviceAngle(
      { at: [0, 100, 200, 300], place: [0, 1, 2, 3], astray: [] },
      PLAIN_WHEEL,
      0,
    );
    expect(steady.speedAt(150)).toBeCloseTo(0.01, 12);
  });
});

/** A wheel of one edge with a glitch a share of a turn after edge 100, at an even speed. */
function glitched(share: number): { run: ReturnType<typeof countEdges>[number]; glitchAt: number } {
  const even = { startRev: 0, speed: 1 / 400, acceleration: 0 };
  const whole = [...edgesOf(even, PLAIN_WHEEL, 100_000)];
  const glitchAt = timeOfRamp(even, 100 + share);
  const edges = Float64Array.from([...whole, glitchAt].toSorted((a, b) => a - b));
  const [run, ...others] = countEdges(edges, PLAIN_WHEEL);
  expect(others).toEqual([]);
  return { run: run!, glitchAt };
}

describe("edges of a device", () => {
  // 400 samples a turn are 32 rev/s: the limit of 30 rev/s² adds 30/32² = 0.029 to the 0.2.
  it.each([
    [0.3, "the tooth", false],
    [0.6, "the tooth", false],
    [0.76, "the tooth", false],
    [0.78, "the glitch", true],
    [0.85, "the glitch", true],
    [0.9, "the glitch", false],
    [0.97, "the glitch", false],
  ])(
    "[METH-084] of two at one place the first within the tolerance is taken: %f of a pitch, %s",
    (share, which, isAstray) => {
      const { run, glitchAt } = glitched(share);
      const { at, place, astray } = deviceEdges(run, PLAIN_WHEEL, RATE_HZ);
      expect(at.includes(glitchAt)).toBe(which === "the glitch");
      expect(at.length).toBe(run.at.length);
      for (const [i, one] of place.entries()) expect(one).toBe(i);
      // More than half the tolerance beside its place the count itself is in doubt.
      expect(astray.length).toBe(isAstray ? 1 : 0);
      for (const { fromAt, untilAt } of astray) {
        expect(fromAt).toBeLessThan(glitchAt);
        // Edge 101 is the doubtful one.
        expect(untilAt).toBe(run.at[101 + DOUBTFUL_EDGES]);
      }
    },
  );
});

/** The suite's glitch at few edges a turn, of another wheel, speed and place. */
function glitchScene(positions: number, revPerS: number, fraction: number): Scene {
  const [scene] = suiteCases(
    "tachometer/does-a-glitch-at-one-edge-a-revolution-end-in-the-right-speed.scenario.yaml",
  );
  const [shaft] = scene!.shafts;
  return {
    ...scene!,
    durationS: 9,
    profile: {
      ...scene!.profile,
      shafts: scene!.profile.shafts.map((one) => ({ ...one, positions })),
    },
    shafts: [
      {
        ...shaft!,
        speed: [{ timeS: 0, revPerS }],
        wheel: { ...shaft!.wheel, positions },
        faults: [{ kind: "glitch", atS: 4, fraction }],
      } as Scene["shafts"][number],
    ],
  };
}

describe("doubtful edges on the firmware", () => {
  it.each([1, 2, 3, 7])(
    "[METH-085] no method differs after a glitch at any place of a wheel of %i, and none is silent",
    async (positions) => {
      let doubtful = 0;
      for (const [revPerS, fraction] of [
        [12, 0.55],
        [12, 0.65],
        [12, 0.7],
        [15, 0.76],
        [15, 0.82],
        [33, 0.86],
        [33, 0.95],
      ] as const) {
        const { filters } = await opinionsOf(glitchScene(positions, revPerS, fraction));
        for (const { method, verdict, notCompared, comparedCount } of filters[0]!.opinions) {
          expect([fraction, method, verdict]).toEqual([fraction, method, "agrees"]);
          expect(comparedCount).toBeGreaterThan(0);
          if (notCompared.some(({ why }) => why.startsWith("an edge at no place"))) doubtful += 1;
        }
      }
      expect(doubtful).toBeGreaterThan(0);
    },
  );
});
