import { describe, expect, it } from "vitest";
import { complexExponential, Mode } from "../../../harness/rotor/mode.ts";
import { FrontEnd } from "../../../harness/waveform/front-end.ts";
import { RotorSource } from "../../../harness/waveform/rotor-source.ts";
import { CHUNK_SAMPLES } from "../../../harness/waveform/sample-clock.ts";
import { ShaftTrack } from "../../../harness/waveform/shaft-track.ts";
import { RUN_UPS, SPEED_RATIOS, UNBALANCE_RESPONSES } from "../../kit/rotor-rows.ts";
import { shaftMotion } from "../../kit/scene-builder.ts";
import { directMotion } from "../waveform/direct.ts";

const TAU = 2 * Math.PI;
const RATE_HZ = 12_800;

type Speed = { timeS: number; revPerS: number }[];
type Unbalance = { timeS: number; kgM: number; angleRad: number }[];

const rotor = (naturalHz: number, dampingRatio: number, unbalance?: Unbalance) => ({
  kind: "rotor" as const,
  shaft: 0,
  modalMassKg: 50,
  naturalHz,
  dampingRatio,
  unbalance: unbalance ?? [{ timeS: 0, kgM: 0.05, angleRad: 0 }],
});

function made(
  one: ReturnType<typeof rotor>,
  speed: Speed,
  durationS: number,
  derivative = 0,
  more: { startAngleRev?: number; ripple?: { order: number; amplitudeRev: number }[] } = {},
): Float64Array {
  const motion = shaftMotion({ startAngleRev: 0, ...more, speed });
  const track = new ShaftTrack(motion, RATE_HZ);
  const source = new RotorSource(one, derivative, new FrontEnd({ kind: "none" }), track, RATE_HZ);
  const chunks = Math.ceil((durationS * RATE_HZ) / CHUNK_SAMPLES);
  const all = new Float64Array(chunks * CHUNK_SAMPLES);
  for (let i = 0; i < chunks; i += 1) {
    const first = i * CHUNK_SAMPLES;
    source.add(first, CHUNK_SAMPLES, all.subarray(first, first + CHUNK_SAMPLES));
  }
  return all;
}

/** Amplitude and lag of a steady sine over whole revolutions. */
function readSine(x: Float64Array, revPerS: number, count: number): { pk: number; lagDeg: number } {
  let re = 0;
  let im = 0;
  for (let i = 0; i < count; i += 1) {
    re += (2 / count) * x[i]! * Math.cos((TAU * revPerS * i) / RATE_HZ);
    im -= (2 / count) * x[i]! * Math.sin((TAU * revPerS * i) / RATE_HZ);
  }
  return { pk: Math.hypot(re, im), lagDeg: (Math.atan2(-im, re) * 360) / TAU };
}

describe("rotor", () => {
  it.each(UNBALANCE_RESPONSES)("[ROTOR-001] $id: response and lag of an unbalance", (row) => {
    const { zeta, magnifications, lagsDeg } = row;
    for (const [i, r] of SPEED_RATIOS.entries()) {
      // 40 Hz and speeds of which 12,800 / speed × whole revolutions fits 0.5 s exactly.
      const x = made(rotor(40, zeta), [{ timeS: 0, revPerS: 40 * r }], 0.5);
      const { pk, lagDeg } = readSine(x, 40 * r, RATE_HZ / 2);
      expect(Math.abs((pk * 50) / 0.05 - magnifications[i]!)).toBeLessThan(1e-6);
      expect(Math.abs(lagDeg - lagsDeg[i]!)).toBeLessThan(1e-4);
    }
  });

  it("[ROTOR-002] R-12: lag 90° at the natural frequency, to 0 below and 180° far above", () => {
    for (const zeta of [0.01, 0.1, 0.3]) {
      const at = (revPerS: number): number =>
        readSine(made(rotor(40, zeta), [{ timeS: 0, revPerS }], 1), revPerS, RATE_HZ).lagDeg;
      expect(Math.abs(at(40) - 90)).toBeLessThan(1e-6);
      expect(at(1)).toBeLessThan((2 * zeta * 360) / TAU / 39);
      expect(at(400)).toBeGreaterThan(180 - (2 * zeta * 360) / TAU / 9);
    }
  });

  it.each([
    ["displacement", 0],
    ["velocity", 1],
    ["acceleration", 2],
  ])("[ROTOR-003] a step of the vector in %s follows the closed form to 1e-8", (_, derivative) => {
    const fn = 43.7;
    const zeta = 0.03;
    const revPerS = 57.3;
    const stepS = 0.20003;
    const unbalance = [
      { timeS: 0, kgM: 0.02, angleRad: 0.4 },
      { timeS: stepS, kgM: 0.05, angleRad: -1.1 },
    ];
    const speed = [{ timeS: 0, revPerS }];
    const x = made(rotor(fn, zeta, unbalance), speed, 1, derivative, { startAngleRev: 0.3 });
    const right = (t: number): number =>
      steppedResponse(t, fn, zeta, revPerS, unbalance, derivative);
    let worst = 0;
    let largest = 0;
    for (const [i, value] of x.entries()) {
      worst = Math.max(worst, Math.abs(value - right(i / RATE_HZ)));
      largest = Math.max(largest, Math.abs(value));
    }
    expect(worst / largest).toBeLessThan(1e-8);
  });

  it.each(RUN_UPS)("[ROTOR-004] S-10: run-up at $hzPerS Hz/s, ζ $zeta", (row) => {
    const { zeta, hzPerS, atHz } = row;
    const endS = 60 / hzPerS;
    const speed = [
      { timeS: 0, revPerS: 0 },
      { timeS: endS, revPerS: 60 },
    ];
    let peak = 0;
    let peakHz = 0;
    for (const [i, value] of made(rotor(40, zeta), speed, endS).entries()) {
      const size = Math.abs(value) * (50 / 0.05);
      if (size > peak) [peak, peakHz] = [size, (hzPerS * i) / RATE_HZ];
    }
    expect(Math.abs(peak / row.size - 1)).toBeLessThan(row.sizeShare);
    // |x| has a crest each half period: the highest may be the neighbour's.
    expect(Math.abs(peakHz - atHz)).toBeLessThan(hzPerS / (2 * 40));
  });

  it("[ROTOR-005] ramps, corners between samples and ripple agree with small RK4 steps", () => {
    const speed = [
      { timeS: 0, revPerS: 35 },
      { timeS: 0.10007, revPerS: 60 },
      { timeS: 0.20011, revPerS: 20 },
    ];
    const more = { startAngleRev: 0.2, ripple: [{ order: 3, amplitudeRev: 0.004 }] };
    const one = rotor(45, 0.04, [
      { timeS: 0, kgM: 0.03, angleRad: 0.7 },
      { timeS: 0.15003, kgM: 0.06, angleRad: 2 },
    ]);
    const x = made(one, speed, 0.3, 0, more);
    const motion = shaftMotion({ ...more, speed });
    const breaksS = [0.10007, 0.15003, 0.20011];
    const right = integrated(one, motion, Math.floor(0.3 * RATE_HZ), breaksS);
    let worst = 0;
    let largest = 0;
    for (const [i, value] of right.entries()) {
      worst = Math.max(worst, Math.abs(value - x[i]!));
      largest = Math.max(largest, Math.abs(value));
    }
    expect(worst / largest).toBeLessThan(1e-8);
  });

  it("[ROTOR-006] the complex exponential is within 2e-15", () => {
    for (const [re, im] of [
      [0, 0.1],
      [-0.01, 0.2],
      [-1, 3],
      [0, -7],
      [-2, 0],
    ] as const) {
      const { re: x, im: y } = complexExponential({ re, im });
      expect(Math.abs(x - Math.exp(re) * Math.cos(im))).toBeLessThan(2e-15);
      expect(Math.abs(y - Math.exp(re) * Math.sin(im))).toBeLessThan(2e-15);
    }
  });

  it("[ROTOR-007] a mode outside its range is refused", () => {
    expect(() => new Mode(0, 0.1)).toThrow("natural frequency");
    expect(() => new Mode(10, 1)).toThrow("damping ratio");
    expect(() => new Mode(10, -0.1)).toThrow("damping ratio");
    expect(() => new Mode(10, 0).settle({ re: 1, im: 0 }, 10)).toThrow("no steady state");
  });
});

/** Steady state, then the new steady state plus the free decay that joins them. */
function steppedResponse(
  t: number,
  fn: number,
  zeta: number,
  revPerS: number,
  unbalance: Unbalance,
  derivative: number,
): number {
  const wn = TAU * fn;
  const w = TAU * revPerS;
  const wd = wn * Math.sqrt(1 - zeta * zeta);
  const size = (w * w) / 50 / Math.hypot(wn * wn - w * w, 2 * zeta * wn * w);
  const lag = Math.atan2(2 * zeta * wn * w, wn * wn - w * w);
  const steady = (row: number, at: number, order: number): number => {
    const { kgM, angleRad } = unbalance[row]!;
    const phase = w * at + TAU * 0.3 - angleRad - lag + (order * Math.PI) / 2;
    return kgM * size * w ** order * Math.cos(phase);
  };
  const stepS = unbalance[1]!.timeS;
  if (t < stepS) return steady(0, t, derivative);
  const x0 = steady(0, stepS, 0) - steady(1, stepS, 0);
  const v0 = steady(0, stepS, 1) - steady(1, stepS, 1);
  const b = (v0 + zeta * wn * x0) / wd;
  const s = t - stepS;
  // Free decay Re[(x0 − jb)·e^((−ζωn + jωd)s)]; each derivative multiplies by −ζωn + jωd.
  let re = x0;
  let im = -b;
  for (let i = 0; i < derivative; i += 1) {
    [re, im] = [-zeta * wn * re - wd * im, -zeta * wn * im + wd * re];
  }
  const free = Math.exp(-zeta * wn * s) * (re * Math.cos(wd * s) - im * Math.sin(wd * s));
  return steady(1, t, derivative) + free;
}

/** Displacement by fourth-order Runge-Kutta, 16 steps a sample, breaks met exactly. */
function integrated(
  one: ReturnType<typeof rotor>,
  motion: ReturnType<typeof shaftMotion>,
  count: number,
  breaksS: number[],
): number[] {
  const wn = TAU * one.naturalHz;
  const force = (t: number, side: number): number => {
    const row = one.unbalance.findLast((u) => u.timeS <= t + side)!;
    const { rev, revPerS, revPerS2 } = directMotion(motion, t + side);
    const psi = TAU * rev - row.angleRad;
    const w = TAU * revPerS;
    return (row.kgM / one.modalMassKg) * (w * w * Math.cos(psi) + TAU * revPerS2 * Math.sin(psi));
  };
  const first = directMotion(motion, 0);
  const w = TAU * first.smoothRevPerS;
  const size = (0.03 / 50) * w * w;
  const psi = TAU * first.rev - one.unbalance[0]!.angleRad;
  const lag = Math.atan2(2 * one.dampingRatio * wn * w, wn * wn - w * w);
  const amplitude = size / Math.hypot(wn * wn - w * w, 2 * one.dampingRatio * wn * w);
  let x = amplitude * Math.cos(psi - lag);
  let v = -amplitude * TAU * first.revPerS * Math.sin(psi - lag);
  const xs = [x];
  const step = (t: number, h: number): void => {
    const a = (at: number, side: number, x1: number, v1: number): number =>
      force(at, side) - 2 * one.dampingRatio * wn * v1 - wn * wn * x1;
    const side = 1e-13;
    const a1 = a(t, side, x, v);
    const a2 = a(t + h / 2, 0, x + (h / 2) * v, v + (h / 2) * a1);
    const a3 = a(t + h / 2, 0, x + (h / 2) * (v + (h / 2) * a1), v + (h / 2) * a2);
    const v4 = v + h * a3;
    const a4 = a(t + h, -side, x + h * (v + (h / 2) * a2), v4);
    x += h * v + ((h * h) / 6) * (a1 + a2 + a3);
    v += (h / 6) * (a1 + 2 * a2 + 2 * a3 + a4);
  };
  for (let i = 0; i + 1 < count; i += 1) {
    const from = i / RATE_HZ;
    const until = (i + 1) / RATE_HZ;
    const stops = [from, ...breaksS.filter((b) => b > from && b < until), until];
    for (const [n, stop] of stops.slice(1).entries()) {
      const h = (stop - stops[n]!) / 16;
      for (let s = 0; s < 16; s += 1) step(stops[n]! + s * h, h);
    }
    xs.push(x);
  }
  return xs;
}
