// A port that stays open from one session to the next: some boards start anew whenever theirs is
// opened.
import type { LinkError } from "./link-error.ts";
import type { BytePort } from "./port.ts";

export class KeptPort implements BytePort {
  readonly #port: BytePort;
  #isOpen = false;
  #isInUse = false;
  #take: (bytes: Uint8Array) => void = () => {};
  #closed: (reason: string | LinkError) => void = () => {};

  constructor(port: BytePort) {
    this.#port = port;
    port.onBytes((bytes) => {
      if (this.#isInUse) this.#take(bytes);
    });
    port.onClosed((reason) => {
      this.#isOpen = false;
      if (this.#isInUse) this.#closed(reason);
    });
  }

  async open(): Promise<void> {
    if (!this.#isOpen) await this.#port.open();
    this.#isOpen = true;
    this.#isInUse = true;
  }

  write(bytes: Uint8Array): void {
    this.#port.write(bytes);
  }

  onBytes(take: (bytes: Uint8Array) => void): void {
    this.#take = take;
  }

  onClosed(take: (reason: string | LinkError) => void): void {
    this.#closed = take;
  }

  /** Ends a session; the port itself stays open, and what comes meanwhile is gone. */
  async close(): Promise<void> {
    this.#isInUse = false;
  }

  /** Closes the port itself. */
  async end(): Promise<void> {
    this.#isInUse = false;
    this.#isOpen = false;
    await this.#port.close();
  }
}
