// Builds one mutant at a time and holds it against the tests: a process of its own, since a mutant may
// never come to an end. Takes {mutant} messages, answers {outcome}.
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { main as compile } from "assemblyscript/asc";
import { Core } from "../../host/core.ts";
import { CoreTarget } from "../../harness/target/core-target.ts";
import { configurationBytes } from "../../host/profile/configuration.ts";
import type { BlockBatch } from "../../harness/target/target.ts";
import { makeWaveform } from "../../harness/waveform/waveform.ts";
import { digestOf, goldenSet } from "../kit/golden-set.ts";
import { type Played, playScene } from "../kit/play-scene.ts";
import { suiteCases } from "../kit/regression-suite.ts";
import { ROOT } from "../repo/source-files.ts";
import { type Mutant, mutated } from "./mutants.ts";
import { LONG_FILE, goldenFiles, testsOf } from "./mutant-tests.ts";
import { sourceOf } from "./syntax.ts";
import { WorkCopy } from "./work-copy.ts";

export type Outcome =
  /** An assertion failed, of the frozen bytes or of the tests named. */
  | { kind: "killed"; by: string }
  /** The firmware trapped where it must not. */
  | { kind: "trapped"; by: string }
  | { kind: "timed out"; by: string }
  /** Its worker ended. */
  | { kind: "no outcome"; by: string }
  | { kind: "survived" }
  /** The compiler refuses it: no mutant. */
  | { kind: "no build" }
  /** Both builds are those of the firmware, byte for byte: no mutant. */
  | { kind: "same build" };

const TEST_MS_MAX = 240_000;

/** A scene's input, kept: only the firmware is another one each time. */
interface Kept {
  configuration: Uint8Array;
  batches: BlockBatch[];
}

function keep(file: string): Kept[] {
  return suiteCases(file).map((scene) => {
    const waveform = makeWaveform(scene);
    const batches: BlockBatch[] = [];
    for (let batch = waveform.next(65_536); batch !== undefined; batch = waveform.next(65_536)) {
      batches.push(structuredClone(batch));
    }
    return { configuration: configurationBytes(scene.profile), batches };
  });
}

async function played(wasm: Uint8Array, { configuration, batches }: Kept): Promise<Played> {
  const target = new CoreTarget(new Core(wasm));
  await target.open(new AbortController().signal);
  await target.configure(configuration);
  const parts: Uint8Array[] = [];
  for (const batch of batches) parts.push(await target.feed(batch));
  const { records, counters } = await target.finish();
  return { records: Buffer.concat([...parts, records]), counters };
}

/** Compiles a target with one file put in the place of the project's. */
async function built(
  target: string,
  path: string,
  text: string,
  more: readonly string[] = [],
): Promise<Uint8Array | undefined> {
  let wasm: Uint8Array | undefined;
  const { error } = await compile(["--target", target, ...more], {
    readFile: (name, base) => {
      if (name === path) return text;
      try {
        return readFileSync(join(base === "." ? ROOT : join(ROOT, base), name), "utf8");
      } catch {
        return null;
      }
    },
    writeFile: (name, bytes) => {
      if (name.endsWith(".wasm")) wasm = bytes as Uint8Array;
    },
    listFiles: () => [],
  });
  return error === null ? wasm : undefined;
}

/** Of the firmware itself. */
function ownBuild(target: string): Buffer {
  return readFileSync(join(ROOT, buildPath(target)));
}

function buildPath(target: string): string {
  return `build/core/${target}.wasm`;
}

class Bench {
  readonly #copy = new WorkCopy();
  readonly #own = { release: ownBuild("release"), debug: ownBuild("debug") };
  /** Groups of tests that pass on the firmware itself. */
  readonly #right = new Set<string>();
  readonly #golden = goldenSet().digests;
  readonly #kept = goldenFiles().map((file) => [file, keep(file)] as const);

  readonly #isThorough = process.argv.includes("--thorough");

  /** Errors: throws where the firmware itself does not give the golden set. */
  async start(): Promise<void> {
    const outcome = await this.#goldenBytes(this.#own.release);
    if (outcome !== undefined) throw new Error(`not the golden set: ${outcome.by}`);
  }

  async outcomeOf(mutant: Mutant): Promise<Outcome> {
    const { path } = mutant;
    const text = mutated(sourceOf(path), mutant);
    // All builds give the same bytes; the one that is made in a moment shows most mutants.
    const quick = await built("release", path, text, ["--optimizeLevel", "0"]);
    if (quick === undefined) return { kind: "no build" };
    const early = await this.#goldenBytes(quick);
    if (early !== undefined) return early;
    process.send!({ isAtTests: true });
    const release = await built("release", path, text);
    const debug = await built("debug", path, text);
    if (release === undefined || debug === undefined) return { kind: "no build" };
    if (this.#own.release.equals(release) && this.#own.debug.equals(debug)) {
      return { kind: "same build" };
    }
    this.#put(path, text, { release, debug });
    try {
      const tested = this.#tests(path);
      return tested.kind === "survived" ? this.#longBytes(release) : tested;
    } finally {
      this.#put(path, sourceOf(path), this.#own);
    }
  }

  #put(path: string, text: string, builds: { release: Uint8Array; debug: Uint8Array }): void {
    this.#copy.put(path, text);
    this.#copy.put(buildPath("release"), builds.release);
    this.#copy.put(buildPath("debug"), builds.debug);
  }

  async #goldenBytes(wasm: Uint8Array): Promise<Extract<Outcome, { by: string }> | undefined> {
    for (const [file, scenes] of this.#kept) {
      const cases: Played[] = [];
      try {
        for (const scene of scenes) cases.push(await played(wasm, scene));
      } catch (error) {
        const isTrap = error instanceof WebAssembly.RuntimeError;
        return { kind: isTrap ? "trapped" : "killed", by: file };
      }
      if (digestOf(cases) !== this.#golden[file]) return { kind: "killed", by: file };
    }
    return undefined;
  }

  async #longBytes(wasm: Uint8Array): Promise<Outcome> {
    const cases: Played[] = [];
    for (const scene of suiteCases(LONG_FILE)) {
      cases.push(await playScene(scene, { core: new Core(wasm) }));
    }
    const isSame = digestOf(cases) === this.#golden[LONG_FILE];
    return isSame ? { kind: "survived" } : { kind: "killed", by: LONG_FILE };
  }

  #tests(path: string): Outcome {
    for (const tests of testsOf(path, this.#isThorough)) {
      const outcome = this.#outcomeBy(tests);
      if (outcome.kind === "survived") continue;
      this.#put(path, sourceOf(path), this.#own);
      this.#requireRight(tests);
      return outcome;
    }
    return { kind: "survived" };
  }

  #outcomeBy(tests: readonly string[]): Outcome {
    const done = this.#copy.test(tests, { isFirstEnough: true, timeoutMs: TEST_MS_MAX });
    const by = tests.join(" ");
    const said = done.stdout + done.stderr;
    // A slow machine kills no mutant.
    const isLate = /(Test|Hook) timed out/.test(said) && !said.includes("AssertionError");
    if (done.signal !== null || isLate) return { kind: "timed out", by };
    if (done.status === 0) return { kind: "survived" };
    const failed = /FAIL\s+(.*)/.exec(said)?.[1] ?? by;
    const isTrap = /RuntimeError: unreachable/.test(said);
    return { kind: isTrap ? "trapped" : "killed", by: failed };
  }

  /** Tests that fail on the firmware itself say nothing of a mutant. */
  #requireRight(tests: readonly string[]): void {
    const group = tests.join(" ");
    if (this.#right.has(group)) return;
    const outcome = this.#outcomeBy(tests);
    if (outcome.kind !== "survived") {
      throw new Error(`without a mutant: ${outcome.kind} by ${"by" in outcome ? outcome.by : ""}`);
    }
    this.#right.add(group);
  }

  end(): void {
    this.#copy.remove();
  }
}

const bench = new Bench();
await bench.start();
process.send!({ isReady: true });
process.on("message", ({ mutant }: { mutant?: Mutant }) => {
  if (mutant === undefined) {
    bench.end();
    process.disconnect();
    return;
  }
  void bench.outcomeOf(mutant).then(
    (outcome) => process.send!({ outcome }),
    (error: unknown) => {
      process.stderr.write(`${String(error)}\n`);
      process.exit(1);
    },
  );
});
