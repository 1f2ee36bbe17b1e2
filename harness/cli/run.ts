// `amberline run FILES…`
import { join } from "node:path";
import { type Command, InvalidArgumentError } from "@commander-js/extra-typings";
import { BAUD_DEFAULT, BAUD_MAX, BAUD_MIN } from "../../host/link/serial-port.ts";
import { SHARDS_MAX } from "../results/types.ts";
import type { Shard } from "../run/campaign.ts";
import { defaultJobs } from "../run/runner.ts";
import { readDeviceFile } from "../box/device-file.ts";
import { CallError, helpTail } from "./command-errors.ts";
import { CORE_HELP, MORE_TIME, isGivenUp, withMoreTime } from "./given-up-core.ts";
import { tellOutcome } from "./console-summary.ts";
import {
  type RequirementList,
  ownRequirements,
  readRequirements,
} from "../requirement/requirements-file.ts";
import { loadTables, writeTables } from "../results/tables.ts";
import { exitCodeOf, runCases } from "./run-cases.ts";
import { findFiles, shownPath } from "./scenario-files.ts";
import { parseTimeOut, targetOption, targetSpec, targetWords } from "./target-wish.ts";

const SEED_MAX = 0xffffffff;
const JOBS_MAX = 256;

export function wholeNumber(min: number, max: number): (text: string) => number {
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
export const parseBaud = wholeNumber(BAUD_MIN, BAUD_MAX);

/** "2/8": the second of eight parts. */
function parseShard(text: string): Shard {
  const [number, of] = text.split("/").map(Number) as [number, number];
  const isShard = /^\d+\/\d+$/.test(text) && number >= 1 && number <= of && of <= SHARDS_MAX;
  if (isShard) return { number, of };
  throw new InvalidArgumentError(
    `k/n is needed, k from 1 to n, n at most ${SHARDS_MAX}: 2/8 is the second of eight parts.`,
  );
}

const EXAMPLES =
  "amberline run harness/scenarios --only dwell --out out/dwell\n" +
  "  $ amberline run harness/demo --target serial:/dev/ttyUSB0 --record bench.log\n" +
  "  $ amberline run harness/demo --target log:bench.log\n" +
  "  $ amberline run harness/scenarios/board --target board\n" +
  "  $ amberline run campaign --shard 2/8 --out out/part-2";

/** A name for a new folder of results: the local date and time. */
export function folderStamp(now: Date): string {
  const two = (value: number): string => String(value).padStart(2, "0");
  const day = `${now.getFullYear()}${two(now.getMonth() + 1)}${two(now.getDate())}`;
  return `${day}-${two(now.getHours())}${two(now.getMinutes())}${two(now.getSeconds())}`;
}

/** Errors: CallError, InputError. */
function deviceOf(options: { device?: string; keepRecords?: true; methods?: true }) {
  const { device, keepRecords, methods } = options;
  if (methods === true) {
    throw new CallError("--methods goes without --device: what a box shows has no vector");
  }
  if (keepRecords === true) {
    throw new CallError("--keep-records goes without --device: what a box shows are no records");
  }
  const [file] = findFiles([device!], [".device.yaml"]);
  return readDeviceFile(file!);
}

/**
 * The user's own list, else the project's: of an indication, not of a box that is held against its
 * own specification. Errors: CallError, InputError.
 */
function requirementsOf(wish: { requirements?: string; device?: string }): {
  requirements?: RequirementList;
} {
  if (wish.requirements === undefined) {
    return wish.device === undefined ? { requirements: ownRequirements() } : {};
  }
  const [file] = findFiles([wish.requirements], [".yaml", ".yml"]);
  const requirements = readRequirements(file!);
  return { requirements: { file: shownPath(file!), requirements, isOwn: false } };
}

/** Adds the command `run`. */
export function registerRun(program: Command): void {
  program
    .command("run")
    .description("run scenarios against a target and judge every number and every caution")
    .argument("<files...>", "scenario files, folders, or patterns (*.scenario.yaml)")
    .addOption(targetOption())
    .option("--core <file.wasm>", "a firmware other than the built-in one")
    .option("--baud <n>", `rate of a serial port (default: ${BAUD_DEFAULT})`, parseBaud)
    .option("--time-out <time>", "give the target up after so long without an answer", parseTimeOut)
    .option("--record <file>", "write a log of a port's traffic")
    .option("--out <folder>", "where the results go (default: out/run-<date>-<time>)")
    .option("--resume", "run only what is not in the folder yet, whole")
    .option("--replace", "replace the results that are in the folder")
    .option("--device <file>", "judge by a box's own specification (*.device.yaml)")
    .option("--requirements <file>", "print what the cases prove of a list of your own")
    .option("--keep-records", "keep each case's records, for compare")
    .option("--methods", "put other methods' levels beside the firmware's, offline")
    .option("--jobs <n>", "cases at the same time (a port or a log: 1)", parseJobs, defaultJobs())
    .option("--shard <k/n>", "only the k-th of n parts of the cases, for merge", parseShard)
    .option("--parquet", "write cases, checks and numbers as tables, too")
    .option("--only <text>", "only cases with this in their name, or their file's")
    .option("--seed <n>", "seed of all random numbers", parseSeed, 1)
    .option("--json", "print the summary as JSON")
    .option("--debug", "print the stack where something fails")
    .addHelpText("after", helpTail(`${EXAMPLES}\n\n${CORE_HELP}`))
    .action(async (files, options) => {
      const isJson = options.json === true;
      if (options.resume === true && options.out === undefined) {
        throw new CallError("--resume needs --out: the folder of the run that is gone on with");
      }
      if (options.resume === true && options.replace === true) {
        throw new CallError(
          "--resume keeps what is in the folder, --replace does not: one of them",
        );
      }
      const folder = options.out ?? join("out", `run-${folderStamp(new Date())}`);
      // Told before hours of work, not after them.
      if (options.parquet === true) await loadTables();
      const outcome = await runCases({
        verb: "run",
        files: findFiles(files, [".scenario.yaml"]),
        only: options.only,
        seed: options.seed,
        target: targetSpec(options),
        targetWords: targetWords(options),
        folder,
        jobs: options.jobs,
        ...(options.shard === undefined ? {} : { shard: options.shard }),
        isResumed: options.resume === true,
        isReplaced: options.replace === true,
        keepsRecords: options.keepRecords === true,
        usesMethods: options.methods === true,
        ...(options.device === undefined ? {} : { device: deviceOf(options) }),
        ...requirementsOf(options),
        title: "Run",
        isQuiet: isJson,
      }).catch((error: unknown) => {
        throw withMoreTime(error);
      });
      if (options.parquet === true) {
        await writeTables(folder, outcome.cases, outcome.summary.failures);
      }
      process.exitCode = exitCodeOf(outcome);
      tellOutcome(outcome, folder, { isJson, isDebug: options.debug === true, details: "wrong" });
      if (outcome.summary.failures.some(({ message }) => isGivenUp(message))) {
        process.stderr.write(`A core was given up: ${MORE_TIME}.\n`);
      }
    });
}
