// What was decided about a box, as the checks and pictures of a result.
import { CAUTION_OFF } from "../../shared/units.ts";
import type { CheckResult, EventResult, FilterResult, Trace } from "../judge/types.ts";
import type { Scene } from "../scene/scene.ts";
import type { FilterDecisions } from "./box-judge.ts";
import type { DeviceSpecification } from "./device-file.ts";

/** Readings of a picture; more are thinned evenly. */
const POINTS_MAX = 2000;
const UNIT = "display units";

const digits = (value: number): string => String(Number(value.toPrecision(4)));

/** A check that is right or wrong as a whole. */
function plainCheck(
  check: CheckResult["check"],
  source: number,
  { judged, outside, worstS }: { judged: number; outside: number; worstS: number },
  what: { right: string; wrong: string; none: string },
): CheckResult {
  const isRight = outside === 0;
  return {
    check,
    source,
    isRight,
    judgedCount: judged,
    wrongCount: outside,
    worstRatio: isRight ? 0 : null,
    worstError: isRight ? 0 : null,
    worstTolerance: 0,
    worstTimeS: worstS,
    unit: "",
    smallestCaught: 0,
    why:
      judged === 0
        ? what.none
        : isRight
          ? `${what.right} (${judged} judged)`
          : `${what.wrong} at ${outside} of ${judged}, first at ${worstS.toFixed(2)} s`,
  };
}

function levelCheck(
  source: number,
  name: string,
  decisions: FilterDecisions,
  { decision }: DeviceSpecification,
): CheckResult {
  const { inside, guardBand, outside, worst } = decisions;
  const judged = inside + guardBand + outside;
  // What cannot be shown to be inside does not count as inside; nothing judged shows nothing.
  const isRight = judged > 0 && outside === 0 && guardBand === 0;
  const nearest =
    worst === undefined
      ? ""
      : `; nearest at ${worst.timeS.toFixed(2)} s: shows ${digits(worst.shown)}, should ` +
        `${digits(worst.expected)} ± ${digits(worst.accuracy)}, guard band ${digits(worst.guardBand)}`;
  const error = worst === undefined || Number.isNaN(worst.error) ? null : worst.error;
  return {
    check: "level",
    source,
    isRight,
    judgedCount: judged,
    wrongCount: outside + guardBand,
    worstRatio: worst === undefined || error === null ? null : Math.abs(error) / worst.accuracy,
    worstError: error,
    worstTolerance: worst?.accuracy ?? 0,
    worstTimeS: worst?.timeS ?? 0,
    unit: UNIT,
    smallestCaught: worst === undefined ? 0 : worst.accuracy + worst.guardBand,
    why:
      judged === 0
        ? `${name}: no reading could be judged`
        : `${name}: ${inside} of ${judged} readings inside, ${guardBand} within the guard band, ` +
          `${outside} outside (${decision.rule})${nearest}`,
  };
}

export function boxChecks(
  source: number,
  name: string,
  decisions: FilterDecisions,
  device: DeviceSpecification,
): CheckResult[] {
  const { speed, caution, step, gaps } = decisions;
  const checks = [
    levelCheck(source, name, decisions, device),
    plainCheck("shown", source, step, {
      right: `${name}: moves by whole steps of ${device.displayStep}`,
      wrong: `${name}: no whole step of ${device.displayStep}`,
      none: `${name}: no number was shown`,
    }),
    plainCheck("events", source, gaps, {
      right: `${name}: renewed at ${device.updateRateHz} Hz or more often`,
      wrong: `${name}: renewed later than ${device.updateRateHz} Hz`,
      none: `${name}: one reading alone`,
    }),
  ];
  if (speed.judged > 0) {
    checks.push(
      plainCheck("speed", source, speed, {
        right: `${name}: the speed is within its accuracy`,
        wrong: `${name}: the speed is off by up to ${digits(speed.worstRatio)} times its accuracy`,
        none: "",
      }),
    );
  }
  if (caution.judged > 0) {
    checks.push(
      plainCheck("caution", source, caution, {
        right: `${name}: the caution comes and goes in time`,
        wrong: `${name}: the caution is not as it must be`,
        none: "",
      }),
    );
  }
  return checks;
}

export interface BoxRow {
  timeS: number;
  shown: number;
  expected: number;
  accuracy: number;
  speedRevPerS: number;
  cautionState: number;
  cautionAllowed: number;
  /** The box says whether its caution is on. */
  saysCaution: boolean;
  validity: number;
}

/** Each time that a box's caution came or went. */
export function boxCautions(name: string, filter: number, rows: readonly BoxRow[]): EventResult[] {
  return rows.flatMap((row, i): EventResult[] => {
    const before = rows[i - 1]?.cautionState ?? CAUTION_OFF;
    if (!row.saysCaution || row.cautionState === before) return [];
    return [
      {
        name: row.cautionState === CAUTION_OFF ? "caution-off" : "caution-on",
        source: filter,
        of: name,
        timeS: row.timeS,
        speedRevPerS: row.speedRevPerS,
        level: row.shown,
        detail: 0,
        detailText: "",
        isExpected: row.cautionAllowed !== (row.cautionState === CAUTION_OFF ? 1 : 0),
      },
    ];
  });
}

export function boxFilter(scene: Scene, filter: number, rows: readonly BoxRow[]): FilterResult {
  const { name, display } = scene.profile.filters[filter]!;
  const apart = Math.max(1, Math.ceil(rows.length / POINTS_MAX));
  const kept = rows.filter((_, i) => i % apart === 0);
  const of = (value: (row: BoxRow) => number): number[] => kept.map(value);
  const trace: Trace = {
    timeS: of((row) => row.timeS),
    level: of((row) => row.shown),
    truth: of((row) => row.expected),
    tolerance: of((row) => row.accuracy),
    shown: of((row) => row.shown),
    speedRevPerS: of((row) => row.speedRevPerS),
    phaseLagDeg: of(() => 0),
    cautionState: of((row) => row.cautionState),
    cautionAllowed: of((row) => row.cautionAllowed),
    validity: of((row) => row.validity),
  };
  const numbers = rows.map((row) => row.shown).filter(Number.isFinite);
  const greatest = Math.max(0, ...rows.map((row) => row.expected));
  const widest = Math.max(0, ...rows.map((row) => row.accuracy));
  const { step } = display;
  // What a box does not say is not drawn as if it had said it.
  const caution = rows.some((row) => row.saysCaution) ? display.caution : undefined;
  return {
    filter,
    name,
    unit: UNIT,
    trace,
    ...(numbers.length === 0
      ? {}
      : { shownRange: { least: Math.min(...numbers), most: Math.max(...numbers) } }),
    ...(caution === undefined
      ? {}
      : {
          cautionLevel: caution.levelCounts * step,
          cautionEnd: (caution.levelCounts - caution.hysteresisCounts) * step,
        }),
    displayStep: step,
    eitherShare: 0,
    toleranceShare: greatest === 0 ? 0 : widest / greatest,
  };
}
