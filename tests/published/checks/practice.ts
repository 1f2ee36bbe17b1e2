// Limits of instruments, against the channel's response; and what the trade knows without a source.
import { expect } from "vitest";
import { MotionTruth } from "../../../harness/truth/shaft-motion.ts";
import { TwoPoles } from "../../../harness/truth/two-poles.ts";
import { check, near, nearBy, trap } from "../check.ts";
import { expectGain, gainOf } from "./filters.ts";
import { unbalanceForce } from "./rotors.ts";
import { siValue } from "./units.ts";

/** Frequency, least and most relative sensitivity. */
const LIMITS = [
  [10, 0.8, 1.1],
  [20, 0.9, 1.1],
  [40, 0.9, 1.1],
  [80, 1, 1],
  [160, 0.9, 1.1],
  [500, 0.9, 1.1],
  [1000, 0.8, 1.1],
] as const;

const pair = (highPassHz: number, lowPassHz: number) => ({
  highPassOrder: 3,
  highPassHz,
  lowPassOrder: 3,
  lowPassHz,
});
/** Frequencies of the table at which a pair of order 3 leaves the limits; relative to 80 Hz. */
function outside(highPassHz: number, lowPassHz: number): number[] {
  const response = pair(highPassHz, lowPassHz);
  const reference = gainOf(response, 80);
  return LIMITS.filter(([hz, least, most]) => {
    const relative = gainOf(response, hz) / reference;
    return relative < least - 1e-12 || relative > most + 1e-12;
  }).map(([hz]) => hz);
}

check("I-01", "a pair of order 3 that is wide enough keeps the limits", () => {
  expect(outside(9, 1110)).toEqual([]);
});
trap("I-04", "corners at 10 and 1000 Hz break the lower limit at both ends", () => {
  expect(outside(10, 1000)).toEqual([10, 1000]);
});
check("I-03", "a gain of 0.8 at 10 and 1000 Hz asks for corners at 9.0856 and 1100.64 Hz", () => {
  expectGain({ highPassOrder: 3, highPassHz: 9.085603 }, 10, 0.8, 1e-7);
  expectGain({ lowPassOrder: 3, lowPassHz: 1100.642416 }, 1000, 0.8, 1e-9);
});
check("I-04", "a pair of order 3 with corners at 10 and 1000 Hz", () => {
  for (const [hz, gain] of [
    [10, 0.707107],
    [20, 0.992278],
    [40, 0.999878],
    [79.4, 0.999998],
    [500, 0.992278],
    [1000, 0.707107],
    [5, 0.124035],
    [2000, 0.124035],
  ] as const) {
    expectGain(pair(10, 1000), hz, gain, 5e-7 / gain);
  }
});

/** Time of ten million revolutions at a speed, in hours. */
function hoursOfTenMillion(rpm: number): number {
  const speed = [{ timeS: 0, revPerS: siValue(`${rpm} r/min`, "speed") }];
  const motion = new MotionTruth({ speed, startAngleRev: 0, ripple: [] });
  return motion.timeAt(1e7) / siValue("1 h", "time");
}

check("P-01", "ten million revolutions: 28 h at 5952.38 r/min, 27.777778 h at 6000", () => {
  near(hoursOfTenMillion(5952.380952), 28, 1e-9);
  near(siValue("5952.380952 r/min", "speed"), 99.206, 1e-5);
  near(hoursOfTenMillion(6000), 27.777778, 1e-8);
  near(hoursOfTenMillion(5950), 28.011204, 1e-7);
});
check("P-02", "ten million revolutions: 34.722222 h at 4800 r/min, 47.619048 h at 3500", () => {
  near(hoursOfTenMillion(4800), 34.722222, 1e-8);
  near(hoursOfTenMillion(3500), 47.619048, 1e-8);
});
check("P-05", "10 s hold 992.06 revolutions at 5952.38 r/min, 800 at 4800", () => {
  const turns = (rpm: number): number => {
    const speed = [{ timeS: 0, revPerS: siValue(`${rpm} r/min`, "speed") }];
    return new MotionTruth({ speed, startAngleRev: 0, ripple: [] }).angleAt(10);
  };
  nearBy(turns(5952.38), 992.06, 5e-3);
  near(turns(4800), 800, 1e-12);
});
check("P-06", "a pole of 0.073293560 Hz comes to 99 % in 10 s", () => {
  const poles = new TwoPoles();
  const h = 10 * 2 * Math.PI * 0.07329356;
  poles.hold(1, Math.exp(-h), h);
  near(1 - poles.first, 0.01, 1e-7);
});
check("P-10", "1 kg moved by 2 mm pulls with 505.32 N at 4800 r/min", () => {
  const kgM = siValue("1 kg", "mass") * siValue("2000 g mm", "unbalance");
  nearBy(unbalanceForce(kgM, "4800 r/min"), 505.32, 5e-3);
});
