// Responses, tracking filter, windows, functions: the product's own against SciPy's.
import { describe, expect, it } from "vitest";
import { noiseBandwidthHz as impliedNoiseHz, SETTLING_TAU } from "../../host/profile/implied.ts";
import type { Response } from "../../host/profile/types.ts";
import {
  discreteFullWidthHz,
  discreteGain,
  noiseBandwidthHz,
  poleDelayCycles,
  stepRemainder,
} from "../../harness/measure/closed-forms.ts";
import { exponential, logarithm } from "../../harness/random/logarithm.ts";
import { findSpeed } from "../../harness/recording/speed-search.ts";
import { responseAt } from "../../harness/truth/channel-response.ts";
import { gaussLegendre, sphericalBessel } from "../../harness/truth/filon.ts";
import { TwoPoles } from "../../harness/truth/two-poles.ts";
import { FrontEnd } from "../../harness/waveform/front-end.ts";
import { sineOfRev } from "../../harness/waveform/sine.ts";
import { levelsOf, playScene } from "../kit/play-scene.ts";
import {
  channelProfile,
  channelSignal,
  filterProfile,
  monitorProfile,
  orderComponent,
  scene,
} from "../kit/scene-builder.ts";
import { vectorError } from "../published/core-bounds.ts";
import { F32, F64, near, nearBy, nearPair, SCIPY } from "./golden.ts";

const { butterworth, trackingFilter, steps, windows, functions } = SCIPY;

function responseOf(row: (typeof butterworth)[number]): Response {
  const none = { highPassOrder: 0, highPassHz: 1, lowPassOrder: 0, lowPassHz: 1, delayS: 0 };
  return row.kind === "low"
    ? { kind: "filters", ...none, lowPassOrder: row.order, lowPassHz: row.cornerHz }
    : { kind: "filters", ...none, highPassOrder: row.order, highPassHz: row.cornerHz };
}
const nameOf = (row: (typeof butterworth)[number]): string => `${row.kind}-pass ${row.order}`;

describe("responses against scipy.signal.butter", () => {
  it("[LIB-002] truth and waveform have its Butterworth responses, gain and phase", () => {
    expect(butterworth).toHaveLength(8);
    for (const row of butterworth) {
      const response = responseOf(row);
      const made = new FrontEnd(response);
      row.hz.forEach((hz, i) => {
        const wanted = row.values[i]!;
        // Some thirty roundings a pole, here and there.
        const amount = 64 * row.order * F64 * Math.hypot(...wanted);
        nearPair(responseAt(response, hz), wanted, amount, `truth, ${nameOf(row)}, ${hz} Hz`);
        made.evaluate(hz);
        nearPair(made, wanted, amount, `waveform, ${nameOf(row)}, ${hz} Hz`);
      });
    }
  });

  it("[LIB-003] the firmware divides by them in single precision", async () => {
    let compared = 0;
    for (const row of butterworth) {
      const [re, im] = row.values[row.hz.indexOf(80)]!;
      const gain = Math.hypot(re, im);
      // Under a half it refuses.
      if (gain < 0.5) continue;
      compared += 1;
      const channel = channelProfile({ quantity: "velocity", response: responseOf(row) });
      const filters = [filterProfile({ unit: "m/s", levelFactor: 1 })];
      const profile = monitorProfile({ channels: [channel], filters });
      const channels = [channelSignal([orderComponent(1, 1, 0, "velocity")])];
      const play = scene({ profile, durationS: 3, channels });
      // oxlint-disable-next-line no-await-in-loop
      const last = levelsOf(await playScene(play)).at(-1)!;
      // Speed, ratio, two squares and a product a pole; the speed is a tick in a revolution off.
      const share = vectorError([{ pk: 1, hz: 80 }], 80) + row.order * (16 * F32 + 2 * (80 / 80e6));
      nearPair(last, [re / gain ** 2, -im / gain ** 2], share / gain, nameOf(row));
    }
    expect(compared).toBeGreaterThanOrEqual(5);
  });
});

describe("tracking filter against scipy.signal", () => {
  it.each(trackingFilter)("[LIB-004] closed forms at T/τ = $h have its gains and widths", (row) => {
    const { h } = row;
    // 1 − β − βh = h²/2 is a difference of terms near 1, in the product and in the library alike.
    const rounding = (16 * F64) / h ** 2;
    row.turns.forEach((turns, i) => {
      const gain = row.gains[i]!;
      nearBy(discreteGain(turns, 1, 1 / h), gain, rounding * gain + 8 * F64, `${turns} turns`);
    });
    // Quadrature to 1e-11 there; the delay's sum there counts 6000 terms.
    near(noiseBandwidthHz(1, 1 / h), row.noiseCycles, rounding + 1e-10);
    near(impliedNoiseHz(h, 1), row.noiseCycles, rounding + 1e-10);
    near(discreteFullWidthHz(1, 1 / h), row.widthCycles, rounding + 1e-12);
    near(poleDelayCycles(h), row.delayCycles, rounding + 6000 * F64);
  });

  it("[LIB-004] its step is the incomplete gamma function", () => {
    steps.x.forEach((x, i) => {
      const poles = new TwoPoles();
      poles.hold(1, Math.exp(-x), x);
      nearBy(poles.first, steps.one[i]!, 4 * F64);
      nearBy(poles.second, steps.both[i]!, 4 * F64);
      nearBy(1 - stepRemainder(x), steps.both[i]!, 4 * F64);
    });
    steps.left.forEach((left, i) => {
      // The slope of the remainder is x·e^(−x): under the remainder itself.
      near(stepRemainder(steps.after[i]!), left, 16 * F64 * steps.after[i]!);
    });
    // Written to nine decimals.
    nearBy(SETTLING_TAU, steps.after[steps.left.indexOf(0.01)]!, 5e-10);
  });
});

/** The recording that generate.py makes: a tone in noise from a generator of integers. */
function lineSamples(): Float32Array {
  const { length, seed, cyclesPerSample, amplitude } = windows.line;
  let state = seed;
  return Float32Array.from({ length }, (_, i) => {
    state = (Math.imul(1_103_515_245, state) + 12_345) & 0x7fffffff;
    return state / 2 ** 30 - 1 + amplitude * Math.cos(2 * Math.PI * cyclesPerSample * i);
  });
}

describe("windows and transforms against scipy.signal and numpy.fft", () => {
  it("[LIB-005] the triangle over two revolutions has its transform", () => {
    windows.turns.forEach((turns, i) => {
      // Poles so fast that nothing of them is left; quadrature to 1e-13.
      nearBy(discreteGain(turns, 1, 1e-9), windows.triangle[i]!, 2e-13);
    });
  });

  it("[LIB-005] the search for a speed finds its line, over its noise, by its tail of a gamma", () => {
    const { near: nearCyclesPerSample, span: spanShare } = windows.line;
    const found = findSpeed([lineSamples()], { nearCyclesPerSample, spanShare });
    // A tone's sample may round the other way in f32: 6e-8 of one sample of 1500, of a line of 93.
    const share = 1e-7;
    for (const [of, wanted] of [
      [found.halves[0]!, windows.halves[0]!],
      [found.halves[1]!, windows.halves[1]!],
    ] as const) {
      near(of.cyclesPerSample, wanted.cyclesPerSample, share);
      near(of.powerRatio, wanted.powerRatio, share);
      near(of.powerRatioNeeded, wanted.powerRatioNeeded, 1e-12);
    }
    near(found.powerRatio, windows.whole.powerRatio, share);
    near(found.powerRatioNeeded, windows.whole.powerRatioNeeded, 1e-12);
  });

  it("[LIB-006] Bessel functions, nodes, sines, logarithms as accurate as they say", () => {
    functions.x.forEach((x, i) => {
      const wanted = functions.sphericalBessel[i]!;
      sphericalBessel(wanted.length, x).forEach((one, l) =>
        nearBy(one, wanted[l]!, 1e-14, `j${l}`),
      );
    });
    const { nodes, weights } = gaussLegendre(functions.legendreNodes.length);
    const ascending = Array.from(nodes, (node, i) => [node, weights[i]!] as const).toSorted(
      (a, b) => a[0] - b[0],
    );
    ascending.forEach(([node, weight], i) => {
      nearBy(node, functions.legendreNodes[i]!, 8 * F64);
      nearBy(weight, functions.legendreWeights[i]!, 16 * F64);
    });
    functions.revolutions.forEach((rev, i) => {
      // 1e-15 stated, and the rounding of the phase, here and there.
      nearBy(sineOfRev(rev), functions.sines[i]!, 1e-15 + 4 * Math.PI * F64 * Math.max(1, rev));
    });
    functions.numbers.forEach((one, i) => {
      const wanted = functions.logarithms[i]!;
      nearBy(
        logarithm(one),
        wanted,
        4e-16 * Math.max(1, Math.abs(wanted)) + F64 * Math.abs(wanted),
      );
    });
    functions.exponents.forEach((x, i) => {
      near(exponential(x), functions.exponentials[i]!, 1e-15 * Math.max(1, Math.abs(x)) + 2 * F64);
    });
  });
});
