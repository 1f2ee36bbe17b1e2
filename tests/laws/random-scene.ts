// Eventful input for the whole path, drawn: shafts with missed and extra edges and drop-outs, a
// level that moves about the caution, spikes, inputs. Samples are a table, so that a shift is exact.
import * as fc from "fast-check";
import * as L from "../../shared/layout.ts";
import type { FilterProfile, MonitorProfile } from "../../host/profile/types.ts";
import { type CoreRun, angleRev, edgeTicks, turning } from "../assembly/kit/core-run.ts";
import { plainFilter, profileOf } from "../assembly/kit/plain-profile.ts";
import { evenNumber } from "../kit/even-number.ts";
import { channelProfile, shaftProfile } from "../kit/scene-builder.ts";
import type { CautionBounds } from "./caution-laws.ts";

const CLOCK_HZ = 80e6;
const RATE_HZ = 12_800;
export const TICKS_PER_SAMPLE = CLOCK_HZ / RATE_HZ;
const PERIOD_S = 0.02;
export const PERIOD_SAMPLES = PERIOD_S * RATE_HZ;
const LEVEL_COUNTS = 20;

const DURATION_S = 3;

export interface RandomScene {
  run: CoreRun & { inputs: { fromSample: number; bits: number }[] };
  cautions: CautionBounds[];
}

interface ShaftDraw {
  revPerS: number;
  revPerS2: number;
  startRev: number;
  positions: number;
  gapsS: number[];
  missedEvery: number;
  doubledEvery: number;
}

interface InputDraw {
  atS: number;
  bit: number;
  forS: number;
}

const caution = fc.record({
  levelCounts: fc.constant(LEVEL_COUNTS),
  hysteresisCounts: fc.integer({ min: 0, max: 6 }),
  onDelaySteps: fc.constantFrom(0, 1, 3, 8),
  offDelaySteps: fc.constantFrom(0, 1, 4, 9),
  delayRunsUnderInhibit: fc.boolean(),
  whenInvalid: fc.constantFrom("end" as const, "hold" as const),
});

const shaft: fc.Arbitrary<ShaftDraw> = fc.record({
  revPerS: evenNumber(50, 150),
  revPerS2: evenNumber(-8, 8),
  startRev: evenNumber(0, 1),
  positions: fc.constantFrom(1, 6, 36),
  /** Beginnings of drop-outs of 0.2 s. */
  gapsS: fc.array(evenNumber(0.5, 2.5), { maxLength: 2 }),
  /** One edge in so many is missed, one comes twice. */
  missedEvery: fc.constantFrom(97, 601, 1e9),
  doubledEvery: fc.constantFrom(331, 1e9),
});

/** Amplitudes of pieces of 0.15 s, m/s² pk; the caution's level is 2. */
const pieces = fc.array(evenNumber(0.5, 4), { minLength: 3, maxLength: 20 });

const input: fc.Arbitrary<InputDraw> = fc.record({
  atS: evenNumber(0.1, 2.9),
  bit: fc.constantFrom(0, 1, 2, 8, 9, 10, L.INPUT_RUNNING, L.INPUT_RUNNING + 1, L.INPUT_TEST),
  forS: evenNumber(0.001, 0.5),
});

function edgesOf(given: ShaftDraw): Float64Array {
  const motion = turning(given.revPerS, given.revPerS2, given.startRev);
  const ticks: number[] = [];
  edgeTicks(motion, { positions: given.positions }, DURATION_S, CLOCK_HZ).forEach((tick, i) => {
    const timeS = tick / CLOCK_HZ;
    if (i % given.missedEvery === given.missedEvery - 1) return;
    if (given.gapsS.some((fromS) => timeS >= fromS && timeS < fromS + 0.2)) return;
    ticks.push(tick);
    if (i % given.doubledEvery === given.doubledEvery - 1) ticks.push(tick + 3000);
  });
  return Float64Array.from(ticks.filter((tick) => tick < DURATION_S * CLOCK_HZ));
}

/** Samples as a table: the same single-precision numbers wherever the stream begins. */
function samplesOf(given: ShaftDraw, amplitudes: number[], spikeS: number): Float32Array {
  const motion = turning(given.revPerS, given.revPerS2, given.startRev);
  return Float32Array.from({ length: DURATION_S * RATE_HZ }, (_, i) => {
    const t = i / RATE_HZ;
    const rev = angleRev(motion, t);
    const amplitude = amplitudes[Math.floor(t / 0.15) % amplitudes.length]!;
    const spike = Math.abs(t - spikeS) < 1e-4 ? 900 : 0;
    return spike + amplitude * Math.cos(2 * Math.PI * rev) + Math.cos(4 * Math.PI * rev);
  });
}

function inputRows(list: InputDraw[]): { fromSample: number; bits: number }[] {
  const at = (timeS: number): number => Math.round(timeS * RATE_HZ);
  const edges = [0, ...list.flatMap((one) => [at(one.atS), at(one.atS + one.forS)])];
  const rising = [...new Set(edges)].toSorted((a, b) => a - b);
  return rising
    .filter((fromSample) => fromSample < DURATION_S * RATE_HZ)
    .map((fromSample) => {
      const standing = list.filter(
        ({ atS, forS }) => at(atS) <= fromSample && fromSample < at(atS + forS),
      );
      return { fromSample, bits: standing.reduce((bits, { bit }) => bits | (1 << bit), 0) };
    });
}

type Caution = CautionBounds & { delayRunsUnderInhibit: boolean };

function profileWith(shafts: ShaftDraw[], cautions: Caution[]): MonitorProfile {
  const { display } = plainFilter();
  const bandwidth = { kind: "fixed", fullWidthHz: 10 } as const;
  const filter = (i: number, over: object): FilterProfile =>
    plainFilter({
      bandwidth,
      channel: i % 2,
      shaft: i % 2,
      display: { ...display, step: 0.1, holdSteps: 3, caution: cautions[i]!, ...over },
    });
  const health = { steps: 2, physicalPk: 500 };
  return profileOf(
    { positions: 1 },
    {
      displayPeriodS: PERIOD_S,
      channels: [channelProfile({ health }), channelProfile({ health })],
      shafts: shafts.map(({ positions }) =>
        shaftProfile({
          positions,
          speedMinRevPerS: 30,
          validSpeedRevPerS: 60,
          validDelaySteps: 2,
          timeoutS: 0.09,
          evidence: { input: true, otherShaft: true },
        }),
      ),
      filters: [
        filter(0, {}),
        filter(1, { source: { kind: "substitute", filter: 0 } }),
        filter(2, { source: { kind: "greatest", filters: [0, 1] }, smoothingS: 0.05 }),
      ],
    },
  );
}

export const randomScene: fc.Arbitrary<RandomScene> = fc
  .record({
    shafts: fc.tuple(shaft, shaft),
    pieces: fc.tuple(pieces, pieces),
    spikeS: evenNumber(0, 6),
    inputs: fc.array(input, { maxLength: 8 }),
    cautions: fc.tuple(caution, caution, caution),
  })
  .map((given) => ({
    run: {
      profile: profileWith(given.shafts, given.cautions),
      edges: given.shafts.map(edgesOf),
      signals: given.shafts.map((one, i) => {
        const table = samplesOf(one, given.pieces[i]!, given.spikeS);
        return (t: number): number => table[Math.round(t * RATE_HZ)]!;
      }),
      durationS: DURATION_S,
      inputs: inputRows(given.inputs),
    },
    cautions: given.cautions,
    // What was drawn, where a failure prints it; neither tables nor profile.
    [fc.toStringMethod]: () => JSON.stringify(given),
  }));

/** The same scene later by some samples: the stream begins there. */
export function later(run: RandomScene["run"], samples: number): RandomScene["run"] {
  const ticks = samples * TICKS_PER_SAMPLE;
  return {
    ...run,
    firstSample: samples,
    durationS: run.durationS + (samples + 0.5) / RATE_HZ,
    edges: run.edges.map((all) => all.map((tick) => tick + ticks)),
    signals: run.signals.map(
      (signal) => (t) => signal((Math.round(t * RATE_HZ) - samples) / RATE_HZ),
    ),
    inputs: run.inputs.map((row) => ({ ...row, fromSample: row.fromSample + samples })),
  };
}
