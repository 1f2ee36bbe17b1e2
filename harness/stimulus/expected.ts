// What a box must answer to a scenario: the truth of each display step, the events that must come, and
// when the caution must be on. Where a filter's recursion starts is the firmware's own matter within
// what the definition allows; the built-in core says where it did.
import { builtInCore } from "../../host/built-in-core.ts";
import { setImmediate } from "node:timers/promises";
import { makePlainJudge } from "../judge/streaming-judge.ts";
import type { ObservedStep } from "../judge/streaming-judge.ts";
import { EVENT_NAMES, validityName } from "../judge/event-names.ts";
import { SourceNames } from "../judge/source-names.ts";
import { CASE_PARTS } from "../run/case-parts.ts";
import { runCase } from "../run/run-case.ts";
import type { Scene } from "../scene/scene.ts";
import { CoreTarget } from "../target/core-target.ts";
import type { BlockBatch } from "../target/target.ts";
import { makeTruth } from "../truth/truth.ts";
import type { EventTruth, SceneTruth } from "../truth/types.ts";

/** Columns of a row of the truth; null where nothing may be judged. */
export const TRUTH_COLUMNS = [
  "timeS",
  "filter",
  "level",
  "levelTolerance",
  "phaseLagDeg",
  "phaseToleranceDeg",
  "speedRevPerS",
  "speedToleranceRevPerS",
  "validity",
  "caution",
] as const;
export type TruthRow = (number | string | null)[];

const CAUTION_WORDS = ["off", "on", "either"] as const;
/** Seven digits say more than any tolerance. */
const DIGITS = 7;

const short = (value: number): number => Number(value.toPrecision(DIGITS));
/** A time that counts from the scenario's time 0, without the last bits of a difference. */
export const instant = (timeS: number): number => Math.round(timeS * 1e9) / 1e9 + 0;

function rowOf(
  scene: Scene,
  timeS: number,
  { filter, truth, cautionAllowed }: ObservedStep,
): TruthRow {
  const { isJudged, phaseIsJudged } = truth;
  const judged = (value: number): number | null => (isJudged ? short(value) : null);
  const phase = (value: number): number | null => (isJudged && phaseIsJudged ? short(value) : null);
  const states = new Set(truth.allowed.map((one) => validityName(one.validity, one.cause)));
  return [
    timeS,
    scene.profile.filters[filter]!.name,
    judged(truth.level),
    judged(truth.levelTol),
    phase(truth.phaseLagDeg),
    phase(truth.phaseTolDeg),
    judged(truth.speedRevPerS),
    judged(truth.speedTolRevPerS),
    [...states].join(" or "),
    CAUTION_WORDS[cautionAllowed],
  ];
}

export interface ExpectedEvent {
  event: string;
  of: string;
  fromS: number;
  untilS: number;
  /** It may come, and need not. */
  isOptional: boolean;
  why: string;
}

function eventOf(
  scene: Scene,
  laterS: number,
  names: SourceNames,
  event: EventTruth,
): ExpectedEvent {
  const { clockHz } = scene.profile;
  return {
    event: EVENT_NAMES[event.code] ?? `code ${event.code}`,
    of: names.ofEvent(event.code, event.source),
    fromS: instant(event.fromTick / clockHz - laterS),
    untilS: instant(event.untilTick / clockHz - laterS),
    isOptional: event.isOptional === true,
    why: event.why,
  };
}

/** From this time on the caution is off, on, or either. */
export interface CautionChange {
  filter: string;
  fromS: number;
  caution: (typeof CAUTION_WORDS)[number];
}

export interface Expected {
  events: ExpectedEvent[];
  cautions: CautionChange[];
  core: { identity: string; isRight: boolean };
}

/** Notes the steps at which what is allowed of a caution changes. */
class CautionChanges {
  readonly list: CautionChange[] = [];
  readonly #last = new Map<number, number>();

  take(scene: Scene, timeS: number, { filter, cautionAllowed }: ObservedStep): void {
    const { name, display } = scene.profile.filters[filter]!;
    if (display.caution === undefined || this.#last.get(filter) === cautionAllowed) return;
    this.#last.set(filter, cautionAllowed);
    this.list.push({ filter: name, fromS: timeS, caution: CAUTION_WORDS[cautionAllowed] });
  }
}

/** The built-in core; between batches the process takes a breath, and hears an interrupt. */
class BreathingCore extends CoreTarget {
  override async feed(batch: BlockBatch): Promise<Uint8Array> {
    await setImmediate();
    return super.feed(batch);
  }
}

/** The scene that a device plays, and from when on the scenario's own times count. */
export interface Judged {
  scene: Scene;
  /** The scenario's time 0 in the scene. */
  laterS: number;
  /** Rows before this time are left out; it counts from the scenario's time 0. */
  fromS: number;
}

/**
 * Runs the scene on the built-in core and hands over the truth, step by step; every time counts
 * from the scenario's time 0.
 *
 * Errors    of the run; AbortError
 */
export async function expectedOf(
  { scene, laterS, fromS }: Judged,
  signal: AbortSignal,
  takeRow: (row: TruthRow) => void,
): Promise<Expected> {
  let events: EventTruth[] = [];
  const changes = new CautionChanges();
  const result = await runCase(scene, new BreathingCore(builtInCore()), signal, {
    ...CASE_PARTS,
    makeTruth: (made): SceneTruth => {
      const truth = makeTruth(made);
      return {
        stepCount: truth.stepCount,
        acquired: (...args) => truth.acquired(...args),
        step: (...args) => truth.step(...args),
        counters: () => truth.counters(),
        events: () => (events = truth.events()),
      };
    },
    makeJudge: (made, truth) =>
      makePlainJudge(made, truth, (step) => {
        const timeS = instant(step.timeS - laterS);
        if (timeS < fromS - 1e-9) return;
        changes.take(made, timeS, step);
        takeRow(rowOf(made, timeS, step));
      }),
  });
  const names = new SourceNames(scene.profile);
  return {
    events: events.map((event) => eventOf(scene, laterS, names, event)),
    cautions: changes.list,
    core: { identity: result.target.identity, isRight: result.verdict.isRight },
  };
}
