// Unbalance and the response of one mode: the rotor of the waveform (harness/rotor, the rotating
// force) and the truth's own (harness/truth/rotor-amplitude.ts).
import { expect } from "vitest";
import { GRAVITY_M_PER_S2 } from "../../../host/quantity.ts";
import { Mode } from "../../../harness/rotor/mode.ts";
import { RotatingForce } from "../../../harness/waveform/rotating-force.ts";
import { channelProfile, channelSignal, filterProfile } from "../../kit/scene-builder.ts";
import { monitorProfile, orderComponent, scene } from "../../kit/scene-builder.ts";
import { levelsOf, playScene } from "../../kit/play-scene.ts";
import { RESONANCE_SET, SPEED_RATIOS, UNBALANCE_RESPONSES } from "../../kit/rotor-rows.ts";
import { check, EXACT, near, nearBy } from "../check.ts";
import { vectorError } from "../core-bounds.ts";
import { steadyOf } from "../rotor-truth.ts";
import { reads, siValue } from "./units.ts";

const TAU = 2 * Math.PI;

/** Force of an unbalance at a speed, N. */
export function unbalanceForce(kgM: number, speed: string): number {
  const revPerS = siValue(speed, "speed");
  const into = { re: new Float64Array(1), im: new Float64Array(1), at: 0, stride: 1 };
  const state = { rev: { hi: 0.3, lo: 0 }, revPerS, revPerS2: 0 };
  const times = { afterS: 0, stepS: 1e-4, count: 1 };
  new RotatingForce([]).write(state, { re: kgM, im: 0 }, times, into);
  return Math.hypot(into.re[0]!, into.im[0]!);
}

const TEN_AT_100 = 0.01 * 0.1;
/** The portable sine of the waveform is within 1e-15; the rows give as many digits as stand here. */
check("B-07", "10 g at 100 mm and 3000 r/min pull with 98.69604401 N", () => {
  near(unbalanceForce(TEN_AT_100, "3000 r/min"), 98.69604401, 1e-9);
});
check("B-08", "10 g at 100 mm and 6000 r/min pull with 394.78417604 N", () => {
  near(unbalanceForce(TEN_AT_100, "6000 r/min"), 394.78417604, 1e-9);
});
check("B-09", "1000 g mm at 4800 r/min pull with 252.66187266788756 N", () => {
  const kgM = siValue("1000 g mm", "unbalance");
  near(unbalanceForce(kgM, "4800 r/min"), 252.66187266788756, EXACT);
});
check("B-10", "1 oz in at 1000 and at 3600 r/min, in pounds", () => {
  const newtonsPerPound = 0.45359237 * GRAVITY_M_PER_S2;
  const kgM = siValue("1 oz in", "unbalance");
  const pounds = (speed: string): number => unbalanceForce(kgM, speed) / newtonsPerPound;
  near(pounds("1000 r/min"), 1.7752122835841386, EXACT);
  near(pounds("3600 r/min"), 23.006751195250434, EXACT);
});
check("B-11", "1 oz in is 720.0778873749999 g mm", () => {
  near(siValue("1 oz in", "unbalance") / siValue("1 g mm", "unbalance"), 720.0778873749999, EXACT);
});

check("B-12", "components of one order read as the sum of their vectors", async () => {
  // Angles are anticlockwise, a phase lag runs the other way.
  const cases: [parts: [pk: number, deg: number][], pk: number, deg: number][] = [
    [
      [
        [3, 20],
        [4, 110],
        [5, 250],
      ],
      0.2731189935626925,
      161.565051177078,
    ],
    [
      [
        [3, 0],
        [4, 90],
      ],
      5,
      53.13010235415598,
    ],
  ];
  for (const [parts, pk, deg] of cases) {
    const profile = monitorProfile({
      channels: [channelProfile({ quantity: "velocity" })],
      filters: [filterProfile({ levelFactor: 1, unit: "m/s" })],
    });
    const components = parts.map(([size, at]) => orderComponent(1, size, -at, "velocity"));
    const play = scene({ profile, durationS: 3, channels: [channelSignal(components)] });
    // oxlint-disable-next-line no-await-in-loop
    const last = levelsOf(await playScene(play)).at(-1)!;
    // Each may be off alone; the sum turns with the reference, a tick of it.
    const seen = parts.map(([size]) => ({ pk: size, hz: 80 }));
    const error = vectorError(seen, 80) + pk * TAU * (80 / 80e6);
    nearBy(last.re, pk * Math.cos((deg * Math.PI) / 180), error);
    nearBy(last.im, pk * Math.sin((deg * Math.PI) / 180), error);
  }
});

/** Displacement and lag of the waveform's mode, driven by `force` in a steady state. */
function modeSteady(
  naturalHz: number,
  zeta: number,
  hz: number,
  force: number,
  derivative = 0,
): { pk: number; lagDeg: number } {
  const mode = new Mode(TAU * naturalHz, zeta);
  mode.settle({ re: force, im: 0 }, TAU * hz);
  const history = new Float64Array(4);
  mode.run(mode.transition(1e-6), new Float64Array(3), new Float64Array(3), 1, 1, history);
  const read = mode.reading(derivative);
  const x = read.re * history[1]! + read.im * history[0]!;
  const y = read.re * history[3]! + read.im * history[2]!;
  return { pk: Math.hypot(x, y), lagDeg: (-Math.atan2(y, x) * 180) / Math.PI };
}

check("R-01", "amplitudes 0.60 at resonance and 0.08 far above it mean 0.0666667", () => {
  const eccentric = { naturalHz: 40, zeta: 0.08 / (2 * 0.6), kgM: 0.08, massKg: 1 };
  near(steadyOf(eccentric, 40).pk, 0.6, 1e-9);
  // T − 1 is 1/r² far above resonance.
  near(steadyOf(eccentric, 40e5).pk, 0.08, 1e-9);
});

for (const { id, zeta, magnifications, lagsDeg } of UNBALANCE_RESPONSES) {
  check(id, `response and lag at nine speeds, damping ratio ${zeta}`, () => {
    for (const [i, r] of SPEED_RATIOS.entries()) {
      const truth = steadyOf({ naturalHz: 40, zeta, kgM: 1, massKg: 1 }, 40 * r);
      const made = modeSteady(40, zeta, 40 * r, (TAU * 40 * r) ** 2);
      for (const { pk, lagDeg } of [truth, made]) {
        nearBy(pk, magnifications[i]!, 1e-6);
        nearBy(lagDeg, lagsDeg[i]!, 1e-4);
      }
    }
  });
}

/** Peak over speed: 1/T² is a parabola in 1/r², so three speeds give its vertex exactly. */
function peakOf(zeta: number): { r: number; magnification: number } {
  const at = (s: number): number =>
    steadyOf({ naturalHz: 40, zeta, kgM: 1, massKg: 1 }, 40 / Math.sqrt(s)).pk ** -2;
  const [a, b, c] = [at(0.5), at(1), at(1.5)];
  const bend = 2 * (a - 2 * b + c);
  const slope = c - a;
  const s = 1 - slope / (2 * bend);
  const least = b + slope * (s - 1) + bend * (s - 1) ** 2;
  return { r: 1 / Math.sqrt(s), magnification: 1 / Math.sqrt(least) };
}

check("R-06", "the peak stands where and as high as stated, four damping ratios", () => {
  const rows = [
    [0.02, 1.00040024016, 25.0050015005],
    [0.05, 1.002509414234, 10.0125234864],
    [0.1, 1.010152544552, 5.0251890763],
    [0.2, 1.042572070285, 2.5515518154],
  ] as const;
  for (const [zeta, r, magnification] of rows) {
    const peak = peakOf(zeta);
    near(peak.r, r, 1e-9);
    near(peak.magnification, magnification, 1e-9);
  }
});

/** Frequency over the natural one at which the mode, driven by a constant force, reads `level`. */
function ratioWhere(level: number, zeta: number, derivative: number, from: number, to: number) {
  const size = (r: number): number => modeSteady(1 / TAU, zeta, r / TAU, 1, derivative).pk;
  let [low, high] = [from, to];
  const isRising = size(from) < size(to);
  for (let i = 0; i < 100; i += 1) {
    const middle = (low + high) / 2;
    if (size(middle) < level === isRising) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}
const halfPower = (zeta: number, derivative = 0): [number, number] => {
  const level = Math.SQRT1_2 / (2 * zeta);
  return [ratioWhere(level, zeta, derivative, 0.5, 1), ratioWhere(level, zeta, derivative, 1, 1.6)];
};

check("R-07", "half-power points of the displacement under a constant force", () => {
  const rows = [
    [0.02, 0.97938348, 1.019415518],
    [0.05, 0.945978371, 1.046482165],
    [0.1, 0.882611176, 1.086737094],
  ] as const;
  for (const [zeta, below, above] of rows) {
    const [low, high] = halfPower(zeta);
    near(low, below, 1e-9);
    near(high, above, 1e-9);
  }
});
check("R-08", "the quality factor from that width is a little under 1/(2ζ)", () => {
  for (const [zeta, q] of [
    [0.05, 9.949873102],
    [0.02, 24.979991981],
  ] as const) {
    const [low, high] = halfPower(zeta);
    near(1 / (high - low), q, 1e-9);
  }
});
check("R-09", "half-power points of the velocity, their product 1 and their distance 2ζ", () => {
  const [low, high] = halfPower(0.05, 1);
  near(low, 0.951249219725, 1e-12);
  near(high, 1.051249219725, 1e-12);
  near(low * high, 1, EXACT);
  near(high - low, 0.1, 1e-11);
});

check("R-10", "a rotor of 60 kg on 3.75 MN/m, eccentric by 2000 µm", () => {
  const rotor = { naturalHz: 250 / TAU, zeta: 0.05, kgM: 60 * 2e-3, massKg: 60 };
  expect(Math.sqrt(3.75e6 / 60)).toBe(250);
  near(siValue("3600 r/min", "speed") / rotor.naturalHz, 1.507964474, 1e-9);
  near(steadyOf(rotor, siValue("3600 r/min", "speed")).pk * 1e6, 3545.1624, 1e-7);
  near(steadyOf(rotor, rotor.naturalHz).pk * 1e6, 20_000, 1e-7);
  near(2000 * peakOf(0.05).magnification, 20_025.047, 1e-7);
});

check("R-11", "the data set, forward: resonance at 2400 r/min, 0.05, 1 mil", () => {
  const rotor = { naturalHz: 40, zeta: 0.05, kgM: siValue("1 mil pk", "displacement"), massKg: 1 };
  for (const { rpm, milsPp, inPerSPk } of RESONANCE_SET) {
    const revPerS = siValue(`${rpm} r/min`, "speed");
    const text = `${steadyOf(rotor, revPerS).pk} m pk`;
    nearBy(reads(text, revPerS, "mil pk-pk"), milsPp, 5e-6);
    nearBy(reads(text, revPerS, "in/s pk"), inPerSPk, 5e-7);
  }
});

check("R-12", "lag 90° at resonance, to 0 below and to 180° above, where T is 1", () => {
  for (const zeta of [0.001, 0.05, 0.3, 0.9]) {
    const at = (r: number) => steadyOf({ naturalHz: 40, zeta, kgM: 1, massKg: 1 }, 40 * r);
    nearBy(at(1).lagDeg, 90, 1e-9);
    // tan lag = 2ζr/(1 − r²): 2ζr below, 2ζ/r above.
    nearBy(at(1e-6).lagDeg, 0, 1e-6 * 2 * zeta * 58);
    nearBy(at(1e6).lagDeg, 180, 1e-6 * 2 * zeta * 58);
    near(at(1e6).pk, 1, 1e-9);
  }
});

check("R-13", "free motion shrinks by 0.3145527022888 neper a period", () => {
  const zeta = 0.05;
  const mode = new Mode(TAU * 40, zeta);
  const periodS = 1 / (40 * Math.sqrt(1 - zeta * zeta));
  const { decay } = mode.transition(periodS);
  near(-Math.log(Math.hypot(decay.re, decay.im)), 0.3145527022888, 1e-10);
  nearBy(Math.atan2(decay.im, decay.re), 0, 1e-12);
});
