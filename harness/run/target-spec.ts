// Which target a run is to use, as plain data that crosses to a worker.
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
  try {
    return new CoreTarget(Core.fromFile(spec.wasmPath));
  } catch (error) {
    const said = error instanceof Error ? error.message : String(error);
    throw new Error(`${spec.wasmPath}: ${said}`, { cause: error });
  }
}
