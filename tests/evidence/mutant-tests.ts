// Which tests a mutant is held against, the likeliest first: a mutant needs to be noticed once.
import { readdirSync } from "node:fs";
import { basename, join } from "node:path";
import { suiteFiles } from "../kit/regression-suite.ts";
import { ROOT } from "../repo/source-files.ts";

/** One short file of each kind of thing that may go wrong, before all others. */
const LIKELIEST = [
  "dwell/does-a-geared-tachometer-read-the-shaft.scenario.yaml",
  "tachometer/are-missed-edges-bridged-at-one-a-revolution.scenario.yaml",
  "caution/does-a-caution-without-delay-come-and-go-at-once.scenario.yaml",
  "transducer/are-samples-that-are-no-numbers-counted-and-dropped.scenario.yaml",
  "validity/does-a-caution-end-or-hold-when-the-number-goes.scenario.yaml",
  "inputs/do-inhibit-and-acknowledge-together-keep-apart.scenario.yaml",
];

/** An hour of waveform, made anew for the few mutants that survive all else. */
export const LONG_FILE = "flights/does-a-quiet-hour-bring-no-caution.scenario.yaml";

/** Files whose golden bytes are compared in the worker itself, the likeliest to differ first. */
export function goldenFiles(): string[] {
  const rest = suiteFiles().filter((file) => file !== LONG_FILE && !LIKELIEST.includes(file));
  return [...LIKELIEST, ...rest];
}

/** Words that the names of a file's own tests begin with, where it is not the file's. */
const WORDS: Record<string, string | string[]> = {
  "segment.ts": "tracker",
  "tracker.ts": "tracker",
  "response.ts": "tracker",
  "exponential.ts": "math",
  "phasor.ts": "math",
  "answer.ts": "link",
  "dispatch.ts": "link",
  "frame.ts": "link",
  "link-counters.ts": "link",
  "crc.ts": "link",
  "display-state.ts": "step",
  "step-records.ts": "step",
  "filter-facts.ts": "step",
  "inputs.ts": "step",
  "pool.ts": "pipeline",
  "memory.ts": "pipeline",
  "index.ts": ["pipeline", "link"],
  "caution.ts": ["caution", "step"],
  "pipeline.ts": ["pipeline", "split", "link"],
  "tone.ts": "health",
  "validity.ts": "validity",
};

/**
 * Groups of test files, each a run of its own: the file's own tests, and where `isThorough` every
 * other test that plays to the firmware.
 */
export function testsOf(path: string, isThorough: boolean): string[][] {
  const name = basename(path);
  const words = [WORDS[name] ?? basename(name, ".ts").split("-")[0]!].flat();
  const all = readdirSync(join(ROOT, "tests", "assembly"))
    .filter((one) => one.endsWith(".test.ts"))
    .map((one) => `tests/assembly/${one}`);
  const own = all.filter((one) => words.some((word) => basename(one).startsWith(word)));
  if (words.includes("link")) own.push("tests/host/link/client.test.ts");
  if (!isThorough) return [own];
  const rest = all.filter((one) => !own.includes(one));
  return [own, rest, ["tests/laws", "tests/host/link", "tests/host/profile"]];
}
