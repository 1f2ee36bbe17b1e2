// Thins a flight's steps to at most 2,000 points without hiding a peak or a change of the caution.
import { CAUTION_HELD, CAUTION_ON } from "../../shared/units.ts";
import type { Trace } from "./types.ts";
import { traceNumber } from "./sentences.ts";

/** Points that a trace holds at most. */
export const TRACE_POINTS_MAX = 2000;
/** Points of one slice: smallest, greatest, first change, first change to on (else the last). */
const SLICE_POINTS = 4;

export interface TracePoint {
  timeS: number;
  level: number;
  truth: number;
  tolerance: number;
  shown: number;
  speedRevPerS: number;
  phaseLagDeg: number;
  cautionState: number;
  cautionAllowed: number;
  validity: number;
}

/** Takes the steps in order and keeps the trace; memory is bounded by the points. */
export class TraceThinner {
  readonly trace: Trace = {
    timeS: [],
    level: [],
    truth: [],
    tolerance: [],
    shown: [],
    speedRevPerS: [],
    phaseLagDeg: [],
    cautionState: [],
    cautionAllowed: [],
    validity: [],
  };
  private readonly sliceSteps: number;
  private taken = 0;
  private before: TracePoint | undefined;
  private smallest: TracePoint | undefined;
  private greatest: TracePoint | undefined;
  private firstChange: TracePoint | undefined;
  private lastChange: TracePoint | undefined;

  constructor(stepCount: number) {
    const slices = TRACE_POINTS_MAX / SLICE_POINTS;
    this.sliceSteps = stepCount <= TRACE_POINTS_MAX ? 1 : Math.ceil(stepCount / slices);
  }

  take(point: TracePoint): void {
    if (this.smallest === undefined || point.level < this.smallest.level) this.smallest = point;
    if (this.greatest === undefined || point.level > this.greatest.level) this.greatest = point;
    if (this.before !== undefined && isChange(this.before, point)) {
      this.firstChange ??= point;
      if (this.lastChange === undefined || !isLit(this.lastChange)) this.lastChange = point;
    }
    this.before = point;
    this.taken += 1;
    if (this.taken === this.sliceSteps) this.flush();
  }

  /** The trace, once all steps were taken. */
  finish(): Trace {
    this.flush();
    return this.trace;
  }

  private flush(): void {
    const points = [this.smallest, this.greatest, this.firstChange, this.lastChange];
    const kept = new Set(points.filter((point) => point !== undefined));
    for (const point of [...kept].toSorted((a, b) => a.timeS - b.timeS)) this.push(point);
    this.smallest = undefined;
    this.greatest = undefined;
    this.firstChange = undefined;
    this.lastChange = undefined;
    this.taken = 0;
  }

  private push(point: TracePoint): void {
    const { trace } = this;
    trace.timeS.push(traceNumber(point.timeS));
    trace.level.push(traceNumber(point.level));
    trace.truth.push(traceNumber(point.truth));
    trace.tolerance.push(traceNumber(point.tolerance));
    trace.shown.push(traceNumber(point.shown));
    trace.speedRevPerS.push(traceNumber(point.speedRevPerS));
    trace.phaseLagDeg.push(traceNumber(point.phaseLagDeg));
    trace.cautionState.push(point.cautionState);
    trace.cautionAllowed.push(point.cautionAllowed);
    trace.validity.push(point.validity);
  }
}

/** Whether the caution is on as a crew sees it. */
function isLit(point: TracePoint): boolean {
  return point.cautionState >= CAUTION_ON && point.cautionState <= CAUTION_HELD;
}

function isChange(a: TracePoint, b: TracePoint): boolean {
  return (
    a.cautionState !== b.cautionState ||
    a.cautionAllowed !== b.cautionAllowed ||
    a.validity !== b.validity
  );
}
