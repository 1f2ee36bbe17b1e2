// What crosses between the runner and its workers: plain data only.
import { drawCaseSection } from "../report/case-section.ts";
import { summaryRow } from "../results/summary.ts";
import type { CaseFailure, CaseResult, SummaryRow } from "../results/types.ts";
import type { Scene } from "../scene/scene.ts";
import type { CoreSpec } from "./target-spec.ts";

/** A case, whatever carries it. */
export interface CaseWork {
  scene: Scene;
  repeat: string;
  /** A right case is drawn, too; a wrong one always is. */
  isSampled: boolean;
  /** Where cases/<id>.json goes. */
  folder: string;
  /** The records go into a file of their own beside it. */
  keepsRecords?: boolean;
  /** Second opinions are put beside the levels. */
  usesMethods?: boolean;
}

export interface CaseTask extends CaseWork {
  target: CoreSpec;
}

export type CaseOutcome =
  /** The case was judged; its file is written, its part of the report drawn, or "" where it is none. */
  | { kind: "judged"; row: SummaryRow; section: string; elapsedS?: number }
  | {
      kind: "failed";
      failure: CaseFailure;
      stack: string;
      /** Nothing will answer the next case either. */
      isTargetGone?: boolean;
    };

/** A case that has its verdict, with its row of the summary and its part of the report. */
export function judged(
  result: CaseResult,
  { repeat, isSampled }: Pick<CaseWork, "repeat" | "isSampled">,
): CaseOutcome & { kind: "judged" } {
  const row = summaryRow(result);
  const isDrawn = isSampled || !row.isRight;
  return { kind: "judged", row, section: isDrawn ? drawCaseSection(result, repeat) : "" };
}
