// Samples that wait for the knots that close them: one run a channel, moved to its start when the
// room ends. Samples are known by their index in the stream.
import { POOL_MARGIN_SAMPLES, POOL_SAMPLES } from "../shared/capacity.ts";
import { COUNTER_SAMPLES_NOT_FINITE, CHANNEL_COUNT_STEP } from "../shared/layout.ts";
import { POOL, configChannel, counterAdd } from "./memory.ts";
import { vectorCopy, vectorScale } from "./vector/samples.ts";

/** Larger magnitudes are treated like infinities: their squares would leave f32 further on. */
const SAMPLE_MAX: f32 = 1e12;
/** Samples kept though nothing waits: a first knot needs one before it. */
const KEPT_SAMPLES_MIN: i32 = 4;

let capacity: i32 = POOL_SAMPLES;
let channelCount: i32 = 0;
/** Index of the oldest sample held. */
let first: u64 = 0;
let held: i32 = 0;

/** Shares the pool between channels and forgets every sample. */
export function poolReset(channels: i32): void {
  channelCount = channels;
  capacity = POOL_SAMPLES / channels;
  first = 0;
  held = 0;
}

/** The longest knot interval, in samples, whose samples are surely still there when it closes. */
export function poolIntervalMax(): i32 {
  return capacity - POOL_MARGIN_SAMPLES;
}

/** Begins a stream at a sample. */
export function poolStart(sample: u64): void {
  first = sample;
  held = 0;
}

/** Address of a sample that is held. */
export function poolAddress(channel: i32, sample: u64): usize {
  const offset = <i32>(sample - first);
  assert(sample >= first && offset < held);
  return POOL + 4 * (channel * capacity + offset);
}

/** Makes room for `count` more samples; what is older than `needed` may go. */
export function poolMakeRoom(count: i32, needed: u64): void {
  if (held + count <= capacity) return;
  const end: u64 = first + <u64>held;
  // Nearly a whole pool is held, so there are so many.
  let keepFrom: u64 = end - <u64>KEPT_SAMPLES_MIN;
  if (needed < keepFrom) keepFrom = needed;
  // What nobody closed in time has to go: the angle model drops such an interval by its length. It
  // lies behind the first that is held, or there would be room.
  const oldest: u64 = end + <u64>count - <u64>capacity;
  if (keepFrom < oldest) keepFrom = oldest;
  const dropped = <i32>(keepFrom - first);
  held -= dropped;
  first = keepFrom;
  for (let channel: i32 = 0; channel < channelCount; channel++) {
    const at = POOL + 4 * channel * capacity;
    memory.copy(at, at + 4 * dropped, 4 * held);
  }
}

/** The newest sample of a channel: it stands in the place of a next one that is no number. */
function lastOf(channel: i32): f32 {
  return held > 0 ? load<f32>(POOL + 4 * (channel * capacity + held - 1)) : 0;
}

/** Puts `count` f32 samples, SI, behind a channel's run; `poolAdvance` then makes them count. */
export function poolPutFloats(channel: i32, from: usize, count: i32): void {
  const to = POOL + 4 * (channel * capacity + held);
  let last = lastOf(channel);
  let bad: u32 = 0;
  let i: i32 = 0;
  if (ASC_FEATURE_SIMD) {
    // One that is none stops it: the rest of the block is taken one by one.
    i = vectorCopy(to, from, count, SAMPLE_MAX);
    if (i != 0) last = load<f32>(to + 4 * (i - 1));
  }
  for (; i < count; i++) {
    const x = load<f32>(from + 4 * i);
    if (abs(x) <= SAMPLE_MAX) last = x;
    else bad++;
    store<f32>(to + 4 * i, last);
  }
  if (bad > 0) counterAdd(COUNTER_SAMPLES_NOT_FINITE + 4 * channel, bad);
}

/** The same for i16 counts of the channel's step. */
export function poolPutCounts(channel: i32, from: usize, count: i32): void {
  let to = POOL + 4 * (channel * capacity + held);
  const step = load<f32>(configChannel(channel) + CHANNEL_COUNT_STEP);
  if (ASC_FEATURE_SIMD) {
    const done = vectorScale(to, from, count, step);
    from += 2 * done;
    to += 4 * done;
    count -= done;
  }
  // Two at a time: what a turn costs is paid half as often.
  if ((count & 1) != 0) {
    store<f32>(to, <f32>load<i16>(from) * step);
    from += 2;
    to += 4;
  }
  let pairs = count >> 1;
  if (pairs != 0) do {
    store<f32>(to, <f32>load<i16>(from, 0) * step, 0);
    store<f32>(to, <f32>load<i16>(from, 2) * step, 4);
    from += 4;
    to += 8;
    pairs -= 1;
  } while (pairs != 0);
}

/** Makes the samples that were put count as held. */
export function poolAdvance(count: i32): void {
  held += count;
  assert(held <= capacity);
}
