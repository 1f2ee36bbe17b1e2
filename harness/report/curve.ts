// Curves as SVG paths: gaps where there is no value, and no more points than the eye can tell.

export interface Point {
  x: number;
  y: number;
}

/** Pixels by which a drawn curve may leave the true one. */
const DEPARTURE_PX = 0.2;

/** Distance of a point from the straight line between two others. */
function distance(point: Point, from: Point, to: Point): number {
  const dx = to.x - from.x;
  const dy = to.y - from.y;
  const length = Math.sqrt(dx * dx + dy * dy);
  if (length === 0) return Math.hypot(point.x - from.x, point.y - from.y);
  return Math.abs(dy * (point.x - from.x) - dx * (point.y - from.y)) / length;
}

/** Leaves out the points that lie within DEPARTURE_PX of the line through the ones kept. */
export function simplified(points: readonly Point[]): Point[] {
  if (points.length < 3) return [...points];
  const isKept = new Uint8Array(points.length);
  isKept[0] = 1;
  isKept[points.length - 1] = 1;
  const open: [number, number][] = [[0, points.length - 1]];
  for (let range = open.pop(); range !== undefined; range = open.pop()) {
    const [from, to] = range;
    let farthest = -1;
    let most = DEPARTURE_PX;
    for (let i = from + 1; i < to; i += 1) {
      const away = distance(points[i]!, points[from]!, points[to]!);
      if (away > most) [farthest, most] = [i, away];
    }
    if (farthest < 0) continue;
    isKept[farthest] = 1;
    open.push([from, farthest], [farthest, to]);
  }
  return points.filter((_, i) => isKept[i] === 1);
}

function pixel(value: number): string {
  return String(Math.round(value * 10) / 10);
}

function run(points: readonly Point[], head: "M" | "L"): string {
  return points.map((one, i) => `${i === 0 ? head : "L"}${pixel(one.x)} ${pixel(one.y)}`).join("");
}

/** Runs of indices where `hasValue`, each unbroken. */
function runsOf(count: number, hasValue: (i: number) => boolean): number[][] {
  const runs: number[][] = [];
  let open: number[] | undefined;
  for (let i = 0; i < count; i += 1) {
    if (!hasValue(i)) open = undefined;
    else if (open === undefined) runs.push((open = [i]));
    else open.push(i);
  }
  return runs;
}

/** A path through the points; broken where `hasValue` is false. */
export function linePath(
  count: number,
  hasValue: (i: number) => boolean,
  point: (i: number) => Point,
): string {
  return runsOf(count, hasValue)
    .map((indices) => run(simplified(indices.map(point)), "M"))
    .join("");
}

/** A path that holds each value until the next, as a display does. */
export function stepPath(
  count: number,
  hasValue: (i: number) => boolean,
  point: (i: number) => Point,
): string {
  const stepped = (indices: number[]): Point[] => {
    const points: Point[] = [];
    for (const i of indices) {
      const now = point(i);
      const last = points.at(-1);
      if (last !== undefined && last.y !== now.y) points.push({ x: now.x, y: last.y });
      points.push(now);
    }
    return points;
  };
  return runsOf(count, hasValue)
    .map((indices) => run(simplified(stepped(indices)), "M"))
    .join("");
}

/** The closed area between two curves. */
export function bandPath(
  count: number,
  hasValue: (i: number) => boolean,
  upper: (i: number) => Point,
  lower: (i: number) => Point,
): string {
  return runsOf(count, hasValue)
    .map((indices) => {
      const above = simplified(indices.map(upper));
      const below = simplified(indices.map(lower)).toReversed();
      return `${run(above, "M")}${run(below, "L")}Z`;
    })
    .join("");
}

/** Stretches of one value: each holds from its first time to the next stretch's. */
export interface Span {
  fromS: number;
  untilS: number;
  value: number;
}

/** Stretches of equal values; the last one ends at `endS`. */
export function spansOf(timeS: readonly number[], values: readonly number[], endS: number): Span[] {
  const spans: Span[] = [];
  for (const [i, value] of values.entries()) {
    const last = spans.at(-1);
    if (last !== undefined && last.value === value) continue;
    if (last !== undefined) last.untilS = timeS[i]!;
    spans.push({ fromS: timeS[i]!, untilS: Math.max(endS, timeS[i]!), value });
  }
  return spans;
}
