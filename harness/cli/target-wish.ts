// The options of `run` that say what carries the signal path.
import { existsSync } from "node:fs";
import { InvalidArgumentError, Option } from "@commander-js/extra-typings";
import { BOARD_NAMES, type BoardName } from "../../host/board/compile.ts";
import { isTrafficLog } from "../../host/link/traffic-log.ts";
import { CALL_MS_MAX } from "../../host/call-limit.ts";
import { BAUD_DEFAULT } from "../../host/link/serial-port.ts";
import { parseQuantity } from "../../host/quantity.ts";
import type { TargetSpec } from "../run/target-spec.ts";
import { openableFileBytes } from "../recording/openable-file.ts";
import { checkAdapterFile } from "../adapter/load-adapter.ts";
import { CallError } from "./command-errors.ts";
import { checkCoreFile } from "./core-file.ts";
import { checkOutputFile } from "./output-file.ts";
import { shownPath } from "./scenario-files.ts";
import { shellWord } from "./shell-word.ts";

/** Shorter than this a device that was only just opened has no time to answer. */
const TIME_OUT_S_MIN = 0.1;
const TIME_OUT_S_MAX = 3600;

export interface TargetName {
  kind: "core" | "serial" | "board" | "log" | "module";
  /** Of the port, the log or the module, the board's name; empty for the core. */
  path: string;
}

/** `core`, `serial:PATH`, `board`, `board:NAME`, `log:FILE`, `module:FILE`. */
export function parseTarget(text: string): TargetName {
  if (text === "core") return { kind: "core", path: "" };
  if (text === "board") return { kind: "board", path: BOARD_NAMES[0] };
  const found = /^(serial|board|log|module):(.+)$/s.exec(text);
  if (found === null) {
    throw new InvalidArgumentError(
      "Allowed choices are core, serial:PATH, board, board:posix, log:FILE, module:FILE.",
    );
  }
  if (found[1] === "board" && !BOARD_NAMES.some((name) => name === found[2])) {
    throw new InvalidArgumentError(`There is no board ${found[2]}, but ${BOARD_NAMES.join(", ")}.`);
  }
  return { kind: found[1] as "serial" | "log", path: found[2]! };
}

/** The option of every command that runs something on a target. */
export const targetOption = () =>
  new Option(
    "--target <kind>",
    "core, serial:PATH, board (emulated), board:posix, log:FILE, module:FILE",
  )
    .argParser(parseTarget)
    .default({ kind: "core", path: "" } as TargetName, "core");

/** A time as "5 s" or "500 ms", in seconds. */
export function parseTimeOut(text: string): number {
  const parsed = parseQuantity(text, { dimensions: ["time"] });
  if (typeof parsed === "string") throw new InvalidArgumentError(`the time-out ${parsed}.`);
  if (parsed.value < TIME_OUT_S_MIN || parsed.value > TIME_OUT_S_MAX) {
    throw new InvalidArgumentError("a time from 100 ms to 1 h is needed.");
  }
  return parsed.value;
}

export interface TargetOptions {
  target: TargetName;
  core?: string;
  baud?: number;
  timeOut?: number;
  record?: string;
  /** A box's own specification. */
  device?: string;
}

/** Errors: CallError where an option is not of this target, or a file cannot be what it is to be. */
export function targetSpec(options: TargetOptions): TargetSpec {
  const { kind, path } = options.target;
  const { core, baud, timeOut, record } = options;
  const only = (name: string, value: unknown, kinds: readonly string[]): void => {
    if (value === undefined || kinds.includes(kind)) return;
    throw new CallError(`--${name} goes with --target ${kinds.join(" or ")}, not with ${kind}`);
  };
  only("core", core, ["core"]);
  only("baud", baud, ["serial"]);
  only("record", record, ["serial", "board"]);
  const giveUpMs = timeOut === undefined ? undefined : timeOut * 1000;
  if (kind === "core") {
    if (core === undefined && giveUpMs !== undefined) {
      throw new CallError(
        "--time-out goes with --core or another --target: the built-in core ends",
      );
    }
    if (core === undefined) return { kind };
    checkCoreFile(core);
    return { kind, wasmPath: core, giveUpMs: giveUpMs ?? CALL_MS_MAX };
  }
  if (kind === "module") {
    checkAdapterFile(path);
    return { kind, path, giveUpMs };
  }
  if (kind === "log") {
    if (!existsSync(path)) throw new CallError(`${path}: no such file`);
    openableFileBytes(path);
    return { kind, path, giveUpMs };
  }
  if (record !== undefined) checkRecord(record);
  if (kind === "board") {
    return { kind, name: path as BoardName, giveUpMs, recordPath: record };
  }
  return { kind, path, baud: baud ?? BAUD_DEFAULT, giveUpMs, recordPath: record };
}

/** A file of the user's own is never written over by a log. */
function checkRecord(path: string): void {
  checkOutputFile("record", path);
  if (!isTrafficLog(path)) {
    throw new CallError(`${path}: is there, and no traffic log; it is not written over`);
  }
}

/** The options as they are typed again, ready for a shell. */
export function targetWords(options: TargetOptions): string[] {
  const { target, core, baud, timeOut, device } = options;
  const words: string[] = [];
  if (target.kind === "log") words.push("--target", shellWord(`log:${shownPath(target.path)}`));
  if (target.kind === "module")
    words.push("--target", shellWord(`module:${shownPath(target.path)}`));
  if (target.kind === "board") words.push("--target", `board:${target.path}`);
  if (target.kind === "serial") words.push("--target", shellWord(`serial:${target.path}`));
  if (core !== undefined) words.push("--core", shellWord(shownPath(core)));
  if (baud !== undefined) words.push("--baud", String(baud));
  if (timeOut !== undefined) words.push("--time-out", shellWord(`${timeOut} s`));
  if (device !== undefined) words.push("--device", shellWord(shownPath(device)));
  return words;
}
