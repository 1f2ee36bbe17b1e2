// −3 dB and noise bandwidth of the whole firmware path, measured with tones beside the order, against
// the discrete closed form.
import { FLAG_SETTLED } from "../../shared/layout.ts";
import { timeConstantS } from "../../harness/truth/filter-response.ts";
import {
  continuousFilter,
  discreteFullWidthHz,
  noiseBandwidthHz,
} from "../../harness/measure/closed-forms.ts";
import { levelsOf, loadCore, playScene } from "../kit/play-scene.ts";
import {
  channelSignal,
  filterProfile,
  monitorProfile,
  scene,
  shaftProfile,
} from "../kit/scene-builder.ts";
import { type Figure, Worst } from "./figure.ts";

const SPEED_REV_PER_S = 20;
const WIDTHS_HZ = [0.1, 0.3, 1, SPEED_REV_PER_S / 10];
const SAMPLE_RATE_HZ = 1280;
const SETTLE_TAU = 12;
const SHARE_MAX = 0.01;

const core = loadCore();

/** Mean square of the level for a unit tone beside the tracked order. */
async function powerAt(offsetHz: number, fullWidthHz: number): Promise<number> {
  const tauS = timeConstantS(fullWidthHz);
  const profile = monitorProfile({
    clockHz: 80_000 * SAMPLE_RATE_HZ,
    sampleRateHz: SAMPLE_RATE_HZ,
    shafts: [shaftProfile({ lockRevolutions: 1, timeoutS: 0.38 })],
    filters: [
      filterProfile({
        quantity: "acceleration",
        unit: "m/s²",
        levelFactor: 1,
        bandwidth: { kind: "fixed", fullWidthHz },
      }),
    ],
  });
  const made = scene({
    durationS: SETTLE_TAU * tauS + 3,
    profile,
    channels: [
      channelSignal([
        {
          kind: "tone",
          frequencyHz: SPEED_REV_PER_S + offsetHz,
          quantity: "acceleration",
          amplitudePk: 1,
          phaseLagRad: 0.7,
        },
      ]),
    ],
  });
  made.shafts[0]!.speed = [{ timeS: 0, revPerS: SPEED_REV_PER_S }];
  const levels = levelsOf(await playScene(made, { core })).filter(
    (record) => (record.flags & FLAG_SETTLED) !== 0,
  );
  const last = levels.slice(-20);
  return last.reduce((sum, record) => sum + record.level ** 2, 0) / last.length;
}

/** Offset at which the measured power is half, by bisection. */
async function halfPowerHz(fullWidthHz: number): Promise<number> {
  const middle = await powerAt(0, fullWidthHz);
  let low = 0.3 * fullWidthHz;
  let high = 0.8 * fullWidthHz;
  for (let i = 0; i < 12; i += 1) {
    const between = (low + high) / 2;
    if ((await powerAt(between, fullWidthHz)) > middle / 2) low = between;
    else high = between;
  }
  return (low + high) / 2;
}

/** ∫ of the power over all offsets, both sides, by Simpson's rule in u, offset = width·sinh u. */
async function measuredNoiseHz(fullWidthHz: number): Promise<number> {
  const greatest = 1.5 * SPEED_REV_PER_S;
  const end = Math.asinh(greatest / fullWidthHz);
  const count = 60;
  let sum = 0;
  for (let i = 0; i <= count; i += 1) {
    const u = (end * i) / count;
    const offsetHz = fullWidthHz * Math.sinh(u);
    const weight = i === 0 || i === count ? 1 : i % 2 === 1 ? 4 : 2;
    // The upper side alone: below the order there is no room down to zero frequency.
    sum += weight * (await powerAt(offsetHz, fullWidthHz)) * fullWidthHz * Math.cosh(u);
  }
  return (2 * sum * end) / count / 3;
}

async function widths(): Promise<{ text: string; isOk: boolean }> {
  const worst = new Worst();
  const departures: string[] = [];
  for (const width of WIDTHS_HZ) {
    const tauS = timeConstantS(width);
    const closed = discreteFullWidthHz(1 / SPEED_REV_PER_S, tauS);
    const measured = 2 * (await halfPowerHz(width));
    worst.take(Math.abs(measured / closed - 1), `${width} Hz`);
    const departure = measured / continuousFilter(tauS).fullWidthHz - 1;
    departures.push(`${width} Hz ${(departure * 100).toFixed(2)} %`);
  }
  return {
    text:
      `${(worst.value * 100).toFixed(3)} % (${worst.where}); from the continuous form: ` +
      departures.join(", "),
    isOk: worst.count === WIDTHS_HZ.length && worst.value <= SHARE_MAX,
  };
}

async function noise(): Promise<{ text: string; isOk: boolean }> {
  const worst = new Worst();
  const departures: string[] = [];
  for (const width of WIDTHS_HZ) {
    const tauS = timeConstantS(width);
    const closed = noiseBandwidthHz(1 / SPEED_REV_PER_S, tauS);
    const measured = await measuredNoiseHz(width);
    worst.take(Math.abs(measured / closed - 1), `${width} Hz`);
    const departure = measured / continuousFilter(tauS).noiseBandwidthHz - 1;
    departures.push(`${width} Hz ${(departure * 100).toFixed(2)} %`);
  }
  return {
    text:
      `${(worst.value * 100).toFixed(3)} % (${worst.where}); from the continuous form: ` +
      departures.join(", "),
    isOk: worst.count === WIDTHS_HZ.length && worst.value <= SHARE_MAX,
  };
}

const RANGE = `full width ${WIDTHS_HZ[0]} Hz to a tenth of ${SPEED_REV_PER_S} rev/s`;

export const BANDWIDTH_FIGURES: Figure[] = [
  {
    id: "BANDWIDTH-3DB",
    what: `−3 dB bandwidth, measured with tones, against the discrete closed form; ${RANGE}`,
    required: "within 1 %",
    measure: widths,
  },
  {
    id: "BANDWIDTH-NOISE",
    what: `noise bandwidth, measured with tones, against the discrete closed form; ${RANGE}`,
    required: "within 1 %",
    measure: noise,
  },
];
