// The mean speed of a shaft from the phase of one line of its vibration: revolutions counted from
// segment to segment. Where the whole's spectrum weights the middle of the recording, a count does
// not: a speed that drifts has the mean that the shaft really had.

/** 95 % of a Gaussian lie within so many standard deviations. */
const COVERAGE_SIGMAS = 1.96;
/** What the greatest of a hundred Gaussian numbers passes once in twenty times. */
const MOVED_SIGMAS = 3.5;
/** Segments tried, from these on by twos: a drift needs many, noise needs few. */
const SEGMENTS_FEWEST = 4;
/** A segment shorter than this many revolutions leaks into its neighbours' lines. */
const REVOLUTIONS_LEAST = 8;
/** Power over noise in a segment that a phase can be read from: it strays by 1/√8 rad. */
const POWER_RATIO_LEAST = 4;
/** Where segments have this in the mean, noise leaves none of them under the least: 3 in 10⁵. */
const POWER_RATIO_SURE = 25;
/** From one segment to the next the phase may turn so far, rad: no doubt which way round. */
const TURN_MAX = 2;

export interface CountedSpeed {
  cyclesPerSample: number;
  /** Half the width that holds the mean speed with 95 %, cycles per sample. */
  uncertaintyCyclesPerSample: number;
  /** One standard deviation of it by white noise alone. */
  noiseCyclesPerSample: number;
  /** By how far the speed between two segments was from the mean; 0 where noise may have made it. */
  wanderCyclesPerSample: number;
  segmentCount: number;
}

/** Where revolutions cannot be counted: the line fades, or its phase turns too far. */
export interface CountGap {
  fromSample: number;
  untilSample: number;
  isFaint: boolean;
}

/** A channel, and the variance of white noise as strong as what surrounds the line. */
export interface NoisyChannel {
  samples: Float32Array;
  variance: number;
}

interface Vector {
  re: number;
  im: number;
}

/** Hann-weighted vectors of the segments at a frequency; phases count from the first sample. */
function segmentVectors(
  samples: Float32Array,
  cyclesPerSample: number,
  segmentCount: number,
): Vector[] {
  const length = Math.floor(samples.length / segmentCount);
  return Array.from({ length: segmentCount }, (_, k) => {
    let [re, im, level] = [0, 0, 0];
    let [reOfOne, imOfOne, ofOne] = [0, 0, 0];
    for (let i = 0; i < length; i += 1) {
      const at = k * length + i;
      const value = samples[at]!;
      if (!Number.isFinite(value)) continue;
      const weight = 0.5 - 0.5 * Math.cos((2 * Math.PI * (i + 0.5)) / length);
      const angle = 2 * Math.PI * ((cyclesPerSample * at) % 1);
      const [c, s] = [weight * Math.cos(angle), weight * Math.sin(angle)];
      re += value * c;
      im -= value * s;
      level += value * weight;
      reOfOne += c;
      imOfOne -= s;
      ofOne += weight;
    }
    // What the segment's mean leaks into the line is taken out.
    const mean = ofOne > 0 ? level / ofOne : 0;
    return { re: re - mean * reOfOne, im: im - mean * imOfOne };
  });
}

/** Turned back by a phase; the sum over segments is then the channel's own vector. */
function alignedSum(vectors: Vector[], phases: number[]): Vector {
  let [re, im] = [0, 0];
  for (const [k, phase] of phases.entries()) {
    const [c, s] = [Math.cos(phase), Math.sin(phase)];
    re += vectors[k]!.re * c + vectors[k]!.im * s;
    im += vectors[k]!.im * c - vectors[k]!.re * s;
  }
  return { re, im };
}

interface Track {
  /** Phases of the line in each segment, unwrapped, rad. */
  phases: number[];
  /** Power over noise of each segment, all channels together. */
  powerRatios: number[];
  /** From each segment to the next, rad. */
  turns: number[];
}

function nearest(phase: number, near: number): number {
  return phase - 2 * Math.PI * Math.round((phase - near) / (2 * Math.PI));
}

/**
 * Phases that all channels share: first from segment to segment, then of each segment against
 * each channel's own vector (the most likely common phase under white noise).
 */
function trackOf(channels: NoisyChannel[], frequency: number, segmentCount: number): Track {
  const length = Math.floor(channels[0]!.samples.length / segmentCount);
  // A Hann window's squares add up to 3/8 of its length.
  const all = channels.map(({ samples, variance }) => ({
    vectors: segmentVectors(samples, frequency, segmentCount),
    noise: variance * 0.375 * length,
  }));
  const phases = [0];
  const turns: number[] = [];
  for (let k = 1; k < segmentCount; k += 1) {
    let [re, im] = [0, 0];
    for (const { vectors, noise } of all) {
      const [a, b] = [vectors[k - 1]!, vectors[k]!];
      re += (b.re * a.re + b.im * a.im) / noise;
      im += (b.im * a.re - b.re * a.im) / noise;
    }
    const turn = Math.atan2(im, re);
    turns.push(turn);
    phases.push(phases[k - 1]! + turn);
  }
  const own = all.map(({ vectors }) => alignedSum(vectors, phases));
  const shared = phases.map((near, k) => {
    let [re, im] = [0, 0];
    for (const [c, { vectors, noise }] of all.entries()) {
      const [z, r] = [vectors[k]!, own[c]!];
      re += (z.re * r.re + z.im * r.im) / noise;
      im += (z.im * r.re - z.re * r.im) / noise;
    }
    return nearest(Math.atan2(im, re), near);
  });
  const powerRatios = phases.map((_, k) =>
    all.reduce((sum, { vectors, noise }) => {
      const { re, im } = vectors[k]!;
      return sum + (re * re + im * im) / noise;
    }, -all.length),
  );
  return { phases: shared, powerRatios, turns };
}

/**
 * Weights of the segments' phases in the whole turn of the recording: from the middle of the first
 * to the middle of the last, and half a segment more on either end as fast as its nearest two.
 */
function phaseWeight(k: number, count: number): number {
  if (k === 0) return -1.5;
  if (k === count - 1) return 1.5;
  return (k === 1 ? 0.5 : 0) - (k === count - 2 ? 0.5 : 0);
}

/** Mean speed and its uncertainty from a track. */
function speedOf(track: Track, frequency: number, length: number): CountedSpeed {
  const { phases, powerRatios } = track;
  const count = phases.length;
  const perSegment = 2 * Math.PI * length;
  let turned = 0;
  let variance = 0;
  for (let k = 0; k < count; k += 1) {
    const weight = phaseWeight(k, count);
    turned += weight * phases[k]!;
    // The phase of a vector whose power is R times its noise's strays by 1/√(2R).
    variance += weight ** 2 / (2 * powerRatios[k]!);
  }
  const speeds = phases.slice(1).map((phase, k) => (phase - phases[k]!) / perSegment);
  // Either end, half a segment of `count`, goes on as it began: three quarters of a segment further
  // off, it is off by as much of what the speed changes from one segment to the next.
  const bends = speeds.slice(1).map((speed, k) => Math.abs(speed - speeds[k]!));
  const noise = Math.sqrt(variance) / (perSegment * count);
  const bend = (0.75 / count) * Math.max(...bends);
  const mean = turned / (perSegment * count);
  const strayed = (MOVED_SIGMAS * Math.sqrt(1 / Math.min(...powerRatios))) / perSegment;
  const wander = Math.max(...speeds.map((speed) => Math.abs(speed - mean)));
  return {
    cyclesPerSample: frequency + mean,
    uncertaintyCyclesPerSample: COVERAGE_SIGMAS * Math.sqrt(noise ** 2 + bend ** 2 / 3),
    noiseCyclesPerSample: noise,
    wanderCyclesPerSample: wander > strayed ? wander : 0,
    segmentCount: count,
  };
}

/** The first stretch of a track on which nothing can be counted, and why. */
function gapOf({ powerRatios, turns }: Track, length: number): CountGap | undefined {
  const isFaint = (ratio: number | undefined): boolean => (ratio ?? Infinity) < POWER_RATIO_LEAST;
  const from = powerRatios.findIndex(isFaint);
  if (from >= 0) {
    let until = from + 1;
    while (isFaint(powerRatios[until])) until += 1;
    return { fromSample: from * length, untilSample: until * length, isFaint: true };
  }
  const turned = turns.findIndex((turn) => Math.abs(turn) > TURN_MAX);
  if (turned < 0) return undefined;
  return { fromSample: turned * length, untilSample: (turned + 2) * length, isFaint: false };
}

/**
 * Counts the revolutions of a line near a frequency.
 *
 * Of the tracks of 8, 16 … segments the one that leaves the narrowest interval, of 4 where noise
 * lets no more be used: 1.96 standard deviations of what white noise makes of the phases together
 * with what the ends may hide of a drift (evenly distributed: JCGM 100:2008, 4.3.7). A gap in a
 * finer track voids what coarser ones say.
 *
 * Shape     a gap where the speed moves too much, or the line is not there, at some place;
 *           undefined where it is too weak throughout, or there are too few revolutions
 * Range     the line's phase must keep its place on the shaft: passing a resonance adds up to half a
 *           revolution; a line within a few bins beside it is not told apart
 * Accuracy  of the noise's part: √5·√segments/(2π·√2·√R·N) cycles per sample for a line R times the
 *           noise in the Hann spectrum of N samples. The least that any estimate can have is
 *           2/(2π·√R·N): Rife & Boorstyn, IEEE Trans. Inf. Theory 20(5), 1974, with R = SNR·N/3
 *           (from memory; derivation in the test)
 */
export function countRevolutions(
  channels: NoisyChannel[],
  nearCyclesPerSample: number,
): CountedSpeed | CountGap | undefined {
  const sampleCount = channels[0]!.samples.length;
  const most = Math.floor((sampleCount * nearCyclesPerSample) / REVOLUTIONS_LEAST);
  let fewest: CountedSpeed | undefined;
  let best: CountedSpeed | undefined;
  let gap: CountGap | undefined;
  for (let count = SEGMENTS_FEWEST; count <= most; count *= 2) {
    const length = Math.floor(sampleCount / count);
    const track = trackOf(channels, nearCyclesPerSample, count);
    const meanRatio = track.powerRatios.reduce((sum, ratio) => sum + ratio, 0) / count;
    const found = gapOf(track, length);
    if (found === undefined) {
      const counted = speedOf(track, nearCyclesPerSample, length);
      const widthBefore = best?.uncertaintyCyclesPerSample ?? Infinity;
      if (count === SEGMENTS_FEWEST) fewest = counted;
      else if (counted.uncertaintyCyclesPerSample < widthBefore) best = counted;
    } else if (meanRatio >= POWER_RATIO_SURE) {
      [fewest, best, gap] = [undefined, undefined, found];
      if (found.isFaint) break;
    }
    if (meanRatio < POWER_RATIO_SURE) break;
  }
  return best ?? fewest ?? gap;
}
