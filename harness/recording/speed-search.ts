// The speed of a shaft found from the vibration itself, near a stated value. Phase then means
// nothing, since nothing says where a revolution starts.
import FFT from "fft.js";
import { type CountedSpeed, type CountGap, countRevolutions } from "./revolution-count.ts";

export interface SpeedFound {
  /** The mean over the samples searched. */
  cyclesPerSample: number;
  /** Revolutions counted along the line; absent where it moves too much, or is too weak. */
  counted?: CountedSpeed;
  /** Where they could not be counted. */
  gap?: CountGap;
  /** The strongest line of either half. */
  halves: HalfLine[];
  /** Power of the line over the mean power of the noise around it, 1. */
  powerRatio: number;
  /** The power ratio that noise alone would pass once in 10,000 searches. */
  powerRatioNeeded: number;
  standsOut: boolean;
}

export type HalfLine = Pick<Line, "cyclesPerSample" | "powerRatio" | "powerRatioNeeded">;

export interface SpeedSearch {
  nearCyclesPerSample: number;
  /** Half the span searched, as a share of the stated value. */
  spanShare: number;
}

const FALSE_ALARM = 1e-4;
/** Samples that are searched at most: beyond this more bring nothing, the speed wanders. */
export const LENGTH_MAX = 1 << 20;
/** Share by which a shaft's speed may differ between the halves of a recording. */
const WANDER_SHARE = 0.02;
/** The Hann window spreads a line over this many bins to either side (Harris 1978). */
const LINE_BINS = 2;
/** Mean of the squares of a Hann window. */
const HANN_SQUARES = 0.375;
/** Fewer samples than this have no spectrum to speak of. */
const LENGTH_LEAST = 16;

/** Hann-windowed power spectrum, zero-padded to at least twice the length: bins 0 … size/2. */
function powerSpectrum(samples: Float32Array): { power: Float64Array; size: number } {
  const length = Math.min(samples.length, LENGTH_MAX);
  const size = 2 ** Math.ceil(Math.log2(2 * length));
  const fft = new FFT(size);
  const input = Array.from({ length: size }, () => 0);
  let mean = 0;
  let count = 0;
  for (let i = 0; i < length; i += 1) {
    if (!Number.isFinite(samples[i]!)) continue;
    mean += samples[i]!;
    count += 1;
  }
  mean /= Math.max(1, count);
  for (let i = 0; i < length; i += 1) {
    const window = 0.5 - 0.5 * Math.cos((2 * Math.PI * i) / length);
    input[i] = Number.isFinite(samples[i]!) ? (samples[i]! - mean) * window : 0;
  }
  const output = fft.createComplexArray();
  fft.realTransform(output, input);
  const power = new Float64Array(size / 2 + 1);
  for (let bin = 0; bin <= size / 2; bin += 1) {
    power[bin] = output[2 * bin]! ** 2 + output[2 * bin + 1]! ** 2;
  }
  return { power, size };
}

interface Line {
  cyclesPerSample: number;
  powerRatio: number;
  powerRatioNeeded: number;
  /** Of each channel: variance of white noise as strong as what surrounds the line. */
  noiseVariances: number[];
}

/** The strongest line of a stretch, and the ratio that noise alone would rarely reach. */
function strongestLine(channels: Float32Array[], search: SpeedSearch): Line {
  const low = search.nearCyclesPerSample * (1 - search.spanShare);
  const high = search.nearCyclesPerSample * (1 + search.spanShare);
  const length = Math.min(channels[0]!.length, LENGTH_MAX);
  const noiseVariances: number[] = [];
  let ratios = new Float64Array(0);
  let [size, from, until] = [0, 0, 0];
  for (const samples of channels) {
    const spectrum = powerSpectrum(samples);
    size = spectrum.size;
    from = Math.max(1, Math.floor(low * size));
    until = Math.min(size / 2 - 1, Math.ceil(high * size));
    const mean = noiseMean(spectrum.power, low * size, high * size);
    noiseVariances.push(mean / (HANN_SQUARES * length));
    // One bin more on either side, for the vertex.
    const window = spectrum.power.subarray(from - 1, until + 2);
    if (ratios.length === 0) ratios = new Float64Array(window.length);
    for (let i = 0; i < window.length; i += 1) ratios[i]! += mean > 0 ? window[i]! / mean : 0;
  }
  let best = 1;
  for (let i = 1; i < ratios.length - 1; i += 1) if (ratios[i]! > ratios[best]!) best = i;
  const top = vertex(ratios[best - 1]!, ratios[best]!, ratios[best + 1]!, from - 1 + best);
  return {
    cyclesPerSample: top / size,
    powerRatio: ratios[best]!,
    powerRatioNeeded: ratioNeeded(((until - from + 1) * length) / size, channels.length),
    noiseVariances,
  };
}

/**
 * Finds the strongest line near a stated speed and says whether it stands out of the noise.
 *
 * The noise's mean power is taken as the median around the span over ln 2 (the power of white
 * Gaussian noise in a bin is exponentially distributed). A line stands out where its power ratio
 * passes what the greatest of all bins searched would reach once in 10,000 searches of noise alone,
 * in the whole and in either half, and where the halves agree within what a speed may wander: noise
 * of a real machine is not white, and a line that only one half holds is no shaft.
 *
 * Shape     samples of the channels searched, equal lengths; their spectra are added, each over its
 *           own noise; a channel that never changes is passed over
 * Errors    RangeError where the stated value or the span leaves (0, 0.5) cycles per sample
 * Accuracy  as `countRevolutions` has it, along the line found here
 * Source    Hann window: Harris, Proc. IEEE 66(1), 1978 (from memory)
 */
export function findSpeed(given: Float32Array[], search: SpeedSearch): SpeedFound {
  // A column that never changes holds no line, and no noise to hold one against.
  const moving = given.filter((samples) => samples.some((one) => one !== samples[0]));
  const channels = moving.length > 0 ? moving : given;
  const low = search.nearCyclesPerSample * (1 - search.spanShare);
  const high = search.nearCyclesPerSample * (1 + search.spanShare);
  if (!(low > 0 && high < 0.5)) {
    throw new RangeError("speed to search must lie within 0 and 0.5 cycles per sample");
  }
  const length = Math.min(channels[0]!.length, LENGTH_MAX);
  if (length < LENGTH_LEAST) throw new RangeError(`${length} samples are too few to search`);
  const whole = strongestLine(channels, search);
  const halves = [0, length >> 1].map((from) =>
    strongestLine(
      channels.map((samples) => samples.subarray(from, from + (length >> 1))),
      search,
    ),
  );
  const apart = Math.abs(halves[0]!.cyclesPerSample - halves[1]!.cyclesPerSample);
  const lines = [whole, ...halves];
  const noisy = channels.map((samples, c) => ({
    samples: samples.subarray(0, length),
    variance: whole.noiseVariances[c]!,
  }));
  const count = whole.powerRatio > 0 ? countRevolutions(noisy, whole.cyclesPerSample) : undefined;
  const isCounted = count !== undefined && "cyclesPerSample" in count;
  return {
    cyclesPerSample: isCounted ? count.cyclesPerSample : whole.cyclesPerSample,
    ...(isCounted ? { counted: count } : { gap: count }),
    halves,
    powerRatio: whole.powerRatio,
    powerRatioNeeded: whole.powerRatioNeeded,
    standsOut:
      lines.every((line) => line.powerRatio > line.powerRatioNeeded) &&
      apart < Math.max(WANDER_SHARE * whole.cyclesPerSample, 4 / length),
  };
}

/** The noise's mean power in a bin around the span. */
function noiseMean(power: Float64Array, low: number, high: number): number {
  const width = Math.max(64, high - low);
  const from = Math.max(LINE_BINS * 2, Math.floor(low - width));
  const until = Math.min(power.length - 1, Math.ceil(high + width));
  const around = power.slice(from, until + 1).sort();
  return around[around.length >> 1]! / Math.LN2;
}

/**
 * Ratio that the greatest of `binCount` independent sums of `channelCount` exponential values passes
 * with FALSE_ALARM. Zero padding and the window make neighbours alike, so a bin counts twice.
 */
function ratioNeeded(binCount: number, channelCount: number): number {
  const tail = FALSE_ALARM / Math.max(1, 2 * binCount);
  let low = 0;
  let high = 1000;
  for (let i = 0; i < 100; i += 1) {
    const middle = (low + high) / 2;
    let term = 1;
    let sum = 1;
    for (let k = 1; k < channelCount; k += 1) {
      term *= middle / k;
      sum += term;
    }
    if (Math.exp(-middle) * sum > tail) low = middle;
    else high = middle;
  }
  return high;
}

/** Vertex of the parabola through the logarithms of three neighbours. */
function vertex(before: number, at: number, after: number, bin: number): number {
  const [a, b, c] = [before, at, after].map((value) => Math.log(Math.max(value, 1e-300)));
  const curve = a! - 2 * b! + c!;
  return curve < 0 ? bin + (0.5 * (a! - c!)) / curve : bin;
}
