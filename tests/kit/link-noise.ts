// Seeded bytes for the device's side of the link: noise, and packets that something was done to.
import { xoroshiro128plus } from "pure-rand/generator/xoroshiro128plus";
import { uniformInt } from "pure-rand/distribution/uniformInt";
import * as LINK from "../../shared/link.ts";
import { Deframer, type Verdict } from "../../host/link/deframer.ts";
import { BUSY, blocksOf } from "../assembly/kit/link-blocks.ts";
import { DeviceLine, answerOf, framed, helloBody, packetOf } from "../assembly/kit/link-line.ts";
import type { Build } from "./play-scene.ts";

export interface NoiseOutcome {
  bytes: number;
  /** Pieces of noise, each followed by a good packet. */
  pieces: number;
  /** Good packets that were not answered as they must be. */
  missed: number;
  /** Counted by the device and by the host's deframer, of the same bytes. */
  device: Record<Exclude<Verdict, "needs more">, number>;
  host: Record<Exclude<Verdict, "needs more">, number>;
  /** Blocks that the device took. */
  blocks: number;
}

type Pick = (below: number) => number;

const { configuration, blocks } = blocksOf(BUSY);
const NO_BODY = new Uint8Array(0);

/** A packet that may well be lawful. */
function somePacket(pick: Pick, sequence: number): Uint8Array {
  const near = sequence + [0, 0, 0, 1, -1, pick(65_536)][pick(6)]!;
  const bodies: [type: number, body: Uint8Array][] = [
    [LINK.PACKET_HELLO, helloBody(pick(4))],
    [LINK.PACKET_CONFIGURE, configuration],
    [LINK.PACKET_FEED, blocks[pick(3)]!],
    [LINK.PACKET_FEED, blocks[pick(blocks.length)]!],
    [LINK.PACKET_RECORDS, NO_BODY],
    [LINK.PACKET_COUNTERS, NO_BODY],
    [LINK.PACKET_TEST, new Uint8Array([pick(2), 0, 0, 0])],
    [LINK.PACKET_RESET, NO_BODY],
    [pick(256), Uint8Array.from({ length: pick(80) }, () => pick(256))],
  ];
  const [type, body] = bodies[pick(bodies.length)]!;
  return packetOf({ type, sequence: near, acknowledged: pick(2) * pick(65_536), body });
}

const CHANGES: ((bytes: number[], at: number, pick: Pick) => void)[] = [
  (bytes, at, pick) => {
    bytes[at]! ^= 1 << pick(8);
  },
  (bytes, at, pick) => {
    bytes[at] = pick(256);
  },
  (bytes, at, pick) => {
    bytes.splice(at, 1 + pick(20));
  },
  (bytes, at, pick) => {
    bytes.splice(at, 0, ...Array.from({ length: 1 + pick(20) }, () => pick(256)));
  },
  (bytes, at) => {
    bytes.length = at;
  },
  (bytes, at) => {
    bytes[at] = 0xc0;
  },
  (bytes, at) => {
    bytes[at] = 0xdb;
  },
];

/** A piece of noise. */
function piece(pick: Pick, sequence: number): number[] {
  const kind = pick(10);
  if (kind === 0) return Array.from({ length: 1 + pick(6000) }, () => pick(256));
  if (kind === 1) return Array.from({ length: pick(60) }, () => [0xc0, 0xdb, 0, 3][pick(4)]!);
  // A change before framing, with the check as it was, or a change of what is on the line.
  const packet = somePacket(pick, sequence);
  if (kind === 2 && packet.byteLength > 0) packet[pick(packet.byteLength)]! ^= 1 << pick(8);
  const bytes = [...framed(packet)];
  if (kind < 7) {
    for (let i = 0; i <= pick(3) && bytes.length > 0; i += 1) {
      CHANGES[pick(CHANGES.length)]!(bytes, pick(bytes.length), pick);
    }
  }
  return bytes;
}

/** A device line under noise, each piece followed by a good packet that must be answered. */
export function noiseRun(build: Build, bytesMin: number, seed: number): NoiseOutcome {
  const generator = xoroshiro128plus(seed);
  const pick: Pick = (below) => uniformInt(generator, 0, below - 1);
  const line = new DeviceLine(build);
  const deframer = new Deframer();
  const hear = (bytes: Uint8Array): void => {
    deframer.push(bytes);
    while (deframer.pull() !== "needs more");
  };
  let sent = 0;
  let missed = 0;
  let pieces = 0;
  let taken = 0;
  let session = 1000;
  let sequence = 0;
  for (; sent < bytesMin; pieces += 1) {
    // Half of the sessions go on for a while, so that what the noise has done meets more of it.
    const isGreeted = pick(2) === 0;
    const noise = Uint8Array.from(piece(pick, sequence));
    if (isGreeted) session += 1;
    sequence = isGreeted ? pick(65_536) : sequence;
    const body = helloBody(session);
    const good = framed(packetOf({ type: LINK.PACKET_HELLO, sequence, body }));
    const before = line.core.counters().blocks;
    line.raw(noise);
    taken += Math.max(0, line.core.counters().blocks - before);
    const answer = answerOf(line.raw(good).at(-1) ?? []);
    const isRight = answer.type === 0x81 && answer.sequence === sequence && answer.status === 0;
    if (!isRight) missed += 1;
    sequence = answer.expected;
    hear(noise);
    hear(good);
    sent += noise.byteLength + good.byteLength;
  }
  const {
    whole,
    "bad form": badForm,
    "too long": tooLong,
    "bad check": badCheck,
  } = deframer.counts;
  return {
    bytes: sent,
    pieces,
    missed,
    blocks: taken,
    host: { whole, "bad form": badForm, "too long": tooLong, "bad check": badCheck },
    device: {
      whole: line.counter(LINK.LINK_COUNTER_PACKETS),
      "bad form": line.counter(LINK.LINK_COUNTER_BAD_FORM),
      "too long": line.counter(LINK.LINK_COUNTER_TOO_LONG),
      "bad check": line.counter(LINK.LINK_COUNTER_BAD_CHECK),
    },
  };
}
