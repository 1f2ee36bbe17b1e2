// Fields of a level record that are right or wrong by themselves: what the truth, and the record's
// own other fields, say of them.
import {
  FLAG_BRIDGED,
  FLAG_COMPUTED,
  FLAG_INTEGRATION,
  FLAG_PHASE_RELATIVE,
  FLAG_SETTLED,
} from "../../shared/layout.ts";
import { VALID } from "../../shared/units.ts";
import type { LevelRecord } from "../../host/record-types.ts";
import type { FilterProfile } from "../scene/scene.ts";
import type { StepTruth } from "../truth/types.ts";
import { outputWords } from "./output-word.ts";
import { numberText } from "./sentences.ts";

type Expected = NonNullable<StepTruth["record"]>;
type Certainty = Expected["isComputed"];

/** Distance from the true integral from which a record must say so: 0.05 %. */
const INTEGRATION_DISTANCE_MAX = Math.fround(5e-4);
/** A vector turned by a phasor, its length and the factor, each a few units of single precision. */
const VECTOR_ROUNDINGS = 2 ** -20;
/** Length of a vector whose squares are lost below the least number of single precision. */
const LENGTH_LEAST = 2 ** -73;

/** What is wrong, one clause each. */
export function fieldFaults(
  record: LevelRecord,
  filter: FilterProfile,
  truth: StepTruth,
): string[] {
  const faults = [...wordFaults(record, filter)];
  if (isComputed(record)) faults.push(...vectorFaults(record, filter));
  else faults.push(...emptyFaults(record));
  if (truth.record !== undefined) faults.push(...truthFaults(record, truth.record));
  return faults;
}

function isComputed(record: LevelRecord): boolean {
  return (record.flags & FLAG_COMPUTED) !== 0;
}

function wordFaults(record: LevelRecord, { display }: FilterProfile): string[] {
  const words = outputWords(record, display);
  if (words.includes(record.word)) return [];
  const [found, should] = [[record.word], words].map((some) =>
    some.map((word) => word.toString(16).padStart(8, "0")).join(" or "),
  );
  return [`output word is ${found}, expected ${should}`];
}

/** Vector, level, integration and settling agree with each other. */
function vectorFaults(record: LevelRecord, filter: FilterProfile): string[] {
  const faults: string[] = [];
  const { re, im, level, flags, integrationDistance } = record;
  const length = Math.hypot(re, im) * filter.levelFactor;
  const room = VECTOR_ROUNDINGS * Math.max(length, level) + LENGTH_LEAST * (1 + filter.levelFactor);
  if (!(Math.abs(length - level) <= room)) {
    faults.push(`vector is ${numberText(length)} long, but level reads ${numberText(level)}`);
  }
  const isFar = integrationDistance > INTEGRATION_DISTANCE_MAX;
  if (((flags & FLAG_INTEGRATION) !== 0) !== isFar) {
    faults.push(`"integration" is ${isFar ? "not set, should be" : "set, should not be"}`);
  }
  const isOwn = filter.display.source.kind === "own";
  if (isOwn && record.validity === VALID && (flags & FLAG_SETTLED) === 0) {
    faults.push("a valid number, but not settled");
  }
  return faults;
}

/** Without a level there is nothing to measure. */
function emptyFaults(record: LevelRecord): string[] {
  const { re, im, level, speedRevPerS, speedNowRevPerS, ageTicks, integrationDistance } = record;
  const measured = [re, im, level, speedRevPerS, speedNowRevPerS, ageTicks, integrationDistance];
  const marks = record.flags & (FLAG_SETTLED | FLAG_BRIDGED | FLAG_INTEGRATION);
  const isEmpty = marks === 0 && measured.every((one) => one === 0);
  return isEmpty ? [] : ["no level is computed, but fields of one are set"];
}

function truthFaults(record: LevelRecord, expected: Expected): string[] {
  const faults: string[] = [];
  const flag = (bit: number, should: Certainty, what: string): void => {
    const isSet = (record.flags & bit) !== 0;
    if (should === "maybe" || isSet === (should === "yes")) return;
    faults.push(`"${what}" is ${isSet ? "set, should not be" : "not set, should be"}`);
  };
  flag(FLAG_COMPUTED, expected.isComputed, "computed");
  flag(FLAG_PHASE_RELATIVE, expected.isPhaseRelative, "phase relative");
  if (!isComputed(record)) return faults;
  flag(FLAG_SETTLED, expected.isSettled, "settled");
  flag(FLAG_BRIDGED, expected.isBridged, "bridged");
  const { ageTicks: age, revolution, integrationDistance: distance } = expected;
  const within = (found: number, range: { least: number; most: number }, what: string): void => {
    if (found >= range.least && found <= range.most) return;
    const should = `${numberText(range.least)} to ${numberText(range.most)}`;
    faults.push(`${what} reads ${numberText(found)}, expected ${should}`);
  };
  if (age !== undefined) within(record.ageTicks, age, "age in ticks");
  if (distance !== undefined) within(record.integrationDistance, distance, "integration distance");
  if (revolution !== undefined && record.revolution !== revolution) {
    faults.push(`revolution reads ${record.revolution}, expected ${revolution}`);
  }
  return faults;
}
