// One display of the plain device: number, caution and exceedance in their simplest form.
import * as L from "../../../shared/layout.ts";
import * as U from "../../../shared/units.ts";
import type { DecodedRecord, LevelRecord } from "../../../host/record-types.ts";
import type { DisplayProfile, Scene } from "../../../harness/scene/scene.ts";

export interface DisplayState {
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

export function newDisplayState(): DisplayState {
  return {
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
  };
}

/** Takes a level, or its absence, into the number; answers the marks of held and blank. */
export function numberStep(
  display: DisplayProfile,
  state: DisplayState,
  level: number | undefined,
  periodS: number,
): number {
  const f = Math.fround;
  if (level === undefined) {
    state.smoothed = undefined;
    state.invalid += 1;
    if (state.hadNumber && state.invalid <= display.holdSteps) return L.STATUS_HELD;
    state.hadNumber = false;
    state.shown = 0;
    return L.STATUS_BLANK;
  }
  const value = f(level * f(display.scale[0]!.factor));
  const share = f(display.smoothingS > 0 ? 1 - Math.exp(-periodS / display.smoothingS) : 1);
  const before = state.smoothed;
  state.smoothed = before === undefined ? value : f(before + f(share * f(value - before)));
  const counts = Math.floor(f(f(state.smoothed * f(1 / display.step)) + 0.5));
  state.shown = Math.min(Math.max(counts, 0), display.countsMax);
  state.invalid = 0;
  state.hadNumber = true;
  return 0;
}

export function stepLatch(
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

export function stateOf(
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

export function changes(
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

export function exceedanceStep(
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
