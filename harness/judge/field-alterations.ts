// Alterations of a record's other fields: each of them must be seen by itself.
import {
  FLAG_BRIDGED,
  FLAG_COMPUTED,
  FLAG_INTEGRATION,
  FLAG_PHASE_RELATIVE,
  FLAG_SETTLED,
} from "../../shared/layout.ts";
import type { LevelRecord } from "../../host/record-types.ts";
import type { StepTruth } from "../truth/types.ts";
import type { Alteration, AlterationAbout, Place } from "./alteration.ts";
import { about } from "./alteration.ts";
import { levelAlteration } from "./level-alterations.ts";

type Fields = NonNullable<StepTruth["record"]>;

/** Every record by itself. */
function each(name: string, amountUnit: string, amount: number): AlterationAbout {
  return { ...about(name, "level", amountUnit, amount), isTogether: true };
}

function isComputed(record: LevelRecord): boolean {
  return (record.flags & FLAG_COMPUTED) !== 0;
}

/** A mark that is wrong wherever the truth says for sure how it must be. */
function flagAlteration(
  name: string,
  bit: number,
  of: "isSettled" | "isBridged" | "isPhaseRelative",
): Alteration {
  return levelAlteration(
    each(name, "flips", 1),
    (record, truth) => {
      const should = truth?.record?.[of] ?? "maybe";
      return should !== "maybe" && (isComputed(record) || of === "isPhaseRelative");
    },
    (record) => ({ flags: record.flags ^ bit }),
  );
}

/** A field beyond its range. */
function fieldAlteration(
  name: string,
  amountUnit: string,
  amount: number,
  field: keyof Fields,
  change: (record: LevelRecord, amount: number, fields: Fields) => Partial<LevelRecord>,
): Alteration {
  return levelAlteration(
    each(name, amountUnit, amount),
    (record, truth) => isComputed(record) && truth?.record?.[field] !== undefined,
    (record, by, truth) => change(record, by, truth.record!),
  );
}

/** A distance, and the mark that belongs to it. */
function distanceOf(record: LevelRecord, distance: number): Partial<LevelRecord> {
  const integrationDistance = Math.fround(distance);
  const isFar = integrationDistance > Math.fround(5e-4);
  const others = record.flags & ~FLAG_INTEGRATION;
  return { integrationDistance, flags: isFar ? others | FLAG_INTEGRATION : others };
}

export const FIELD_ALTERATIONS: readonly Alteration[] = [
  levelAlteration(
    each("vector", "parts of the level", 1e-5),
    (record) => isComputed(record) && record.level > 1e-12,
    (record, amount) => ({
      re: Math.fround(record.re * (1 + amount)),
      im: Math.fround(record.im * (1 + amount)),
    }),
  ),
  fieldAlteration("age", "ranges", 2, "ageTicks", (record, amount, { ageTicks }) => {
    const { least, most } = ageTicks!;
    return { ageTicks: record.ageTicks + Math.ceil(amount * (most - least) + 1) };
  }),
  fieldAlteration("revolution", "cycles", 1, "revolution", (record, amount) => ({
    revolution: record.revolution + amount,
  })),
  flagAlteration("settled", FLAG_SETTLED, "isSettled"),
  flagAlteration("bridged", FLAG_BRIDGED, "isBridged"),
  flagAlteration("phase-relative", FLAG_PHASE_RELATIVE, "isPhaseRelative"),
  levelAlteration(each("integration", "flips", 1), isComputed, (record) => ({
    flags: record.flags ^ FLAG_INTEGRATION,
  })),
  {
    ...levelAlteration(
      each("integration-distance", "ranges", 2),
      (record, truth) => {
        const most = truth?.record?.integrationDistance?.most ?? Infinity;
        return isComputed(record) && most < 1e30;
      },
      (record, amount, truth) => {
        const { least, most } = truth.record!.integrationDistance!;
        return distanceOf(record, most + amount * (most - least) + 1e-12);
      },
    ),
  },
  {
    ...levelAlteration(
      each("word", "flipped bits", 1),
      () => true,
      (record, amount) => ({ word: (record.word ^ ((1 << amount) - 1)) >>> 0 }),
    ),
    isRaw: true,
  },
  {
    ...about("sequence", "events", "numbers", 1),
    isRaw: true,
    places: ({ records, clock }): Place[] => {
      const index = records.length >> 1;
      const record = records[index];
      if (record === undefined || index === 0) return [];
      const tick = record.kind === "exceedance" ? record.endTick : record.tick;
      return [{ index, timeS: clock.timeOf(tick), what: "and all after it" }];
    },
    plant: (altered, { index }, amount) => {
      altered.records = altered.records.map((record, i) =>
        i < index ? record : { ...record, sequence: record.sequence + amount },
      );
    },
  },
];
