// Which target a run is to use, as plain data that crosses to a worker.
import { readFileSync } from "node:fs";
import { Core } from "../../host/core.ts";
import { CoreTarget } from "../target/core-target.ts";
import type { Target } from "../target/target.ts";

export interface TargetSpec {
  kind: "core";
  /** The firmware's wasm file. */
  wasmPath: string;
}

/** Makes the target; it is opened by whoever runs a case. Errors: the file is missing or no core. */
export function makeTarget(spec: TargetSpec): Target {
  return new CoreTarget(new Core(readFileSync(spec.wasmPath)));
}
