// What was decided about a box, as the checks and pictures of a result.
import { CAUTION_OFF, VALID } from "../../shared/units.ts";
import type {
  BoxCaution,
  BoxDecision,
  BoxReading,
  CheckResult,
  EventResult,
  FilterResult,
  Trace,
} from "../judge/types.ts";
import type { CheckName, Scene } from "../scene/scene.ts";
import type { CautionDecisions } from "./box-caution.ts";
import type { SilenceFound, StepFound } from "./box-display.ts";
import type { LevelDecisions, Tally } from "./box-judge.ts";
import type { DeviceSpecification } from "./device-file.ts";

/** Readings of a picture; more are thinned evenly. */
const POINTS_MAX = 2000;
const UNIT = "display units";
/** Of a number that is not valid, as traces have it. */
const BLANK = -1;

const digits = (value: number): string => String(Number(value.toPrecision(4)));

/** What a check decides, in a sentence, by how many of how many. */
interface Plain {
  check: CheckName;
  source: number;
  decision: BoxDecision;
  judged: number;
  wrong: number;
  ratio?: number;
  worstS: number;
  why: string;
}

/** A check that is told as a whole; what was not judged counts as right where nothing asks for it. */
function plainCheck({ decision, ratio, judged, wrong, worstS, ...rest }: Plain): CheckResult {
  const isRight = decision === "inside" || decision === "not judged";
  return {
    check: rest.check,
    source: rest.source,
    isRight,
    decision,
    judgedCount: judged,
    wrongCount: wrong,
    worstRatio: ratio ?? (isRight ? 0 : null),
    worstError: isRight ? 0 : null,
    worstTolerance: 0,
    worstTimeS: worstS,
    unit: "",
    smallestCaught: 0,
    why: rest.why,
  };
}

const decisionOf = ({ inside, guardBand, outside }: Tally): BoxDecision =>
  outside > 0
    ? "outside"
    : guardBand > 0
      ? "within the guard band"
      : inside > 0
        ? "inside"
        : "not judged";

const judgedOf = ({ inside, guardBand, outside }: Tally): number => inside + guardBand + outside;

function nearestText(worst: BoxReading | undefined): string {
  if (worst === undefined) return "";
  const { low, high, accuracy, guardBand, shown, timeS } = worst;
  const should = digits(low) === digits(high) ? digits(low) : `${digits(low)} to ${digits(high)}`;
  return (
    `; nearest to its limit at ${timeS.toFixed(2)} s: shows ${digits(shown)}, should ${should} ` +
    `± ${digits(accuracy)}, guard band ${digits(guardBand)}`
  );
}

function levelCheck(
  source: number,
  name: string,
  { level, worst, saturated }: LevelDecisions,
  { decision: { rule } }: DeviceSpecification,
): CheckResult {
  const judged = judgedOf(level);
  const decision = decisionOf(level);
  const end =
    saturated === undefined
      ? ""
      : `; it stands still at ${digits(saturated.shown)}, below its top, where more is due ` +
        `(${saturated.count} readings, from ${saturated.fromS.toFixed(2)} s on)`;
  const error = worst?.error ?? null;
  return {
    check: "level",
    source,
    // What cannot be shown to be inside does not count as inside; nothing judged shows nothing.
    isRight: decision === "inside",
    decision,
    judgedCount: judged,
    wrongCount: level.outside + level.guardBand,
    worstRatio: worst?.ratio ?? null,
    worstError: error,
    worstTolerance: worst?.accuracy ?? 0,
    worstTimeS: worst?.timeS ?? 0,
    unit: UNIT,
    smallestCaught: worst === undefined ? 0 : worst.accuracy + worst.guardBand,
    why:
      judged === 0
        ? `${name}: not judged, as the truth is known at no reading, or never stands still`
        : `${name}: ${level.inside} of ${judged} readings inside, ${level.guardBand} within the ` +
          `guard band, ${level.outside} outside (${rule})${nearestText(worst)}${end}`,
  };
}

function stepCheck(
  source: number,
  name: string,
  { judged, off, beyondTop, firstS, coarseBy, evidence }: StepFound,
  { displayStep }: DeviceSpecification,
): CheckResult {
  const isCoarse = coarseBy > 1;
  const wrong = off + beyondTop;
  const said = [
    off > 0 ? `${off} of ${judged} numbers are no whole steps of ${displayStep}` : "",
    beyondTop > 0 ? `${beyondTop} of ${judged} lie beyond the display's top` : "",
    isCoarse
      ? `moves by ${digits(coarseBy * displayStep)} at least, where ${displayStep} is stated ` +
        `(${evidence} different numbers)`
      : "",
  ].filter((text) => text !== "");
  const first = wrong > 0 ? `, first at ${firstS.toFixed(2)} s` : "";
  const isTold = coarseBy === 1;
  const right = isTold
    ? `moves by steps of ${displayStep} (${judged} judged)`
    : `the number moved too little to tell whether it moves by ${displayStep}`;
  return plainCheck({
    check: "shown",
    source,
    decision: said.length > 0 ? "outside" : isTold ? "inside" : "not judged",
    judged: said.length > 0 || isTold ? judged : 0,
    wrong: isCoarse ? judged : wrong,
    worstS: firstS,
    why: `${name}: ${said.length > 0 ? said.join(", and ") + first : right}`,
  });
}

function silenceCheck(
  source: number,
  name: string,
  found: SilenceFound,
  { updateRateHz }: DeviceSpecification,
): CheckResult {
  const { judged, late, longestS, fromS, silentS, allowedS } = found;
  const longest = `${longestS.toFixed(2)} s from ${fromS.toFixed(2)} s on`;
  const may = `${allowedS.toFixed(2)} s`;
  return plainCheck({
    check: "events",
    source,
    decision: late > 0 ? "outside" : "inside",
    judged,
    wrong: late,
    worstS: fromS,
    why:
      late === 0
        ? `${name}: renewed at ${updateRateHz} Hz or more often (${judged} judged)`
        : `${name}: renewed later than ${updateRateHz} Hz allows, ${late === 1 ? "once" : `${late} times`}, ` +
          `${silentS.toFixed(2)} s together; the longest silence, ${longest}, ` +
          (longestS > allowedS
            ? `may be ${may}`
            : `is within the ${may} of one: it is the updates in a row that come too slowly`),
  });
}

function tallyCheck(
  check: CheckName,
  source: number,
  tally: Tally,
  words: { what: string; some: string },
): CheckResult {
  const judged = judgedOf(tally);
  const decision = decisionOf(tally);
  const { guardBand, outside, worstRatio, worstS } = tally;
  const isRight = decision === "inside";
  return plainCheck({
    check,
    source,
    decision,
    judged,
    wrong: outside + guardBand,
    ...(worstRatio > 0 ? { ratio: worstRatio } : {}),
    worstS,
    why: isRight
      ? `${words.what} is right at all ${judged} readings that decide`
      : `${words.what}: of ${judged} readings ${guardBand} within the guard band, ${outside} ` +
        `outside${words.some}`,
  });
}

const windowText = ({ isOn, fromS, untilS, foundS }: BoxCaution): string =>
  `; ${isOn ? "on" : "off"} may come from ${fromS.toFixed(2)} to ${untilS.toFixed(2)} s, ` +
  (foundS === null ? "did not come then" : `came at ${foundS.toFixed(2)} s`);

/** All checks of one number. */
export function boxChecks(
  source: number,
  name: string,
  found: {
    levels: LevelDecisions;
    step: StepFound;
    silence: SilenceFound;
    caution: CautionDecisions | undefined;
  },
  device: DeviceSpecification,
): CheckResult[] {
  const { levels, step, silence, caution } = found;
  const checks = [
    levelCheck(source, name, levels, device),
    stepCheck(source, name, step, device),
    silenceCheck(source, name, silence, device),
  ];
  const { speed } = levels;
  if (judgedOf(speed) > 0) {
    const some = `, the worst at ${speed.worstS.toFixed(2)} s`;
    checks.push(tallyCheck("speed", source, speed, { what: `${name}: the speed`, some }));
  }
  if (caution !== undefined && judgedOf(caution.tally) > 0) {
    const some = caution.windows
      .filter((one) => one.decision !== "inside")
      .map(windowText)
      .join("");
    checks.push(
      tallyCheck("caution", source, caution.tally, { what: `${name}: the caution`, some }),
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
  // A reading that does not say it changes nothing.
  let before: number = CAUTION_OFF;
  return rows.flatMap((row): EventResult[] => {
    if (!row.saysCaution || row.cautionState === before) return [];
    before = row.cautionState;
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

/** One by one: a passage has more readings than a call takes arguments. */
const mostOf = (values: readonly number[], from: number): number =>
  values.reduce((most, one) => Math.max(most, one), from);
const leastOf = (values: readonly number[]): number =>
  values.reduce((least, one) => Math.min(least, one), Infinity);

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
    shown: of((row) => (row.validity === VALID ? row.shown : BLANK)),
    speedRevPerS: of((row) => row.speedRevPerS),
    phaseLagDeg: of(() => 0),
    cautionState: of((row) => row.cautionState),
    cautionAllowed: of((row) => row.cautionAllowed),
    validity: of((row) => row.validity),
  };
  const numbers = rows.filter((row) => row.validity === VALID).map((row) => row.shown);
  const greatest = mostOf(
    rows.map((row) => row.expected),
    0,
  );
  const widest = mostOf(
    rows.map((row) => row.accuracy),
    0,
  );
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
      : { shownRange: { least: leastOf(numbers), most: mostOf(numbers, -Infinity) } }),
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
