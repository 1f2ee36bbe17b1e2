// What `run` and `demo` share: scenarios to cases, the interrupt, progress, results, exit code.
import { relative, resolve, sep } from "node:path";
import { BENCH_CAUTIONS } from "../../host/bench-cautions.ts";
import { type Complaint, InputError } from "../../host/input-error.ts";
import { PACKAGE_ROOT } from "../../host/package-root.ts";
import type { DeviceSpecification } from "../box/device-file.ts";
import type { ScenarioFile } from "../requirement/matrix.ts";
import type { RequirementList } from "../requirement/requirements-file.ts";
import type { Scene } from "../scene/scene.ts";
import { readScenarioFile } from "../scenario/scenario-reader.ts";
import type { Shard } from "../run/campaign.ts";
import { type PlannedCase, type RunOutcome, runPlan } from "../run/runner.ts";
import type { TargetSpec } from "../run/target-spec.ts";
import {
  CallError,
  EXIT_INPUT,
  EXIT_INTERRUPTED,
  EXIT_RIGHT,
  EXIT_TARGET,
  EXIT_WRONG,
} from "./command-errors.ts";
import { commandStart } from "./command-start.ts";
import { refuseHeld } from "./held-results.ts";
import { Pace, expectedWords, simulatedS } from "./pace.ts";
import { makeProgress } from "./progress.ts";
import { shownPath } from "./scenario-files.ts";
import { shellWord } from "./shell-word.ts";
import { hanging } from "./wrapped-text.ts";

export interface RunRequest {
  /** The command as the report repeats it. */
  verb: "run" | "demo";
  files: string[];
  only: string | undefined;
  seed: number;
  target: TargetSpec;
  /** Options that name the target, as a command repeats them. */
  targetWords: readonly string[];
  folder: string;
  jobs: number;
  /** Only this part of the cases. */
  shard?: Shard;
  /** What is in the folder, whole, is not run again. */
  isResumed?: boolean;
  /** Results of another run that are in the folder may be replaced. */
  isReplaced?: boolean;
  /** The records of each case are kept, to be compared later. */
  keepsRecords?: boolean;
  /** Second opinions beside the levels. */
  usesMethods?: boolean;
  /** The box's own specification, judged in place of ours. */
  device?: DeviceSpecification;
  /** What the cases are to prove. */
  requirements?: RequirementList;
  title: string;
  isQuiet: boolean;
}

/** A scenario's file as a report shows it: of the demonstration, from the package's own folder. */
function fileShown({ verb }: RunRequest, path: string): string {
  return verb === "run" ? shownPath(path) : relative(PACKAGE_ROOT, path).split(sep).join("/");
}

function repeatCommand(start: string, request: RunRequest, path: string, caseName: string): string {
  const words = [start, request.verb];
  if (request.verb === "run") words.push(shellWord(shownPath(path)));
  words.push("--only", shellWord(caseName), "--seed", String(request.seed));
  if (request.usesMethods === true) words.push("--methods");
  return [...words, ...request.targetWords].join(" ");
}

/** Errors: InputError with the complaints about every file that is wrong, not the first alone. */
function readAll({ files, seed }: RunRequest): { path: string; scenes: Scene[] }[] {
  const complaints: Complaint[] = [];
  const read = files.map((path) => {
    try {
      return { path, scenes: readScenarioFile(path, { seed }) };
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      complaints.push(...error.complaints);
      return { path, scenes: [] };
    }
  });
  if (complaints.length > 0) throw new InputError(complaints);
  return read;
}

/** Every case of every file, whatever of them is run. */
const scenarioFiles = (read: ReturnType<typeof readAll>): ScenarioFile[] =>
  read.map(({ path, scenes }) => ({
    path: resolve(path).split(sep).join("/"),
    cases: scenes.map(({ name, requirements }) => ({ name, requirements })),
  }));

/** Reads every file first, so that a mistake in the last one is told before anything is run. */
export function planCases(request: RunRequest, read = readAll(request)): PlannedCase[] {
  const all: PlannedCase[] = [];
  const fileOf = new Map<string, string>();
  const start = commandStart();
  for (const { path, scenes } of read) {
    for (const scene of scenes) {
      const other = fileOf.get(scene.name);
      if (other !== undefined) {
        throw new CallError(`${path}: case "${scene.name}" has the name of a case in ${other}`);
      }
      fileOf.set(scene.name, path);
      const repeat = repeatCommand(start, request, path, scene.name);
      all.push({ scene, file: fileShown(request, path), repeat, place: all.length });
    }
  }
  const { only } = request;
  const placed = (some: PlannedCase[]): PlannedCase[] =>
    some.map((one, place) => ({ ...one, place }));
  if (only === undefined) return all;
  const exact = all.filter(({ scene }) => scene.name === only);
  const isMeant = ({ scene, file }: PlannedCase): boolean =>
    scene.name.includes(only) || file.includes(only);
  const found = exact.length > 0 ? exact : all.filter(isMeant);
  if (found.length === 0) {
    throw new CallError(`--only ${only}: no case has this in its name or its file's`);
  }
  return placed(found);
}

/** The exit code that a run has earned. */
export function exitCodeOf({
  summary,
  isInterrupted,
}: Pick<RunOutcome, "summary" | "isInterrupted">): number {
  if (isInterrupted) return EXIT_INTERRUPTED;
  if (summary.failures.some((one) => one.kind !== "input")) return EXIT_TARGET;
  if (summary.failures.length > 0) return EXIT_INPUT;
  return summary.wrongCount > 0 ? EXIT_WRONG : EXIT_RIGHT;
}

/** Before the first byte goes to a port; apart from what a machine may read. */
export function tellCautions(): void {
  const lines = BENCH_CAUTIONS.map((one) => hanging("- ", one, 2));
  process.stderr.write(`Before a port is used:\n${lines.join("\n")}\n`);
}

/** Runs the cases; the first interrupt keeps what is finished, a second one ends at once. */
export async function runCases(request: RunRequest): Promise<RunOutcome> {
  const read = readAll(request);
  const cases = planCases(request, read);
  const { requirements } = request;
  refuseHeld(request.folder, {
    isReplaced: request.isReplaced === true,
    allowed: request.verb === "demo" ? "a demonstration" : request.isResumed ? "a run" : undefined,
    hint: request.verb === "run" ? " (--resume runs what is not there yet)" : "",
  });
  const controller = new AbortController();
  const onInterrupt = (): void => {
    if (controller.signal.aborted) process.exit(EXIT_INTERRUPTED);
    controller.abort();
  };
  process.on("SIGINT", onInterrupt);
  if (["serial", "module"].includes(request.target.kind)) tellCautions();
  const scenes = cases.map(({ scene }) => scene);
  const expected = request.isQuiet ? undefined : expectedWords(scenes, request.target);
  if (expected !== undefined) process.stderr.write(`${hanging("", expected, 0)}\n`);
  const progress = makeProgress(cases.length, request.isQuiet);
  const pace = new Pace(simulatedS(scenes), (words) => progress.tell(words));
  try {
    return await runPlan({
      cases,
      ...(request.shard === undefined ? {} : { shard: request.shard }),
      target: request.target,
      folder: request.folder,
      // One port carries one case at a time.
      jobs: request.target.kind === "core" ? request.jobs : 1,
      isResumed: request.isResumed,
      keepsRecords: request.keepsRecords,
      usesMethods: request.usesMethods,
      device: request.device,
      requirements: requirements && { ...requirements, files: scenarioFiles(read) },
      seed: request.seed,
      title: request.title,
      command: process.argv.slice(2),
      signal: controller.signal,
      onCase: (done, total, name) => progress.show(done, total, name),
      onSimulated: (seconds, isThere) => pace.take(seconds, isThere),
    });
  } finally {
    progress.stop();
    process.off("SIGINT", onInterrupt);
  }
}
