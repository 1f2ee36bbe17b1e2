// The core on blocks from memory: with SIMD, scalar, and as C, each round one after another.
import { execFileSync } from "node:child_process";
import { createHash } from "node:crypto";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { buildBoard } from "../../host/board/build.ts";
import { HOST_COMPILER, toolPaths } from "../../host/board/tools.ts";
import { Core } from "../../host/core.ts";
import { configurationBytes } from "../../host/profile/configuration.ts";
import { RECORD_BYTES } from "../../shared/layout.ts";
import { ROOT } from "../repo/source-files.ts";
import { type Spread, interleaved, scaled, spreadOf } from "./timing.ts";
import { type Blocks, type Work, blocksOf } from "./works.ts";

export const WASM_BUILDS = {
  SIMD: join(ROOT, "build", "core", "simd.wasm"),
  scalar: join(ROOT, "build", "core", "release.wasm"),
};

/** The engine compiles on threads of its own, which a busy machine lets wait. */
const WARM_MS = 400;
/** Passes over the blocks that a round's time is the mean of: one alone is a fraction of a millisecond. */
const PASSES = 16;

const meanOf = (values: readonly number[]): number =>
  values.reduce((sum, value) => sum + value, 0) / values.length;

/** One build on one work. */
export interface CoreRow {
  build: string;
  /** ns a filter-sample: the core's part, and what handing blocks over costs beside it. */
  nsPerFilterSample: Spread;
  nsOfCopy: number;
  timesRealTime: number;
  /** First 16 hex digits of SHA-256 over the records. */
  hash: string;
}

export interface CoreResult {
  work: Work;
  rows: CoreRow[];
}

export const hashOf = (parts: readonly Uint8Array[]): string => {
  const hash = createHash("sha256");
  for (const part of parts) hash.update(part);
  return hash.digest("hex").slice(0, 16);
};

/** ns of a round of blocks, from a reset on; `take` gets the records, views that do not stay. */
export function round(
  core: Core,
  { blocks }: Pick<Blocks, "blocks">,
  take?: (records: Uint8Array) => void,
): number {
  core.reset();
  const before = performance.now();
  for (const block of blocks) {
    core.bytes.set(block, core.blockAddress);
    core.process();
    const records = core.takeRecords();
    take?.(records);
  }
  return (performance.now() - before) * 1e6;
}

/** Runs rounds until the engine has compiled what it will. */
export function warm(core: Core, made: Pick<Blocks, "blocks">): void {
  for (const until = performance.now() + WARM_MS; performance.now() < until;) round(core, made);
}

function copies(core: Core, { blocks }: Blocks): number {
  const before = performance.now();
  for (const block of blocks) core.bytes.set(block, core.blockAddress);
  return (performance.now() - before) * 1e6;
}

/** Errors: throws where two builds do not give the same bytes. */
export function refuseDifferent(
  work: Work,
  rows: readonly { build: string; hash: string }[],
): void {
  const other = rows.find(({ hash }) => hash !== rows[0]!.hash);
  if (other === undefined) return;
  throw new Error(`${work.name}: ${other.build} gives other records than ${rows[0]!.build}`);
}

/** The C build of the firmware with a main that times it; removed by whoever asked. */
export class TimedC {
  readonly folder = mkdtempSync(join(tmpdir(), "amberline-bench-"));
  readonly #program = join(this.folder, "core-bench");

  /** Errors: ToolMissing; what the compiler said. */
  constructor() {
    buildBoard({ board: "posix", into: this.folder });
    const [compiler] = toolPaths([HOST_COMPILER]);
    const own = (name: string): string => join(ROOT, "host", "board", name);
    const sources = ["runtime.c", "fault.c", "conversions.c", join("posix", "port.c")].map(own);
    const flags =
      "-std=gnu11 -O3 -ffp-contract=off -fno-math-errno -DNDEBUG -w " +
      "-DWASM_RT_USE_STACK_DEPTH_COUNT=0 -DWASM_RT_SKIP_SIGNAL_RECOVERY=1 " +
      `-DWASM_RT_MEMCHECK_SIGNAL_HANDLER=1 -DRECORD_BYTES=${RECORD_BYTES}`;
    execFileSync(compiler!, [
      ...flags.split(" "),
      "-I",
      this.folder,
      "-I",
      join(ROOT, "host", "board"),
      join(this.folder, "firmware.c"),
      ...sources,
      join(ROOT, "tests", "bench", "core-bench.c"),
      "-lm",
      "-o",
      this.#program,
    ]);
  }

  /** ns of each round, and the records' hash. */
  run({ profile, blocks }: Blocks, rounds: number): { ns: number[]; hash: string } {
    const at = (name: string): string => join(this.folder, name);
    const parts = blocks.flatMap((block) => {
      const size = Buffer.alloc(4);
      size.writeUInt32LE(block.length);
      return [size, block];
    });
    writeFileSync(at("configuration.bin"), configurationBytes(profile));
    writeFileSync(at("blocks.bin"), Buffer.concat(parts));
    const args = ["configuration.bin", "blocks.bin", "records.bin"].map(at);
    const said = execFileSync(this.#program, [...args, String(rounds)], { encoding: "utf8" });
    const ns = said
      .trim()
      .split("\n")
      .map((line) => Number(line) * 1e9);
    return { ns, hash: hashOf([readFileSync(at("records.bin"))]) };
  }

  remove(): void {
    rmSync(this.folder, { recursive: true, force: true });
  }
}

/** Times a work on every build. Errors: builds that differ. */
export function timeWork(work: Work, c: TimedC | undefined, rounds: number): CoreResult {
  const made = blocksOf(work);
  const { filterSamples, samples } = made;
  const rowOf = (build: string, ns: Spread, nsOfCopy: number, hash: string): CoreRow => ({
    build,
    nsPerFilterSample: scaled(ns, 1 / filterSamples),
    nsOfCopy: nsOfCopy / filterSamples,
    timesRealTime: samples / work.sampleRateHz / (ns.median * 1e-9),
    hash,
  });
  const cores = Object.entries(WASM_BUILDS).map(([build, path]) => {
    const core = Core.fromFile(path);
    core.configure(configurationBytes(made.profile));
    const records: Uint8Array[] = [];
    // What all must give; and by then the engine has compiled what it will.
    round(core, made, (part) => records.push(part.slice()));
    warm(core, made);
    return { build, core, hash: hashOf(records) };
  });
  const copied = interleaved(rounds, [() => copies(cores[0]!.core, made)])[0]!.median;
  const spreads = interleaved(
    rounds,
    cores.map(({ core }) => () => {
      return meanOf(Array.from({ length: PASSES }, () => round(core, made))) - copied;
    }),
  );
  const rows = cores.map(({ build, hash }, i) => rowOf(build, spreads[i]!, copied, hash));
  if (c !== undefined) {
    const { ns, hash } = c.run(made, rounds * PASSES + 1);
    // The first pass writes the records; its copies are a call of memcpy each.
    const means = Array.from({ length: rounds }, (_, i) =>
      meanOf(ns.slice(1 + i * PASSES, 1 + (i + 1) * PASSES)),
    );
    rows.push(rowOf("C -O3", spreadOf(means), 0, hash));
  }
  refuseDifferent(work, rows);
  return { work, rows };
}
