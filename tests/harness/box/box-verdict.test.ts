// What is said of a box as a whole: the worst of its checks, each of them told; whose bursts tell its clock.
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { Core } from "../../../host/core.ts";
import { releaseCorePath } from "../../../host/package-root.ts";
import type { LevelBox, Reading } from "../../../harness/adapter/adapter.ts";
import { runBoxCase } from "../../../harness/box/box-case.ts";
import { targetBox } from "../../../harness/box/target-box.ts";
import { readScenarioFile } from "../../../harness/scenario/scenario-reader.ts";
import type { Scene } from "../../../harness/scene/scene.ts";
import { CoreTarget } from "../../../harness/target/core-target.ts";
import { SUITE_FOLDER } from "../../kit/regression-suite.ts";
import { worstDecision } from "../../../harness/box/decision.ts";
import { makeTimeline } from "../../../harness/box/timeline.ts";
import { readDeviceFile } from "../../../harness/box/device-file.ts";
import { summaryOf, summaryRow } from "../../../harness/results/summary.ts";
import type { CaseResult } from "../../../harness/results/types.ts";
import { ANALOG_DEVICE, boxScene, judgeBox } from "../../kit/simulated-box.ts";
import { sampleCase } from "../../kit/sample-case.ts";

const DEVICE = readDeviceFile(ANALOG_DEVICE);
const ROWS = ["{ at: 0 s, amplitude: 0.8 in/s pk }", "{ at: 6 s, amplitude: 2.4 in/s pk }"];
const STEP = boxScene("steps", ROWS, { duration: "16 s" });

const rowOf = (verdict: CaseResult["verdict"]) => summaryRow({ ...sampleCase(), verdict });

describe("the verdict of a box", () => {
  it("[BOX-080] is the worst of its checks: outside, guard band, not judged, inside", () => {
    expect(worstDecision(["inside", "within the guard band", "outside"])).toBe("outside");
    expect(worstDecision(["inside", "not judged", "within the guard band"])).toBe(
      "within the guard band",
    );
    expect(worstDecision(["not judged", "inside"])).toBe("not judged");
    expect(worstDecision(["inside"])).toBe("inside");
    expect(worstDecision([])).toBe("not judged");
  });

  it("[BOX-081] a reading within the guard band hides no other check that is outside", async () => {
    const { box, check, verdict } = await judgeBox(STEP, {
      settings: { gain: 1.045 },
      device: { accuracy: { share: 0.03, units: 0.13 } },
      // A tenth more than the speed, which may be off by 1 %, and a number between two steps.
      change: (readings) =>
        readings.map((one, i) => ({
          ...one,
          speedRevPerS: 1.1 * one.speedRevPerS!,
          shown: i === 90 ? one.shown + 0.02 : one.shown,
        })),
    });
    expect(check("level").decision).toBe("within the guard band");
    expect(check("shown").decision).toBe("outside");
    expect(check("speed").decision).toBe("outside");
    expect(check("events").decision).toBe("inside");
    expect([box.decision, verdict.isRight]).toEqual(["outside", false]);
    const { why, decision, worstCheck } = rowOf(verdict);
    expect([decision, worstCheck]).toEqual(["outside", "shown"]);
    // Each is told, what is outside first.
    const places = ["no whole steps", "the speed: of", "within the guard band, 0 outside"].map(
      (one) => why.indexOf(one),
    );
    expect(places).toEqual(places.toSorted((a, b) => a - b));
    expect(places[0]).toBeGreaterThan(0);
    expect(why).toContain(": outside. ");
  });

  it("[BOX-082] where nothing could be judged it is not judged, which is not right", async () => {
    const short = boxScene("steps", ["{ at: 0 s, amplitude: 0.8 in/s pk }"], { duration: "1 s" });
    const { box, check, verdict } = await judgeBox(short, {});
    expect(box).toMatchObject({ decision: "not judged", inside: 0, guardBand: 0, outside: 0 });
    expect(box.notJudged).toBeGreaterThan(5);
    expect(verdict.isRight).toBe(false);
    expect(check("level")).toMatchObject({ decision: "not judged", isRight: false });
    const row = rowOf(verdict);
    expect(row.why).toContain("fan: not judged");
    const target = { kind: "module", identity: "a", layoutVersion: 0, numericsVersion: 0 };
    const summary = summaryOf([row], [], { packageVersion: "0", seed: 1, target, plannedCount: 1 });
    expect(summary).toMatchObject({ wrongCount: 1, notJudgedCount: 1, guardBandCount: 0 });
  });
});

describe("what a box does not tell", () => {
  it("[BOX-094] of a speed or a caution is told as not judged", async () => {
    const silent = await judgeBox(STEP, {
      change: (readings) => readings.map(({ timeS, filter, shown }) => ({ timeS, filter, shown })),
    });
    expect(silent.box.notes).toContain("The box tells no speed with fan: not judged.");
    expect(silent.box.notes).toContain("The box tells no caution of fan: not judged.");
    const telling = await judgeBox(STEP, {
      change: (readings) => readings.map((one) => ({ ...one, isCaution: false })),
    });
    expect(telling.box.notes.join(" ")).not.toContain("tells no");
  });
});

describe("the bursts of a box", () => {
  const file = join(SUITE_FOLDER, "board", "do-two-shafts-in-counts-keep-apart.scenario.yaml");
  /** Three numbers of two channels and two shafts, each of its own filter. */
  const read = readScenarioFile(file, { seed: 1 })[0]!;
  const filters = read.profile.filters.map((one) => ({
    ...one,
    display: { ...one.display, source: { kind: "own" } as const },
  }));
  const three: Scene = { ...read, profile: { ...read.profile, filters } };
  const speeds = (first: number, last: number): Scene["shafts"][number]["speed"] => [
    { timeS: 0, revPerS: first },
    { timeS: 5, revPerS: last },
  ];
  const withSecond = (speed: Scene["shafts"][number]["speed"]): Scene => ({
    ...three,
    shafts: [three.shafts[0]!, { ...three.shafts[1]!, speed }],
  });

  async function judged(scene: Scene, keep = (_reading: Reading) => true) {
    const signal = new AbortController().signal;
    const under = await targetBox(new CoreTarget(Core.fromFile(releaseCorePath())), signal);
    const box: LevelBox = {
      facts: () => under.box.facts(),
      play: async (...args) => (await under.box.play(...args)).filter(keep),
      close: () => under.box.close(),
    };
    const device = { ...DEVICE, filter: { kind: "two equal poles", fullWidthHz: 2 } as const };
    return (await runBoxCase(scene, { ...under, box }, device, signal)).verdict;
  }

  it("[BOX-083] serve every number, each as high as half of its display", async () => {
    const { unserved, parts } = makeTimeline(three, DEVICE);
    expect(unserved).toEqual([undefined, undefined, undefined]);
    for (const { scene } of [parts[0]!, parts[2]!]) {
      const shown = scene.channels.map(({ components }) =>
        components.map((one) => {
          if (one.kind !== "order" || one.envelope.kind !== "steps") throw new Error("no burst");
          // 2.5 display units an in/s; 0.0254 m an inch, exact.
          return [one.shaft, (2.5 * one.envelope.rows[1]!.amplitudePk) / 0.0254];
        }),
      );
      expect(shown).toEqual([
        [[0, expect.closeTo(6, 9)]],
        [
          [0, expect.closeTo(6, 9)],
          [1, expect.closeTo(6, 9)],
        ],
      ]);
    }
    const { box, filters: found } = await judged(three);
    expect(box!.clocks.map(({ name, from }) => [name, from])).toEqual(
      ["fan forward", "fan aft", "core"].map((name) => [name, name]),
    );
    expect([found.length, box!.decision]).toEqual([3, "inside"]);
  });

  it("[BOX-084] of a shaft that stands at an end are not played, and another number's serve", async () => {
    const scene = withSecond(speeds(90, 0));
    const { unserved } = makeTimeline(scene, DEVICE);
    const why = "shaft N2 does not turn fast enough at the end";
    expect(unserved).toEqual([undefined, undefined, why]);
    const { box } = await judged(scene);
    expect(box!.clocks[2]).toMatchObject({ name: "core" });
    expect(["fan forward", "fan aft"]).toContain(box!.clocks[2]!.from);
    expect(box!.notes.join(" ")).toContain(
      `The clock of core is that of ${box!.clocks[2]!.from}: ${why}`,
    );
  });

  it("[BOX-084] that one number alone shows serve that one, and the others are said not to be", async () => {
    const { box } = await judged(three, (one) => one.filter === "core");
    expect(box!.clocks.map(({ name, from }) => [name, from])).toEqual([["core", "core"]]);
    expect(box!.notes.join(" ")).toContain("The box does not show fan aft: not judged.");
  });

  it("[BOX-084] that a number does not show cost it no verdict", async () => {
    const verdict = await judged(
      three,
      (one) => one.filter !== "core" || (one.timeS > 8 && one.timeS < 22),
    );
    expect(verdict.box!.notes.join(" ")).toMatch(
      /The clock of core is that of fan \w+: the burst at the beginning .* is not seen/,
    );
    expect(verdict.filters.map(({ name }) => name)).toContain("core");
  });
});
