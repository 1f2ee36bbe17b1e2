// What is compared: a target that plays the scenes now, or the folder of a run that kept its
// records.
import { closeSync, existsSync, openSync, readSync } from "node:fs";
import { join } from "node:path";
import type { Counters } from "../../host/record-types.ts";
import { systemReason } from "../../host/system-error.ts";
import { configurationBytes } from "../../host/profile/configuration.ts";
import { caseIds, readCase, recordsPath } from "../results/results-folder.ts";
import { ResultsError } from "../results/case-file.ts";
import type { CaseResult } from "../results/types.ts";
import { type Line, caseLabel } from "../run/line.ts";
import type { Scene } from "../scene/scene.ts";
import type { Target } from "../target/target.ts";
import { makeWaveform } from "../waveform/waveform.ts";

const BATCH_SAMPLES = 65_536;
const READ_BYTES = 1 << 20;

/** Gives one case's records in pieces; undefined at the end. */
export interface RecordStream {
  next(): Promise<Uint8Array | undefined>;
  counters(): Counters;
  /** May be called at any time. */
  close(): Promise<void>;
}

/** Errors: of the target. */
export async function playedStream(
  line: Line,
  scene: Scene,
  signal: AbortSignal,
): Promise<RecordStream> {
  const target: Target = line.target(caseLabel(scene));
  await target.open(signal);
  await target.configure(configurationBytes(scene.profile));
  const waveform = makeWaveform(scene);
  let counters: Counters | undefined;
  return {
    async next() {
      signal.throwIfAborted();
      if (counters !== undefined) return undefined;
      const batch = waveform.next(BATCH_SAMPLES);
      if (batch !== undefined) return (await target.feed(batch)).slice();
      const last = await target.finish();
      counters = last.counters;
      return last.records.slice();
    },
    counters: () => counters!,
    close: () => target.close(),
  };
}

/** Errors: ResultsError with the file where the system refuses it. */
function readable<T>(path: string, work: () => T): T {
  try {
    return work();
  } catch (error) {
    const reason = systemReason((error as NodeJS.ErrnoException).code);
    throw new ResultsError(`${path}: cannot be read (${reason})`, { cause: error });
  }
}

/** The records that a run kept of a case. Errors: ResultsError where they cannot be read. */
export function keptStream(folder: string, result: CaseResult): RecordStream {
  const path = recordsPath(folder, result.id);
  const file = readable(path, () => openSync(path, "r"));
  let isOpen = true;
  return {
    async next() {
      const piece = Buffer.alloc(READ_BYTES);
      const got = readable(path, () => readSync(file, piece, 0, READ_BYTES, null));
      return got === 0 ? undefined : new Uint8Array(piece.subarray(0, got));
    },
    counters: () => result.counters,
    async close() {
      if (isOpen) closeSync(file);
      isOpen = false;
    },
  };
}

/** The cases of a folder by name. Errors: ResultsError where it is no folder of results. */
export function folderCases(folder: string): Map<string, CaseResult> {
  if (!existsSync(join(folder, "cases"))) {
    throw new ResultsError(`${folder}: no folder of results (it has no folder "cases")`);
  }
  const cases = new Map<string, CaseResult>();
  for (const id of caseIds(folder)) {
    const result = readCase(folder, id);
    cases.set(result.name, result);
  }
  return cases;
}

/** Whether a run kept the records of a case. */
export function hasRecords(folder: string, { id }: CaseResult): boolean {
  return existsSync(recordsPath(folder, id));
}
