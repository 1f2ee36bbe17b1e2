// The firmware's own records against a truth made of them: what a record says of number, caution,
// events and exceedances must follow from its own level by the judge's table, in every mode. The
// level itself is the business of the computed truth.
import { describe, expect, it } from "vitest";
import * as L from "../../../shared/layout.ts";
import * as U from "../../../shared/units.ts";
import { decodeRecords } from "../../../host/records.ts";
import type { EventRecord, LevelRecord } from "../../../host/record-types.ts";
import { phaseLagDeg } from "../../../harness/judge/level-checks.ts";
import { makeJudge } from "../../../harness/judge/judge.ts";
import type { CautionProfile, DisplayProfile, Scene } from "../../../harness/scene/scene.ts";
import type { EventTruth, SceneTruth, StepTruth } from "../../../harness/truth/types.ts";
import { judgeAlterations } from "../../kit/judge-alterations.ts";
import type { Played } from "../../kit/play-scene.ts";
import { playScene } from "../../kit/play-scene.ts";
import {
  channelSignal,
  filterProfile,
  monitorProfile,
  orderWith,
  scene,
  shaftMotion,
  shaftProfile,
} from "../../kit/scene-builder.ts";
import { CAUTION, eventsOf, inputRows, notCaught, wrongOnes } from "./caution-flight.ts";

const BASE = filterProfile().display;
const MS_PER_IN = 0.0254;

function recordsOf(one: Scene): Promise<Played> {
  return playScene(one, { batchSamples: 8192 });
}

function isComputed(record: LevelRecord): boolean {
  return (record.flags & L.FLAG_COMPUTED) !== 0;
}

function fieldsOf(record: LevelRecord): StepTruth["record"] {
  const { flags, revolution, ageTicks, integrationDistance } = record;
  const has = (flag: number): "yes" | "no" => ((flags & flag) !== 0 ? "yes" : "no");
  const exactly = (value: number): { least: number; most: number } => {
    return { least: value, most: value };
  };
  return {
    isComputed: has(L.FLAG_COMPUTED),
    isSettled: has(L.FLAG_SETTLED),
    isBridged: has(L.FLAG_BRIDGED),
    isPhaseRelative: has(L.FLAG_PHASE_RELATIVE),
    ageTicks: exactly(ageTicks),
    revolution,
    integrationDistance: exactly(integrationDistance),
  };
}

/** A truth that agrees with level, phase, speed, validity and device events of the records. */
function truthOf(one: Scene, bytes: Uint8Array): SceneTruth {
  const stepTicks = one.profile.displayPeriodS * one.profile.clockHz;
  const levels = new Map<string, LevelRecord>();
  const events: EventRecord[] = [];
  let stepCount = 0;
  for (const record of decodeRecords(bytes)) {
    if (record.kind === "event") events.push(record);
    if (record.kind !== "level") continue;
    const step = Math.round(record.tick / stepTicks);
    stepCount = Math.max(stepCount, step);
    levels.set(`${record.filter} ${step}`, record);
  }
  return {
    stepCount,
    acquired: (filter, step) => {
      const before = levels.get(`${filter} ${step - 1}`);
      const now = levels.get(`${filter} ${step}`)!;
      const isAnew = before === undefined || now.revolution < before.revolution;
      return { isAllowed: isAnew || !isComputed(before), why: "it was before" };
    },
    step: (filter, step) => {
      const record = levels.get(`${filter} ${step}`)!;
      const isJudged = record.validity === U.VALID;
      return {
        isJudged,
        re: record.re,
        im: record.im,
        level: record.level,
        levelTol: 0.002,
        phaseLagDeg: phaseLagDeg(record.re, record.im),
        phaseTolDeg: 0.1,
        phaseIsJudged: isJudged,
        speedRevPerS: record.speedRevPerS,
        speedTolRevPerS: 0.004,
        speedNowRevPerS: record.speedNowRevPerS,
        allowed: [{ validity: record.validity, cause: record.cause }],
        record: fieldsOf(record),
      };
    },
    events: () =>
      events.map(({ code, source, tick, detail }): EventTruth => {
        return { code, source, detail, fromTick: tick, untilTick: tick, why: "as recorded" };
      }),
    counters: () => [],
  };
}

/** Level over time in display units, straight between rows; speed 80 rev/s, two channels. */
function flight(
  display: Partial<DisplayProfile>,
  caution: Partial<CautionProfile>,
  over: Partial<Scene> = {},
): Scene {
  const rows = [
    [0, 4],
    [10, 6],
    [20, 4],
    [21, 5.6],
    [26, 5.6],
    [27, 4],
    [40, 4],
  ].map(([timeS, level]) => ({
    timeS: timeS!,
    amplitudePk: level! * MS_PER_IN,
    phaseLagRad: 0.5,
  }));
  const lines = orderWith({ kind: "lines", rows }, { quantity: "velocity" });
  const steady = orderWith(
    { kind: "constant", amplitudePk: 4.7 * MS_PER_IN, phaseLagRad: 1 },
    { quantity: "velocity" },
  );
  const filters = [
    filterProfile({
      name: "first",
      bandwidth: { kind: "fixed", fullWidthHz: 4 },
      display: { ...BASE, caution: { ...CAUTION, ...caution }, ...display },
    }),
    filterProfile({ name: "second", channel: 1, bandwidth: { kind: "fixed", fullWidthHz: 4 } }),
  ];
  const base = monitorProfile();
  const channels = ["left", "right"].map((name) => ({ ...base.channels[0]!, name }));
  return scene({
    profile: monitorProfile({
      filters,
      channels,
      shafts: [shaftProfile({ timeoutS: 0.15, speedMinRevPerS: 30 })],
    }),
    channels: [channelSignal([lines]), channelSignal([steady])],
    durationS: 40,
    ...over,
  });
}

function dropOut(fromS: number, untilS: number): Partial<Scene> {
  return { shafts: [shaftMotion({ faults: [{ kind: "drop-out", fromS, untilS }] })] };
}

const CASES: [string, () => Scene, string[]][] = [
  ["a caution that comes and goes twice", () => flight({}, {}), ["caution-on", "caution-off"]],
  [
    "no delays",
    () => flight({}, { onDelaySteps: 0, offDelaySteps: 0, hysteresisCounts: 0 }),
    ["caution-on", "caution-off"],
  ],
  [
    "smoothing and a scale over speed",
    () => {
      const scale = [
        { speedRevPerS: 50, factor: 0.9 },
        { speedRevPerS: 120, factor: 1.3 },
      ];
      return flight({ smoothingS: 0.7, scale, step: 0.05, countsMax: 200 }, { levelCounts: 100 });
    },
    ["caution-on"],
  ],
  [
    "a number lost during the caution",
    () => flight({}, { whenInvalid: "end" }, dropOut(9, 9.6)),
    ["caution-ended-invalid", "invalid", "valid"],
  ],
  [
    "a number lost during the caution, held",
    () => flight({ holdSteps: 5 }, { whenInvalid: "hold" }, dropOut(9, 13)),
    ["caution-ended-invalid", "invalid", "valid"],
  ],
  [
    "an inhibit before, during and after",
    () =>
      flight(
        {},
        {},
        {
          inputs: inputRows([0, 0, 0], [4.05, 1, 0], [6.05, 0, 0], [8.05, 1, 0], [9.05, 0, 0]),
        },
      ),
    ["inhibit-on", "inhibit-off", "caution-on"],
  ],
  [
    "an inhibit under which the delay runs on",
    () =>
      flight(
        {},
        { delayRunsUnderInhibit: true, onDelaySteps: 10 },
        {
          inputs: inputRows([0, 0, 0], [4.95, 1, 0], [8.05, 0, 0]),
        },
      ),
    ["inhibit-on", "inhibit-off", "caution-on"],
  ],
  [
    "an acknowledge, and a short one between two steps",
    () =>
      flight(
        {},
        {},
        {
          inputs: inputRows(
            [0, 0, 0],
            [2, 0, 1],
            [3, 0, 0],
            [8.02, 0, 1],
            [8.06, 0, 0],
            [23, 0, 1],
          ),
        },
      ),
    ["acknowledged"],
  ],
  [
    "the greatest of two",
    () => flight({ source: { kind: "greatest", filters: [0, 1] } }, { levelCounts: 52 }),
    ["caution-on"],
  ],
  [
    "a functional test",
    () =>
      flight(
        {},
        {},
        {
          inputs: inputRows([0, 0, 0], [9, 0, 0, true], [12, 0, 0]),
        },
      ),
    ["test-on", "test-off", "caution-ended-invalid"],
  ],
];

describe("records of the built-in core", () => {
  it.each(CASES)("[JUDGE-080] %s", async (_, make, expected) => {
    const one = make();
    const { records: bytes, counters } = await recordsOf(one);
    const judge = makeJudge({ ...one, expectation: { eitherShare: 1 } }, truthOf(one, bytes));
    judge.take(bytes);
    const verdict = judge.finish(counters);
    expect(wrongOnes(verdict)).toEqual([]);
    for (const name of expected) expect(eventsOf(verdict)).toContain(name);
  });

  it("[JUDGE-081] of a caution that is lost are wrong with any alteration", async () => {
    const one = flight({}, {}, dropOut(9, 13));
    const { records: bytes, counters } = await recordsOf(one);
    const reports = judgeAlterations(one, () => truthOf(one, bytes), bytes, counters);
    expect(notCaught(reports)).toEqual([]);
  });
});
