// The bench itself: nothing skipped, equal work seen to be equal, a difference found.
import { describe, expect, it } from "vitest";
import { HOST_COMPILER, WASM_TO_C } from "../../host/board/tools.ts";
import { Core } from "../../host/core.ts";
import { configurationBytes } from "../../host/profile/configuration.ts";
import { systemCommand } from "../kit/system-package.ts";
import { TimedC, WASM_BUILDS, hashOf, refuseDifferent, round, timeWork } from "./core-rows.ts";
import { pythonPath, routes } from "./python-rows.ts";
import { spreadOf } from "./timing.ts";
import { growthOf } from "./whole-rows.ts";
import { FOUR_BY_TWO, WHOLE_PATH, WORKS, blocksOf } from "./works.ts";

const TIME_OUT_MS = 300_000;

function hashOn(path: string, made: ReturnType<typeof blocksOf>): string {
  const core = Core.fromFile(path);
  core.configure(configurationBytes(made.profile));
  const parts: Uint8Array[] = [];
  round(core, made, (records) => parts.push(records.slice()));
  expect(parts.length).toBeGreaterThan(5);
  return hashOf(parts);
}

describe("the bench", { timeout: TIME_OUT_MS }, () => {
  it("[BENCH-001] a row's hash moves with one sample of its work", () => {
    const made = blocksOf(WHOLE_PATH[0]!);
    const was = hashOn(WASM_BUILDS.scalar, made);
    const block = made.blocks[made.blocks.length >> 1]!;
    const view = new DataView(block.buffer, block.byteOffset);
    view.setFloat32(block.length - 16, 1000, true);
    expect(hashOn(WASM_BUILDS.scalar, made)).not.toBe(was);
  });

  it("[BENCH-002] builds that differ by a record are refused, equal ones are not", () => {
    const row = (build: string, hash: string) => ({ build, hash });
    refuseDifferent(FOUR_BY_TWO, [row("SIMD", "a"), row("scalar", "a"), row("C -O3", "a")]);
    expect(() => {
      refuseDifferent(FOUR_BY_TWO, [row("SIMD", "a"), row("scalar", "a"), row("C -O3", "b")]);
    }).toThrow("C -O3 gives other records than SIMD");
    const made = blocksOf(FOUR_BY_TWO);
    expect(hashOn(WASM_BUILDS.SIMD, made)).toBe(hashOn(WASM_BUILDS.scalar, made));
  });

  const canCompile =
    systemCommand(HOST_COMPILER.command, "gcc") !== undefined &&
    systemCommand(WASM_TO_C.command, "wabt") !== undefined;
  it.skipIf(!canCompile)("[BENCH-003] C gives the same records, and every round has a time", () => {
    const c = new TimedC();
    try {
      const { rows } = timeWork(FOUR_BY_TWO, c, 3);
      expect(rows.map(({ build }) => build)).toEqual(["SIMD", "scalar", "C -O3"]);
      for (const { nsPerFilterSample: ns } of rows) {
        expect(ns.least).toBeGreaterThan(0);
        expect(ns.median).toBeGreaterThanOrEqual(ns.least);
        expect(ns.greatest).toBeGreaterThanOrEqual(ns.median);
      }
    } finally {
      c.remove();
    }
  });

  const hasPython = systemCommand("python3", "python3-scipy") !== undefined;
  it.skipIf(!hasPython)("[BENCH-004] the Python routes read the level that is there", () => {
    const python = pythonPath();
    if (python === undefined && process.env["AMBERLINE_ALL_TESTS"] !== "1") return;
    for (const { rows } of routes(python!, 1)) {
      expect(rows.length).toBe(3);
      // Of the tracked level, with company ten times as large: what each filter leaves of it.
      for (const { errorPercent } of rows) expect(errorPercent).toBeLessThan(0.1);
      expect(new Set(rows.map(({ hash }) => hash)).size).toBe(3);
    }
  });

  it("[BENCH-005] growth that is not linear departs, whatever a start costs", () => {
    const rows = (seconds: (size: number) => number) =>
      [10, 100, 1000, 10_000].map((size) => ({ size, seconds: seconds(size), greatestMb: 1 }));
    expect(growthOf(rows((size) => 3 + 0.01 * size)).departure).toBeLessThan(1e-9);
    expect(growthOf(rows((size) => 3 + 0.01 * size ** 1.1)).departure).toBeGreaterThan(0.2);
    expect(spreadOf([3, 1, 2, 10])).toEqual({ median: 2.5, least: 1, greatest: 10 });
  });

  it("[BENCH-006] names of works are theirs alone, and say the segment that is really cut", () => {
    expect(new Set(WORKS.map(({ name }) => name)).size).toBe(WORKS.length);
    expect(FOUR_BY_TWO.name).toContain("segments 64");
  });
});
