// Stimuli for tests: where they go, and how large they are.
import { join } from "node:path";
import type { StimulusJob } from "../../../harness/stimulus/stimulus-job.ts";
import type { Scene } from "../../../harness/scene/scene.ts";
import { suiteCases } from "../../kit/regression-suite.ts";

export const FULL_SCALE_V = 5;
export const PULSE_V = 2;
export const RAMP_S = 0.5;
let files = 0;

export function stimulusJob(
  folder: string,
  made: Scene,
  changes: Partial<StimulusJob> = {},
): StimulusJob {
  files += 1;
  const { channels, sampleRateHz } = made.profile;
  const rateHz = sampleRateHz * (changes.times ?? 1);
  return {
    scene: made,
    path: join(folder, `${files}.wav`),
    format: "wav24",
    times: 1,
    rampS: RAMP_S,
    fullScaleV: FULL_SCALE_V,
    limits: { inputV: FULL_SCALE_V, pulseV: FULL_SCALE_V },
    voltsPerUnit: channels.map(({ range }) => FULL_SCALE_V / range),
    oneVoltIs: channels.map(() => "as it comes"),
    pulseV: PULSE_V,
    pulseWidthS: 3 / rateHz,
    signal: new AbortController().signal,
    ...changes,
  };
}

/** An index of one extra edge: half a pitch leaves room enough only at more samples. */
export const extraEdgeScene = (): Scene =>
  suiteCases("tachometer/is-an-extra-edge-index-kept-through-its-own-faults.scenario.yaml").find(
    ({ name }) => name.includes("missed elsewhere"),
  )!;
