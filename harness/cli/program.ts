// All commands in one program.
import { Command } from "@commander-js/extra-typings";
import { packageVersion } from "../../host/package-root.ts";
import { hasLoadedAdapter } from "../adapter/load-adapter.ts";
import { registerCheck } from "./check.ts";
import { registerCompare } from "./compare.ts";
import { messageOf } from "../../host/error-message.ts";
import { EXIT_TARGET, endWithError } from "./command-errors.ts";
import { registerDemo } from "./demo.ts";
import { registerMeasure } from "./measure.ts";
import { registerMerge } from "./merge.ts";
import { registerNew } from "./new.ts";
import { registerReplay } from "./replay.ts";
import { registerRun } from "./run.ts";
import { registerTarget } from "./target.ts";
import { registerWaveform } from "./waveform.ts";
import { COLUMNS, printable, wrapped } from "./wrapped-text.ts";

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
  registerMerge(program);
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

/** An adapter's port may need so long to close after it was asked to. */
const CLOSING_MS = 1000;

/**
 * Ends the process where an adapter has left open what would keep it up for ever: a timer, a port,
 * a server. Without an adapter, or where nothing is left open, the process ends of itself.
 */
export function endLeftOpen(): void {
  if (!hasLoadedAdapter()) return;
  const end = (said: string): void => {
    // What was written is out before the process ends.
    const text = wrapped(printable(said), COLUMNS).join("\n");
    process.stdout.write("", () => process.stderr.write(`${text}\n`, () => process.exit()));
  };
  const onStray = (error: unknown): void => {
    process.exitCode = EXIT_TARGET;
    end(`The adapter threw when the run had ended: ${messageOf(error)}`);
  };
  process.on("uncaughtException", onStray).on("unhandledRejection", onStray);
  const leftOpen = "The adapter left something open (a timer, a port); its close() should end it.";
  setTimeout(end, CLOSING_MS, leftOpen).unref();
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
