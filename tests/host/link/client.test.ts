// The host's side of the link against the real firmware, with a tap on the line.
import { describe, expect, it } from "vitest";
import { INPUT_TEST, RECORD_BYTES } from "../../../shared/layout.ts";
import * as LINK from "../../../shared/link.ts";
import { BlockRefused } from "../../../host/core.ts";
import { LinkError } from "../../../host/link/link-error.ts";
import { configurationBytes } from "../../../host/profile/configuration.ts";
import type { BlockBatch } from "../../../harness/target/target.ts";
import { makeWaveform } from "../../../harness/waveform/waveform.ts";
import { BUSY, flicker, flickering } from "../../assembly/kit/link-blocks.ts";
import { type LinkBenchOptions, linkBench } from "../../kit/link-bench.ts";
import { type Packet, type Tap, tapped } from "../../kit/link-tap.ts";
import { playScene, playTarget } from "../../kit/play-scene.ts";
import { scene } from "../../kit/scene-builder.ts";

/** Ten display steps of 1,280 samples; edges and levels. */
const MADE = scene({ durationS: 1 });
const CONFIGURATION = configurationBytes(MADE.profile);
const FEED_ANSWER = LINK.PACKET_FEED | LINK.PACKET_ANSWER;
const signal = (): AbortSignal => new AbortController().signal;

function batchOf(sampleCount: number, firstSample = 0): BlockBatch {
  const samples = [new Float32Array(sampleCount).fill(1)];
  const inputs = [{ fromSample: firstSample, bits: 0 }];
  return { firstSample, sampleCount, samples, edges: [new Float64Array(0)], inputs };
}

async function tappedBench(tap: Tap, options: LinkBenchOptions = {}) {
  return linkBench({ ...options, port: (port) => tapped(port, tap) });
}

async function openBench(tap: Tap, options: LinkBenchOptions = {}) {
  const bench = await tappedBench(tap, options);
  await bench.run(bench.target.open(signal()));
  await bench.run(bench.target.configure(CONFIGURATION));
  return bench;
}

const isFeed = ({ head }: Packet): boolean => head.type === LINK.PACKET_FEED;

describe("a session", () => {
  it("[LINK-060] begins with a hello, repeated every two seconds until it is answered", async () => {
    const times: number[] = [];
    const bench = await tappedBench({
      onSent: () => {
        times.push(bench.clock.now());
        return times.length > 3;
      },
    });
    const told = await bench.run(bench.target.open(signal()));
    expect(times).toEqual([0, 2000, 4000, 6000]);
    expect(told).toMatchObject({ kind: "link", identity: bench.device.core.identity });
    expect(told.sampleFormats).toEqual(["f32", "i16"]);
  });

  it("[LINK-060] finds a device that opened its port late", async () => {
    const bench = await linkBench();
    await bench.device.stop();
    bench.clock.after(3000, () => void bench.device.start());
    await bench.run(bench.target.open(signal()));
    expect(bench.clock.now()).toBeGreaterThan(4000);
    expect(bench.clock.now()).toBeLessThan(4100);
  });

  it("[LINK-073] switches the functional test, and resets", async () => {
    const bench = await openBench({});
    const { client } = bench.target;
    const batch = makeWaveform(MADE).next(12_800)!;
    const plain = await bench.run(bench.target.feed(batch));
    await bench.run(bench.target.reset());
    await bench.run(client.test(true));
    const byPacket = await bench.run(bench.target.feed(batch));
    await bench.run(bench.target.reset());
    const inputs = [{ fromSample: 0, bits: 1 << INPUT_TEST }];
    expect(byPacket).toEqual(await bench.run(bench.target.feed({ ...batch, inputs })));
    await bench.run(bench.target.reset());
    expect(await bench.run(bench.target.feed(batch))).toEqual(plain);
    expect(byPacket).not.toEqual(plain);
  });

  it("[LINK-072] gives smaller blocks to a device that takes no others", async () => {
    const counts = new Set<number>();
    const bench = await tappedBench({
      onAnswer: ({ head, body }) => {
        if (head.type === 0x81) body[LINK.HELLO_ANSWER_SAMPLES] = 16;
      },
      onSent: (packet) => {
        if (isFeed(packet)) counts.add(packet.body[16]!);
      },
    });
    const played = await bench.run(playTarget(bench.target, MADE));
    expect(Math.max(...counts)).toBe(16);
    expect(Buffer.from(played.records).equals(Buffer.from((await playScene(MADE)).records))).toBe(
      true,
    );
  });
});

describe("the window", () => {
  it.each([0, 1000, 3000, 60_000])(
    "[LINK-062] no more than a credit of %i bytes is on its way, or a single packet",
    async (creditBytes) => {
      let onWay: Packet[] = [];
      const used: number[] = [];
      const bytesOf = (): number => onWay.reduce((sum, one) => sum + one.framedBytes, 0);
      const bench = await tappedBench(
        {
          onSent: (packet) => {
            onWay.push(packet);
            if (onWay.length > 1) expect(bytesOf()).toBeLessThanOrEqual(creditBytes);
            used.push(bytesOf());
          },
          onAnswer: ({ head }) => {
            onWay = onWay.slice(onWay.findIndex((one) => one.head.sequence === head.sequence) + 1);
          },
        },
        { device: { creditBytes } },
      );
      const played = await bench.run(playTarget(bench.target, MADE));
      const direct = await playScene(MADE);
      expect(Buffer.from(played.records).equals(Buffer.from(direct.records))).toBe(true);
      // What is allowed is used, to the end: up to the ten blocks between two steps.
      const late = Math.max(...used.slice(used.length / 2));
      expect(late).toBeGreaterThan(Math.min(creditBytes - 1300, 5000));
    },
  );

  it.each([2000, 5000, 50_000])(
    "[LINK-069] a line of %i bytes a second is waited for, and nothing is sent twice",
    async (bytesPerS) => {
      const bench = await linkBench({ line: { bytesPerS } });
      await bench.run(playTarget(bench.target, MADE));
      // What the reference's first event makes the device refuse is sent again, and nothing else.
      const { timeouts, repeated, wentBack } = bench.target.client.counts;
      expect(timeouts).toBe(0);
      expect(wentBack).toBeLessThan(3);
      expect(repeated).toBeLessThan(20);
    },
  );

  it("[LINK-069] each wait in vain is twice as long as the one before, once something was heard", async () => {
    const times: number[] = [];
    const bench = await openBench({
      onSent: (packet) => {
        if (isFeed(packet)) times.push(bench.clock.now());
        return !isFeed(packet);
      },
    });
    await expect(bench.run(bench.target.feed(batchOf(128)))).rejects.toThrow(/asked 6 times/);
    const waits = times.slice(1).map((time, i) => time - times[i]!);
    // A part of each wait is the time that bytes take: after the first the same every time.
    const growth = waits.slice(2).map((wait, i) => wait - waits[i + 1]!);
    expect(growth).toHaveLength(3);
    for (let i = 1; i < growth.length; i += 1)
      expect(growth[i]! / growth[i - 1]!).toBeCloseTo(2, 6);
  });

  // P. Karn, C. Partridge, "Improving Round-Trip Time Estimates in Reliable Transport Protocols",
  // SIGCOMM 1987; RFC 6298 section 3.
  it("[LINK-069] an answer to what was sent twice says nothing of the round trip", async () => {
    const times: number[] = [];
    const tap: Tap = {
      onSent: ({ head }) => {
        if (head.type === LINK.PACKET_CONFIGURE) times.push(bench.clock.now());
      },
    };
    const bench = await tappedBench(tap, { line: { latencyMs: 1050 } });
    // The hello's answer comes 0.1 s after its second sending, and belongs to the first.
    await bench.run(bench.target.open(signal()));
    await bench.run(bench.target.configure(CONFIGURATION));
    expect(times).toHaveLength(2);
    expect(times[1]! - times[0]!).toBeGreaterThanOrEqual(2000);
  });

  it("[LINK-064] after a time-out one packet asks, and the window fills when it is answered", async () => {
    let feeds = 0;
    const times: number[] = [];
    const bench = await openBench({
      onSent: (packet) => {
        if (!isFeed(packet)) return true;
        times.push(bench.clock.now());
        feeds += 1;
        return feeds > 6;
      },
    });
    await bench.run(bench.target.feed(batchOf(768)));
    const [start] = times;
    expect(times.filter((time) => time === start).length).toBe(6);
    expect(new Set(times.slice(6, 7)).size).toBe(1);
    expect(times[7]! - times[6]!).toBeGreaterThan(0);
    expect(times.length).toBe(12);
  });

  it("[LINK-063] nothing overtakes a block with a display step; others are many at a time", async () => {
    let unanswered: Packet[] = [];
    let most = 0;
    const bench = await openBench({
      onSent: (packet) => {
        if (!isFeed(packet)) return;
        const isBehindStep = unanswered.some(({ body }) => stepIn(body));
        expect(isBehindStep).toBe(false);
        unanswered.push(packet);
        most = Math.max(most, unanswered.length);
      },
      onAnswer: ({ head }) => {
        unanswered = unanswered.filter((one) => one.head.sequence !== head.sequence);
      },
    });
    const stepIn = (block: Uint8Array): boolean => {
      const view = new DataView(block.buffer, block.byteOffset);
      const first = view.getUint32(8, true);
      const end = first + view.getUint32(16, true);
      return Math.floor((end - 1) / 1280) > Math.floor(Math.max(0, first - 1) / 1280);
    };
    await bench.run(bench.target.feed(batchOf(12_800)));
    expect(most).toBeGreaterThan(5);
    expect(bench.target.client.counts.repeated).toBe(0);
  });

  it("[LINK-064] a lost packet is sent again, with those behind it, when the device says so", async () => {
    let feeds = 0;
    const bench = await openBench({
      onSent: (packet) => !isFeed(packet) || ++feeds !== 3,
    });
    await bench.run(bench.target.feed(batchOf(1000)));
    const { timeouts, wentBack, repeated } = bench.target.client.counts;
    expect({ timeouts, wentBack }).toEqual({ timeouts: 0, wentBack: 1 });
    expect(repeated).toBeGreaterThan(1);
    expect(bench.device.core.counters()).toMatchObject({ samples: 1000, blocks: 8 });
  });

  it("[LINK-064] a lost last packet, and a lost answer, are made good after a time-out", async () => {
    for (const lost of ["packet", "answer"]) {
      let feeds = 0;
      let answers = 0;
      const bench = await openBench({
        onSent: (packet) => lost !== "packet" || !isFeed(packet) || ++feeds !== 8,
        onAnswer: ({ head }) => lost !== "answer" || head.type !== FEED_ANSWER || ++answers !== 8,
      });
      await bench.run(bench.target.feed(batchOf(1000)));
      expect(bench.target.client.counts).toMatchObject({ timeouts: 1, repeated: 1 });
      expect(bench.device.core.counters()).toMatchObject({ samples: 1000, blocks: 8 });
    }
  });

  it("[LINK-064] a lost answer in the middle costs nothing: a later one says that it was done", async () => {
    let answers = 0;
    const bench = await openBench({
      onAnswer: ({ head }) => head.type !== FEED_ANSWER || ++answers !== 3,
    });
    await bench.run(bench.target.feed(batchOf(1000)));
    expect(bench.target.client.counts).toMatchObject({ timeouts: 0, repeated: 0 });
  });

  it("[LINK-065] records come once and in order though every third answer is lost", async () => {
    let answers = 0;
    const bench = await tappedBench({
      onAnswer: ({ head }) => head.type === 0x81 || ++answers % 3 !== 0,
    });
    const profile = flickering(2);
    await bench.run(bench.target.open(signal()));
    const configuration = configurationBytes(profile);
    await bench.run(bench.target.configure(configuration));
    const batch = flicker(1600);
    const fed = await bench.run(bench.target.feed(batch));
    const core = bench.device.core;
    core.configure(configuration);
    const { CoreTarget } = await import("../../../harness/target/core-target.ts");
    const direct = new CoreTarget(core);
    await direct.configure(configuration);
    expect(Buffer.from(fed).equals(Buffer.from(await direct.feed(batch)))).toBe(true);
    expect(bench.target.client.counts.timeouts).toBeGreaterThan(10);
  });

  it("[LINK-065] and beyond the 65,536th, where what is acknowledged begins anew", async () => {
    const made = { ...BUSY, durationS: 5.5 };
    const bench = await linkBench();
    const { records } = await bench.run(playTarget(bench.target, made));
    expect(records.byteLength / RECORD_BYTES).toBeGreaterThan(2 ** 16);
    expect(Buffer.from(records).equals((await playScene(made)).records)).toBe(true);
    expect(bench.target.client.counts).toMatchObject({ repeated: 0, wentBack: 0 });
  });

  it("[LINK-068] answers that belong to nothing are counted and change nothing", async () => {
    const bench = await openBench({});
    const clientSide = bench.line.device;
    const stray = (type: number, sequence: number): void => {
      // Taken for an answer it would end the feed.
      const body = new Uint8Array(16).fill(0xff, 0, 4);
      clientSide.write(frame({ head: { type, sequence, acknowledged: 0 }, body }));
    };
    const { framedOf: frame } = await import("../../kit/link-tap.ts");
    for (let i = 0; i < 5; i += 1) stray(FEED_ANSWER, 1000 + i);
    stray(0x84, 65_502);
    await bench.run(bench.target.feed(batchOf(1000)));
    expect(bench.target.client.counts.stale).toBe(6);
    expect(bench.device.core.counters().samples).toBe(1000);
  });

  it("[LINK-070] a refused block ends the call; what was not sent stays unsent", async () => {
    let feeds = 0;
    const bench = await openBench(
      { onSent: (packet) => void (feeds += isFeed(packet) ? 1 : 0) },
      { device: { creditBytes: 3000 } },
    );
    await bench.run(bench.target.feed(batchOf(128)));
    const gap = bench.run(bench.target.feed(batchOf(12_800, 256)));
    await expect(gap).rejects.toBeInstanceOf(BlockRefused);
    expect(feeds).toBeLessThan(10);
    // Up to a reset the device goes on refusing.
    const next = bench.run(bench.target.feed(batchOf(128, 128)));
    await expect(next).rejects.toBeInstanceOf(BlockRefused);
    await bench.run(bench.target.reset());
    await bench.run(bench.target.feed(batchOf(128)));
  });
});

describe("an end", () => {
  it("[LINK-066] after six tries without progress it names the first block not known", async () => {
    let feeds = 0;
    const bench = await openBench({ onSent: (packet) => !isFeed(packet) || ++feeds <= 4 });
    const work = bench.run(bench.target.feed(batchOf(1000)));
    const error = (await work.catch((one: unknown) => one)) as LinkError;
    expect(error).toBeInstanceOf(LinkError);
    expect([error.kind, error.firstSample]).toEqual(["no-answer", 4 * 128]);
    expect(error.message).toContain("asked 6 times");
    expect(error.message).toContain("begins at sample 512");
    // Every later call ends at once, by the same reason.
    await expect(bench.target.reset()).rejects.toMatchObject({ kind: "no-answer" });
  });

  it("[LINK-067] an abort ends what is on its way, and what would come", async () => {
    const controller = new AbortController();
    const bench = await tappedBench({ onSent: (packet) => !isFeed(packet) });
    await bench.run(bench.target.open(controller.signal));
    await bench.run(bench.target.configure(CONFIGURATION));
    bench.clock.after(50, () => controller.abort());
    await expect(bench.run(bench.target.feed(batchOf(1000)))).rejects.toMatchObject({
      name: "AbortError",
    });
    expect(bench.clock.now()).toBeLessThan(200);
    await expect(bench.target.reset()).rejects.toMatchObject({ name: "AbortError" });
    const late = await tappedBench({});
    await expect(late.target.open(controller.signal)).rejects.toMatchObject({ name: "AbortError" });
  });

  it("[LINK-067] an abort ends the wait for a device that never answers", async () => {
    const controller = new AbortController();
    const bench = await tappedBench({ onSent: () => false });
    bench.clock.after(500, () => controller.abort());
    await expect(bench.run(bench.target.open(controller.signal))).rejects.toMatchObject({
      name: "AbortError",
    });
  });

  it("[LINK-071] a device that starts anew in the middle is told", async () => {
    let feeds = 0;
    const bench = await openBench({
      onSent: (packet) => {
        if (isFeed(packet) && ++feeds === 5) void bench.device.start();
      },
    });
    const work = bench.run(bench.target.feed(batchOf(12_800)));
    await expect(work).rejects.toMatchObject({ name: "LinkError", kind: "restarted" });
    expect(bench.clock.now()).toBeLessThan(1000);
  });
});
