// The tachometer alone: tach*.ts compiled with stand-ins for its neighbours, which tell this file of
// every call. The stand-ins are written in the firmware's language, so they stand here as text.
import { readFile } from "node:fs/promises";
import { basename, join } from "node:path";
import { main as compile } from "assemblyscript/asc";
import {
  CONFIG_SHAFTS,
  GLOBAL_CLOCK_HZ,
  SHAFT_ACCELERATION_MAX,
  SHAFT_BYTES,
  SHAFT_EDGE_TOLERANCE,
  SHAFT_INDEX,
  SHAFT_LOCK_REVOLUTIONS,
  SHAFT_POSITIONS,
  SHAFT_REVOLUTIONS,
  SHAFT_SPEED_MAX,
  SHAFT_SPEED_MIN,
  SHAFT_TIMEOUT_TICKS,
} from "../../../shared/layout.ts";

const STAND_INS: Record<string, string> = {
  "angle.ts": `
@external("log", "angleStart")
declare function logStart(shaft: i32, tick: f64, dt: u32, positions: i32): void;
@external("log", "angleEdge")
declare function logEdge(shaft: i32, tick: f64, positions: i32, isBridged: bool): void;
@external("log", "angleLost")
declare function logLost(shaft: i32): void;
// Positions since the newest knot, which is every spacing-th from the cycle's start.
let spacing: i32 = 1;
let open: i32 = 0;
let place: i32 = 0;
export function spacingSet(positions: i32): void { spacing = positions; }
export function angleStart(shaft: i32, tick: u64, dt: u32, positions: i32): void {
  place = 0;
  open = 0;
  logStart(shaft, <f64>tick, dt, positions);
}
export function angleEdge(shaft: i32, tick: u64, positions: i32, isBridged: bool): void {
  place += positions;
  open += positions;
  if (place % spacing == 0) open = 0;
  logEdge(shaft, <f64>tick, positions, isBridged);
}
export function anglePositionsToKnot(shaft: i32): i32 { return spacing - open; }
export function anglePass(shaft: i32, positions: i32): void {
  place += positions;
  open += positions;
  if (open >= spacing) unreachable();
}
export function angleLost(shaft: i32): void { logLost(shaft); }
`,
  "records.ts": `
@external("log", "event")
declare function logEvent(code: i32, source: i32, tick: f64, detail: i32): void;
export function emitEvent(code: i32, source: i32, tick: u64, detail: i32): void {
  logEvent(code, source, <f64>tick, detail);
}
`,
  "tach-entry.ts": `
import { spacingSet } from "./angle.ts";
import { CONFIGURATION, COUNTERS, INPUT, shaftState } from "./memory.ts";
import { TachState, tachState } from "./tach-state.ts";
import { tachRun } from "./tach-run.ts";
import { tachExpire, tachHasBeenLocked, tachIndexOffset } from "./tach.ts";
import { tachIsLocked, tachIsPhaseRelative, tachProcess, tachReset, tachSpeedNow } from "./tach.ts";
export { shaftState, spacingSet, tachHasBeenLocked, tachIndexOffset };
export function inputAddress(): usize { return INPUT; }
export function stateBytes(): usize { return offsetof<TachState>(); }
export function plainInRowAt(): usize { return offsetof<TachState>("plainInRow"); }
export function isDoubted(shaft: i32): bool { return tachState(shaft).doubts != 0; }
export { tachIsLocked, tachIsPhaseRelative, tachReset, tachSpeedNow };
export function counterOf(offset: i32): u32 { return load<u32>(COUNTERS + offset); }
export function configAddress(): usize { return CONFIGURATION; }
export function process(shaft: i32, high: u32, low: u32): void {
  tachProcess(shaft, ((<u64>high) << 32) | <u64>low);
}
/** Takes low words at INPUT as the pipeline does; returns how many a run took. */
export function processBlock(shaft: i32, high: u32, low: u32, count: i32, due: i32): i32 {
  const first: u64 = (<u64>high << 32) | <u64>low;
  const end = INPUT + 4 * count;
  let at = INPUT;
  let inRuns: i32 = 0;
  while (at < end) {
    const offset = load<u32>(at) - low;
    if (offset > <u32>due) break;
    const after = tachRun(shaft, first + <u64>offset, at, end, <u32>due - offset);
    inRuns += <i32>(after - at) >> 2;
    if (after == at) {
      tachProcess(shaft, first + <u64>offset);
      at += 4;
    } else at = after;
  }
  return inRuns;
}
export function expire(shaft: i32, high: u32, low: u32): void {
  tachExpire(shaft, ((<u64>high) << 32) | <u64>low);
}
`,
};
const ROOT = join(import.meta.dirname, "../../..");

interface Exports {
  memory: WebAssembly.Memory;
  configAddress(): number;
  tachReset(shaft: number): void;
  counterOf(offset: number): number;
  process(shaft: number, high: number, low: number): void;
  inputAddress(): number;
  processBlock(shaft: number, high: number, low: number, count: number, due: number): number;
  spacingSet(positions: number): void;
  shaftState(shaft: number): number;
  stateBytes(): number;
  plainInRowAt(): number;
  isDoubted(shaft: number): number;
  expire(shaft: number, high: number, low: number): void;
  tachSpeedNow(shaft: number): number;
  tachIsLocked(shaft: number): number;
  tachHasBeenLocked(shaft: number): number;
  tachIndexOffset(shaft: number): number;
  tachIsPhaseRelative(shaft: number): number;
}

/** Settings of one tachometer, in the units of a profile. */
export interface TachSettings {
  clockHz: number;
  positions: number;
  index: number;
  revolutions: number;
  speedMin: number;
  speedMax: number;
  accelerationMax: number;
  timeoutTicks: number;
  lockRevolutions: number;
  tolerance: number;
}

/** What the stage said to its neighbours, in order. */
export type TachCall =
  | { kind: "start"; tick: number; dt: number; positions: number }
  | { kind: "edge"; tick: number; positions: number; isBridged: boolean }
  | { kind: "lost" }
  | { kind: "event"; code: number; tick: number; detail: number };

async function sourceRead(name: string): Promise<string | null> {
  const standIn = STAND_INS[basename(name)];
  if (standIn !== undefined) return standIn;
  if (!/^(assembly|shared)\//.test(name)) return null;
  return readFile(join(ROOT, name), "utf8").catch(() => null);
}

/** Compiles the stage once. */
export async function tachCompile(): Promise<WebAssembly.Module> {
  let bytes: Uint8Array<ArrayBuffer> | undefined;
  const done = await compile(
    [
      "assembly/tach-entry.ts",
      "--outFile",
      "out.wasm",
      "--runtime",
      "stub",
      "--use",
      "abort=",
      "-O3",
    ],
    {
      readFile: sourceRead,
      writeFile: (_name: string, content: string | Uint8Array) => {
        if (typeof content !== "string") bytes = new Uint8Array(content);
      },
      listFiles: () => [],
    },
  );
  // oxlint-disable-next-line typescript/no-base-to-string -- asc gives its stream a text
  if (done.error !== null || bytes === undefined) throw new Error(done.stderr.toString());
  return new WebAssembly.Module(bytes);
}

/** One instance of the stage and what it told. */
export class TachStage {
  readonly calls: TachCall[] = [];
  readonly #x: Exports;
  readonly #shaft: number;

  constructor(module: WebAssembly.Module, settings: Partial<TachSettings>, shaft = 0) {
    this.#shaft = shaft;
    const log = {
      angleStart: (_s: number, tick: number, dt: number, positions: number) =>
        this.calls.push({ kind: "start", tick, dt: dt >>> 0, positions }),
      angleEdge: (_s: number, tick: number, positions: number, isBridged: number) =>
        this.calls.push({ kind: "edge", tick, positions, isBridged: isBridged !== 0 }),
      angleLost: (_s: number) => this.calls.push({ kind: "lost" }),
      event: (code: number, _source: number, tick: number, detail: number) =>
        this.calls.push({ kind: "event", code, tick, detail }),
    };
    const instance = new WebAssembly.Instance(module, { log });
    this.#x = instance.exports as unknown as Exports;
    this.#configure({ ...TACH_DEFAULTS, ...settings });
  }

  #configure(s: TachSettings): void {
    const at = this.#x.configAddress();
    const view = new DataView(this.#x.memory.buffer);
    view.setUint32(at + GLOBAL_CLOCK_HZ, s.clockHz, true);
    const shaft = at + CONFIG_SHAFTS + this.#shaft * SHAFT_BYTES;
    view.setInt32(shaft + SHAFT_POSITIONS, s.positions, true);
    view.setInt32(shaft + SHAFT_INDEX, s.index, true);
    view.setInt32(shaft + SHAFT_REVOLUTIONS, s.revolutions, true);
    view.setFloat32(shaft + SHAFT_SPEED_MIN, s.speedMin, true);
    view.setFloat32(shaft + SHAFT_SPEED_MAX, s.speedMax, true);
    view.setFloat32(shaft + SHAFT_ACCELERATION_MAX, s.accelerationMax, true);
    view.setUint32(shaft + SHAFT_TIMEOUT_TICKS, s.timeoutTicks, true);
    view.setInt32(shaft + SHAFT_LOCK_REVOLUTIONS, s.lockRevolutions, true);
    view.setFloat32(shaft + SHAFT_EDGE_TOLERANCE, s.tolerance, true);
    this.#x.tachReset(this.#shaft);
  }

  /** Every tick is an exact whole number below 2^53. */
  feed(ticks: Iterable<number>): this {
    for (const tick of ticks) this.#x.process(this.#shaft, Math.floor(tick / 2 ** 32), tick >>> 0);
    return this;
  }
  feedWide(high: number, low: number): void {
    this.#x.process(this.#shaft, high, low);
  }
  /** Positions from knot to knot that the angle is said to have. */
  set spacing(positions: number) {
    this.#x.spacingSet(positions);
  }
  /** Takes a block's ascending ticks, the runs of plain edges together; how many came in runs. */
  feedBlock(ticks: readonly number[]): number {
    if (ticks.length === 0) return 0;
    const first = ticks[0]!;
    const words = new Uint32Array(this.#x.memory.buffer, this.#x.inputAddress(), ticks.length);
    words.set(ticks.map((tick) => tick >>> 0));
    const due = ticks.at(-1)! - first;
    const high = Math.floor(first / 2 ** 32);
    return this.#x.processBlock(this.#shaft, high, first >>> 0, ticks.length, due);
  }
  /** All that is remembered; plain edges in a row count only while something is doubted. */
  get state(): Uint8Array {
    const at = this.#x.shaftState(this.#shaft);
    const bytes = new Uint8Array(this.#x.memory.buffer, at, this.#x.stateBytes()).slice();
    const plain = this.#x.plainInRowAt();
    if (this.#x.isDoubted(this.#shaft) === 0) bytes.fill(0, plain, plain + 4);
    return bytes;
  }
  expire(tick: number): this {
    this.#x.expire(this.#shaft, Math.floor(tick / 2 ** 32), tick >>> 0);
    return this;
  }
  reset(): void {
    this.#x.tachReset(this.#shaft);
  }
  counter(offset: number): number {
    return this.#x.counterOf(offset + 4 * this.#shaft) >>> 0;
  }
  get speed(): number {
    return this.#x.tachSpeedNow(this.#shaft);
  }
  get isLocked(): boolean {
    return this.#x.tachIsLocked(this.#shaft) !== 0;
  }
  get hasBeenLocked(): boolean {
    return this.#x.tachHasBeenLocked(this.#shaft) !== 0;
  }
  get indexOffset(): number {
    return this.#x.tachIndexOffset(this.#shaft);
  }
  get isPhaseRelative(): boolean {
    return this.#x.tachIsPhaseRelative(this.#shaft) !== 0;
  }
  get events(): { code: number; tick: number; detail: number }[] {
    return this.calls
      .filter((call) => call.kind === "event")
      .map(({ code, tick, detail }) => ({ code, tick, detail }));
  }
  get edges(): { tick: number; positions: number; isBridged: boolean }[] {
    return this.calls
      .filter((call) => call.kind === "edge")
      .map(({ tick, positions, isBridged }) => ({ tick, positions, isBridged }));
  }
  get starts(): { tick: number; dt: number; positions: number }[] {
    return this.calls
      .filter((call) => call.kind === "start")
      .map(({ tick, dt, positions }) => ({ tick, dt, positions }));
  }
}

/** 80 MHz, 60 positions, 5 to 400 rev/s, 30 rev/s², a quarter of a pitch. */
export const TACH_DEFAULTS: TachSettings = {
  clockHz: 80e6,
  positions: 60,
  index: 0,
  revolutions: 1,
  speedMin: 2,
  speedMax: 500,
  accelerationMax: 30,
  timeoutTicks: 40e6,
  lockRevolutions: 2,
  tolerance: 0.25,
};
