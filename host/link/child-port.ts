// A program's standard input and output as a line: a simulator or an emulated board of one's own.
import { type ChildProcess, spawn } from "node:child_process";
import { type BytePort, PortError } from "./port.ts";

/** After its input has ended a program has so long to end by itself. */
const END_MS = 1000;
/** Of what it says on the error stream the end is kept. */
const SAID_CHARS_MAX = 300;

export class ChildPort implements BytePort {
  readonly #command: string;
  readonly #args: readonly string[];
  #child: ChildProcess | undefined;
  #said = "";
  #take: (bytes: Uint8Array) => void = () => {};
  #closed: (reason: string) => void = () => {};

  constructor(command: string, args: readonly string[] = []) {
    this.#command = command;
    this.#args = args;
  }

  /** Errors: PortError where the program cannot be started. */
  async open(): Promise<void> {
    const child = spawn(this.#command, this.#args, { stdio: ["pipe", "pipe", "pipe"] });
    this.#said = "";
    child.stdout.on("data", (bytes: Buffer) => this.#take(bytes));
    child.stderr.on("data", (text: Buffer) => {
      this.#said = (this.#said + text.toString()).slice(-SAID_CHARS_MAX);
    });
    // Its end is told by "close"; a pipe that breaks before says nothing more.
    child.stdin.on("error", () => {});
    await new Promise<void>((resolve, reject) => {
      child.once("spawn", resolve);
      child.once("error", (error: NodeJS.ErrnoException) => {
        const why = error.code === "ENOENT" ? "there is no such program" : error.message;
        reject(new PortError(`${this.#command}: cannot be started (${why})`, { cause: error }));
      });
    });
    this.#child = child;
    child.once("close", (code, signal) => this.#ended(child, code, signal));
  }

  write(bytes: Uint8Array): void {
    this.#child?.stdin?.write(bytes);
  }

  onBytes(take: (bytes: Uint8Array) => void): void {
    this.#take = take;
  }

  onClosed(take: (reason: string) => void): void {
    this.#closed = take;
  }

  async close(): Promise<void> {
    const child = this.#child;
    this.#child = undefined;
    if (child === undefined || child.exitCode !== null || child.signalCode !== null) return;
    const ended = new Promise<void>((resolve) => child.once("close", () => resolve()));
    child.stdin?.end();
    const timer = setTimeout(() => child.kill("SIGKILL"), END_MS);
    await ended;
    clearTimeout(timer);
  }

  #ended(child: ChildProcess, code: number | null, signal: NodeJS.Signals | null): void {
    if (this.#child !== child) return;
    this.#child = undefined;
    const how = code === null ? `was ended by ${signal}` : `ended with code ${code}`;
    const said = this.#said.trim().split("\n").at(-1) ?? "";
    this.#closed(`the program ${this.#command} ${how}${said === "" ? "" : `: ${said}`}`);
  }
}
