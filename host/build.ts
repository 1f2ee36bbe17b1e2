// Builds what the command needs: JavaScript by tsc, the firmware by asc: release, simd (the same with
// vectors), debug, and board, which is smaller and less inlined and becomes C; and the sample loops of
// the waveforms. Run by `npm run build` and by `prepare`, so that a fresh clone is ready after `npm ci`.
import { spawnSync } from "node:child_process";
import { mkdirSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { installedCommand } from "./installed-command.ts";

const root = dirname(dirname(fileURLToPath(import.meta.url)));

function runNode(script: string, args: string[]): void {
  const done = spawnSync(process.execPath, [script, ...args], { cwd: root, stdio: "inherit" });
  if (done.status !== 0) process.exit(done.status ?? 1);
}

const asc = installedCommand("assemblyscript", "asc");
const only = process.argv.slice(2);
const wants = (part: string): boolean => only.length === 0 || only.includes(part);

mkdirSync(join(root, "build", "core"), { recursive: true });
if (wants("core")) {
  for (const target of ["release", "simd", "debug", "board"]) runNode(asc, ["--target", target]);
}
if (wants("core") || wants("waveform")) {
  const kernel = ["harness/waveform/kernel/index.ts", "--config", "none", "--runtime", "stub"];
  const settings = ["--use", "abort=", "--initialMemory", "1", "--maximumMemory", "1", "-O3"];
  for (const [name, simd] of [
    ["waveform", "--disable"],
    ["waveform-simd", "--enable"],
  ] as const) {
    const files = ["--outFile", `build/core/${name}.wasm`, "--textFile", `build/core/${name}.wat`];
    runNode(asc, [...kernel, ...settings, simd, "simd", ...files]);
  }
}
if (wants("host")) {
  const tsc = installedCommand("typescript", "tsc");
  runNode(tsc, ["-p", "host/tsconfig.build.json"]);
  // What a user's own adapter is written against.
  runNode(tsc, ["-p", "host/tsconfig.types.json"]);
}
