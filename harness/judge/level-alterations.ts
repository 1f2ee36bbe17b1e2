// Alterations of level records: what a step says of level, phase, speed, number and state.
import { STATUS_AT_LEVEL } from "../../shared/layout.ts";
import {
  CAUSE_NONE,
  CAUSE_TRANSDUCER,
  CAUTION_INHIBITED,
  FAILURE,
  VALID,
} from "../../shared/units.ts";
import type { LevelRecord } from "../../host/record-types.ts";
import type { StepTruth } from "../truth/types.ts";
import type { Alteration, AlterationAbout, Recorded } from "./alteration.ts";
import { about, levelPlaces, stepTruth } from "./alteration.ts";

/** An alteration of level records that fit, some fields at a time. */
export function levelAlteration(
  of: AlterationAbout,
  isFit: (record: LevelRecord, truth: StepTruth | undefined, recorded: Recorded) => boolean,
  change: (record: LevelRecord, amount: number, truth: StepTruth) => Partial<LevelRecord>,
): Alteration {
  return {
    ...of,
    places: (recorded) =>
      levelPlaces(recorded, (record) => isFit(record, stepTruth(recorded, record), recorded)),
    plant: (altered, place, amount, recorded) => {
      const record = altered.records[place.index] as LevelRecord;
      const truth = stepTruth(recorded, record)!;
      altered.records[place.index] = { ...record, ...change(record, amount, truth) };
    },
  };
}

/** Two tolerances on every judged step, either way: each must be found by itself. */
function byTolerance(name: "level" | "phase" | "speed"): AlterationAbout {
  return { ...about(name, name, "tolerances", 2), isTogether: true, isSigned: true };
}

function hasCaution(record: LevelRecord, _: StepTruth | undefined, recorded: Recorded): boolean {
  return recorded.scene.profile.filters[record.filter]?.display.caution !== undefined;
}

/** Another level, with the vector that is as long. */
function offset(record: LevelRecord, by: number): Partial<LevelRecord> {
  const level = Math.fround(record.level + by);
  const share = record.level > 0 ? level / record.level : 1;
  return { level, re: Math.fround(record.re * share), im: Math.fround(record.im * share) };
}

/** Turns a vector so that its phase lag grows. */
function turned(record: LevelRecord, lagDeg: number): Partial<LevelRecord> {
  const lag = (lagDeg * Math.PI) / 180;
  const re = record.re * Math.cos(lag) + record.im * Math.sin(lag);
  const im = record.im * Math.cos(lag) - record.re * Math.sin(lag);
  return { re: Math.fround(re), im: Math.fround(im) };
}

export const LEVEL_ALTERATIONS: readonly Alteration[] = [
  levelAlteration(
    byTolerance("level"),
    (_, truth) => truth?.isJudged === true,
    (record, amount, truth) => offset(record, amount * truth.levelTol),
  ),
  levelAlteration(
    byTolerance("phase"),
    (_, truth) => truth?.isJudged === true && truth.phaseIsJudged,
    (record, amount, truth) => turned(record, amount * truth.phaseTolDeg),
  ),
  levelAlteration(
    byTolerance("speed"),
    (_, truth) => truth?.isJudged === true,
    (record, amount, truth) => ({
      speedRevPerS: Math.fround(record.speedRevPerS + amount * truth.speedTolRevPerS),
    }),
  ),
  levelAlteration(
    { ...about("shown", "shown", "counts", 2), isSigned: true },
    (record) => record.validity === VALID,
    (record, amount) => ({ shownCounts: record.shownCounts + amount }),
  ),
  levelAlteration(
    about("validity", "validity", "flips", 1),
    () => true,
    (record) =>
      record.validity === VALID
        ? { validity: FAILURE, cause: CAUSE_TRANSDUCER }
        : { validity: VALID, cause: CAUSE_NONE },
  ),
  levelAlteration(about("caution-state", "caution", "states", 1), hasCaution, (record, amount) => ({
    cautionState: (record.cautionState + amount) % (CAUTION_INHIBITED + 1),
  })),
  levelAlteration(about("at-level", "caution", "flips", 1), hasCaution, (record) => ({
    statusBits: record.statusBits ^ STATUS_AT_LEVEL,
  })),
  {
    ...about("step-missing", "level", "records", 1),
    places: (recorded) => levelPlaces(recorded, () => true),
    plant: (altered, place) => void altered.records.splice(place.index, 1),
  },
  {
    ...about("step-extra", "level", "ticks", 1),
    places: (recorded) => levelPlaces(recorded, () => true),
    plant: (altered, place, amount) => {
      const record = altered.records[place.index] as LevelRecord;
      const extra = { ...record, tick: record.tick + amount };
      altered.records.splice(place.index + 1, 0, extra);
    },
  },
];
