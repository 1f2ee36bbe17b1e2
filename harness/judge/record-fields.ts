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
  // One list for all: nearly always it stays empty, at every step of a flight.
  const faults: string[] = [];
  addWordFaults(faults, record, filter);
  if (isComputed(record)) addVectorFaults(faults, record, filter);
  else addEmptyFaults(faults, record);
  if (truth.record !== undefined) addTruthFaults(faults, record, truth.record);
  return faults;
}

function isComputed(record: LevelRecord): boolean {
  return (record.flags & FLAG_COMPUTED) !== 0;
}

function addWordFaults(faults: string[], record: LevelRecord, { display }: FilterProfile): void {
  const words = outputWords(record, display);
  if (words.includes(record.word)) return;
  const [found, should] = [[record.word], words].map((some) =>
    some.map((word) => word.toString(16).padStart(8, "0")).join(" or "),
  );
  faults.push(`output word is ${found}, expected ${should}`);
}

/** Vector, level, integration and settling agree with each other. */
function addVectorFaults(faults: string[], record: LevelRecord, filter: FilterProfile): void {
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
}

/** Without a level there is nothing to measure. */
function addEmptyFaults(faults: string[], record: LevelRecord): void {
  const { re, im, level, speedRevPerS, speedNowRevPerS, ageTicks, integrationDistance } = record;
  const measured = [re, im, level, speedRevPerS, speedNowRevPerS, ageTicks, integrationDistance];
  const marks = record.flags & (FLAG_SETTLED | FLAG_BRIDGED | FLAG_INTEGRATION);
  const isEmpty = marks === 0 && measured.every((one) => one === 0);
  if (!isEmpty) faults.push("no level is computed, but fields of one are set");
}

function addFlagFault(faults: string[], isSet: boolean, should: Certainty, what: string): void {
  if (should === "maybe" || isSet === (should === "yes")) return;
  faults.push(`"${what}" is ${isSet ? "set, should not be" : "not set, should be"}`);
}

function addRangeFault(
  faults: string[],
  found: number,
  range: { least: number; most: number } | undefined,
  what: string,
): void {
  if (range === undefined || (found >= range.least && found <= range.most)) return;
  const should = `${numberText(range.least)} to ${numberText(range.most)}`;
  faults.push(`${what} reads ${numberText(found)}, expected ${should}`);
}

function addTruthFaults(faults: string[], record: LevelRecord, expected: Expected): void {
  const { flags } = record;
  const isRelative = (flags & FLAG_PHASE_RELATIVE) !== 0;
  addFlagFault(faults, isComputed(record), expected.isComputed, "computed");
  addFlagFault(faults, isRelative, expected.isPhaseRelative, "phase relative");
  if (!isComputed(record)) return;
  addFlagFault(faults, (flags & FLAG_SETTLED) !== 0, expected.isSettled, "settled");
  addFlagFault(faults, (flags & FLAG_BRIDGED) !== 0, expected.isBridged, "bridged");
  const { ageTicks, revolution, integrationDistance } = expected;
  addRangeFault(faults, record.ageTicks, ageTicks, "age in ticks");
  addRangeFault(faults, record.integrationDistance, integrationDistance, "integration distance");
  if (revolution !== undefined && record.revolution !== revolution) {
    faults.push(`revolution reads ${record.revolution}, expected ${revolution}`);
  }
}
