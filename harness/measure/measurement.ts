// What a measurement is, and how its rows are told right.

/** One value beside its closed form. */
export interface MeasuredRow {
  what: string;
  unit: string;
  measured: number;
  /** Absent where there is none: told, not judged. */
  closed?: number;
  /** |measured − closed| that its causes allow; for a bound the closed form is the bound. */
  tolerance?: number;
  /** "within": |difference| ≤ tolerance; "at most": measured ≤ closed; "at least" likewise. */
  rule: "within" | "at most" | "at least" | "told";
  isRight: boolean;
}

/** Points of a curve: measured ones, and the closed form between them. */
export interface Curve {
  title: string;
  x: string;
  y: string;
  measured: { x: number; y: number }[];
  closed: { x: number; y: number }[];
}

export interface Measurement {
  name: string;
  /** What was played, and where the tolerance comes from. */
  how: string;
  rows: MeasuredRow[];
  curve?: Curve;
}

export function within(
  what: string,
  unit: string,
  measured: number,
  closed: number,
  tolerance: number,
): MeasuredRow {
  // A value that is no number is never right.
  const isRight = Math.abs(measured - closed) <= tolerance;
  return { what, unit, measured, closed, tolerance, rule: "within", isRight };
}

export function atMost(what: string, unit: string, measured: number, closed: number): MeasuredRow {
  return { what, unit, measured, closed, rule: "at most", isRight: measured <= closed };
}

export function atLeast(what: string, unit: string, measured: number, closed: number): MeasuredRow {
  return { what, unit, measured, closed, rule: "at least", isRight: measured >= closed };
}

export function told(what: string, unit: string, measured: number): MeasuredRow {
  return { what, unit, measured, rule: "told", isRight: true };
}
