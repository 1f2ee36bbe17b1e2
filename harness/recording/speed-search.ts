// The speed of a shaft found from the vibration itself, near a stated value. Phase then means
// nothing, since nothing says where a revolution starts.
import FFT from "fft.js";

export interface SpeedFound {
  cyclesPerSample: number;
  /** Half the width within which the line's frequency lies with about 95 %, cycles per sample. */
  uncertaintyCyclesPerSample: number;
  /** Power of the line over the mean power of the noise around it, 1. */
  powerRatio: number;
  /** The power ratio that noise alone would pass once in 10,000 searches. */
  powerRatioNeeded: number;
  standsOut: boolean;
}

export interface SpeedSearch {
  nearCyclesPerSample: number;
  /** Half the span searched, as a share of the stated value. */
  spanShare: number;
}

const FALSE_ALARM = 1e-4;
/** Transform lengths beyond this bring nothing: the speed wanders. */
const LENGTH_MAX = 1 << 20;
/** Share by which a shaft's speed may differ between the halves of a recording. */
const WANDER_SHARE = 0.02;
/** The Hann window spreads a line over this many bins to either side (Harris 1978). */
const LINE_BINS = 2;

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
}

/** The strongest line of a stretch, and the ratio that noise alone would rarely reach. */
function strongestLine(channels: Float32Array[], search: SpeedSearch): Line {
  const low = search.nearCyclesPerSample * (1 - search.spanShare);
  const high = search.nearCyclesPerSample * (1 + search.spanShare);
  const spectra = channels.map(powerSpectrum);
  const size = spectra[0]!.size;
  const ratios = spectra.map(({ power }) => overNoise(power, low * size, high * size));
  const sumAt = (bin: number): number => ratios.reduce((sum, one) => sum + one[bin]!, 0);
  const from = Math.max(1, Math.floor(low * size));
  const until = Math.min(size / 2 - 1, Math.ceil(high * size));
  let best = from;
  for (let bin = from; bin <= until; bin += 1) if (sumAt(bin) > sumAt(best)) best = bin;
  const length = Math.min(channels[0]!.length, LENGTH_MAX);
  return {
    cyclesPerSample: vertex(sumAt(best - 1), sumAt(best), sumAt(best + 1), best) / size,
    powerRatio: sumAt(best),
    powerRatioNeeded: ratioNeeded(((until - from + 1) * length) / size, channels.length),
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
 *           own noise
 * Errors    RangeError where the stated value or the span leaves (0, 0.5) cycles per sample
 * Source    Hann window: Harris, Proc. IEEE 66(1), 1978; least variance of a tone's frequency:
 *           Rife & Boorstyn, IEEE Trans. IT-20(5), 1974 (from memory)
 */
export function findSpeed(channels: Float32Array[], search: SpeedSearch): SpeedFound {
  const low = search.nearCyclesPerSample * (1 - search.spanShare);
  const high = search.nearCyclesPerSample * (1 + search.spanShare);
  if (!(low > 0 && high < 0.5)) {
    throw new RangeError("speed to search must lie within 0 and 0.5 cycles per sample");
  }
  const length = Math.min(channels[0]!.length, LENGTH_MAX);
  const whole = strongestLine(channels, search);
  const halves = [0, length >> 1].map((from) =>
    strongestLine(
      channels.map((samples) => samples.subarray(from, from + (length >> 1))),
      search,
    ),
  );
  const apart = Math.abs(halves[0]!.cyclesPerSample - halves[1]!.cyclesPerSample);
  const noiseShare = 0.55 / length / Math.sqrt(Math.max(whole.powerRatio, 1));
  const lines = [whole, ...halves];
  return {
    cyclesPerSample: whole.cyclesPerSample,
    uncertaintyCyclesPerSample: Math.max(2 * noiseShare, apart / 2),
    powerRatio: whole.powerRatio,
    powerRatioNeeded: whole.powerRatioNeeded,
    standsOut:
      lines.every((line) => line.powerRatio > line.powerRatioNeeded) &&
      apart < Math.max(WANDER_SHARE * whole.cyclesPerSample, 4 / length),
  };
}

/** Power over the noise's mean power around the span, bin by bin. */
function overNoise(power: Float64Array, low: number, high: number): Float64Array {
  const width = Math.max(64, high - low);
  const from = Math.max(LINE_BINS * 2, Math.floor(low - width));
  const until = Math.min(power.length - 1, Math.ceil(high + width));
  const around = power.slice(from, until + 1).sort();
  const mean = around[around.length >> 1]! / Math.LN2;
  return power.map((value) => (mean > 0 ? value / mean : 0));
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
