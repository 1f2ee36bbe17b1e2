// The scenarios that the project's own requirements name, held against what the sentences speak of.
import { beforeAll, describe, expect, it } from "vitest";
import { phaseLagDeg } from "../../../harness/judge/level-checks.ts";
import {
  OWN_REQUIREMENTS,
  readRequirements,
} from "../../../harness/requirement/requirements-file.ts";
import type { Scene } from "../../../harness/scene/scene.ts";
import { VALID } from "../../../shared/units.ts";
import { compareWithTruth } from "../../kit/compare-with-truth.ts";
import { levelsOf, playScene } from "../../kit/play-scene.ts";
import { suiteCases } from "../../kit/regression-suite.ts";
import { readProjectFile } from "../../repo/source-files.ts";
import { SHOWN_BY } from "./shown-by.ts";

const own = readRequirements(OWN_REQUIREMENTS);
const cases = new Map<string, Scene[]>();
const casesOf = (path: string): Scene[] => cases.get(path)!;
const requirement = (id: string) => own.find((one) => one.id === id)!;

beforeAll(() => {
  for (const path of own.flatMap(({ scenarios }) => scenarios)) {
    if (!cases.has(path)) cases.set(path, suiteCases(`${path}.scenario.yaml`));
  }
});

describe("a requirement of the indication", () => {
  it("[REQ-015] names scenarios that have in them what it speaks of, and leaves no part out", () => {
    const idle: string[] = [];
    for (const { id, scenarios } of own) {
      const parts = Object.entries(SHOWN_BY[id] ?? {});
      for (const path of scenarios) {
        const shows = parts.some(([, part]) => casesOf(path).some(part));
        if (!shows) idle.push(`${id}: ${path} shows nothing of it`);
      }
      for (const [name, part] of parts) {
        const isShown = scenarios.some((path) => casesOf(path).some(part));
        if (!isShown) idle.push(`${id}: no scenario shows ${name}`);
      }
    }
    expect(idle).toEqual([]);
    const named = own.filter(({ scenarios }) => scenarios.length > 0).map(({ id }) => id);
    expect(Object.keys(SHOWN_BY)).toEqual(named);
  });

  it("[REQ-016] has no word where the profile has none, and finds that out", () => {
    const parts = Object.values(SHOWN_BY["IND-018"]!);
    const without = suiteCases(
      "caution/does-half-a-step-decide-the-number-and-the-caution.scenario.yaml",
    );
    expect(parts.some((part) => without.some(part))).toBe(false);
  });

  it("[REQ-016] has parts that a scenario of the same folder does not show", () => {
    const folderOf = (path: string): string => path.slice(0, path.indexOf("/"));
    const idle: string[] = [];
    const always: string[] = [];
    for (const { id, scenarios } of own) {
      const folders = new Set(scenarios.map(folderOf));
      const near = [...cases.keys()].filter((path) => folders.has(folderOf(path)));
      for (const [name, part] of Object.entries(SHOWN_BY[id] ?? {})) {
        if (near.every((path) => casesOf(path).some(part))) idle.push(`${id}: ${name}`);
        if ([...cases.values()].every((all) => all.some(part))) always.push(`${id}: ${name}`);
      }
    }
    // A filter of velocity is in each scenario that is named; a changed scene lacks it, below.
    expect(always).toEqual(["IND-007: velocity"]);
    // Each scenario of caution has a case with hysteresis in which the caution comes.
    expect(idle).toEqual(["IND-007: velocity", "IND-022: hysteresis"]);
  });

  it("[REQ-016] is not shown by company alone, a rise that stays, or one below the level", () => {
    const part = (id: string, name: string) => SHOWN_BY[id]![name]!;
    const shows = (id: string, name: string): Scene =>
      requirement(id).scenarios.flatMap(casesOf).find(part(id, name))!;
    const scaled = (scene: Scene, factor: number): Scene => {
      const other = structuredClone(scene);
      for (const filter of other.profile.filters) filter.levelFactor *= factor;
      return other;
    };
    const alone = structuredClone(shows("IND-002", "company"));
    for (const channel of alone.channels) {
      channel.components = channel.components.filter(
        (one) => one.kind !== "order" || one.order !== 1,
      );
    }
    expect(part("IND-002", "company")(alone)).toBe(false);
    const still = structuredClone(shows("IND-007", "velocity"));
    for (const filter of still.profile.filters) filter.quantity = "acceleration";
    expect(part("IND-007", "velocity")(still)).toBe(false);
    const short = structuredClone(shows("IND-021", "on-delay"));
    for (const { display } of short.profile.filters) display.caution!.onDelaySteps = 1;
    expect(part("IND-021", "on-delay")(short)).toBe(false);
    for (const [id, name] of [
      ["IND-019", "below it"],
      ["IND-021", "on-delay"],
      ["IND-027", "timing"],
      ["IND-027", "held"],
      ["IND-027", "inhibited"],
    ] as const) {
      expect(part(id, name)(scaled(shows(id, name), 0.01)), `${id} ${name}`).toBe(false);
    }
  });

  it("[REQ-017] of the output word has each of the four matrices, normal only where it is valid", async () => {
    const [path] = requirement("IND-018").scenarios;
    for (const scene of casesOf(path!)) {
      const seen = new Set<number>();
      for (const { word, validity } of levelsOf(await playScene(scene))) {
        const matrix = (word >>> 29) & 3;
        seen.add(matrix);
        // Bits 31 and 30 of the word, from 1 on: 11 is normal operation of a binary number.
        expect(matrix === 3).toBe(validity === VALID);
        expect(word.toString(2).replaceAll("0", "").length % 2).toBe(1);
      }
      expect(seen, scene.name).toEqual(new Set([0, 1, 2, 3]));
    }
  });

  // The share of reading alone, which asks more than the sentence; degrees where a phase is named.
  it.each([
    ["IND-002", "0.02 %", 0.0002, Infinity],
    ["IND-003", "0.1 %", 0.001, Infinity],
    ["IND-008", "0.1°", Infinity, 0.1],
  ])("[REQ-018] %s that states %s meets it at every judged step", async (id, said, share, deg) => {
    expect(requirement(id).text).toContain(said);
    for (const path of requirement(id).scenarios) {
      for (const scene of casesOf(path)) {
        const steps = await compareWithTruth(scene);
        expect(steps.length, scene.name).toBeGreaterThan(10);
        for (const { record, truth } of steps) {
          expect(Math.abs(record.level / truth.level - 1), scene.name).toBeLessThanOrEqual(share);
          if (!truth.phaseIsJudged) continue;
          const turn = phaseLagDeg(record.re, record.im) - truth.phaseLagDeg;
          const error = Math.abs(turn - 360 * Math.round(turn / 360));
          expect(error, scene.name).toBeLessThanOrEqual(deg);
        }
      }
    }
  });

  it("[REQ-023] is counted in the README", () => {
    const shown = own.filter(({ scenarios }) => scenarios.length > 0).length;
    const page = readProjectFile("README.md");
    expect(page).toContain(`(harness/requirements.yaml), ${own.length} sentences`);
    const rest = own.length - shown;
    expect(page).toContain(
      `${own.length}: ${shown} shown by scenarios that are right, ${rest} by tests alone`,
    );
  });

  it("[REQ-019] of a regulation names its numbered paragraph", () => {
    const regulations = own.filter(({ source }) => source.kind === "regulation");
    expect(regulations.length).toBeGreaterThan(5);
    for (const { id, source } of regulations) {
      expect(source.cite, id).toMatch(/^14 CFR \d+\.\d+\([a-z]\)\(\d\)/);
    }
  });
});
