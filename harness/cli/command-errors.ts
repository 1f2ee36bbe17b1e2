// How a command ends: exit codes, and errors as plain sentences.
import { CommanderError } from "@commander-js/extra-typings";
import { CAUTION_SENTENCE } from "../../host/caution-sentence.ts";
import { PortError } from "../../host/link/port.ts";
import { systemComplaint } from "../../host/system-error.ts";
import { messageOf } from "../../host/error-message.ts";
import { ResultsError } from "../results/case-file.ts";
import { TargetFailure } from "../run/run-case.ts";
import { COLUMNS, printable, wrapped } from "./wrapped-text.ts";

export const EXIT_RIGHT = 0;
export const EXIT_WRONG = 1;
export const EXIT_INPUT = 2;
export const EXIT_TARGET = 3;
export const EXIT_INTERRUPTED = 130;

/** The call is wrong: an option's value, a file that is not there. */
export class CallError extends Error {}

const EXIT_HELP =
  `Ends with 0 all judged right, 1 a verdict is wrong, 2 the input or the call is\n` +
  `wrong, 3 the target failed, 130 interrupted (what was finished is kept).`;

/** What the help of a command ends with: example, exit codes, the caution sentence. */
export function helpTail(example: string, exitHelp = EXIT_HELP): string {
  const caution = wrapped(CAUTION_SENTENCE, COLUMNS).join("\n");
  return `\nExample:\n  $ ${example}\n\n${exitHelp}\n\n${caution}`;
}

function isInputError(error: unknown): error is Error {
  return (
    error instanceof CallError ||
    error instanceof ResultsError ||
    (error instanceof Error && error.name === "InputError")
  );
}

/** Writes what went wrong and gives the exit code; the stack only with `isDebug`. */
export function endWithError(error: unknown, isDebug: boolean): number {
  if (error instanceof CommanderError) {
    // Commander has written its own sentence; help and version end with 0.
    return error.exitCode === 0 ? EXIT_RIGHT : EXIT_INPUT;
  }
  if (error instanceof Error && error.name === "AbortError") {
    process.stderr.write("Interrupted before the first case.\n");
    return EXIT_INTERRUPTED;
  }
  const said = systemComplaint(error);
  const message = said ?? messageOf(error);
  const isInput = said !== undefined || isInputError(error);
  const isKnown = isInput || error instanceof TargetFailure || error instanceof PortError;
  const text =
    isDebug && error instanceof Error
      ? (error.stack ?? message)
      : isKnown
        ? message
        : `amberline stopped at a mistake of its own: ${message}\n` +
          "Run again with --debug to see where.";
  process.stderr.write(`${printable(text)}\n`);
  return isInput ? EXIT_INPUT : EXIT_TARGET;
}
