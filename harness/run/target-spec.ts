// Which target a run is to use, as plain data that crosses to a worker.
import type { BoardName } from "../../host/board/compile.ts";
import { builtInCore } from "../../host/built-in-core.ts";
import { CallLimit } from "../../host/call-limit.ts";
import { Core } from "../../host/core.ts";
import { messageOf } from "../../host/error-message.ts";
import { CoreTarget } from "../target/core-target.ts";
import type { Target } from "../target/target.ts";

export interface CoreSpec {
  kind: "core";
  /** A firmware's wasm file; absent: the built-in one. */
  wasmPath?: string;
  /** Gives a firmware that is not our own up where it does not come back for so long. */
  giveUpMs?: number;
}

/** A device at the end of a serial line. */
export interface SerialSpec {
  kind: "serial";
  path: string;
  baud: number;
  /** Gives up where nothing is answered for so long. */
  giveUpMs?: number;
  /** Where a log of the traffic goes. */
  recordPath?: string;
}

/** The firmware as C, built and started for the run. */
export interface BoardSpec {
  kind: "board";
  name: BoardName;
  giveUpMs?: number;
  recordPath?: string;
}

/** A traffic log in place of the device that it was recorded from. */
export interface LogSpec {
  kind: "log";
  path: string;
  giveUpMs?: number;
}

/** An adapter of the user's own. */
export interface ModuleSpec {
  kind: "module";
  path: string;
  giveUpMs?: number;
}

/** What a single line leads to: one case at a time. */
export type LineSpec = SerialSpec | BoardSpec | LogSpec | ModuleSpec;
export type TargetSpec = CoreSpec | LineSpec;

/** Makes the target; it is opened by whoever runs a case. Errors: the file is missing or no core. */
export function makeTarget({ wasmPath, giveUpMs }: CoreSpec): Target {
  if (wasmPath === undefined) return new CoreTarget(builtInCore());
  try {
    if (giveUpMs === undefined) return new CoreTarget(Core.fromFile(wasmPath));
    const limit = new CallLimit(giveUpMs);
    const core = limit.run(() => Core.fromFile(wasmPath));
    return new CoreTarget(core, undefined, limit);
  } catch (error) {
    if (error instanceof Error && error.name === "AbortError") throw error;
    const said = messageOf(error);
    throw new Error(`${wasmPath}: ${said}`, { cause: error });
  }
}
