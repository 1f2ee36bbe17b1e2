// Thomson, Theory of Vibration with Applications, Fig 3.2-2. R-02 …, S-05, S-10:
// sources beside the rows in tests/kit/rotor-rows.ts.
import { describe, expect, it } from "vitest";
import { RotorTruth } from "../../../harness/truth/rotor-amplitude.ts";
import { MotionTruth } from "../../../harness/truth/shaft-motion.ts";
import {
  RESONANCE_SET,
  RUN_UPS,
  SPEED_RATIOS,
  SWEPT_ENVELOPES,
  UNBALANCE_RESPONSES,
} from "../../kit/rotor-rows.ts";

function rotor(
  speed: { timeS: number; revPerS: number }[],
  naturalHz: number,
  dampingRatio: number,
  unbalance = [{ timeS: 0, kgM: 1, angleRad: 0 }],
  ripple: { order: number; amplitudeRev: number }[] = [],
): RotorTruth {
  const motion = new MotionTruth({ speed, startAngleRev: 0, ripple });
  const data = { kind: "rotor", shaft: 0, modalMassKg: 1, naturalHz, dampingRatio } as const;
  return new RotorTruth({ ...data, unbalance }, motion);
}

/** Largest size on the way, and the time it is reached. */
function peakOf(
  size: (timeS: number) => number,
  fromS: number,
  untilS: number,
  stepS: number,
): [number, number] {
  let best: [number, number] = [0, 0];
  for (let t = fromS; t <= untilS; t += stepS) {
    const here = size(t);
    if (here > best[0]) best = [here, t];
  }
  return best;
}

describe("rotor amplitude", () => {
  it.each(UNBALANCE_RESPONSES)("[TRUTH-020] $id: steady amplitude and lag, ζ = $zeta", (row) => {
    const { zeta, magnifications, lagsDeg } = row;
    for (const [i, ratio] of SPEED_RATIOS.entries()) {
      const truth = rotor([{ timeS: 0, revPerS: 40 * ratio }], 40, zeta);
      const { z } = truth.stateAt(1);
      expect(Math.hypot(z.re, z.im)).toBeCloseTo(magnifications[i]!, 5);
      expect((-Math.atan2(z.im, z.re) * 180) / Math.PI).toBeCloseTo(lagsDeg[i]!, 3);
    }
  });

  it("[TRUTH-021] R-11: velocity of the resonance data set, in/s pk from mils pp", () => {
    const out = { re: 0, im: 0 };
    for (const { rpm, inPerSPk } of RESONANCE_SET) {
      rotor([{ timeS: 0, revPerS: rpm / 60 }], 40, 0.05).amplitudeAt(0.3, 1, out);
      // me/M is 1 mil pk here: 0.001 in.
      expect(0.001 * Math.hypot(out.re, out.im)).toBeCloseTo(inPerSPk, 5);
    }
  });

  // By DOP853 (scipy, relative 1e-10) on the same equation. Held to these and to the rows.
  const solved = [
    { solvedSize: 20.29565, solvedHz: 41.9182 },
    { solvedSize: 23.8774, solvedHz: 40.7186 },
    { solvedSize: 9.86493, solvedHz: 41.4254 },
  ];
  it.each(RUN_UPS.map((row, i) => ({ ...row, ...solved[i]! })))(
    "[TRUTH-022] S-10: run-up through resonance, ζ = $zeta at $hzPerS Hz/s",
    ({ zeta, hzPerS, size, atHz, solvedSize, solvedHz }) => {
      const endS = 46 / hzPerS;
      const speed = [
        { timeS: 0, revPerS: 0 },
        { timeS: endS, revPerS: 46 },
      ];
      const truth = rotor(speed, 40, zeta);
      const displacement = (t: number): number => {
        const { z } = truth.stateAt(t);
        const angle = Math.PI * hzPerS * t * t;
        return Math.abs(z.re * Math.cos(angle) - z.im * Math.sin(angle));
      };
      const [peak, timeS] = peakOf(displacement, 40.5 / hzPerS, 43 / hzPerS, 1 / 40_000);
      expect(Math.abs(peak / solvedSize - 1)).toBeLessThan(1e-5);
      expect(Math.abs((timeS * hzPerS) / solvedHz - 1)).toBeLessThan(1e-5);
      expect(Math.abs(peak / size - 1)).toBeLessThan(1e-3);
      expect(Math.abs((timeS * hzPerS) / atHz - 1)).toBeLessThan(5e-4);
    },
  );

  const some = SWEPT_ENVELOPES.filter(({ eta }) => [0.2, 1, 5].includes(eta));
  it.each(some)("[TRUTH-023] S-05: the slow envelope's peak, η = $eta", ({ eta, share }) => {
    expect(some).toHaveLength(3);
    // The limit of light damping: the force's ω² and the neglected ẍ leave terms of order ζ.
    const zeta = 0.002;
    const rate = (eta * (zeta * 2 * Math.PI * 40) ** 2) / (2 * Math.PI);
    const widthHz = (zeta * 40 * 40) / 2;
    const speed = [
      { timeS: 0, revPerS: 40 - widthHz },
      { timeS: (2 * widthHz) / rate, revPerS: 40 + widthHz },
    ];
    const truth = rotor(speed, 40, zeta);
    const envelope = (t: number): number => {
      const { z } = truth.stateAt(t);
      return Math.hypot(z.re, z.im);
    };
    const [peak] = peakOf(envelope, 0, (2 * widthHz) / rate, widthHz / rate / 2000);
    expect(Math.abs(peak * 2 * zeta - share)).toBeLessThan(6 * zeta * share);
  });

  it("[TRUTH-024] R-12: lags by 90° at resonance whatever the damping", () => {
    for (const zeta of [0.001, 0.03, 0.3]) {
      const { z } = rotor([{ timeS: 0, revPerS: 40 }], 40, zeta).stateAt(0);
      expect(Math.atan2(z.im, z.re)).toBeCloseTo(-Math.PI / 2, 12);
    }
  });

  it("[TRUTH-025] is the motion by Runge and Kutta, with a step and ripple", () => {
    const speed = [
      { timeS: 0, revPerS: 25 },
      { timeS: 1, revPerS: 55 },
    ];
    const ripple = [{ order: 2, amplitudeRev: 0.001 }];
    const motion = new MotionTruth({ speed, startAngleRev: 0, ripple });
    const unbalance = [
      { timeS: 0, kgM: 1, angleRad: 0.4 },
      { timeS: 0.4, kgM: 3, angleRad: 2 },
    ];
    const zeta = 0.03;
    const wn = 2 * Math.PI * 40;
    const truth = rotor(speed, 40, zeta, unbalance, ripple);
    const start = truth.stateAt(0);
    const { speed: n0 } = motion.ratesAt(0);
    // x and v of the real motion; the force is −U·d²/dt² cos(2πθ − angle).
    let x = start.z.re;
    let v = start.v.re - 2 * Math.PI * n0 * start.z.im;
    const acceleration = (t: number, [at, speedAt]: [number, number], row: number): number => {
      const { kgM, angleRad } = unbalance[row]!;
      const rates = motion.ratesAt(t);
      const w = 2 * Math.PI * rates.speed;
      const angle = 2 * Math.PI * motion.angleAt(t) - angleRad;
      const force = kgM * (w * w * Math.cos(angle) + 2 * Math.PI * rates.slope * Math.sin(angle));
      return force - 2 * zeta * wn * speedAt - wn * wn * at;
    };
    const h = 1 / 100_000;
    const out = { re: 0, im: 0 };
    for (let i = 0; i < 90_000; i += 1) {
      const t = i * h;
      const row = i < 40_000 ? 0 : 1;
      const a1 = acceleration(t, [x, v], row);
      const a2 = acceleration(t + h / 2, [x + (h / 2) * v, v + (h / 2) * a1], row);
      const v2 = v + (h / 2) * a1;
      const a3 = acceleration(t + h / 2, [x + (h / 2) * v2, v + (h / 2) * a2], row);
      const v3 = v + (h / 2) * a2;
      const a4 = acceleration(t + h, [x + h * v3, v + h * a3], row);
      const v4 = v + h * a3;
      x += (h / 6) * (v + 2 * v2 + 2 * v3 + v4);
      v += (h / 6) * (a1 + 2 * a2 + 2 * a3 + a4);
      if (i % 9999 !== 9998) continue;
      const at = (i + 1) * h;
      const turn = 2 * Math.PI * motion.angleAt(at);
      const read = (derivatives: number): number => {
        truth.amplitudeAt(at, derivatives, out);
        return out.re * Math.cos(turn) - out.im * Math.sin(turn);
      };
      // Measured 2e-10 of the peak; Runge and Kutta's own error at this step is of that size.
      expect(Math.abs(read(0) - x)).toBeLessThan(1e-8 * 20);
      expect(Math.abs(read(1) - v)).toBeLessThan(1e-8 * 20 * wn);
      expect(Math.abs(read(2) - acceleration(at, [x, v], row))).toBeLessThan(1e-8 * 20 * wn * wn);
    }
  });

  it("[TRUTH-026] steps back in time without a trace", () => {
    const speed = [
      { timeS: 0, revPerS: 30 },
      { timeS: 2, revPerS: 50 },
    ];
    const truth = rotor(speed, 40, 0.02);
    const once = truth.stateAt(0.9);
    truth.stateAt(1.1);
    const again = rotor(speed, 40, 0.02).stateAt(0.9);
    expect(truth.stateAt(0.9)).toEqual(once);
    expect(again.z.re).toBeCloseTo(once.z.re, 9);
  });
});
