// The second opinions on one tracking filter: every method on every run of edges, told together.
import { RunComparison, type ComparedStep, type FirmwareStep } from "./agreement.ts";
import type { BoxSignal } from "./box-signal.ts";
import { methodRuns, shortestBlocks } from "./method-plans.ts";
import type { FilterOpinions, MethodName, NotCompared, Opinion } from "./opinion-types.ts";
import type { ShaftAngle } from "./shaft-angle.ts";
import { inQuantity, seriesAt, type TrackedOrder } from "./vector-reading.ts";

/** Points of a curve at most. */
const CURVE_POINTS_MAX = 400;
/** Figures that a result keeps. */
const DIGITS = 7;

export interface OpinionRequest {
  filter: number;
  name: string;
  unit: string;
  /** Level in the unit over SI pk. */
  levelFactor: number;
  tracked: TrackedOrder;
  signal: BoxSignal;
  angles: ShaftAngle[];
  /** The time of the first sample. */
  startS: number;
  /** Settled display steps, ascending. */
  steps: FirmwareStep[];
  isPhaseRelative: boolean;
}

/** A step as one method sees it. */
interface ToldStep extends ComparedStep {
  step: FirmwareStep;
}

interface Told {
  settings: Set<string>;
  steps: ToldStep[];
}

const METHODS: readonly MethodName[] = [
  "order tracking",
  "Vold-Kalman",
  "synchronous average",
  "windowed spectrum",
];

function rounded(value: number): number {
  return Number.isFinite(value) ? Number(value.toPrecision(DIGITS)) : -1;
}

function phaseLagDeg({ re, im }: { re: number; im: number }): number {
  return ((-Math.atan2(im, re) * 180) / Math.PI + 360) % 360;
}

/** Degrees between two directions, −180 to 180. */
function turned(a: number, b: number): number {
  return ((a - b + 540) % 360) - 180;
}

/** Adds what one run of edges gives. */
function addRun(
  told: Map<MethodName, Told>,
  { signal, tracked, startS }: OpinionRequest,
  angle: ShaftAngle,
  steps: FirmwareStep[],
): void {
  const shortest = shortestBlocks(signal, angle, tracked, steps[0]!.closedAt);
  const comparison = new RunComparison(signal, angle, tracked, shortest, steps);
  for (const run of methodRuns(signal, angle, tracked)) {
    const one = told.get(run.method)!;
    one.settings.add(run.settings);
    const parts = run.series.map((part) => inQuantity(part, signal, angle, tracked));
    for (const [i, compared] of comparison.compare(run).entries()) {
      const step = steps[i]!;
      const at = (step.timeS - startS) * signal.sampleRateHz;
      const vector = parts.map((part) => seriesAt(part, at)).find((found) => found !== undefined);
      const now = vector === undefined ? {} : { now: comparison.turned(i, vector) };
      one.steps.push({ ...compared, step, ...now });
    }
  }
}

/** Stretches of one reason, the commonest first. */
function reasons(steps: readonly ToldStep[]): NotCompared[] {
  const found = new Map<string, NotCompared>();
  for (const { why, step } of steps) {
    if (why === undefined) continue;
    const one = found.get(why);
    if (one === undefined) {
      found.set(why, { why, stepCount: 1, fromS: step.timeS, untilS: step.timeS });
    } else {
      one.stepCount += 1;
      one.untilS = step.timeS;
    }
  }
  return [...found.values()].toSorted((a, b) => b.stepCount - a.stepCount);
}

function worstOf(compared: readonly ToldStep[], factor: number): Opinion["worst"] {
  let worst: ToldStep | undefined;
  for (const one of compared) {
    if (worst === undefined || one.difference * worst.bound > worst.difference * one.bound) {
      worst = one;
    }
  }
  if (worst === undefined) return undefined;
  const { step, expected, difference, bound, terms } = worst;
  const levelDifference = Math.hypot(step.re, step.im) - Math.hypot(expected!.re, expected!.im);
  return {
    timeS: rounded(step.timeS),
    ratio: rounded(difference / bound),
    difference: rounded(difference * factor),
    bound: rounded(bound * factor),
    levelDifference: rounded(levelDifference * factor),
    phaseDifferenceDeg: rounded(turned(phaseLagDeg(step), phaseLagDeg(expected!))),
    terms: terms.map(({ name, value }) => ({ name, value: rounded(value * factor) })),
  };
}

/** Every so many-th step, so that no more than CURVE_POINTS_MAX are kept. */
function thinned<T>(steps: readonly T[]): T[] {
  const stride = Math.max(1, Math.ceil(steps.length / CURVE_POINTS_MAX));
  return steps.filter((_, i) => i % stride === 0);
}

function curveOf(steps: readonly ToldStep[], factor: number): Opinion["curve"] {
  const kept = thinned(steps);
  const level = (one: { re: number; im: number } | undefined): number =>
    one === undefined ? -1 : rounded(Math.hypot(one.re, one.im) * factor);
  return {
    timeS: kept.map(({ step }) => rounded(step.timeS)),
    level: kept.map(({ now }) => level(now)),
    phaseLagDeg: kept.map(({ now }) => (now === undefined ? -1 : rounded(phaseLagDeg(now)))),
    laggedLevel: kept.map(({ expected }) => level(expected)),
    difference: kept.map(({ expected, difference }) =>
      expected === undefined ? -1 : rounded(difference * factor),
    ),
    bound: kept.map(({ why, bound }) => (why === undefined ? rounded(bound * factor) : -1)),
  };
}

function opinionOf(method: MethodName, { settings, steps }: Told, factor: number): Opinion {
  const compared = steps.filter(({ why }) => why === undefined);
  const differing = compared.filter(({ difference, bound }) => !(difference <= bound));
  const worst = worstOf(compared, factor);
  return {
    method,
    settings: [...settings].join("; "),
    verdict:
      compared.length === 0 ? "does not apply" : differing.length === 0 ? "agrees" : "differs",
    stepCount: steps.length,
    comparedCount: compared.length,
    differingCount: differing.length,
    ...(worst === undefined ? {} : { worst }),
    notCompared: reasons(steps),
    curve: curveOf(steps, factor),
  };
}

/** What every method says of one tracking filter's level. */
export function secondOpinions(request: OpinionRequest): FilterOpinions {
  const { filter, name, unit, levelFactor, tracked, angles, steps } = request;
  const told = new Map<MethodName, Told>(
    METHODS.map((method) => [method, { settings: new Set<string>(), steps: [] }]),
  );
  for (const angle of angles) {
    const ofRun = steps.filter(
      ({ closedAt }) => closedAt > angle.firstAt && closedAt <= angle.lastAt + 1,
    );
    if (ofRun.length > 0) addRun(told, request, angle, ofRun);
  }
  const kept = thinned(steps);
  return {
    filter,
    name,
    unit,
    order: tracked.order,
    isPhaseRelative: request.isPhaseRelative,
    firmware: {
      timeS: kept.map(({ timeS }) => rounded(timeS)),
      level: kept.map(({ re, im }) => rounded(Math.hypot(re, im) * levelFactor)),
      phaseLagDeg: kept.map((one) => rounded(phaseLagDeg(one))),
    },
    opinions: METHODS.map((method) => opinionOf(method, told.get(method)!, levelFactor)),
  };
}
