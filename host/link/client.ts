// The host's side of the link: says hello first, hands over blocks as far as the device's credit
// goes, and gives each record once. See PROTOCOL.md.
import { CONFIG_BYTES, GLOBAL_LENGTH, LAYOUT_VERSION } from "../../shared/layout.ts";
import * as LINK from "../../shared/link.ts";
import {
  ERR_CONFIG_LENGTH,
  ERR_LINK_AHEAD,
  ERR_LINK_RECORDS,
  ERR_LINK_SESSION,
  ERR_LINK_VERSION,
  OK,
} from "../../shared/status.ts";
import { BlockRefused, ConfigurationRefused, statusName } from "../core.ts";
import type { Clock } from "./clock.ts";
import { Exchange, type ExchangeCounts, type Outcome, type Request } from "./exchange.ts";
import {
  LinkError,
  echoDiffers,
  missingCapability,
  otherVersion,
  packetRefused,
  restarted,
} from "./link-error.ts";
import * as PACKET from "./packet.ts";
import type { BytePort } from "./port.ts";
import { RecordIntake } from "./record-intake.ts";

const NO_BODY = new Uint8Array(0);
const VERSIONS = { protocol: LINK.PROTOCOL_VERSION, layout: LAYOUT_VERSION };

export interface LinkClientOptions {
  port: BytePort;
  clock: Clock;
  /** Another one for each session: drawn at random by the caller. */
  session: number;
  /** Of the first packet; drawn at random too, so that no answer to an earlier run fits. */
  firstSequence: number;
  /** Gives up where nothing was answered for so long; see Exchange. */
  giveUpMs?: number;
}

/** A block on its way. */
export interface OutgoingBlock {
  bytes: Uint8Array;
  firstSample: number;
  /** A display step lies in it: nothing is sent after it before its records are here. */
  bringsRecords: boolean;
}

interface Answered {
  head: PACKET.Head;
  body: Uint8Array;
}

export class LinkClient {
  readonly #options: LinkClientOptions;
  readonly #exchange: Exchange;
  readonly #intake = new RecordIntake();
  #signal: AbortSignal | undefined;
  readonly #onAbort = (): void => this.#exchange.fail(this.#signal?.reason as Error);

  constructor(options: LinkClientOptions) {
    this.#options = options;
    this.#exchange = new Exchange({
      port: options.port,
      clock: options.clock,
      firstSequence: options.firstSequence,
      acknowledged: () => this.#intake.acknowledged,
      giveUpMs: options.giveUpMs,
    });
  }

  get counts(): ExchangeCounts {
    return this.#exchange.counts;
  }

  /** Verdicts of the deframer on what came in. */
  get verdicts(): Readonly<Record<string, number>> {
    return this.#exchange.deframer.counts;
  }

  /**
   * Opens the port and begins a session.
   *
   * Errors    LinkError: no answer, garbage, another version; what the port says; AbortError, now
   *           or at any later call, where the signal came
   */
  async open(signal: AbortSignal): Promise<PACKET.HelloAnswer> {
    signal.throwIfAborted();
    this.#signal = signal;
    signal.addEventListener("abort", this.#onAbort, { once: true });
    try {
      await this.#options.port.open();
      return await this.#hello();
    } catch (error) {
      await this.close();
      throw error;
    }
  }

  async #hello(): Promise<PACKET.HelloAnswer> {
    const session = this.#options.session >>> 0;
    const body = PACKET.encodeHello({ ...VERSIONS, session });
    const hello = await this.#one(LINK.PACKET_HELLO, body, (answered) => {
      const versions = PACKET.decodeVersions(answered);
      const isOurs = versions.protocol === VERSIONS.protocol && versions.layout === VERSIONS.layout;
      if (!isOurs || versions.status !== OK) throw otherVersion(versions, VERSIONS);
      const answer = PACKET.decodeHelloAnswer(answered);
      return answer.session === session ? answer : undefined;
    });
    if (hello.bodyMax < CONFIG_BYTES) {
      throw missingCapability(`a body of ${hello.bodyMax} bytes holds no configuration`);
    }
    this.#exchange.creditBytes = hello.creditBytes;
    return hello;
  }

  /**
   * Hands over a configuration, and compares what the device holds with it, byte for byte.
   *
   * Errors    ConfigurationRefused; LinkError
   */
  async configure(configuration: Uint8Array): Promise<Uint8Array> {
    const found = configuration.byteLength;
    if (found !== CONFIG_BYTES) {
      throw new ConfigurationRefused(ERR_CONFIG_LENGTH, GLOBAL_LENGTH, found, CONFIG_BYTES);
    }
    const answer = await this.#one(LINK.PACKET_CONFIGURE, configuration, (body) =>
      PACKET.decodeConfigureAnswer(body),
    );
    if (answer.status !== OK) {
      const { status, fieldOffset, limit } = answer;
      throw new ConfigurationRefused(status, fieldOffset, answer.found, limit);
    }
    this.#intake.reset();
    const wrong = answer.echo.findIndex((byte, at) => byte !== configuration[at]);
    if (wrong >= 0) {
      const error = echoDiffers(wrong);
      this.#exchange.fail(error);
      throw error;
    }
    return answer.echo;
  }

  /**
   * Hands over blocks, in their order.
   *
   * Errors    BlockRefused with the device's status: it takes no more before a reset; LinkError
   *           with the first block that is not known to be taken
   */
  async feed(blocks: readonly OutgoingBlock[]): Promise<Uint8Array> {
    if (blocks.length === 0) return this.#drain();
    const group = {};
    let doneCount = 0;
    let sentCount = blocks.length;
    let refused: number = OK;
    try {
      await new Promise<void>((resolve, reject) => {
        const read = (answered: Answered): Outcome =>
          this.#feedRead(answered, (status) => {
            if (refused === OK) sentCount -= this.#exchange.drop(group);
            refused = status;
          });
        const onDone = (): void => {
          doneCount += 1;
          if (doneCount === sentCount) resolve();
        };
        this.#exchange.ask(
          blocks.map((block) => ({
            type: LINK.PACKET_FEED,
            body: block.bytes,
            isBarrier: block.bringsRecords,
            read,
            onDone,
            onFailed: reject,
            group,
          })),
        );
      });
      if (refused !== OK) throw new BlockRefused(refused);
      return await this.#drain();
    } catch (error) {
      const lost = blocks[doneCount];
      throw error instanceof LinkError && lost !== undefined
        ? error.withSample(lost.firstSample)
        : error;
    }
  }

  /** The link's and the signal path's counters. Errors: LinkError. */
  counters(): Promise<PACKET.CountersAnswer> {
    return this.#one(LINK.PACKET_COUNTERS, NO_BODY, (body) => PACKET.decodeCountersAnswer(body));
  }

  /** Holds the functional test's input on, beside what the blocks say, up to a reset. */
  async test(isOn: boolean): Promise<void> {
    await this.#one(LINK.PACKET_TEST, PACKET.encodeTest(isOn), (body) => PACKET.decodeStatus(body));
  }

  /** Back to the state just after configure. */
  async reset(): Promise<void> {
    await this.#one(LINK.PACKET_RESET, NO_BODY, (body) => PACKET.decodeStatus(body));
    this.#intake.reset();
  }

  /** Closes the port; what was not answered fails. */
  async close(): Promise<void> {
    this.#signal?.removeEventListener("abort", this.#onAbort);
    this.#exchange.fail(new LinkError("closed", "the link was closed from this side"));
    await this.#options.port.close();
  }

  // --- one packet at a time

  /** Asks alone; `read` gives undefined where the answer is not meant for this session. */
  #one<T>(type: number, body: Uint8Array, read: (body: Uint8Array) => T | undefined): Promise<T> {
    return new Promise((resolve, reject) => {
      let answer: T | undefined;
      const request: Request = {
        type,
        body,
        isBarrier: true,
        read: (answered) => {
          const refusal = refusalOf(answered.body, type);
          if (refusal !== undefined) return refusal;
          answer = read(answered.body);
          return answer === undefined ? "stale" : "done";
        },
        onDone: () => resolve(answer as T),
        onFailed: reject,
      };
      this.#exchange.ask([request]);
    });
  }

  #feedRead(answered: Answered, onRefused: (status: number) => void): Outcome {
    const refusal = refusalOf(answered.body, LINK.PACKET_FEED);
    if (refusal === "ahead") return refusal;
    const answer = PACKET.decodeFeedAnswer(answered.body);
    this.#intake.take(answer);
    if (answer.status === ERR_LINK_RECORDS) return "not yet";
    if (answer.status !== OK) onRefused(answer.status);
    // The next block would be refused while records wait: what did not fit is asked for before it.
    if (this.#intake.areMoreWaiting) this.#moreAsk();
    return "done";
  }

  #moreAsk(): void {
    this.#exchange.askNext({
      type: LINK.PACKET_RECORDS,
      body: NO_BODY,
      isBarrier: true,
      read: (answered) => this.#recordsRead(answered.body),
      onDone: () => {},
      onFailed: () => {},
    });
  }

  #recordsRead(body: Uint8Array): Outcome {
    const refusal = refusalOf(body, LINK.PACKET_RECORDS);
    if (refusal !== undefined) return refusal;
    this.#intake.take(PACKET.decodeFeedAnswer(body));
    if (this.#intake.areMoreWaiting) this.#moreAsk();
    return "done";
  }

  /** Asks for what did not fit the last answer. */
  async #drain(): Promise<Uint8Array> {
    while (this.#intake.areMoreWaiting) {
      await this.#one(LINK.PACKET_RECORDS, NO_BODY, (body) => {
        const answer = PACKET.decodeFeedAnswer(body);
        this.#intake.take(answer);
        return answer;
      });
    }
    return this.#intake.drain();
  }
}

/**
 * What an answer says where it is the link's own refusal; undefined where it is not.
 *
 * Errors    LinkError where no repeating helps
 */
function refusalOf(body: Uint8Array, type: number): Outcome | undefined {
  const status = PACKET.decodeStatus(body);
  if (status === ERR_LINK_AHEAD) return "ahead";
  if (status === ERR_LINK_SESSION) throw restarted();
  if (status === ERR_LINK_RECORDS && type === LINK.PACKET_FEED) return undefined;
  const isOwn = status <= ERR_LINK_VERSION;
  if (isOwn && type !== LINK.PACKET_HELLO) throw packetRefused(statusName(status));
  return undefined;
}
