// `amberline merge FOLDERS…`
import { resolve } from "node:path";
import type { Command } from "@commander-js/extra-typings";
import { loadTables, writeTables } from "../results/tables.ts";
import { mergeRuns } from "../run/merge.ts";
import { CallError, helpTail } from "./command-errors.ts";
import { tellOutcome } from "./console-summary.ts";
import { refuseHeld } from "./held-results.ts";
import { exitCodeOf } from "./run-cases.ts";

/** Errors: CallError where a folder is named twice or is the one that is written. */
function checkFolders(folders: readonly string[], out: string): void {
  const seen = new Set<string>();
  for (const folder of folders) {
    const path = resolve(folder);
    if (seen.has(path)) throw new CallError(`${folder}: is named twice`);
    if (path === resolve(out)) throw new CallError(`${folder}: is read, so --out must be another`);
    seen.add(path);
  }
}

/** Adds the command `merge`. */
export function registerMerge(program: Command): void {
  program
    .command("merge")
    .description("join the shards of a run into one folder of results")
    .argument("<folders...>", "results of `run --shard`, one folder a shard")
    .requiredOption("--out <folder>", "where the results go")
    .option("--part", "join what there is, though shards are missing or were cut off")
    .option("--mixed", "join results of different targets or versions")
    .option("--parquet", "write cases, checks and numbers as tables, too")
    .option("--replace", "replace the results that are in the folder")
    .option("--json", "print the summary as JSON")
    .option("--debug", "print the stack where something fails")
    .addHelpText("after", helpTail("amberline merge out/part-1 out/part-2 --out out/all"))
    .action(async (folders, options) => {
      const { out } = options;
      checkFolders(folders, out);
      refuseHeld(out, { isReplaced: options.replace === true });
      if (options.parquet === true) await loadTables();
      const wish = { isPart: options.part === true, isMixed: options.mixed === true };
      const merged = mergeRuns(folders, out, process.argv.slice(2), wish);
      if (options.parquet === true) await writeTables(out, merged.cases, merged.summary.failures);
      process.exitCode = exitCodeOf(merged);
      const isJson = options.json === true;
      tellOutcome(merged, out, { isJson, isDebug: options.debug === true, details: "wrong" });
      if (merged.missing.length > 0) {
        process.stderr.write(`Not there: shard ${merged.missing.join(", ")}.\n`);
      }
    });
}
