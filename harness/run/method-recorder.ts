// Keeps what a target was fed and what it answered, for the second opinions at the end.
import { FLAG_COMPUTED, FLAG_PHASE_RELATIVE, FLAG_SETTLED } from "../../shared/layout.ts";
import { FUNCTIONAL_TEST, VALID } from "../../shared/units.ts";
import { ticksPerSample } from "../../host/profile/configuration.ts";
import type { MonitorProfile } from "../../host/profile/types.ts";
import type { LevelRecord } from "../../host/record-types.ts";
import { decodeRecords } from "../../host/records.ts";
import type { FirmwareStep } from "../method/agreement.ts";
import type { BoxSignal } from "../method/box-signal.ts";
import type { MethodResults } from "../method/opinion-types.ts";
import { secondOpinions } from "../method/second-opinions.ts";
import { type ShaftAngle, shaftAngles } from "../method/shaft-angle.ts";
import { speedMap } from "../method/speed-map.ts";
import type { BlockBatch } from "../target/target.ts";

/** Samples of all channels together that are kept: 32 MB; at 12.8 kHz ten minutes of one channel. */
export const METHOD_SAMPLES_MAX = 8_000_000;

/** Why the methods were not applied to something so long. */
export function tooLongWords(samples: number): string {
  return (
    `The methods were not applied: they look at the whole at once, and ${samples} samples are more ` +
    `than the ${METHOD_SAMPLES_MAX} that they keep in memory.`
  );
}

/** Samples of one channel, growing. */
class Kept {
  #values = new Float32Array(65_536);
  #count = 0;
  notFinite = 0;

  add(samples: Float32Array | Int16Array, step: number): void {
    if (this.#count + samples.length > this.#values.length) {
      const wider = new Float32Array(2 * (this.#count + samples.length));
      wider.set(this.#values.subarray(0, this.#count));
      this.#values = wider;
    }
    const scale = samples instanceof Int16Array ? step : 1;
    for (const sample of samples) {
      const isNumber = Number.isFinite(sample);
      if (!isNumber) this.notFinite += 1;
      // What is no number stands as the last one that was.
      const before = this.#count === 0 ? 0 : this.#values[this.#count - 1]!;
      this.#values[this.#count] = isNumber ? sample * scale : before;
      this.#count += 1;
    }
  }

  get values(): Float32Array {
    return this.#values.subarray(0, this.#count);
  }
}

/**
 * Takes batches and records as they go by, and gives the second opinions at the end.
 *
 * Memory    METHOD_SAMPLES_MAX samples, twice that while they grow; past it nothing is kept, and
 *           the results say so
 */
export class MethodRecorder {
  readonly #profile: MonitorProfile;
  readonly #startS: number;
  readonly #ticks: number;
  readonly #channels: Map<number, Kept>;
  readonly #edges: number[][];
  readonly #steps: FirmwareStep[][];
  readonly #isRelative: boolean[];
  /** Of each filter: the newest step of a functional test, and the first valid one after it. */
  readonly #test: { tick: number; validTick?: number }[];
  #sampleCount = 0;
  #isTooLong = false;

  /** `startS`: the time that the first sample stands at. */
  constructor(profile: MonitorProfile, startS = 0) {
    this.#profile = profile;
    this.#startS = startS;
    this.#ticks = ticksPerSample(profile);
    const used = new Set(profile.filters.map(({ channel }) => channel));
    this.#channels = new Map([...used].map((channel) => [channel, new Kept()]));
    this.#edges = profile.shafts.map(() => []);
    this.#steps = profile.filters.map(() => []);
    this.#isRelative = profile.filters.map(() => false);
    this.#test = profile.filters.map(() => ({ tick: -Infinity, validTick: -Infinity }));
  }

  takeBatch({ sampleCount, samples, edges }: BlockBatch): void {
    this.#sampleCount += sampleCount;
    if (this.#isTooLong) return;
    if (this.#sampleCount * this.#channels.size > METHOD_SAMPLES_MAX) {
      this.#isTooLong = true;
      this.#channels.clear();
      for (const list of [...this.#edges, ...this.#steps]) list.length = 0;
      return;
    }
    for (const [channel, kept] of this.#channels) {
      kept.add(samples[channel]!, this.#profile.channels[channel]!.countStep);
    }
    for (const [shaft, ticks] of edges.entries()) {
      for (const tick of ticks) this.#edges[shaft]!.push(tick / this.#ticks);
    }
  }

  takeRecords(bytes: Uint8Array): void {
    if (this.#isTooLong) return;
    for (const record of decodeRecords(bytes)) {
      if (record.kind !== "level") continue;
      if (!this.#isMeasured(record)) continue;
      const wanted = FLAG_COMPUTED | FLAG_SETTLED;
      if ((record.flags & wanted) !== wanted) continue;
      const isPhaseRelative = (record.flags & FLAG_PHASE_RELATIVE) !== 0;
      if (isPhaseRelative) this.#isRelative[record.filter] = true;
      this.#steps[record.filter]!.push({
        timeS: this.#startS + record.tick / this.#profile.clockHz,
        closedAt: (record.tick - record.ageTicks) / this.#ticks,
        re: record.re,
        im: record.im,
        speedRevPerS: record.speedRevPerS,
        isPhaseRelative,
      });
    }
  }

  /**
   * Whether the level is of what the channel gave. A functional test's tone is left to 1 % when the
   * firmware shows a number again; three times as long after the test it is under 1e-6.
   */
  #isMeasured({ filter, tick, validity }: LevelRecord): boolean {
    if (validity === FUNCTIONAL_TEST) this.#test[filter] = { tick };
    if (validity !== VALID) return false;
    const test = this.#test[filter]!;
    test.validTick ??= tick;
    return !(tick < test.tick + 3 * (test.validTick - test.tick));
  }

  finish(): MethodResults {
    const profile = this.#profile;
    if (this.#isTooLong) return { notes: [tooLongWords(this.#sampleCount)], filters: [], maps: [] };
    const notes: string[] = [];
    for (const [channel, { notFinite }] of this.#channels) {
      if (notFinite === 0) continue;
      const { name } = profile.channels[channel]!;
      notes.push(
        `${notFinite} samples of "${name}" were no numbers; each stands as the one before.`,
      );
    }
    const angles = new Map<number, ShaftAngle[]>();
    const signalOf = (channel: number, shaft: number): BoxSignal => ({
      sampleRateHz: profile.sampleRateHz,
      samples: this.#channels.get(channel)!.values,
      edges: Float64Array.from(this.#edges[shaft]!),
      wheel: profile.shafts[shaft]!,
    });
    const filters = profile.filters.map((filter, index) => {
      const { name, channel, shaft, order, bandwidth, quantity, unit, detector } = filter;
      const signal = signalOf(channel, shaft);
      if (!angles.has(shaft)) angles.set(shaft, shaftAngles(signal));
      const { quantity: measured, response } = profile.channels[channel]!;
      return secondOpinions({
        filter: index,
        name,
        unit: `${unit} ${detector}`,
        levelFactor: filter.levelFactor,
        tracked: { order, bandwidth, measured, wanted: quantity, response },
        signal,
        angles: angles.get(shaft)!,
        steps: this.#steps[index]!,
        startS: this.#startS,
        isPhaseRelative: this.#isRelative[index]!,
      });
    });
    const pairs = new Map(profile.filters.map((one) => [`${one.channel} ${one.shaft}`, one]));
    const maps = [...pairs.values()].map(({ channel, shaft }) =>
      speedMap(signalOf(channel, shaft), angles.get(shaft)!, {
        channel: profile.channels[channel]!.name,
        shaft: profile.shafts[shaft]!.name,
        quantity: profile.channels[channel]!.quantity,
        startS: this.#startS,
        orders: profile.filters
          .filter((one) => one.channel === channel && one.shaft === shaft)
          .map(({ order }) => order),
      }),
    );
    return { notes, filters, maps: maps.filter((map) => map !== undefined) };
  }
}
