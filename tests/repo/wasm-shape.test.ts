import { readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { DATA_BYTES_MAX } from "../../shared/capacity.ts";
import { ROOT } from "./source-files.ts";

const RELEASE_BYTES_MAX = 32 * 1024;

function wasmBytes(build: "release" | "simd" | "debug"): Buffer {
  return readFileSync(join(ROOT, "build", "core", `${build}.wasm`));
}

describe.each(["release", "simd", "debug"] as const)("%s wasm", (build) => {
  const bytes = wasmBytes(build);
  const module = new WebAssembly.Module(new Uint8Array(bytes));
  const text = readFileSync(join(ROOT, "build", "core", `${build}.wat`), "utf8");

  it(`[REPO-020] ${build} imports nothing`, () => {
    expect(WebAssembly.Module.imports(module)).toEqual([]);
  });

  it(`[REPO-021] ${build} has one page that cannot grow, and no allocator`, () => {
    expect(text).toMatch(/\(memory \$0 1 1\)/);
    expect(text).not.toContain("memory.grow");
    expect(text).not.toMatch(/~lib\/rt\/(?!common)/);
    expect(text).not.toMatch(/\bf64\.(add|mul|div)\b/);
  });

  it(`[REPO-022] ${build} ends its static data at or below the contract's limit`, () => {
    const { exports } = new WebAssembly.Instance(module, {});
    const end = (exports["addressDataEnd"] as () => number)();
    expect(end).toBeGreaterThan(0);
    expect(end).toBeLessThanOrEqual(DATA_BYTES_MAX);
  });

  it(`[REPO-023] ${build} exports functions and its memory, nothing else`, () => {
    const kinds = new Set(WebAssembly.Module.exports(module).map((one) => one.kind));
    expect([...kinds].sort()).toEqual(["function", "memory"]);
  });
});

describe.each(["release", "simd"] as const)("%s wasm", (build) => {
  it(`[REPO-024] ${build} is at most 32 KiB`, () => {
    expect(wasmBytes(build).byteLength).toBeLessThanOrEqual(RELEASE_BYTES_MAX);
  });
});

describe("vectors", () => {
  const vectors = /\bv128\b/;
  it("[REPO-025] are in the build with SIMD and in no other", () => {
    const textOf = (build: string): string =>
      readFileSync(join(ROOT, "build", "core", `${build}.wat`), "utf8");
    expect(textOf("simd")).toMatch(vectors);
    for (const build of ["release", "debug"]) expect(textOf(build)).not.toMatch(vectors);
  });
});
