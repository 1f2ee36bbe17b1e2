// What a box should show at each display step of a scenario: the truth of its filter, in display units.
import { builtInCore } from "../../host/built-in-core.ts";
import { VALID } from "../../shared/units.ts";
import { makePlainJudge } from "../judge/streaming-judge.ts";
import { CASE_PARTS } from "../run/case-parts.ts";
import { runCase } from "../run/run-case.ts";
import type { FilterProfile, Scene } from "../scene/scene.ts";
import { timeConstantS } from "../truth/filter-response.ts";
import { CoreTarget } from "../target/core-target.ts";
import type { DeviceSpecification } from "./device-file.ts";

/** Full width of the truth where the box's own is not known: quick, so that it follows the input. */
const QUICK_WIDTH_HZ = 4;

export interface ExpectedStep {
  /** Where something is known: the end of the newest revolution, of which the truth is. */
  timeS: number;
  /** False where nothing is known: start, drop-out, settling of the truth. */
  isKnown: boolean;
  /** Display units. */
  number: number;
  tolerance: number;
  speedRevPerS: number;
  speedTolerance: number;
}

export interface Expected {
  /** Of every filter, ascending in time. */
  steps: ExpectedStep[][];
  /** How close steps stand where revolutions are short, s. */
  periodS: number;
}

/** Display units per level unit at a speed: straight between rows, held at the ends. */
export function scaleAt({ display }: FilterProfile, speedRevPerS: number): number {
  const { scale } = display;
  const after = scale.findIndex((row) => row.speedRevPerS > speedRevPerS);
  if (after === 0) return scale[0]!.factor;
  if (after < 0) return scale.at(-1)!.factor;
  const [a, b] = [scale[after - 1]!, scale[after]!];
  const share = (speedRevPerS - a.speedRevPerS) / (b.speedRevPerS - a.speedRevPerS);
  return a.factor + share * (b.factor - a.factor);
}

/** Steps of the truth in one of the box's time constants: the line between two is then near enough. */
const STEPS_PER_TAU = 10;

/**
 * A display period so many times shorter that the truth stands closely enough: the least divisor of
 * the profile's own samples that does. There is one truth a revolution, and no more.
 */
function finerBy({ profile, shafts }: Scene, fullWidthHz: number): number {
  const { displayPeriodS, sampleRateHz } = profile;
  const samples = Math.round(displayPeriodS * sampleRateHz);
  const speeds = shafts.flatMap(({ speed }) => speed.map(({ revPerS }) => revPerS));
  const wanted = Math.min(
    samples,
    displayPeriodS * Math.max(...speeds),
    (STEPS_PER_TAU * displayPeriodS) / timeConstantS(fullWidthHz),
  );
  let factor = 1;
  while (factor < wanted || samples % factor !== 0) factor += 1;
  return factor;
}

/** The scene with the box's own filter in place of the profile's, and nothing that smooths. */
function boxScene(scene: Scene, { filter }: DeviceSpecification): Scene {
  const { profile } = scene;
  const fullWidthHz = filter?.fullWidthHz ?? QUICK_WIDTH_HZ;
  const factor = finerBy(scene, fullWidthHz);
  return {
    ...scene,
    profile: {
      ...profile,
      displayPeriodS: profile.displayPeriodS / factor,
      shafts: profile.shafts.map((one) => ({
        ...one,
        validDelaySteps: one.validDelaySteps * factor,
      })),
      filters: profile.filters.map((one) => {
        const { caution: _, ...display } = one.display;
        return {
          ...one,
          bandwidth: { kind: "fixed", fullWidthHz },
          display: { ...display, smoothingS: 0, holdSteps: 0, source: { kind: "own" } },
        };
      }),
    },
    expectation: { eitherShare: 1 },
  };
}

/** Adds a step; of one revolution the newest alone is kept. */
function addStep(steps: ExpectedStep[], step: ExpectedStep): void {
  while (steps.length > 0 && steps.at(-1)!.timeS >= step.timeS) steps.pop();
  steps.push(step);
}

/**
 * The expected number of every filter, step by step. Where the recursion starts is within what the
 * definition allows; the built-in core says where.
 *
 * Errors    of the run; AbortError
 */
export async function expectedNumbers(
  scene: Scene,
  device: DeviceSpecification,
  signal: AbortSignal,
): Promise<Expected> {
  const made = boxScene(scene, device);
  const { clockHz, displayPeriodS: periodS } = made.profile;
  const steps: ExpectedStep[][] = made.profile.filters.map(() => []);
  await runCase(made, new CoreTarget(builtInCore()), signal, {
    ...CASE_PARTS,
    makeJudge: (one, truth) =>
      makePlainJudge(one, truth, ({ filter, timeS, truth: step, record }) => {
        const speed = step.speedNowRevPerS;
        const scale = scaleAt(one.profile.filters[filter]!, speed);
        const isKnown = step.isJudged && step.allowed.every(({ validity }) => validity === VALID);
        const ageS = isKnown && record !== undefined ? record.ageTicks / clockHz : 0;
        addStep(steps[filter]!, {
          timeS: timeS - ageS,
          isKnown,
          number: step.level * scale,
          tolerance: step.levelTol * scale,
          speedRevPerS: speed,
          speedTolerance: step.speedNowTolRevPerS ?? step.speedTolRevPerS,
        });
      }),
  });
  return { steps, periodS };
}
