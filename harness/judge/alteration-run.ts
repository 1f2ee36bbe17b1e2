// Judges a flight as it stands, and again with something planted in its records.
import type { Counters, DecodedRecord } from "../../host/record-types.ts";
import { RecordError, decodeRecords } from "../../host/records.ts";
import type { Scene } from "../scene/scene.ts";
import type { SceneTruth } from "../truth/types.ts";
import type { Altered, Recorded } from "./alteration.ts";
import { StepClock } from "./clock.ts";
import { makePlainJudge } from "./streaming-judge.ts";
import { RememberedTruth } from "./remembered-truth.ts";
import type { Verdict } from "./types.ts";

/** A flight that was judged as it stands, ready to be altered. */
export interface JudgedFlight {
  recorded: Recorded;
  verdict: Verdict;
}

/** Judges a flight as it stands and keeps the truth for more passes. */
export function judgeRecorded(
  scene: Scene,
  truth: SceneTruth,
  records: Uint8Array,
  counters: Counters,
): JudgedFlight {
  const remembered = new RememberedTruth(truth);
  const judge = makePlainJudge(scene, remembered);
  judge.take(records);
  const verdict = judge.finish(counters);
  const decoded = { records: decodable(records), counters };
  const recorded = { scene, clock: new StepClock(scene), truth: remembered, ...decoded };
  return { recorded, verdict };
}

/** The records; none where the bytes are no records, which the verdict says itself. */
function decodable(records: Uint8Array): DecodedRecord[] {
  try {
    return decodeRecords(records);
  } catch (error) {
    if (error instanceof RecordError) return [];
    throw error;
  }
}

/** Judges an altered flight with the truth that was said before, or with one that is asked anew. */
export function judgeAltered(
  recorded: Recorded,
  altered: Altered,
  truth: SceneTruth = recorded.truth.again(),
): Verdict {
  const judge = makePlainJudge(recorded.scene, truth);
  judge.takeDecoded(altered.records);
  return judge.finish(altered.counters);
}
