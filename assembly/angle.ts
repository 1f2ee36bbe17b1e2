// From accepted edges to angle: knots, the parabola through three of them, and the cycles' ends.
//
// Knots are every s-th position counted from the cycle's start, s the largest divisor of P that
// leaves at least 12 a cycle. An interval between two knots is taken once its closing edge has come
// and the sample floor(t/R) + 2 after it; its angle is the parabola through its two knots and the
// one before, interpolated, never extrapolated.
import { KNOTS_MAX, KNOTS_PER_REVOLUTION_MIN, SEGMENT_SAMPLES_MAX } from "../shared/capacity.ts";
import * as L from "../shared/layout.ts";
import {
  ANGLE_STATE_BYTES, KNOT_BYTES, angleState, configFilter, configGlobal, configShaft, counterAdd,
  knotsOf,
} from "./memory.ts";
import { poolIntervalMax } from "./pool.ts";
import { endShape, segmentShape } from "./segment.ts";
import {
  trackerBegin, trackerBridge, trackerClose, trackerReset, trackerTake, simdTrackersTake,
} from "./tracker.ts";

/** Samples beyond the one at a knot that the end of a cycle there needs. */
const READY_SAMPLES: u64 = 2;

@unmanaged
class AngleState {
  // Settings.
  positions: i32; // P
  knotPositions: i32; // s
  filters: u32; // bits of the filters that track this shaft

  // Edges.
  position: i32; // of the newest accepted edge, in the cycle
  positionsOpen: i32; // since the newest knot
  isBridgedOpen: i32; // an edge was missed since then

  // Knots: a ring; the oldest is where the next interval begins.
  head: i32;
  knots: i32;
  headPosition: i32; // of the oldest knot, in the cycle
  headSample: u64; // the sample at or before the oldest knot
  readySample: u64; // the sample that the next interval waits for
  positionsBefore: i32; // of the interval before the oldest knot
  ticksBefore: u32;

  // Cycles.
  isTracking: i32;
  cyclesClosed: u32;
  endTick: u64; // where the cycle that runs began
  endTicksPart: f32; // and the part of a tick beyond
  durationBefore: f32; // of the cycle before, s; 0 = none
}

@unmanaged
class Knot {
  tick: u64;
  positions: i32; // since the knot before
  isBridged: i32;
}

if (<i32>offsetof<AngleState>() > ANGLE_STATE_BYTES) ERROR("an angle's state outgrew its place");
if (<i32>offsetof<Knot>() != KNOT_BYTES) ERROR("a knot outgrew its place");

let ticksPerSample: u64 = 1;
let ticksPerSampleInverse: f32 = 1;
let tickS: f32 = 1;

function stateOf(shaft: i32): AngleState {
  return changetype<AngleState>(angleState(shaft));
}

function knotAt(shaft: i32, s: AngleState, index: i32): Knot {
  return changetype<Knot>(knotsOf(shaft) + ((s.head + index) % KNOTS_MAX) * KNOT_BYTES);
}

/** Positions from knot to knot: the largest divisor of P that leaves at least 12 knots a cycle. */
export function knotSpacing(positions: i32): i32 {
  for (let s: i32 = positions / KNOTS_PER_REVOLUTION_MIN; s > 1; s--) {
    if (positions % s == 0) return s;
  }
  return 1;
}

/** Takes a shaft's settings from the active configuration; forgets every edge. */
export function angleConfigure(shaft: i32): void {
  memory.fill(angleState(shaft), 0, ANGLE_STATE_BYTES);
  const s = stateOf(shaft);
  s.positions = load<i32>(configShaft(shaft) + L.SHAFT_POSITIONS);
  s.knotPositions = knotSpacing(s.positions);
  const filters = load<i32>(configGlobal() + L.GLOBAL_FILTER_COUNT);
  for (let filter: i32 = 0; filter < filters; filter++) {
    if (load<i32>(configFilter(filter) + L.FILTER_SHAFT) == shaft) s.filters |= 1 << filter;
  }
  const ticks = load<u32>(configGlobal() + L.GLOBAL_TICKS_PER_SAMPLE);
  ticksPerSample = <u64>ticks;
  ticksPerSampleInverse = 1 / <f32>ticks;
  tickS = 1 / <f32>load<u32>(configGlobal() + L.GLOBAL_CLOCK_HZ);
}

/** Forgets every edge; the settings stay. */
export function angleReset(shaft: i32): void {
  const from = offsetof<AngleState>("position");
  memory.fill(angleState(shaft) + from, 0, ANGLE_STATE_BYTES - <i32>from);
}

// --- what the tachometer calls

/**
 * The reference was found: the edge at `tick` is the first knot, position 0, where a cycle begins.
 * A cycle of samples at least has gone by since the stream began.
 *
 * Shape     the interval before the edge, in ticks and positions: the parabola's third point
 */
export function angleStart(
  shaft: i32,
  tick: u64,
  previousDtTicks: u32,
  previousPositions: i32,
): void {
  angleReset(shaft);
  const s = stateOf(shaft);
  assert(previousDtTicks > 0 && previousPositions > 0);
  s.ticksBefore = previousDtTicks;
  s.positionsBefore = previousPositions;
  knotPush(shaft, s, tick);
}

/**
 * An accepted edge, later than the last accepted one by `positions` pitches; the reference stands.
 */
export function angleEdge(shaft: i32, tick: u64, positions: i32, isBridged: bool): void {
  const s = stateOf(shaft);
  s.position += positions;
  if (s.position >= s.positions) s.position %= s.positions;
  s.positionsOpen += positions;
  if (isBridged) s.isBridgedOpen = 1;
  if (<u32>s.position % <u32>s.knotPositions == 0) knotPush(shaft, s, tick);
}

/** Positions from the newest accepted edge to the next knot. */
export function anglePositionsToKnot(shaft: i32): i32 {
  const s = stateOf(shaft);
  return s.knotPositions - s.positionsOpen;
}

/** Accepted edges that lie between two knots, one position each. */
export function anglePass(shaft: i32, positions: i32): void {
  const s = stateOf(shaft);
  s.position += positions;
  s.positionsOpen += positions;
}

/** The reference is gone: nothing is computed until it is found again. */
export function angleLost(shaft: i32): void {
  trackingEnd(stateOf(shaft));
  angleReset(shaft);
}

function trackingEnd(s: AngleState): void {
  s.isTracking = 0;
  for (let left = s.filters; left != 0; left &= left - 1) trackerReset(ctz(left));
}

function knotPush(shaft: i32, s: AngleState, tick: u64): void {
  assert(s.knots < KNOTS_MAX);
  const knot = knotAt(shaft, s, s.knots);
  knot.tick = tick;
  knot.positions = s.positionsOpen;
  knot.isBridged = s.isBridgedOpen;
  s.positionsOpen = 0;
  s.isBridgedOpen = 0;
  s.knots += 1;
  if (s.knots == 1) s.headSample = tick / ticksPerSample;
  if (s.knots == 2) s.readySample = sampleBefore(tick, s.headSample) + READY_SAMPLES;
}

/** The sample at or before a tick, from an earlier one: seldom a division of 64 bits. */
function sampleBefore(tick: u64, earlier: u64): u64 {
  const ticks: u64 = tick - earlier * ticksPerSample;
  if (ticks >> 32 != 0) return tick / ticksPerSample;
  return earlier + <u64>(<u32>ticks / <u32>ticksPerSample);
}

// --- what the pipeline calls

/** The oldest sample that is still waited for; u64.MAX_VALUE where none is. */
export function angleSampleNeeded(shaft: i32): u64 {
  const s = stateOf(shaft);
  if (s.knots == 0) return u64.MAX_VALUE;
  return s.headSample - 1;
}

/** True where an interval waits that is complete with the samples up to a tick. */
export function angleIsReady(shaft: i32, tick: u64): bool {
  const s = stateOf(shaft);
  return s.knots > 1 && s.readySample * ticksPerSample <= tick;
}

/** Takes every interval that is complete with the samples of index < `samplesEnd`. */
export function angleProcess(shaft: i32, samplesEnd: u64): void {
  const s = stateOf(shaft);
  // Bounded by KNOTS_MAX: each turn takes one knot.
  while (s.knots > 1 && s.readySample < samplesEnd) {
    intervalTake(shaft, s);
    s.head = (s.head + 1) % KNOTS_MAX;
    s.knots -= 1;
    s.headSample = s.readySample - READY_SAMPLES;
    if (s.knots > 1) {
      s.readySample = sampleBefore(knotAt(shaft, s, 1).tick, s.headSample) + READY_SAMPLES;
    }
  }
}

// --- one interval; v = 0 at its first knot, 1 at its second

let startTick: u64 = 0;
let startPhase: u32 = 0;
let intervalTicksInverse: f32 = 0;
/** Samples⁻¹: dv for one sample. */
let sampleShare: f32 = 0;
/** Angle in cycles: turn·v + bend·v(v − 1). */
let turn: f32 = 0;
let bend: f32 = 0;
/** An edge was missed in it. */
let isBridged: bool = false;

function intervalTake(shaft: i32, s: AngleState): void {
  const from = knotAt(shaft, s, 0);
  const to = knotAt(shaft, s, 1);
  const ticks: u64 = to.tick - from.tick;
  const positions = to.positions;
  const spanSamples: u64 = s.readySample - READY_SAMPLES - s.headSample;
  assert(ticks > 0);
  if (spanSamples > <u64>poolIntervalMax()) {
    counterAdd(L.COUNTER_SAMPLES_LATE + 4 * shaft, 1);
    trackingEnd(s);
  } else {
    intervalShape(s, from.tick, <u32>ticks, positions);
    isBridged = to.isBridged != 0;
    intervalCycles(shaft, s, from.tick, to.tick, <u32>ticks, positions);
  }
  s.ticksBefore = ticks > <u64>u32.MAX_VALUE ? u32.MAX_VALUE : <u32>ticks;
  s.positionsBefore = positions;
  s.headPosition = (s.headPosition + positions) % s.positions;
}

/** Sets the parabola through the knot before, the first and the second of the interval. */
function intervalShape(s: AngleState, tick: u64, ticks: u32, positions: i32): void {
  const before = s.ticksBefore;
  const difference: i64 = <i64>positions * <i64>before - <i64>s.positionsBefore * <i64>ticks;
  const span = floatOf(<i64>before + <i64>ticks);
  const wheel = <f32>s.positions;
  startTick = tick;
  startPhase = phaseOfShare(<u32>s.headPosition, <u32>s.positions);
  intervalTicksInverse = 1 / <f32>ticks;
  sampleShare = <f32>ticksPerSample * intervalTicksInverse;
  turn = <f32>positions / wheel;
  bend = (floatOf(difference) / <f32>before) * (<f32>ticks / span) / wheel;
}

/** A whole number as f32; nearly all fit 32 bits, for which there is one instruction. */
function floatOf(whole: i64): f32 {
  const narrow = <i32>whole;
  return <i64>narrow == whole ? <f32>narrow : <f32>whole;
}

/** Phase of `part` of `whole`, rounded, part < whole < 2¹⁵: a division in two digits of 16 bits. */
function phaseOfShare(part: u32, whole: u32): u32 {
  const high: u32 = (part << 16) / whole;
  const rest: u32 = (part << 16) - high * whole;
  return (high << 16) + ((rest << 16) + (whole >> 1)) / whole;
}

/** Takes the interval piece by piece, cut at the ends of cycles that lie in it. */
function intervalCycles(
  shaft: i32,
  s: AngleState,
  fromTick: u64,
  toTick: u64,
  ticks: u32,
  positions: i32,
): void {
  if (s.isTracking == 0 && s.headPosition == 0) cycleBegin(s, fromTick, 0, 0);
  let sample: u64 = sampleAtOrAfter(fromTick, s.headSample);
  // Cycles gone by at v = 0, of the cycle that runs; falls by one at each end.
  let gone: f32 = <f32>s.headPosition / <f32>s.positions;
  let end = s.positions - s.headPosition;
  // Bounded: an interval spans at most its positions, and each turn one cycle of them.
  while (end < positions) {
    const v = shareAt(<f32>end / <f32>s.positions);
    const part: f32 = v * <f32>ticks;
    const whole: f32 = Mathf.floor(part);
    const tick: u64 = fromTick + <u64>whole;
    const endSample: u64 = part > whole
      ? sampleBefore(tick, s.headSample) + 1
      : sampleBefore(tick + ticksPerSample - 1, s.headSample);
    pieceTake(s, sample, endSample, gone);
    cycleEnd(shaft, s, tick, part - whole, v);
    sample = endSample;
    gone -= 1;
    end += s.positions;
  }
  pieceTake(s, sample, sampleAtOrAfter(toTick, s.readySample - READY_SAMPLES), gone);
  if (end == positions) cycleEnd(shaft, s, toTick, 0, 1);
}

/** The first sample at or after a tick, from the last one at or before it: no division. */
function sampleAtOrAfter(tick: u64, sampleBefore: u64): u64 {
  return sampleBefore * ticksPerSample < tick ? sampleBefore + 1 : sampleBefore;
}

/** The v at which the interval's angle reaches `cycles`. */
function shareAt(cycles: f32): f32 {
  const rate: f32 = turn - bend;
  return 2 * cycles / (rate + sqrt<f32>(rate * rate + 4 * bend * cycles));
}

/** Takes the samples [from, to) in segments of nearly equal length. */
function pieceTake(s: AngleState, from: u64, to: u64, gone: f32): void {
  if (s.isTracking == 0 || to <= from) return;
  if (isBridged) {
    for (let left = s.filters; left != 0; left &= left - 1) trackerBridge(ctz(left));
  }
  const samples = <i32>(to - from);
  const segments = (samples + SEGMENT_SAMPLES_MAX - 1) / SEGMENT_SAMPLES_MAX;
  const ticks = <u32>ticksPerSample;
  let done: i32 = 0;
  for (let i: i32 = 1; i <= segments; i++) {
    const until = i < segments ? samples * i / segments : samples;
    const n = until - done;
    const first: u64 = from + <u64>done;
    // Ticks from the knot to the segment's centre, doubled to stay whole: under 2³², since no more
    // samples than the pool holds, each of at most 2¹⁸ ticks, lie behind the knot.
    const centre2: u32 = 2 * (<u32>first * ticks - <u32>startTick) + <u32>(n - 1) * ticks;
    const v: f32 = <f32>centre2 * (<f32>0.5 * intervalTicksInverse);
    const w: f32 = sampleShare * (turn + bend * (2 * v - 1));
    const angle: f32 = turn * v + bend * v * (v - 1);
    segmentShape(n, w, 2 * bend * sampleShare * sampleShare, startPhase, angle, gone + angle);
    if (ASC_FEATURE_SIMD) simdTrackersTake(s.filters, first);
    else for (let left = s.filters; left != 0; left &= left - 1) trackerTake(ctz(left), first);
    done = until;
  }
}

/** Sets the shape of the end at `tick` and a part beyond; the sample at or before it. */
function endSet(s: AngleState, tick: u64, part: f32, v: f32): u64 {
  const sample = sampleBefore(tick, s.headSample);
  const ticks: f32 = <f32>(<u32>tick - <u32>sample * <u32>ticksPerSample) + part;
  endShape(ticks * ticksPerSampleInverse, sampleShare * (turn + bend * (2 * v - 1)));
  return sample;
}

function cycleBegin(s: AngleState, tick: u64, part: f32, v: f32): void {
  const sample = endSet(s, tick, part, v);
  s.isTracking = 1;
  s.cyclesClosed = 0;
  s.durationBefore = 0;
  s.endTick = tick;
  s.endTicksPart = part;
  for (let left = s.filters; left != 0; left &= left - 1) trackerBegin(ctz(left), sample);
}

function cycleEnd(shaft: i32, s: AngleState, tick: u64, part: f32, v: f32): void {
  if (s.isTracking == 0) {
    cycleBegin(s, tick, part, v);
    return;
  }
  const sample = endSet(s, tick, part, v);
  const duration: f32 = (floatOf(<i64>(tick - s.endTick)) + (part - s.endTicksPart)) * tickS;
  s.cyclesClosed += 1;
  counterAdd(L.COUNTER_REVOLUTIONS + 4 * shaft, 1);
  for (let left = s.filters; left != 0; left &= left - 1) {
    trackerClose(ctz(left), sample, duration, s.durationBefore, s.cyclesClosed, tick);
  }
  s.durationBefore = duration;
  s.endTick = tick;
  s.endTicksPart = part;
}
