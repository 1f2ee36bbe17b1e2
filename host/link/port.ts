import type { LinkError } from "./link-error.ts";

/** Why a port cannot be opened, in a sentence that says what to do. */
export class PortError extends Error {}

/** Where bytes go out and come in: a serial port, a pipe, memory. Bytes stay in order, or are lost. */
export interface BytePort {
  /** Opens it. Errors: an Error with the reason in a sentence. */
  open(): Promise<void>;
  /** Hands over bytes for the line; they are not changed afterwards. Trouble is told by onClosed. */
  write(bytes: Uint8Array): void;
  /** Who takes what comes in; set before open. A piece is valid during the call only. */
  onBytes(take: (bytes: Uint8Array) => void): void;
  /**
   * Who is told that the port is gone, with the reason; not after `close`.
   *
   * Shape     a LinkError is a whole sentence of its own, text only says what happened to the port
   */
  onClosed(take: (reason: string | LinkError) => void): void;
  close(): Promise<void>;
}
