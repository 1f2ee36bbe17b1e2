// The firmware that runs where no other is named: the build with SIMD where it is there and
// this machine takes it, the scalar one elsewhere. Both are of one source and give the same bits, so that results of either
// stand under the scalar build's identity.
import { existsSync, readFileSync } from "node:fs";
import { Core, coreIdentity } from "./core.ts";
import { releaseCorePath, simdCorePath } from "./package-root.ts";

export type CoreBuild = "simd" | "scalar";

interface BuiltIn {
  wasm: Uint8Array;
  build: CoreBuild;
  identity: string;
}

let found: BuiltIn | undefined;

/** Reads the files once a thread. */
function builtIn(): BuiltIn {
  if (found !== undefined) return found;
  const scalar = readFileSync(releaseCorePath());
  const simd = existsSync(simdCorePath()) ? readFileSync(simdCorePath()) : undefined;
  const isTaken = simd !== undefined && WebAssembly.validate(simd);
  found = {
    wasm: isTaken ? simd : scalar,
    build: isTaken ? "simd" : "scalar",
    identity: coreIdentity(scalar),
  };
  return found;
}

/** A fresh instance of the built-in firmware. */
export function builtInCore(): Core {
  const { wasm, identity } = builtIn();
  return new Core(wasm, identity);
}

/** Which build this machine takes. */
export function builtInBuild(): CoreBuild {
  return builtIn().build;
}
