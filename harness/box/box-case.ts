// One case on a box that shows levels: played between two bursts, read back, put on one clock, judged
// against the box's own specification.
import { messageOf } from "../../host/error-message.ts";
import { InputError } from "../../host/input-error.ts";
import { CAUTION_OFF, CAUTION_ON, NO_COMPUTED_DATA, VALID } from "../../shared/units.ts";
import type { Reading } from "../adapter/adapter.ts";
import { plainReadings } from "../adapter/adapter-answer.ts";
import { AdapterGone } from "../adapter/adapter-watch.ts";
import type { CheckResult, EventResult, FilterResult, Verdict } from "../judge/types.ts";
import { playedRows } from "../results/played.ts";
import { settingsRows } from "../results/settings.ts";
import { RESULTS_VERSION, type CaseResult } from "../results/types.ts";
import { TargetFailure } from "../run/run-case.ts";
import type { FilterProfile, Scene } from "../scene/scene.ts";
import { NO_COUNTERS } from "../target/no-counters.ts";
import { CautionJudge } from "./box-caution.ts";
import { StepCheck, findSilence } from "./box-display.ts";
import { boxIdentity } from "./box-identity.ts";
import type { BoxUnderTest } from "./box-under-test.ts";
import { BoxJudge } from "./box-judge.ts";
import { type BoxRow, boxCautions, boxChecks, boxFilter } from "./box-results.ts";
import { type NumberDecisions, boxVerdict } from "./box-verdict.ts";
import { CautionWindows, delayStandardS } from "./caution-windows.ts";
import { type TimedNumber, timedNumbers } from "./clock.ts";
import type { DeviceSpecification } from "./device-file.ts";
import { BurstLost, type ClockFit } from "./drift.ts";
import { type Expected, expectedNumbers } from "./expected-number.ts";
import { NoBurst, type Timeline, displayTop, makeTimeline, timelineStimulus } from "./timeline.ts";
import { TruthWindows } from "./truth-window.ts";

/** A box may take so many times the play where no time-out is said. */
const PATIENCE = 4;

async function played(
  scene: Scene,
  timeline: Timeline,
  { box, watch, file }: BoxUnderTest,
  signal: AbortSignal,
): Promise<Reading[]> {
  const stop = new AbortController();
  const both = AbortSignal.any([signal, stop.signal]);
  const play = (): Promise<Reading[]> =>
    box.play(timelineStimulus(scene.name, scene, timeline), both);
  const names = scene.profile.filters.map(({ name }) => name);
  let readings: unknown;
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
  try {
    return plainReadings(file ?? "the target", readings, names);
  } catch (error) {
    throw new TargetFailure(messageOf(error), { cause: error });
  }
}

/** Errors: TargetFailure where no burst is seen. */
function onSceneTime(
  scene: Scene,
  timeline: Timeline,
  readings: readonly Reading[],
  { facts }: BoxUnderTest,
  device: DeviceSpecification,
): TimedNumber[] {
  try {
    return timedNumbers(scene, timeline, readings, facts.clock, device);
  } catch (error) {
    if (error instanceof BurstLost) throw new TargetFailure(error.message, { cause: error });
    throw error;
  }
}

/** One number of a box within the scenario, judged. */
function judgeNumber(
  scene: Scene,
  device: DeviceSpecification,
  number: TimedNumber,
  { steps, periodS }: Expected,
): {
  decisions: NumberDecisions;
  checks: CheckResult[];
  result: FilterResult;
  events: EventResult[];
} {
  const { filter, readings, fit } = number;
  const profile = scene.profile.filters[filter]!;
  const { name } = profile;
  const top = displayTop(profile, device);
  const windows = new TruthWindows(steps[filter]!);
  const judge = new BoxJudge(device, windows, top);
  const stepCheck = new StepCheck(device, top);
  const cautionJudge = makeCautionJudge(scene, device, profile, windows, periodS, fit);
  const rows: BoxRow[] = [];
  for (const reading of readings) {
    const isInScene = reading.sceneS >= 0 && reading.sceneS <= scene.durationS;
    const level = isInScene ? judge.take(reading) : undefined;
    stepCheck.take(reading, level?.steady);
    if (level === undefined) continue;
    rows.push({
      timeS: reading.sceneS,
      shown: reading.shown,
      expected: level.expected,
      accuracy: level.accuracy,
      speedRevPerS: reading.speedRevPerS ?? 0,
      cautionState: reading.isCaution === true ? CAUTION_ON : CAUTION_OFF,
      cautionAllowed: cautionJudge?.take(reading) ?? 0,
      saysCaution: reading.isCaution !== undefined,
      validity: reading.isValid === false ? NO_COMPUTED_DATA : VALID,
    });
  }
  const levels = judge.finish();
  const caution = cautionJudge?.finish();
  const step = stepCheck.finish();
  const silence = findSilence(readings, device, scene.durationS);
  return {
    decisions: { number, levels, caution },
    checks: boxChecks(filter, name, { levels, step, silence, caution }, device),
    result: boxFilter(scene, filter, rows),
    events: boxCautions(name, filter, rows),
  };
}

function makeCautionJudge(
  scene: Scene,
  device: DeviceSpecification,
  profile: FilterProfile,
  windows: TruthWindows,
  periodS: number,
  fit: ClockFit,
): CautionJudge | undefined {
  const { caution, step } = profile.display;
  if (caution === undefined) return undefined;
  const { displayPeriodS } = scene.profile;
  const truth = {
    caution,
    displayPeriodS,
    displayStep: step,
    periodS,
    durationS: scene.durationS,
    drift: fit.drift,
  };
  const standardS = delayStandardS(caution, displayPeriodS, periodS, fit.driftUncertainty);
  const may = new CautionWindows(truth, windows, device);
  return new CautionJudge(profile.name, device, may, standardS);
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
    timeline = makeTimeline(scene, device);
  } catch (error) {
    if (!(error instanceof NoBurst)) throw error;
    const file = `case "${scene.name}"`;
    throw new InputError({ file, line: 0, column: 0, message: error.message });
  }
  const readings = await played(scene, timeline, under, signal);
  const numbers = onSceneTime(scene, timeline, readings, under, device);
  const expected = await expectedNumbers(scene, device, signal);
  const judged = numbers.map((one) => judgeNumber(scene, device, one, expected));
  const checks = judged.flatMap((one) => one.checks);
  const decisions = judged.map((one) => one.decisions);
  const box = boxVerdict(device, scene, decisions, checks, under.facts.clock);
  const verdict: Verdict = {
    isRight: box.decision === "inside",
    checks,
    filters: judged.map((one) => one.result),
    events: judged.flatMap((one) => one.events),
    exceedances: [],
    isCanary: false,
    box,
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
