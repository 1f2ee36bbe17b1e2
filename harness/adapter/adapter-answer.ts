// What an adapter's calls give, looked at field by field: code of a user's own may give anything. What is
// right is copied out as plain data, so that nothing of it moves afterwards.
import { messageOf } from "../../host/error-message.ts";
import type { Counters } from "../../host/record-types.ts";
import { NO_COUNTERS } from "../target/no-counters.ts";
import type { Capabilities } from "../target/target.ts";
import type { LevelBoxFacts, Reading } from "./adapter.ts";

/** A call gave what it must not; the sentence names the file, the call and the field. */
export class AdapterWrong extends Error {}

const SHOWN_MAX = 40;

/** A value in words: "nothing", "NaN", the text "abc", "an object". */
function found(value: unknown): string {
  if (value === undefined) return "nothing";
  if (value === null || typeof value === "number" || typeof value === "boolean") {
    return String(value);
  }
  if (typeof value === "string") {
    const text = value.length > SHOWN_MAX ? `${value.slice(0, SHOWN_MAX)}…` : value;
    return `the text ${JSON.stringify(text)}`;
  }
  if (Array.isArray(value)) return `a list of ${value.length}`;
  return typeof value === "object" ? "an object" : `a ${typeof value}`;
}

/** One answer, field by field. */
class Answer {
  readonly #start: string;
  readonly #fields: Readonly<Record<string, unknown>>;

  /** start: file, call, and what of it, as a sentence begins. */
  constructor(start: string, value: unknown, what: string) {
    this.#start = start;
    if (typeof value !== "object" || value === null || Array.isArray(value)) {
      throw new AdapterWrong(`${start} must be ${what}, not ${found(value)}`);
    }
    this.#fields = value as Record<string, unknown>;
  }

  of(field: string): unknown {
    return this.#fields[field];
  }

  wrong(field: string, must: string, value: unknown): AdapterWrong {
    return new AdapterWrong(`${this.#start}: ${field} must be ${must}, not ${found(value)}`);
  }

  text(field: string): string {
    const value = this.of(field);
    if (typeof value === "string" && value.trim() !== "") return value;
    throw this.wrong(field, "text", value);
  }

  whole(field: string): number {
    const value = this.of(field);
    if (isCount(value)) return value;
    throw this.wrong(field, "a whole number, 0 or more", value);
  }

  number(field: string): number {
    const value = this.of(field);
    if (typeof value === "number" && Number.isFinite(value)) return value;
    throw this.wrong(field, "a number", value);
  }

  /** Undefined where it is left out. */
  truth(field: string): boolean | undefined {
    const value = this.of(field);
    if (value === undefined || typeof value === "boolean") return value;
    throw this.wrong(field, "true or false", value);
  }

  oneOf<T extends string>(field: string, choices: readonly T[]): T {
    const value = this.of(field);
    if (choices.includes(value as T)) return value as T;
    throw this.wrong(field, choices.map((one) => `"${one}"`).join(" or "), value);
  }
}

const isCount = (value: unknown): value is number =>
  typeof value === "number" && Number.isSafeInteger(value) && value >= 0;

/** Reading a field may run a user's own code, too. Errors: AdapterWrong. */
function looked<T>(start: string, look: () => T): T {
  try {
    return look();
  } catch (error) {
    if (error instanceof AdapterWrong) throw error;
    throw new AdapterWrong(`${start} cannot be read: ${messageOf(error)}`, { cause: error });
  }
}

/** Errors: AdapterWrong. */
export function plainFacts(file: string, value: unknown): LevelBoxFacts {
  const start = `${file}: facts()`;
  return looked(start, () => {
    const answer = new Answer(start, value, "an object with name, identity and clock");
    return {
      name: answer.text("name"),
      identity: answer.text("identity"),
      clock: answer.oneOf("clock", ["host", "own"]),
    };
  });
}

/** Errors: AdapterWrong. */
export function plainCapabilities(file: string, value: unknown): Omit<Capabilities, "kind"> {
  const start = `${file}: open()`;
  return looked(start, () => {
    const answer = new Answer(start, value, "an object that says who the device is");
    const formats = answer.of("sampleFormats");
    const known = ["f32", "i16"] as const;
    if (!Array.isArray(formats) || !formats.every((one) => known.includes(one as "f32"))) {
      throw answer.wrong("sampleFormats", 'a list of "f32" and "i16"', formats);
    }
    return {
      identity: answer.text("identity"),
      layoutVersion: answer.whole("layoutVersion"),
      numericsVersion: answer.whole("numericsVersion"),
      sampleFormats: [...(formats as Capabilities["sampleFormats"])],
    };
  });
}

/** Errors: AdapterWrong. */
export function plainBytes(file: string, call: string, value: unknown, field?: string): Uint8Array {
  const start = field === undefined ? `${file}: ${call}` : `${file}: ${call}: ${field}`;
  if (value instanceof Uint8Array) return value;
  throw new AdapterWrong(`${start} must be bytes (a Uint8Array), not ${found(value)}`);
}

/** The field of an answer that has one of bytes. Errors: AdapterWrong. */
export function bytesOf(file: string, call: string, value: unknown, field: string): Uint8Array {
  const start = `${file}: ${call}`;
  return looked(start, () => {
    const answer = new Answer(start, value, `an object with ${field}`);
    return plainBytes(file, call, answer.of(field), field);
  });
}

/** Errors: AdapterWrong. */
export function plainCounters(file: string, value: unknown): Counters {
  const start = `${file}: finish()`;
  return looked(start, () => {
    const counters = new Answer(start, value, "an object with records and counters").of("counters");
    const answer = new Answer(`${start}: counters`, counters, "an object");
    const plain = Object.entries(NO_COUNTERS).map(([name, none]) => {
      if (!Array.isArray(none)) return [name, answer.whole(name)];
      const list = answer.of(name);
      const must = `a list of ${none.length} whole numbers, 0 or more`;
      if (!Array.isArray(list) || list.length !== none.length) throw answer.wrong(name, must, list);
      const odd = list.findIndex((one) => !isCount(one));
      if (odd >= 0) throw answer.wrong(`${name}[${odd}]`, "a whole number, 0 or more", list[odd]);
      return [name, [...(list as number[])]];
    });
    return Object.fromEntries(plain) as Counters;
  });
}

/** The optional fields of a reading, of one that is not valid without what is no number. */
function optional(answer: Answer, isValid: boolean | undefined): Partial<Reading> {
  const isCaution = answer.truth("isCaution");
  const speed = answer.of("speedRevPerS");
  const hasSpeed = speed !== undefined && (isValid !== false || Number.isFinite(speed));
  return {
    ...(isValid === undefined ? {} : { isValid }),
    ...(isCaution === undefined ? {} : { isCaution }),
    ...(hasSpeed ? { speedRevPerS: answer.number("speedRevPerS") } : {}),
  };
}

function plainReading(
  start: string,
  value: unknown,
  filters: readonly string[],
  beforeS: number,
): Reading {
  const answer = new Answer(start, value, "an object with timeS, filter and shown");
  const timeS = answer.number("timeS");
  if (timeS < beforeS) {
    throw new AdapterWrong(
      `${start}: timeS is ${timeS}, before the ${beforeS} of the one above it; times must ascend`,
    );
  }
  const filter = answer.of("filter");
  if (typeof filter !== "string" || !filters.includes(filter)) {
    throw answer.wrong("filter", `one of ${filters.join(", ")}, as the profile has them`, filter);
  }
  const isValid = answer.truth("isValid");
  const shown = answer.of("shown");
  if (isValid !== false || typeof shown !== "number") answer.number("shown");
  return { timeS, filter, shown: shown as number, ...optional(answer, isValid) };
}

/** What play() gave. Errors: AdapterWrong. */
export function plainReadings(file: string, value: unknown, filters: readonly string[]): Reading[] {
  const start = `${file}: play()`;
  return looked(start, () => {
    if (!Array.isArray(value)) {
      throw new AdapterWrong(`${start} must give a list of readings, not ${found(value)}`);
    }
    if (value.length === 0) throw new AdapterWrong(`${start} gave no reading at all`);
    let beforeS = -Infinity;
    // By index: a list with holes is looked at where it is empty, too.
    return Array.from(value as unknown[], (one, i) => {
      const reading = plainReading(`${start}: reading ${i + 1}`, one, filters, beforeS);
      beforeS = reading.timeS;
      return reading;
    });
  });
}
