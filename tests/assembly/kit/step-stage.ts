// Drives the display step with its records: a test says what tachometer and tracker found.
import * as L from "../../../shared/layout.ts";
import type { DecodedRecord, EventRecord, LevelRecord } from "../../../host/record-types.ts";
import type { Counters } from "../../../host/record-types.ts";
import { decodeCounters, decodeRecords } from "../../../host/records.ts";
import { type Field, type StageBuild, stageModule, writeFields } from "./stage.ts";

interface StepExports {
  memory: WebAssembly.Memory;
  addressConfiguration(): number;
  addressRecords(): number;
  addressCounters(): number;
  addressSamples(): number;
  trackerAddress(filter: number): number;
  tachAddress(shaft: number): number;
  stepReset(): void;
  recordsReset(): void;
  recordsCount(): number;
  recordsClear(): void;
  inputsSet(bits: number): void;
  healthIntake(channel: number, address: number, count: number, isCounts: boolean): void;
  channelHasFault(channel: number): number;
  step(tickLow: number, tickHigh: number): void;
  event(code: number, source: number, tickLow: number, detail: number): void;
  stored(value: number): number;
}

/** What a tracking filter has found, as tests/assembly/kit/stand-in-tracker.ts reads it. */
export interface Tracked {
  isComputed: boolean;
  isSettled: boolean;
  re: number;
  im: number;
  levelPk: number;
  speed: number;
  speedNow: number;
  revolution: number;
  closingTick: number;
  flags: number;
  integrationDistance: number;
  isResponseLow: boolean;
  rawPk: number;
  acquisition: number;
}

export const TRACKED: Tracked = {
  isComputed: true,
  isSettled: true,
  re: 3,
  im: -4,
  levelPk: 5,
  speed: 80,
  speedNow: 80.5,
  revolution: 100,
  closingTick: 900,
  flags: L.FLAG_COMPUTED | L.FLAG_SETTLED,
  integrationDistance: 0,
  isResponseLow: false,
  rawPk: 0,
  acquisition: 1,
};

/** Two shafts, two channels, three filters: 0 and 2 on channel 0 and shaft 0, 1 on the others. */
const PROFILE: Field[] = [
  [L.GLOBAL_DISPLAY_SAMPLES, "u32", 8],
  [L.GLOBAL_CHANNEL_COUNT, "u32", 2],
  [L.GLOBAL_SHAFT_COUNT, "u32", 2],
  [L.GLOBAL_FILTER_COUNT, "u32", 3],
  [L.CONFIG_FILTERS + L.FILTER_BYTES + L.FILTER_CHANNEL, "u32", 1],
  [L.CONFIG_FILTERS + L.FILTER_BYTES + L.FILTER_SHAFT, "u32", 1],
  ...[0, 1, 2].flatMap((f): Field[] => {
    const display = L.CONFIG_DISPLAYS + f * L.DISPLAY_BYTES;
    return [
      [L.CONFIG_FILTERS + f * L.FILTER_BYTES + L.FILTER_LEVEL_FACTOR, "f32", 1],
      [display + L.DISPLAY_SCALE_COUNT, "u32", 1],
      [display + L.DISPLAY_SCALE + 4, "f32", 1],
      [display + L.DISPLAY_SMOOTHING, "f32", 1],
      [display + L.DISPLAY_STEP_INVERSE, "f32", 10],
      [display + L.DISPLAY_COUNTS_MAX, "i32", 1000],
      [display + L.DISPLAY_FLAGS, "u32", L.DISPLAY_FLAG_CAUTION],
      [display + L.DISPLAY_CAUTION_COUNTS, "i32", 80],
      [display + L.DISPLAY_HYSTERESIS_COUNTS, "i32", 10],
      [display + L.DISPLAY_HOLD_STEPS, "u32", 1],
    ];
  }),
  ...[0, 1].flatMap((c): Field[] => [
    [L.CONFIG_CHANNELS + c * L.CHANNEL_BYTES + L.CHANNEL_KIND, "u32", 2],
    [L.CONFIG_CHANNELS + c * L.CHANNEL_BYTES + L.CHANNEL_RANGE, "f32", 1000],
    [L.CONFIG_CHANNELS + c * L.CHANNEL_BYTES + L.CHANNEL_HEALTH_MASK, "u32", 1 << 5],
    [L.CONFIG_CHANNELS + c * L.CHANNEL_BYTES + L.CHANNEL_PHYSICAL_PK, "f32", 100],
    [L.CONFIG_CHANNELS + c * L.CHANNEL_BYTES + L.CHANNEL_HEALTH_STEPS, "u32", 1],
  ]),
];

export class StepStage {
  readonly run: StepExports;
  readonly view: DataView;
  readonly floats: Float32Array;
  /** Display steps so far; each is 1,000 ticks. */
  stepCount = 0;

  constructor(module: WebAssembly.Module) {
    const instance = new WebAssembly.Instance(module, {});
    this.run = instance.exports as unknown as StepExports;
    this.view = new DataView(this.run.memory.buffer);
    this.floats = new Float32Array(this.run.memory.buffer);
  }

  /** The profile above with some fields changed; everything as before the first sample. */
  configure(fields: Field[] = []): void {
    const at = this.run.addressConfiguration();
    new Uint8Array(this.view.buffer, at, L.CONFIG_BYTES).fill(0);
    new Uint8Array(this.view.buffer, this.run.addressCounters(), L.COUNTERS_BYTES).fill(0);
    writeFields(this.view, at, [...PROFILE, ...fields]);
    this.run.stepReset();
    this.run.recordsReset();
    this.stepCount = 0;
    for (const filter of [0, 1, 2]) this.tracked(filter, {});
    for (const shaft of [0, 1]) this.shaft(shaft, {});
  }

  tracked(filter: number, change: Partial<Tracked>): void {
    const t = { ...TRACKED, ...change };
    writeFields(this.view, this.run.trackerAddress(filter), [
      [0, "u32", t.isComputed ? 1 : 0],
      [4, "u32", t.isSettled ? 1 : 0],
      [8, "f32", t.re],
      [12, "f32", t.im],
      [16, "f32", t.levelPk],
      [20, "f32", t.speed],
      [24, "f32", t.speedNow],
      [28, "u32", t.revolution],
      [32, "u32", t.closingTick],
      [36, "u32", t.flags],
      [40, "f32", t.integrationDistance],
      [44, "u32", t.isResponseLow ? 1 : 0],
      [48, "f32", t.rawPk],
      [52, "u32", t.acquisition],
    ]);
  }

  shaft(
    shaft: number,
    change: { isLocked?: boolean; hasBeen?: boolean; isRelative?: boolean },
  ): void {
    writeFields(this.view, this.run.tachAddress(shaft), [
      [0, "u32", (change.isLocked ?? true) ? 1 : 0],
      [4, "u32", (change.hasBeen ?? true) ? 1 : 0],
      [8, "u32", (change.isRelative ?? false) ? 1 : 0],
    ]);
  }

  /** Eight samples of a channel, one display period. */
  samples(channel: number, values: number[]): void {
    const at = this.run.addressSamples();
    this.floats.set(values, at >> 2);
    this.run.healthIntake(channel, at, values.length, false);
  }

  /** The next display step; answers the records that it left. */
  step(): DecodedRecord[] {
    this.stepCount += 1;
    this.run.step(1000 * this.stepCount, 0);
    return this.take();
  }

  take(): DecodedRecord[] {
    const at = this.run.addressRecords();
    const length = this.run.recordsCount() * L.RECORD_BYTES;
    const records = decodeRecords(new Uint8Array(this.view.buffer, at, length).slice());
    this.run.recordsClear();
    return records;
  }

  counters(): Counters {
    return decodeCounters(this.view, this.run.addressCounters());
  }
}

export async function openStep(build: StageBuild): Promise<StepStage> {
  const kit = "tests/assembly/kit";
  const standIns = {
    "assembly/tracker.ts": `${kit}/stand-in-tracker.ts`,
    "assembly/tach.ts": `${kit}/stand-in-tach.ts`,
  };
  return new StepStage(await stageModule({ entry: `${kit}/step-entry.ts`, standIns }, build));
}

export function levelOf(records: DecodedRecord[], filter: number): LevelRecord {
  const found = records.find((one) => one.kind === "level" && one.filter === filter);
  if (found === undefined || found.kind !== "level") throw new Error(`no level of ${filter}`);
  return found;
}

/** Codes and sources of the events, in order. */
export function eventsOf(
  records: DecodedRecord[],
): [code: number, source: number, detail: number][] {
  return records
    .filter((one): one is EventRecord => one.kind === "event")
    .map((one) => [one.code, one.source, one.detail]);
}
