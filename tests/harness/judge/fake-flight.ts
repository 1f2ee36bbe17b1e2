// A truth and a device that are made of a script: what each filter reads at each step. The
// device is the table of states in its plainest form, so that the judge is held against something
// simpler.
import * as L from "../../../shared/layout.ts";
import * as U from "../../../shared/units.ts";
import { encodeRecord } from "../../../host/records.ts";
import type { Counters, DecodedRecord, LevelRecord } from "../../../host/record-types.ts";
import type { DisplayProfile, Scene } from "../../../harness/scene/scene.ts";
import type { CounterTruth, EventTruth, SceneTruth } from "../../../harness/truth/types.ts";
import { cleanCounters } from "../../kit/clean-counters.ts";
import type { DisplayState } from "./fake-display.ts";
import {
  changes,
  exceedanceStep,
  newDisplayState,
  numberStep,
  stateOf,
  stepLatch,
} from "./fake-display.ts";

/** What a filter really reads at one step, and what its record says beside it. */
export interface ScriptStep {
  level: number;
  levelTol: number;
  /** Found − truth; default 0. */
  error?: number;
  validity?: number;
  cause?: number;
  isJudged?: boolean;
}

export type Script = (filter: number, step: number) => ScriptStep;

export interface Flight {
  records: DecodedRecord[];
  bytes: Uint8Array;
  counters: Counters;
  truth(): SceneTruth;
}

export const PHASE_LAG_DEG = 30;
export const SPEED_REV_PER_S = 80;
const LAG_RAD = (PHASE_LAG_DEG * Math.PI) / 180;

export function encode(records: DecodedRecord[]): Uint8Array {
  const bytes = new Uint8Array(records.length * L.RECORD_BYTES);
  const view = new DataView(bytes.buffer);
  records.forEach((record, i) => encodeRecord(record, view, i * L.RECORD_BYTES));
  return bytes;
}

function inputAt(
  scene: Scene,
  timeS: number,
  key: "inhibit" | "acknowledge",
  bit: number,
): boolean {
  const row = scene.inputs.findLast((one) => one.timeS <= timeS + 1e-9);
  return row !== undefined && (row[key] & (1 << bit)) !== 0;
}

/** Flies the script through the plain device. */
export function fly(
  scene: Scene,
  script: Script,
  extra: { events?: EventTruth[]; deviceEvents?: DecodedRecord[]; counters?: CounterTruth[] } = {},
): Flight {
  const { profile } = scene;
  const displaySamples = Math.round(profile.displayPeriodS * profile.sampleRateHz);
  const stepTicks = displaySamples * Math.round(profile.clockHz / profile.sampleRateHz);
  const samples = Math.ceil(scene.durationS * profile.sampleRateHz - 1e-6);
  const stepCount = Math.floor((samples - 1) / displaySamples);
  const records: DecodedRecord[] = [...(extra.deviceEvents ?? [])];
  const states = profile.filters.map(newDisplayState);
  for (let step = 1; step <= stepCount; step += 1) {
    const measured = profile.filters.map((_, filter) => script(filter, step));
    profile.filters.forEach((_, filter) => {
      records.push(
        ...displayStep(scene, filter, step, step * stepTicks, measured, states[filter]!),
      );
    });
  }
  records.forEach((record, i) => void (record.sequence = i));
  return {
    records,
    bytes: encode(records),
    counters: cleanCounters({ edges: [800, 0], revolutions: [800, 0] }),
    truth: () => scriptTruth(stepCount, script, extra.events ?? [], extra.counters ?? []),
  };
}

function validityOf(one: ScriptStep): number {
  return one.validity ?? U.VALID;
}

/** The filter that makes a display's number; undefined where none is valid. */
function servingFilter(
  source: DisplayProfile["source"],
  own: number,
  measured: ScriptStep[],
): number | undefined {
  const isValid = (one: number): boolean => validityOf(measured[one]!) === U.VALID;
  if (source.kind === "greatest") {
    const valid = source.filters.filter(isValid);
    return valid.toSorted((a, b) => read(measured[b]!) - read(measured[a]!))[0];
  }
  const sources = source.kind === "substitute" ? [own, source.filter] : [own];
  return sources.find(isValid);
}

function read(one: ScriptStep): number {
  return Math.fround(one.level + (one.error ?? 0));
}

/** Marks of the caution, the inputs and the substitute. */
function marksOf(
  scene: Scene,
  filter: number,
  state: DisplayState,
  isValid: boolean,
  isInhibited: boolean,
): number {
  const { caution } = scene.profile.filters[filter]!.display;
  if (caution === undefined) return 0;
  let marks = 0;
  if (isValid && state.shown >= caution.levelCounts) marks |= L.STATUS_AT_LEVEL;
  if (state.latched && !isInhibited) marks |= L.STATUS_CAUTION;
  if (isInhibited) marks |= L.STATUS_INHIBITED;
  return marks;
}

/** What a level record says that the script decides. */
function measuredFields(
  filter: number,
  step: number,
  tick: number,
  level: number,
  levelFactor: number,
): LevelRecord {
  const pk = level / levelFactor;
  return {
    kind: "level",
    filter,
    sequence: 0,
    tick,
    ageTicks: 100,
    revolution: step * 8,
    speedRevPerS: SPEED_REV_PER_S,
    speedNowRevPerS: SPEED_REV_PER_S,
    re: Math.fround(Math.cos(LAG_RAD) * pk),
    im: Math.fround(-Math.sin(LAG_RAD) * pk),
    level,
    shownCounts: 0,
    validity: U.VALID,
    cause: U.CAUSE_NONE,
    cautionState: U.CAUTION_OFF,
    statusBits: 0,
    flags: L.FLAG_COMPUTED | L.FLAG_SETTLED,
    word: 0,
    integrationDistance: 0,
  };
}

function displayStep(
  scene: Scene,
  filter: number,
  step: number,
  tick: number,
  measured: ScriptStep[],
  state: DisplayState,
): DecodedRecord[] {
  const { display, levelFactor } = scene.profile.filters[filter]!;
  const { displayPeriodS } = scene.profile;
  const serving = servingFilter(display.source, filter, measured);
  const isValid = serving !== undefined;
  const level = measuredFields(filter, step, tick, read(measured[filter]!), levelFactor);
  if (!isValid) {
    const isGreatest = display.source.kind === "greatest";
    level.validity = isGreatest ? U.NO_COMPUTED_DATA : validityOf(measured[filter]!);
    level.cause = isGreatest ? U.CAUSE_NO_SOURCE : (measured[filter]!.cause ?? 0);
  }
  const served = isValid ? read(measured[serving]!) : undefined;
  let status = numberStep(display, state, served, displayPeriodS);
  if (display.source.kind === "substitute" && isValid && serving !== filter) {
    status |= L.STATUS_SUBSTITUTE;
  }
  const timeS = step * displayPeriodS;
  const isInhibited = display.caution !== undefined && inputAt(scene, timeS, "inhibit", filter);
  const endedInvalid = stepLatch(scene, filter, state, isValid, status, isInhibited);
  status |= marksOf(scene, filter, state, isValid, isInhibited);
  const isAcknowledge = inputAt(scene, timeS, "acknowledge", filter);
  const wasOn = (state.status & L.STATUS_CAUTION) !== 0;
  const acknowledged = isAcknowledge && !state.wasAcknowledge && wasOn;
  state.wasAcknowledge = isAcknowledge;
  const isStillOn = wasOn && (status & L.STATUS_CAUTION) !== 0;
  const isMarked = acknowledged || (state.status & L.STATUS_ACKNOWLEDGED) !== 0;
  if (isStillOn && isMarked) status |= L.STATUS_ACKNOWLEDGED;
  level.shownCounts = state.shown;
  level.cautionState = stateOf(scene, filter, state, isValid, isInhibited);
  level.statusBits = status;
  const codes = changes(state, status, isValid, endedInvalid, acknowledged);
  const events = codes.map((code) => eventOf(code, level, display.source));
  const ended = exceedanceStep(scene, filter, state, level, served ?? level.level, isValid);
  state.status = status;
  state.wasValid = isValid;
  return [level, ...events, ...ended];
}

function eventOf(
  code: number,
  level: LevelRecord,
  source: DisplayProfile["source"],
): DecodedRecord {
  const { tick, revolution, speedRevPerS, re, im, shownCounts } = level;
  const same = { tick, revolution, speedRevPerS, re, im, level: level.level, shownCounts };
  let detail = code === U.EVENT_INVALID ? level.cause : 0;
  if (code === U.EVENT_SUBSTITUTE_ON && source.kind === "substitute") detail = source.filter;
  return { kind: "event", code, source: level.filter, sequence: 0, ...same, detail };
}

function scriptTruth(
  stepCount: number,
  script: Script,
  events: EventTruth[],
  counters: CounterTruth[],
): SceneTruth {
  return {
    stepCount,
    acquired: (_, step) => ({ isAllowed: step === 1, why: "it was before" }),
    step: (filter, step) => {
      const one = script(filter, step);
      return {
        isJudged: one.isJudged ?? true,
        re: Math.cos(LAG_RAD) * one.level,
        im: -Math.sin(LAG_RAD) * one.level,
        level: one.level,
        levelTol: one.levelTol,
        terms: [
          { name: "edge clock", value: one.levelTol * 0.95 },
          { name: "single precision", value: one.levelTol * 0.05 },
        ],
        phaseLagDeg: PHASE_LAG_DEG,
        phaseTolDeg: 0.1,
        phaseIsJudged: one.isJudged ?? true,
        speedRevPerS: SPEED_REV_PER_S,
        speedTolRevPerS: 0.004,
        speedNowRevPerS: SPEED_REV_PER_S,
        allowed: [{ validity: validityOf(one), cause: one.cause ?? 0 }],
        record: {
          isComputed: "yes",
          isSettled: "yes",
          isBridged: "no",
          isPhaseRelative: "no",
          ageTicks: { least: 100, most: 100 },
          revolution: step * 8,
          integrationDistance: { least: 0, most: 0 },
        },
      };
    },
    events: () => events,
    counters: () => counters,
  };
}
