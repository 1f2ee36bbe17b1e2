// Errors to plant in a flight's records: a judge that cannot find them is not worth its verdict.
import { STATUS_CAUTION } from "../../shared/layout.ts";
import {
  EVENT_CAUTION_ENDED_INVALID,
  EVENT_CAUTION_OFF,
  EVENT_CAUTION_ON,
  EVENT_REFERENCE_LOST,
  LOST_ACCELERATION,
} from "../../shared/units.ts";
import type {
  DecodedRecord,
  EventRecord,
  ExceedanceRecord,
  LevelRecord,
} from "../../host/record-types.ts";
import type { Alteration, AlterationAbout, Altered, Place, Recorded } from "./alteration.ts";
import { about, levelPlaces } from "./alteration.ts";
import { counterValue } from "./counter-check.ts";
import { fits } from "./event-check.ts";
import { eventName } from "./event-names.ts";
import { LEVEL_ALTERATIONS } from "./level-alterations.ts";
import { ABSENCE_ALTERATIONS } from "./absence-alterations.ts";
import { FIELD_ALTERATIONS } from "./field-alterations.ts";
import { outputWords } from "./output-word.ts";
import { isDisplayEvent } from "./record-stream.ts";
import { SourceNames } from "./source-names.ts";

const CAUTION_EVENTS = [EVENT_CAUTION_ON, EVENT_CAUTION_OFF, EVENT_CAUTION_ENDED_INVALID];

/** A caution's edge comes `amount` display periods later (earlier where negative), with its event. */
const CAUTION_EDGE: Alteration = {
  ...about("caution-edge", "caution", "display periods", 2),
  isSigned: true,
  places: (recorded) =>
    levelPlaces(recorded, (record, before) => {
      const changed = (before?.statusBits ?? 0) ^ record.statusBits;
      return (changed & STATUS_CAUTION) !== 0;
    }),
  plant: (altered, place, amount, recorded) => {
    const edge = altered.records[place.index] as LevelRecord;
    const { stepTicks } = recorded.clock;
    const shift = Math.round(amount) * stepTicks;
    const from = Math.min(edge.tick, edge.tick + shift);
    const until = Math.max(edge.tick, edge.tick + shift);
    const isLit = ((edge.statusBits & STATUS_CAUTION) !== 0) !== shift > 0;
    altered.records = altered.records.map((record) => {
      if (record.kind === "level" && record.filter === edge.filter) {
        if (record.tick < from || record.tick >= until) return record;
        const others = record.statusBits & ~STATUS_CAUTION;
        return { ...record, statusBits: isLit ? others | STATUS_CAUTION : others };
      }
      const isItsEvent =
        record.kind === "event" &&
        record.source === edge.filter &&
        record.tick === edge.tick &&
        CAUTION_EVENTS.includes(record.code);
      return isItsEvent ? { ...record, tick: record.tick + shift } : record;
    });
  },
};

/** True where the truth leaves it open whether this event comes. */
function mayStayAway(event: EventRecord, recorded: Recorded): boolean {
  return recorded.truth
    .events()
    .some((due) => due.isOptional === true && due.source === event.source && fits(event, due));
}

/** True where the event would be in time just as well, later by `ticks`. */
function mayComeLater(event: EventRecord, recorded: Recorded, ticks: number): boolean {
  const later = { ...event, tick: event.tick + ticks };
  return recorded.truth.events().some((due) => due.source === event.source && fits(later, due));
}

function eventAlteration(
  of: AlterationAbout,
  isOpen: (event: EventRecord, recorded: Recorded) => boolean,
  plant: (altered: Altered, index: number, amount: number, recorded: Recorded) => void,
): Alteration {
  return {
    ...of,
    places: (recorded) =>
      recorded.records.flatMap((record, index) => {
        if (record.kind !== "event") return [];
        const timeS = recorded.clock.timeOf(record.tick);
        const isDevice = !isDisplayEvent(record.code);
        const what = eventName(record.code);
        return [{ index, timeS, what, isOpen: isDevice && isOpen(record, recorded) }];
      }),
    plant: (altered, place, by, recorded) => plant(altered, place.index, by, recorded),
  };
}

const EVENT_MISSING = eventAlteration(
  about("event-missing", "events", "events", 1),
  mayStayAway,
  (altered, index) => void altered.records.splice(index, 1),
);

const EVENT_TWICE = eventAlteration(
  about("event-twice", "events", "events", 1),
  mayStayAway,
  (altered, index) => void altered.records.splice(index, 0, altered.records[index]!),
);

/** Display periods by which an event is moved. */
const MOVED_PERIODS = 2;

const EVENT_MOVED = eventAlteration(
  about("event-moved", "events", "display periods", MOVED_PERIODS),
  (event, recorded) => mayComeLater(event, recorded, MOVED_PERIODS * recorded.clock.stepTicks),
  (altered, index, amount, recorded) => {
    const event = altered.records[index] as EventRecord;
    const tick = event.tick + Math.round(amount) * recorded.clock.stepTicks;
    altered.records[index] = { ...event, tick };
  },
);

function exceedanceAlteration(
  part: string,
  amountUnit: string,
  amount: number,
  change: (one: ExceedanceRecord, amount: number, stepTicks: number) => Partial<ExceedanceRecord>,
): Alteration {
  return {
    ...about(`exceedance-${part}`, "exceedances", amountUnit, amount),
    places: exceedancePlaces,
    plant: (altered, place, by, recorded) => {
      const one = altered.records[place.index] as ExceedanceRecord;
      const { stepTicks } = recorded.clock;
      altered.records[place.index] = { ...one, ...change(one, by, stepTicks) };
    },
  };
}

function exceedancePlaces(recorded: Recorded): Place[] {
  return recorded.records.flatMap((record, index) =>
    record.kind === "exceedance"
      ? [
          {
            index,
            timeS: recorded.clock.timeOf(record.endTick),
            what: `of filter ${record.filter}`,
          },
        ]
      : [],
  );
}

const EXCEEDANCE_MISSING: Alteration = {
  ...about("exceedance-missing", "exceedances", "records", 1),
  places: exceedancePlaces,
  plant: (altered, place) => void altered.records.splice(place.index, 1),
};

const COUNTER: Alteration = {
  ...about("counter", "counters", "counts beyond the range", 1),
  places: (recorded) =>
    recorded.truth.counters().map(({ name, index }, at) => ({
      index: at,
      timeS: recorded.scene.durationS,
      what: new SourceNames(recorded.scene.profile).ofCounter(name, index),
    })),
  plant: (altered, place, amount, recorded) => {
    const { name, index, max } = recorded.truth.counters()[place.index]!;
    const field = altered.counters[name];
    if (counterValue(altered.counters, name, index) === undefined) return;
    const value = Array.isArray(field) ? field.with(index, max + amount) : max + amount;
    altered.counters = { ...altered.counters, [name]: value };
  },
};

/** Samples that were gone before their interval was complete, which no scene asks for. */
const SAMPLES_LATE: Alteration = {
  ...about("samples-late", "counters", "intervals", 1),
  places: ({ scene }) =>
    scene.profile.shafts.map(({ name }, index) => {
      return { index, timeS: scene.durationS, what: `of shaft ${name}` };
    }),
  plant: (altered, { index }, amount) => {
    const { samplesLate } = altered.counters;
    const late = samplesLate.with(index, samplesLate[index]! + amount);
    altered.counters = { ...altered.counters, samplesLate: late };
  },
};

/** A loss of the reference for a reason that does not exist. */
const LOST_REASON: Alteration = {
  ...about("lost-reason", "events", "reasons beyond the last", 1),
  places: (recorded) =>
    recorded.records.flatMap((record, index) => {
      if (record.kind !== "event" || record.code !== EVENT_REFERENCE_LOST) return [];
      return [{ index, timeS: recorded.clock.timeOf(record.tick), what: "reference lost" }];
    }),
  plant: (altered, { index }, amount) => {
    const event = altered.records[index] as EventRecord;
    altered.records[index] = { ...event, detail: LOST_ACCELERATION + amount };
  },
};

/** Every alteration that the judge knows, by name; a canary names one of them. */
export const ALTERATIONS: readonly Alteration[] = [
  ...LEVEL_ALTERATIONS,
  ...FIELD_ALTERATIONS,
  ...ABSENCE_ALTERATIONS,
  CAUTION_EDGE,
  EVENT_MISSING,
  EVENT_TWICE,
  EVENT_MOVED,
  EXCEEDANCE_MISSING,
  exceedanceAlteration("onset", "display periods", 2, (one, amount, stepTicks) => ({
    onsetTick: one.onsetTick - amount * stepTicks,
  })),
  exceedanceAlteration("end", "display periods", 2, (one, amount, stepTicks) => ({
    endTick: one.endTick + amount * stepTicks,
  })),
  exceedanceAlteration("peak", "hundredths", 1, (one, amount) => ({
    peakLevel: Math.fround(one.peakLevel * (1 + amount / 100)),
  })),
  exceedanceAlteration("speed", "hundredths", 1, (one, amount) => ({
    speedAtPeakRevPerS: Math.fround(one.speedAtPeakRevPerS * (1 + amount / 100)),
  })),
  exceedanceAlteration("above", "steps", 1, (one, amount) => ({
    aboveSteps: one.aboveSteps + amount,
  })),
  COUNTER,
  SAMPLES_LATE,
  LOST_REASON,
];

/** The alteration of a name; undefined where there is none. */
export function alterationNamed(name: string): Alteration | undefined {
  return ALTERATIONS.find((one) => one.name === name);
}

/** The flight with an alteration planted at the given places; the recorded stays as it is. */
export function alter(
  recorded: Recorded,
  alteration: Alteration,
  places: Place[],
  amount: number,
): Altered {
  const altered: Altered = { records: recorded.records.slice(), counters: recorded.counters };
  for (const place of places) alteration.plant(altered, place, amount, recorded);
  if (alteration.isRaw !== true) altered.records = consistent(altered.records, recorded);
  return altered;
}

/** Records numbered without a gap, and words that say what altered records show. */
function consistent(records: DecodedRecord[], recorded: Recorded): DecodedRecord[] {
  const from = recorded.records[0]?.sequence ?? 0;
  const before = new Set<DecodedRecord>(recorded.records);
  return records.map((record, i) => {
    const sequence = (from + i) >>> 0;
    const isSame = record.sequence === sequence && before.has(record);
    if (isSame) return record;
    const filter =
      record.kind === "level" ? recorded.scene.profile.filters[record.filter] : undefined;
    if (record.kind !== "level" || filter === undefined || before.has(record)) {
      return { ...record, sequence };
    }
    const words = outputWords(record, filter.display);
    return { ...record, sequence, word: words.includes(record.word) ? record.word : words[0]! };
  });
}
