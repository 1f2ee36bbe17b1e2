// What crosses between the runner and its workers: plain data only.
import type { CaseFailure, SummaryRow } from "../results/types.ts";
import type { Scene } from "../scene/scene.ts";
import type { TargetSpec } from "./target-spec.ts";

export interface CaseTask {
  scene: Scene;
  target: TargetSpec;
  repeat: string;
  /** Where cases/<id>.json goes. */
  folder: string;
}

export type CaseOutcome =
  /** The case was judged; its file is written, its part of the report drawn. */
  | { kind: "judged"; row: SummaryRow; section: string }
  | { kind: "failed"; failure: CaseFailure; stack: string };
