// The caution as the rules on alerting want it: firmware stage, whole firmware, judge, report.
import { expect } from "vitest";
import * as L from "../../../shared/layout.ts";
import * as U from "../../../shared/units.ts";
import { decodeRecords } from "../../../host/records.ts";
import { EVENT_NAMES } from "../../../harness/judge/event-names.ts";
import { gaussianOf } from "../../../harness/random/gaussian.ts";
import { randomStream } from "../../../harness/random/stream.ts";
import { pageHead, pageTail } from "../../../harness/report/report-page.ts";
import { CAUTION_LOOKS } from "../../../harness/report/strips.ts";
import { summaryOf, summaryRow } from "../../../harness/results/summary.ts";
import type { Component } from "../../../harness/scene/scene.ts";
import { timeConstantS } from "../../../harness/truth/filter-response.ts";
import { cautionStep, configureCaution, quiet } from "../../assembly/kit/caution-stage.ts";
import { discreteGain } from "../../../harness/measure/closed-forms.ts";
import { levelsOf, playScene } from "../../kit/play-scene.ts";
import { sampleCase } from "../../kit/sample-case.ts";
import { sampleRun, sampleSection, wrongCase } from "../../kit/sample-run.ts";
import {
  channelProfile,
  channelSignal,
  filterProfile,
  monitorProfile,
  orderComponent,
  orderWith,
  scene,
  shaftProfile,
} from "../../kit/scene-builder.ts";
import { TEST_SEED } from "../../kit/seed.ts";
import { CAUTION, outputs, stages } from "../caution-outputs.ts";
import { check, nearBy, trap } from "../check.ts";
import { vectorError } from "../core-bounds.ts";

const SCHMITT = [390, 400, 410, 399, 400, 420, 430, 390, 385, 375, 370, 381, 370, 360, 350, 450];

check("A-16", "on at 4.0, off under 3.8", () => {
  expect(outputs({}, SCHMITT)).toEqual([0, 1, 1, 1, 1, 1, 1, 1, 1, 0, 0, 0, 0, 0, 0, 1]);
});
check("A-17", "with three in a row, both ways", () => {
  const delays = { onDelaySteps: 2, offDelaySteps: 2 };
  expect(outputs(delays, SCHMITT)).toEqual([0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1, 1, 1, 0, 0]);
});

const tenths = { levelCounts: 40, hysteresisCounts: 2 };
check("P-03", "3.9 is normal, 4.0 a caution; what is compared is the number as shown", () => {
  expect(outputs(tenths, [39, 40])).toEqual([0, 1]);
});
trap("P-03", "the value before it was rounded is not what is compared", () => {
  // 3.95 lies below the level, is shown as 4.0, and is a caution; 3.94 is shown as 3.9.
  for (const { run } of stages) {
    const shown = [3.94, 3.95, 4].map((value) => run.numberCounts(value, 10, 100));
    expect(shown).toEqual([39, 40, 40]);
    expect(outputs(tenths, shown)).toEqual([0, 1, 1]);
  }
});

/** A report with a caution in it, as a person sees it. */
function reportPage(): string {
  const cases = [sampleCase(), wrongCase("a reason")];
  const summary = summaryOf(cases.map(summaryRow), [], sampleRun());
  return pageHead("Run", summary) + cases.map(sampleSection).join("") + pageTail();
}

interface Colour {
  hueDeg: number;
  /** Greatest less least of the three parts, of 1. */
  chroma: number;
}

function coloursOf(page: string): Colour[] {
  return [...page.matchAll(/#([0-9a-f]{6}|[0-9a-f]{3})(?![0-9a-z-])/gi)].map((match) => {
    const hex = match[1]!.length === 3 ? match[1]!.replace(/./g, "$&$&") : match[1]!;
    const [r, g, b] = [0, 2, 4].map((at) => Number.parseInt(hex.slice(at, at + 2), 16) / 255);
    const most = Math.max(r!, g!, b!);
    const chroma = most - Math.min(r!, g!, b!);
    if (chroma === 0) return { hueDeg: 0, chroma };
    let sixth = (r! - g!) / chroma + 4;
    if (most === r) sixth = ((g! - b!) / chroma + 6) % 6;
    else if (most === g) sixth = (b! - r!) / chroma + 2;
    return { hueDeg: 60 * sixth, chroma };
  });
}

/** Greys with a cast are no colour. */
const VIVID = 0.12;
const isRed = ({ hueDeg, chroma }: Colour): boolean =>
  chroma > VIVID && (hueDeg < 25 || hueDeg > 330);
const isAmber = ({ hueDeg, chroma }: Colour): boolean =>
  chroma > VIVID && hueDeg >= 35 && hueDeg <= 60;

check("A-01", "the alert is a caution: no red, no warning among states, events or pages", () => {
  const page = reportPage();
  expect(coloursOf(page).length).toBeGreaterThan(10);
  expect(coloursOf(page).filter(isRed)).toEqual([]);
  expect(page).not.toMatch(/\b(?:red|crimson|firebrick|maroon|tomato|orangered|rgb|hsl|oklch)\b/);
  expect(coloursOf("#c00 #e53935").every(isRed)).toBe(true);
  const names = [...Object.values(EVENT_NAMES), ...CAUTION_LOOKS.map((look) => look.words)];
  expect(
    names.filter((name) => /warning|alarm|red/.test(name.replace("acknowledged", ""))),
  ).toEqual([]);
  expect(Object.keys(U).filter((name) => /WARNING|ALARM/.test(name))).toEqual([]);
});

check("A-02", "each occurrence can be acknowledged, and the acknowledgement is told", () => {
  for (const stage of stages) {
    configureCaution(stage, CAUTION);
    for (let occurrence = 0; occurrence < 3; occurrence += 1) {
      const fresh = cautionStep(stage, quiet(400));
      expect([fresh.isOn, fresh.isAcknowledged]).toEqual([true, false]);
      const answer = cautionStep(stage, { ...quiet(410), acknowledgeRose: true });
      expect([answer.isOn, answer.isAcknowledged]).toEqual([true, true]);
      expect(answer.events).toEqual([U.EVENT_ACKNOWLEDGED]);
      expect(cautionStep(stage, quiet(300)).isOn).toBe(false);
    }
  }
});

check("A-03", "goes away with its cause, whatever the settings: nothing latches", () => {
  for (const hysteresisCounts of [0, 20, 399]) {
    for (const offDelaySteps of [0, 3, 50]) {
      for (const whenInvalid of ["end", "hold"] as const) {
        const below = Array.from({ length: offDelaySteps + 1 }, () => 0);
        const over = { hysteresisCounts, offDelaySteps, whenInvalid };
        expect(outputs(over, [400, 500, ...below]).at(-1)).toBe(0);
        expect(outputs(over, [400, "held", "blank"]).at(-1)).toBe(0);
      }
    }
  }
});

check(
  "A-04",
  "no caution from a number that is not valid, nor from one that does not persist",
  () => {
    expect(outputs({}, ["held", "blank", "held"])).toEqual([0, 0, 0]);
    expect(outputs({ onDelaySteps: 2 }, [400, 400, "held", 400, 400, "blank", 400])).toEqual([
      0, 0, 0, 0, 0, 0, 0,
    ]);
    expect(outputs({ onDelaySteps: 2 }, [400, 400, 399, 400, 400, 399])).toEqual([
      0, 0, 0, 0, 0, 0,
    ]);
  },
);

check(
  "A-05",
  "amber for the caution alone, a word and a hatching for every state, few colours",
  () => {
    const page = reportPage();
    expect(coloursOf(page).some(isAmber)).toBe(true);
    // Nothing yellow-green to green; two families of colour in all: amber and slate blue.
    const families = new Set(
      coloursOf(page)
        .filter((one) => one.chroma > VIVID)
        .map((one) =>
          isAmber(one) ? "amber" : one.hueDeg >= 195 && one.hueDeg <= 225 ? "blue" : "?",
        ),
    );
    expect([...families].toSorted()).toEqual(["amber", "blue"]);
    expect(new Set(CAUTION_LOOKS.map((look) => look.words)).size).toBe(CAUTION_LOOKS.length);
    const boxes = CAUTION_LOOKS.flatMap((look) => (look.box === undefined ? [] : [look.box]));
    expect(boxes).toHaveLength(CAUTION_LOOKS.length - 1);
    expect(new Set(boxes.map((box) => box.fill)).size).toBe(boxes.length);
    for (const look of CAUTION_LOOKS.slice(1)) expect(page).toContain(look.words);
  },
);

const velocity = { channels: [channelProfile({ quantity: "velocity" as const })] };
const plain = filterProfile({ unit: "m/s", levelFactor: 1 });
/** The same caution in counts of 0.1. */
const withCaution = {
  ...plain.display,
  caution: { ...CAUTION, levelCounts: 40, hysteresisCounts: 2 },
};

check(
  "A-14",
  "the level is that at rotor speed: what is elsewhere in the band stays out",
  async () => {
    const offRev = 2.7;
    const other: Component = {
      kind: "tone",
      frequencyHz: (1 + offRev) * 80,
      quantity: "velocity",
      amplitudePk: 10,
      phaseLagRad: 0,
    };
    const profile = monitorProfile({ ...velocity, filters: [plain] });
    const channels = [channelSignal([orderComponent(1, 1, 30, "velocity"), other])];
    const last = levelsOf(await playScene(scene({ profile, durationS: 6, channels }))).at(-1)!;
    const gain = (revolutions: number): number =>
      discreteGain(revolutions * 80, 1 / 80, timeConstantS(1));
    const seen = [
      { pk: 1, hz: 80 },
      { pk: 10, hz: (1 + offRev) * 80 },
    ];
    // The tone and its image.
    nearBy(last.level, 1, 10 * (gain(offRev) + gain(offRev + 2)) + vectorError(seen, 80));
    expect(last.speedRevPerS).toBeCloseTo(80, 3);
  },
);

check("A-15", "two engines: each has its level and its caution in the records", async () => {
  const filterOf = (engine: number) =>
    filterProfile({
      name: `engine ${engine + 1}`,
      channel: engine,
      shaft: engine,
      unit: "m/s",
      levelFactor: 1,
      display: withCaution,
    });
  const profile = monitorProfile({
    channels: [0, 1].map((i) => channelProfile({ name: `${i}`, quantity: "velocity" })),
    // Two shafts share the pool of samples: a shorter time-out.
    shafts: [0, 1].map((i) =>
      shaftProfile({ name: `${i}`, timeoutS: 0.15, speedMinRevPerS: 20, validSpeedRevPerS: 20 }),
    ),
    filters: [filterOf(0), filterOf(1)],
  });
  const of = (shaft: number, amplitudePk: number): Component =>
    orderWith({ kind: "constant", amplitudePk, phaseLagRad: 0 }, { shaft, quantity: "velocity" });
  const channels = [channelSignal([of(0, 3)]), channelSignal([of(1, 5)])];
  const played = await playScene(scene({ profile, durationS: 6, channels }));
  const last = [0, 1].map((filter) => levelsOf(played, filter).at(-1)!);
  expect(last.map((one) => (one.statusBits & L.STATUS_CAUTION) !== 0)).toEqual([false, true]);
  expect(last.map((one) => one.shownCounts)).toEqual([30, 50]);
  const on = decodeRecords(played.records).filter(
    (one) => one.kind === "event" && one.code === U.EVENT_CAUTION_ON,
  );
  expect(on.map((one) => one.kind === "event" && one.source)).toEqual([1]);
});

check("D-39", "a NaN neither sets nor clears a caution; it is counted", async () => {
  const profile = monitorProfile({ ...velocity, filters: [{ ...plain, display: withCaution }] });
  for (const [amplitudePk, isOn] of [
    [3, false],
    [5, true],
  ] as const) {
    const signal = channelSignal([orderComponent(1, amplitudePk, 0, "velocity")], {
      faults: [{ kind: "not-finite", atS: 5, samples: 3 }],
    });
    // oxlint-disable-next-line no-await-in-loop
    const played = await playScene(scene({ profile, durationS: 9, channels: [signal] }));
    expect(played.counters.samplesNotFinite[0]).toBe(3);
    const changes = decodeRecords(played.records).filter(
      (one) =>
        one.kind === "event" &&
        one.tick > 4 * 80e6 &&
        (one.code === U.EVENT_CAUTION_ON || one.code === U.EVENT_CAUTION_OFF),
    );
    expect(changes).toEqual([]);
    const after = levelsOf(played).filter((one) => one.tick > 4 * 80e6);
    expect(after.every((one) => Number.isFinite(one.level))).toBe(true);
    expect(after.every((one) => ((one.statusBits & L.STATUS_CAUTION) !== 0) === isOn)).toBe(true);
  }
  // A number that is not one is shown as nothing, in whole counts.
  for (const { run } of stages) expect(run.numberCounts(NaN, 10, 100)).toBe(0);
});

/** Gaussian numbers beyond 1 to 4 σ, and within 1.4 σ. */
function tally(): { beyond: number[]; within: number; count: number } {
  const stream = randomStream(TEST_SEED, 0);
  const count = 2_000_000;
  const beyond = [0, 0, 0, 0];
  let within = 0;
  for (let i = 0; i < count; i += 1) {
    const size = Math.abs(gaussianOf(stream));
    for (let k = 0; k < 4; k += 1) if (size > k + 1) beyond[k]! += 1;
    if (size < 1.4) within += 1;
  }
  return { beyond, within, count };
}
/** Counts of a share: within 6 standard deviations once in 10^9, of a Poisson count a little more. */
const reach = (share: number, count: number): number =>
  6 * Math.sqrt(share * (1 - share) * count) + 18;

check("A-21", "the noise has the Gaussian tail at 1 to 4 σ", () => {
  const { beyond, count } = tally();
  for (const [k, tail] of [0.158655254, 0.022750132, 0.001349898, 3.16712e-5].entries()) {
    nearBy(beyond[k]!, 2 * tail * count, reach(2 * tail, count));
  }
});
trap("A-21", "1.4 σ hold 0.8385 of the noise, not the 0.8586 that the book's row prints", () => {
  const { within, count } = tally();
  nearBy(within, 0.8385 * count, reach(0.8385, count) + 5e-5 * count);
  expect(Math.abs(within - 0.8586 * count)).toBeGreaterThan(reach(0.8586, count));
});
