// Compiles the stage entry once for each state of its sources and hands out fresh instances.
import { createHash } from "node:crypto";
import {
  existsSync,
  mkdirSync,
  readFileSync,
  readdirSync,
  renameSync,
  writeFileSync,
} from "node:fs";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import * as asc from "assemblyscript/asc";

const root = fileURLToPath(new URL("../../..", import.meta.url));

/** Both ways in which the firmware is built. */
export const STAGE_BUILDS = ["release", "debug"] as const;
export type StageBuild = (typeof STAGE_BUILDS)[number];

const SHARED_OPTIONS =
  "--config none --runtime stub --use abort= --initialMemory 1 --maximumMemory 1 --disable simd";
const BUILD_OPTIONS = { release: "--optimizeLevel 3 --shrinkLevel 0", debug: "--debug" };
const ENTRY = "tests/assembly/kit/stage-entry.ts";

/** The stages' functions; every argument and answer is a number. */
export interface StageExports {
  memory: WebAssembly.Memory;
  addressDisplay(): number;
  addressShaft(): number;
  addressChannel(): number;
  addressSamples(): number;
  addressExceedance(): number;
  stageReset(): void;
  labelReversed(label: number): number;
  wordCompose(label: number, sdi: number, bits: number, counts: number, validity: number): number;
  wordCounts(shown: number, stepInverse: number, wordInverse: number, bits: number): number;
  numberCounts(value: number, stepInverse: number, countsMax: number): number;
  healthServes(kind: number): number;
  stageWord(shown: number, validity: number): number;
  stageScale(speed: number): number;
  stageNumber(isValid: number, value: number): number;
  stageNumberMarks(): number;
  stageMeasured(filter: number, level: number, speedNow: number): number;
  stageSource(filter: number, filterCount: number, validFilters: number): number;
  stageValidity(filter: number, facts: number, speedNow: number): number;
  stageShownValidity(filter: number, serving: number, filterCount: number): number;
  stageCaution(shown: number, told: number): number;
  stageCautionState(): number;
  stageCautionMarks(): number;
  stageExceedance(
    isValid: number,
    shown: number,
    level: number,
    speed: number,
    revolution: number,
    tickLow: number,
    tickHigh: number,
  ): number;
  stageHealthTake(displaySamples: number, from: number, count: number): number;
  stageHealthJudge(
    displaySamples: number,
    isTurning: number,
    trackedRms: number,
    isJudged: number,
  ): number;
  stageHealthFaults(): number;
  stageBroadbandRms(): number;
  stageNoiseFloorRms(): number;
  stageBurstRms(displaySamples: number): number;
}

function sourcesHash(build: StageBuild): string {
  const hash = createHash("sha256").update(SHARED_OPTIONS + BUILD_OPTIONS[build]);
  for (const folder of ["assembly", "shared"]) {
    for (const name of readdirSync(join(root, folder)).toSorted()) {
      if (name.endsWith(".ts")) hash.update(name).update(readFileSync(join(root, folder, name)));
    }
  }
  return hash
    .update(readFileSync(join(root, ENTRY)))
    .digest("hex")
    .slice(0, 16);
}

async function stageWasm(build: StageBuild): Promise<Uint8Array> {
  const folder = join(root, "build", "stage");
  const path = join(folder, `${build}-${sourcesHash(build)}.wasm`);
  if (existsSync(path)) return readFileSync(path);
  let wasm: Uint8Array | undefined;
  const options = `${SHARED_OPTIONS} ${BUILD_OPTIONS[build]} --baseDir ${root}`.split(" ");
  const { error, stderr } = await asc.main([ENTRY, ...options, "--outFile", "stage.wasm"], {
    writeFile: (name, contents) => {
      if (name.endsWith("stage.wasm") && typeof contents !== "string") wasm = contents;
    },
  });
  if (error !== null || wasm === undefined) throw new Error(`asc: ${stderr.toString()}`);
  // Written aside and renamed: test files that run at the same time build the same bytes.
  mkdirSync(folder, { recursive: true });
  writeFileSync(`${path}.${process.pid}`, wasm);
  renameSync(`${path}.${process.pid}`, path);
  return wasm;
}

/** A fresh instance of the stages, with views of its memory. */
export interface Stage {
  run: StageExports;
  view: DataView;
  floats: Float32Array;
}

export async function openStage(build: StageBuild): Promise<Stage> {
  const { instance } = await WebAssembly.instantiate(await stageWasm(build), {});
  const run = instance.exports as unknown as StageExports;
  run.stageReset();
  const { buffer } = run.memory;
  return { run, view: new DataView(buffer), floats: new Float32Array(buffer) };
}

/** A field of a configuration: its offset and its value; `kind` as the layout says. */
export type Field = [offset: number, kind: "u32" | "i32" | "f32", value: number];

/** Writes fields at an address; every field not named stays as it was. */
export function writeFields(stage: Stage, address: number, fields: readonly Field[]): void {
  for (const [offset, kind, value] of fields) {
    if (kind === "f32") stage.view.setFloat32(address + offset, value, true);
    else if (kind === "i32") stage.view.setInt32(address + offset, value, true);
    else stage.view.setUint32(address + offset, value, true);
  }
}
