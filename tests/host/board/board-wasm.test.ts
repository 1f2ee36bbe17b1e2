// The board's build of the firmware is another WebAssembly than the release: less inlined. Its
// records must be the release's, bit for bit.
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { DATA_BYTES_MAX } from "../../../shared/capacity.ts";
import { Core } from "../../../host/core.ts";
import { playScene } from "../../kit/play-scene.ts";
import { suiteCases } from "../../kit/regression-suite.ts";
import { ROOT } from "../../repo/source-files.ts";

const FILES = [
  "tachometer/does-a-glitch-inside-the-gap-leave-the-index.scenario.yaml",
  "tachometer/is-a-drop-out-shown-as-no-computed-data-until-settled-again.scenario.yaml",
  "transducer/does-a-loose-connector-end-in-no-caution.scenario.yaml",
  "inputs/does-an-inhibit-outlast-a-number-that-goes-and-comes.scenario.yaml",
];

const path = join(ROOT, "build", "core", "board.wasm");

describe("the board's WebAssembly", () => {
  it.each(FILES)("[BOARD-001] gives the release's records: %s", async (file) => {
    for (const scene of suiteCases(file)) {
      const release = await playScene(scene);
      const board = await playScene(scene, { core: Core.fromFile(path) });
      expect(release.records.length).toBeGreaterThan(1000);
      expect(Buffer.from(board.records).equals(Buffer.from(release.records))).toBe(true);
      expect(board.counters).toEqual(release.counters);
    }
  });

  it("[BOARD-002] imports nothing and ends its data at or below the contract's limit", async () => {
    const module = new WebAssembly.Module(new Uint8Array(readFileSync(path)));
    expect(WebAssembly.Module.imports(module)).toEqual([]);
    const { exports } = new WebAssembly.Instance(module, {});
    const end = (exports["addressDataEnd"] as () => number)();
    expect(end).toBeGreaterThan(0);
    expect(end).toBeLessThanOrEqual(DATA_BYTES_MAX);
  });
});
