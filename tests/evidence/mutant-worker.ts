// Builds one mutant at a time and holds it against the tests: a process of its own, since a mutant may
// never come to an end. Takes {mutant} messages, answers {outcome}.
import { createHash } from "node:crypto";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { main as compile } from "assemblyscript/asc";
import { Core } from "../../host/core.ts";
import { CoreTarget } from "../../harness/target/core-target.ts";
import { configurationBytes } from "../../host/profile/configuration.ts";
import type { BlockBatch } from "../../harness/target/target.ts";
import { makeWaveform } from "../../harness/waveform/waveform.ts";
import { suiteCases } from "../kit/regression-suite.ts";
import { ROOT } from "../repo/source-files.ts";
import { type Mutant, mutated } from "./mutants.ts";
import { FROZEN_FILES, testsOf } from "./mutant-tests.ts";
import { sourceOf } from "./syntax.ts";
import { WorkCopy } from "./work-copy.ts";

export type Outcome =
  /** An assertion failed, of the frozen bytes or of the tests named. */
  | { kind: "killed"; by: string }
  /** The firmware trapped where it must not. */
  | { kind: "trapped"; by: string }
  | { kind: "timed out"; by: string }
  | { kind: "survived" }
  /** The compiler refuses it: no mutant. */
  | { kind: "no build" };

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

async function digestOf(wasm: Uint8Array, { configuration, batches }: Kept): Promise<string> {
  const target = new CoreTarget(new Core(wasm));
  await target.open(new AbortController().signal);
  await target.configure(configuration);
  const hash = createHash("sha256");
  for (const batch of batches) hash.update(await target.feed(batch));
  hash.update((await target.finish()).records);
  return hash.digest("hex");
}

/** Compiles a target with one file put in the place of the project's. */
async function built(target: string, path: string, text: string): Promise<Uint8Array | undefined> {
  let wasm: Uint8Array | undefined;
  const { error } = await compile(["--target", target], {
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

class Bench {
  readonly #copy = new WorkCopy();
  readonly #kept = FROZEN_FILES.map((file) => [file, keep(file)] as const);
  readonly #frozen = new Map<string, string[]>();

  async start(): Promise<void> {
    const wasm = readFileSync(join(ROOT, "build", "core", "release.wasm"));
    for (const [file, scenes] of this.#kept) {
      this.#frozen.set(file, await Promise.all(scenes.map((one) => digestOf(wasm, one))));
    }
  }

  async outcomeOf(mutant: Mutant): Promise<Outcome> {
    const { path } = mutant;
    const text = mutated(sourceOf(path), mutant);
    const release = await built("release", path, text);
    if (release === undefined) return { kind: "no build" };
    const early = await this.#frozenBytes(release);
    if (early !== undefined) return early;
    const debug = await built("debug", path, text);
    if (debug === undefined) return { kind: "no build" };
    this.#copy.put(path, text);
    this.#copy.put("build/core/release.wasm", release);
    this.#copy.put("build/core/debug.wasm", debug);
    try {
      return this.#tests(path);
    } finally {
      this.#copy.put(path, sourceOf(path));
    }
  }

  async #frozenBytes(wasm: Uint8Array): Promise<Outcome | undefined> {
    for (const [file, scenes] of this.#kept) {
      const expected = this.#frozen.get(file)!;
      for (const [i, scene] of scenes.entries()) {
        try {
          if ((await digestOf(wasm, scene)) !== expected[i]) return { kind: "killed", by: file };
        } catch (error) {
          const isTrap = error instanceof WebAssembly.RuntimeError;
          return { kind: isTrap ? "trapped" : "killed", by: file };
        }
      }
    }
    return undefined;
  }

  #tests(path: string): Outcome {
    for (const tests of testsOf(path)) {
      const done = this.#copy.test(tests, { isFirstEnough: true, timeoutMs: TEST_MS_MAX });
      const by = tests.join(" ");
      if (done.signal !== null) return { kind: "timed out", by };
      if (done.status === 0) continue;
      const failed = /FAIL\s+(.*)/.exec(done.stdout + done.stderr)?.[1] ?? by;
      const isTrap = /RuntimeError: unreachable/.test(done.stdout + done.stderr);
      return { kind: isTrap ? "trapped" : "killed", by: failed };
    }
    return { kind: "survived" };
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
