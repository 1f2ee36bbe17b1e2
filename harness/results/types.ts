import type { Counters } from "../../host/record-types.ts";
import type { BoxDecision, Verdict } from "../judge/types.ts";
import type { ProofTask, RequirementMatrix } from "../requirement/matrix.ts";
import type { MethodResults } from "../method/opinion-types.ts";
import type { PlayedRow } from "./played.ts";
import type { SettingsRow } from "./settings.ts";

/** Version of the files in a results folder; a reader accepts its own major number only. */
export const RESULTS_VERSION = "3.0";

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
  /** "sample": times count samples, speeds revolutions a sample. */
  timeUnit: "s" | "sample";
  profileName: string;
  /** Everything that was played, in words. */
  played: PlayedRow[];
  /** How each number and its caution are set, in words. */
  settings: SettingsRow[];
  verdict: Verdict;
  counters: Counters;
  /** Second opinions, where the run was asked for them: no part of the verdict. */
  methods?: MethodResults;
}

/** One case of a run as it was called: what depends on the folder it was run from. */
export interface RunCase {
  name: string;
  /** Scenario file, as seen from that folder; of the demonstration, from the package's. */
  file: string;
  /** Command that runs this case alone again, to be pasted in that folder. */
  repeat: string;
  /** Where it stands among all cases of the call, from 0, whatever shard takes it. */
  place: number;
  /** Absent where it has no verdict. */
  id?: string;
  /** From the case's start in its thread to its verdict; absent where it has none. */
  elapsedS?: number;
}

/** Parts of one call at most: more machines than anybody has. */
export const SHARDS_MAX = 10_000;

/** `run.json`: times, machine and paths, which no other file of results in JSON holds. */
export interface RunInfo {
  resultsVersion: string;
  startedAt: string;
  elapsedS: number;
  machine: { platform: string; arch: string; node: string; cpu: string; cores: number };
  command: string[];
  isInterrupted: boolean;
  title: string;
  /** Which part of the call's cases was to be run here; absent: all. */
  shard?: { number: number; of: number };
  /** Cases of the call, in all its shards. */
  calledCount: number;
  /** The cases that were to be run, in their order. */
  cases: RunCase[];
  /** Of a shard: what all of them together are asked to prove. */
  requirements?: ProofTask;
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
  /** Of the wrong ones, those within the guard band; absent where no box was judged. */
  guardBandCount?: number;
  /** Of the wrong ones, those in which nothing could be judged; likewise. */
  notJudgedCount?: number;
  canaryCount: number;
  simulatedS: number;
  cases: SummaryRow[];
  failures: CaseFailure[];
  /** What the cases prove of a list of requirements; absent where they prove nothing of it. */
  requirements?: RequirementMatrix;
}

/** Second opinions of a case: one of each method on each filter. */
export interface MethodCount {
  note: string;
  agreeing: number;
  differing: number;
  notApplying: number;
}

export interface SummaryRow {
  id: string;
  name: string;
  question: string;
  see?: string;
  /** Ids of requirements that its scenario names. */
  requirements: string[];
  isRight: boolean;
  isCanary: boolean;
  /** Of a box held against its own specification: what was decided. */
  decision?: BoxDecision;
  durationS: number;
  timeUnit: "s" | "sample";
  /** Largest ratio of a check; null: something is wrong that no multiple of a tolerance tells. */
  worstRatio: number | null;
  /** Name of the check with the worst ratio. */
  worstCheck: string;
  /** For a wrong case: what its first wrong check says; of a box, every one, the worst first. */
  why: string;
  /** One line for each caution or number: lowest and highest, when the caution came and went. */
  notes: string[];
  /** One line on how near level, phase and number came to their limits. */
  margin: string;
  /** The second opinions, where there are any: one line, and how many of them say what. */
  methods?: MethodCount;
}
