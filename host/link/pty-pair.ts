// A pseudo-terminal as a line: this side holds the master as a port, and whoever opens the path of
// the slave has a serial port. No system package is needed.
import { closeSync, write as writeFile } from "node:fs";
import { ReadStream } from "node:tty";
import { PTY_PACKAGE, loadOptional, loadWithin } from "./optional-package.ts";
import type { BytePort } from "./port.ts";
import { messageOf } from "../error-message.ts";

/** A pseudo-terminal holds about 4 KiB; a longer piece would stand in the way of its own reader. */
const PIECE_BYTES = 2048;
/** How long to wait where it is full. */
const FULL_MS = 1;
/** A host that went away reads nothing: what waits longer than this many bytes is lost, as on a line. */
export const WAITING_BYTES_MAX = 1 << 20;

/** This system has no pseudo-terminal to give. */
export class NoPty extends Error {}

interface Native {
  open?: (columns: number, rows: number) => { master: number; slave: number; pty: string };
}

export interface PtyPortOptions {
  /** Gives the package's compiled part; tests give another. */
  load?: () => unknown;
  platform?: NodeJS.Platform;
}

// Its public open() reads the slave itself and takes bytes away; the compiled part beneath does not.
function loadNative(): unknown {
  return loadWithin(
    PTY_PACKAGE.name,
    `${PTY_PACKAGE.name}-${process.platform}-${process.arch}/pty.node`,
  );
}

/** The master's side of a pseudo-terminal. */
export class PtyPort implements BytePort {
  readonly #options: PtyPortOptions;
  #path = "";
  #master = -1;
  /** Held open and never read, so that the line stays when its user leaves it. */
  #slave = -1;
  #stream: ReadStream | undefined;
  /** A stream that is to be closed. */
  #reader: ReadStream | undefined;
  #isWriting = false;
  #waiting: Uint8Array[] = [];
  #waitingBytes = 0;
  #take: (bytes: Uint8Array) => void = () => {};
  #closed: (reason: string) => void = () => {};

  constructor(options: PtyPortOptions = {}) {
    this.#options = options;
  }

  /** What the other side opens; empty before `open`. */
  get path(): string {
    return this.#path;
  }

  /** Errors: NoPty; MissingPackage. */
  async open(): Promise<void> {
    const { load = loadNative, platform = process.platform } = this.#options;
    if (platform === "win32") {
      throw new NoPty(
        "this system has no pseudo-terminals: they are offered on Linux and macOS; " +
          "a pair of serial ports joined by a cable does the same",
      );
    }
    const native = loadOptional(PTY_PACKAGE, load) as Native;
    let pair;
    try {
      pair = native.open!(80, 24);
    } catch (error) {
      const said = messageOf(error);
      throw new NoPty(
        `this system gives no pseudo-terminal (${said}): see that /dev/ptmx is there`,
        {
          cause: error,
        },
      );
    }
    this.#path = pair.pty;
    this.#master = pair.master;
    this.#slave = pair.slave;
    this.#stream = new ReadStream(pair.master);
    this.#stream.on("data", (bytes: Buffer) => this.#take(bytes));
    this.#stream.on("error", (error) => this.#lost(error.message));
  }

  write(bytes: Uint8Array): void {
    if (this.#stream === undefined) return;
    if (this.#waitingBytes + bytes.byteLength > WAITING_BYTES_MAX) return;
    for (let at = 0; at < bytes.byteLength; at += PIECE_BYTES) {
      this.#waiting.push(bytes.subarray(at, at + PIECE_BYTES));
    }
    this.#waitingBytes += bytes.byteLength;
    this.#writeNext();
  }

  // Not through the stream: it would hold up all else in this process until somebody reads.
  #writeNext(): void {
    const piece = this.#waiting[0];
    if (this.#isWriting || piece === undefined || this.#stream === undefined) return;
    this.#isWriting = true;
    writeFile(this.#master, piece, (error, count) => {
      this.#isWriting = false;
      if (this.#stream === undefined) {
        this.#closeFiles();
      } else if (error === null) {
        this.#waitingBytes -= count;
        if (count < piece.byteLength) this.#waiting[0] = piece.subarray(count);
        else this.#waiting.shift();
        this.#writeNext();
      } else if (error.code === "EAGAIN") {
        setTimeout(() => this.#writeNext(), FULL_MS);
      } else {
        this.#lost(error.message);
      }
    });
  }

  onBytes(take: (bytes: Uint8Array) => void): void {
    this.#take = take;
  }

  onClosed(take: (reason: string) => void): void {
    this.#closed = take;
  }

  /** Whoever has the other side open sees the plug pulled. */
  async close(): Promise<void> {
    if (this.#stream === undefined) return;
    const stream = this.#stream;
    this.#stream = undefined;
    this.#waiting = [];
    this.#waitingBytes = 0;
    const gone = new Promise<void>((resolve) => stream.once("close", () => resolve()));
    this.#reader = stream;
    // A number of a file must not be given to another while a write to it is on its way.
    if (!this.#isWriting) this.#closeFiles();
    await gone;
  }

  #closeFiles(): void {
    this.#reader?.destroy();
    this.#reader = undefined;
    if (this.#slave >= 0) closeSync(this.#slave);
    this.#slave = -1;
  }

  #lost(reason: string): void {
    if (this.#stream === undefined) return;
    void this.close();
    this.#closed(`the pseudo-terminal ${this.#path}: ${reason}`);
  }
}
