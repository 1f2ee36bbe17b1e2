// Cautions on waveforms that cross the level and come back: each onset and end inside its interval, and
// the interval no wider than the level's tolerance implies, and one display period.
import { makeJudge } from "../../harness/judge/judge.ts";
import type { FilterResult } from "../../harness/judge/types.ts";
import type { Scene } from "../../harness/scene/scene.ts";
import { makeTruth } from "../../harness/truth/truth.ts";
import { playScene } from "../kit/play-scene.ts";
import {
  channelSignal,
  filterProfile,
  monitorProfile,
  scene,
  shaftProfile,
} from "../kit/scene-builder.ts";
import type { Figure, Measured } from "./figure.ts";

const STEP = 0.1;
const LEVEL_COUNTS = 50;
const HYSTERESIS_COUNTS = 4;
const EITHER = 2;

/** Level over time as straight lines, in display units of a scale of 1, with a company and noise. */
function crossing(riseS: number, onDelaySteps: number, noiseRms: number): Scene {
  const filter = filterProfile({
    quantity: "acceleration",
    unit: "m/s²",
    levelFactor: 1,
    bandwidth: { kind: "fixed", fullWidthHz: 2 },
  });
  const profile = monitorProfile({
    displayPeriodS: 0.1,
    shafts: [shaftProfile({ positions: 60, lockRevolutions: 1, timeoutS: 0.1 })],
    filters: [
      {
        ...filter,
        display: {
          ...filter.display,
          step: STEP,
          caution: {
            levelCounts: LEVEL_COUNTS,
            hysteresisCounts: HYSTERESIS_COUNTS,
            onDelaySteps,
            offDelaySteps: 2 * onDelaySteps,
            delayRunsUnderInhibit: false,
            whenInvalid: "end",
          },
        },
      },
    ],
  });
  const rows = [2, 2, 8, 8, 2].map((amplitudePk, i) => ({
    timeS: [0, 5, 5 + riseS, 15 + riseS, 15 + 2 * riseS][i]!,
    amplitudePk,
    phaseLagRad: 0.5,
  }));
  return scene({
    name: `rise ${riseS} s, on-delay ${onDelaySteps} steps, noise ${noiseRms}`,
    durationS: 22 + 2 * riseS,
    profile,
    channels: [
      channelSignal([
        {
          kind: "order",
          shaft: 0,
          order: 1,
          quantity: "acceleration",
          envelope: { kind: "lines", rows },
        },
        ...(noiseRms > 0 ? [{ kind: "noise" as const, rms: noiseRms }] : []),
      ]),
    ],
    expectation: { eitherShare: 0.2 },
  });
}

interface Widths {
  edges: number;
  either: number;
  implied: number;
}

function widthsOf({ trace }: FilterResult): Widths {
  const widths: Widths = { edges: 0, either: 0, implied: 0 };
  for (let i = 1; i < trace.timeS.length; i += 1) {
    if (trace.cautionAllowed[i] === EITHER) widths.either += 1;
    const wasOn = trace.cautionState[i - 1]! >= 2 && trace.cautionState[i - 1]! <= 4;
    const isOn = trace.cautionState[i]! >= 2 && trace.cautionState[i]! <= 4;
    if (wasOn !== isOn) widths.edges += 1;
    if (trace.tolerance[i]! < 0) continue;
    // A count is reached half a step below it.
    for (const counts of [LEVEL_COUNTS, LEVEL_COUNTS - HYSTERESIS_COUNTS]) {
      const away = Math.abs(trace.truth[i]! - (counts - 0.5) * STEP);
      if (away <= trace.tolerance[i]!) widths.implied += 1;
    }
  }
  return widths;
}

async function measure(): Promise<Measured> {
  let edges = 0;
  let wrong = 0;
  let widest = -Infinity;
  let where = "nowhere";
  for (const riseS of [0.2, 2, 10]) {
    for (const onDelaySteps of [0, 1, 10]) {
      for (const noiseRms of [0, 0.5]) {
        const made = crossing(riseS, onDelaySteps, noiseRms);
        const judge = makeJudge(made, makeTruth(made));
        const { records, counters } = await playScene(made);
        judge.take(records);
        const verdict = judge.finish(counters);
        const caution = verdict.checks.filter((one) => one.check === "caution");
        if (!caution.every((one) => one.isRight)) wrong += 1;
        const widths = widthsOf(verdict.filters[0]!);
        edges += widths.edges;
        const excess = (widths.either - widths.implied) / Math.max(1, widths.edges);
        if (excess > widest) [widest, where] = [excess, made.name];
      }
    }
  }
  return {
    text:
      `${edges} onsets and ends, ${wrong} cases wrong; intervals at most ` +
      `${widest.toFixed(2)} display periods wider than the tolerance implies (${where})`,
    isOk: edges === 36 && wrong === 0 && widest <= 1,
  };
}

export const CAUTION_FIGURES: Figure[] = [
  {
    id: "CAUTION-EDGES",
    what: "caution onset and end on rises of 0.2 to 10 s, delays of 0 to 20 steps, with and without noise",
    required: "inside the computed interval, at most one display period wider than implied",
    measure,
  },
];
