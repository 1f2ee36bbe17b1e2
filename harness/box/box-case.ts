// One case on a box that shows levels: played between two bursts, read back, put on one clock, judged
// against the box's own specification.
import { messageOf } from "../../host/error-message.ts";
import { InputError } from "../../host/input-error.ts";
import type { Counters } from "../../host/record-types.ts";
import { CAUTION_OFF, CAUTION_ON, NO_COMPUTED_DATA, VALID } from "../../shared/units.ts";
import type { LevelBoxFacts, Reading } from "../adapter/adapter.ts";
import { AdapterGone } from "../adapter/adapter-watch.ts";
import { readingsComplaint } from "../adapter/load-adapter.ts";
import type {
  BoxVerdict,
  CheckResult,
  EventResult,
  FilterResult,
  Verdict,
} from "../judge/types.ts";
import { playedRows } from "../results/played.ts";
import { settingsRows } from "../results/settings.ts";
import { RESULTS_VERSION, type CaseResult } from "../results/types.ts";
import { TargetFailure } from "../run/run-case.ts";
import type { Scene } from "../scene/scene.ts";
import { timeConstantS } from "../truth/filter-response.ts";
import { boxIdentity } from "./box-identity.ts";
import type { BoxUnderTest } from "./box-under-test.ts";
import { BoxJudge, type FilterDecisions, type TimedReading } from "./box-judge.ts";
import { boxCautions, boxChecks, boxFilter } from "./box-results.ts";
import type { DeviceSpecification } from "./device-file.ts";
import { BurstLost, type ClockFit, fitClock, generatorTime } from "./drift.ts";
import { expectedNumbers } from "./expected-number.ts";
import { NoBurst, type Timeline, makeTimeline, timelineStimulus } from "./timeline.ts";

/** Time constants of two equal poles until half a step: root of (1 + x)·e^(−x) = 0.5. */
const HALF_STEP_TAU = 1.67834699;
/** A box may take so many times the play where no time-out is said. */
const PATIENCE = 4;

const NO_COUNTERS: Counters = {
  blocks: 0,
  samples: 0,
  refusedBlocks: 0,
  recordsLost: 0,
  edges: [0, 0],
  edgesEarly: [0, 0],
  edgesMissed: [0, 0],
  edgesIrregular: [0, 0],
  referenceLost: [0, 0],
  indexContradictions: [0, 0],
  samplesNotFinite: [0, 0, 0, 0],
  samplesClipped: [0, 0, 0, 0],
  health: [0, 0, 0, 0, 0, 0, 0],
  revolutions: [0, 0],
  samplesLate: [0, 0],
};

async function played(
  scene: Scene,
  timeline: Timeline,
  { box, watch }: BoxUnderTest,
  signal: AbortSignal,
): Promise<Reading[]> {
  const stop = new AbortController();
  const both = AbortSignal.any([signal, stop.signal]);
  const play = (): Promise<Reading[]> =>
    box.play(timelineStimulus(scene.name, scene, timeline), both);
  const names = scene.profile.filters.map(({ name }) => name);
  let readings: Reading[];
  try {
    const leastMs = 1000 * PATIENCE * timeline.durationS;
    readings = await (watch?.wait("play()", play, { leastMs, signal }) ?? play());
  } catch (error) {
    if (signal.aborted || error instanceof TargetFailure) throw error;
    const said = messageOf(error);
    const message = error instanceof AdapterGone ? said : `the target failed at play(): ${said}`;
    throw new TargetFailure(message, { cause: error });
  } finally {
    // What still plays is told to stop.
    stop.abort();
  }
  const complaint = readingsComplaint(readings, names);
  if (complaint !== undefined) throw new TargetFailure(`the adapter's readings: ${complaint}`);
  if (readings.length === 0) throw new TargetFailure("the adapter read nothing back");
  return readings;
}

/** How late half a burst is on a box's own clock, and by how much that may be wrong, s. */
function burstDelay(
  scene: Scene,
  filter: number,
  { latency, settlingS, filter: known }: DeviceSpecification,
): { delayS: number; slackS: number } {
  const middle = (latency.fromS + latency.toS) / 2;
  const half = (latency.toS - latency.fromS) / 2;
  if (known === undefined) {
    return { delayS: middle + settlingS / 2, slackS: half + settlingS / 2 };
  }
  const { shaft } = scene.profile.filters[filter]!;
  const { revolutions } = scene.profile.shafts[shaft]!;
  const cycleS = revolutions / (scene.shafts[shaft]!.speed[0]?.revPerS ?? 1);
  const tauS = timeConstantS(known.fullWidthHz);
  return { delayS: middle + HALF_STEP_TAU * tauS + cycleS, slackS: half + cycleS };
}

interface Aligned {
  readings: TimedReading[];
  slackS: number;
  fit: ClockFit;
}

/** Readings on the scenario's time. Errors: TargetFailure where a burst is not seen. */
function aligned(
  scene: Scene,
  timeline: Timeline,
  readings: readonly Reading[],
  under: BoxUnderTest,
  device: DeviceSpecification,
): Aligned {
  const name = readings[0]!.filter;
  const filter = scene.profile.filters.findIndex((one) => one.name === name);
  const ofOne = readings.filter((one) => one.filter === name && one.isValid !== false);
  const slack = 0.5 * (timeline.bursts[0].untilS - timeline.bursts[0].fromS);
  let fit: ClockFit;
  try {
    fit = fitClock(ofOne, timeline.bursts, slack, device.displayStep);
  } catch (error) {
    if (error instanceof BurstLost) throw new TargetFailure(error.message, { cause: error });
    throw error;
  }
  const isOwn = under.facts.clock === "own";
  const { delayS, slackS } = isOwn ? burstDelay(scene, filter, device) : { delayS: 0, slackS: 0 };
  const clock = isOwn ? fit : { ...fit, offsetS: 0 };
  const drifted = fit.driftUncertainty * timeline.durationS;
  return {
    fit,
    slackS: slackS + drifted + (isOwn ? fit.offsetUncertaintyS : 0),
    readings: readings.map((one) => ({
      ...one,
      sceneS: generatorTime(clock, one.timeS, delayS) - timeline.sceneFromS,
    })),
  };
}

function boxVerdict(
  device: DeviceSpecification,
  all: readonly FilterDecisions[],
  isRight: boolean,
  { fit, slackS }: Aligned,
  clock: LevelBoxFacts["clock"],
): BoxVerdict {
  const sum = (of: (one: FilterDecisions) => number): number =>
    all.reduce((total, one) => total + of(one), 0);
  const [inside, guardBand, outside] = [
    sum((one) => one.inside),
    sum((one) => one.guardBand),
    sum((one) => one.outside),
  ];
  const notJudged = sum((one) => one.notJudged);
  const share = (100 * notJudged) / Math.max(1, notJudged + inside + guardBand + outside);
  const notes = [
    device.filter === undefined
      ? "The filter is not known: judged are stretches at which the input has stood still for longer " +
        "than settling and latency, so a step must not show before the earliest latency and must " +
        "have arrived after the latest and settling."
      : `The filter is two equal poles, ${device.filter.fullWidthHz} Hz wide: every reading is ` +
        "judged against the truth of that filter within the latency.",
    `${share.toFixed(0)} % of the readings were not judged.`,
    clock === "own"
      ? `Readings are stamped by the box's own clock; its offset is taken from the first burst, so ` +
        `times are known to ± ${slackS.toFixed(3)} s beside the stated latency.`
      : "Readings are stamped by the clock that plays.",
  ];
  const isOut = !isRight && (outside > 0 || guardBand === 0);
  return {
    device: device.name,
    rule: device.decision.rule,
    decision: isOut ? "outside" : guardBand > 0 ? "within the guard band" : "inside",
    inside,
    guardBand,
    outside,
    notJudged,
    worst: all.map((one) => one.worst).filter((one) => one !== undefined),
    driftPpm: 1e6 * fit.drift,
    driftUncertaintyPpm: 1e6 * fit.driftUncertainty,
    notes,
  };
}

/** Readings of one filter within the scenario, judged. */
function judgeFilter(
  scene: Scene,
  filter: number,
  device: DeviceSpecification,
  { readings, slackS }: Aligned,
  steps: Awaited<ReturnType<typeof expectedNumbers>>[number],
): {
  decisions: FilterDecisions;
  checks: CheckResult[];
  result: FilterResult;
  events: EventResult[];
} {
  const { name } = scene.profile.filters[filter]!;
  const judge = new BoxJudge(device, steps, scene.profile.displayPeriodS, slackS);
  const inScene = readings.filter(
    (one) => one.filter === name && one.sceneS >= 0 && one.sceneS <= scene.durationS,
  );
  const rows = inScene.map((reading) => {
    const { expected, accuracy, caution } = judge.take(reading);
    return {
      timeS: reading.sceneS,
      shown: reading.shown,
      expected,
      accuracy,
      speedRevPerS: reading.speedRevPerS ?? 0,
      cautionState: reading.isCaution === true ? CAUTION_ON : CAUTION_OFF,
      cautionAllowed: caution,
      saysCaution: reading.isCaution !== undefined,
      validity: reading.isValid === false ? NO_COMPUTED_DATA : VALID,
    };
  });
  const decisions = judge.finish();
  return {
    decisions,
    checks: boxChecks(filter, name, decisions, device),
    result: boxFilter(scene, filter, rows),
    events: boxCautions(name, filter, rows),
  };
}

/**
 * Plays a case to a box and judges it.
 *
 * Errors    InputError where the case cannot be played to a box; TargetFailure; AbortError
 */
export async function runBoxCase(
  scene: Scene,
  under: BoxUnderTest,
  device: DeviceSpecification,
  signal: AbortSignal,
): Promise<CaseResult> {
  let timeline: Timeline;
  try {
    timeline = makeTimeline(scene, 0, device);
  } catch (error) {
    if (!(error instanceof NoBurst)) throw error;
    const file = `case "${scene.name}"`;
    throw new InputError({ file, line: 0, column: 0, message: error.message });
  }
  const readings = await played(scene, timeline, under, signal);
  const all = aligned(scene, timeline, readings, under, device);
  const expected = await expectedNumbers(scene, device, signal);
  const read = new Set(readings.map((one) => one.filter));
  const judged = scene.profile.filters.flatMap(({ name }, filter) =>
    read.has(name) ? [judgeFilter(scene, filter, device, all, expected[filter]!)] : [],
  );
  const checks = judged.flatMap((one) => one.checks);
  const isRight = checks.every((one) => one.isRight);
  const decisions = judged.map((one) => one.decisions);
  const verdict: Verdict = {
    isRight,
    checks,
    filters: judged.map((one) => one.result),
    events: judged.flatMap((one) => one.events),
    exceedances: [],
    isCanary: false,
    box: boxVerdict(device, decisions, isRight, all, under.facts.clock),
  };
  const target = { kind: under.kind, identity: under.identity };
  return {
    resultsVersion: RESULTS_VERSION,
    id: boxIdentity(scene, target, device),
    name: scene.name,
    question: scene.question,
    ...(scene.see === undefined ? {} : { see: scene.see }),
    requirements: scene.requirements,
    seed: scene.seed,
    target: { ...target, numericsVersion: 0 },
    durationS: scene.durationS,
    sampleRateHz: scene.profile.sampleRateHz,
    timeUnit: scene.profile.timeUnit,
    profileName: scene.profile.name,
    played: playedRows(scene),
    settings: settingsRows(scene.profile),
    verdict,
    counters: NO_COUNTERS,
  };
}
