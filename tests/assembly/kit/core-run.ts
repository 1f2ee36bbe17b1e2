// Drives the whole firmware with signals worked out here in f64: shafts of constant acceleration,
// components at orders of them. Shares nothing with the waveforms of the product.
import { Core } from "../../../host/core.ts";
import { configurationBytes } from "../../../host/profile/configuration.ts";
import type { MonitorProfile } from "../../../host/profile/types.ts";
import type { Counters, DecodedRecord, LevelRecord } from "../../../host/record-types.ts";
import { decodeRecords } from "../../../host/records.ts";
import { CoreTarget } from "../../../harness/target/core-target.ts";

export const BUILDS = ["release", "debug"] as const;
export type Build = (typeof BUILDS)[number] | "simd";

export function coreOf(build: Build = "release"): Core {
  return Core.fromFile(new URL(`../../../build/core/${build}.wasm`, import.meta.url));
}

/** θ(t) = start + n·t + a·t²/2, in revolutions. */
export interface Turning {
  startRev: number;
  revPerS: number;
  revPerS2: number;
}

export function turning(revPerS: number, revPerS2 = 0, startRev = 0.123): Turning {
  return { startRev, revPerS, revPerS2 };
}

export function angleRev(shaft: Turning, t: number): number {
  return shaft.startRev + (shaft.revPerS + 0.5 * shaft.revPerS2 * t) * t;
}

/** The time at which the shaft has turned to an angle; the stable root. */
export function timeAt(shaft: Turning, rev: number): number {
  const theta = rev - shaft.startRev;
  const { revPerS: n, revPerS2: a } = shaft;
  return (2 * theta) / (n + Math.sqrt(Math.max(0, n * n + 2 * a * theta)));
}

export interface Wheel {
  positions: number;
  /** Shaft revolutions in one cycle of the wheel. */
  revolutions?: number;
  index?: "none" | "missing-tooth" | "extra-edge";
  /** True for an edge, by its place counted from position 0 of the first turn, that does not come. */
  isMissed?: (place: number) => boolean;
}

/** Captures of the wheel's edges: whole ticks gone by. */
export function edgeTicks(
  shaft: Turning,
  wheel: Wheel,
  durationS: number,
  clockHz: number,
): Float64Array {
  const P = wheel.positions;
  const cycle = wheel.revolutions ?? 1;
  const from = Math.ceil((shaft.startRev / cycle) * P);
  const until = Math.floor((angleRev(shaft, durationS) / cycle) * P);
  const ticks: number[] = [];
  for (let place = from; place <= until; place += 1) {
    const position = ((place % P) + P) % P;
    const isGap = wheel.index === "missing-tooth" && position === P - 1;
    if (!isGap && wheel.isMissed?.(place) !== true) {
      ticks.push(Math.floor(timeAt(shaft, (place / P) * cycle) * clockHz));
    }
    if (wheel.index === "extra-edge" && position === P - 1) {
      ticks.push(Math.floor(timeAt(shaft, ((place + 0.5) / P) * cycle) * clockHz));
    }
  }
  const end = durationS * clockHz;
  return Float64Array.from(ticks.filter((tick) => tick < end));
}

export interface CoreRun {
  profile: MonitorProfile;
  edges: Float64Array[];
  /** Sample of a channel at time t. */
  signals: ((t: number) => number)[];
  durationS: number;
  inputs?: { fromSample: number; bits: number }[];
  build?: Build;
  blockSamplesMax?: number;
  /** The stream's first sample; time 0 stays that of sample 0. */
  firstSample?: number;
  /** The signals are counts of the channel's step, rounded and held within i16. */
  isCounts?: boolean;
  /** Samples that are handed over at a time. */
  batchSamples?: number;
  /** Runs before, on the same core, are forgotten by a reset. */
  core?: Core;
}

export interface CoreAnswer {
  bytes: Uint8Array;
  records: DecodedRecord[];
  levels: LevelRecord[];
  counters: Counters;
}

export async function runCore(run: CoreRun): Promise<CoreAnswer> {
  const core = run.core ?? coreOf(run.build);
  const target = new CoreTarget(core, run.blockSamplesMax);
  await target.configure(configurationBytes(run.profile));
  const { sampleRateHz, clockHz } = run.profile;
  const ticksPerSample = clockHz / sampleRateHz;
  const total = Math.floor(run.durationS * sampleRateHz);
  const batchSamples = run.batchSamples ?? 16384;
  const parts: Uint8Array[] = [];
  for (let first = run.firstSample ?? 0; first < total; first += batchSamples) {
    const count = Math.min(batchSamples, total - first);
    const samples = run.signals.map((signal) => {
      const at = (_: unknown, i: number): number => signal((first + i) / sampleRateHz);
      if (run.isCounts !== true) return Float32Array.from({ length: count }, at);
      const held = (x: number): number => Math.max(-32_768, Math.min(32_767, Math.round(x)));
      return Int16Array.from({ length: count }, (_, i) => held(at(_, i)));
    });
    const from = first * ticksPerSample;
    const until = (first + count) * ticksPerSample;
    const edges = run.edges.map((ticks) => ticks.filter((tick) => tick >= from && tick < until));
    const rows = run.inputs ?? [{ fromSample: 0, bits: 0 }];
    const bitsBefore = rows.filter((row) => row.fromSample <= first).at(-1)?.bits ?? 0;
    const later = rows.filter((row) => row.fromSample > first && row.fromSample < first + count);
    const inputs = [{ fromSample: first, bits: bitsBefore }, ...later];
    parts.push(
      // Batches are taken in their order.
      // oxlint-disable-next-line no-await-in-loop
      await target.feed({ firstSample: first, sampleCount: count, samples, edges, inputs }),
    );
  }
  const { records, counters } = await target.finish();
  const bytes = new Uint8Array(Buffer.concat([...parts, records]));
  const decoded = decodeRecords(bytes);
  const levels = decoded.filter((one): one is LevelRecord => one.kind === "level");
  return { bytes, records: decoded, levels, counters };
}

/** The last of a list that has one. */
export function lastOf<T>(list: readonly T[]): T {
  const last = list.at(-1);
  if (last === undefined) throw new Error("the list is empty");
  return last;
}

export interface Part {
  order: number;
  amplitudePk: number;
  phaseLagDeg: number;
  /** Amplitude grows with the square of speed, from `amplitudePk` at t = 0. */
  isGrowing?: boolean;
}

/** Components at orders of a shaft. */
export function orders(shaft: Turning, parts: Part[]): (t: number) => number {
  return (t) => {
    const rev = angleRev(shaft, t);
    const turned = rev - Math.floor(rev);
    const growth = (1 + (shaft.revPerS2 * t) / shaft.revPerS) ** 2;
    let x = 0;
    for (const part of parts) {
      const phase = 2 * Math.PI * (part.order * turned - part.phaseLagDeg / 360);
      x += part.amplitudePk * (part.isGrowing === true ? growth : 1) * Math.cos(phase);
    }
    return x;
  };
}

/** The tracked component of 1 at order 1, lag 40°, among companions at orders 2 and 3. */
export function withCompanions(companionPk: number, isGrowing = false): Part[] {
  return [
    { order: 1, amplitudePk: 1, phaseLagDeg: 40 },
    { order: 2, amplitudePk: companionPk, phaseLagDeg: 100, isGrowing },
    { order: 3, amplitudePk: companionPk, phaseLagDeg: -70, isGrowing },
  ];
}

export function phaseLagDeg(record: { re: number; im: number }): number {
  const lag = (-Math.atan2(record.im, record.re) * 180) / Math.PI;
  return lag < 0 ? lag + 360 : lag;
}
