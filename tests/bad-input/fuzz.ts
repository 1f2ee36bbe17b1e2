// Harms one reader's good example again and again, in a process of its own so that a hang can be
// ended and memory bounded: npx tsx tests/bad-input/fuzz.ts READER FIRST-SEED COUNT [MB]
// The good example is read before the harm and after it, and must be taken both times.
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { Worker } from "node:worker_threads";
import { amberlineHere } from "../kit/amberline-here.ts";
import { bitTurned, harmed } from "./mutate.ts";
import { ownMistake } from "./own-mistake.ts";
import { PLANTED } from "./planted.ts";
import { type FileReader, prepare, READERS, type Reader, type Taken } from "./readers.ts";

/** 0 and 1 where the harm was none, 2 where it was told; 3 says that the target failed. */
const TOLD_CODES = [0, 1, 2];
const TARGET_FAILED = 3;
const MB = 2 ** 20;
const MEMORY_LOOK_MS = 50;

const codes: Record<number, number> = {};
const [name = "", firstSeed = "1", count = "1", grownMbMax = "256"] = process.argv.slice(2);
const folder = mkdtempSync(join(tmpdir(), "amberline fuzz "));
let outCount = 0;

/** One line: a terminal's width breaks sentences elsewhere. */
const unwrapped = (text: string): string => text.replace(/\s+/g, " ");

/** What is wrong with how one file ended, or ""; `taken` where it must be taken. */
async function readByCommand(
  reader: FileReader,
  bytes: Buffer,
  which: number,
  taken: boolean,
): Promise<string> {
  writeFileSync(join(folder, reader.file), bytes);
  // A folder that holds results would be refused before anything is read.
  const out = join(folder, `out ${(outCount += 1)}`);
  const calls = reader.calls(folder, out);
  const call = calls[which % calls.length]!;
  const { code, stdout, stderr } = await amberlineHere(call.args);
  rmSync(out, { recursive: true, force: true });
  const own = ownMistake(stdout + stderr);
  if (own !== undefined) return `"${own}": ${stderr}${stdout.slice(0, 500)}`;
  if (taken) return otherwise(call.taken, code!, stdout + stderr);
  codes[code!] = (codes[code!] ?? 0) + 1;
  const isTold = TOLD_CODES.includes(code!) || (reader.isTarget === true && code === TARGET_FAILED);
  if (!isTold) return `code ${code}: ${stderr}`;
  return code! >= 2 && stderr + stdout === "" ? `code ${code} and not a word` : "";
}

function otherwise({ code, says }: Taken, found: number, said: string): string {
  // No words at all would be found in anything.
  if (says !== "" && found === code && unwrapped(said).includes(says)) return "";
  return `code ${found} in place of ${code} with "${says}": ${said}`;
}

/** Reads the good example by every call. Errors: it is not taken. */
async function goodTaken(reader: Reader, when: string): Promise<void> {
  process.stdout.write(`${when}\n`);
  const faults: string[] = [];
  if ("take" in reader) {
    const came = await reader.take(reader.good);
    if (came !== reader.taken) faults.push(`${came} in place of ${reader.taken}`);
  } else {
    for (let which = 0; which < reader.calls(folder, "").length; which += 1) {
      faults.push(await readByCommand(reader, reader.good, which, true));
    }
  }
  const fault = faults.find((one) => one !== "");
  if (fault !== undefined) throw new Error(`${when}, the good example is not taken: ${fault}`);
}

/** Ends this process where it grows beyond its bound, whatever it is at. */
function boundMemory(rssMax: number): void {
  const watch = new Worker(
    `const { workerData } = require("node:worker_threads");
    setInterval(() => {
      if (process.memoryUsage.rss() <= workerData) return;
      require("node:fs").writeSync(2, "memory is beyond its bound\\n");
      process.kill(process.pid, "SIGKILL");
    }, ${MEMORY_LOOK_MS});`,
    { eval: true, workerData: rssMax, execArgv: [] },
  );
  watch.unref();
}

async function fuzz(reader: Reader): Promise<{ seed: number; said: string }[]> {
  const isBitsOnly = "calls" in reader && reader.isBitsOnly === true;
  const harm = isBitsOnly ? bitTurned : harmed;
  const bad: { seed: number; said: string }[] = [];
  for (let i = 0; i < Number(count); i += 1) {
    const seed = Number(firstSeed) + i;
    process.stdout.write(`at ${seed}\n`);
    const bytes = harm(reader.good, seed);
    try {
      let said = "";
      if ("take" in reader) await reader.take(bytes);
      else said = await readByCommand(reader, bytes, seed, false);
      if (said !== "") bad.push({ seed, said: said.replaceAll(folder, "…") });
    } catch (error) {
      bad.push({ seed, said: error instanceof Error ? (error.stack ?? "") : String(error) });
    }
  }
  return bad;
}

const make = READERS[name] ?? PLANTED[name];
if (make === undefined) throw new Error(`no reader "${name}": ${Object.keys(READERS).join(", ")}`);
try {
  prepare(folder);
  const reader = await make(folder);
  // Reading the examples and loading the program is not what is bounded here.
  const rssBefore = process.memoryUsage().rss;
  boundMemory(rssBefore + Number(grownMbMax) * MB);
  await goodTaken(reader, "before the harm");
  const bad = await fuzz(reader);
  await goodTaken(reader, "after the harm");
  const grownMb = Math.max(0, process.resourceUsage().maxRSS * 1024 - rssBefore) / MB;
  process.stdout.write(`done ${JSON.stringify({ count: Number(count), bad, codes, grownMb })}\n`);
} finally {
  rmSync(folder, { recursive: true, force: true });
}
