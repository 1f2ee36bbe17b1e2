// Scenes with one caution, a flight that makes it come and go, and the verdict on a flight.
import type { Scene } from "../../../harness/scene/scene.ts";
import type { CheckName } from "../../../harness/scene/scene.ts";
import { makeJudge } from "../../../harness/judge/judge.ts";
import type { CheckResult, Verdict } from "../../../harness/judge/types.ts";
import type { SceneTruth } from "../../../harness/truth/types.ts";
import { judgeAlterations } from "../../kit/judge-alterations.ts";
import type { AlterationReport } from "../../kit/judge-alterations.ts";
import { filterProfile, monitorProfile, scene } from "../../kit/scene-builder.ts";
import type { Flight, Script } from "./fake-flight.ts";

export const CAUTION = {
  levelCounts: 50,
  hysteresisCounts: 4,
  onDelaySteps: 3,
  offDelaySteps: 5,
  delayRunsUnderInhibit: false,
  whenInvalid: "end" as const,
};

export function cautionScene(over: Partial<Scene> = {}): Scene {
  const base = filterProfile();
  const filter = filterProfile({ display: { ...base.display, caution: CAUTION } });
  return scene({ profile: monitorProfile({ filters: [filter] }), durationS: 30, ...over });
}

/** 4.0 display units, 5.5 from step 50 to 149: a caution that comes and goes. */
export const CLIMB: Script = (_, step) => ({
  level: step >= 50 && step < 150 ? 5.52 : 4.02,
  levelTol: 0.004,
});

export function judged(one: Scene, flight: Flight, bytes = flight.bytes): Verdict {
  const judge = makeJudge(one, flight.truth());
  judge.take(bytes);
  return judge.finish(flight.counters);
}

/** The first result of a check. */
export function named(verdict: Verdict, check: CheckName): CheckResult {
  return verdict.checks.find((one) => one.check === check)!;
}

/** Why each check that is wrong is wrong. */
export function wrongOnes(verdict: Verdict): string[] {
  return verdict.checks.filter((check) => !check.isRight).map((check) => check.why);
}

export function eventsOf(verdict: Verdict): string[] {
  return verdict.events.map((event) => event.name);
}

/** How each alteration of a flight fared. */
export function reportsOn(
  one: Scene,
  flight: Flight,
  truth = (): SceneTruth => flight.truth(),
): AlterationReport[] {
  return judgeAlterations(one, truth, flight.bytes, flight.counters);
}

/** What no check found of the altered flights. */
export function notCaught(reports: AlterationReport[]): string[] {
  return reports.flatMap((report) => report.notCaught);
}

/** Inputs from outside: bits of inhibit and acknowledge, and the functional test. */
export function inputRows(
  ...rows: [timeS: number, inhibit: number, acknowledge: number, test?: boolean][]
): Scene["inputs"] {
  return rows.map(([timeS, inhibit, acknowledge, test = false]) => {
    return { timeS, inhibit, acknowledge, running: 0, test };
  });
}
