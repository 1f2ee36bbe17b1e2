// A scene through the core, each level record beside the truth of its step.
import { makeTruth } from "../../harness/truth/truth.ts";
import type { Scene } from "../../harness/scene/scene.ts";
import type { StepTruth } from "../../harness/truth/types.ts";
import type { LevelRecord } from "../../host/record-types.ts";
import { displaySamples, ticksPerSample } from "../../host/profile/configuration.ts";
import { FLAG_COMPUTED } from "../../shared/layout.ts";
import { levelsOf, playScene } from "./play-scene.ts";

export interface Compared {
  record: LevelRecord;
  truth: StepTruth;
}

/** The judged steps of one filter. */
export async function compareWithTruth(scene: Scene, filter = 0): Promise<Compared[]> {
  const truth = makeTruth(scene);
  const stepTicks = displaySamples(scene.profile) * ticksPerSample(scene.profile);
  const compared: Compared[] = [];
  let wasComputed = false;
  for (const record of levelsOf(await playScene(scene), filter)) {
    const step = Math.round(record.tick / stepTicks);
    const isComputed = (record.flags & FLAG_COMPUTED) !== 0;
    const closingTick = isComputed ? record.tick - record.ageTicks : undefined;
    if (isComputed && !wasComputed) {
      const { isAllowed, why } = truth.acquired(filter, step, closingTick!, record.revolution);
      if (!isAllowed) throw new Error(`${scene.name}: ${why}`);
    }
    wasComputed = isComputed;
    const said = { ...truth.step(filter, step, closingTick) };
    if (said.isJudged) compared.push({ record, truth: said });
  }
  return compared;
}
