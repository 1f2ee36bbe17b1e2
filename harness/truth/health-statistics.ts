// What each health check sees in one display period, as an interval: the analytic signal's own
// statistics, with the faults that stand over the whole period or a part of it.
import {
  HEALTH_BIAS,
  HEALTH_BROADBAND,
  HEALTH_BURST,
  HEALTH_CHECKS,
  HEALTH_CLIP,
  HEALTH_FLAT,
  HEALTH_NOISE_FLOOR,
  HEALTH_PHYSICAL,
} from "../../shared/units.ts";
import type { ChannelFault, ChannelProfile } from "../scene/scene.ts";
import type { ChannelTruth } from "./channel-truth.ts";
import type { Complex } from "./complex.ts";
import { samplesOf } from "./fault-samples.ts";
import type { Certainty } from "./reference.ts";

/** Noise stays within so many σ: one sample in 10^11. */
const SIGMAS = 7;
/** Mean of a loose connector's burst over its length, as a share of its peak (its own shape). */
const BURST_MEAN_SHARE = 0.35;
/** Cycles of the slowest component in a period, under which where it cuts them decides. */
const CYCLES_FEW = 4;
/** Greatest i16 count. */
const LAST_COUNT = 32_767;

interface Sizes {
  /** Σ of amplitudes and the largest of them. */
  sum: number;
  largest: number;
  /** rms of first differences over √2, without noise. */
  difference: number;
  /** Σ A/(πf): over a length it bounds a mean. */
  perLength: number;
  /** Reached for sure within a period. */
  crest: number;
  /** Frequency of the slowest component, Hz; Infinity where there is none. */
  slowestHz: number;
}

export interface Period {
  fromS: number;
  untilS: number;
  sampleCount: number;
  firstSample: number;
  lastSample: number;
}

/** What a check looks at: a period, the faults that stand in it, and what else the samples hold. */
interface Seen {
  period: Period;
  lengthS: number;
  faults: readonly ChannelFault[];
  sizes: Sizes;
  /** Rms of the noise. */
  noise: number;
  /** Half the way that a constant moves. */
  tornBy: number;
  /** Too few cycles of the slowest component for statistics of whole ones. */
  isFew: boolean;
}

/** The checks that a kind of transducer is served by. */
export function checksOf(profile: ChannelProfile): boolean[] {
  const { health, kind } = profile;
  const serves = Array.from({ length: HEALTH_CHECKS }, () => false);
  serves[HEALTH_BIAS] = health.bias !== undefined && kind === "powered";
  serves[HEALTH_CLIP] = health.clipSamples !== undefined;
  serves[HEALTH_FLAT] = health.flatPkPk !== undefined;
  serves[HEALTH_NOISE_FLOOR] = health.noiseFloorRms !== undefined && kind === "charge";
  serves[HEALTH_BURST] = health.burstRms !== undefined && kind !== "coil";
  serves[HEALTH_PHYSICAL] = health.physicalPk !== undefined;
  serves[HEALTH_BROADBAND] = health.broadbandRatio !== undefined;
  return serves;
}

function isUnder(low: number, high: number, limit: number): Certainty {
  if (high < limit) return "yes";
  return low >= limit ? "no" : "maybe";
}

export class HealthStatistics {
  readonly #channel: ChannelTruth;
  readonly #profile: ChannelProfile;
  readonly #sampleRateHz: number;
  readonly #serves: boolean[];
  readonly #isCounts: boolean;

  /** `isCounts` where every channel comes as counts: then the firmware knows the converter's ends. */
  constructor(
    channel: ChannelTruth,
    profile: ChannelProfile,
    sampleRateHz: number,
    isCounts: boolean,
  ) {
    this.#isCounts = isCounts;
    this.#channel = channel;
    this.#profile = profile;
    this.#sampleRateHz = sampleRateHz;
    this.#serves = checksOf(profile);
  }

  get serves(): readonly boolean[] {
    return this.#serves;
  }

  /** Whether each check speaks of a fault in a period; "no" where it does not serve. */
  verdicts(period: Period): Certainty[] {
    const parts: ChannelFault[] = [];
    const whole: ChannelFault[] = [];
    for (const fault of this.#channel.signal.faults) {
      const { first, last } = samplesOf(fault, this.#sampleRateHz);
      if (last < period.firstSample || first > period.lastSample) continue;
      const isPoint = fault.kind === "spike" || fault.kind === "not-finite";
      const isWhole = isPoint
        ? first >= period.firstSample && last <= period.lastSample
        : first <= period.firstSample && last >= period.lastSample;
      (isWhole ? whole : parts).push(fault);
    }
    const fades = parts.some((fault) => fault.kind === "open" || fault.kind === "gain");
    const tornBy = this.#tornBy(parts);
    const isTorn = tornBy > 0 || parts.some(({ kind }) => kind === "flat" || kind === "bias");
    const readings: Certainty[][] = [];
    for (const timeS of this.#timesIn(period, parts)) {
      const sizes = this.#sizes(timeS);
      readings.push(this.#judge(period, whole, sizes, 0));
      if (parts.length === 0) continue;
      readings.push(this.#judge(period, [...whole, ...parts], sizes, tornBy));
      readings.push(this.#judge(period, [], sizes, 0));
    }
    return readings[0]!.map((first, i) => {
      const isOpen = (isTorn || fades) && (i === HEALTH_FLAT || i === HEALTH_NOISE_FLOOR);
      const isOne = readings.every((reading) => reading[i] === first);
      return isOne && !isOpen ? first : this.#maybe(i);
    });
  }

  /** Start, middle and end of a period, and both sides of whatever breaks in it. */
  #timesIn(period: Period, parts: readonly ChannelFault[]): number[] {
    const { fromS, untilS } = period;
    const times = [fromS, (fromS + untilS) / 2, untilS];
    const breaks: number[] = [];
    for (const carrier of this.#channel.carriers) {
      for (let at = carrier.breakAfter(fromS); at < untilS; at = carrier.breakAfter(at)) {
        breaks.push(at);
      }
    }
    for (const fault of parts) if ("fromS" in fault) breaks.push(fault.fromS, fault.untilS);
    for (const at of breaks) {
      if (at > fromS && at < untilS) times.push(at - 1e-9, at + 1e-9);
    }
    return times;
  }

  /** Half the way that a constant moves within a period: so far apart may the slices' means lie. */
  #tornBy(parts: ChannelFault[]): number {
    let way = 0;
    for (const fault of parts) {
      const { mean } = this.#channel.signal;
      if (fault.kind === "clip") way += Math.max(0, Math.abs(mean) - fault.level) / 2;
      if (fault.kind !== "flat" && fault.kind !== "bias") continue;
      way += Math.abs(fault.value - this.#channel.signal.mean) / 2;
    }
    return way;
  }

  #maybe(check: number): Certainty {
    return this.#serves[check] === true ? "maybe" : "no";
  }

  /** Sizes at a time. */
  #sizes(timeS: number): Sizes {
    const at: Complex = { re: 0, im: 0 };
    const found: { hz: number; size: number }[] = [];
    const sizes: Sizes = {
      sum: 0,
      largest: 0,
      difference: 0,
      perLength: 0,
      crest: 0,
      slowestHz: Infinity,
    };
    let square = 0;
    for (const carrier of this.#channel.carriers) {
      carrier.amplitudeAt(timeS, at);
      const size = Math.hypot(at.re, at.im);
      const hz = carrier.frequencyHzAt(timeS);
      found.push({ hz, size });
      if (size > 0) sizes.slowestHz = Math.min(sizes.slowestHz, hz);
      sizes.sum += size;
      sizes.largest = Math.max(sizes.largest, size);
      square += (size * Math.sin(Math.min(0.5, hz / this.#sampleRateHz) * Math.PI)) ** 2;
      sizes.perLength += hz > 0 ? size / (Math.PI * hz) : Infinity;
    }
    sizes.difference = Math.sqrt(square);
    // Crests surely meet where each component is four times as fast as the next slower one.
    found.sort((a, b) => a.hz - b.hz);
    const isApart = found.every(({ hz }, i) => i === 0 || hz >= 4 * found[i - 1]!.hz);
    const fastest = found[found.length - 1]?.hz ?? 0;
    const sampling = Math.cos(Math.PI * Math.min(0.5, fastest / this.#sampleRateHz));
    const alone = 2 * sizes.largest - sizes.sum;
    sizes.crest = Math.max(0.9 * alone, isApart ? 0.9 * sampling * sizes.sum : 0, 0);
    return sizes;
  }

  #judge(period: Period, faults: ChannelFault[], sizes: Sizes, tornBy: number): Certainty[] {
    const verdicts = Array.from({ length: HEALTH_CHECKS }, (): Certainty => "no");
    const noise = this.#channel.noiseRms * this.#channel.gainAt(period.untilS);
    const put = (check: number, verdict: Certainty): void => {
      if (this.#serves[check] === true) verdicts[check] = verdict;
    };
    const lengthS = period.untilS - period.fromS;
    const isFew = sizes.slowestHz * lengthS < CYCLES_FEW;
    const seen: Seen = { period, lengthS, faults, sizes, noise, tornBy, isFew };
    put(HEALTH_BIAS, this.#bias(seen));
    put(HEALTH_CLIP, this.#clip(seen));
    put(HEALTH_FLAT, this.#flat(seen));
    put(HEALTH_NOISE_FLOOR, this.#noiseFloor(seen));
    put(HEALTH_BURST, this.#burst(seen));
    put(HEALTH_PHYSICAL, this.#physical(seen));
    // Both sides of the comparison have the same memory, so that only what is not in the samples (or
    // a ratio that a lone line may reach) can break it.
    const ratio = this.#profile.health.broadbandRatio ?? Infinity;
    const isCalm = !faults.some(({ kind }) => kind === "flat" || kind === "not-finite");
    // The rms of less than some whole cycles depends on where the period cuts them.
    put(HEALTH_BROADBAND, isCalm && !isFew && ratio >= 1.05 ? "no" : "maybe");
    return verdicts;
  }

  #bias({ period, lengthS, faults, sizes, noise }: Seen): Certainty {
    const limits = this.#profile.health.bias;
    if (limits === undefined) return "no";
    let { mean } = this.#channel.signal;
    let width = sizes.perLength / lengthS + (SIGMAS * noise) / Math.sqrt(period.sampleCount);
    for (const fault of faults) {
      if (fault.kind === "bias") mean = fault.value;
      if (fault.kind === "loose") {
        const share = Math.max(1, 4 * fault.burstsPerS * lengthS) * (fault.lengthS / lengthS);
        width += fault.burstPk * share;
      }
      if (fault.kind === "clip" || fault.kind === "not-finite") width += sizes.sum;
      if (fault.kind === "spike") {
        width += (Math.abs(fault.value) * fault.samples) / period.sampleCount;
      }
    }
    for (const fault of faults) {
      if (fault.kind === "flat") {
        mean = fault.value;
        width = 1e-6 * Math.abs(mean);
      }
    }
    width += this.#step / 2 + 1e-6 * Math.abs(mean);
    if (mean + width < limits.low || mean - width > limits.high) return "yes";
    return mean - width >= limits.low && mean + width <= limits.high ? "no" : "maybe";
  }

  /** |sample| from which it is clipped: the range, or the converter's last count where that is less. */
  get #clipsFrom(): number {
    const { converter } = this.#channel.signal;
    const last = this.#isCounts ? LAST_COUNT * converter.step : Infinity;
    return Math.min(this.#profile.range, last);
  }

  get #step(): number {
    const { converter } = this.#channel.signal;
    return converter.format === "i16" ? converter.step : 0;
  }

  /** The share of time that a lone sine spends beyond c: (2/π)·acos(c/A). */
  #clip({ period, faults, sizes, noise, isFew }: Seen): Certainty {
    const needed = this.#profile.health.clipSamples ?? Infinity;
    const range = this.#clipsFrom;
    const flat = faults.find((fault) => fault.kind === "flat");
    if (flat?.kind === "flat") return Math.abs(flat.value) >= range ? "yes" : "no";
    let extra = SIGMAS * noise + this.#step;
    let isOpen = false;
    let clipsAt = Infinity;
    let mean = Math.abs(this.#channel.signal.mean);
    for (const fault of faults) {
      if (fault.kind === "loose") extra += 4 * fault.burstPk;
      if (fault.kind === "bias") mean = Math.abs(fault.value);
      if (fault.kind === "clip") clipsAt = Math.min(clipsAt, fault.level);
      if (fault.kind === "spike") {
        extra += Math.abs(fault.value);
        isOpen = true;
      }
    }
    if (Math.min(clipsAt, mean + sizes.sum + extra) < range) return "no";
    const isLone = this.#channel.carriers.length === 1 && noise === 0 && mean === 0 && !isOpen;
    if (isFew || !isLone || extra > this.#step || sizes.sum <= range) return "maybe";
    const expected = period.sampleCount * (2 / Math.PI) * Math.acos(range / sizes.sum);
    if (expected * 0.85 - 4 > needed) return "yes";
    return expected * 1.15 + 4 < needed ? "no" : "maybe";
  }

  #flat({ period, faults, sizes, noise, isFew }: Seen): Certainty {
    const limit = this.#profile.health.flatPkPk ?? 0;
    if (faults.some((fault) => fault.kind === "flat")) return limit > 0 ? "yes" : "no";
    // The largest component stands out of the others by what is left of it; 0.9 for its sampling.
    // Of less than a cycle nobody knows how much shows.
    const swing = isFew ? 0 : 2 * 0.9 * (2 * sizes.largest - sizes.sum);
    let low = Math.max(swing, 3 * noise);
    let high = 2 * sizes.sum + 2 * SIGMAS * noise + this.#step;
    let mean = Math.abs(this.#channel.signal.mean);
    for (const fault of faults) if (fault.kind === "bias") mean = Math.abs(fault.value);
    for (const fault of faults) {
      // What lies inside ±c stays, so a clipped swing reaches c on either side of its mean.
      if (fault.kind === "clip") low = Math.min(low, 2 * Math.max(0, fault.level - mean));
      if (fault.kind === "bias") high += Math.abs(fault.value - this.#channel.signal.mean);
      if (fault.kind === "loose") [low, high] = [0, Infinity];
      if (fault.kind !== "spike" && fault.kind !== "not-finite") continue;
      // The samples that are left show the swing, where they are most of the period.
      if (fault.samples > period.sampleCount / 4) low = 0;
      if (fault.kind === "spike") high += Math.abs(fault.value);
    }
    return isUnder(low > this.#step ? low - this.#step : 0, high, limit);
  }

  #noiseFloor({ period, faults, sizes, noise, isFew }: Seen): Certainty {
    const limit = this.#profile.health.noiseFloorRms ?? 0;
    if (faults.some((fault) => fault.kind === "flat")) return limit > 0 ? "yes" : "no";
    const share = 0.05 + 4 / Math.sqrt(period.sampleCount);
    const expected = Math.hypot(noise, sizes.difference);
    const isDoubtful = faults.some((fault) => fault.kind !== "gain" && fault.kind !== "open");
    const least = isFew ? noise : expected;
    const low = least > this.#step ? least * (1 - share) : 0;
    // Of less than a cycle the steepest part may be all there is: √2 of its rms.
    const most = isFew ? Math.hypot(noise, Math.SQRT2 * sizes.difference) : expected;
    const high = Math.hypot(most, this.#step / 2) * (1 + share);
    const isSpoiltLow = faults.some((f) => f.kind === "clip" || f.kind === "not-finite");
    return isUnder(isSpoiltLow ? 0 : low, isDoubtful ? Infinity : high, limit);
  }

  #burst({ period, lengthS, faults, sizes, noise, tornBy }: Seen): Certainty {
    const limit = this.#profile.health.burstRms ?? Infinity;
    const loose = faults.find((fault) => fault.kind === "loose");
    if (faults.some((fault) => fault.kind === "flat") && tornBy === 0) return "no";
    let spikes = 0;
    for (const fault of faults) {
      if (fault.kind === "spike") spikes += Math.abs(fault.value) * fault.samples;
    }
    const sliceS = lengthS / 8;
    const quiet =
      tornBy +
      spikes / (period.sampleCount / 8) +
      sizes.perLength / sliceS +
      (4 * noise) / Math.sqrt(period.sampleCount / 8) +
      this.#step / 2;
    if (loose?.kind !== "loose") return quiet <= limit ? "no" : "maybe";
    const expected = loose.burstsPerS * sliceS * 8;
    const area = loose.burstPk * BURST_MEAN_SHARE * (loose.lengthS / sliceS);
    const typical = area * Math.sqrt(expected / 8);
    // Fewer than a third of twelve expected bursts come once in a hundred; three times the limit.
    return expected >= 12 && typical > 3 * limit + quiet ? "yes" : "maybe";
  }

  #physical({ lengthS, faults, sizes, noise, isFew }: Seen): Certainty {
    const limit = this.#profile.health.physicalPk ?? Infinity;
    if (faults.some((fault) => fault.kind === "flat")) return "no";
    // The peak stands about the period's own mean, which a part of a cycle moves.
    const offset = Math.min(sizes.sum, sizes.perLength / lengthS);
    let high = sizes.sum * 1.01 + offset + SIGMAS * noise + this.#step;
    let low = isFew ? 0 : Math.max(0, sizes.crest - offset - this.#step);
    for (const fault of faults) {
      if (fault.kind === "loose") {
        high += 4 * fault.burstPk;
        low = 0;
      }
      if (fault.kind === "spike") {
        const size = Math.abs(fault.value);
        low = Math.max(low, size * 0.95 - sizes.sum - offset - SIGMAS * noise);
        high += size;
      }
      if (fault.kind === "clip") low = 0;
    }
    if (high <= limit) return "no";
    return low > limit ? "yes" : "maybe";
  }
}
