// Draws TEST_SEED where none is given and prints it, so that a failure can be run again. Under CI a
// missing seed is an error: the script that starts the tests must draw and print it.
import type { TestProject } from "vitest/node";

export default function setup(_project: TestProject): void {
  const given = process.env["TEST_SEED"];
  if (given !== undefined && !/^\d{1,10}$/.test(given)) {
    throw new Error(`TEST_SEED must be a whole number, found "${given}"`);
  }
  if (given === undefined) {
    if (process.env["CI"] !== undefined) throw new Error("TEST_SEED must be set under CI");
    process.env["TEST_SEED"] = String(Math.floor(Math.random() * 2 ** 31));
  }
  process.stdout.write(`TEST_SEED=${process.env["TEST_SEED"]}\n`);
}
