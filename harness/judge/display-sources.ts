// Which filters make a display's number at one step, as the truth and as the records have it.
import { STATUS_SUBSTITUTE } from "../../shared/layout.ts";
import { VALID } from "../../shared/units.ts";
import type { LevelRecord } from "../../host/record-types.ts";
import type { DisplayProfile, FilterProfile } from "../scene/scene.ts";
import type { StepTruth } from "../truth/types.ts";
import { mayBe, mustBe } from "./display-validity.ts";
import type { NumberSource } from "./number-interval.ts";
import { NumberInterval, scaleAt } from "./number-interval.ts";
import type { StepGroup } from "./record-stream.ts";

/** Filters that must serve the number, and filters that may. */
export interface Serving {
  certain: number[];
  possible: number[];
}

/**
 * The filters behind the number of display `own`, whose record is valid at this step.
 *
 * Where a source has a display of its own, its record says whether it is valid (and is itself held
 * against the truth); else the truth says what is certain and what is possible.
 */
export function servingFilters(
  filters: FilterProfile[],
  own: number,
  group: StepGroup,
  truths: StepTruth[],
): Serving {
  const { source } = filters[own]!.display;
  if (source.kind === "own") return { certain: [own], possible: [] };
  if (source.kind === "substitute") {
    const isReplaced = (group.levels[own]!.statusBits & STATUS_SUBSTITUTE) !== 0;
    return { certain: [isReplaced ? source.filter : own], possible: [] };
  }
  const serving: Serving = { certain: [], possible: [] };
  for (const filter of source.filters) {
    const record = group.levels[filter];
    const { allowed } = truths[filter]!;
    if (filters[filter]!.display.source.kind === "own" && record !== undefined) {
      if (record.validity === VALID) serving.certain.push(filter);
    } else if (mustBe(allowed, VALID)) serving.certain.push(filter);
    else if (mayBe(allowed, VALID)) serving.possible.push(filter);
  }
  return serving;
}

function truthSource(truth: StepTruth): NumberSource {
  const speedTol = truth.speedNowTolRevPerS ?? truth.speedTolRevPerS;
  return {
    levelLow: truth.level - truth.levelTol,
    levelHigh: truth.level + truth.levelTol,
    speedLow: truth.speedNowRevPerS - speedTol,
    speedHigh: truth.speedNowRevPerS + speedTol,
  };
}

function recordSource(record: LevelRecord): NumberSource {
  return {
    levelLow: record.level,
    levelHigh: record.level,
    speedLow: record.speedNowRevPerS,
    speedHigh: record.speedNowRevPerS,
  };
}

/** Brings the interval from the truth up to a step with a valid number. */
export function stepFromTruth(
  interval: NumberInterval,
  serving: Serving,
  truths: StepTruth[],
  group: StepGroup,
): void {
  const certain = truthSources(serving.certain, truths);
  const possible = truthSources(serving.possible, truths);
  if (certain === undefined || possible === undefined) {
    interval.stepUnknown(recordSources([...serving.certain, ...serving.possible], group));
  } else interval.step(certain, possible);
}

/** Brings the interval from the recorded levels up to a step with a valid number. */
export function stepFromRecords(
  interval: NumberInterval,
  serving: Serving,
  group: StepGroup,
): void {
  const certain = recordSources(serving.certain, group);
  const possible = recordSources(serving.possible, group);
  if (certain === undefined || possible === undefined) interval.stepUnknown();
  else interval.step(certain, possible);
}

/** Undefined where one of them was not judged and nothing bounds it. */
function truthSources(filters: number[], truths: StepTruth[]): NumberSource[] | undefined {
  const sources: NumberSource[] = [];
  for (const filter of filters) {
    const truth = truths[filter]!;
    if (!truth.isJudged && truth.isBounded !== true) return undefined;
    sources.push(truthSource(truth));
  }
  return sources;
}

/** Undefined where one of them has no record. */
function recordSources(filters: number[], group: StepGroup): NumberSource[] | undefined {
  const sources: NumberSource[] = [];
  for (const filter of filters) {
    const record = group.levels[filter];
    if (record === undefined) return undefined;
    sources.push(recordSource(record));
  }
  return sources;
}

/** Record of the filter that makes the number: the greatest in the display's units. */
export function servingRecord(
  display: DisplayProfile,
  serving: Serving,
  group: StepGroup,
  own: number,
): LevelRecord {
  let greatest = -Infinity;
  let served = group.levels[own]!;
  if (display.source.kind === "own") return served;
  for (const filter of [...serving.certain, ...serving.possible]) {
    const record = group.levels[filter];
    if (record === undefined) continue;
    const value = record.level * scaleAt(display.scale, record.speedNowRevPerS);
    if (!(value > greatest)) continue;
    greatest = value;
    served = record;
  }
  return served;
}
