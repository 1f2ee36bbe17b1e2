import { describe, expect, it } from "vitest";
import { VirtualClock } from "../../../host/link/clock.ts";
import {
  type FaultName,
  type MemoryLineOptions,
  memoryLine,
} from "../../../host/link/memory-port.ts";

interface Arrived {
  atMs: number;
  bytes: number[];
}

/** Sends numbered frames to the device, and gives what arrived and why ports closed. */
async function sent(count: number, options: Omit<MemoryLineOptions, "clock">) {
  const clock = new VirtualClock();
  const line = memoryLine({ clock, ...options });
  const arrived: Arrived[] = [];
  const closed: string[] = [];
  line.device.onBytes((bytes) => arrived.push({ atMs: clock.now(), bytes: [...bytes] }));
  line.host.onClosed((reason) => closed.push(`host: ${reason}`));
  line.device.onClosed((reason) => closed.push(`device: ${reason}`));
  await line.host.open();
  await line.device.open();
  for (let i = 0; i < count; i += 1) line.host.write(Uint8Array.from([i & 0xff, i >> 8, 3, 4]));
  await clock.run(new Promise<void>((resolve) => void clock.after(1e6, resolve)), 2e6);
  return { arrived, closed, met: line.met };
}

const on = (name: FaultName, rate: number, fromFrame?: number) => ({
  faults: [{ name, direction: "to device" as const, rate, fromFrame }],
});
const numbers = (arrived: Arrived[]): number[] =>
  arrived.map(({ bytes }) => bytes[0]! + 256 * bytes[1]!);

describe("a line in memory", () => {
  it("[LINK-052] keeps the order of bytes, its rate and its latency", async () => {
    const { arrived } = await sent(3, { bytesPerS: 1000, latencyMs: 5 });
    expect(arrived).toEqual([
      { atMs: 9, bytes: [0, 0, 3, 4] },
      { atMs: 13, bytes: [1, 0, 3, 4] },
      { atMs: 17, bytes: [2, 0, 3, 4] },
    ]);
  });

  it("[LINK-054] drops what is sent while nobody has the port open", async () => {
    const clock = new VirtualClock();
    const line = memoryLine({ clock });
    const arrived: number[] = [];
    line.device.onBytes((bytes) => arrived.push(...bytes));
    const wait = (): Promise<void> =>
      clock.run(new Promise<void>((resolve) => void clock.after(10, resolve)), 1e6);
    line.host.write(Uint8Array.from([1]));
    await line.host.open();
    line.host.write(Uint8Array.from([2]));
    await wait();
    await line.device.open();
    line.host.write(Uint8Array.from([3]));
    await wait();
    await line.host.close();
    line.host.write(Uint8Array.from([4]));
    await wait();
    expect(arrived).toEqual([3]);
  });

  it.each(["loss", "duplicate", "flip", "split", "delay"] as const)(
    "[LINK-053] %s comes at its rate, by its seed, in its direction only",
    async (name) => {
      const count = 20_000;
      const rate = 0.02;
      const first = await sent(count, { seed: 3, bytesPerS: 1e7, ...on(name, rate) });
      // Five deviations of a binomial: once in two million seeds, and the seed stands.
      const margin = 5 * Math.sqrt(count * rate * (1 - rate));
      expect(Math.abs(first.met[name] - count * rate)).toBeLessThan(margin);
      expect((await sent(500, { seed: 3, ...on(name, rate) })).arrived).toEqual(
        (await sent(500, { seed: 3, ...on(name, rate) })).arrived,
      );
      expect((await sent(500, { seed: 4, ...on(name, rate) })).met).not.toEqual(first.met);
      const faults = [{ name, direction: "to host" as const, rate: 1 }];
      expect((await sent(5, { faults })).met[name]).toBe(0);
    },
  );

  it("[LINK-053] each fault does what its name says", async () => {
    expect((await sent(5, on("loss", 1, 2))).arrived.length).toBe(2);
    expect(numbers((await sent(3, on("duplicate", 1))).arrived)).toEqual([0, 0, 1, 1, 2, 2]);
    const flipped = (await sent(40, on("flip", 1))).arrived;
    for (const [i, { bytes }] of flipped.entries()) {
      const turned = [i, 0, 3, 4].map((byte, at) => byte ^ bytes[at]!);
      const ones = turned.reduce(
        (sum, byte) => sum + byte.toString(2).replaceAll("0", "").length,
        0,
      );
      expect(ones).toBe(1);
    }
    const split = (await sent(20, on("split", 1))).arrived;
    expect(split.length).toBe(40);
    expect(split.flatMap(({ bytes }) => bytes).length).toBe(80);
    const range = { delayMsMin: 100, delayMsMax: 200 };
    const late = (await sent(3, { ...on("delay", 1, 1), ...range })).arrived;
    expect(late[0]!.atMs).toBeLessThan(10);
    expect(late[1]!.atMs - late[0]!.atMs).toBeGreaterThanOrEqual(100);
    expect(late[2]!.atMs - late[1]!.atMs).toBeLessThan(201);
    expect(numbers(late)).toEqual([0, 1, 2]);
    const clogged = await sent(9, on("clog", 1, 4));
    expect([clogged.arrived.length, clogged.closed]).toEqual([4, []]);
    const cut = await sent(9, on("cut", 1, 4));
    expect(cut.closed).toEqual(["host: the line was cut", "device: the line was cut"]);
    expect(cut.arrived.length).toBeLessThanOrEqual(4);
  });
});
