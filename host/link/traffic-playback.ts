// Serves a traffic log without the device: what was asked then must be asked again, byte for byte, and
// what was answered is answered.
import { closeSync, openSync, readSync } from "node:fs";
import { fileComplaint, InputError } from "../input-error.ts";
import { systemReason } from "../system-error.ts";
import {
  type LinkError,
  logCutShort,
  logDiffers,
  logHasNoMore,
  logHasNot,
  logLineWrong,
} from "./link-error.ts";
import type { BytePort } from "./port.ts";
import { type SessionMark, TRAFFIC_HEAD } from "./traffic-log.ts";

/** Longer than any that a log is written with. */
const LINE_CHARS_MAX = 8192;
const CHUNK_BYTES = 65_536;

interface Line {
  text: string;
  number: number;
  /** In the file, of the line after it. */
  endByte: number;
}

/**
 * Whole lines of a file from a byte on; the last gives what stands after the last line's end.
 *
 * Errors    InputError where a line is longer than any of a log
 */
function* linesOf(path: string, from: number, firstNumber: number): Generator<Line, string> {
  const file = openSync(path, "r");
  try {
    const chunk = Buffer.alloc(CHUNK_BYTES);
    let left = "";
    let at = from;
    let number = firstNumber;
    for (;;) {
      const count = readSync(file, chunk, 0, CHUNK_BYTES, at);
      if (count === 0) return left;
      const text = left + chunk.toString("latin1", 0, count);
      let begin = 0;
      for (let end = text.indexOf("\n"); end >= 0; end = text.indexOf("\n", begin)) {
        const endByte = at - left.length + end + 1;
        yield { text: text.slice(begin, end), number, endByte };
        number += 1;
        begin = end + 1;
      }
      at += count;
      left = text.slice(begin);
      if (left.length > LINE_CHARS_MAX) {
        const message = "a line is longer than any of a traffic log";
        throw new InputError({ file: path, line: number, column: 1, message });
      }
    }
  } finally {
    closeSync(file);
  }
}

/** Where a session begins in its file. */
interface Place extends SessionMark {
  fromByte: number;
  firstLine: number;
}

function markOf(text: string): SessionMark | undefined {
  const found = /^open (\d{1,10}) (\d{1,5}) (".*")$/.exec(text);
  if (found === null) return undefined;
  const [, session, firstSequence, label] = found;
  return {
    session: Number(session),
    firstSequence: Number(firstSequence),
    label: wordsOf(label!),
  };
}

/** Text of a log, which is read byte by byte, as it was written. */
function wordsOf(json: string): string {
  try {
    return String(JSON.parse(Buffer.from(json, "latin1").toString("utf8")));
  } catch {
    return json;
  }
}

/** A log that was read through once: which sessions it holds. */
export class TrafficArchive {
  readonly path: string;
  readonly #places = new Map<string, Place>();

  /** Errors: InputError where the file cannot be read or is no traffic log. */
  constructor(path: string) {
    this.path = path;
    try {
      const lines = linesOf(path, 0, 1);
      const first = lines.next();
      if (first.done === true || first.value.text !== TRAFFIC_HEAD) {
        throw fileComplaint(path, `is no traffic log: its first line is not "${TRAFFIC_HEAD}"`);
      }
      for (const { text, number, endByte } of lines) {
        const mark = text.startsWith("open ") ? markOf(text) : undefined;
        if (mark === undefined) continue;
        this.#places.set(mark.label, { ...mark, fromByte: endByte, firstLine: number + 1 });
      }
    } catch (error) {
      if (error instanceof InputError) throw error;
      const reason = systemReason((error as NodeJS.ErrnoException).code);
      throw fileComplaint(path, `the traffic log cannot be read (${reason})`);
    }
  }

  /** Errors: LinkError where no session has this label. */
  mark(label: string): SessionMark {
    return this.#place(label);
  }

  port(label: string): BytePort {
    return new PlaybackPort(this.path, this.#place(label));
  }

  #place(label: string): Place {
    const place = this.#places.get(label.slice(0, 1000));
    if (place === undefined) throw logHasNot(this.path, label);
    return place;
  }
}

/** What comes once so many bytes were sent. */
interface Due {
  afterBytes: number;
  bytes?: Uint8Array;
  /** The port is lost here, as it was then, or because nothing more is known. */
  end?: string | LinkError;
}

const NONE = new Uint8Array(0);

class PlaybackPort implements BytePort {
  readonly #path: string;
  readonly #place: Place;
  #lines: Generator<Line, string> | undefined;
  /** In the file, of the line that is read next. */
  #byte: number;
  /** What must be sent next; empty where the session sent nothing more. */
  #expected: Uint8Array = NONE;
  /** Bytes of all that was read of it so far. */
  #expectedBytes = 0;
  #sentBytes = 0;
  #packets = 0;
  #due: Due[] = [];
  #isReadToEnd = false;
  #isServing = false;
  #take: (bytes: Uint8Array) => void = () => {};
  #closed: (reason: string | LinkError) => void = () => {};

  constructor(path: string, place: Place) {
    this.#path = path;
    this.#place = place;
    this.#byte = place.fromByte;
  }

  async open(): Promise<void> {
    this.#lines = linesOf(this.#path, this.#place.fromByte, this.#place.firstLine);
    this.#readOn();
    this.#serveSoon();
  }

  write(bytes: Uint8Array): void {
    if (this.#lines === undefined) return;
    this.#packets += 1;
    const { label } = this.#place;
    for (const byte of bytes) {
      if (this.#expected.byteLength === 0) {
        // Nothing more was sent: where the port is lost here, that is said; else it is another run.
        if (this.#due.at(-1)?.end === undefined) {
          this.#lost(logHasNoMore(this.#path, label, this.#packets, this.#sentBytes));
        }
        break;
      }
      if (this.#expected[0] !== byte) {
        this.#lost(logDiffers(this.#path, label, this.#packets, this.#sentBytes));
        break;
      }
      this.#sentBytes += 1;
      this.#expected = this.#expected.subarray(1);
      if (this.#expected.byteLength === 0) this.#readOn();
    }
    this.#serveSoon();
  }

  onBytes(take: (bytes: Uint8Array) => void): void {
    this.#take = take;
  }

  onClosed(take: (reason: string | LinkError) => void): void {
    this.#closed = take;
  }

  async close(): Promise<void> {
    this.#lines?.return("");
    this.#lines = undefined;
  }

  #lost(reason: string | LinkError): void {
    void this.close();
    this.#closed(reason);
  }

  /** Reads up to the next bytes to the device, or to the session's end. */
  #readOn(): void {
    while (this.#lines !== undefined && !this.#isReadToEnd) {
      const next = this.#lines.next();
      const afterBytes = this.#expectedBytes;
      if (next.done === true) {
        this.#isReadToEnd = true;
        const cutAt = this.#byte + next.value.length;
        this.#due.push({ afterBytes, end: logCutShort(this.#path, cutAt) });
        return;
      }
      const { text, number, endByte } = next.value;
      this.#byte = endByte;
      const found = /^\d+\.\d+ ([<>]) ((?:[0-9a-f]{2})+)$/.exec(text);
      if (found === null) {
        this.#isReadToEnd = true;
        if (text !== "close") this.#due.push({ afterBytes, end: this.#endOf(text, number) });
        return;
      }
      const bytes = Buffer.from(found[2]!, "hex");
      if (found[1] === "<") {
        this.#due.push({ afterBytes, bytes });
      } else {
        this.#expected = bytes;
        this.#expectedBytes += bytes.byteLength;
        return;
      }
    }
  }

  #endOf(text: string, number: number): string | LinkError {
    if (text.startsWith('lost "')) return wordsOf(text.slice(5));
    return logLineWrong(this.#path, number);
  }

  /** After whoever wrote has come to an end: an answer never comes from within a question. */
  #serveSoon(): void {
    if (this.#isServing) return;
    this.#isServing = true;
    queueMicrotask(() => {
      this.#isServing = false;
      this.#serve();
    });
  }

  #serve(): void {
    while (this.#lines !== undefined) {
      const next = this.#due[0];
      if (next === undefined || next.afterBytes > this.#sentBytes) return;
      this.#due.shift();
      if (next.bytes !== undefined) this.#take(next.bytes);
      if (next.end !== undefined) this.#lost(next.end);
    }
  }
}
