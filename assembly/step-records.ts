// The records of one display at one step: level, event, exceedance. Offsets as in shared/layout.
import {
  EXCEEDANCE_ONSET_HIGH, EXCEEDANCE_ONSET_LOW, EXCEEDANCE_PEAK_STEP, RECORD_AGE, RECORD_DETAIL,
  RECORD_EVENT, RECORD_EXCEEDANCE, RECORD_IM, RECORD_LEVEL, RECORD_LEVEL_VALUE, RECORD_RE,
  RECORD_REVOLUTION, RECORD_SHOWN, RECORD_SPEED, RECORD_SPEED_NOW, RECORD_STATUS, RECORD_VALUE,
  RECORD_WORD,
} from "../shared/layout.ts";
import { ExceedanceState } from "./caution.ts";
import { cautionOf, exceedanceOf, numberOf, validityOf } from "./display-state.ts";
import { configDisplay } from "./memory.ts";
import { recordOpen, recordStore } from "./records.ts";
import {
  trackerClosingTick, trackerFlags, trackerIm, trackerIntegrationDistance, trackerIsComputed,
  trackerRe, trackerRevolution, trackerSpeed, trackerSpeedNow,
} from "./tracker.ts";
import { ValidityState } from "./validity.ts";
import { wordProcess } from "./word.ts";

/** What a level record and an event of a filter say alike. */
function measuredStore(at: usize, f: i32): void {
  store<u32>(at, trackerRevolution(f), RECORD_REVOLUTION);
  store<i32>(at, numberOf(f).shown, RECORD_SHOWN);
  if (!trackerIsComputed(f)) return;
  recordStore(at + RECORD_SPEED, trackerSpeed(f));
  recordStore(at + RECORD_RE, trackerRe(f));
  recordStore(at + RECORD_IM, trackerIm(f));
  recordStore(at + RECORD_LEVEL_VALUE, numberOf(f).levelValue);
}

/** An event of a filter, with what its level record says at the same step. */
export function filterEvent(code: i32, f: i32, tick: u64, detail: i32): void {
  const at: usize = recordOpen(RECORD_EVENT, f, code, tick);
  if (at == 0) return;
  measuredStore(at, f);
  store<i32>(at, detail, RECORD_DETAIL);
}

/** The level record of a display step. */
export function levelRecord(f: i32, tick: u64, statusBits: u32): void {
  const at: usize = recordOpen(RECORD_LEVEL, f, <i32>trackerFlags(f), tick);
  if (at == 0) return;
  const validity: ValidityState = validityOf(f);
  measuredStore(at, f);
  store<u8>(at, <u8>validity.shownValidity, RECORD_STATUS);
  store<u8>(at, <u8>validity.shownCause, RECORD_STATUS + 1);
  store<u8>(at, <u8>cautionOf(f).state, RECORD_STATUS + 2);
  store<u8>(at, <u8>statusBits, RECORD_STATUS + 3);
  const word: u32 = wordProcess(configDisplay(f), numberOf(f).shown, validity.shownValidity);
  store<u32>(at, word, RECORD_WORD);
  if (!trackerIsComputed(f)) return;
  const age: u64 = tick - trackerClosingTick(f);
  store<u32>(at, age > <u64>u32.MAX_VALUE ? u32.MAX_VALUE : <u32>age, RECORD_AGE);
  recordStore(at + RECORD_SPEED_NOW, trackerSpeedNow(f));
  recordStore(at + RECORD_VALUE, trackerIntegrationDistance(f));
}

/** The record of an exceedance that ended at this step. */
export function exceedanceRecord(f: i32, tick: u64): void {
  const at: usize = recordOpen(RECORD_EXCEEDANCE, f, 0, tick);
  if (at == 0) return;
  const state: ExceedanceState = exceedanceOf(f);
  store<u32>(at, state.aboveSteps, RECORD_AGE);
  store<u32>(at, state.peakRevolution, RECORD_REVOLUTION);
  recordStore(at + RECORD_SPEED, state.peakSpeed);
  recordStore(at + RECORD_LEVEL_VALUE, state.peakLevel);
  store<i32>(at, state.peakShown, RECORD_SHOWN);
  store<u32>(at, state.peakStep, EXCEEDANCE_PEAK_STEP);
  store<u32>(at, state.onsetLow, EXCEEDANCE_ONSET_LOW);
  store<u32>(at, state.onsetHigh, EXCEEDANCE_ONSET_HIGH);
}
