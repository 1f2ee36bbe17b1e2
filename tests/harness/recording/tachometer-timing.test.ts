// Tachometer waveforms whose crossing times are known: how well the edges are found, and what is said
// of it.
import { describe, expect, it } from "vitest";
import { gaussianOf } from "../../../harness/random/gaussian.ts";
import { randomStream, uniformOf } from "../../../harness/random/stream.ts";
import {
  tachometerChannel,
  type TachometerWish,
} from "../../../harness/recording/tachometer-channel.ts";
import { valueRange } from "../../../harness/recording/value-range.ts";
import { recordingOf } from "../../kit/made-recording.ts";
import { TEST_SEED } from "../../kit/seed.ts";

const COUNT = 65_536;
const PITCH = 97.3;

/** A pulse from 0 to 1, by its time after the crossing of 0.5. */
type Pulse = (after: number) => number;

/** A flank of some samples, a top, and a slower way down. */
const flank =
  (samples: number, top = 20): Pulse =>
  (after) => {
    const up = samples > 0 ? Math.min(1, Math.max(0, after / samples + 0.5)) : Number(after >= 0);
    return up * (after > top ? Math.max(0, 1 - (after - top) / 5) : 1);
  };
const charge =
  (tau: number): Pulse =>
  (after) => {
    const up = Math.max(0, 1 - Math.exp(-(after + tau * Math.LN2) / tau));
    return after > 30 ? up * Math.exp(-(after - 30) / tau) : up;
  };
const bell =
  (width: number): Pulse =>
  (after) =>
    Math.exp(-0.5 * ((after - width * Math.sqrt(2 * Math.LN2)) / width) ** 2);

interface Made {
  samples: Float32Array;
  crossings: number[];
}

/** Pulses whose pitch strays by 1 %, so that crossings fall anywhere between samples. */
function made(
  pulse: Pulse,
  more: { noise?: number; step?: number; count?: number; sizeAt?: (i: number) => number } = {},
  stream = randomStream(TEST_SEED, 20),
): Made {
  const { noise = 0, step = 0, count = COUNT, sizeAt = () => 1 } = more;
  const crossings: number[] = [];
  for (let time = 17.3; time < count - PITCH; time += PITCH * (1 + 0.01 * uniformOf(stream))) {
    crossings.push(time);
  }
  const samples = new Float32Array(count);
  let next = 0;
  for (let i = 0; i < count; i += 1) {
    while (next + 1 < crossings.length && crossings[next + 1]! - PITCH / 2 <= i) next += 1;
    const value = sizeAt(i) * pulse(i - crossings[next]!) + noise * gaussianOf(stream);
    samples[i] = step > 0 ? Math.round(value / step) * step : value;
  }
  return { samples, crossings };
}

const WHEEL = { positions: 1, revolutions: 1, index: "none" } as const;
const STRETCH = { fromSample: 0, untilSample: Infinity };
const MIDDLE: TachometerWish = { slope: "rising", threshold: 0.5, hysteresis: 0.25 };

async function replayed(samples: Float32Array, wish: TachometerWish) {
  const speed = await tachometerChannel(recordingOf([samples], COUNT), 0, wish, WHEEL, STRETCH);
  const source = speed.makeEdges();
  const edges: number[] = [];
  for (let from = 0; from < samples.length; from += COUNT) {
    source.see!([samples.subarray(from, from + COUNT)]);
    edges.push(...source.take(Math.min(samples.length, from + COUNT)));
  }
  return { speed, edges, told: speed.notes.join(" ") };
}

/** Errors of the edges, each against the nearest crossing. */
function errorsOf(edges: number[], crossings: number[]): number[] {
  let near = 0;
  return edges.map((edge) => {
    const off = (i: number): number => Math.abs((crossings[i] ?? Infinity) - edge);
    while (off(near + 1) < off(near)) near += 1;
    return edge - crossings[near]!;
  });
}

describe("edges of a tachometer waveform", () => {
  const WAVEFORMS: [name: string, pulse: Pulse, more: { noise?: number; step?: number }][] = [
    ["a step", flank(0), {}],
    ["a step in noise", flank(0), { noise: 0.02 }],
    ["a flank of half a sample", flank(0.5), {}],
    ["a flank of two samples in noise", flank(2), { noise: 0.02 }],
    ["a flank of five samples in noise", flank(5), { noise: 0.02 }],
    ["a flank of ten samples in noise", flank(10), { noise: 0.02 }],
    ["a flank of five samples in coarse steps", flank(5), { step: 0.05 }],
    ["a flank of ten samples in coarse steps and noise", flank(10), { step: 0.05, noise: 0.02 }],
    ["a charge in a sample", charge(1), {}],
    ["a charge in three samples", charge(3), {}],
    ["a bell in noise", bell(3), { noise: 0.01 }],
  ];
  it.each(WAVEFORMS)(
    "[REC-060] %s: edges stray from the known crossings as is stated, or less",
    async (_, pulse, more) => {
      const { samples, crossings } = made(pulse, more);
      const { speed, edges } = await replayed(samples, MIDDLE);
      expect(edges.length).toBeGreaterThan(crossings.length - 2);
      const errors = errorsOf(edges, crossings);
      const rms = Math.sqrt(errors.reduce((sum, error) => sum + error ** 2, 0) / errors.length);
      const { total, phaseDeg } = speed.edgeTiming!;
      // A standard deviation from some 670 edges is itself known to 2.7 %; 4.3 of that.
      expect(rms).toBeLessThanOrEqual(total * 1.12);
      // Where little is known of what lies between two samples the statement is careful.
      expect(total).toBeLessThan(4 * rms + 0.1);
      expect(phaseDeg / (total * (360 / PITCH / 1.005))).toBeCloseTo(1, 2);
    },
  );

  it("[REC-061] finds thresholds where the shaft stands still at first, in noise or not", async () => {
    for (const noise of [0, 0.01]) {
      const start = 2.2 * COUNT;
      const sizeAt = (i: number): number => Number(i > start);
      const { samples, crossings } = made(flank(4), { noise, count: 4 * COUNT, sizeAt });
      const { edges, told } = await replayed(samples, { slope: "rising" });
      const turning = crossings.filter((time) => time > start);
      expect(Math.abs(edges.length - turning.length)).toBeLessThanOrEqual(1);
      expect(told).toMatch(/From sample 0 to sample 139264 the tachometer channel hardly moves/);
    }
  });

  it("[REC-062] takes thresholds that serve all along where pulses shrink or grow", async () => {
    for (const sizeAt of [
      (i: number): number => 1 - (0.85 * i) / (4 * COUNT),
      (i: number): number => 0.15 + (0.85 * i) / (4 * COUNT),
    ]) {
      const { samples, crossings } = made(flank(4), { noise: 0.002, count: 4 * COUNT, sizeAt });
      const { edges, told } = await replayed(samples, { slope: "rising" });
      expect(Math.abs(edges.length - crossings.length)).toBeLessThanOrEqual(1);
      expect(told).not.toContain("missing");
    }
  });

  it("[REC-063] tells where pulses leave stated thresholds, and the edges that are missing", async () => {
    const sizeAt = (i: number): number => (i > 2 * COUNT && i < 3 * COUNT ? 0.4 : 1);
    const { samples, crossings } = made(flank(4), { count: 4 * COUNT, sizeAt });
    const { edges, told } = await replayed(samples, MIDDLE);
    const passed = crossings.filter((time) => sizeAt(time) === 1).length;
    expect(Math.abs(edges.length - passed)).toBeLessThanOrEqual(1);
    expect(told).toMatch(
      /From sample 131072 to sample 196608 the tachometer channel does not pass .* edges are missing/,
    );
    expect(told).toMatch(
      /1 pitch is over 1\.5 times the one before, at sample 13[01]\d{3}: edges m/,
    );
  });

  it("[REC-063] tells single edges that are missing, and none of a steady wheel", async () => {
    const { samples, crossings } = made(flank(4), { noise: 0.01 });
    const at = [crossings[100]!, crossings[200]!].map(Math.round);
    for (const lost of at) samples.fill(0, lost - 10, lost + 40);
    const { told } = await replayed(samples, { slope: "rising" });
    const place = (i: number): string => `sample ${Math.round(crossings[i]!)}`;
    expect(told).toContain(
      `2 pitches are over 1.5 times the one before, from ${place(99)} to ${place(199)}: edges may be`,
    );
    const whole = await replayed(made(flank(4), { noise: 0.01 }).samples, { slope: "rising" });
    expect(whole.told).not.toContain("missing");
  });

  it("[REC-064] sees pulses as narrow as a thousandth of a revolution, and no single glitch", async () => {
    const pulses = Float32Array.from({ length: 2 * COUNT }, (_, i) => (i % 2000 < 2 ? 5 : 0));
    pulses[77] = 900;
    const { edges, told } = await replayed(pulses, { slope: "rising" });
    expect(told).toContain("rising through 2.50, hysteresis 1.00");
    // One at the start stands before any rest; the glitch is one.
    expect(Math.abs(edges.length - 66)).toBeLessThanOrEqual(1);
  });

  it("[REC-065] levels are those that all but a few samples lie between, as sorting has it", () => {
    const stream = randomStream(TEST_SEED, 21);
    for (const count of [7, 500, 40_000]) {
      const samples = Float32Array.from({ length: count }, () => gaussianOf(stream) ** 3);
      const sorted = samples.toSorted();
      const stray = count === 7 ? 0 : count === 500 ? 3 : 10;
      expect(valueRange(samples)).toEqual({ low: sorted[stray], high: sorted[count - 1 - stray] });
    }
    expect(valueRange(Float32Array.from([Number.NaN, 2, 2]))).toEqual({ low: 2, high: 2 });
    expect(valueRange(Float32Array.from([Number.NaN]))).toBeUndefined();
  });
});
