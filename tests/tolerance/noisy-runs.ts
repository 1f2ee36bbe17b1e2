// Many short runs through the firmware, alike but for their seed: how far each went from the truth,
// in units of the standard deviation that the tolerance computes.
import { randomFactor } from "../../harness/truth/random-factor.ts";
import { RANDOM_NAMES } from "../../harness/truth/error-bounds.ts";
import type { Scene } from "../../harness/scene/scene.ts";
import type { StepTruth } from "../../harness/truth/types.ts";
import type { LevelRecord } from "../../host/record-types.ts";
import { compareWithTruth } from "../kit/compare-with-truth.ts";
import { levelsOf, loadCore, playScene } from "../kit/play-scene.ts";
import type { Held, RandomTerm } from "./random-terms.ts";

export interface NoisyRuns {
  runs: number;
  /** Error of the last step of each run, in σ of the tolerance: a length, or a size. */
  errors: Float64Array;
  /** Error of the level at the last step, in the same σ. */
  levelErrors: Float64Array;
  /** The largest error at any judged step of each run, in σ of that step. */
  largest: Float64Array;
  /** Judged steps of a run. */
  steps: number;
  /** The share of the tolerance that is not random, at most. */
  otherShare: number;
}

const isRandom = (name: string): boolean => (RANDOM_NAMES as readonly string[]).includes(name);

interface Step {
  tick: number;
  truth: StepTruth;
  sigma: number;
}

/** σ of what is held at each judged step, and how much of the tolerance is anything else. */
async function stepsOf(made: Scene, held: Held, factor: number) {
  const steps: Step[] = [];
  let otherShare = 0;
  const compared = await compareWithTruth(made);
  const still = held === "speed" ? await compareWithTruth(withoutJitter(made)) : [];
  for (const [i, { record, truth }] of compared.entries()) {
    const random =
      held === "speed"
        ? truth.speedTolRevPerS - still[i]!.truth.speedTolRevPerS
        : (truth.terms ?? []).reduce((sum, one) => sum + (isRandom(one.name) ? one.value : 0), 0);
    const whole = held === "speed" ? truth.speedTolRevPerS : truth.levelTol;
    otherShare = Math.max(otherShare, 1 - random / whole);
    const scale = held === "speed" ? 1 : made.profile.filters[0]!.levelFactor;
    steps.push({ tick: record.tick, truth, sigma: random / factor / scale });
  }
  return { steps, otherShare };
}

function withoutJitter(made: Scene): Scene {
  const shafts = made.shafts.map((one) => ({ ...one, wheel: { ...one.wheel, jitterS: 0 } }));
  return { ...made, shafts };
}

function errorOf(record: LevelRecord, { truth, sigma }: Step, held: Held): number {
  if (held === "speed") return Math.abs(record.speedRevPerS - truth.speedRevPerS) / sigma;
  return Math.hypot(record.re - truth.re, record.im - truth.im) / sigma;
}

/** Plays `runs` seeds of a term from `firstSeed` on. */
export async function noisyRuns(
  term: RandomTerm,
  firstSeed: number,
  runs: number,
): Promise<NoisyRuns> {
  const made = term.scene(firstSeed);
  const factor = factorOf(made);
  const { steps, otherShare } = await stepsOf(made, term.held, factor);
  const errors = new Float64Array(runs);
  const levelErrors = new Float64Array(runs);
  const largest = new Float64Array(runs);
  const core = loadCore();
  const scale = made.profile.filters[0]!.levelFactor;
  for (let run = 0; run < runs; run += 1) {
    const records = levelsOf(await playScene(term.scene(firstSeed + run), { core }));
    for (const step of steps) {
      const record = records.find((one) => one.tick === step.tick);
      if (record === undefined) throw new Error(`seed ${firstSeed + run}: no record of a step`);
      const error = errorOf(record, step, term.held);
      largest[run] = Math.max(largest[run]!, error);
      errors[run] = error;
      levelErrors[run] = Math.abs(record.level - step.truth.level) / (step.sigma * scale);
    }
  }
  return { runs, errors, levelErrors, largest, steps: steps.length, otherShare };
}

/** The factor on σ that the tolerance of this scene takes. */
export function factorOf(made: Scene): number {
  const { displayPeriodS, filters } = made.profile;
  return randomFactor(made.durationS, displayPeriodS, filters.length);
}
