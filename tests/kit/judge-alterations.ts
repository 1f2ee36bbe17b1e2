// Judges a flight again with each alteration and tells which ones the judge did not find: how blind
// a suite would be.
import type { Counters } from "../../host/record-types.ts";
import type { CheckName, Scene } from "../../harness/scene/scene.ts";
import type { SceneTruth } from "../../harness/truth/types.ts";
import type { Alteration, Place } from "../../harness/judge/alteration.ts";
import type { JudgedFlight } from "../../harness/judge/alteration-run.ts";
import { judgeAltered, judgeRecorded } from "../../harness/judge/alteration-run.ts";
import { ALTERATIONS, alter } from "../../harness/judge/alterations.ts";
import type { Verdict } from "../../harness/judge/types.ts";

/** Places that are tried one by one, spread evenly over all there are; events apart. */
const PLACES_MAX = 16;

/** How one alteration fared. */
export interface AlterationReport {
  name: string;
  check: CheckName;
  amount: number;
  amountUnit: string;
  /** Places there are, verdicts tried, and how many of those turned wrong. */
  placeCount: number;
  /** Places left out because the truth leaves open what stands there. */
  openCount: number;
  triedCount: number;
  caughtCount: number;
  /** How many the named check found itself, whatever others found. */
  ownCount: number;
  /** Why it does not apply to this case; absent where it was tried. */
  notApplicable?: string;
  /** What was not found, one sentence each. */
  notCaught: string[];
}

/**
 * Every alteration, judged.
 *
 * An alteration is found where some check counts more that is wrong than it does in the flight as
 * it stands; one of level, phase or speed only where its own check does so at each altered step.
 */
export function judgeAlterations(
  scene: Scene,
  truth: () => SceneTruth,
  records: Uint8Array,
  counters: Counters,
): AlterationReport[] {
  const flight = { ...judgeRecorded(scene, truth(), records, counters), anew: truth };
  return ALTERATIONS.map((alteration) => tryAlteration(flight, alteration));
}

/** A judged flight, and its truth once more from the start. */
type Tried = JudgedFlight & { anew: () => SceneTruth };

function tryAlteration(flight: Tried, alteration: Alteration): AlterationReport {
  const { name, check, amount, amountUnit, isSigned } = alteration;
  const all = alteration.places(flight.recorded);
  const places = all.filter((place) => place.isOpen !== true);
  const report: AlterationReport = {
    name,
    check,
    amount,
    amountUnit,
    placeCount: places.length,
    openCount: all.length - places.length,
    triedCount: 0,
    caughtCount: 0,
    ownCount: 0,
    notCaught: [],
  };
  if (places.length === 0) {
    const what =
      all.length === 0 ? "nothing to alter" : "nothing that the truth does not leave open";
    report.notApplicable = `the case has ${what} by "${name}"`;
    return report;
  }
  for (const by of isSigned ? [amount, -amount] : [amount]) {
    if (alteration.isTogether) tryTogether(flight, alteration, places, by, report);
    else for (const place of tried(places, check)) tryOne(flight, alteration, place, by, report);
  }
  return report;
}

function tryOne(
  flight: Tried,
  alteration: Alteration,
  place: Place,
  amount: number,
  report: AlterationReport,
): void {
  const verdict = judgeAltered(
    flight.recorded,
    alter(flight.recorded, alteration, [place], amount),
    alteration.isAnew === true ? flight.anew() : undefined,
  );
  report.triedCount += 1;
  const { check } = alteration;
  if (sumWrong(verdict, check) > sumWrong(flight.verdict, check)) report.ownCount += 1;
  if (isWorse(verdict, flight.verdict)) report.caughtCount += 1;
  else report.notCaught.push(sentence(alteration, amount, place));
}

/** One pass over all places: each altered record must be found by itself. */
function tryTogether(
  flight: JudgedFlight,
  alteration: Alteration,
  places: Place[],
  amount: number,
  report: AlterationReport,
): void {
  const verdict = judgeAltered(flight.recorded, alter(flight.recorded, alteration, places, amount));
  const wrongCount = sumWrong(verdict, alteration.check);
  report.triedCount += 1;
  if (wrongCount >= places.length) {
    report.caughtCount += 1;
    report.ownCount += 1;
    return;
  }
  const missed = places.length - wrongCount;
  const first = sentence(alteration, amount, places[0]!);
  report.notCaught.push(`${missed} of ${places.length} places, the first tried: ${first}`);
}

function sentence(alteration: Alteration, amount: number, place: Place): string {
  const by = `"${alteration.name}" by ${amount} ${alteration.amountUnit}`;
  return `${by} (${place.what}) at ${Number(place.timeS.toFixed(4))} s was not found`;
}

function sumWrong(verdict: Verdict, check: CheckName): number {
  let sum = 0;
  for (const one of verdict.checks) if (one.check === check) sum += one.wrongCount;
  return sum;
}

function isWorse(verdict: Verdict, base: Verdict): boolean {
  return verdict.checks.some((one, i) => one.wrongCount > (base.checks[i]?.wrongCount ?? 0));
}

/** Every event; of all else at most PLACES_MAX places, the first and the last among them. */
function tried(places: Place[], check: CheckName): Place[] {
  if (check === "events" || places.length <= PLACES_MAX) return places;
  return Array.from({ length: PLACES_MAX }, (_, i) => {
    return places[Math.round((i * (places.length - 1)) / (PLACES_MAX - 1))]!;
  });
}
