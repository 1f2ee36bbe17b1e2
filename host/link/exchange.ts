// Requests on their way and their answers: a sliding window, bounded by the device's credit, with
// go-back-N. The device does requests in the order of their sequence only, so an answer to one says
// that all before it were done; what was not done is sent again from the first such one on.
import {
  PACKET_ANSWER,
  PACKET_BODY_MAX,
  PACKET_CHECK_BYTES,
  PACKET_FAULT,
  PACKET_HEAD_BYTES,
} from "../../shared/link.ts";
import type { Clock, Wait } from "./clock.ts";
import { Deframer } from "./deframer.ts";
import {
  type LinkError,
  deviceFault,
  echoed,
  garbage,
  noAnswer,
  noProgress,
  portClosed,
  unreadable,
} from "./link-error.ts";
import { type Head, PacketError, bodyOf, decodeHead, encodePacket } from "./packet.ts";
import type { BytePort } from "./port.ts";
import { RoundTrip } from "./round-trip.ts";
import { slipEncode } from "./slip.ts";

/** Times that one packet waits in vain before the link gives up: chance loses no six in a row. */
export const TRIES_MAX = 6;
/** Refusals in a row without progress: each has gone both ways, so the line is there, to no end. */
export const REFUSALS_MAX = 200;
/** Packets on their way, whatever the credit: far under half the circle of 2¹⁶ sequences. */
export const WINDOW_PACKETS_MAX = 256;

/** The longest answer, but for escapes. */
const ANSWER_BYTES = PACKET_HEAD_BYTES + PACKET_BODY_MAX + PACKET_CHECK_BYTES;

/** What an answer says of its request. */
export type Outcome =
  | "done"
  /** One before it is missing at the device. */
  | "ahead"
  /** Not done, but all before it are. */
  | "not yet"
  /** Not meant for this request. */
  | "stale";

export interface Request {
  type: number;
  body: Uint8Array;
  /** Nothing is sent after it before it is done. */
  isBarrier: boolean;
  /** Reads the answer; throws a LinkError where it ends the link. */
  read(answer: { head: Head; body: Uint8Array }): Outcome;
  onDone(): void;
  onFailed(error: Error): void;
  /** Requests that can be taken back together. */
  group?: object;
}

interface Waiting extends Request {
  /** The packet as it was framed last, and the acknowledgement in it. */
  framed?: Uint8Array;
  framedAcknowledged?: number;
  isRepeat: boolean;
}

/** A packet on its way. */
interface Sent {
  sequence: number;
  bytes: number;
  /** With those that were on their way before it. */
  bytesOnWay: number;
  /** Grows with each going back: an answer to an older sending starts no second one. */
  round: number;
  atMs: number;
  isRepeat: boolean;
}

export interface ExchangeOptions {
  port: BytePort;
  clock: Clock;
  firstSequence: number;
  /** One more than the sequence of the last record that this side holds. */
  acknowledged(): number;
  /** Gives up where nothing was answered for so long, at the latest after TRIES_MAX waits. */
  giveUpMs?: number;
}

/** What the host's side of the link counts. */
export interface ExchangeCounts {
  sent: number;
  repeated: number;
  timeouts: number;
  wentBack: number;
  /** Answers to nothing that waits. */
  stale: number;
}

export class Exchange {
  /** Framed bytes that may be on their way; one packet always may. */
  creditBytes = 0;
  readonly deframer = new Deframer();
  readonly counts: ExchangeCounts = { sent: 0, repeated: 0, timeouts: 0, wentBack: 0, stale: 0 };
  readonly #options: ExchangeOptions;
  readonly #trip = new RoundTrip();
  #baseSequence: number;
  /** From the first request that is not done. */
  #queue: Waiting[] = [];
  #next = 0; // the one to send next
  #sentEnd = 0; // behind the last that was ever sent
  #sent: Sent[] = [];
  #sentBytes = 0;
  #round = 0;
  /** After a time-out one packet asks whether the device is there, before the window fills again. */
  #isProbing = false;
  #tries = 1;
  #refusals = 0;
  #triesFromMs = 0;
  #bytesCame = 0;
  /** Whole packets that are requests: this side's own. */
  #ownCame = 0;
  #wait: Wait | undefined;
  #failure: Error | undefined;

  constructor(options: ExchangeOptions) {
    this.#options = options;
    this.#baseSequence = options.firstSequence & 0xffff;
    options.port.onBytes((piece) => this.#take(piece));
    options.port.onClosed((reason) =>
      this.fail(typeof reason === "string" ? portClosed(reason) : reason),
    );
  }

  /** Puts requests at the end of the queue and sends what may be sent. */
  ask(requests: readonly Request[]): void {
    for (const one of requests) {
      if (this.#failure !== undefined) one.onFailed(this.#failure);
      else this.#queue.push({ ...one, isRepeat: false });
    }
    this.#pump();
  }

  /** Puts a request in front of all that were never sent. */
  askNext(request: Request): void {
    if (this.#failure !== undefined) request.onFailed(this.#failure);
    else this.#queue.splice(this.#sentEnd, 0, { ...request, isRepeat: false });
    this.#pump();
  }

  /** Takes back what was never sent of a group: neither done nor failed. Gives how many. */
  drop(group: object): number {
    const before = this.#queue.length;
    const stays = (one: Waiting, place: number): boolean =>
      place < this.#sentEnd || one.group !== group;
    this.#queue = this.#queue.filter(stays);
    return before - this.#queue.length;
  }

  /** Ends the link: every request fails, now and later. The first reason holds. */
  fail(error: Error): void {
    if (this.#failure !== undefined) return;
    this.#failure = error;
    this.#waitStop();
    const queue = this.#queue;
    this.#queue = [];
    for (const one of queue) one.onFailed(error);
  }

  // --- sending

  #pump(): void {
    while (this.#next < this.#queue.length && this.#failure === undefined) {
      const request = this.#queue[this.#next]!;
      if (this.#next > 0 && this.#queue[this.#next - 1]!.isBarrier) break;
      if (this.#next >= (this.#isProbing ? 1 : WINDOW_PACKETS_MAX)) break;
      const framed = this.#framed(request, (this.#baseSequence + this.#next) & 0xffff);
      if (this.#sent.length > 0 && this.#sentBytes + framed.byteLength > this.creditBytes) break;
      this.#send(request, framed);
    }
    if (this.#sentEnd > 0 && this.#wait === undefined) this.#waitStart();
  }

  #framed(request: Waiting, sequence: number): Uint8Array {
    const acknowledged = this.#options.acknowledged() & 0xffff;
    if (request.framed === undefined || request.framedAcknowledged !== acknowledged) {
      const head = { type: request.type, sequence, acknowledged };
      request.framed = slipEncode(encodePacket(head, request.body));
      request.framedAcknowledged = acknowledged;
    }
    return request.framed;
  }

  #send(request: Waiting, framed: Uint8Array): void {
    this.#sent.push({
      sequence: (this.#baseSequence + this.#next) & 0xffff,
      bytes: framed.byteLength,
      bytesOnWay: this.#sentBytes + framed.byteLength,
      round: this.#round,
      atMs: this.#options.clock.now(),
      isRepeat: request.isRepeat,
    });
    this.#sentBytes += framed.byteLength;
    this.counts.sent += 1;
    if (request.isRepeat) this.counts.repeated += 1;
    request.isRepeat = true;
    this.#next += 1;
    this.#sentEnd = Math.max(this.#sentEnd, this.#next);
    this.#options.port.write(framed);
  }

  /** Sends again from the first request that is not done; gives up where that has led nowhere. */
  #goBack(isOverdue: boolean): void {
    // A timer may act a little early.
    const isInVain = this.#tries >= TRIES_MAX || this.#msLeft() < 1;
    if (isOverdue ? isInVain : this.#refusals >= REFUSALS_MAX) {
      this.fail(isOverdue ? this.#noAnswer() : noProgress(this.#refusals));
      return;
    }
    if (isOverdue) this.#tries += 1;
    else this.#refusals += 1;
    this.#round += 1;
    this.#next = 0;
    this.#waitStart();
  }

  #noAnswer(): LinkError {
    if (this.#ownCame > 0 && this.#ownCame === this.deframer.counts.whole) return echoed();
    if (this.#bytesCame > 0 && this.deframer.counts.whole === 0) return garbage(this.#bytesCame);
    return noAnswer(this.#options.clock.now() - this.#triesFromMs, this.#tries);
  }

  // --- waiting

  #waitStop(): void {
    if (this.#wait !== undefined) this.#options.clock.cancel(this.#wait);
    this.#wait = undefined;
  }

  #waitStart(): void {
    this.#waitStop();
    // A timer that nobody waits for any more would keep the program from its end.
    if (this.#failure !== undefined) return;
    if (this.#tries === 1) this.#triesFromMs = this.#options.clock.now();
    const ms = this.#trip.timeoutMs(this.#sentBytes + ANSWER_BYTES);
    const untilMs = Math.min(ms, Math.max(0, this.#msLeft()));
    this.#wait = this.#options.clock.after(untilMs, () => this.#timeout());
  }

  #msLeft(): number {
    const { clock, giveUpMs = Infinity } = this.#options;
    return this.#triesFromMs + giveUpMs - clock.now();
  }

  #timeout(): void {
    this.#wait = undefined;
    this.counts.timeouts += 1;
    this.#trip.backOff();
    // What was on its way is taken for lost. Where it is only late the device has room for one more.
    this.#isProbing = true;
    this.#sent = [];
    this.#sentBytes = 0;
    this.#goBack(true);
    this.#pump();
  }

  // --- answers

  #take(piece: Uint8Array): void {
    if (this.#failure !== undefined) return;
    this.#bytesCame += piece.byteLength;
    this.deframer.push(piece);
    for (;;) {
      const verdict = this.deframer.pull();
      if (verdict === "needs more") return;
      if (verdict !== "whole") continue;
      const packet = this.deframer.packet();
      try {
        this.#answer(decodeHead(packet), bodyOf(packet));
      } catch (error) {
        this.fail(error instanceof PacketError ? unreadable(error.message) : (error as Error));
      }
    }
  }

  #answer(head: Head, body: Uint8Array): void {
    if (this.#failure !== undefined) return;
    if ((head.type & PACKET_ANSWER) === 0) {
      this.#ownCame += 1;
      return;
    }
    if (head.type === (PACKET_FAULT | PACKET_ANSWER)) throw deviceFault(faultCodeOf(body));
    const sent = this.#settle(head.sequence);
    const place = (head.sequence - this.#baseSequence) & 0xffff;
    const request = place < this.#sentEnd ? this.#queue[place] : undefined;
    if (request === undefined || head.type !== (request.type | PACKET_ANSWER)) {
      this.counts.stale += 1;
    } else {
      const outcome = request.read({ head, body });
      if (outcome === "stale") this.counts.stale += 1;
      else if (outcome === "done") {
        if (sent?.isRepeat === false) this.#trip.take(...this.#tripOf(sent, body));
        this.#done(place + 1);
      } else {
        if (outcome === "not yet") this.#done(place);
        if (sent?.round === this.#round) {
          this.counts.wentBack += 1;
          this.#goBack(false);
        }
      }
    }
    this.#pump();
  }

  #tripOf(sent: Sent, body: Uint8Array): [ms: number, bytes: number] {
    const answerBytes = PACKET_HEAD_BYTES + body.byteLength + PACKET_CHECK_BYTES;
    return [this.#options.clock.now() - sent.atMs, sent.bytesOnWay + answerBytes];
  }

  /** The line keeps its order: an answer says that what was sent before its request is over, too. */
  #settle(sequence: number): Sent | undefined {
    const place = this.#sent.findIndex((one) => one.sequence === sequence);
    if (place < 0) return undefined;
    const over = this.#sent.splice(0, place + 1);
    for (const one of over) this.#sentBytes -= one.bytes;
    return over.at(-1);
  }

  #done(count: number): void {
    if (count === 0) return;
    const done = this.#queue.splice(0, count);
    this.#baseSequence = (this.#baseSequence + count) & 0xffff;
    this.#next = Math.max(0, this.#next - count);
    this.#sentEnd -= count;
    this.#tries = 1;
    this.#refusals = 0;
    this.#isProbing = false;
    this.#waitStop();
    for (const one of done) one.onDone();
    if (this.#sentEnd > 0 && this.#wait === undefined) this.#waitStart();
  }
}

function faultCodeOf(body: Uint8Array): number | undefined {
  if (body.byteLength < 4) return undefined;
  return new DataView(body.buffer, body.byteOffset, body.byteLength).getUint32(0, true);
}
