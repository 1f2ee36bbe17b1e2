// How each method is set for a tracking filter: four times as wide as the filter, so that what it
// adds to the filter's own smoothing stays small, and never so wide that another whole order comes
// in.
import type { AngleOverTime, BoxSignal, VectorSeries } from "./box-signal.ts";
import type { MethodName } from "./opinion-types.ts";
import { trackOrder } from "./order-tracking.ts";
import type { ShaftAngle } from "./shaft-angle.ts";
import { averageOrder } from "./synchronous-average.ts";
import {
  BLACKMAN_HARRIS,
  FLAT_TOP,
  HANN,
  RECTANGLE,
  TRIANGLE,
  type TimeWindow,
} from "./time-window.ts";
import { fullWidthAt } from "./two-pole-lag.ts";
import { unbroken, type TrackedOrder } from "./vector-reading.ts";
import { voldKalman } from "./vold-kalman.ts";
import { blockSize, spectrumOrder } from "./windowed-spectrum.ts";

/** Width of a method over that of the filter. */
export const WIDTH_TIMES = 4;
/** Revolutions of the shortest block that parts whole orders: the window's null, in bins. */
const SHORTEST_REVOLUTIONS = BLACKMAN_HARRIS.nullBins;
const TRIANGLE_REVOLUTIONS = 2;
/** Full width of the Vold-Kalman filter over the distance to the next whole order, at most. */
const VOLD_KALMAN_SHARE_MAX = 1 / 8;
const VOLD_KALMAN_POLES = 2;

/** One method on one run of edges. */
export interface MethodRun {
  method: MethodName;
  settings: string;
  /** Length in time of what one vector is made of, samples. */
  span: number;
  /** Unbroken parts. */
  series: VectorSeries[];
}

interface RunFacts {
  signal: BoxSignal;
  angle: ShaftAngle;
  tracked: TrackedOrder;
  /** Mean and least speed of the run, revolutions a sample. */
  speed: number;
  speedLeast: number;
  /** Width aimed at, cycles a sample. */
  width: number;
}

function factsOf(signal: BoxSignal, angle: ShaftAngle, tracked: TrackedOrder): RunFacts {
  const span = angle.lastAt - angle.firstAt;
  const speed = (angle.lastRev - angle.firstRev) / span;
  let speedLeast = speed;
  for (let i = 0; i <= 200; i += 1) {
    speedLeast = Math.min(speedLeast, angle.speedAt(angle.firstAt + (span * i) / 200));
  }
  const filter = fullWidthAt(tracked.bandwidth, speed, 1 / signal.sampleRateHz);
  return { signal, angle, tracked, speed, speedLeast, width: WIDTH_TIMES * filter };
}

/** Whole revolutions whose window is as wide as is aimed at, or as short as parts whole orders. */
function revolutionsOf({ speed, width }: RunFacts, window: TimeWindow, least: number): number {
  return Math.max(least, Math.round((window.widthBins * speed) / width));
}

function seconds(samples: number, { signal }: RunFacts): string {
  const unit = signal.sampleRateHz === 1 ? "samples" : "s";
  return `${Number((samples / signal.sampleRateHz).toPrecision(3))} ${unit}`;
}

function orderTracking(facts: RunFacts): MethodRun {
  const { signal, angle, tracked, speed } = facts;
  const revolutions = revolutionsOf(facts, HANN, SHORTEST_REVOLUTIONS);
  const plan = { order: tracked.order, revolutions, hop: revolutions / 8, window: HANN };
  const span = revolutions / speed;
  return {
    method: "order tracking",
    settings: `${revolutions} revolutions (${seconds(span, facts)}), ${HANN.name} window`,
    span,
    series: [trackOrder(signal, angle, plan)],
  };
}

function synchronousAverage(facts: RunFacts): MethodRun {
  const { signal, angle, tracked, speed } = facts;
  const revolutions = revolutionsOf(facts, RECTANGLE, 2);
  const plan = { order: tracked.order, revolutions, hop: Math.max(1, revolutions >> 2) };
  const span = revolutions / speed;
  return {
    method: "synchronous average",
    settings: `mean of ${revolutions} revolutions (${seconds(span, facts)})`,
    span,
    series: [averageOrder(signal, angle, plan)],
  };
}

function windowedSpectrum(facts: RunFacts): MethodRun {
  const { signal, angle, tracked, speedLeast, width } = facts;
  // The next whole order beyond the null, at the lowest speed too.
  const least = Math.max(FLAT_TOP.widthBins / width, FLAT_TOP.nullBins / speedLeast);
  const size = blockSize(Math.min(least, signal.samples.length));
  const plan = { order: tracked.order, size, hop: size >> 3, window: FLAT_TOP };
  return {
    method: "windowed spectrum",
    settings: `${size} samples (${seconds(size, facts)}), ${FLAT_TOP.name} window`,
    span: size,
    series: unbroken(spectrumOrder(signal, angle, plan), 1.5 * plan.hop),
  };
}

function voldKalmanFilter(facts: RunFacts): MethodRun {
  const { signal, angle, tracked, speedLeast, width } = facts;
  const fullWidth = Math.min(width, VOLD_KALMAN_SHARE_MAX * speedLeast);
  const plan = { order: tracked.order, poles: VOLD_KALMAN_POLES, fullWidth } as const;
  const unit = signal.sampleRateHz === 1 ? "cycles/sample" : "Hz";
  const words = Number((fullWidth * signal.sampleRateHz).toPrecision(3));
  return {
    method: "Vold-Kalman",
    settings: `second generation, ${VOLD_KALMAN_POLES} poles, full width ${words} ${unit}`,
    span: 1 / fullWidth,
    series: [voldKalman(signal, angle, plan)],
  };
}

/** Every method on one run of edges. */
export function methodRuns(
  signal: BoxSignal,
  angle: ShaftAngle,
  tracked: TrackedOrder,
): MethodRun[] {
  const facts = factsOf(signal, angle, tracked);
  return [orderTracking, voldKalmanFilter, synchronousAverage, windowedSpectrum].map((run) =>
    run(facts),
  );
}

/** The order's vector by the shortest blocks that part whole orders. */
export interface ShortestBlocks {
  sharp: VectorSeries;
  /**
   * By the window that the firmware is defined by, a triangle two cycles wide, once a cycle where
   * the firmware has its own: where the two differ, companions change so fast that it lets a share
   * of them through.
   */
  other: VectorSeries;
}

/** `closedAt`: the end of one of the firmware's cycles. */
export function shortestBlocks(
  signal: BoxSignal,
  angle: ShaftAngle,
  { order }: TrackedOrder,
  closedAt: number,
): ShortestBlocks {
  // A firmware with a geared tachometer goes by the wheel's cycles.
  const cycle = signal.wheel.revolutions;
  const sharp = {
    order,
    revolutions: SHORTEST_REVOLUTIONS * cycle,
    hop: cycle / 2,
    window: BLACKMAN_HARRIS,
  };
  const sharpSeries = trackOrder(signal, angle, sharp);
  const other = deviceBlocks(
    signal,
    angle,
    { order },
    angle.revAt(Math.min(closedAt, angle.lastAt)),
  );
  return { sharp: sharpSeries, other };
}

/** The firmware's triangle, once a cycle, by some angle; `alignedTo`: the end of a cycle. */
export function deviceBlocks(
  signal: BoxSignal,
  angle: AngleOverTime,
  { order }: Pick<TrackedOrder, "order">,
  alignedTo: number,
): VectorSeries {
  const cycle = signal.wheel.revolutions;
  const revolutions = TRIANGLE_REVOLUTIONS * cycle;
  return trackOrder(signal, angle, { order, revolutions, hop: cycle, window: TRIANGLE, alignedTo });
}
