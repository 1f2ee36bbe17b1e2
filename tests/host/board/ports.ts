// Two ways to a board, as the link's client wants them: a serial line by its path, and a process.
import { type ChildProcessWithoutNullStreams, spawn } from "node:child_process";
import { SerialPort } from "serialport";
import type { BytePort } from "../../../host/link/port.ts";

const nobody = (): void => {};

/** A serial line, or a pseudo-terminal that stands for one. */
export class SerialLine implements BytePort {
  readonly #port: SerialPort;
  constructor(path: string) {
    this.#port = new SerialPort({ path, baudRate: 115_200, autoOpen: false });
  }
  open(): Promise<void> {
    return new Promise((resolve, reject) => {
      this.#port.open((error) => (error === null ? resolve() : reject(error)));
    });
  }
  write(bytes: Uint8Array): void {
    this.#port.write(Buffer.from(bytes));
  }
  onBytes(take: (bytes: Uint8Array) => void): void {
    this.#port.on("data", take);
  }
  onClosed(take: (reason: string) => void): void {
    this.#port.on("close", (error: Error | null) => {
      if (error) take(error.message);
    });
  }
  close(): Promise<void> {
    return new Promise((resolve) => this.#port.close(() => resolve()));
  }
}

/** A program that speaks the link on its standard input and output. */
export class ProcessLine implements BytePort {
  readonly #path: string;
  #child: ChildProcessWithoutNullStreams | undefined;
  #take: (bytes: Uint8Array) => void = nobody;
  #closed: (reason: string) => void = nobody;
  /** Resolves with its exit code. */
  ended: Promise<number | null> = Promise.resolve(null);
  constructor(path: string) {
    this.#path = path;
  }
  async open(): Promise<void> {
    const child = spawn(this.#path, { stdio: "pipe" });
    this.#child = child;
    child.stdout.on("data", (piece: Buffer) => this.#take(piece));
    child.stdin.on("error", nobody);
    this.ended = new Promise((resolve) => {
      child.once("close", (code) => {
        this.#closed(`the program ended with code ${code}`);
        resolve(code);
      });
    });
  }
  write(bytes: Uint8Array): void {
    this.#child?.stdin.write(Buffer.from(bytes));
  }
  onBytes(take: (bytes: Uint8Array) => void): void {
    this.#take = take;
  }
  onClosed(take: (reason: string) => void): void {
    this.#closed = take;
  }
  async close(): Promise<void> {
    this.#closed = nobody;
    this.#child?.stdin.end();
    await this.ended;
  }
}
