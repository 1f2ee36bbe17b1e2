// Compiles an asc entry of this folder once for each state of its sources, and hands out instances.
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
import { main as ascMain } from "assemblyscript/asc";

const root = fileURLToPath(new URL("../../..", import.meta.url));

/** Both ways in which the firmware is built. */
export const STAGE_BUILDS = ["release", "debug"] as const;
export type StageBuild = (typeof STAGE_BUILDS)[number];

const SHARED_OPTIONS =
  "--config none --runtime stub --use abort= --initialMemory 1 --maximumMemory 1 --disable simd";
const BUILD_OPTIONS = { release: "--optimizeLevel 3 --shrinkLevel 0", debug: "--debug" };

/** An entry, and files of assembly/ that another file of this folder stands in for. */
export interface StageSource {
  entry: string;
  standIns: Record<string, string>;
}

function sourcesHash(source: StageSource, build: StageBuild): string {
  const hash = createHash("sha256").update(SHARED_OPTIONS + BUILD_OPTIONS[build]);
  for (const folder of ["assembly", "assembly/math", "shared", "tests/assembly/kit"]) {
    for (const name of readdirSync(join(root, folder)).toSorted()) {
      if (name.endsWith(".ts")) hash.update(name).update(readFileSync(join(root, folder, name)));
    }
  }
  return hash.update(JSON.stringify(source)).digest("hex").slice(0, 16);
}

/** What asc reads: a stand-in where there is one, else the file itself. */
async function readSource(source: StageSource, name: string): Promise<string | null> {
  const plain = name.replaceAll("\\", "/").replace(/^\.\//, "");
  const path = join(root, source.standIns[plain] ?? plain);
  return existsSync(path) ? readFileSync(path, "utf8") : null;
}

/** Compiles; the bytes are kept in build/stage under the hash of all that went in. */
export async function stageModule(
  source: StageSource,
  build: StageBuild,
): Promise<WebAssembly.Module> {
  const folder = join(root, "build", "stage");
  const path = join(folder, `${build}-${sourcesHash(source, build)}.wasm`);
  if (existsSync(path)) return new WebAssembly.Module(readFileSync(path));
  let wasm: Uint8Array<ArrayBuffer> | undefined;
  const options = `${SHARED_OPTIONS} ${BUILD_OPTIONS[build]}`.split(" ");
  const { error, stderr } = await ascMain([source.entry, ...options, "--outFile", "stage.wasm"], {
    readFile: (name) => readSource(source, name),
    listFiles: () => [],
    writeFile: (name, contents) => {
      if (name.endsWith("stage.wasm")) wasm = new Uint8Array(contents as Uint8Array);
    },
  });
  // oxlint-disable-next-line typescript/no-base-to-string -- asc gives its stream a text
  if (error !== null || wasm === undefined) throw new Error(`asc: ${String(stderr)}`);
  // Written aside and renamed: test files that run at the same time build the same bytes.
  mkdirSync(folder, { recursive: true });
  writeFileSync(`${path}.${process.pid}`, wasm);
  renameSync(`${path}.${process.pid}`, path);
  return new WebAssembly.Module(wasm);
}

/** A field of a configuration: its offset and its value; `kind` as the layout says. */
export type Field = [offset: number, kind: "u32" | "i32" | "f32", value: number];

/** Writes fields at an address; every field not named stays as it was. */
export function writeFields(view: DataView, address: number, fields: readonly Field[]): void {
  for (const [offset, kind, value] of fields) {
    if (kind === "f32") view.setFloat32(address + offset, value, true);
    else if (kind === "i32") view.setInt32(address + offset, value, true);
    else view.setUint32(address + offset, value, true);
  }
}

/** The stages' functions; every argument and answer is a number. */
export interface StageExports {
  memory: WebAssembly.Memory;
  addressDisplay(): number;
  addressShaft(): number;
  addressChannel(): number;
  addressSamples(): number;
  addressExceedance(): number;
  addressOnSteps(): number;
  addressInvalidSteps(): number;
  addressBelowSteps(): number;
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
  stageSpoiled(
    filter: number,
    facts: number,
    revolution: number,
    settling: number,
    isPerCycle: boolean,
  ): number;
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
    share: number,
    isJudged: number,
  ): number;
  stageHealthFaults(): number;
  stageBroadbandRms(): number;
  stageNoiseFloorRms(): number;
  stageBurstRms(displaySamples: number): number;
}

/** A fresh instance of the stages from level to word, with views of its memory. */
export interface Stage {
  run: StageExports;
  view: DataView;
  floats: Float32Array;
}

const STAGES: StageSource = { entry: "tests/assembly/kit/stage-entry.ts", standIns: {} };

export async function openStage(build: StageBuild): Promise<Stage> {
  const instance = new WebAssembly.Instance(await stageModule(STAGES, build), {});
  const run = instance.exports as unknown as StageExports;
  run.stageReset();
  const { buffer } = run.memory;
  return { run, view: new DataView(buffer), floats: new Float32Array(buffer) };
}
