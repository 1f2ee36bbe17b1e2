// The core as a device behind a port: what a board's main loop does, in this process.
import {
  FAULT_BODY_BYTES,
  FAULT_REASON_ASSERTION,
  FAULT_REASON_BOUNDS,
  FAULT_REASON_OTHER,
  PACKET_ANSWER,
  PACKET_BODY_MAX,
  PACKET_CHECK_BYTES,
  PACKET_FAULT,
  PACKET_HEAD_BYTES,
  SLIP_END,
} from "../../shared/link.ts";
import type { CallLimit } from "../call-limit.ts";
import type { Core } from "../core.ts";
import { encodePacket, encodePortFacts } from "./packet.ts";
import type { BytePort } from "./port.ts";
import { slipEncode } from "./slip.ts";

/** A ring of so many bytes is what small boards have to spare; it holds the longest packet. */
export const CREDIT_BYTES = 8192;

/** An answer on the line: each of its bytes as two, an END at both ends. */
const ANSWER_BYTES_MAX = 2 * (PACKET_HEAD_BYTES + PACKET_BODY_MAX + PACKET_CHECK_BYTES) + 2;

export interface DeviceOptions {
  creditBytes?: number;
  /** What it says of itself; unless told otherwise the core's own identity. */
  identity?: string;
  /** Called when a packet was done, before its answer leaves; the packet's body is still in place. */
  onAnswer?: (answer: Uint8Array) => void;
  /** Called when the firmware has stopped; the host was told. Nothing is answered before a start. */
  onFault?: (error: unknown) => void;
  /** Of a firmware that is not our own, which may not come back from what it was given. */
  limit?: CallLimit | undefined;
}

/** The last words of a firmware that has stopped, as a board sends them. */
function faultFrame(error: unknown): Uint8Array {
  const said = error instanceof Error ? error.message : "";
  const body = new Uint8Array(FAULT_BODY_BYTES);
  const reason = /unreachable/.test(said)
    ? FAULT_REASON_ASSERTION
    : /out of bounds/.test(said)
      ? FAULT_REASON_BOUNDS
      : FAULT_REASON_OTHER;
  new DataView(body.buffer).setUint32(0, reason, true);
  const head = { type: PACKET_FAULT | PACKET_ANSWER, sequence: 0, acknowledged: 0 };
  return slipEncode(encodePacket(head, body));
}

export class LinkDevice {
  readonly core: Core;
  readonly #port: BytePort;
  readonly #options: DeviceOptions;
  readonly #out = new Uint8Array(ANSWER_BYTES_MAX);
  #isStopped = false;

  constructor(core: Core, port: BytePort, options: DeviceOptions = {}) {
    this.core = core;
    this.#port = port;
    this.#options = options;
    port.onBytes((bytes) => this.#takeGuarded(bytes));
    port.onClosed(() => {});
  }

  /** Opens the port and waits for a host; called again it is a device that was started anew. */
  async start(): Promise<void> {
    this.#isStopped = false;
    const { creditBytes = CREDIT_BYTES, identity = this.core.identity } = this.#options;
    const facts = encodePortFacts({ creditBytes, clockHz: 0, identity });
    this.#bounded(() => this.core.linkStart(facts));
    await this.#port.open();
  }

  async stop(): Promise<void> {
    await this.#port.close();
  }

  #bounded(work: () => void): void {
    const { limit } = this.#options;
    if (limit === undefined) work();
    else limit.run(work);
  }

  #takeGuarded(bytes: Uint8Array): void {
    if (this.#isStopped) return;
    try {
      this.#bounded(() => this.#take(bytes));
    } catch (error) {
      this.#isStopped = true;
      this.#port.write(faultFrame(error));
      if (this.#options.onFault === undefined) throw error;
      this.#options.onFault(error);
    }
  }

  #take(bytes: Uint8Array): void {
    for (let i = 0; i < bytes.length; i += 1) {
      this.core.linkTake(bytes[i]!);
      // A packet is done at its last byte, which is an END.
      if (bytes[i] === SLIP_END) this.#answer();
    }
  }

  #answer(): void {
    let count = 0;
    for (let byte = this.core.linkGive(); byte >= 0; byte = this.core.linkGive()) {
      if (count === ANSWER_BYTES_MAX) {
        throw new Error(`the core's answer goes on after ${count} bytes, the longest there is`);
      }
      this.#out[count] = byte;
      count += 1;
    }
    if (count === 0) return;
    const answer = this.#out.slice(0, count);
    this.#options.onAnswer?.(answer);
    this.#port.write(answer);
  }
}
