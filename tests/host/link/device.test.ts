import { describe, expect, it } from "vitest";
import { linkBench } from "../../kit/link-bench.ts";
import { loadCore } from "../../kit/play-scene.ts";

describe("the core as a device", () => {
  it.each([
    ["unreachable", /one of its own assertions failed/],
    ["memory access out of bounds", /an address outside its memory/],
    ["odd", /a reason that it does not name/],
  ])("[LINK-075] a trap (%s) is its last word, as on a board", async (trap, words) => {
    const core = loadCore();
    const traps: unknown[] = [];
    const bench = await linkBench({ core, device: { onFault: (error) => traps.push(error) } });
    await bench.run(bench.target.open(new AbortController().signal));
    core.linkTake = () => {
      throw new Error(trap);
    };
    const said = await bench.run(bench.target.reset()).catch((error: unknown) => error);
    expect((said as Error).message).toMatch(words);
    expect(traps.length).toBe(1);
  });
});
