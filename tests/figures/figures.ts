// `npm run figures`: one row per figure, and the same as JSON in out/figures.json. A figure that could
// not be measured counts as failed. On a machine that others share (AMBERLINE_SHARED_MACHINE=1) how fast
// it is fails nothing.
import { mkdirSync, writeFileSync } from "node:fs";
import { arch, cpus, platform } from "node:os";
import { join } from "node:path";
import { ROOT } from "../repo/source-files.ts";
import { BANDWIDTH_FIGURES } from "./bandwidth.ts";
import { BENCH_FIGURES } from "./bench.ts";
import { BOARD_FIGURES } from "./board.ts";
import { CAUTION_FIGURES } from "./caution.ts";
import { COST_FIGURES } from "./cost.ts";
import { DWELL_FIGURES } from "./dwell.ts";
import { EVIDENCE_FIGURES } from "./evidence.ts";
import type { Figure, Measured } from "./figure.ts";
import { LINE_FIGURES } from "./line.ts";
import { LINK_FIGURES } from "./link.ts";
import { TARGET_FIGURES } from "./targets.ts";
import { METHOD_FIGURES } from "./methods.ts";
import { MOVING_FIGURES } from "./moving.ts";
import { TOLERANCE_FIGURES } from "./tolerance.ts";

const FIGURES: Figure[] = [
  ...DWELL_FIGURES,
  ...MOVING_FIGURES,
  ...BANDWIDTH_FIGURES,
  ...CAUTION_FIGURES,
  ...COST_FIGURES,
  ...BENCH_FIGURES,
  ...BOARD_FIGURES,
  ...LINK_FIGURES,
  ...LINE_FIGURES,
  ...TARGET_FIGURES,
  ...TOLERANCE_FIGURES,
  ...METHOD_FIGURES,
  ...EVIDENCE_FIGURES,
];

const machine = `${platform()} ${arch()}, ${cpus()[0]?.model ?? "unknown"}, Node ${process.version}`;

async function measuredSafely(figure: Figure): Promise<Measured> {
  try {
    return await figure.measure();
  } catch (error) {
    return {
      text: `not measured: ${error instanceof Error ? error.message : String(error)}`,
      isOk: false,
    };
  }
}

const isShared = process.env["AMBERLINE_SHARED_MACHINE"] === "1";
const only = process.argv[2];
const rows: object[] = [];
let failed = 0;
const isWanted = ({ id }: { id: string }): boolean => only === undefined || id.includes(only);
if (!FIGURES.some(isWanted)) {
  process.stderr.write(`no figure is called ${only}; there are\n`);
  for (const { id } of FIGURES) process.stderr.write(`  ${id}\n`);
  process.exit(2);
}
process.stdout.write(`machine: ${machine}\n\n`);
for (const figure of FIGURES) {
  if (!isWanted(figure)) continue;
  const { text, isOk } = await measuredSafely(figure);
  const { id, what, required } = figure;
  const isTold = !isOk && isShared && figure.isOfMachine === true;
  if (!isOk && !isTold) failed += 1;
  rows.push({ id, what, required, measured: text, machine, ok: isOk });
  process.stdout.write(
    `${isOk ? "ok    " : isTold ? "slow  " : "FAILED"} ${id}\n       ${what}\n       required ${required}\n` +
      `       measured ${text}\n`,
  );
}
mkdirSync(join(ROOT, "out"), { recursive: true });
writeFileSync(join(ROOT, "out", "figures.json"), `${JSON.stringify(rows, undefined, 1)}\n`);
process.stdout.write(`\n${rows.length - failed} passed, ${failed} failed\n`);
process.exitCode = failed === 0 ? 0 : 1;
