// The tracking filter in closed form and as a recursion (harness/truth), what a profile implies
// (host/profile), and the channel's response (harness/truth, harness/waveform).
import { expect } from "vitest";
import { NumberInterval } from "../../../harness/judge/number-interval.ts";
import {
  filterPole,
  smoothingShare,
  TAU_TIMES_HALF_WIDTH,
} from "../../../host/profile/configuration.ts";
import { impliedBy, SETTLING_TAU } from "../../../host/profile/implied.ts";
import { noiseBandwidthHz as impliedNoiseBandwidthHz } from "../../../host/profile/implied.ts";
import type { Response } from "../../../host/profile/types.ts";
import { responseAt } from "../../../harness/truth/channel-response.ts";
import { proportionalPole, timeConstantS } from "../../../harness/truth/filter-response.ts";
import { TwoPoles } from "../../../harness/truth/two-poles.ts";
import { FrontEnd } from "../../../harness/waveform/front-end.ts";
import {
  continuousFilter,
  discreteFullWidthHz,
  discreteGain,
  noiseBandwidthHz,
  stepRemainder,
} from "../../../harness/measure/closed-forms.ts";
import { filterProfile, monitorProfile } from "../../kit/scene-builder.ts";
import { check, EXACT, isWithin, near, nearBy, trap } from "../check.ts";

const TAU = 2 * Math.PI;

/** A step 0 → 1 held for x time constants: what one pole and both show. */
function stepAfter(x: number): { one: number; both: number } {
  const poles = new TwoPoles();
  poles.hold(1, Math.exp(-x), x);
  return { one: poles.first, both: poles.second };
}

/** Gain of a channel's Butterworth filters; truth and waveform have one each. */
function gains(response: Partial<Response & { kind: "filters" }>, hz: number): [number, number] {
  const whole: Response = {
    kind: "filters",
    highPassOrder: 0,
    highPassHz: 1,
    lowPassOrder: 0,
    lowPassHz: 1,
    delayS: 0,
    ...response,
  };
  const truth = responseAt(whole, hz);
  const made = new FrontEnd(whole);
  made.evaluate(hz);
  return [Math.hypot(truth.re, truth.im), Math.hypot(made.re, made.im)];
}

export function expectGain(
  response: Partial<Response & { kind: "filters" }>,
  hz: number,
  wanted: number,
  share: number,
): void {
  for (const found of gains(response, hz)) near(found, wanted, share);
}

export const gainOf = (response: Partial<Response & { kind: "filters" }>, hz: number): number =>
  gains(response, hz)[0];

check("F-01", "one pole after 1 τ, and when it has come 63.2, 90, 95, 98, 99 % of the way", () => {
  near(stepAfter(1).one, 0.6321205588, 1e-9);
  for (const [x, share] of [
    [2.302585093, 0.9],
    [2.995732274, 0.95],
    [3.912023005, 0.98],
    [4.605170186, 0.99],
  ] as const) {
    near(stepAfter(x).one, share, 1e-9);
  }
});

// T/τ so small that the update once a revolution hardly shows: the limit of the discrete filter. Its
// gain departs from the continuous one by the triangle, (ωT)²/6, and by the held vector, (ωT)²/24,
// where ω is the offset: ωT here is 0.6436·T/τ at −3 dB.
const T_OVER_TAU = 1e-3;

check("F-02", "two equal poles: −3 dB at 0.643594253 of a pole's own frequency", () => {
  const poleHz = 1 / TAU;
  near(continuousFilter(1).fullWidthHz / 2 / poleHz, 0.643594253, 1e-9);
  near(TAU_TIMES_HALF_WIDTH * TAU, 0.643594253, 1e-9);
  near(timeConstantS(1) * TAU * 0.5, 0.643594253, 1e-9);
  near(filterPole({ kind: "fixed", fullWidthHz: 1 }) * TAU * 0.5, 0.643594253, 1e-9);
  const limit = discreteFullWidthHz(T_OVER_TAU, 1) / 2 / poleHz;
  // d|G|²: the slope of the gain at −3 dB is over 0.5 per relative frequency.
  near(limit, 0.643594253, (2 * (0.6436 * T_OVER_TAU) ** 2) / 4 + 1e-9);
});
trap("F-02", "a width that takes the pole's frequency for the −3 dB point is refused", () => {
  const wrongTauS = 1 / (TAU * 0.5);
  expect(isWithin(continuousFilter(timeConstantS(1)).fullWidthHz, 1, 1e-12)).toBe(true);
  expect(isWithin(continuousFilter(wrongTauS).fullWidthHz, 1, 0.3)).toBe(false);
});

check("F-03", "1 % of a step is left after 4.605 τ of one pole and 6.638 τ of two", () => {
  near(1 - stepAfter(4.605170186).one, 0.01, 1e-8);
  near(1 - stepAfter(6.638352068).both, 0.01, 1e-8);
  near(stepRemainder(6.638352068), 0.01, 1e-8);
  near(SETTLING_TAU, 6.638352068, 1e-8);
});
check("F-04", "10 % and 5 % of a step are left", () => {
  for (const [one, both, left] of [
    [2.302585, 3.88972, 0.1],
    [2.995732, 4.743865, 0.05],
  ] as const) {
    near(1 - stepAfter(one).one, left, 1e-6);
    near(1 - stepAfter(both).both, left, 1e-6);
    near(stepRemainder(both), left, 1e-6);
  }
});

check("F-05", "noise bandwidth of two equal poles: 0.125/τ on one side", () => {
  near(continuousFilter(1).noiseBandwidthHz / 2, 0.125, EXACT);
  // The triangle passes 1 − (ωT)²/3 of the power, and half of that power lies within ω = 1/τ; the
  // tail of the two poles' 1/ω⁴ is small there.
  const share = T_OVER_TAU ** 2;
  near(noiseBandwidthHz(T_OVER_TAU, 1) / 2, 0.125, share);
  near(impliedNoiseBandwidthHz(T_OVER_TAU, 1 / T_OVER_TAU) / 2, 0.125, share);
});
check("F-06", "noise bandwidth of two equal poles is 1.220331226 of the −3 dB point", () => {
  const { fullWidthHz, noiseBandwidthHz: noiseHz } = continuousFilter(3.7);
  near(noiseHz / fullWidthHz, 1.220331226, 1e-9);
  const ratio = noiseBandwidthHz(T_OVER_TAU, 1) / discreteFullWidthHz(T_OVER_TAU, 1);
  near(ratio, 1.220331226, 2 * T_OVER_TAU ** 2);
});

check("F-07", "noise bandwidth of Butterworth low-passes of order 1 to 4", () => {
  const rows = [1.570796327, 1.110720735, 1.047197551, 1.026172153];
  for (const [i, wanted] of rows.entries()) {
    const lowPass = { lowPassOrder: i + 1, lowPassHz: 1 };
    // f = tan u: the integrand has period π and is smooth, so even points give it to 1e-12.
    const count = 400;
    const sums = [0, 0];
    for (let k = 0; k < count; k += 1) {
      const u = ((k + 0.5) * Math.PI) / 2 / count;
      const found = gains(lowPass, Math.tan(u));
      found.forEach((gain, at) => (sums[at]! += (gain / Math.cos(u)) ** 2));
    }
    for (const sum of sums) near((sum * Math.PI) / 2 / count, wanted, 1e-9);
  }
});

check("F-08", "one pole rises from 10 % to 90 % in 2.197224577 τ, 0.349699153/f3dB", () => {
  const from = Math.log(10 / 9);
  near(stepAfter(from).one, 0.1, 1e-9);
  near(stepAfter(from + 2.197224577).one, 0.9, 1e-9);
  expectGain(
    { lowPassOrder: 1, lowPassHz: 0.349699153 / 2.197224577 },
    1 / TAU,
    Math.SQRT1_2,
    1e-9,
  );
});

check("F-17", "delay at 0 Hz: one pole, Butterworth of order 2 and 4, two equal poles", () => {
  const rows = [
    [1, 1, 0.159154943],
    [2, 1, 0.225079079],
    [4, 2, 0.207945954],
  ] as const;
  for (const [lowPassOrder, lowPassHz, delayS] of rows) {
    const whole = { kind: "filters", highPassOrder: 0, highPassHz: 1, delayS: 0 } as const;
    const hz = 1e-5;
    const { re, im } = responseAt({ ...whole, lowPassOrder, lowPassHz }, hz);
    near(-Math.atan2(im, re) / (TAU * hz), delayS, 1e-8);
  }
  const filter = impliedBy(monitorProfile(), 80).filters[0]!.atSpeeds[0]!;
  near(filter.latencyS - 1 / 80, 2 * filter.timeConstantS, EXACT);
});

check("F-18", "the number's smoothing takes 1 − e^(−period/τ): 0.006263487375221755", () => {
  const display = { ...filterProfile().display, smoothingS: 1 / TAU };
  near(smoothingShare(display, 1 / 1000), 0.006263487375221755, EXACT);
});

/** What the judge's number does after one reading that stands out by 1, step by step. */
function smoothed(count: number): number[] {
  const display = { ...filterProfile().display, smoothingS: 1 / TAU, step: 1e-12, countsMax: 4e12 };
  // Around 1, so that neither end of the interval is held at 0; its middle is the number.
  const middles = (outlier: number): number[] => {
    const number = new NumberInterval(display, 1 / 1000);
    const levels = [1, 1 + outlier, ...Array.from({ length: count }, () => 1)];
    return levels.map((level) => {
      const source = { levelLow: level, levelHigh: level, speedLow: 80, speedHigh: 80 };
      number.step([source], []);
      return (number.low + number.high) * 0.5e-12;
    });
  };
  // Both intervals are wider above than below by the same share of their width.
  const without = middles(0);
  return middles(1).map((one, i) => one - without[i]!);
}
check("F-18", "its variance, noise bandwidth and −3 dB point, as the judge smooths", () => {
  // After 6000 steps e^(−37) is left of it.
  const response = smoothed(6000).slice(1);
  const power = response.reduce((sum, one) => sum + one * one, 0);
  // Steps of the number: 1e-12 of a first share of 6e-3.
  near(power, 0.0031415823182050257, 1e-9);
  near(500 * power, 1.5707911591, 1e-9);
  const gain = (hz: number): number => {
    let [re, im] = [0, 0];
    response.forEach((one, i) => {
      re += one * Math.cos((TAU * hz * i) / 1000);
      im += one * Math.sin((TAU * hz * i) / 1000);
    });
    return Math.hypot(re, im);
  };
  near(gain(0), 1, 1e-8);
  // The slope there is −½ per relative frequency, so the place is as good as the gain.
  near(gain(1.0000032899) / Math.SQRT1_2, 1, 1e-8);
});

/** Mean over whole revolutions alone: poles so fast that nothing of them is left. */
const triangle = (turns: number): number => discreteGain(turns, 1, 1e-9);

check("F-19", "the mean over a revolution: two of them make the filter's triangle", () => {
  for (const [turns, gain] of [
    [0.25, 0.900316316],
    [0.5, 0.636619772],
    [1.5, 0.212206591],
  ] as const) {
    near(Math.sqrt(triangle(turns)), gain, 1e-9);
  }
  for (const turns of [1, 2]) nearBy(Math.sqrt(triangle(turns)), 0, 1e-12);
  near(triangle(0.442946471), 0.5, 1e-8);
  // ∫ sinc² = 1: one period of the sum of its shifts, which is 1 everywhere but for the tail.
  const reach = 5000;
  for (const at of [0, 0.3, 0.5]) {
    let sum = 0;
    for (let k = -reach; k <= reach; k += 1) sum += triangle(at + k);
    nearBy(sum, 1, 2 / (Math.PI ** 2 * (reach - 1)));
  }
});

/** Gain of the discrete poles at an offset, their triangle taken out; and what T may change of it. */
function polesGain(offsetHz: number, T: number, tauS: number): { gain: number; share: number } {
  const x = Math.PI * offsetHz * T;
  const boxcar = x === 0 ? 1 : Math.sin(x) / x;
  const omegaT = 2 * x;
  // A held vector passes 1 − (ωT)²/24; images at 2πk/T add (1 + ω²τ²)·(T/2πkτ)²·ωT/2πk, both sides.
  const images = (1 + (omegaT * tauS) ** 2 / T ** 2) * (T / tauS) ** 2 * omegaT * (2.5 / TAU ** 3);
  // β = e^(−h) is rounded, and 1 − β − βh with it: 2^-52 of h²/2 in each factor.
  const rounding = 2 ** -50 / (T / tauS) ** 2;
  const gain = discreteGain(offsetHz, T, tauS) / boxcar ** 2;
  return { gain, share: omegaT ** 2 / 20 + images + rounding };
}

check(
  "F-20",
  "a tone 5 and 10 Hz beside: one pole, two poles, Butterworth of order 2, 1 Hz",
  () => {
    const rows = [
      [5, 0.196116135, 0.038461538, 0.039968038],
      [10, 0.099503719, 0.00990099, 0.0099995],
    ] as const;
    for (const [offsetHz, one, both, butterworth] of rows) {
      expectGain({ lowPassOrder: 1, lowPassHz: 1 }, offsetHz, one, 3e-9);
      expectGain({ lowPassOrder: 2, lowPassHz: 1 }, offsetHz, butterworth, 3e-8);
      const { gain, share } = polesGain(offsetHz, 1e-4, 1 / TAU);
      expect(share).toBeLessThan(1e-4);
      near(gain, both, share + 3e-8);
      near(Math.sqrt(gain), one, share / 2 + 3e-9);
    }
  },
);

check(
  "F-23",
  "on a ramp of 1 unit/s one pole of 1 Hz lies 0.159154943 low, and two twice that",
  () => {
    const tauS = 1 / TAU;
    const T = 1e-5;
    const poles = new TwoPoles();
    let t = 0;
    for (let i = 1; t < 30 * tauS; i += 1) {
      t = i * T;
      poles.step(t, T / tauS);
    }
    // The vector stands for the whole revolution before it: T/2 early; the rest is of second order.
    const share = (T / tauS) ** 2 + 1e-8;
    near(t - poles.first + T / 2, 0.159154943, share);
    near((t - poles.second + T / 2) / 2, 0.159154943, share);
  },
);

check("F-24", "revolutions to 99 % in proportion to speed, whatever the speed", () => {
  for (const [ratio, revolutions] of [
    [0.02, 73.29356],
    [0.05, 29.317424],
    [0.1, 14.658712],
  ] as const) {
    // The width is that of both poles: one pole alone is 1/0.6436 wider.
    const ofBoth = 0.643594252905583;
    for (const h of [
      proportionalPole(ratio),
      filterPole({ kind: "proportional", fullWidthRatio: ratio }),
    ]) {
      near(Math.log(100) / (h * ofBoth), revolutions, 1e-6);
      const poles = new TwoPoles();
      poles.hold(1, Math.exp(-revolutions * h * ofBoth), revolutions * h * ofBoth);
      near(1 - poles.first, 0.01, 1e-5);
    }
  }
  const filter = filterProfile({ bandwidth: { kind: "proportional", fullWidthRatio: 0.02 } });
  const turns = [25, 50, 80].map((speed) => {
    const at = impliedBy(monitorProfile({ filters: [filter] }), speed).filters[0]!.atSpeeds[0]!;
    return at.timeConstantS * speed;
  });
  for (const one of turns) near(one, turns[0]!, EXACT);
});

check("F-25", "2 % of the speed is 0.5, 1.0 and 1.6 Hz at 1500, 3000 and 4800 r/min", () => {
  const proportional = filterProfile({ bandwidth: { kind: "proportional", fullWidthRatio: 0.02 } });
  const fixed = filterProfile({ bandwidth: { kind: "fixed", fullWidthHz: 1 } });
  const profile = monitorProfile({ filters: [proportional, fixed] });
  for (const [rpm, hz] of [
    [1500, 0.5],
    [3000, 1],
    [4800, 1.6],
  ] as const) {
    const { filters } = impliedBy(profile, rpm / 60);
    near(filters[0]!.atSpeeds[0]!.bandwidthHz, hz, EXACT);
    expect(filters[1]!.atSpeeds[0]!.bandwidthHz).toBe(1);
  }
});

check("F-26", "a step 0 → 6 passes 4 after 1.0986 τ of one pole and 2.2893 τ of two", () => {
  near(6 * stepAfter(1.098612289).one, 4, 1e-8);
  near(6 * stepAfter(2.289281415).both, 4, 1e-8);
});

check("O-07", "detuned by 30 r/min, a pole of 1 Hz passes 0.894427191, 26.565° late", () => {
  const { gain, share } = polesGain(0.5, 1e-4, 1 / TAU);
  near(Math.sqrt(gain), 0.894427191, share + 1e-9);
  const lowPass = { kind: "filters", highPassOrder: 0, highPassHz: 1, delayS: 0 } as const;
  const one = responseAt({ ...lowPass, lowPassOrder: 1, lowPassHz: 1 }, 30 / 60);
  near(Math.hypot(one.re, one.im), 0.894427191, 1e-9);
  near((Math.atan2(one.im, one.re) * 180) / Math.PI, -26.565051, 1e-7);
});
