// Truth here is where a tone and an order were put: rows and columns are worked out by hand.
import { describe, expect, it } from "vitest";
import { shaftAngles } from "../../../harness/method/shaft-angle.ts";
import { speedMap } from "../../../harness/method/speed-map.ts";
import type { SpeedMap } from "../../../harness/method/opinion-types.ts";
import { knownSignal } from "../../kit/known-signal.ts";

const REQUEST = {
  channel: "frame",
  shaft: "N1",
  quantity: "velocity" as const,
  startS: 0,
  orders: [1],
};

/** 40 to 80 rev/s in 10 s, at 12.8 kHz. */
const RAMP = { startRev: 0, speed: 40 / 12_800, acceleration: 4 / 12_800 ** 2 };
const LENGTH = 128_000;

function cellsOf(map: SpeedMap): Buffer {
  return Buffer.from(map.cells, "base64");
}

/** Row with the greatest amplitude in a column, between two frequencies. */
function brightest(map: SpeedMap, column: number, from: number, until: number): number {
  const cells = cellsOf(map);
  const rowHz = map.frequencyHigh / map.rows;
  let best = Math.ceil(from / rowHz);
  for (let row = best; row < until / rowHz; row += 1) {
    if (cells[column * map.rows + row]! > cells[column * map.rows + best]!) best = row;
  }
  return (best + 0.5) * rowHz;
}

describe("map of the spectrum over speed", () => {
  const parts = [{ order: 1, amplitude: () => 0.002, lagRad: 0 }];
  const signal = knownSignal(RAMP, parts, LENGTH);
  for (let i = 0; i < LENGTH; i += 1) {
    // A hum at 300 Hz, 20 dB below the order.
    signal.samples[i]! += 0.0002 * Math.cos((2 * Math.PI * 300 * i) / 12_800);
  }
  const map = speedMap(signal, shaftAngles(signal), REQUEST)!;
  const rowHz = map.frequencyHigh / map.rows;

  it("[METH-080] an order lies on its line through the origin, a hum lies level", () => {
    expect(map.axis).toBe("speed");
    for (let column = 0; column < map.columns; column += 7) {
      const speed = (map.low + ((column + 0.5) / map.columns) * (map.high - map.low)) / 60;
      expect(map.speedHz[column]).toBeCloseTo(speed, 3);
      expect(Math.abs(brightest(map, column, 20, 120) - speed)).toBeLessThan(1.5 * rowHz);
      expect(Math.abs(brightest(map, column, 200, 400) - 300)).toBeLessThan(1.5 * rowHz);
    }
  });

  it("[METH-081] its top is the greatest amplitude in the channel's unit, even in decibels", () => {
    expect(map.unit).toBe("mm/s pk");
    // Hann loses up to 1.42 dB between two bins (W-02), and a little where the line moves.
    expect(map.greatestPk).toBeGreaterThan(2 * 10 ** (-1.6 / 20));
    expect(map.greatestPk).toBeLessThanOrEqual(2.001);
    const cells = cellsOf(map);
    expect(Math.max(...cells)).toBe(255);
    const column = map.columns >> 1;
    const row = Math.floor(300 / rowHz);
    const near = [row - 1, row, row + 1].map((one) => cells[column * map.rows + one]!);
    const decibels = ((Math.max(...near) - 255) / 254) * map.rangeDb;
    expect(decibels).toBeGreaterThan(-20 - 1.5);
    expect(decibels).toBeLessThan(-20 + 1.7);
    // Far from both there is nothing: the foot of the scale.
    expect(cells[column * map.rows + Math.floor(200 / rowHz)]).toBeLessThan(20);
  });

  it("[METH-082] a shaft that stays has a map over time", () => {
    const steady = knownSignal({ ...RAMP, acceleration: 0 }, parts, LENGTH);
    const overTime = speedMap(steady, shaftAngles(steady), { ...REQUEST, startS: 5 })!;
    expect([overTime.axis, overTime.low, overTime.high]).toEqual(["time", 5, 15]);
    expect(overTime.speedHz.every((speed) => Math.abs(speed - 40) < 1e-3)).toBe(true);
  });

  it("[METH-083] without edges there is none", () => {
    const still = { ...signal, edges: new Float64Array(0) };
    expect(speedMap(still, [], REQUEST)).toBeUndefined();
  });
});
