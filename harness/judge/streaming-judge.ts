// The judge: records against the truth, step by step as they come; memory does not grow with the
// flight.
import { FLAG_COMPUTED } from "../../shared/layout.ts";
import { EVENT_REFERENCE_FOUND, VALID } from "../../shared/units.ts";
import type { Counters, DecodedRecord, EventRecord, LevelRecord } from "../../host/record-types.ts";
import type { Scene } from "../scene/scene.ts";
import type { SceneTruth, StepTruth } from "../truth/types.ts";
import type { CheckResult, ExceedanceResult, FilterResult, Verdict } from "./types.ts";
import { StepClock } from "./clock.ts";
import { judgeCounters, silentCounters } from "./counter-check.ts";
import type { CautionAllowed } from "./display-caution.ts";
import { DisplayJudge, shownValue } from "./display-judge.ts";
import { EventCheck } from "./event-check.ts";
import { exceedanceResult } from "./exceedance-check.ts";
import { ExpectationCheck } from "./expectation-check.ts";
import { LevelChecks, phaseLagDeg } from "./level-checks.ts";
import { fieldFaults } from "./record-fields.ts";
import type { RecordSink, StepGroup } from "./record-stream.ts";
import { RecordStream } from "./record-stream.ts";
import { traceNumber } from "./sentences.ts";
import { SourceNames } from "./source-names.ts";
import { TraceThinner } from "./trace.ts";

/** Exceedances that results list: a bound on memory. */
const EXCEEDANCES_MAX = 2000;

/** Takes the records of one case as they come, in pieces of any size. */
export interface Judge {
  take(records: Uint8Array): void;
  finish(counters: Counters): Verdict;
}

/** What is kept of one tracking filter between steps. */
interface FilterParts {
  levels: LevelChecks;
  display: DisplayJudge;
  trace: TraceThinner;
  isComputed: boolean;
  revolution: number;
  /** Least and greatest count that was shown as valid; absent before the first. */
  shownCounts?: { least: number; most: number };
}

/** What one display step of one filter was judged by. */
export interface ObservedStep {
  filter: number;
  step: number;
  timeS: number;
  truth: StepTruth;
  cautionAllowed: CautionAllowed;
  record: LevelRecord | undefined;
}

/** Looks on; changes nothing. */
export type Observer = (step: ObservedStep) => void;

function noteShown(parts: FilterParts, counts: number): void {
  const { least, most } = parts.shownCounts ?? { least: counts, most: counts };
  parts.shownCounts = { least: Math.min(least, counts), most: Math.max(most, counts) };
}

/** What the scenario states of one filter's caution. */
function statedCautions(
  { expectation }: Scene,
  filter: number,
): NonNullable<FilterResult["statedCaution"]> {
  const of = (windows: Scene["expectation"]["cautionOnWithin"], isOn: boolean) =>
    (windows ?? [])
      .filter((one) => one.filter === filter)
      .map(({ fromS, untilS }) => ({ isOn, fromS, untilS }));
  return [...of(expectation.cautionOnWithin, true), ...of(expectation.cautionOffWithin, false)];
}

/** See makePlainJudge. */
export class StreamingJudge implements Judge, RecordSink {
  private readonly filters: FilterParts[];
  private readonly events: EventCheck;
  private readonly expectation: ExpectationCheck;
  private readonly stream: RecordStream;
  private readonly exceedances: ExceedanceResult[] = [];
  /** Shafts whose reference was found since the step before. */
  private readonly found = new Set<number>();
  private readonly names: SourceNames;
  private readonly scene: Scene;
  private readonly truth: SceneTruth;
  private readonly clock: StepClock;
  private readonly observe: Observer | undefined;

  constructor(scene: Scene, truth: SceneTruth, observe?: Observer) {
    this.scene = scene;
    this.truth = truth;
    this.observe = observe;
    const clock = new StepClock(scene);
    this.clock = clock;
    const { filters } = scene.profile;
    this.filters = filters.map((filter, i) => ({
      levels: new LevelChecks(i, filter, clock),
      display: new DisplayJudge(i, scene, clock),
      trace: new TraceThinner(truth.stepCount),
      isComputed: false,
      revolution: 0,
    }));
    this.names = new SourceNames(scene.profile);
    this.events = new EventCheck(this.names, clock);
    this.expectation = new ExpectationCheck(scene.expectation, this.names, clock);
    this.stream = new RecordStream(clock.stepTicks, truth.stepCount, filters.length, this);
  }

  take(records: Uint8Array): void {
    this.stream.take(records);
  }

  /** The same of records that were decoded before. */
  takeDecoded(records: DecodedRecord[]): void {
    for (const record of records) this.stream.takeRecord(record);
  }

  finish(counters: Counters): Verdict {
    this.stream.finish();
    const { eitherShare } = this.scene.expectation;
    const checks: CheckResult[] = [];
    this.filters.forEach(({ levels, display }) => {
      checks.push(...levels.results(), ...display.results(eitherShare));
    });
    checks.push(this.events.finish(this.truth.events()));
    const stated = this.truth.counters();
    const { expectation, profile } = this.scene;
    const silent = silentCounters(stated, expectation, profile.shafts.length);
    checks.push(judgeCounters(counters, [...stated, ...silent], this.names));
    checks.push(this.expectation.finish(counters));
    const { canary } = this.scene.expectation;
    const isRight =
      canary === undefined
        ? checks.every((check) => check.isRight)
        : checks.some((check) => check.check === canary.check && !check.isRight);
    return {
      isRight,
      checks,
      filters: this.filters.map((parts, i) => this.filterResult(parts, i)),
      events: this.events.listed,
      exceedances: this.exceedances,
      isCanary: canary !== undefined,
    };
  }

  step(group: StepGroup): void {
    const truths = this.filters.map((parts, i) => {
      const closingTick = this.acquire(parts, i, group);
      return this.truth.step(i, group.step, closingTick);
    });
    this.found.clear();
    this.filters.forEach((parts, i) => this.stepFilter(parts, i, group, truths));
    for (const event of group.events) {
      this.expectation.event(event);
      if (event.source >= this.filters.length) this.events.unexpected(event, "of no filter");
    }
    for (const one of group.exceedances) {
      const filter = this.scene.profile.filters[one.filter];
      if (filter === undefined || this.exceedances.length >= EXCEEDANCES_MAX) continue;
      this.exceedances.push(exceedanceResult(one, filter.display.step, this.clock));
    }
  }

  deviceEvent(event: EventRecord): void {
    if (event.code === EVENT_REFERENCE_FOUND) this.found.add(event.source);
    this.expectation.event(event);
    this.events.deviceEvent(event);
  }

  stray(record: LevelRecord, why: string): void {
    const parts = this.filters[record.filter];
    if (parts === undefined)
      this.events.garbage(`a level record of filter ${record.filter}: ${why}`);
    else parts.levels.stray(record, why);
  }

  garbage(why: string): void {
    this.events.garbage(why);
  }

  /**
   * Tells the truth where a filter's recursion started, at the first record that says so; answers
   * the end of the newest revolution counted, where there is one.
   */
  private acquire(parts: FilterParts, filter: number, group: StepGroup): number | undefined {
    const record = group.levels[filter];
    if (record === undefined) return undefined;
    const closingTick = record.tick - record.ageTicks;
    const isComputed = (record.flags & FLAG_COMPUTED) !== 0;
    const { shaft } = this.scene.profile.filters[filter]!;
    const isAnew =
      !parts.isComputed || record.revolution < parts.revolution || this.found.has(shaft);
    if (isComputed && isAnew) {
      const { isAllowed, why } = this.truth.acquired(
        filter,
        group.step,
        closingTick,
        record.revolution,
      );
      parts.display.acquisition(this.clock.timeOf(group.tick), isAllowed, why);
    }
    parts.isComputed = isComputed;
    parts.revolution = record.revolution;
    return isComputed ? closingTick : undefined;
  }

  private stepFilter(
    parts: FilterParts,
    filter: number,
    group: StepGroup,
    truths: StepTruth[],
  ): void {
    const truth = truths[filter]!;
    const record = group.levels[filter];
    const { display } = this.scene.profile.filters[filter]!;
    parts.levels.process(group.tick, record, truth);
    const { allowed, due } = parts.display.process(group, truths);
    this.events.display(filter, due, group.events, record);
    this.observe?.({
      filter,
      step: group.step,
      timeS: this.clock.timeOf(group.tick),
      truth,
      cautionAllowed: allowed,
      record,
    });
    if (record === undefined) return;
    const profile = this.scene.profile.filters[filter]!;
    for (const why of fieldFaults(record, profile, truth)) parts.levels.field(group.tick, why);
    this.expectation.level(record);
    if (record.validity === VALID) noteShown(parts, record.shownCounts);
    parts.trace.take({
      timeS: this.clock.timeOf(group.tick),
      level: record.level,
      truth: truth.isJudged ? truth.level : 0,
      tolerance: truth.isJudged ? truth.levelTol : -1,
      shown: shownValue(record, display.step),
      speedRevPerS: record.speedRevPerS,
      phaseLagDeg: phaseLagDeg(record.re, record.im),
      cautionState: record.cautionState,
      cautionAllowed: allowed,
      validity: record.validity,
    });
  }

  private filterResult(parts: FilterParts, filter: number): FilterResult {
    const { name, unit, detector, display } = this.scene.profile.filters[filter]!;
    const { caution, step } = display;
    const result: FilterResult = {
      filter,
      name,
      unit: `${unit} ${detector}`,
      trace: parts.trace.finish(),
      displayStep: step,
      eitherShare: parts.display.caution.eitherShare,
      toleranceShare: parts.levels.toleranceShare,
    };
    const { nearest } = parts.levels;
    if (nearest !== undefined) result.nearest = nearest;
    if (parts.shownCounts !== undefined) {
      const { least, most } = parts.shownCounts;
      result.shownRange = { least: traceNumber(least * step), most: traceNumber(most * step) };
    }
    const stated = statedCautions(this.scene, filter);
    if (stated.length > 0) result.statedCaution = stated;
    if (caution !== undefined) {
      result.cautionLevel = caution.levelCounts * step;
      result.cautionEnd = (caution.levelCounts - caution.hysteresisCounts) * step;
    }
    return result;
  }
}

/** A judge of the records as they stand: what the scene asks to be planted is not. */
export function makePlainJudge(
  scene: Scene,
  truth: SceneTruth,
  observe?: Observer,
): StreamingJudge {
  return new StreamingJudge(scene, truth, observe);
}
