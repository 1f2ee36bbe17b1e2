// One line on how near a case came to its limits: level and phase to their tolerances, the number to
// its caution level.
import type { CheckName } from "../scene/scene.ts";
import type { Verdict } from "../judge/types.ts";
import { stepDecimals } from "./step-decimals.ts";

/** Of all filters the ratio nearest to its limit; undefined where nothing was judged. */
function worstRatio(verdict: Verdict, check: CheckName): number | undefined {
  const judged = verdict.checks.filter((one) => one.check === check && one.judgedCount > 0);
  if (judged.length === 0) return undefined;
  return Math.max(...judged.map((one) => one.worstRatio ?? Infinity));
}

/** "level 0.44, phase 0.36 of tolerance"; "level wrong, phase not judged". */
function ratiosNote(verdict: Verdict): string {
  const told: string[] = [];
  const untold: string[] = [];
  for (const check of ["level", "phase"] as const) {
    const ratio = worstRatio(verdict, check);
    if (ratio === undefined) untold.push(`${check} not judged`);
    else if (Number.isFinite(ratio)) told.push(`${check} ${ratio.toFixed(2)}`);
    else untold.push(`${check} wrong`);
  }
  const ratios = told.length === 0 ? [] : [`${told.join(", ")} of tolerance`];
  return [...ratios, ...untold].join(", ");
}

/** "peak 3.5 under caution": of the numbers with a caution the one nearest to it. */
function peakNote({ filters }: Verdict): string {
  let nearest: { gap: number; words: string } | undefined;
  for (const { shownRange, cautionLevel, displayStep } of filters) {
    if (shownRange === undefined || cautionLevel === undefined) continue;
    const steps = Math.round((shownRange.most - cautionLevel) / displayStep);
    const size = (Math.abs(steps) * displayStep).toFixed(stepDecimals(displayStep));
    const words = steps === 0 ? "at" : `${size} ${steps > 0 ? "over" : "under"}`;
    const gap = Math.abs(steps * displayStep);
    if (nearest === undefined || gap < nearest.gap) nearest = { gap, words };
  }
  return nearest === undefined ? "" : `; peak ${nearest.words} caution`;
}

/** The margins of a verdict in one line of at most 71 characters. */
export function marginNote(verdict: Verdict): string {
  return ratiosNote(verdict) + peakNote(verdict);
}
