// Transducer health: sums over one display period, judged once at its end. The samples of period i
// are those of index (i−1)·D < index <= i·D, D the display period in samples; the very first sample
// of a stream only starts the differences. A check whose evidence is missing in a period (a shaft
// that stands, a level that is not settled) leaves its state and its count as they were.
import {
  CHANNEL_BIAS_HIGH,
  CHANNEL_BIAS_LOW,
  CHANNEL_BROADBAND_RATIO,
  CHANNEL_BURST_RMS,
  CHANNEL_CLIP_SAMPLES,
  CHANNEL_FLAT_PKPK,
  CHANNEL_HEALTH_MASK,
  CHANNEL_HEALTH_STEPS,
  CHANNEL_KIND,
  CHANNEL_NOISE_RMS,
  CHANNEL_PHYSICAL_PK,
} from "../shared/layout.ts";
import {
  HEALTH_BIAS,
  HEALTH_BROADBAND,
  HEALTH_BURST,
  HEALTH_CHECKS,
  HEALTH_CLIP,
  HEALTH_FLAT,
  HEALTH_NOISE_FLOOR,
  HEALTH_PHYSICAL,
  KIND_CHARGE,
  KIND_COIL,
  KIND_POWERED,
} from "../shared/units.ts";
import { exponentialOfMinus } from "./math/exponential.ts";
import {
  VECTOR_SAMPLES, vectorClipped, vectorDifferences, vectorGreatest, vectorLeast, vectorSquares,
  vectorSum, vectorSums, vectorSumsStart,
} from "./vector/samples.ts";

/** Slices of a period whose means show low-frequency bursts. */
export const SLICES: i32 = 8;
/** There is no settled level to compare with the broadband. */
export const TRACKED_UNKNOWN: f32 = -1;

@unmanaged
export class HealthState {
  taken: u32; // samples of this period
  isStarted: u32; // the first sample of the stream has come
  reference: f32; // subtracted before summing, so that a bias costs no digits: the last mean
  last: f32; // newest sample
  least: f32;
  greatest: f32;
  squares: f32; // Σ (x − reference)²
  differences: f32; // Σ (x − the one before)²
  differenceCount: u32;
  clipped: u32;
  faults: u32; // bits 1 << HEALTH_…: faults that stand
  slice0: f32; // eight: Σ (x − reference) of each slice
  slice1: f32;
  slice2: f32;
  slice3: f32;
  slice4: f32;
  slice5: f32;
  slice6: f32;
  slice7: f32;
  steps0: u32; // seven u32: periods in a row that spoke against the standing verdict
  steps1: u32;
  steps2: u32;
  steps3: u32;
  steps4: u32;
  steps5: u32;
  steps6: u32;
  memory1: f32; // broadband rms through two poles, as slow as the slowest filter of the channel
  memory2: f32;
  trackedBefore: f32; // the tracked rms that the period began with; after a reset 0, nothing yet
}

function sliceAddress(state: HealthState, slice: i32): usize {
  return changetype<usize>(state) + offsetof<HealthState>("slice0") + (<usize>slice << 2);
}

function stepsAddress(state: HealthState, check: i32): usize {
  return changetype<usize>(state) + offsetof<HealthState>("steps0") + (<usize>check << 2);
}

/** Index within a period of D samples where a slice starts. */
function sliceStart(slice: i32, displaySamples: i32): i32 {
  return <i32>((<u64>slice * <u64>displaySamples) / <u64>SLICES);
}

function sliceSize(slice: i32, displaySamples: i32): i32 {
  return sliceStart(slice + 1, displaySamples) - sliceStart(slice, displaySamples);
}

/** Mean of a slice about the reference; a period has no fewer samples than slices. */
function sliceMean(state: HealthState, slice: i32, displaySamples: i32): f32 {
  return load<f32>(sliceAddress(state, slice)) / <f32>sliceSize(slice, displaySamples);
}

/** The checks that serve a kind of transducer, as bits. */
export function healthServes(kind: i32): u32 {
  const all: u32 =
    (1 << HEALTH_CLIP) | (1 << HEALTH_FLAT) | (1 << HEALTH_PHYSICAL) | (1 << HEALTH_BROADBAND);
  if (kind == KIND_CHARGE) return all | (1 << HEALTH_NOISE_FLOOR) | (1 << HEALTH_BURST);
  if (kind == KIND_POWERED) return all | (1 << HEALTH_BIAS) | (1 << HEALTH_BURST);
  assert(kind == KIND_COIL);
  return all;
}

/** The checks of a channel that are configured and serve its kind, as bits. */
export function healthChecks(channel: usize): u32 {
  return load<u32>(channel, CHANNEL_HEALTH_MASK) & healthServes(load<i32>(channel, CHANNEL_KIND));
}

/** Forgets everything, verdicts included. */
export function healthStateReset(state: HealthState): void {
  memory.fill(changetype<usize>(state), 0, offsetof<HealthState>());
}

function periodStart(state: HealthState): void {
  state.taken = 0;
  state.squares = 0;
  state.differences = 0;
  state.differenceCount = 0;
  state.clipped = 0;
  for (let i: i32 = 0; i < SLICES; i++) store<f32>(sliceAddress(state, i), 0);
}

/** Sums whole vectors from the front of a run; answers how many samples that were. */
function simdSumRun(state: HealthState, slice: i32, address: usize, count: i32): i32 {
  const many: i32 = count & ~(VECTOR_SAMPLES - 1);
  if (many == 0) return 0;
  const sum: f32 = load<f32>(sliceAddress(state, slice));
  vectorSumsStart(sum, state.squares, state.differences, state.least, state.greatest);
  vectorSums(address, many, state.reference, state.last);
  store<f32>(sliceAddress(state, slice), vectorSum);
  state.squares = vectorSquares;
  state.differences = vectorDifferences;
  state.least = vectorLeast;
  state.greatest = vectorGreatest;
  state.last = load<f32>(address + (<usize>(many - 1) << 2));
  return many;
}

/** Sums a run of samples that lies inside one slice; answers how many were clipped. */
function sumRun(
  state: HealthState, range: f32, slice: i32, address: usize, count: i32,
): u32 {
  let vectors: i32 = 0;
  if (ASC_FEATURE_SIMD) vectors = simdSumRun(state, slice, address, count);
  const reference: f32 = state.reference;
  let last: f32 = state.last;
  let least: f32 = state.least;
  let greatest: f32 = state.greatest;
  let squares: f32 = state.squares;
  let differences: f32 = state.differences;
  let sum: f32 = load<f32>(sliceAddress(state, slice));
  let at: usize = address + (<usize>vectors << 2);
  const rest: i32 = count - vectors;
  // Two at a time, in order: what a turn costs is paid half as often.
  if ((rest & 1) != 0) {
    const x: f32 = load<f32>(at);
    const step: f32 = x - last;
    const offset: f32 = x - reference;
    last = x;
    sum += offset;
    squares += offset * offset;
    differences += step * step;
    if (x < least) least = x;
    else if (x > greatest) greatest = x;
    at += 4;
  }
  let pairs: i32 = rest >> 1;
  if (pairs != 0) do {
    const x: f32 = load<f32>(at, 0);
    const y: f32 = load<f32>(at, 4);
    const xStep: f32 = x - last;
    const yStep: f32 = y - x;
    const xOffset: f32 = x - reference;
    const yOffset: f32 = y - reference;
    last = y;
    sum = sum + xOffset + yOffset;
    squares = squares + xOffset * xOffset + yOffset * yOffset;
    differences = differences + xStep * xStep + yStep * yStep;
    if (x < least) least = x;
    else if (x > greatest) greatest = x;
    if (y < least) least = y;
    else if (y > greatest) greatest = y;
    at += 8;
    pairs -= 1;
  } while (pairs != 0);
  state.last = last;
  state.least = least;
  state.greatest = greatest;
  state.squares = squares;
  state.differences = differences;
  state.differenceCount += count;
  state.taken += count;
  store<f32>(sliceAddress(state, slice), sum);
  // Samples are counted only where the period's extremes say that there may be one.
  if (!(max<f32>(greatest, -least) >= range)) return 0;
  const clipped: u32 = clippedCount(range, address, count);
  state.clipped += clipped;
  return clipped;
}

/**
 * Takes samples in the order in which they came; none of them may go beyond the display step.
 *
 * Shape     f32[count] at `address`, at least one, finite, SI; D = displaySamples; range: |sample|
 *           that is clipped
 * Effect    answers how many of them were clipped
 */
export function healthTake(
  range: f32,
  state: HealthState,
  displaySamples: i32,
  address: usize,
  count: i32,
): u32 {
  let clipped: u32 = 0;
  if (state.isStarted == 0) {
    const first: f32 = load<f32>(address);
    state.isStarted = 1;
    state.reference = first;
    state.last = first;
    periodStart(state);
    clipped = <u32>(abs(first) >= range);
    address += 4;
    count -= 1;
  }
  let slice: i32 = 0;
  while (count > 0) {
    const taken: i32 = <i32>state.taken;
    assert(taken < displaySamples);
    if (taken == 0) {
      state.least = load<f32>(address);
      state.greatest = state.least;
    }
    while (sliceStart(slice + 1, displaySamples) <= taken) slice += 1;
    const room: i32 = sliceStart(slice + 1, displaySamples) - taken;
    const run: i32 = count < room ? count : room;
    clipped += sumRun(state, range, slice, address, run);
    address += <usize>run << 2;
    count -= run;
  }
  return clipped;
}

/** How many of the samples are clipped: all that a channel without checks is asked. */
export function clippedCount(range: f32, address: usize, count: i32): u32 {
  let clipped: u32 = 0;
  let i: i32 = 0;
  if (ASC_FEATURE_SIMD) {
    i = count & ~(VECTOR_SAMPLES - 1);
    clipped = vectorClipped(range, address, i);
  }
  for (; i < count; i++) {
    clipped += <u32>(abs(load<f32>(address + (<usize>i << 2))) >= range);
  }
  return clipped;
}

/** Mean of the period about the reference. */
function meanOffset(state: HealthState): f32 {
  let sum: f32 = 0;
  for (let i: i32 = 0; i < SLICES; i++) sum += load<f32>(sliceAddress(state, i));
  return sum / <f32>state.taken;
}

/** rms of the period about its mean, SI. */
export function broadbandRms(state: HealthState): f32 {
  const mean: f32 = meanOffset(state);
  const variance: f32 = state.squares / <f32>state.taken - mean * mean;
  return variance > 0 ? sqrt<f32>(variance) : 0;
}

/** rms of first differences over √2: white noise of rms σ reads σ. */
export function noiseFloorRms(state: HealthState): f32 {
  if (state.differenceCount == 0) return 0;
  return sqrt<f32>(state.differences / (<f32>2 * <f32>state.differenceCount));
}

/** rms of the slices' means about their own mean. */
export function burstRms(state: HealthState, displaySamples: i32): f32 {
  let sum: f32 = 0;
  for (let i: i32 = 0; i < SLICES; i++) sum += sliceMean(state, i, displaySamples);
  const mean: f32 = sum / <f32>SLICES;
  let squares: f32 = 0;
  for (let i: i32 = 0; i < SLICES; i++) {
    const offset: f32 = sliceMean(state, i, displaySamples) - mean;
    squares += offset * offset;
  }
  return sqrt<f32>(squares / <f32>SLICES);
}

/** Checks that speak of a fault in the period, as bits; a value that is no number speaks of one. */
function faultsFound(
  channel: usize,
  state: HealthState,
  displaySamples: i32,
  broadband: f32,
  trackedRms: f32,
): u32 {
  const offset: f32 = meanOffset(state);
  const mean: f32 = state.reference + offset;
  let found: u32 = 0;
  const isBiasRight: bool =
    mean >= load<f32>(channel, CHANNEL_BIAS_LOW) && mean <= load<f32>(channel, CHANNEL_BIAS_HIGH);
  if (!isBiasRight) found |= 1 << HEALTH_BIAS;
  if (state.clipped >= load<u32>(channel, CHANNEL_CLIP_SAMPLES)) found |= 1 << HEALTH_CLIP;
  const pkpk: f32 = state.greatest - state.least;
  if (pkpk < load<f32>(channel, CHANNEL_FLAT_PKPK)) found |= 1 << HEALTH_FLAT;
  if (noiseFloorRms(state) < load<f32>(channel, CHANNEL_NOISE_RMS)) {
    found |= 1 << HEALTH_NOISE_FLOOR;
  }
  if (!(burstRms(state, displaySamples) <= load<f32>(channel, CHANNEL_BURST_RMS))) {
    found |= 1 << HEALTH_BURST;
  }
  const pk: f32 = max<f32>(state.greatest - mean, mean - state.least);
  if (!(pk <= load<f32>(channel, CHANNEL_PHYSICAL_PK))) found |= 1 << HEALTH_PHYSICAL;
  const limit: f32 = load<f32>(channel, CHANNEL_BROADBAND_RATIO) * max(broadband, state.memory2);
  if (!(trackedRms <= limit)) found |= 1 << HEALTH_BROADBAND;
  return found;
}

/**
 * Takes a period's broadband rms into the memory that a tracked level is compared with: a level
 * falls no faster than its poles, and must not look like a fault where the vibration has gone.
 *
 * Shape     share: display period over time constant; 0 = no filter to compare
 */
function memoryTake(state: HealthState, broadband: f32, share: f32): void {
  if (!(broadband <= f32.MAX_VALUE)) return;
  if (!(share > 0)) {
    state.memory1 = broadband;
    state.memory2 = broadband;
    return;
  }
  const beta: f32 = exponentialOfMinus(share);
  const kept: f32 = (state.memory2 - broadband) + share * (state.memory1 - broadband);
  state.memory2 = broadband + beta * kept;
  state.memory1 = broadband + beta * (state.memory1 - broadband);
}

/**
 * Judges the period that ends here and starts the next.
 *
 * The broadband is the rms of all the period, the tracked rms a value at its end, which a vibration
 * that rises is ahead of: hence the smaller of the values at both ends is compared.
 *
 * Shape     trackedRms: the greatest tracked rms of the channel's settled filters, in the channel's
 *           own quantity, or TRACKED_UNKNOWN; share: display period over the longest time constant
 *           of those filters; isJudged false: the period is passed over
 * Effect    answers checks found in this period (low half) and verdicts that changed (high half),
 *           bits 1 << HEALTH_…; state.faults are the verdicts that stand
 */
export function healthJudge(
  channel: usize,
  state: HealthState,
  displaySamples: i32,
  isTurning: bool,
  trackedRms: f32,
  share: f32,
  isJudged: bool,
): u32 {
  if (state.taken == 0) return 0;
  const compared: f32 = min(trackedRms, state.trackedBefore);
  state.trackedBefore = trackedRms;
  const broadband: f32 = broadbandRms(state);
  let counted: u32 = 0;
  let changed: u32 = 0;
  let judged: u32 = healthChecks(channel);
  if (!isTurning) judged &= ~(1 << HEALTH_FLAT);
  if (compared < 0) judged &= ~(1 << HEALTH_BROADBAND);
  // A stream may begin within a period: its slices are not filled, its mean is of few samples.
  const isWhole: bool = state.taken == <u32>displaySamples;
  if (isJudged && isWhole && judged != 0) {
    counted = faultsFound(channel, state, displaySamples, broadband, compared) & judged;
    const stepsNeeded: u32 = load<u32>(channel, CHANNEL_HEALTH_STEPS);
    for (let check: i32 = 0; check < HEALTH_CHECKS; check++) {
      const bit: u32 = 1 << check;
      if ((judged & bit) == 0) continue;
      const at: usize = stepsAddress(state, check);
      const steps: u32 = ((counted ^ state.faults) & bit) == 0 ? 0 : load<u32>(at) + 1;
      const isOver: bool = steps >= stepsNeeded && steps > 0;
      if (isOver) changed |= bit;
      store<u32>(at, isOver ? 0 : steps);
    }
    state.faults ^= changed;
  }
  memoryTake(state, broadband, share);
  const mean: f32 = state.reference + meanOffset(state);
  state.reference = abs(mean) <= f32.MAX_VALUE ? mean : 0;
  periodStart(state);
  return counted | (changed << 16);
}
