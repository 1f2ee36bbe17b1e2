// The firmware as C, built and started when it is first asked for, as a port of bytes: on the
// emulated board behind its serial port, or on this machine as a process.
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { setTimeout } from "node:timers/promises";
import { messageOf } from "../error-message.ts";
import { ChildPort } from "../link/child-port.ts";
import { LinkError } from "../link/link-error.ts";
import { type BytePort, PortError } from "../link/port.ts";
import { SerialBytePort } from "../link/serial-port.ts";
import { buildBoard } from "./build.ts";
import type { BoardName } from "./compile.ts";
import { type EmulatedBoard, startBoard } from "./emulator.ts";
import { ARM_COMPILER, EMULATOR, ToolMissing, WASM_TO_C, toolPaths } from "./tools.ts";

/** By then this process has heard of an interrupt that another one got. */
const INTERRUPT_MS = 50;

export class BoardPort implements BytePort {
  readonly #board: BoardName;
  #folder: string | undefined;
  #port: BytePort | undefined;
  #emulated: EmulatedBoard | undefined;
  #take: (bytes: Uint8Array) => void = () => {};
  #closed: Parameters<BytePort["onClosed"]>[0] = () => {};

  constructor(board: BoardName) {
    this.#board = board;
  }

  /** Errors: PortError where a tool is missing, a build fails or the board does not start. */
  async open(): Promise<void> {
    try {
      const port = await this.#start();
      port.onBytes((bytes) => this.#take(bytes));
      port.onClosed((reason) => void this.#lost(reason));
      this.#port = port;
      await port.open();
    } catch (error) {
      await this.close();
      if (error instanceof PortError) throw error;
      if ((error as { signal?: unknown }).signal === "SIGINT") {
        // The compiler got the interrupt before this process could see to it.
        await setTimeout(INTERRUPT_MS);
        throw new DOMException("interrupted while the board was built", "AbortError");
      }
      const said = messageOf(error);
      const isWhole = error instanceof ToolMissing;
      throw new PortError(isWhole ? said : `board ${this.#board}: ${said}`, { cause: error });
    }
  }

  async #start(): Promise<BytePort> {
    const isEmulated = this.#board !== "posix";
    // All that is missing is told at once, and before a build that would be for nothing.
    if (isEmulated) toolPaths([WASM_TO_C, ARM_COMPILER, EMULATOR]);
    this.#folder = mkdtempSync(join(tmpdir(), "amberline-board-"));
    const { programPath } = buildBoard({ board: this.#board, into: this.#folder });
    if (!isEmulated) return new ChildPort(programPath);
    this.#emulated = await startBoard({ programPath });
    return new SerialBytePort(this.#emulated.ptyPath);
  }

  async #lost(reason: string | LinkError): Promise<void> {
    const why = await this.#emulated?.ended();
    this.#closed(
      why === undefined
        ? reason
        : new LinkError("closed", `${why}: the same command with --resume starts another`),
    );
  }

  write(bytes: Uint8Array): void {
    this.#port?.write(bytes);
  }

  onBytes(take: (bytes: Uint8Array) => void): void {
    this.#take = take;
  }

  onClosed(take: Parameters<BytePort["onClosed"]>[0]): void {
    this.#closed = take;
  }

  /** Ends the board, and removes what was built. */
  async close(): Promise<void> {
    await this.#port?.close();
    await this.#emulated?.stop();
    this.#port = undefined;
    this.#emulated = undefined;
    if (this.#folder !== undefined) rmSync(this.#folder, { recursive: true, force: true });
    this.#folder = undefined;
  }
}
