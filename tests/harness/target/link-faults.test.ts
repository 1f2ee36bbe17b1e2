// Runs over a line that fails, with seeds of their own each time: a tenth of what `npm run figures`
// runs.
import { describe, expect, it } from "vitest";
import type { FaultName } from "../../../host/link/memory-port.ts";
import { type FaultRun, PASSING, everyFault, faultRun } from "../../kit/link-faults.ts";
import { TEST_SEED } from "../../kit/seed.ts";

const RUNS = 100;
const RIGHT_SHARE_MIN = 0.99;

async function runsOf(
  count: number,
  run: (seed: number) => Promise<FaultRun>,
): Promise<FaultRun[]> {
  const runs: FaultRun[] = [];
  for (let i = 0; i < count; i += 1) runs.push(await run(TEST_SEED + i));
  return runs;
}

describe("a line that fails", () => {
  it("[LINK-100] ends right under loss, doubling, damage, splitting and delay", async () => {
    const runs = await runsOf(RUNS, (seed) => faultRun(seed, everyFault(PASSING)));
    expect(runs.filter((one) => one.isHung)).toEqual([]);
    expect(runs.filter((one) => one.isCorrupt)).toEqual([]);
    const right = runs.filter((one) => one.isRight).length;
    expect(right).toBeGreaterThanOrEqual(RIGHT_SHARE_MIN * RUNS);
    for (const name of PASSING) {
      const met = runs.reduce((sum, one) => sum + one.met[name], 0);
      expect(met).toBeGreaterThan(RUNS / 4);
    }
  });

  it.each(["cut", "clog"] as const)(
    "[LINK-101] %s ends with a typed error and the first block lost",
    async (name: FaultName) => {
      const fault = (seed: number): Promise<FaultRun> => {
        const direction = seed % 2 === 0 ? "to device" : "to host";
        return faultRun(seed, [{ name, direction, rate: 1, fromFrame: 3 + (seed % 60) }]);
      };
      const runs = await runsOf(30, fault);
      for (const one of runs) {
        expect([one.isHung, one.isCorrupt, one.isRight]).toEqual([false, false, false]);
        expect(one.error?.kind).toBe(name === "cut" ? "closed" : "no-answer");
        const first = one.error?.firstSample;
        expect(one.firstSamples).toContain(first);
        // What the device took last may be unknown to the host, never the other way round.
        expect(first).toBeLessThanOrEqual(one.deviceNextSample);
      }
    },
  );
});

describe("the proof itself", () => {
  it("[LINK-102] sees a block that the device took otherwise than it was sent", async () => {
    const run = await faultRun(1, [], { isTampered: true });
    // The records alone need not show it: the sample counts for little before the first level.
    expect(run.isCorrupt).toBe(true);
  });
});
