// The only user of @assemblyscript/loader. Addresses are asked by export, since static data starts
// elsewhere in each build; views are made once, since the memory cannot grow.
import { createHash } from "node:crypto";
import { readFileSync } from "node:fs";
import { instantiateSync } from "@assemblyscript/loader";
import {
  BLOCK_BYTES_MAX,
  CONFIG_BYTES,
  COUNTERS_BYTES,
  GLOBAL_LENGTH,
  LAYOUT_VERSION,
  RECORD_BYTES,
  REFUSAL_BYTES,
  REFUSAL_FOUND,
  REFUSAL_LIMIT,
  REFUSAL_OFFSET,
  REFUSAL_RULE,
} from "../shared/layout.ts";
import { RECORDS_MAX } from "../shared/capacity.ts";
import { LINK_COUNTERS_BYTES, PORT_BYTES } from "../shared/link.ts";
import * as STATUS from "../shared/status.ts";
import type { Counters } from "./record-types.ts";
import { decodeCounters } from "./records.ts";
import { messageOf } from "./error-message.ts";

const TWO_32 = 4294967296;
const NO_RECORDS = new Uint8Array(0);

/** What the firmware offers: numbers only. */
interface CoreExports extends Record<string, unknown> {
  memory: WebAssembly.Memory;
  addressConfiguration(): number;
  addressActiveConfiguration(): number;
  addressBlock(): number;
  addressRecords(): number;
  addressCounters(): number;
  addressRefusal(): number;
  configure(): number;
  process(): number;
  takeShown(display: number, counts: number, tickLow: number, tickHigh: number): number;
  recordCount(): number;
  recordsClear(): void;
  reset(): void;
  layoutVersion(): number;
  numericsVersion(): number;
  addressPort(): number;
  addressLinkCounters(): number;
  linkStart(): void;
  linkTake(byte: number): void;
  linkGive(): number;
}

type Address = Extract<(typeof FUNCTIONS)[number], `address${string}`>;

/** The name of a status number, e.g. "ERR_EDGE_ORDER". */
export function statusName(status: number): string {
  for (const [name, value] of Object.entries(STATUS)) if (value === status) return name;
  return `status ${status}`;
}

/** The firmware refused a configuration: the first broken rule. */
export class ConfigurationRefused extends Error {
  /** By this an adapter's own is told, too, whose class may be another copy. */
  override readonly name = "ConfigurationRefused";
  readonly rule: number;
  readonly fieldOffset: number;
  readonly found: number;
  readonly limit: number;
  constructor(rule: number, fieldOffset: number, found: number, limit: number) {
    super(
      `configuration refused: ${statusName(rule)} at byte ${fieldOffset}, ` +
        `found ${found}, limit ${limit}`,
    );
    this.rule = rule;
    this.fieldOffset = fieldOffset;
    this.found = found;
    this.limit = limit;
  }
}

/** The firmware refused a block, whole. */
export class BlockRefused extends Error {
  override readonly name = "BlockRefused";
  readonly status: number;
  constructor(status: number) {
    super(`block refused: ${statusName(status)}`);
    this.status = status;
  }
}

const FUNCTIONS = [
  "addressConfiguration",
  "addressActiveConfiguration",
  "addressBlock",
  "addressRecords",
  "addressCounters",
  "addressRefusal",
  "configure",
  "process",
  "takeShown",
  "recordCount",
  "recordsClear",
  "reset",
  "layoutVersion",
  "numericsVersion",
  "addressPort",
  "addressLinkCounters",
  "linkStart",
  "linkTake",
  "linkGive",
] as const satisfies (keyof CoreExports)[];

/** First 16 hex digits of SHA-256 over the wasm bytes. */
export function coreIdentity(wasm: Uint8Array): string {
  return createHash("sha256").update(wasm).digest("hex").slice(0, 16);
}

/** Errors: an Error that says in a sentence why these bytes are no core. */
function exportsOf(wasm: Uint8Array | WebAssembly.Module): CoreExports {
  let exports: CoreExports;
  try {
    ({ exports } = instantiateSync<CoreExports>(wasm, {}));
  } catch (error) {
    const said = messageOf(error);
    throw new Error(`no WebAssembly module that starts without imports: ${said}`, { cause: error });
  }
  const missing = FUNCTIONS.find((name) => typeof exports[name] !== "function");
  if (missing !== undefined) throw new Error(`a module, but no core: it lacks "${missing}"`);
  if (!(exports.memory instanceof WebAssembly.Memory)) {
    throw new Error('a module, but no core: it lacks "memory"');
  }
  return exports;
}

/** One instance of the signal path in this process. */
export class Core {
  /** What results name the firmware by: coreIdentity of its bytes, or of those it stands for. */
  readonly identity: string;
  readonly layoutVersion: number;
  readonly numericsVersion: number;
  /** All of the firmware's memory; the block is written here. */
  readonly bytes: Uint8Array;
  readonly view: DataView;
  readonly words: Uint32Array;
  readonly floats: Float32Array;
  readonly halves: Int16Array;
  readonly blockAddress: number;
  readonly #exports: CoreExports;
  readonly #recordsAddress: number;

  /**
   * Instantiates the firmware from its bytes, or from a module with the identity it stands for.
   *
   * Errors    throws where the bytes are no wasm, import anything, or speak another layout
   */
  constructor(wasm: Uint8Array);
  constructor(module: WebAssembly.Module, identity: string);
  constructor(wasm: Uint8Array | WebAssembly.Module, identity?: string) {
    this.#exports = exportsOf(wasm);
    this.identity = wasm instanceof WebAssembly.Module ? identity! : coreIdentity(wasm);
    this.layoutVersion = this.#whole("layoutVersion");
    this.numericsVersion = this.#whole("numericsVersion");
    if (this.layoutVersion !== LAYOUT_VERSION) {
      throw new Error(`core speaks layout ${this.layoutVersion}, this host ${LAYOUT_VERSION}`);
    }
    const buffer = this.#exports.memory.buffer;
    if (buffer.byteLength !== 65536) {
      throw new Error(`core has ${buffer.byteLength} bytes of memory, expected one page`);
    }
    this.bytes = new Uint8Array(buffer);
    this.view = new DataView(buffer);
    this.words = new Uint32Array(buffer);
    this.floats = new Float32Array(buffer);
    this.halves = new Int16Array(buffer);
    this.blockAddress = this.#place("addressBlock", BLOCK_BYTES_MAX);
    this.#recordsAddress = this.#place("addressRecords", RECORDS_MAX * RECORD_BYTES);
  }

  /**
   * What a call gave. Errors: it grew the memory, be it by nothing, which leaves our views without
   * a byte.
   */
  #given<T>(value: T): T {
    if (this.bytes.byteLength > 0) return value;
    throw new Error("the core grew its memory, which is one page and must stay so");
  }

  /** A number that the firmware gives, which a firmware of others may give as anything. */
  #whole(name: "layoutVersion" | "numericsVersion" | Address): number {
    const value: unknown = this.#exports[name]();
    if (Number.isInteger(value)) return value as number;
    throw new Error(`core gives ${String(value)} as ${name}, no whole number`);
  }

  /** Where so many bytes stand. Errors: they do not lie in the firmware's memory. */
  #place(name: Address, bytes: number): number {
    const at = this.#given(this.#whole(name));
    if (at >= 0 && at + bytes <= this.bytes.byteLength) return at;
    throw new Error(`core gives ${at} as ${name}: what stands there is not in its memory`);
  }

  static fromFile(path: string | URL): Core {
    return new Core(readFileSync(path));
  }

  /**
   * Hands over a configuration; the firmware checks it whole before anything is committed.
   *
   * Errors    ConfigurationRefused with the first broken rule; what was active before stays
   */
  configure(configuration: Uint8Array): void {
    const found = configuration.byteLength;
    if (found !== CONFIG_BYTES) {
      const rule = STATUS.ERR_CONFIG_LENGTH;
      throw new ConfigurationRefused(rule, GLOBAL_LENGTH, found, CONFIG_BYTES);
    }
    this.bytes.set(configuration, this.#place("addressConfiguration", CONFIG_BYTES));
    if (this.#given(this.#exports.configure()) !== STATUS.OK) {
      const at = this.#place("addressRefusal", REFUSAL_BYTES);
      throw new ConfigurationRefused(
        this.view.getInt32(at + REFUSAL_RULE, true),
        this.view.getInt32(at + REFUSAL_OFFSET, true),
        this.view.getFloat32(at + REFUSAL_FOUND, true),
        this.view.getFloat32(at + REFUSAL_LIMIT, true),
      );
    }
  }

  /** A copy of the configuration that is active, as the firmware holds it. */
  activeConfiguration(): Uint8Array {
    const at = this.#place("addressActiveConfiguration", CONFIG_BYTES);
    return this.bytes.slice(at, at + CONFIG_BYTES);
  }

  /** Takes the block that was written at `blockAddress`; BlockRefused with the status otherwise. */
  process(): void {
    const status = this.#given(this.#exports.process());
    if (status !== STATUS.OK) throw new BlockRefused(status);
  }

  /**
   * Takes a number that was shown elsewhere into a display's caution stage, in place of a block.
   *
   * Units     counts of the display's step; tick of the display step, exact up to 2^53
   * Errors    BlockRefused: not configured, or no such display
   */
  takeShown(display: number, counts: number, tick: number): void {
    const high = Math.floor(tick / TWO_32);
    const given = this.#exports.takeShown(display, counts, tick % TWO_32, high);
    const status = this.#given(given);
    if (status !== STATUS.OK) throw new BlockRefused(status);
  }

  /**
   * Bytes of the records that wait, at most RECORDS_MAX of them; a view, valid until the next
   * call.
   */
  takeRecords(): Uint8Array {
    const count = this.#given(this.#exports.recordCount());
    if (count === 0) return NO_RECORDS;
    if (count < 0 || count > RECORDS_MAX) throw new Error(`core holds ${count} records`);
    this.#given(this.#exports.recordsClear());
    return this.bytes.subarray(this.#recordsAddress, this.#recordsAddress + count * RECORD_BYTES);
  }

  counters(): Counters {
    const at = this.#place("addressCounters", COUNTERS_BYTES);
    return decodeCounters(new DataView(this.view.buffer, at, COUNTERS_BYTES), 0);
  }

  /** Back to the state just after configure. */
  reset(): void {
    this.#given(this.#exports.reset());
  }

  // --- the device's side of a serial link

  /**
   * The line is quiet and no session stands; what the port says of itself goes to its place.
   *
   * Shape     PORT_BYTES bytes
   */
  linkStart(port: Uint8Array): void {
    if (port.byteLength !== PORT_BYTES) throw new Error(`a port says ${PORT_BYTES} bytes`);
    this.bytes.set(port, this.#place("addressPort", PORT_BYTES));
    this.#given(this.#exports.linkStart());
  }

  /** Takes one byte from the line. Traps while an answer waits: `linkGive` comes first. */
  linkTake(byte: number): void {
    this.#given(this.#exports.linkTake(byte));
  }

  /** The next byte of an answer for the line, or −1 where there is none. */
  linkGive(): number {
    return this.#given(this.#exports.linkGive());
  }

  /** A copy of the link's own counters. */
  linkCounters(): Uint8Array {
    const at = this.#place("addressLinkCounters", LINK_COUNTERS_BYTES);
    return this.bytes.slice(at, at + LINK_COUNTERS_BYTES);
  }
}
