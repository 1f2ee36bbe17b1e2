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

/** `summary.json`. */
export interface Summary {
  resultsVersion: string;
  caseCount: number;
  rightCount: number;
  wrongCount: number;
  canaryCount: number;
  simulatedS: number;
  cases: {
    id: string;
    name: string;
    isRight: boolean;
    isCanary: boolean;
    worstRatio: number;
    /** Name of the check with the worst ratio. */
    worstCheck: string;
  }[];
}
