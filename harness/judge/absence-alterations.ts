// Alterations of a whole flight: a number that never comes, or comes late, with all that would
// follow from it, so that the records do not contradict each other.
import { FLAG_COMPUTED, STATUS_BLANK, STATUS_INHIBITED } from "../../shared/layout.ts";
import {
  CAUSE_SETTLING,
  CAUTION_INHIBITED,
  CAUTION_OFF,
  EVENT_INHIBIT_OFF,
  EVENT_INHIBIT_ON,
  EVENT_VALID,
  NO_COMPUTED_DATA,
  VALID,
} from "../../shared/units.ts";
import type { DecodedRecord, EventRecord, LevelRecord } from "../../host/record-types.ts";
import type { Alteration, Place, Recorded } from "./alteration.ts";
import { about, stepTruth } from "./alteration.ts";
import { isDisplayEvent } from "./record-stream.ts";

function isValid(record: DecodedRecord): record is LevelRecord {
  return record.kind === "level" && record.validity === VALID;
}

/** A record whose display shows nothing, for it settles. */
function blank(record: LevelRecord): LevelRecord {
  const isInhibited = (record.statusBits & STATUS_INHIBITED) !== 0;
  const wasNumber = record.validity === VALID;
  return {
    ...record,
    shownCounts: 0,
    validity: wasNumber ? NO_COMPUTED_DATA : record.validity,
    cause: wasNumber ? CAUSE_SETTLING : record.cause,
    cautionState: isInhibited ? CAUTION_INHIBITED : CAUTION_OFF,
    statusBits: STATUS_BLANK | (record.statusBits & STATUS_INHIBITED),
  };
}

/** The same without a level. */
function uncomputed(record: LevelRecord): LevelRecord {
  return {
    ...blank(record),
    flags: record.flags & ~FLAG_COMPUTED,
    level: 0,
    re: 0,
    im: 0,
    speedRevPerS: 0,
    speedNowRevPerS: 0,
    ageTicks: 0,
    revolution: 0,
  };
}

/** The event that a number sends when it comes. */
function validEvent(record: LevelRecord): EventRecord {
  const { filter, sequence, tick, revolution, speedRevPerS, re, im, level, shownCounts } = record;
  const measured = { revolution, speedRevPerS, re, im, level, shownCounts };
  return {
    kind: "event",
    code: EVENT_VALID,
    source: filter,
    sequence,
    tick,
    ...measured,
    detail: 0,
  };
}

/**
 * The records where displays come to show only from a tick on, by display; `hide` alters what a
 * level record says before.
 */
function hidden(
  records: DecodedRecord[],
  untilTicks: readonly number[],
  hide: (record: LevelRecord) => LevelRecord,
): DecodedRecord[] {
  const shown = new Set<number>();
  return records.flatMap((record): DecodedRecord[] => {
    const until = (filter: number): number => untilTicks[filter] ?? 0;
    if (record.kind === "exceedance") return record.endTick < until(record.filter) ? [] : [record];
    if (record.kind === "event") {
      const { code, source, tick } = record;
      const isInput = code === EVENT_INHIBIT_ON || code === EVENT_INHIBIT_OFF;
      if (!isDisplayEvent(code) || isInput || tick > until(source)) return [record];
      return tick < until(source) || code === EVENT_VALID ? [] : [record];
    }
    if (record.tick < until(record.filter)) return [hide(record)];
    const isFirst = until(record.filter) > 0 && !shown.has(record.filter) && isValid(record);
    shown.add(record.filter);
    return isFirst ? [record, validEvent(record)] : [record];
  });
}

/** By filter, the tick `steps` display steps after the first record that fits; 0: there is none. */
function ticksAfter(
  recorded: Recorded,
  steps: number,
  isFit: (record: LevelRecord) => boolean,
): number[] {
  return recorded.scene.profile.filters.map((_, filter) => {
    const first = recorded.records.find(
      (record) => record.kind === "level" && record.filter === filter && isFit(record),
    );
    return first === undefined ? 0 : (first as LevelRecord).tick + steps * recorded.clock.stepTicks;
  });
}

/** One place where any display shows a number. */
function anyNumber(recorded: Recorded): Place[] {
  const index = recorded.records.findIndex(isValid);
  if (index < 0) return [];
  const timeS = recorded.clock.timeOf((recorded.records[index] as LevelRecord).tick);
  return [{ index, timeS, what: "every number" }];
}

/** Display steps by which a level, or a number, comes late. */
const LATE_STEPS = 2;

function isComputed(record: LevelRecord): boolean {
  return (record.flags & FLAG_COMPUTED) !== 0;
}

/** The first steps at which a number must be valid. */
function mustShow(recorded: Recorded): (record: LevelRecord) => boolean {
  return (record) => {
    const { source } = recorded.scene.profile.filters[record.filter]!.display;
    const allowed = stepTruth(recorded, record)?.allowed ?? [];
    return (
      source.kind === "own" && allowed.length > 0 && allowed.every((one) => one.validity === VALID)
    );
  };
}

export const ABSENCE_ALTERATIONS: readonly Alteration[] = [
  {
    ...about("never-computed", "level", "flights", 1),
    isAnew: true,
    places: anyNumber,
    plant: (altered, _, __, recorded) => {
      const never = recorded.scene.profile.filters.map(() => Infinity);
      altered.records = hidden(altered.records, never, uncomputed);
    },
  },
  {
    ...about("computed-late", "validity", "display periods", LATE_STEPS),
    isAnew: true,
    places: anyNumber,
    plant: (altered, _, amount, recorded) => {
      const until = ticksAfter(recorded, amount, isComputed);
      altered.records = hidden(altered.records, until, uncomputed);
    },
  },
  {
    ...about("valid-late", "validity", "display periods", LATE_STEPS),
    places: (recorded) => {
      const must = mustShow(recorded);
      const isThere = recorded.records.some((record) => record.kind === "level" && must(record));
      return isThere ? anyNumber(recorded) : [];
    },
    plant: (altered, _, amount, recorded) => {
      const until = ticksAfter(recorded, amount, mustShow(recorded));
      altered.records = hidden(altered.records, until, blank);
    },
  },
];
