// Signals in closed form for the offline methods: a shaft that accelerates evenly, its edges solved
// for their times, and components that turn with it.
import type { BoxSignal, WheelShape } from "../../harness/method/box-signal.ts";

/** In revolutions, revolutions a sample and a sample². */
export interface Ramp {
  startRev: number;
  speed: number;
  acceleration: number;
}

export function rampAngle({ startRev, speed, acceleration }: Ramp, at: number): number {
  return startRev + speed * at + (acceleration / 2) * at * at;
}

/** The time of an angle, by the quadratic's stable root. */
export function timeOfRamp({ startRev, speed, acceleration }: Ramp, rev: number): number {
  const rise = rev - startRev;
  return (2 * rise) / (speed + Math.sqrt(speed * speed + 2 * acceleration * rise));
}

/** Edges of a wheel over `length` samples. */
export function edgesOf(ramp: Ramp, wheel: WheelShape, length: number): Float64Array {
  const { positions, revolutions, index } = wheel;
  const edges: number[] = [];
  const last = rampAngle(ramp, length - 1);
  for (let place = Math.ceil((ramp.startRev * positions) / revolutions); ; place += 1) {
    const inCycle = ((place % positions) + positions) % positions;
    const isMissing = index === "missing-tooth" && inCycle === positions - 1;
    if ((place * revolutions) / positions > last) break;
    if (!isMissing) edges.push(timeOfRamp(ramp, (place * revolutions) / positions));
    const extra = ((place + 0.5) * revolutions) / positions;
    const hasExtra = index === "extra-edge" && inCycle === positions - 1 && extra <= last;
    if (hasExtra) edges.push(timeOfRamp(ramp, extra));
  }
  return Float64Array.from(edges);
}

/** One edge a turn; a device that lets an edge stand a fifth of a pitch beside its place. */
export const PLAIN_WHEEL: WheelShape = {
  positions: 1,
  revolutions: 1,
  index: "none",
  edgeTolerancePitches: 0.2,
  accelerationMaxRevPerS2: 30,
};

export interface TurningComponent {
  order: number;
  /** Peak over time, in samples. */
  amplitude: (at: number) => number;
  lagRad: number;
}

/** Samples and edges of components that turn with the shaft. */
export function knownSignal(
  ramp: Ramp,
  components: readonly TurningComponent[],
  length: number,
  wheel: WheelShape = PLAIN_WHEEL,
  sampleRateHz = 12_800,
): BoxSignal {
  const samples = new Float64Array(length);
  for (let i = 0; i < length; i += 1) {
    for (const { order, amplitude, lagRad } of components) {
      samples[i]! += amplitude(i) * Math.cos(2 * Math.PI * order * rampAngle(ramp, i) - lagRad);
    }
  }
  return { sampleRateHz, samples, edges: edgesOf(ramp, wheel, length), wheel };
}
