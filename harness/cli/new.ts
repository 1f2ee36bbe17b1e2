// `amberline new [FOLDER]`: a commented profile and scenario to start from.
import { copyFileSync, existsSync, statSync } from "node:fs";
import { dirname, join } from "node:path";
import type { Command } from "@commander-js/extra-typings";
import { PACKAGE_ROOT } from "../../host/package-root.ts";
import { systemReason } from "../../host/system-error.ts";
import { makeFolder } from "../results/output-folder.ts";
import { CallError } from "./command-errors.ts";
import { commandStart } from "./command-start.ts";
import { shellWord } from "./shell-word.ts";
import { hanging } from "./wrapped-text.ts";

/** What is written, and where in the package it comes from. */
const FILES: readonly [target: string, source: string[]][] = [
  ["fan.monitor.yaml", ["harness", "scenario", "templates", "fan.monitor.yaml"]],
  ["first.scenario.yaml", ["harness", "scenario", "templates", "first.scenario.yaml"]],
  ["schemas/monitor.schema.json", ["host", "profile", "monitor.schema.json"]],
  ["schemas/scenario.schema.json", ["harness", "scenario", "scenario.schema.json"]],
];

/**
 * Writes the files to start from; nothing is written where one of them is there already.
 *
 * Errors    CallError: a file is in the way, the folder cannot be written
 */
export function writeStart(folder: string): string[] {
  if (folder === "") throw new CallError("the folder has no name");
  if (existsSync(folder) && !statSync(folder).isDirectory()) {
    throw new CallError(`${folder}: is a file; a folder is expected`);
  }
  const targets = FILES.map(([target]) => join(folder, target));
  const inTheWay = targets.filter((target) => existsSync(target));
  if (inTheWay.length > 0) {
    throw new CallError(`${inTheWay.join(", ")}: already there; nothing was written`);
  }
  try {
    for (const [index, [, source]] of FILES.entries()) {
      makeFolder(dirname(targets[index]!));
      copyFileSync(join(PACKAGE_ROOT, ...source), targets[index]!);
    }
  } catch (error) {
    const reason = systemReason((error as NodeJS.ErrnoException).code);
    throw new CallError(`${folder}: cannot be written (${reason})`);
  }
  return targets;
}

/** Adds the command `new`. */
export function registerNew(program: Command): void {
  program
    .command("new")
    .description("write a commented profile and scenario to start from")
    .argument("[folder]", "where to write them", ".")
    .option("--json", "print the names of the files as JSON")
    .option("--debug", "print the stack where something fails")
    .addHelpText("after", "\nExample:\n  $ amberline new my-fan\n  $ amberline run my-fan")
    .action((folder, options) => {
      const files = writeStart(folder);
      if (options.json === true) {
        process.stdout.write(`${JSON.stringify({ files }, null, 2)}\n`);
        return;
      }
      const next = ["check", "run"].map((verb) => {
        return `  ${commandStart()} ${verb} ${shellWord(folder)}\n`;
      });
      const written = hanging(
        "Wrote ",
        `${files.slice(0, 2).join(" and ")}; the folder schemas beside them lets an editor ` +
          "complete and check what you type.",
        2,
      );
      process.stdout.write(`${written}\nNext:\n${next.join("")}`);
    });
}
