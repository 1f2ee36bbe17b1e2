import { describe, expect, it } from "vitest";
import { burstShape } from "../../../harness/waveform/channel-faults.ts";
import type { ChannelFault, ChannelSignal, Component } from "../../../harness/scene/scene.ts";
import { makeWaveform } from "../../../harness/waveform/waveform.ts";
import {
  channelProfile,
  channelSignal,
  monitorProfile,
  orderComponent,
  scene,
  shaftMotion,
} from "../../kit/scene-builder.ts";
import { TEST_SEED } from "../../kit/seed.ts";
import { drawn } from "./batches.ts";

const RATE_HZ = 12_800;

function samplesOf(
  components: Component[],
  over: Partial<ChannelSignal>,
  durationS = 0.5,
): number[] {
  const channels = [channelSignal(components, over)];
  return drawn(scene({ durationS, seed: TEST_SEED, channels }), [1000, 37]).samples[0]!;
}

const sine = [orderComponent(1, 10, 20)];
const MEAN = 3;
const plain = samplesOf(sine, { mean: MEAN });
const f32 = Math.fround;
const fromS = 0.1;
const untilS = 0.2;

/** What a sample becomes inside the window, and where the window lies. */
const FAULTS: [
  name: string,
  fault: ChannelFault,
  inside: (value: number) => number,
  until: number,
][] = [
  ["clip", { kind: "clip", fromS, untilS, level: 6 }, (v) => Math.max(-6, Math.min(6, v)), 2560],
  ["flat", { kind: "flat", fromS, untilS, value: 1.5 }, () => 1.5, 2560],
  ["bias", { kind: "bias", fromS, untilS, value: -4 }, (v) => v - MEAN - 4, 2560],
  ["open", { kind: "open", fromS, untilS, share: 0.25 }, (v) => 0.25 * (v - MEAN) + MEAN, 2560],
  ["gain", { kind: "gain", fromS, untilS, factor: 1.5 }, (v) => 1.5 * (v - MEAN) + MEAN, 2560],
  ["spike", { kind: "spike", atS: fromS, value: 50, samples: 3 }, (v) => v + 50, 1283],
];

describe("channel faults", () => {
  it.each(FAULTS)(
    "[WAVE-050] %s changes its window, and nothing outside",
    (_, fault, inside, until) => {
      const found = samplesOf(sine, { mean: MEAN, faults: [fault] });
      expect(found.slice(0, 1280)).toEqual(plain.slice(0, 1280));
      expect(found.slice(until)).toEqual(plain.slice(until));
      let worst = 0;
      for (let i = 1280; i < until; i += 1) {
        worst = Math.max(worst, Math.abs(found[i]! - inside(plain[i]!)));
      }
      // Both numbers were rounded to f32 on their way out: half a unit of 32 or 64 each.
      expect(worst).toBeLessThan(5e-6);
    },
  );

  it("[WAVE-051] not finite: NaN and both infinities in turn", () => {
    const faults: ChannelFault[] = [{ kind: "not-finite", atS: 0.1, samples: 4 }];
    const found = samplesOf(sine, { mean: MEAN, faults });
    expect(found.slice(1280, 1284)).toEqual([NaN, Infinity, -Infinity, NaN]);
    expect(found.slice(0, 1280)).toEqual(plain.slice(0, 1280));
    expect(found.slice(1284)).toEqual(plain.slice(1284));
  });

  it("[WAVE-052] faults act in the order of the signal's way, however they are listed", () => {
    const faults: ChannelFault[] = [
      { kind: "clip", fromS: 0, untilS: 1, level: 7 },
      { kind: "spike", atS: 0.1, value: 100, samples: 1 },
      { kind: "gain", fromS: 0, untilS: 1, factor: 2 },
    ];
    const found = samplesOf(sine, { faults });
    expect(found).toEqual(samplesOf(sine, { faults: faults.toReversed() }));
    expect(found[1280]).toBe(7);
    expect(Math.max(...found)).toBe(7);
  });

  it("[WAVE-053] a loose connector: bursts of the stated rate, peak and length", () => {
    const fault: ChannelFault = {
      kind: "loose",
      fromS: 1,
      untilS: 101,
      burstPk: 5,
      burstsPerS: 2,
      lengthS: 0.01,
    };
    const found = samplesOf([], { faults: [fault] }, 102);
    expect(found.slice(0, RATE_HZ).every((value) => value === 0)).toBe(true);
    let bursts = 0;
    let up = 0;
    for (const [i, value] of found.entries()) {
      if (value === 0 || found[i - 1] !== 0) continue;
      bursts += 1;
      if (value > 0) up += 1;
    }
    // Poisson, 200 expected, less the share that starts within another, 1 − e^(−0.02); 6 sigma.
    const right = 200 * Math.exp(-0.02);
    expect(Math.abs(bursts - right)).toBeLessThan(6 * Math.sqrt(200));
    expect(Math.abs(up - bursts / 2)).toBeLessThan(3 * Math.sqrt(200));
    // Alone, a burst of 128 samples comes within (π·0.65/128)²/2 of its peak; overlaps add.
    let largest = 0;
    for (const value of found) largest = Math.max(largest, Math.abs(value));
    expect(largest).toBeGreaterThan(5 * 0.999);
    expect(found).toEqual(samplesOf([], { faults: [fault] }, 102));
  });

  it("[WAVE-054] a burst is a decaying half-sine of peak 1", () => {
    let top = 0;
    let worst = 0;
    for (let i = 0; i <= 100_000; i += 1) {
      const u = i / 100_000;
      top = Math.max(top, burstShape(u));
      const ratio = Math.sin(Math.PI * u) * (1 - u);
      worst = Math.max(worst, Math.abs(burstShape(u) - ratio / 0.5792303273565197));
    }
    expect(worst).toBeLessThan(1e-14);
    expect(Math.abs(top - 1)).toBeLessThan(1e-9);
    expect(burstShape(-0.1)).toBe(0);
    expect(burstShape(1.1)).toBe(0);
  });

  it("[WAVE-055] noise is white, of the stated rms, and its own in each channel", () => {
    const noise: Component[] = [
      { kind: "noise", rms: 3 },
      { kind: "noise", rms: 4 },
    ];
    const channels = [channelSignal(noise), channelSignal([{ kind: "noise", rms: 5 }])];
    const profile = monitorProfile({ channels: [channelProfile(), channelProfile()] });
    const [a, b] = drawn(scene({ profile, channels, durationS: 20, seed: TEST_SEED })).samples;
    const count = a!.length;
    let squares = 0;
    let both = 0;
    for (const [i, value] of a!.entries()) {
      squares += (value * value) / 25 / count;
      both += (value * b![i]!) / 25 / count;
    }
    expect(Math.abs(squares - 1)).toBeLessThan(6 * Math.sqrt(2 / count));
    expect(Math.abs(both)).toBeLessThan(6 / Math.sqrt(count));
  });
});

describe("converter", () => {
  it("[WAVE-056] i16 rounds to the nearest count and stops at both ends", () => {
    const exact = samplesOf(sine, {});
    const counts = samplesOf(sine, { converter: { format: "i16", step: 0.01 } });
    expect(counts.every(Number.isInteger)).toBe(true);
    const worst = Math.max(...counts.map((count, i) => Math.abs(count - exact[i]! / 0.01)));
    expect(worst).toBeLessThan(0.5 + 1e-4);
    const small = samplesOf(sine, { converter: { format: "i16", step: 0.0001 } });
    expect(Math.max(...small)).toBe(32_767);
    expect(Math.min(...small)).toBe(-32_768);
  });

  it("[WAVE-057] the batch is i16 where all converters are; else counts come as f32 × step", () => {
    const profile = monitorProfile({ channels: [channelProfile(), channelProfile()] });
    const i16 = channelSignal(sine, { converter: { format: "i16", step: 0.1 } });
    const both = makeWaveform(scene({ profile, channels: [i16, i16] })).next(500)!;
    const mixed = makeWaveform(scene({ profile, channels: [i16, channelSignal(sine)] })).next(500)!;
    expect(both.samples[0]).toBeInstanceOf(Int16Array);
    expect(mixed.samples[0]).toBeInstanceOf(Float32Array);
    const asF32 = Array.from(both.samples[0]!, (count) => f32(count * f32(0.1)));
    expect(Array.from(mixed.samples[0]!)).toEqual(asF32);
  });

  it("[WAVE-058] counts cannot be not finite: refused", () => {
    const faults: ChannelFault[] = [{ kind: "not-finite", atS: 0.1, samples: 4 }];
    const converter = { format: "i16" as const, step: 0.1 };
    expect(() => samplesOf(sine, { faults, converter })).toThrow("not finite");
  });
});

describe("a scene that cannot be made", () => {
  it("[WAVE-059] is refused at once, with the reason", () => {
    const motion = (rows: { timeS: number; revPerS: number }[]) => (): unknown =>
      makeWaveform(scene({ shafts: [shaftMotion({ speed: rows })] }));
    expect(motion([])).toThrow("at least one row");
    expect(motion([{ timeS: 1, revPerS: 10 }])).toThrow("time 0");
    expect(motion([{ timeS: 0, revPerS: -1 }])).toThrow("0 or more");
    const back = [0, 2, 1].map((timeS) => ({ timeS, revPerS: 10 }));
    expect(motion(back)).toThrow("ascend");
    const profile = monitorProfile({ sampleRateHz: 12_801 });
    expect(() => makeWaveform(scene({ profile }))).toThrow("whole multiple");
    const channels = [channelSignal([{ ...orderComponent(1, 1), shaft: 3 } as Component])];
    expect(() => makeWaveform(scene({ channels }))).toThrow("shaft 3");
    expect(() => makeWaveform(scene()).next(0)).toThrow("batch of 0");
  });
});
