import { describe, expect, it } from "vitest";
import { EdgeDetector, edgeSettingsFrom } from "../../../harness/recording/edge-detector.ts";
import { EdgeList, POSITIONS_MADE, StatedSpeed } from "../../../harness/recording/edge-sources.ts";

describe("edge detector", () => {
  it("[REC-001] finds the crossing of a straight slope to 1e-6 of a sample, in any runs", () => {
    // A triangle of period 20 samples that crosses 0 upwards at 0.37 + 20 m.
    const samples = Float32Array.from({ length: 2000 }, (_, i) => {
      const phase = ((((i - 0.37) / 20) % 1) + 1) % 1;
      return phase < 0.25 ? 4 * phase : phase < 0.75 ? 2 - 4 * phase : 4 * phase - 4;
    });
    for (const runLength of [7, 64, 2000]) {
      const detector = new EdgeDetector({ threshold: 0, hysteresis: 0.3, slope: "rising" });
      const times: number[] = [];
      for (let from = 0; from < samples.length; from += runLength) {
        times.push(...detector.process(samples.subarray(from, from + runLength)));
      }
      // The first crossing needs the signal to have stood low before: it starts at 20.37.
      expect(times.length).toBe(99);
      // f32 samples of slope 0.2: rounding 6e-8 over the slope.
      times.forEach((time, m) => expect(Math.abs(time - 20.37 - 20 * m)).toBeLessThan(1e-6));
    }
  });

  it("[REC-002] takes no edge from noise that does not pass the hysteresis", () => {
    const detector = new EdgeDetector({ threshold: 1, hysteresis: 0.5, slope: "rising" });
    const samples = Float32Array.from([0, 2, 0.9, 1.1, 0.8, 1.2, 0.4, 1.5]);
    expect(detector.process(samples)).toEqual([expect.closeTo(0.5), expect.closeTo(6 + 0.6 / 1.1)]);
  });

  it("[REC-003] passes over samples that are no number", () => {
    const detector = new EdgeDetector({ threshold: 1, hysteresis: 0.5, slope: "falling" });
    const samples = Float32Array.from([2, Number.NaN, 0]);
    expect(detector.process(samples)).toEqual([1]);
  });

  it("[REC-004] takes threshold and hysteresis from the waveform, and refuses one that rests", () => {
    const pulses = Float32Array.from({ length: 1000 }, (_, i) => (i % 10 < 2 ? 5 : 0));
    expect(edgeSettingsFrom(pulses, "rising")).toEqual({
      threshold: 2.5,
      hysteresis: 1,
      slope: "rising",
    });
    expect(() => edgeSettingsFrom(new Float32Array(100), "rising")).toThrow(RangeError);
  });
});

describe("edge sources", () => {
  it("[CLI-137] hands every edge over with the run that it lies in, also on their borders", () => {
    // 20 rev/s at 48 kHz: an edge every 200 samples, rounded to either side of the borders.
    for (const cyclesPerSample of [20 / 48_000, 20.1 / 48_000, 1 / 12_000]) {
      const pitch = 1 / cyclesPerSample / POSITIONS_MADE;
      const source = new StatedSpeed([{ atSample: 0, cyclesPerSample }]);
      let count = 0;
      for (let m = 0; m < 20_000; m += 1) {
        const [from, until] = [m * pitch, (m + 1) * pitch].map(Math.round) as [number, number];
        for (const time of source.take(until)) {
          if (time < from || time >= until) throw new Error(`${time} is not in ${from} … ${until}`);
          count += 1;
        }
      }
      expect(Math.abs(count - 20_000)).toBeLessThanOrEqual(1);
    }
  });

  it("[REC-005] a stated constant makes even edges, whatever the runs", () => {
    const cyclesPerSample = 0.0123;
    const source = new StatedSpeed([{ atSample: 0, cyclesPerSample }]);
    const times: number[] = [];
    for (let until = 0; until < 5000; until += 333) times.push(...source.take(until));
    times.push(...source.take(5000));
    expect(times.length).toBe(Math.ceil(5000 * cyclesPerSample * POSITIONS_MADE));
    times.forEach((time, i) => {
      expect(time).toBeCloseTo(i / POSITIONS_MADE / cyclesPerSample, 8);
    });
  });

  it("[REC-006] a table's edges stand where the integral of the straight pieces puts them", () => {
    const rows = [
      { atSample: 100, cyclesPerSample: 0.01 },
      { atSample: 1100, cyclesPerSample: 0.03 },
      { atSample: 1600, cyclesPerSample: 0 },
    ];
    const source = new StatedSpeed(rows);
    const times = source.take(3000);
    // 100 × 0.01 + 1000 × 0.02 + 500 × 0.015 = 28.5 revolutions by hand.
    expect(times.length).toBe(28.5 * POSITIONS_MADE);
    const angleAt = (time: number): number => {
      let angle = 0;
      for (let s = 0; s < 100_000; s += 1) {
        const at = ((s + 0.5) / 100_000) * time;
        const speed =
          at < 100
            ? 0.01
            : at < 1100
              ? 0.01 + ((at - 100) / 1000) * 0.02
              : 0.03 * (1 - (at - 1100) / 500);
        angle += (speed * time) / 100_000;
      }
      return angle;
    };
    for (const i of [5, 100, 200, 300, 330]) {
      expect(angleAt(times[i]!)).toBeCloseTo(i / POSITIONS_MADE, 5);
    }
  });

  it("[REC-008] rows before the stretch turn the shaft, and leave no edge before its start", () => {
    // By hand: 5 + 7.5 revolutions before sample 0, 150 edges; then one each 1 / 0.24 samples.
    const source = new StatedSpeed([
      { atSample: -1000, cyclesPerSample: 0.01 },
      { atSample: -500, cyclesPerSample: 0.01 },
      { atSample: 0, cyclesPerSample: 0.02 },
    ]);
    const times = source.take(1000);
    expect(times.length).toBe(20 * POSITIONS_MADE);
    times.forEach((time, i) => expect(time).toBeCloseTo(i / POSITIONS_MADE / 0.02, 7));
  });

  it.each([1e9, 1e15, 1e300])("[REC-008] the first row may lie %d samples before it", (far) => {
    const cyclesPerSample = 0.02;
    const rows = [-far, 1000, 2000].map((atSample) => ({ atSample, cyclesPerSample }));
    const times = new StatedSpeed(rows).take(3000);
    const pitch = 1 / POSITIONS_MADE / cyclesPerSample;
    expect(times[0]).toBeLessThan(pitch);
    expect(Math.abs(times.length - 3000 / pitch)).toBeLessThanOrEqual(1);
    times.forEach((time, i) => expect(time - times[0]!).toBeCloseTo(i * pitch, 7));
  });

  it("[REC-007] refuses tables and lists that do not ascend, and negative speeds", () => {
    const row = { atSample: 0, cyclesPerSample: 0.1 };
    expect(() => new StatedSpeed([])).toThrow(RangeError);
    expect(() => new StatedSpeed([row, row])).toThrow("row 2");
    expect(() => new StatedSpeed([{ ...row, cyclesPerSample: -1 }])).toThrow("negative");
    expect(() => new EdgeList(Float64Array.from([1, 2, 2]))).toThrow("edge 3");
  });
});
