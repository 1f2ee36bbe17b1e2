import { describe, expect, test } from "vitest";
import { TEST_SEED } from "../kit/seed.ts";
import { STAGE_BUILDS, stageModule } from "./kit/stage.ts";

interface MathExports {
  memory: WebAssembly.Memory;
  phasorSet(phase: number): void;
  re(): number;
  im(): number;
  phaseOf(revolutions: number): number;
  exponentialOfMinus(h: number): number;
  knotSpacing(positions: number): number;
  crcOf(address: number, length: number): number;
  addressBytes(): number;
  segmentNotFinite(n: number, speed: number, speedChange: number): number;
}

/** Stated in assembly/math/phasor.ts; measured 1.03e-7 over 2e7 phases. */
const PHASOR_ERROR_MAX = 1.2e-7;
/** Stated in assembly/math/exponential.ts, 2 ulp; measured 8.1e-8 over 2e6 arguments. */
const EXPONENTIAL_ERROR_MAX = 1.2e-7;

/** Phases that matter: octant and quadrant edges with their neighbours, and a spread of others. */
function phases(): number[] {
  const list: number[] = [];
  for (let octant = 0; octant < 8; octant += 1) {
    for (const near of [-2, -1, 0, 1, 2]) list.push((octant * 0x20000000 + near) >>> 0);
  }
  let phase = TEST_SEED >>> 0;
  for (let i = 0; i < 20_000; i += 1) {
    phase = (Math.imul(phase, 1664525) + 1013904223) >>> 0;
    list.push(phase);
  }
  return list;
}

describe.each(STAGE_BUILDS)("numbers, %s build", async (build) => {
  const module = await stageModule(
    { entry: "tests/assembly/kit/math-entry.ts", standIns: {} },
    build,
  );
  const run = new WebAssembly.Instance(module, {}).exports as unknown as MathExports;

  test("[CORE-050] cosine and sine of a phase stay within the stated error", () => {
    let worst = 0;
    for (const phase of phases()) {
      run.phasorSet(phase);
      const angle = (phase / 2 ** 32) * 2 * Math.PI;
      worst = Math.max(worst, Math.abs(run.re() - Math.cos(angle)));
      worst = Math.max(worst, Math.abs(run.im() - Math.sin(angle)));
    }
    expect(worst).toBeLessThanOrEqual(PHASOR_ERROR_MAX);
  });

  test.each([
    [0, 1, 0],
    [0x40000000, 0, 1],
    [0x80000000, -1, 0],
    [0xc0000000, 0, -1],
  ])("[CORE-050] a quarter of a turn is exact: phase %d", (phase, re, im) => {
    run.phasorSet(phase);
    expect([run.re() + 0, run.im() + 0]).toEqual([re, im]);
  });

  test("[CORE-051] whole revolutions fall away from a phase", () => {
    for (const rev of [0.25, 1.25, 17.25, -0.75, -3.75]) {
      expect(run.phaseOf(rev) >>> 0).toBe(0x40000000);
    }
  });

  test("[CORE-052] the exponential stays within the stated error", () => {
    let worst = 0;
    for (let h = 0; h < 87; h = h * 1.0007 + 1e-6) {
      const rounded = Math.fround(h);
      const truth = Math.exp(-rounded);
      worst = Math.max(worst, Math.abs(run.exponentialOfMinus(rounded) - truth) / truth);
    }
    expect(worst).toBeLessThanOrEqual(EXPONENTIAL_ERROR_MAX);
  });

  test("[CORE-052] the exponential of 0 is 1, and nothing is left beyond its range", () => {
    expect(run.exponentialOfMinus(0)).toBe(1);
    expect(run.exponentialOfMinus(87)).toBe(0);
    expect(run.exponentialOfMinus(1e9)).toBe(0);
    expect(run.exponentialOfMinus(Number.NaN)).toBe(0);
  });

  // CRC-32/ISO-HDLC gives 0xcbf43926 for "123456789": the check value of the algorithm's catalogue
  // entry, the CRC of RFC 1952 section 8.
  test("[CORE-053] the check code gives its published check value", () => {
    const text = new TextEncoder().encode("123456789");
    new Uint8Array(run.memory.buffer).set(text, run.addressBytes());
    expect(run.crcOf(run.addressBytes(), text.length) >>> 0).toBe(0xcbf43926);
    expect(run.crcOf(run.addressBytes(), 0) >>> 0).toBe(0);
  });

  // A shaft that slows to less than half within two knot intervals: the parabola turns back in it.
  test.each([0, 1e-3, -1e-3])(
    "[TRACK-014] a segment at %d cycles a sample gives numbers",
    (speed) => {
      const at = run.addressBytes() >> 2;
      new Float32Array(run.memory.buffer).fill(1, at, at + 64);
      expect(run.segmentNotFinite(64, speed, 1e-6)).toBe(0);
    },
  );

  test.each([
    [1, 1],
    [6, 1],
    [12, 1],
    [13, 1],
    [24, 2],
    [36, 3],
    [52, 4],
    [60, 5],
    [120, 10],
    [251, 1],
    [255, 17],
  ])("[ANGLE-001] a wheel of %d has a knot at every %d positions", (positions, spacing) => {
    expect(run.knotSpacing(positions)).toBe(spacing);
    expect(positions % spacing).toBe(0);
  });
});
