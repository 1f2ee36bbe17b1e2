// Speed and memory of whole flights, size of the firmware, and bytes that do not depend on the split.
import { execFileSync } from "node:child_process";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { DATA_BYTES_MAX } from "../../shared/capacity.ts";
import { playScene } from "../kit/play-scene.ts";
import { suiteCases } from "../kit/regression-suite.ts";
import { ROOT } from "../repo/source-files.ts";
import type { Figure, Measured } from "./figure.ts";

const TIMES_MIN = 5000;
/** Flights of a process; what is compiled on the way is compiled by the third. */
const FLIGHTS = 6;
const FLIGHTS_WARM = 2;
const MEMORY_MB_MAX = 300;
const RELEASE_BYTES_MAX = 32 * 1024;
const REPEATS = 3;

interface Flight {
  isRight: boolean;
  /** Of each flight of the process, by its CPU time. */
  timesRealTime: number[];
  greatestMb: number;
}

function fly(hours: number, positions: number, flights = 1): Flight {
  const script = join(ROOT, "tests", "figures", "long-flight.ts");
  const args = ["--import", "tsx", script, ...[hours, positions, flights].map(String)];
  return JSON.parse(
    execFileSync(process.execPath, args, { cwd: ROOT, encoding: "utf8" }),
  ) as Flight;
}

function medianOf(values: number[]): number {
  return values.toSorted((a, b) => a - b)[values.length >> 1]!;
}

/** Hours one after another in fresh processes: those from the third on, and the first beside them. */
function speed(positions: number): { times: number; text: string } {
  const processes = Array.from({ length: REPEATS }, () => fly(1, positions, FLIGHTS));
  if (!processes.every((one) => one.isRight)) throw new Error("a flight was judged wrong");
  const later = processes.flatMap((one) => one.timesRealTime.slice(FLIGHTS_WARM));
  const times = medianOf(later);
  const first = medianOf(processes.map((one) => one.timesRealTime[0]!));
  const range = `${Math.min(...later).toFixed(0)} to ${Math.max(...later).toFixed(0)}`;
  const text = `${times.toFixed(0)} times (${range} in ${REPEATS} processes)`;
  return { times, text: `${text}; ${first.toFixed(0)} times the first hour, which compiles` };
}

async function memory(): Promise<Measured> {
  const [one, ten] = [fly(1, 1), fly(10, 1)];
  return {
    text: `${one.greatestMb.toFixed(0)} MB for 1 h, ${ten.greatestMb.toFixed(0)} MB for 10 h`,
    isOk: one.isRight && ten.isRight && Math.max(one.greatestMb, ten.greatestMb) < MEMORY_MB_MAX,
  };
}

async function size(): Promise<Measured> {
  const bytes = new Uint8Array(readFileSync(join(ROOT, "build", "core", "release.wasm")));
  const module = new WebAssembly.Module(bytes);
  const { exports } = new WebAssembly.Instance(module, {});
  const memoryNow = exports["memory"] as WebAssembly.Memory;
  const dataEnd = (exports["addressDataEnd"] as () => number)();
  const imports = WebAssembly.Module.imports(module).length;
  let canGrow = true;
  try {
    memoryNow.grow(1);
  } catch {
    canGrow = false;
  }
  return {
    text:
      `${bytes.byteLength} bytes, data ends at ${dataEnd}, ${imports} imports, ` +
      `${memoryNow.buffer.byteLength / 65_536} page, ${canGrow ? "growable" : "not growable"}`,
    isOk:
      bytes.byteLength <= RELEASE_BYTES_MAX &&
      dataEnd <= DATA_BYTES_MAX &&
      imports === 0 &&
      memoryNow.buffer.byteLength === 65_536 &&
      !canGrow,
  };
}

/** Cases whose input has edges, faults, inputs and two shafts. */
const SPLIT_FILES = [
  "tachometer/does-a-glitch-inside-the-gap-leave-the-index.scenario.yaml",
  "tachometer/is-a-drop-out-shown-as-no-computed-data-until-settled-again.scenario.yaml",
  "transducer/does-a-loose-connector-end-in-no-caution.scenario.yaml",
  "inputs/does-an-inhibit-outlast-a-number-that-goes-and-comes.scenario.yaml",
];

async function splits(): Promise<Measured> {
  let compared = 0;
  let different = 0;
  for (const made of SPLIT_FILES.flatMap(suiteCases)) {
    const whole = Buffer.from((await playScene(made)).records);
    for (const blockSamplesMax of [1, 7, 64]) {
      const split = Buffer.from((await playScene(made, { blockSamplesMax })).records);
      compared += 1;
      if (!whole.equals(split)) different += 1;
    }
    const batched = Buffer.from((await playScene(made, { batchSamples: 1001 })).records);
    compared += 1;
    if (!whole.equals(batched)) different += 1;
  }
  return {
    text: `${compared} splits, ${different} differ`,
    isOk: compared > 12 && different === 0,
  };
}

export const COST_FIGURES: Figure[] = [
  {
    id: "SPLIT",
    what: "blocks of 1, 7, 64, 128 samples, batches of 1,001: the records' bytes",
    required: "the same bytes",
    measure: splits,
  },
  {
    id: "FIRMWARE-SIZE",
    what: "release wasm, static data, imports, memory",
    required: "at most 32 KiB; at most 40,960 bytes; no imports, one page, not growable",
    measure: size,
  },
  {
    id: "SPEED",
    what: "one channel, one filter, 12.8 kHz, P = 1, hours made and judged on one core (CPU time), from the third",
    required: `at least ${TIMES_MIN} times real time`,
    isOfMachine: true,
    measure: async () => {
      const { times, text } = speed(1);
      return { text, isOk: times >= TIMES_MIN };
    },
  },
  {
    id: "SPEED-P60",
    what: "the same with 60 positions a revolution: told beside it",
    required: "told, no limit",
    measure: async () => ({ text: speed(60).text, isOk: true }),
  },
  {
    id: "MEMORY",
    what: "greatest resident set of the whole process for flights of 1 h and 10 h",
    required: `under ${MEMORY_MB_MAX} MB however long the flight`,
    measure: memory,
  },
];
