// A raw log of what went over a line, as text that can be looked through, one session after another:
//
//   amberline traffic log 1
//   open <session> <first sequence> "<label>"
//   <ms since the opening> > <hex>      bytes to the device
//   <ms since the opening> < <hex>      bytes to the host
//   lost "<reason>"                     where the port was lost
//   close
//
// A session without "lost" or "close" was cut short.
import { closeSync, openSync, readSync, writeSync } from "node:fs";
import { systemReason } from "../system-error.ts";
import type { Clock } from "./clock.ts";
import { LinkError, logUnwritable } from "./link-error.ts";
import { type BytePort, PortError } from "./port.ts";

export const TRAFFIC_HEAD = "amberline traffic log 1";
/** Bytes on one line. */
const PIECE_BYTES = 256;
/** Of a label or a reason. */
const WORDS_CHARS_MAX = 1000;

/** What a session is found by, and what makes its bytes the same again. */
export interface SessionMark {
  label: string;
  session: number;
  firstSequence: number;
}

const quoted = (words: string): string => JSON.stringify(words.slice(0, WORDS_CHARS_MAX));

/** The line that a session begins with. */
export function openLine({ label, session, firstSequence }: SessionMark): string {
  return `open ${session} ${firstSequence} ${quoted(label)}`;
}

const TRIAL_BYTES = Buffer.byteLength(`${TRAFFIC_HEAD}\n`);

/** Whether a file may be written over: it is not there, is empty, or is a traffic log. */
export function isTrafficLog(path: string): boolean {
  let file;
  try {
    file = openSync(path, "r");
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === "ENOENT";
  }
  try {
    const head = Buffer.alloc(TRIAL_BYTES);
    const count = readSync(file, head, 0, TRIAL_BYTES, 0);
    return count === 0 || head.toString("latin1") === `${TRAFFIC_HEAD}\n`;
  } catch {
    return false;
  } finally {
    closeSync(file);
  }
}

/** A log that is being written, through whatever ports are given it, one at a time. */
export class TrafficLog {
  readonly path: string;
  readonly #file: number;

  /** Errors: PortError where the file cannot be written. */
  constructor(path: string) {
    this.path = path;
    try {
      this.#file = openSync(path, "w");
      this.add(TRAFFIC_HEAD);
    } catch (error) {
      throw new PortError(logUnwritable(path, reasonOf(error)).message, { cause: error });
    }
  }

  add(line: string): void {
    const bytes = Buffer.from(`${line}\n`);
    for (let done = 0; done < bytes.length;) done += writeSync(this.#file, bytes, done);
  }

  end(): void {
    closeSync(this.#file);
  }
}

const reasonOf = (error: unknown): string => systemReason((error as NodeJS.ErrnoException).code);

/** A port whose traffic is logged. */
export class LoggedPort implements BytePort {
  readonly #port: BytePort;
  readonly #log: TrafficLog;
  readonly #mark: SessionMark;
  readonly #clock: Clock;
  #openedMs = 0;
  /** Between open and close, while the log can be written. */
  #isLogged = false;
  #closed: (reason: string | LinkError) => void = () => {};

  constructor(port: BytePort, log: TrafficLog, mark: SessionMark, clock: Clock) {
    this.#port = port;
    this.#log = log;
    this.#mark = mark;
    this.#clock = clock;
    port.onClosed((reason) => {
      this.#add(`lost ${quoted(typeof reason === "string" ? reason : reason.message)}`);
      this.#isLogged = false;
      this.#closed(reason);
    });
  }

  async open(): Promise<void> {
    await this.#port.open();
    this.#openedMs = this.#clock.now();
    this.#isLogged = true;
    this.#add(openLine(this.#mark));
  }

  write(bytes: Uint8Array): void {
    this.#addBytes(">", bytes);
    if (this.#isLogged) this.#port.write(bytes);
  }

  onBytes(take: (bytes: Uint8Array) => void): void {
    this.#port.onBytes((bytes) => {
      this.#addBytes("<", bytes);
      if (this.#isLogged) take(bytes);
    });
  }

  onClosed(take: (reason: string | LinkError) => void): void {
    this.#closed = take;
  }

  async close(): Promise<void> {
    this.#add("close");
    this.#isLogged = false;
    await this.#port.close();
  }

  #addBytes(sign: ">" | "<", bytes: Uint8Array): void {
    const ms = (this.#clock.now() - this.#openedMs).toFixed(3);
    for (let at = 0; at < bytes.byteLength; at += PIECE_BYTES) {
      const piece = bytes.subarray(at, at + PIECE_BYTES);
      this.#add(`${ms} ${sign} ${Buffer.from(piece).toString("hex")}`);
    }
  }

  // A run whose log has a hole cannot be played back: it ends where the log does.
  #add(line: string): void {
    if (!this.#isLogged) return;
    try {
      this.#log.add(line);
    } catch (error) {
      this.#isLogged = false;
      this.#closed(logUnwritable(this.#log.path, reasonOf(error)));
    }
  }
}
