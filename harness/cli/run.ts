// `amberline run FILES…`
import { join } from "node:path";
import { type Command, InvalidArgumentError, Option } from "@commander-js/extra-typings";
import { releaseCorePath } from "../../host/package-root.ts";
import { defaultJobs } from "../run/runner.ts";
import { helpTail } from "./command-errors.ts";
import { tellOutcome } from "./console-summary.ts";
import { checkCoreFile } from "./core-file.ts";
import { exitCodeOf, runCases } from "./run-cases.ts";
import { findFiles } from "./scenario-files.ts";

const SEED_MAX = 0xffffffff;
const JOBS_MAX = 256;

function wholeNumber(min: number, max: number): (text: string) => number {
  return (text) => {
    const value = Number(text);
    if (!/^\d+$/.test(text) || value < min || value > max) {
      throw new InvalidArgumentError(`a whole number from ${min} to ${max} is needed.`);
    }
    return value;
  };
}

export const parseSeed = wholeNumber(0, SEED_MAX);
export const parseJobs = wholeNumber(1, JOBS_MAX);

/** A name for a new folder of results: the local date and time. */
export function folderStamp(now: Date): string {
  const two = (value: number): string => String(value).padStart(2, "0");
  const day = `${now.getFullYear()}${two(now.getMonth() + 1)}${two(now.getDate())}`;
  return `${day}-${two(now.getHours())}${two(now.getMinutes())}${two(now.getSeconds())}`;
}

/** Adds the command `run`. */
export function registerRun(program: Command): void {
  program
    .command("run")
    .description("run scenarios against a target and judge every number and every caution")
    .argument("<files...>", "scenario files, folders, or patterns (*.scenario.yaml)")
    .addOption(
      new Option("--target <kind>", "what carries the signal path")
        .choices(["core"] as const)
        .default("core" as const),
    )
    .option("--core <file.wasm>", "a firmware other than the built-in one")
    .option("--out <folder>", "where the results go (default: out/run-<date>-<time>)")
    .option("--jobs <n>", "cases at the same time", parseJobs, defaultJobs())
    .option("--only <text>", "only cases with this in their name")
    .option("--seed <n>", "seed of all random numbers", parseSeed, 1)
    .option("--json", "print the summary as JSON")
    .option("--debug", "print the stack where something fails")
    .addHelpText("after", helpTail("amberline run scenarios --only dwell --out out/dwell"))
    .action(async (files, options) => {
      const isJson = options.json === true;
      if (options.core !== undefined) checkCoreFile(options.core);
      const folder = options.out ?? join("out", `run-${folderStamp(new Date())}`);
      const outcome = await runCases({
        verb: "run",
        files: findFiles(files, [".scenario.yaml"]),
        only: options.only,
        seed: options.seed,
        corePath: options.core ?? releaseCorePath(),
        coreOption: options.core,
        folder,
        jobs: options.jobs,
        title: "Run",
        isQuiet: isJson,
      });
      process.exitCode = exitCodeOf(outcome);
      tellOutcome(outcome, folder, { isJson, isDebug: options.debug === true, details: "wrong" });
    });
}
