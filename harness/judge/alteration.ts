// What an alteration is: an error that can be planted in a flight's records, and where.
import type { Counters, DecodedRecord, LevelRecord } from "../../host/record-types.ts";
import type { CheckName, Scene } from "../scene/scene.ts";
import type { StepTruth } from "../truth/types.ts";
import type { StepClock } from "./clock.ts";
import type { RememberedTruth } from "./remembered-truth.ts";

/** What a flight gave, and what the truth said of it. */
export interface Recorded {
  scene: Scene;
  clock: StepClock;
  truth: RememberedTruth;
  records: DecodedRecord[];
  counters: Counters;
}

/** One place where an alteration can be planted. */
export interface Place {
  /** Index of the record, or of the truth's counter. */
  index: number;
  timeS: number;
  what: string;
  /** The truth leaves it open whether what stands there comes, or exactly when: nothing to find. */
  isOpen?: boolean;
}

/** A flight with something planted in it. */
export interface Altered {
  records: DecodedRecord[];
  counters: Counters;
}

export interface AlterationAbout {
  name: string;
  /** The check that is meant to find it. */
  check: CheckName;
  /** What an amount of 1 is, and the amount that must always be found. */
  amountUnit: string;
  amount: number;
  /** True: judged record by record, so all places may be altered in one pass. */
  isTogether: boolean;
  /** True: the negative amount is another error. */
  isSigned: boolean;
  /** True: it moves acquisitions, so the truth must be asked anew. */
  isAnew?: boolean;
  /** True: words and sequence numbers stay as planted; else they follow what was planted. */
  isRaw?: boolean;
}

export interface Alteration extends AlterationAbout {
  places(recorded: Recorded): Place[];
  /** Changes `altered` (its lists, never their records) at one place. */
  plant(altered: Altered, place: Place, amount: number, recorded: Recorded): void;
}

/** Name and amount of an alteration that is planted in one place at a time, in one direction. */
export function about(
  name: string,
  check: CheckName,
  amountUnit: string,
  amount: number,
): AlterationAbout {
  return { name, check, amountUnit, amount, isTogether: false, isSigned: false };
}

/** What the truth said of a level record's step. */
export function stepTruth(recorded: Recorded, record: LevelRecord): StepTruth | undefined {
  return recorded.truth.said(record.filter, Math.round(record.tick / recorded.clock.stepTicks));
}

/** Level records that fit; `before` is the one before it of the same filter. */
export function levelPlaces(
  recorded: Recorded,
  isFit: (record: LevelRecord, before: LevelRecord | undefined) => boolean,
): Place[] {
  const places: Place[] = [];
  const before = new Map<number, LevelRecord>();
  recorded.records.forEach((record, index) => {
    if (record.kind !== "level") return;
    if (isFit(record, before.get(record.filter))) {
      const what = recorded.scene.profile.filters[record.filter]?.name ?? `${record.filter}`;
      places.push({ index, timeS: recorded.clock.timeOf(record.tick), what });
    }
    before.set(record.filter, record);
  });
  return places;
}
