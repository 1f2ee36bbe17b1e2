// One tracking filter: sums over each cycle, the triangle over two of them, channel response and
// quantity, and two poles. Cycles come from the angle model; the vector is A·e^(−jφ), SI pk, for
// x = A·cos(2πkθ − φ).
import * as L from "../shared/layout.ts";
import { BANDWIDTH_PROPORTIONAL } from "../shared/units.ts";
import { exponentialOfMinus } from "./math/exponential.ts";
import { phasorIm, phasorRe, phasorSet } from "./math/phasor.ts";
import {
  TRACKER_STATE_BYTES, configChannel, configFilter, configShaft, trackerState,
} from "./memory.ts";
import { poolAddress } from "./pool.ts";
import { responseIm, responseRe, responseSet } from "./response.ts";
import {
  endIm, endRe, endTake, momentIm, momentRe, segmentTake,
  simdSegmentOrder, simdSegmentTake, sumIm, sumRe,
} from "./segment.ts";
import { tachIndexOffset, tachIsPhaseRelative } from "./tach.ts";

/** Time constants after which the recursion's start has fallen to 1 % of a step (F-03). */
export const SETTLING_TAUS: f32 = 6.64;
/** Channel response below which a vector is refused. */
const RESPONSE_MIN: f32 = 0.5;
/** Distance from the true integral from which a record says so. */
const INTEGRATION_DISTANCE_MAX: f32 = 5e-4;
/** Vectors that a bridged cycle reaches: the triangle is two cycles wide. */
const TRIANGLE_CYCLES: i32 = 2;
const TWO_PI: f32 = 6.28318531;

@unmanaged
class TrackerState {
  // Settings.
  channel: i32;
  shaft: i32;
  order: u32; // of the cycle
  integrations: i32;
  isProportional: i32;
  pole: f32; // T/τ of a cycle, or 1/τ in 1/s
  cycleRevolutions: f32; // of the shaft
  acquisition: u32; // counts first cycles; no reset takes it back

  // The cycle that runs, and the two ends that the next vector needs.
  i0Re: f32;
  i0Im: f32;
  i1Re: f32;
  i1Im: f32;
  startRe: f32; // E1 where this cycle began
  startIm: f32;
  cycles: i32; // whole ones behind: 0, or 1 = at least one
  previousRe: f32; // I1 of the cycle before
  previousIm: f32;
  previousStartRe: f32;
  previousStartIm: f32;
  bridgedCycles: i32; // vectors yet to come that a bridged edge reaches

  // The poles.
  isComputed: i32;
  isResponseLow: i32;
  y1Re: f32;
  y1Im: f32;
  y2Re: f32;
  y2Im: f32;
  v1: f32; // speed through the same poles, rev/s of the shaft
  v2: f32;
  elapsed: f32; // T/τ summed since the first vector
  isBridged: i32;
  sinceBridged: f32; // T/τ summed since the last vector that a bridged edge reached
  speedNow: f32;
  rawFactor: f32; // from the vector back to the channel's own quantity, |H|·ω^integrations
  distance: f32;
  revolution: u32; // cycles closed at the newest vector
  closingTick: u64;
}

if (<i32>offsetof<TrackerState>() > TRACKER_STATE_BYTES) ERROR("a tracker outgrew its place");

function stateOf(filter: i32): TrackerState {
  return changetype<TrackerState>(trackerState(filter));
}

/** Takes a filter's settings from the active configuration. */
export function trackerConfigure(filter: i32): void {
  const s = stateOf(filter);
  const config = configFilter(filter);
  s.channel = load<i32>(config + L.FILTER_CHANNEL);
  s.shaft = load<i32>(config + L.FILTER_SHAFT);
  const revolutions = load<i32>(configShaft(s.shaft) + L.SHAFT_REVOLUTIONS);
  s.order = load<u32>(config + L.FILTER_ORDER) * revolutions;
  s.integrations = load<i32>(config + L.FILTER_INTEGRATIONS);
  s.cycleRevolutions = <f32>revolutions;
  s.isProportional = load<i32>(config + L.FILTER_BANDWIDTH) == BANDWIDTH_PROPORTIONAL ? 1 : 0;
  const pole = load<f32>(config + L.FILTER_POLE);
  s.pole = s.isProportional != 0 ? pole * <f32>revolutions : 1 / pole;
}

/** Forgets every cycle; the settings stay. */
export function trackerReset(filter: i32): void {
  const from = offsetof<TrackerState>("i0Re");
  memory.fill(trackerState(filter) + from, 0, TRACKER_STATE_BYTES - <i32>from);
}

// --- what the angle model calls

/** Begins the first cycle at an end whose shape was set; `sample` is the second of its four. */
export function trackerBegin(filter: i32, sample: u64): void {
  trackerReset(filter);
  const s = stateOf(filter);
  s.acquisition += 1;
  endTake(poolAddress(s.channel, sample - 1), s.order);
  s.startRe = endRe;
  s.startIm = endIm;
}

/** Adds a segment whose shape was set, from `sample` on. */
export function trackerTake(filter: i32, sample: u64): void {
  const s = stateOf(filter);
  segmentTake(poolAddress(s.channel, sample), s.order);
  s.i0Re += sumRe;
  s.i0Im += sumIm;
  s.i1Re += momentRe;
  s.i1Im += momentIm;
}

/**
 * The same for several filters, bits of `filters`: those of one order one after the other, since
 * they share its phasors. Only a build with SIMD calls it.
 */
export function simdTrackersTake(filters: u32, sample: u64): void {
  // Bounded by the filters, twice.
  for (let left = filters; left != 0; left &= left - 1) {
    const filter: i32 = ctz(left);
    const order = stateOf(filter).order;
    simdSegmentOrder(order);
    simdSumsAdd(filter, sample);
    for (let others = left & (left - 1); others != 0; others &= others - 1) {
      const other: i32 = ctz(others);
      if (stateOf(other).order != order) continue;
      simdSumsAdd(other, sample);
      left ^= 1 << other;
    }
  }
}

/** Adds a segment's sums to the four that stand in a row from i0Re on. */
function simdSumsAdd(filter: i32, sample: u64): void {
  const s = stateOf(filter);
  const at = changetype<usize>(s) + offsetof<TrackerState>("i0Re");
  const sums = simdSegmentTake(poolAddress(s.channel, sample));
  v128.store(at, f32x4.add(v128.load(at), sums));
}

/** Says that an edge was missed in the cycle that runs. */
export function trackerBridge(filter: i32): void {
  stateOf(filter).bridgedCycles = TRIANGLE_CYCLES;
}

/**
 * Ends a cycle at an end whose shape was set, and begins the next.
 *
 * Shape     duration and the one before in s (0 where there is none); revolution = cycles closed
 * Effect    from the second cycle on: one vector into the poles
 */
export function trackerClose(
  filter: i32,
  sample: u64,
  duration: f32,
  durationBefore: f32,
  revolution: u32,
  tick: u64,
): void {
  const s = stateOf(filter);
  endTake(poolAddress(s.channel, sample - 1), s.order);
  if (s.cycles > 0) {
    // The triangle: Z = I1(m−1) + I0(m) − I1(m) + 2·E1(m) − E1(m−1) − E1(m+1).
    const zRe: f32 = (s.previousRe + s.i0Re - s.i1Re) +
      ((2 * s.startRe - s.previousStartRe) - endRe);
    const zIm: f32 = (s.previousIm + s.i0Im - s.i1Im) +
      ((2 * s.startIm - s.previousStartIm) - endIm);
    vectorTake(s, zRe, zIm, duration, durationBefore);
    s.revolution = revolution;
    s.closingTick = tick;
  }
  s.cycles = 1;
  s.previousRe = s.i1Re;
  s.previousIm = s.i1Im;
  s.previousStartRe = s.startRe;
  s.previousStartIm = s.startIm;
  s.startRe = endRe;
  s.startIm = endIm;
  s.i0Re = 0;
  s.i0Im = 0;
  s.i1Re = 0;
  s.i1Im = 0;
}

/** Takes the vector of a triangle into the poles. */
function vectorTake(s: TrackerState, zRe: f32, zIm: f32, b: f32, a: f32): void {
  // Speed at the middle of the triangle, from the parabola through its three times.
  const speed: f32 = (b / a + a / b) / (a + b);
  const frequencyHz: f32 = <f32>s.order * speed;
  s.speedNow = speed * s.cycleRevolutions;
  let raw: f32 = 1;
  if (responseSet(configChannel(s.channel), frequencyHz)) {
    const power: f32 = responseRe * responseRe + responseIm * responseIm;
    if (!(power >= RESPONSE_MIN * RESPONSE_MIN)) {
      // Nothing is computed from it; the next vector that may be is a first one.
      s.isResponseLow = 1;
      s.isComputed = 0;
      return;
    }
    const re: f32 = (zRe * responseRe + zIm * responseIm) / power;
    zIm = (zIm * responseRe - zRe * responseIm) / power;
    zRe = re;
    raw = sqrt<f32>(power);
  }
  s.isResponseLow = 0;
  const omega: f32 = TWO_PI * frequencyHz;
  if (s.integrations == 1) {
    const re: f32 = zIm / omega;
    zIm = -zRe / omega;
    zRe = re;
    raw *= omega;
  } else if (s.integrations == 2) {
    const square: f32 = omega * omega;
    zRe = -zRe / square;
    zIm = -zIm / square;
    raw *= square;
  }
  s.rawFactor = raw;
  const h: f32 = s.isProportional != 0 ? s.pole : b * s.pole;
  const amplitudeBefore: f32 = s.isComputed != 0 ? amplitudeOf(s) : 0;
  polesTake(s, zRe, zIm, h);
  if (s.integrations > 0) distanceSet(s, speed, omega, a, b, amplitudeBefore);
}

/** Two equal poles, exact for a value held over the cycle; in this form the gain is exactly 1. */
function polesTake(s: TrackerState, zRe: f32, zIm: f32, h: f32): void {
  const v = s.speedNow;
  if (s.bridgedCycles > 0) {
    s.bridgedCycles -= 1;
    s.isBridged = 1;
    s.sinceBridged = 0;
  } else if (s.isBridged != 0) {
    s.sinceBridged += h;
    if (s.sinceBridged >= SETTLING_TAUS) s.isBridged = 0;
  }
  if (s.isComputed == 0) {
    s.isComputed = 1;
    s.elapsed = 0;
    s.y1Re = zRe;
    s.y1Im = zIm;
    s.y2Re = zRe;
    s.y2Im = zIm;
    s.v1 = v;
    s.v2 = v;
    return;
  }
  if (s.elapsed < SETTLING_TAUS) s.elapsed += h;
  const beta = exponentialOfMinus(h);
  s.y2Re = zRe + beta * ((s.y2Re - zRe) + h * (s.y1Re - zRe));
  s.y2Im = zIm + beta * ((s.y2Im - zIm) + h * (s.y1Im - zIm));
  s.v2 = v + beta * ((s.v2 - v) + h * (s.v1 - v));
  s.y1Re = zRe + beta * (s.y1Re - zRe);
  s.y1Im = zIm + beta * (s.y1Im - zIm);
  s.v1 = v + beta * (s.v1 - v);
}

/** Size of what dividing by jω leaves out: n·(ω̇/ω² + |Ȧ/A|/ω)². */
function distanceSet(
  s: TrackerState,
  speed: f32,
  omega: f32,
  a: f32,
  b: f32,
  amplitudeBefore: f32,
): void {
  const slope: f32 = abs<f32>(2 * (1 / b - 1 / a) / (a + b));
  const amplitude = amplitudeOf(s);
  let distance: f32 = slope / (speed * omega);
  if (amplitude > 0 && amplitudeBefore > 0) {
    distance += abs<f32>(amplitude - amplitudeBefore) / (amplitude * b * omega);
  }
  s.distance = <f32>s.integrations * distance * distance;
}

function amplitudeOf(s: TrackerState): f32 {
  return sqrt<f32>(s.y2Re * s.y2Re + s.y2Im * s.y2Im);
}

// --- what a display step reads

/** True where a vector stands. */
export function trackerIsComputed(filter: i32): bool {
  return stateOf(filter).isComputed != 0;
}
/** True 6.64 τ after the first vector since the acquisition. */
export function trackerIsSettled(filter: i32): bool {
  const s = stateOf(filter);
  return s.isComputed != 0 && s.elapsed >= SETTLING_TAUS;
}
/** Changes whenever the filter begins anew; to be compared for equality only. */
export function trackerAcquisition(filter: i32): u32 {
  return stateOf(filter).acquisition;
}
/** True where the newest vector was refused: channel response under 0.5. */
export function trackerResponseIsLow(filter: i32): bool {
  return stateOf(filter).isResponseLow != 0;
}

/** The phase by which the vector is turned to stand against the index. */
function indexTurn(s: TrackerState): void {
  const positions = <u64>load<u32>(configShaft(s.shaft) + L.SHAFT_POSITIONS);
  const offset = <u64>tachIndexOffset(s.shaft);
  phasorSet(s.order * <u32>((offset << 32) / positions));
}
/** Real part, SI pk. */
export function trackerRe(filter: i32): f32 {
  const s = stateOf(filter);
  indexTurn(s);
  return s.y2Re * phasorRe - s.y2Im * phasorIm;
}
/** Imaginary part, SI pk. */
export function trackerIm(filter: i32): f32 {
  const s = stateOf(filter);
  indexTurn(s);
  return s.y2Re * phasorIm + s.y2Im * phasorRe;
}
/** Modulus, SI pk. */
export function trackerLevelPk(filter: i32): f32 {
  return amplitudeOf(stateOf(filter));
}
/** Modulus as the channel sees it: its own quantity, its response not taken out; pk. */
export function trackerRawPk(filter: i32): f32 {
  const s = stateOf(filter);
  return amplitudeOf(s) * s.rawFactor;
}
/** Speed through the filter's poles, rev/s of the shaft. */
export function trackerSpeed(filter: i32): f32 {
  return stateOf(filter).v2;
}
/** Speed of the newest triangle, rev/s of the shaft. */
export function trackerSpeedNow(filter: i32): f32 {
  return stateOf(filter).speedNow;
}
/** Cycles closed since the reference was found, up to the newest vector. */
export function trackerRevolution(filter: i32): u32 {
  return stateOf(filter).revolution;
}
/** Tick of the edge that closed the newest vector. */
export function trackerClosingTick(filter: i32): u64 {
  return stateOf(filter).closingTick;
}
/** Distance of the integration from the true one, of the level. */
export function trackerIntegrationDistance(filter: i32): f32 {
  return stateOf(filter).distance;
}
/** FLAG_… bits of a level record. */
export function trackerFlags(filter: i32): u32 {
  const s = stateOf(filter);
  let flags: u32 = tachIsPhaseRelative(s.shaft) ? L.FLAG_PHASE_RELATIVE : 0;
  if (s.isComputed == 0) return flags;
  flags |= L.FLAG_COMPUTED;
  if (s.elapsed >= SETTLING_TAUS) flags |= L.FLAG_SETTLED;
  if (s.isBridged != 0) flags |= L.FLAG_BRIDGED;
  if (s.distance > INTEGRATION_DISTANCE_MAX) flags |= L.FLAG_INTEGRATION;
  return flags;
}
