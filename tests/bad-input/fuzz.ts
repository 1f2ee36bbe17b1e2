// Harms one reader's good example again and again, in a process of its own so that a hang can be
// ended and memory measured: npx tsx tests/bad-input/fuzz.ts READER FIRST-SEED COUNT
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { amberlineHere } from "../kit/amberline-here.ts";
import { bitTurned, harmed } from "./mutate.ts";
import { prepare, READERS, type Reader } from "./readers.ts";

/** 0 and 1 where the harm was none, 2 and 3 where it was told. */
const TOLD_CODES = [0, 1, 2, 3];
const OWN_MISTAKE = /\n {4}at |mistake of its own|\b(?:TypeError|RangeError|ReferenceError)\b/;

/** What is wrong with how one input ended, or "". */
async function ended(
  reader: Reader,
  folder: string,
  bytes: Buffer,
  which: number,
  told: readonly number[],
): Promise<string> {
  if (reader.take !== undefined) {
    await reader.take(bytes);
    return "";
  }
  writeFileSync(join(folder, reader.file!), bytes);
  const calls = reader.calls!(folder);
  const { code, stdout, stderr } = await amberlineHere(calls[which % calls.length]!);
  codes[code!] = (codes[code!] ?? 0) + 1;
  if (OWN_MISTAKE.test(stdout + stderr)) return stderr + stdout.slice(0, 500);
  if (!told.includes(code!)) return `code ${code}: ${stderr}`;
  return code! >= 2 && stderr + stdout === "" ? `code ${code} and not a word` : "";
}

const codes: Record<number, number> = {};
const [name = "", firstSeed = "1", count = "1"] = process.argv.slice(2);
const make = READERS[name];
if (make === undefined) throw new Error(`no reader "${name}": ${Object.keys(READERS).join(", ")}`);
const folder = mkdtempSync(join(tmpdir(), "amberline fuzz "));
prepare(folder);
const reader = await make(folder);
// Reading the examples and loading the program is not what is bounded here.
const rssBefore = process.memoryUsage().rss;
const harm = reader.isBitsOnly === true ? bitTurned : harmed;
// A bad example would hide everything behind its own refusal.
for (let which = 0; which < (reader.calls?.(folder).length ?? 1); which += 1) {
  const said = await ended(reader, folder, reader.good, which, [0]);
  if (said !== "") throw new Error(`the good example is refused: ${said}`);
}
for (const code of Object.keys(codes)) delete codes[Number(code)];
const bad: { seed: number; said: string }[] = [];
for (let i = 0; i < Number(count); i += 1) {
  const seed = Number(firstSeed) + i;
  process.stdout.write(`at ${seed}\n`);
  try {
    const said = await ended(reader, folder, harm(reader.good, seed), seed, TOLD_CODES);
    if (said !== "") bad.push({ seed, said: said.replaceAll(folder, "…") });
  } catch (error) {
    bad.push({ seed, said: error instanceof Error ? (error.stack ?? "") : String(error) });
  }
}
rmSync(folder, { recursive: true, force: true });
const grownMb = Math.max(0, process.resourceUsage().maxRSS * 1024 - rssBefore) / 2 ** 20;
process.stdout.write(`done ${JSON.stringify({ count: Number(count), bad, codes, grownMb })}\n`);
