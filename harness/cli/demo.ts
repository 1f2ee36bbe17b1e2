// `amberline demo`
import { existsSync } from "node:fs";
import { join } from "node:path";
import type { Command } from "@commander-js/extra-typings";
import { PACKAGE_ROOT } from "../../host/package-root.ts";
import { defaultJobs } from "../run/runner.ts";
import { helpTail } from "./command-errors.ts";
import { tellOutcome } from "./console-summary.ts";
import { exitCodeOf, runCases } from "./run-cases.ts";
import { folderStamp, parseJobs, parseSeed } from "./run.ts";
import { findFiles } from "./scenario-files.ts";

/** In a clone the ignored folder `out`; elsewhere a folder of its own. */
function defaultFolder(): string {
  const isClone = process.cwd() === PACKAGE_ROOT && existsSync("tsconfig.json");
  return isClone ? join("out", `demo-${folderStamp(new Date())}`) : "amberline-demo";
}

/** Adds the command `demo`. */
export function registerDemo(program: Command): void {
  program
    .command("demo")
    .description("run the demonstration on the built-in core and write its report")
    .option("--out <folder>", "where the results go")
    .option("--replace", "replace results that are in the folder, of another kind too")
    .option("--jobs <n>", "scenes at the same time", parseJobs, defaultJobs())
    .option("--only <text>", "only scenes with this in their name")
    .option("--seed <n>", "seed of all random numbers", parseSeed, 1)
    .option("--json", "print the summary as JSON")
    .option("--debug", "print the stack where something fails")
    .addHelpText("after", helpTail("amberline demo --out my-demo"))
    .action(async (options) => {
      const isJson = options.json === true;
      const folder = options.out ?? defaultFolder();
      const outcome = await runCases({
        verb: "demo",
        files: findFiles([join(PACKAGE_ROOT, "harness", "demo")], [".scenario.yaml"]),
        only: options.only,
        seed: options.seed,
        target: { kind: "core" },
        targetWords: [],
        folder,
        jobs: options.jobs,
        isReplaced: options.replace === true,
        title: "Demonstration",
        isQuiet: isJson,
      });
      process.exitCode = exitCodeOf(outcome);
      tellOutcome(outcome, folder, { isJson, isDebug: options.debug === true, details: "all" });
    });
}
