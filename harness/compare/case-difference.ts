// Two files of one case: where they first part. For results that kept no records.
import { playedRows } from "../results/played.ts";
import { settingsRows } from "../results/settings.ts";
import type { CaseResult } from "../results/types.ts";
import type { Scene } from "../scene/scene.ts";

/** What is of the target, or another's opinion, and not of what it answered. */
const NOT_ANSWERED = new Set(["id", "target", "resultsVersion", "methods"]);
/** The split into blocks is the carrier's own. */
const NOT_COUNTED = new Set(["blocks"]);

export interface ValueDifference {
  /** As "verdict.filters[0].trace.level[12]". */
  path: string;
  a: string;
  b: string;
}

const shown = (value: unknown): string => JSON.stringify(value)?.slice(0, 80) ?? "nothing";

function* differences(a: unknown, b: unknown, path: string): Generator<ValueDifference> {
  if (Object.is(a, b)) return;
  const areBoth = (test: (value: unknown) => boolean): boolean => test(a) && test(b);
  if (areBoth(Array.isArray)) {
    const [ofA, ofB] = [a as unknown[], b as unknown[]];
    for (let i = 0; i < Math.max(ofA.length, ofB.length); i += 1) {
      yield* differences(ofA[i], ofB[i], `${path}[${i}]`);
    }
    return;
  }
  if (areBoth((value) => typeof value === "object" && value !== null && !Array.isArray(value))) {
    const [ofA, ofB] = [a as Record<string, unknown>, b as Record<string, unknown>];
    for (const key of new Set([...Object.keys(ofA), ...Object.keys(ofB)])) {
      if (NOT_COUNTED.has(key)) continue;
      yield* differences(ofA[key], ofB[key], path === "" ? key : `${path}.${key}`);
    }
    return;
  }
  yield { path, a: shown(a), b: shown(b) };
}

function answered(result: CaseResult): Record<string, unknown> {
  return Object.fromEntries(Object.entries(result).filter(([key]) => !NOT_ANSWERED.has(key)));
}

/** What was played and how it was set: if this differs, the answers may. */
const WORK = ["seed", "durationS", "sampleRateHz", "played", "settings"] as const;

export type Work = Pick<CaseResult, (typeof WORK)[number]>;

/** A scene's work as a case file tells it. */
export function workOf(scene: Scene): Work {
  const { seed, durationS } = scene;
  const { sampleRateHz } = scene.profile;
  const [played, settings] = [playedRows(scene), settingsRows(scene.profile)];
  return JSON.parse(JSON.stringify({ seed, durationS, sampleRateHz, played, settings })) as Work;
}

/** Why two cases of one name are not the same work; undefined where they are. */
export function otherWork(a: Work, b: Work): string | undefined {
  for (const key of WORK) {
    const found = differences(a[key], b[key], key).next();
    if (found.done === true) continue;
    return `not the same work: ${key} differs, ${found.value.a} and ${found.value.b}`;
  }
  return undefined;
}

/** The first value that differs, and how many do. */
export function caseDifferences(
  a: CaseResult,
  b: CaseResult,
): { first?: ValueDifference; count: number } {
  let first: ValueDifference | undefined;
  let count = 0;
  for (const one of differences(answered(a), answered(b), "")) {
    first ??= one;
    count += 1;
  }
  return { ...(first === undefined ? {} : { first }), count };
}

/** The first counter that differs. */
export function counterDifference(
  a: CaseResult["counters"],
  b: CaseResult["counters"],
): ValueDifference | undefined {
  const found = differences(a, b, "").next();
  return found.done === true ? undefined : found.value;
}
