// Truth here is closed form: edges of a known motion, solved for their times.
import { describe, expect, it } from "vitest";
import type { WheelShape } from "../../../harness/method/box-signal.ts";
import { countEdges } from "../../../harness/method/edge-count.ts";
import { shaftAngles } from "../../../harness/method/shaft-angle.ts";
import { edgesOf, PLAIN_WHEEL, rampAngle, timeOfRamp } from "../../kit/known-signal.ts";

const NO_SAMPLES = { sampleRateHz: 12_800, samples: new Float64Array(0) };

/** Speed and acceleration of the motion, in revolutions a sample and a sample². */
const RAMP = { startRev: 0.3, speed: 0.004, acceleration: 5e-8 };

function wheel(over: Partial<WheelShape>): WheelShape {
  return { ...PLAIN_WHEEL, positions: 60, ...over };
}

describe("places of edges", () => {
  it.each([
    ["every edge is the index", wheel({ positions: 1 })],
    ["a missing tooth", wheel({ index: "missing-tooth" })],
    ["an extra edge", wheel({ index: "extra-edge" })],
    ["four places, one missing", wheel({ positions: 4, index: "missing-tooth" })],
    ["three places and an extra edge", wheel({ positions: 3, index: "extra-edge" })],
    ["two places and an extra edge", wheel({ positions: 2, index: "extra-edge" })],
  ])("[METH-001] are counted from the index: %s", (_, shape) => {
    const edges = edgesOf(RAMP, shape, 20_000);
    const [run, ...others] = countEdges(edges, shape);
    expect(others).toEqual([]);
    expect(run!.hasIndex).toBe(true);
    const off = run!.at.map((at, i) => rampAngle(RAMP, at) - run!.place[i]! / shape.positions);
    // A whole number of revolutions may stand between the two, and the same one at every edge.
    for (const one of off) expect(Math.abs(one - Math.round(off[0]!))).toBeLessThan(1e-9);
  });

  it("[METH-002] a missed edge and an extra one leave the count as it is", () => {
    const shape = wheel({ index: "missing-tooth" });
    const whole = [...edgesOf(RAMP, shape, 20_000)];
    const glitch = whole[300]! + 0.3 * (whole[301]! - whole[300]!);
    const spoilt = [...whole.slice(0, 200), ...whole.slice(201, 301), glitch, ...whole.slice(301)];
    const [run, ...others] = countEdges(Float64Array.from(spoilt), shape);
    expect(others).toEqual([]);
    expect(run!.at.length).toBe(whole.length - 1);
    const off = run!.at.map((at, i) => rampAngle(RAMP, at) - run!.place[i]! / 60);
    for (const one of off) expect(Math.abs(one - Math.round(off[0]!))).toBeLessThan(1e-9);
  });

  it("[METH-003] a drop-out parts the edges into two runs", () => {
    const shape = wheel({});
    const whole = [...edgesOf(RAMP, shape, 20_000)];
    const runs = countEdges(
      Float64Array.from([...whole.slice(0, 900), ...whole.slice(1100)]),
      shape,
    );
    expect(runs.map((run) => run.at.length)).toEqual([900, whole.length - 1100]);
    expect(runs.every((run) => !run.hasIndex)).toBe(true);
  });

  it("[METH-004] a geared wheel has no index", () => {
    const shape = wheel({ positions: 7, revolutions: 2, index: "missing-tooth" });
    const [run] = countEdges(edgesOf(RAMP, shape, 20_000), shape);
    expect(run!.hasIndex).toBe(false);
  });

  it("[METH-005] few edges make no run", () => {
    expect(countEdges(Float64Array.from([1, 2, 3]), wheel({}))).toEqual([]);
    expect(countEdges(new Float64Array(0), wheel({}))).toEqual([]);
  });
});

describe("angle", () => {
  it.each([1, 60])(
    "[METH-006] is exact at a constant acceleration, %i edges a turn",
    (positions) => {
      const shape = wheel({ positions, index: positions === 1 ? "none" : "missing-tooth" });
      const [angle] = shaftAngles({
        ...NO_SAMPLES,
        edges: edgesOf(RAMP, shape, 20_000),
        wheel: shape,
      });
      const [from, until] = [angle!.firstAt, angle!.lastAt];
      const whole = Math.round(rampAngle(RAMP, from) - angle!.revAt(from));
      for (let i = 0; i <= 500; i += 1) {
        const at = from + ((until - from) * i) / 500;
        expect(angle!.revAt(at) + whole).toBeCloseTo(rampAngle(RAMP, at), 10);
        expect(angle!.speedAt(at)).toBeCloseTo(RAMP.speed + RAMP.acceleration * at, 10);
        const rev = rampAngle(RAMP, at) - whole;
        expect(Math.abs(angle!.timeAt(rev) - timeOfRamp(RAMP, rev + whole))).toBeLessThan(1e-6);
      }
    },
  );
});
