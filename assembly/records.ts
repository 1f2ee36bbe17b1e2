// The records that wait to be read. A record that finds no room takes its sequence number with it,
// is counted, and is told by an event as soon as there is room again.
import { RECORDS_MAX } from "../shared/capacity.ts";
import {
  COUNTER_RECORDS_LOST,
  RECORD_BYTES,
  RECORD_DETAIL,
  RECORD_EVENT,
  RECORD_FLAGS,
  RECORD_KIND,
  RECORD_SEQUENCE,
  RECORD_SOURCE,
  RECORD_TICK_HIGH,
  RECORD_TICK_LOW,
} from "../shared/layout.ts";
import { EVENT_RECORDS_LOST } from "../shared/units.ts";
import { COUNTERS, RECORDS } from "./memory.ts";

let waiting: i32 = 0;
let sequence: u32 = 0;
let lost: i32 = 0;

/** Forgets what waits; sequence numbers start at 0 again. */
export function recordsReset(): void {
  waiting = 0;
  sequence = 0;
  lost = 0;
}

/** Records that wait, from the start of their block in memory. */
export function recordsCount(): i32 {
  return waiting;
}

/** Says that the host has taken them. */
export function recordsClear(): void {
  waiting = 0;
}

function recordPut(kind: i32, source: i32, flags: i32, tick: u64): usize {
  const at: usize = RECORDS + <usize>waiting * RECORD_BYTES;
  waiting += 1;
  memory.fill(at, 0, RECORD_BYTES);
  store<u8>(at, <u8>kind, RECORD_KIND);
  store<u8>(at, <u8>source, RECORD_SOURCE);
  store<u16>(at, <u16>flags, RECORD_FLAGS);
  store<u32>(at, sequence, RECORD_SEQUENCE);
  store<u32>(at, <u32>tick, RECORD_TICK_LOW);
  store<u32>(at, <u32>(tick >> 32), RECORD_TICK_HIGH);
  sequence += 1;
  return at;
}

/** A new record, all fields beyond its head zero; address 0 where there is no room. */
export function recordOpen(kind: i32, source: i32, flags: i32, tick: u64): usize {
  if (lost > 0 && waiting < RECORDS_MAX) {
    const at: usize = recordPut(RECORD_EVENT, 0, EVENT_RECORDS_LOST, tick);
    store<i32>(at, lost, RECORD_DETAIL);
    lost = 0;
  }
  if (waiting < RECORDS_MAX) return recordPut(kind, source, flags, tick);
  sequence += 1;
  if (lost != i32.MAX_VALUE) lost += 1;
  store<u32>(COUNTERS, load<u32>(COUNTERS, COUNTER_RECORDS_LOST) + 1, COUNTER_RECORDS_LOST);
  return 0;
}

/** Stores a number into a record; what is no number, or infinite, is stored as 0. */
export function recordStore(address: usize, value: f32): void {
  store<f32>(address, abs(value) <= f32.MAX_VALUE ? value : 0);
}

/** An event of a shaft, a channel or the whole device. */
export function emitEvent(code: i32, source: i32, tick: u64, detail: i32): void {
  const at: usize = recordOpen(RECORD_EVENT, source, code, tick);
  if (at != 0) store<i32>(at, detail, RECORD_DETAIL);
}
