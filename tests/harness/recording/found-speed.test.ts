// A speed found from the vibration: what is said of its certainty must hold.
import { describe, expect, it } from "vitest";
import { countRevolutions } from "../../../harness/recording/revolution-count.ts";
import { searchedSpeed } from "../../../harness/recording/searched-speed.ts";
import { findSpeed } from "../../../harness/recording/speed-search.ts";
import { gaussianOf } from "../../../harness/random/gaussian.ts";
import { randomStream, uniformOf } from "../../../harness/random/stream.ts";
import { recordingOf } from "../../kit/made-recording.ts";
import { TEST_SEED } from "../../kit/seed.ts";

const COUNT = 4096;
const TRIALS = 240;
const STATED = 0.95;
/** Wrong by chance once in 10⁵ (one-sided Gaussian). */
const ALLOWANCE_SIGMAS = 4.27;

/** Power over noise of a Hann spectrum's line → amplitude over noise rms (sums of the window). */
const amplitudeOf = (powerRatio: number): number => Math.sqrt((6 * powerRatio) / COUNT);
/** The least deviation of a tone's frequency, cycles per sample (Rife & Boorstyn 1974). */
const leastOf = (powerRatio: number): number => 1 / (Math.PI * Math.sqrt(powerRatio) * COUNT);

type SpeedAt = (share: number) => number;

/** Tones of one shaft in noise, and the shaft's mean speed, by the angle at both ends. */
function madeOf(
  stream: ReturnType<typeof randomStream>,
  channelCount: number,
  powerRatio: number,
  speedAt: SpeedAt,
): { channels: Float32Array[]; mean: number } {
  const angles = new Float64Array(COUNT + 1);
  for (let i = 0; i < COUNT; i += 1) angles[i + 1] = angles[i]! + speedAt((i + 0.5) / COUNT);
  const amplitude = amplitudeOf(powerRatio / channelCount);
  const channels = Array.from({ length: channelCount }, (_, c) => {
    const phase = uniformOf(stream);
    const rms = 10 ** c;
    return Float32Array.from({ length: COUNT }, (_sample, i) => {
      const tone = amplitude * Math.cos(2 * Math.PI * (angles[i]! + phase));
      // An offset and a second order as strong, as machines have them.
      const other = 3 + amplitude * Math.cos(4 * Math.PI * angles[i]!);
      return rms * (tone + other + gaussianOf(stream));
    });
  });
  return { channels, mean: angles[COUNT]! / COUNT };
}

/** Slow movements about a speed: none, straight, bent, to and fro in no less than the recording. */
const DRIFTS: Record<string, (speed: number, by: number, start: number, turns: number) => SpeedAt> =
  {
    none: (speed) => () => speed,
    straight: (speed, by) => (share) => speed * (1 + by * (2 * share - 1)),
    bent: (speed, by) => (share) => speed * (1 + by * (2 * share * share - 1)),
    "to and fro": (speed, by, start, turns) => (share) =>
      speed * (1 + by * Math.sin(2 * Math.PI * (start + turns * share))),
  };

describe("speed found from the vibration", () => {
  it.each(Object.keys(DRIFTS))(
    "[REC-050] drift %s: the mean speed lies within the stated interval as often as stated",
    (drift) => {
      const stream = randomStream(TEST_SEED, 1 + Object.keys(DRIFTS).indexOf(drift));
      let [inside, stated, width] = [0, 0, 0];
      for (let trial = 0; trial < TRIALS; trial += 1) {
        const powerRatio = 10 ** (1.9 + 3 * uniformOf(stream));
        const speed = 0.02 + 0.06 * uniformOf(stream);
        const by = 0.004 * uniformOf(stream);
        const speedAt = DRIFTS[drift]!(speed, by, uniformOf(stream), uniformOf(stream));
        const { channels, mean } = madeOf(stream, 1 + (trial % 3), powerRatio, speedAt);
        const near = speed * (1 + 0.04 * (uniformOf(stream) - 0.5));
        const found = findSpeed(channels, { nearCyclesPerSample: near, spanShare: 0.1 });
        if (found.counted === undefined) continue;
        stated += 1;
        const { uncertaintyCyclesPerSample } = found.counted;
        if (Math.abs(found.cyclesPerSample - mean) <= uncertaintyCyclesPerSample) inside += 1;
        width += uncertaintyCyclesPerSample / leastOf(powerRatio) / TRIALS;
      }
      expect(stated).toBeGreaterThanOrEqual(200);
      const allowance = ALLOWANCE_SIGMAS * Math.sqrt(stated * STATED * (1 - STATED));
      expect(inside).toBeGreaterThanOrEqual(STATED * stated - allowance);
      // Not narrower than any estimate can be; where nothing drifts, not so wide as to say nothing.
      expect(width).toBeGreaterThan(1.96);
      if (drift === "none") expect(width).toBeLessThan(3 * 1.96 + 1);
    },
    120_000,
  );

  it("[REC-051] the least deviation that it is held against is that of the information matrix", () => {
    // Of amplitude, phase and frequency of A·cos(2πft + φ) in noise of variance 1, by its derivatives.
    const [f, amplitude] = [0.0437, amplitudeOf(500)];
    const sums = Array.from({ length: 3 }, () => [0, 0, 0]);
    for (let t = 0; t < COUNT; t += 1) {
      const angle = 2 * Math.PI * f * t + 0.7;
      const slopes = [
        Math.cos(angle),
        -amplitude * Math.sin(angle),
        -amplitude * Math.sin(angle) * 2 * Math.PI * t,
      ];
      for (const [i, a] of slopes.entries())
        for (const [j, b] of slopes.entries()) sums[i]![j]! += a * b;
    }
    const [[a, b, c], [, d, e], [, , g]] = sums as [number[], number[], number[]];
    const whole = a! * (d! * g! - e! * e!) - b! * (b! * g! - e! * c!) + c! * (b! * e! - d! * c!);
    const variance = (a! * d! - b! * b!) / whole;
    // Half cycles at the ends, one in hundreds.
    expect(Math.sqrt(variance) / leastOf(500)).toBeCloseTo(1, 2);
  });

  it("[REC-052] says where a line fades, or moves too fast, in place of an interval", () => {
    const stream = randomStream(TEST_SEED, 9);
    const { channels } = madeOf(stream, 1, 4000, () => 0.05);
    const faded = channels[0]!.map((value, i) =>
      i >= 512 && i < 1024 ? 3 + gaussianOf(stream) : value,
    );
    const fading = findSpeed([faded], { nearCyclesPerSample: 0.05, spanShare: 0.1 });
    expect(fading.counted).toBeUndefined();
    expect(fading.gap).toEqual({ fromSample: 512, untilSample: 1024, isFaint: true });
    // A start-up in the first eighth: the speed rises by a third.
    const { channels: started } = madeOf(stream, 1, 4000, (share) =>
      share < 1 / 8 ? 0.05 * (2 / 3 + (8 / 3) * share) : 0.05,
    );
    const starting = findSpeed(started, { nearCyclesPerSample: 0.05, spanShare: 0.1 });
    expect(starting.standsOut).toBe(true);
    expect(starting.counted).toBeUndefined();
    expect(starting.gap!.fromSample).toBe(0);
    expect(starting.gap!.untilSample).toBeLessThanOrEqual(COUNT / 4);
  });

  it("[REC-052] counts nothing from a few revolutions, or from noise", () => {
    const stream = randomStream(TEST_SEED, 10);
    const { channels } = madeOf(stream, 1, 4000, () => 0.005);
    const [samples] = channels.map((all) => all.subarray(0, 4000));
    // Twenty revolutions; 32 are the fewest.
    expect(countRevolutions([{ samples: samples!, variance: 1 }], 0.005)).toBeUndefined();
    const noise = Float32Array.from({ length: COUNT }, () => gaussianOf(stream));
    const nothing = findSpeed([noise], { nearCyclesPerSample: 0.05, spanShare: 0.1 });
    expect([nothing.standsOut, nothing.counted]).toEqual([false, undefined]);
  });

  it("[REC-054] says why a line is no shaft's: too weak, in one half only, at two speeds", async () => {
    const stream = randomStream(TEST_SEED, 12);
    const noise = Float32Array.from({ length: COUNT }, () => gaussianOf(stream));
    const { channels: whole } = madeOf(stream, 1, 1e4, () => 0.05);
    const half = whole[0]!.map((value, i) => (i < COUNT / 2 ? noise[i]! : value));
    const { channels: moved } = madeOf(stream, 1, 1e4, (share) => (share < 0.5 ? 0.05 : 0.052));
    const CASES: [samples: Float32Array, told: RegExp][] = [
      [noise, /: the strongest is \S+ times the noise at \S+; it would have to be over 1\d/],
      [half, /does not stand out of the first half \(\S+ times the noise\)/],
      [
        moved[0]!,
        /: in the first half it is at 0\.0(49|50)\d+, in the second at 0\.05[12]\d+, and/,
      ],
    ];
    for (const [samples, told] of CASES) {
      const words = { speed: (f: number) => f.toFixed(6), place: String, rateShare: 0 };
      const recording = recordingOf([samples]);
      const stretch = { fromSample: 0, untilSample: Infinity };
      await expect(searchedSpeed(recording, [0], 0.0505, 0.1, stretch, words)).rejects.toThrow(
        told,
      );
    }
  });

  it("[REC-053] tells by how far the speed moved", () => {
    const stream = randomStream(TEST_SEED, 11);
    const { channels } = madeOf(stream, 2, 1e5, DRIFTS["straight"]!(0.05, 0.004, 0, 0));
    const moved = findSpeed(channels, { nearCyclesPerSample: 0.05, spanShare: 0.1 }).counted!;
    // Segments show all but half of one at either end of what the speed moves. Noise moves that by
    // 0.4 of a segment (standard deviation over 60 seeds, about a mean of 1.6): six of them.
    const share = moved.wanderCyclesPerSample / 0.05;
    expect(share).toBeLessThan(0.004 * 1.1);
    expect(share).toBeGreaterThan(0.004 * (1 - 4 / moved.segmentCount));
    const { channels: still } = madeOf(stream, 2, 1e5, () => 0.05);
    const steady = findSpeed(still, { nearCyclesPerSample: 0.05, spanShare: 0.1 }).counted!;
    expect(steady.wanderCyclesPerSample).toBe(0);
  });
});

describe("columns that never change", () => {
  const stream = randomStream(TEST_SEED, 7);
  const { channels, mean } = madeOf(stream, 1, 400, () => 0.1);
  const still = new Float32Array(COUNT).fill(1);
  const search = { nearCyclesPerSample: 0.1, spanShare: 0.05 };

  it("[REC-066] are passed over in a search for the speed", () => {
    const found = findSpeed([still, ...channels, still], search);
    expect(found).toEqual(findSpeed(channels, search));
    // One over the length: the line is within a bin of it.
    expect(Math.abs(found.cyclesPerSample - mean)).toBeLessThan(1 / COUNT);
  });

  it("[REC-066] alone give no speed, and no NaN", () => {
    const found = findSpeed([still], search);
    expect(found.standsOut).toBe(false);
    expect(found.powerRatio).toBe(0);
    expect(Number.isFinite(found.cyclesPerSample)).toBe(true);
  });
});
