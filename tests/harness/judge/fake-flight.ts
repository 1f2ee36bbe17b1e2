// A truth and a device that are made of a script: what each filter reads at each step. The device is
// the table of states in its plainest form, so that the judge is held against something simpler.
import * as L from "../../../shared/layout.ts";
import * as U from "../../../shared/units.ts";
import { encodeRecord } from "../../../host/records.ts";
import type { Counters, DecodedRecord, LevelRecord } from "../../../host/record-types.ts";
import type { Scene } from "../../../harness/scene/scene.ts";
import type { CounterTruth, EventTruth, SceneTruth } from "../../../harness/truth/types.ts";

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

export function zeroCounters(): Counters {
  return {
    blocks: 0,
    samples: 0,
    refusedBlocks: 0,
    recordsLost: 0,
    edges: [800, 0],
    edgesEarly: [0, 0],
    edgesMissed: [0, 0],
    edgesIrregular: [0, 0],
    referenceLost: [0, 0],
    indexContradictions: [0, 0],
    samplesNotFinite: [0, 0, 0, 0],
    samplesClipped: [0, 0, 0, 0],
    health: [0, 0, 0, 0, 0, 0, 0],
    revolutions: [800, 0],
    samplesLate: [0, 0],
  };
}

export function encode(records: DecodedRecord[]): Uint8Array {
  const bytes = new Uint8Array(records.length * L.RECORD_BYTES);
  const view = new DataView(bytes.buffer);
  records.forEach((record, i) => encodeRecord(record, view, i * L.RECORD_BYTES));
  return bytes;
}

interface DisplayState {
  smoothed: number | undefined;
  shown: number;
  invalid: number;
  hadNumber: boolean;
  onRun: number;
  offRun: number;
  latched: boolean;
  status: number;
  wasValid: boolean;
  wasAcknowledge: boolean;
  open: { onset: number; above: number; peak: LevelRecord; peakSteps: number } | undefined;
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
  const states = profile.filters.map((): DisplayState => ({
    smoothed: undefined,
    shown: 0,
    invalid: 0,
    hadNumber: false,
    onRun: 0,
    offRun: 0,
    latched: false,
    status: 0,
    wasValid: false,
    wasAcknowledge: false,
    open: undefined,
  }));
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
    counters: zeroCounters(),
    truth: () => scriptTruth(stepCount, script, extra.events ?? [], extra.counters ?? []),
  };
}

function validityOf(one: ScriptStep): number {
  return one.validity ?? U.VALID;
}

function displayStep(
  scene: Scene,
  filter: number,
  step: number,
  tick: number,
  measured: ScriptStep[],
  state: DisplayState,
): DecodedRecord[] {
  const { display } = scene.profile.filters[filter]!;
  const own = measured[filter]!;
  const sources =
    display.source.kind === "greatest"
      ? display.source.filters
      : display.source.kind === "substitute"
        ? [filter, display.source.filter]
        : [filter];
  const valid = sources.filter((one) => validityOf(measured[one]!) === U.VALID);
  const read = (one: number): number =>
    Math.fround(measured[one]!.level + (measured[one]!.error ?? 0));
  const serving =
    display.source.kind === "greatest" ? valid.toSorted((a, b) => read(b) - read(a))[0] : valid[0];
  let validity = U.VALID;
  let cause = U.CAUSE_NONE;
  if (serving === undefined) {
    validity = display.source.kind === "greatest" ? U.NO_COMPUTED_DATA : validityOf(own);
    cause = display.source.kind === "greatest" ? U.CAUSE_NO_SOURCE : (own.cause ?? 0);
  }
  const isValid = validity === U.VALID;
  let status = 0;
  if (isValid) {
    const factor = Math.fround(display.scale[0]!.factor);
    const value = Math.fround(read(serving!) * factor);
    const share = Math.fround(
      display.smoothingS > 0 ? 1 - Math.exp(-scene.profile.displayPeriodS / display.smoothingS) : 1,
    );
    state.smoothed =
      state.smoothed === undefined
        ? value
        : Math.fround(state.smoothed + Math.fround(share * Math.fround(value - state.smoothed)));
    const counts = Math.floor(
      Math.fround(Math.fround(state.smoothed * Math.fround(1 / display.step)) + 0.5),
    );
    state.shown = Math.min(Math.max(counts, 0), display.countsMax);
    state.invalid = 0;
    state.hadNumber = true;
  } else {
    state.smoothed = undefined;
    state.invalid += 1;
    if (state.hadNumber && state.invalid <= display.holdSteps) status |= L.STATUS_HELD;
    else {
      state.hadNumber = false;
      state.shown = 0;
      status |= L.STATUS_BLANK;
    }
  }
  if (serving !== undefined && display.source.kind === "substitute" && serving !== filter) {
    status |= L.STATUS_SUBSTITUTE;
  }
  const timeS = step * scene.profile.displayPeriodS;
  const isInhibited = display.caution !== undefined && inputAt(scene, timeS, "inhibit", filter);
  const endedInvalid = stepLatch(scene, filter, state, isValid, status, isInhibited);
  const cautionState = stateOf(scene, filter, state, isValid, isInhibited);
  if (display.caution !== undefined) {
    if (isValid && state.shown >= display.caution.levelCounts) status |= L.STATUS_AT_LEVEL;
    if (state.latched && !isInhibited) status |= L.STATUS_CAUTION;
    if (isInhibited) status |= L.STATUS_INHIBITED;
  }
  const isAcknowledge = inputAt(scene, timeS, "acknowledge", filter);
  const wasOn = (state.status & L.STATUS_CAUTION) !== 0;
  const acknowledged = isAcknowledge && !state.wasAcknowledge && wasOn;
  state.wasAcknowledge = isAcknowledge;
  const isOn = (status & L.STATUS_CAUTION) !== 0;
  if (isOn && wasOn && (acknowledged || (state.status & L.STATUS_ACKNOWLEDGED) !== 0)) {
    status |= L.STATUS_ACKNOWLEDGED;
  }
  const level: LevelRecord = {
    kind: "level",
    filter,
    sequence: 0,
    tick,
    ageTicks: 100,
    revolution: step * 8,
    speedRevPerS: SPEED_REV_PER_S,
    speedNowRevPerS: SPEED_REV_PER_S,
    re: Math.fround(Math.cos(LAG_RAD) * read(filter)),
    im: Math.fround(-Math.sin(LAG_RAD) * read(filter)),
    level: read(filter),
    shownCounts: state.shown,
    validity,
    cause,
    cautionState,
    statusBits: status,
    flags: L.FLAG_COMPUTED,
    word: 0,
    integrationDistance: 0,
  };
  const codes = changes(state, status, isValid, endedInvalid, acknowledged);
  const substitute = display.source.kind === "substitute" ? display.source.filter : 0;
  const detail = (code: number): number =>
    code === U.EVENT_INVALID ? cause : code === U.EVENT_SUBSTITUTE_ON ? substitute : 0;
  const events = codes.map((code): DecodedRecord => {
    const { revolution, speedRevPerS, re, im, shownCounts } = level;
    const same = { revolution, speedRevPerS, re, im, level: level.level, shownCounts };
    return {
      kind: "event",
      code,
      source: filter,
      sequence: 0,
      tick,
      ...same,
      detail: detail(code),
    };
  });
  const servingLevel = read(serving ?? filter);
  const ended = exceedanceStep(scene, filter, state, level, servingLevel, isValid);
  state.status = status;
  state.wasValid = isValid;
  return [level, ...events, ...ended];
}

function stepLatch(
  scene: Scene,
  filter: number,
  state: DisplayState,
  isValid: boolean,
  status: number,
  isInhibited: boolean,
): boolean {
  const { caution } = scene.profile.filters[filter]!.display;
  if (caution === undefined) return false;
  const isAt = isValid && state.shown >= caution.levelCounts;
  const isUnder = isValid && state.shown < caution.levelCounts - caution.hysteresisCounts;
  const isStopped = isInhibited && !caution.delayRunsUnderInhibit;
  state.onRun = isAt && !isStopped ? state.onRun + 1 : 0;
  state.offRun = isUnder ? state.offRun + 1 : 0;
  if (!state.latched) {
    state.latched = state.onRun > caution.onDelaySteps;
    return false;
  }
  if (!isValid && !(caution.whenInvalid === "hold" && (status & L.STATUS_HELD) !== 0)) {
    state.latched = false;
    return true;
  }
  if (state.offRun > caution.offDelaySteps) state.latched = false;
  return false;
}

function stateOf(
  scene: Scene,
  filter: number,
  state: DisplayState,
  isValid: boolean,
  isInhibited: boolean,
): number {
  const { caution } = scene.profile.filters[filter]!.display;
  if (caution === undefined) return U.CAUTION_OFF;
  const isAt = isValid && state.shown >= caution.levelCounts;
  if (state.latched) {
    if (isInhibited) return U.CAUTION_INHIBITED;
    if (!isValid || isAt) return U.CAUTION_ON;
    return state.offRun > 0 ? U.CAUTION_TIMING_OFF : U.CAUTION_HELD;
  }
  if (!isAt) return U.CAUTION_OFF;
  return isInhibited && caution.onDelaySteps === 0 ? U.CAUTION_INHIBITED : U.CAUTION_TIMING_ON;
}

function changes(
  state: DisplayState,
  status: number,
  isValid: boolean,
  endedInvalid: boolean,
  acknowledged: boolean,
): number[] {
  const codes: number[] = [];
  const edge = (bit: number): number => Math.sign((status & bit) - (state.status & bit));
  if (isValid !== state.wasValid) codes.push(isValid ? U.EVENT_VALID : U.EVENT_INVALID);
  const substitute = edge(L.STATUS_SUBSTITUTE);
  if (substitute > 0) codes.push(U.EVENT_SUBSTITUTE_ON);
  if (substitute < 0) codes.push(U.EVENT_SUBSTITUTE_OFF);
  const inhibit = edge(L.STATUS_INHIBITED);
  if (inhibit > 0) codes.push(U.EVENT_INHIBIT_ON);
  if (inhibit < 0) codes.push(U.EVENT_INHIBIT_OFF);
  if (acknowledged) codes.push(U.EVENT_ACKNOWLEDGED);
  const caution = edge(L.STATUS_CAUTION);
  if (caution > 0) codes.push(U.EVENT_CAUTION_ON);
  if (caution < 0) {
    codes.push(endedInvalid ? U.EVENT_CAUTION_ENDED_INVALID : U.EVENT_CAUTION_OFF);
  }
  return codes;
}

function exceedanceStep(
  scene: Scene,
  filter: number,
  state: DisplayState,
  record: LevelRecord,
  level: number,
  isValid: boolean,
): DecodedRecord[] {
  const { caution } = scene.profile.filters[filter]!.display;
  if (caution === undefined) return [];
  const isAt = isValid && record.shownCounts >= caution.levelCounts;
  const served = { ...record, level };
  if (state.open === undefined) {
    if (isAt) state.open = { onset: record.tick, above: 1, peak: served, peakSteps: 0 };
    return [];
  }
  const { open } = state;
  const isOver = !isValid || record.shownCounts < caution.levelCounts - caution.hysteresisCounts;
  if (!isOver) {
    if (isAt) open.above += 1;
    const more = record.shownCounts - open.peak.shownCounts;
    if (more > 0 || (more === 0 && level > open.peak.level)) {
      const stepTicks = scene.profile.displayPeriodS * scene.profile.clockHz;
      open.peak = served;
      open.peakSteps = Math.round((record.tick - open.onset) / stepTicks);
    }
    return [];
  }
  state.open = undefined;
  return [
    {
      kind: "exceedance",
      filter,
      sequence: 0,
      onsetTick: open.onset,
      endTick: record.tick,
      peakSteps: open.peakSteps,
      aboveSteps: open.above,
      peakLevel: open.peak.level,
      peakShownCounts: open.peak.shownCounts,
      speedAtPeakRevPerS: open.peak.speedRevPerS,
      revolutionAtPeak: open.peak.revolution,
    },
  ];
}

function scriptTruth(
  stepCount: number,
  script: Script,
  events: EventTruth[],
  counters: CounterTruth[],
): SceneTruth {
  return {
    stepCount,
    acquired: () => ({ isAllowed: true, why: "" }),
    step: (filter, step) => {
      const one = script(filter, step);
      return {
        isJudged: one.isJudged ?? true,
        re: Math.cos(LAG_RAD) * one.level,
        im: -Math.sin(LAG_RAD) * one.level,
        level: one.level,
        levelTol: one.levelTol,
        phaseLagDeg: PHASE_LAG_DEG,
        phaseTolDeg: 0.1,
        phaseIsJudged: one.isJudged ?? true,
        speedRevPerS: SPEED_REV_PER_S,
        speedTolRevPerS: 0.004,
        speedNowRevPerS: SPEED_REV_PER_S,
        allowed: [{ validity: validityOf(one), cause: one.cause ?? 0 }],
      };
    },
    events: () => events,
    counters: () => counters,
    terms: () => [
      { name: "edge clock", value: 0.002 },
      { name: "f32", value: 0.0001 },
    ],
  };
}
