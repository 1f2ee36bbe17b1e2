// Two sides over the same cases, one after another: identical bytes, or where and how they part.
import { RECORD_BYTES } from "../../shared/layout.ts";
import { messageOf } from "../../host/error-message.ts";
import { TargetFailure } from "../run/run-case.ts";
import type { Line } from "../run/line.ts";
import { ResultsError } from "../results/case-file.ts";
import { recordsPath } from "../results/results-folder.ts";
import type { CaseResult } from "../results/types.ts";
import type { MonitorProfile, Scene } from "../scene/scene.ts";
import {
  type ValueDifference,
  caseDifferences,
  counterDifference,
  otherWork,
  workOf,
} from "./case-difference.ts";
import {
  type RecordStream,
  folderCases,
  hasRecords,
  keptStream,
  playedStream,
} from "./compared-side.ts";
import { type Effects, type FirstDifference, RecordPairs } from "./record-pairs.ts";
import { SideError } from "./record-side.ts";

/** A side that plays now, or a folder of results. */
export type Side =
  | { kind: "played"; line: Line }
  | { kind: "folder"; folder: string; cases: Map<string, CaseResult> };

export interface CaseComparison {
  name: string;
  /** "bytes": records were compared; "values": only what case files hold; "none": nothing was. */
  compared: "bytes" | "values" | "none";
  isEqual: boolean;
  /** Why nothing was compared. */
  why?: string;
  records?: { a: number; b: number };
  first?: FirstDifference;
  effects?: Effects;
  counter?: ValueDifference;
  /** Of case files without records. */
  value?: ValueDifference;
  valueCount?: number;
}

export const folderSide = (folder: string): Side => ({
  kind: "folder",
  folder,
  cases: folderCases(folder),
});

function none(name: string, why: string): CaseComparison {
  return { name, compared: "none", isEqual: false, why };
}

/** Compares two streams of records to their ends. Errors: SideError; of the streams. */
export async function comparedBytes(
  name: string,
  profile: MonitorProfile,
  a: RecordStream,
  b: RecordStream,
): Promise<CaseComparison> {
  const pairs = new RecordPairs(profile);
  const empty = new Uint8Array(0);
  const streams = [a, b] as const;
  const bytes = [0, 0];
  const isOver = [false, false];
  while (!isOver[0] || !isOver[1]) {
    // Of the side that is behind, so that neither runs a flight ahead of the other: a file gives
    // many more records at once than a target that plays.
    const side = isOver[0] || (!isOver[1] && bytes[1]! < bytes[0]!) ? 1 : 0;
    const piece = await streams[side].next();
    bytes[side]! += piece?.byteLength ?? 0;
    isOver[side] = piece === undefined;
    if (piece === undefined) pairs.over(side);
    pairs.take(side === 0 ? (piece ?? empty) : empty, side === 1 ? (piece ?? empty) : empty);
  }
  const { isEqual, records, first, effects } = pairs.finish();
  const counter = counterDifference(a.counters(), b.counters());
  return {
    name,
    compared: "bytes",
    isEqual: isEqual && counter === undefined,
    records: { a: records[0], b: records[1] },
    ...(first === undefined ? {} : { first, effects }),
    ...(counter === undefined ? {} : { counter }),
  };
}

/** `name` is the side's own: which of two targets failed must be plain. */
async function streamOf(
  name: "A" | "B",
  side: Side,
  scene: Scene,
  signal: AbortSignal,
): Promise<RecordStream> {
  if (side.kind === "folder") return keptStream(side.folder, side.cases.get(scene.name)!);
  const failed = (error: unknown): never => {
    if (signal.aborted) throw error;
    const said = `${name} failed at case "${scene.name}": ${messageOf(error)}`;
    throw new TargetFailure(said, { cause: error });
  };
  const stream = await playedStream(side.line, scene, signal).catch(failed);
  return {
    next: () => stream.next().catch(failed),
    counters: () => stream.counters(),
    close: () => stream.close(),
  };
}

/** What keeps a folder's case from being compared with a scene. */
function folderComplaint(side: Side, name: string, scene: Scene): string | undefined {
  if (side.kind !== "folder") return undefined;
  const result = side.cases.get(scene.name);
  if (result === undefined) return `${name} (${side.folder}) has no such case`;
  const other = otherWork(result, workOf(scene));
  if (other !== undefined) return `${other} (${name} and the scenario file)`;
  return hasRecords(side.folder, result)
    ? undefined
    : `${name} kept no records; run it again with --keep-records`;
}

/** What a folder kept is a broken input, what a target gave is a target's failure. */
function brokenSide(error: SideError, a: Side, b: Side, scene: Scene): Error {
  const side = error.side === 0 ? a : b;
  if (side.kind === "folder") {
    const path = recordsPath(side.folder, side.cases.get(scene.name)!.id);
    return new ResultsError(`${path}: ${error.message}`, { cause: error });
  }
  const said = `${"AB"[error.side]} failed at case "${scene.name}": ${error.message}`;
  return new TargetFailure(said, { cause: error });
}

/** Compares one scene on two sides. Errors: TargetFailure; ResultsError; AbortError. */
export async function compareScene(
  scene: Scene,
  a: Side,
  b: Side,
  signal: AbortSignal,
): Promise<CaseComparison> {
  const why = folderComplaint(a, "A", scene) ?? folderComplaint(b, "B", scene);
  if (why !== undefined) return none(scene.name, why);
  const streams: RecordStream[] = [];
  try {
    streams.push(await streamOf("A", a, scene, signal));
    streams.push(await streamOf("B", b, scene, signal));
    return await comparedBytes(scene.name, scene.profile, streams[0]!, streams[1]!);
  } catch (error) {
    if (signal.aborted || error instanceof TargetFailure || error instanceof ResultsError) {
      throw error;
    }
    if (error instanceof SideError) throw brokenSide(error, a, b, scene);
    throw new TargetFailure(`case "${scene.name}": ${messageOf(error)}`, { cause: error });
  } finally {
    for (const one of streams) await one.close().catch(() => {});
  }
}

/**
 * Compares a case of two folders: its records where both kept them and the scene is known, else
 * what the case files hold.
 */
export async function compareResults(
  name: string,
  a: Side & { kind: "folder" },
  b: Side & { kind: "folder" },
  scene: Scene | undefined,
  signal: AbortSignal,
): Promise<CaseComparison> {
  const [ofA, ofB] = [a.cases.get(name), b.cases.get(name)];
  if (ofA === undefined) return none(name, `A (${a.folder}) has no such case`);
  if (ofB === undefined) return none(name, `B (${b.folder}) has no such case`);
  const other = otherWork(ofA, ofB);
  if (other !== undefined) return none(name, other);
  if (scene !== undefined && hasRecords(a.folder, ofA) && hasRecords(b.folder, ofB)) {
    return compareScene(scene, a, b, signal);
  }
  const { first, count } = caseDifferences(ofA, ofB);
  const differing =
    hasRecords(a.folder, ofA) && hasRecords(b.folder, ofB)
      ? await firstDifferingRecord(keptStream(a.folder, ofA), keptStream(b.folder, ofB))
      : undefined;
  const isKept = differing !== undefined;
  const isEqual = count === 0 && (differing ?? -1) < 0;
  return {
    name,
    compared: isKept ? "bytes" : "values",
    isEqual,
    ...(isKept && differing >= 0
      ? { why: `record ${differing} is the first that differs; name the scenario files to see how` }
      : {}),
    ...(first === undefined ? {} : { value: first, valueCount: count }),
  };
}

/** Place of the first record that differs, −1 where none does. */
async function firstDifferingRecord(a: RecordStream, b: RecordStream): Promise<number> {
  try {
    let at = 0;
    for (;;) {
      const [ofA, ofB] = [await a.next(), await b.next()];
      if (ofA === undefined && ofB === undefined) return -1;
      const [left, right] = [ofA ?? new Uint8Array(0), ofB ?? new Uint8Array(0)];
      const length = Math.max(left.length, right.length);
      for (let i = 0; i < length; i += 1) {
        if (left[i] !== right[i]) return Math.floor((at + i) / RECORD_BYTES);
      }
      at += length;
    }
  } finally {
    await a.close();
    await b.close();
  }
}
