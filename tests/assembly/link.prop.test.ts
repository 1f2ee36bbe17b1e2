// A line may send anything: no byte traps the device, and one good packet is enough to go on. A tenth
// of what `npm run figures` sends, with another seed each time.
import { expect, it } from "vitest";
import { noiseRun } from "../kit/link-noise.ts";
import { TEST_SEED } from "../kit/seed.ts";
import { BUILDS } from "./kit/core-run.ts";

const BYTES = 1e6;

it.each(BUILDS)("[LINK-025] no bytes trap the %s build or keep a good packet from it", (build) => {
  const outcome = noiseRun(build, BYTES / BUILDS.length, TEST_SEED);
  expect(outcome.missed).toBe(0);
  expect(outcome.bytes).toBeGreaterThanOrEqual(BYTES / BUILDS.length);
  // The noise is varied: each verdict came, blocks were taken, and the host's deframer, written
  // apart, saw the same in the same bytes.
  for (const count of Object.values(outcome.device)) expect(count).toBeGreaterThan(10);
  expect(outcome.blocks).toBeGreaterThan(10);
  expect(outcome.host).toEqual(outcome.device);
});
