// All commands in one program.
import { Command } from "@commander-js/extra-typings";
import { packageVersion } from "../../host/package-root.ts";
import { registerCheck } from "./check.ts";
import { registerCompare } from "./compare.ts";
import { endWithError } from "./command-errors.ts";
import { registerDemo } from "./demo.ts";
import { registerMeasure } from "./measure.ts";
import { registerNew } from "./new.ts";
import { registerReplay } from "./replay.ts";
import { registerRun } from "./run.ts";
import { registerTarget } from "./target.ts";
import { registerWaveform } from "./waveform.ts";

/** The program; commands end by throwing or by setting the process's exit code. */
export function makeProgram(): Command {
  const program = new Command("amberline")
    .description(
      "Plays waveforms with a known answer through the signal path of a vibration indication " +
        "and judges the number and the amber caution.",
    )
    .version(packageVersion())
    .exitOverride()
    .showHelpAfterError("(see --help)")
    .addHelpText("after", `\nExample:\n  $ amberline demo`);
  registerDemo(program);
  registerRun(program);
  registerReplay(program);
  registerCheck(program);
  registerNew(program);
  registerTarget(program);
  registerWaveform(program);
  registerCompare(program);
  registerMeasure(program);
  return program;
}

/** A reader that closes the pipe early (`| head`) is no error of ours. */
function endQuietly(error: NodeJS.ErrnoException): void {
  if (error.code !== "EPIPE") throw error;
}

/** Runs the command line; sets the process's exit code. */
export async function main(argv: readonly string[]): Promise<void> {
  process.stdout.off("error", endQuietly).on("error", endQuietly);
  try {
    await makeProgram().parseAsync(argv);
  } catch (error) {
    process.exitCode = endWithError(error, argv.includes("--debug"));
  }
}
