// A failed test prints the command that repeats it, and that command repeats it.
import { spawnSync } from "node:child_process";
import { fileURLToPath } from "node:url";
import * as fc from "fast-check";
import { describe, expect, test } from "vitest";
import { TEST_SEED } from "../kit/seed.ts";

const ROOT = fileURLToPath(new URL("../..", import.meta.url));
const TIME_OUT_MS = 600_000;
const FAILS = "AMBERLINE_FAILS_ON_PURPOSE";

/** A shell's answer to a command that stands in the project's folder. */
function told(command: string, seed: Record<string, string> = {}): string {
  const { TEST_SEED: _, ...plain } = process.env;
  const env = { ...plain, NO_COLOR: "1", [FAILS]: "1", ...seed };
  const { stdout, stderr, status } = spawnSync("sh", ["-c", command], {
    cwd: ROOT,
    env,
    encoding: "utf8",
  });
  expect(status, stdout + stderr).toBe(1);
  return stdout + stderr;
}

/** The counterexample that a failed run tells. */
function counterexample(output: string): string {
  const found = /Counterexample: \[(.*)\]/.exec(output)?.[1];
  if (found === undefined) throw new Error(`no counterexample in: ${output}`);
  return found;
}

// Only where the test below asks for it; its name has all that a shell or a pattern would take.
if (process.env[FAILS] !== undefined) {
  describe("it's (on) purpose", () => {
    test("[LAW-040] fails $HOME by 1.5 * [a|b]?", () => {
      fc.assert(
        fc.property(fc.array(fc.nat(), { minLength: 8 }), () => false),
        { seed: TEST_SEED, endOnFailure: true },
      );
    });
    test("[LAW-040] fails as well", () => expect(1).toBe(2));
  });
}

test(
  "[LAW-040] a failed test prints a command, and the command repeats the failure",
  { timeout: TIME_OUT_MS },
  () => {
    const file = "tests/repo/repeat-command.test.ts";
    const run = `npx vitest run --config tests/vitest.config.ts ${file} -t purpose`;
    const first = told(run, { TEST_SEED: "20260101" });
    const commands = [...first.matchAll(/^ *(TEST_SEED=\d+ npx vitest .*)$/gm)];
    expect(commands).toHaveLength(2);
    const command = commands.find(([line]) => line.includes("HOME"))![1]!;
    const again = told(command);
    // It alone, from the same seed, with the same draw.
    expect(again).toContain("0 passed, 1 failed");
    expect(counterexample(again)).toBe(counterexample(first));
  },
);
