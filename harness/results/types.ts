import type { Counters } from "../../host/record-types.ts";
import type { Verdict } from "../judge/types.ts";

/** Version of the files in a results folder; a reader accepts its own major number only. */
export const RESULTS_VERSION = "1.0";

/** One case: `cases/<id>.json`. The same bytes whenever and wherever it is run. */
export interface CaseResult {
  resultsVersion: string;
  /** First 16 hex digits of SHA-256 over profile, scenario, seed, core, target kind, version. */
  id: string;
  name: string;
  question: string;
  /** What a reader sees in it, where the scenario says it. */
  see?: string;
  requirements: string[];
  seed: number;
  target: { kind: string; identity: string; numericsVersion: number };
  durationS: number;
  sampleRateHz: number;
  profileName: string;
  /** Command that runs this case alone again. */
  repeat: string;
  verdict: Verdict;
  counters: Counters;
}

/** `run.json`: the only file that may differ between runs of the same work. */
export interface RunInfo {
  resultsVersion: string;
  startedAt: string;
  elapsedS: number;
  machine: { platform: string; arch: string; node: string; cpu: string; cores: number };
  command: string[];
  isInterrupted: boolean;
}

/** What the cases of a run ran on. */
export interface TargetIdentity {
  kind: string;
  identity: string;
  layoutVersion: number;
  numericsVersion: number;
}

/** A case that has no verdict: its target failed, or what it was made from was wrong. */
export interface CaseFailure {
  name: string;
  kind: "target" | "input" | "defect";
  message: string;
}

/** `summary.json`. */
export interface Summary {
  resultsVersion: string;
  packageVersion: string;
  /** The user's seed; each case's own comes from it and the case's name. */
  seed: number;
  target: TargetIdentity;
  /** Cases that were to be run; more than judged and failed ones where the run was interrupted. */
  plannedCount: number;
  caseCount: number;
  rightCount: number;
  wrongCount: number;
  canaryCount: number;
  simulatedS: number;
  cases: SummaryRow[];
  failures: CaseFailure[];
}

export interface SummaryRow {
  id: string;
  name: string;
  question: string;
  see?: string;
  isRight: boolean;
  isCanary: boolean;
  durationS: number;
  /** Largest ratio of a check; null: something is wrong that no multiple of a tolerance tells. */
  worstRatio: number | null;
  /** Name of the check with the worst ratio. */
  worstCheck: string;
  /** For a wrong case: what its first wrong check says. */
  why: string;
  /** One line for each caution or number: lowest and highest, when the caution came and went. */
  notes: string[];
}
