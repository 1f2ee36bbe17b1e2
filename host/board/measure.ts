// What the firmware costs on the emulated board: instructions of each call of `process`, counted by
// the emulator's clock, without the link. Instructions, not cycles: QEMU knows no pipeline and no
// memory that has to be waited for.
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { RECORD_BYTES } from "../../shared/layout.ts";
import { COUNT_STEPS_ADDRESS } from "./compile.ts";
import { INSTRUCTION_NS, runBoard } from "./emulator.ts";

/** port_clock_hz of the emulated board. */
const CLOCK_HZ = 25_000_000;
/** From ticks of the board's clock to instructions. */
const INSTRUCTIONS_PER_TICK = 1e9 / CLOCK_HZ / INSTRUCTION_NS;

const STEP_CONFIGURE = 1;
const STEP_PROCESS = 2;
const STEP_ANSWER_BYTES = 12;

export interface Counted {
  /** Instructions of `configure`. */
  configure: number;
  /** Of `process`, one for each block. */
  blocks: number[];
  /** What the firmware told, all of it: to be held against another build's. */
  records: Uint8Array;
}

function stepsImage(configuration: Uint8Array, blocks: readonly Uint8Array[]): Buffer {
  const parts = [configuration, ...blocks].flatMap((bytes, i) => {
    const head = Buffer.alloc(8);
    head.writeUInt32LE(i === 0 ? STEP_CONFIGURE : STEP_PROCESS, 0);
    head.writeUInt32LE(bytes.length, 4);
    return [head, bytes, Buffer.alloc(-bytes.length & 3)];
  });
  return Buffer.concat([...parts, Buffer.alloc(8)]);
}

/**
 * Runs a `count` build on a configuration and blocks.
 *
 * Errors    throws where the firmware refuses one; ToolMissing, EmulatorError
 */
export async function countInstructions(
  programPath: string,
  configuration: Uint8Array,
  blocks: readonly Uint8Array[],
): Promise<Counted> {
  const folder = mkdtempSync(join(tmpdir(), "amberline-count-"));
  try {
    const path = join(folder, "steps.bin");
    writeFileSync(path, stepsImage(configuration, blocks));
    const isWhole = (sent: Buffer): boolean => answerBytes(sent, blocks.length) <= sent.length;
    const sent = await runBoard(programPath, { path, address: COUNT_STEPS_ADDRESS }, isWhole);
    return countsOf(sent, blocks.length);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

/** Bytes that the whole answer has, as far as what came tells; more than came where it does not. */
function answerBytes(sent: Buffer, blockCount: number): number {
  let at = 4;
  for (let step = 0; step <= blockCount; step += 1) {
    const end = at + STEP_ANSWER_BYTES;
    if (end > sent.length) return end;
    at = end + sent.readUInt32LE(end - 4) * RECORD_BYTES;
  }
  return at;
}

/** Reads what `count-main.c` sends: the cost of counting, then a status, ticks, records a step. */
function countsOf(sent: Buffer, blockCount: number): Counted {
  const idleTicks = sent.readUInt32LE(0);
  const instructions: number[] = [];
  const records: Uint8Array[] = [];
  let at = 4;
  for (let step = 0; step <= blockCount; step += 1) {
    const status = sent.readInt32LE(at);
    if (status !== 0) throw new Error(`the board refused step ${step}: status ${status}`);
    instructions.push((sent.readUInt32LE(at + 4) - idleTicks) * INSTRUCTIONS_PER_TICK);
    const bytes = sent.readUInt32LE(at + 8) * RECORD_BYTES;
    at += STEP_ANSWER_BYTES;
    records.push(sent.subarray(at, at + bytes));
    at += bytes;
  }
  const [configure, ...counted] = instructions;
  return { configure: configure!, blocks: counted, records: Buffer.concat(records) };
}
