// The firmware that runs where no other is named: the build with SIMD where it is there and
// this machine takes it, the scalar one elsewhere. Both are of one source and give the same bits, so that results of either
// stand under the scalar build's identity.
import { existsSync, readFileSync } from "node:fs";
import { Core, coreIdentity } from "./core.ts";
import { releaseCorePath, simdCorePath } from "./package-root.ts";

export type CoreBuild = "simd" | "scalar";

interface BuiltIn {
  /** Compiled once a thread: instances share what the engine has made of it so far. */
  module: WebAssembly.Module;
  build: CoreBuild;
  identity: string;
}

let found: BuiltIn | undefined;

/** Reads and compiles once a thread. */
function builtIn(): BuiltIn {
  if (found !== undefined) return found;
  const scalar = new Uint8Array(readFileSync(releaseCorePath()));
  const path = simdCorePath();
  const simd = existsSync(path) ? new Uint8Array(readFileSync(path)) : undefined;
  const isTaken = simd !== undefined && WebAssembly.validate(simd);
  found = {
    module: new WebAssembly.Module(isTaken ? simd : scalar),
    build: isTaken ? "simd" : "scalar",
    identity: coreIdentity(scalar),
  };
  return found;
}

/** A fresh instance of the built-in firmware. */
export function builtInCore(): Core {
  const { module, identity } = builtIn();
  return new Core(module, identity);
}

/** Which build this machine takes. */
export function builtInBuild(): CoreBuild {
  return builtIn().build;
}
