// The notes of a finished run, read back: run.json and summary.json.
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { z } from "zod";
import { ResultsError, parseResults } from "./case-file.ts";
import { type RunInfo, SHARDS_MAX, type Summary } from "./types.ts";

const RUN_FORM = z.looseObject({
  elapsedS: z.number(),
  isInterrupted: z.boolean(),
  title: z.string(),
  command: z.array(z.string()),
  shard: z
    .looseObject({ number: z.int().min(1), of: z.int().min(1).max(SHARDS_MAX) })
    .refine(({ number, of }) => number <= of)
    .optional(),
  calledCount: z.int().min(0),
  cases: z.array(
    z.looseObject({
      name: z.string(),
      file: z.string(),
      repeat: z.string(),
      place: z.int().min(0),
      id: z
        .string()
        .regex(/^[0-9a-f]{16}$/)
        .optional(),
      elapsedS: z.number().optional(),
    }),
  ),
  requirements: z
    .looseObject({
      file: z.string(),
      isOwn: z.boolean(),
      requirements: z.array(z.looseObject({ id: z.string() })),
      files: z.array(
        z.looseObject({ path: z.string(), cases: z.array(z.looseObject({ name: z.string() })) }),
      ),
    })
    .optional(),
});

const SUMMARY_FORM = z.looseObject({
  packageVersion: z.string(),
  seed: z.number(),
  target: z.looseObject({
    kind: z.string(),
    identity: z.string(),
    layoutVersion: z.number(),
    numericsVersion: z.number(),
  }),
  plannedCount: z.int().min(0),
  caseCount: z.int().min(0),
  failures: z.array(
    z.looseObject({
      name: z.string(),
      kind: z.enum(["target", "input", "defect"]),
      message: z.string(),
    }),
  ),
});

function readForm(folder: string, name: string, form: z.ZodType): unknown {
  const path = join(folder, name);
  let text: string;
  try {
    text = readFileSync(path, "utf8");
  } catch (error) {
    const code = (error as NodeJS.ErrnoException).code;
    const why = code === "ENOENT" ? "there is none: the run has not ended" : `${code}`;
    throw new ResultsError(`${path}: cannot be read (${why})`, { cause: error });
  }
  const formed = form.safeParse(parseResults(text, path));
  if (!formed.success) {
    const where = formed.error.issues[0]!.path.join(".");
    throw new ResultsError(`${path}: no note of a run as this program writes it, by "${where}"`);
  }
  return formed.data;
}

/** Errors: ResultsError where it is not there, not whole, of another version or of another kind. */
export function readRunInfo(folder: string): RunInfo {
  return readForm(folder, "run.json", RUN_FORM) as RunInfo;
}

/** Errors: as readRunInfo. */
export function readSummaryNote(folder: string): Summary {
  return readForm(folder, "summary.json", SUMMARY_FORM) as Summary;
}
