// Builds the firmware in C for a board: board.wasm → wasm2c → gcc. On the command line
// `npx tsx host/board/build.ts [mps2-an386|posix] [--bounds]`.
import { createHash } from "node:crypto";
import { execFileSync } from "node:child_process";
import {
  copyFileSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  renameSync,
  rmSync,
  writeFileSync,
} from "node:fs";
import { dirname, join } from "node:path";
import { pathToFileURL } from "node:url";
import { PACKAGE_ROOT } from "../package-root.ts";
import { BOARD_NAMES, type BoardOptions, compileBoard } from "./compile.ts";
import { MODULE_NAME, boundFirmware, firmwareHeader, linkNumbers } from "./generate.ts";
import { type BoardSize, boardSize, sizeComplaints, sizeText } from "./size-report.ts";
import { ARM_COMPILER, HOST_COMPILER, ToolMissing, WASM_TO_C, toolPaths } from "./tools.ts";

export interface BoardBuild {
  /** The program, for the board or for this machine. */
  programPath: string;
  /** The WebAssembly that it was made of. */
  wasmPath: string;
  /** Of a microcontroller only. */
  size?: BoardSize;
}

/** The firmware as WebAssembly, made for boards; built with the package. */
const WASM_PATH = join(PACKAGE_ROOT, "build", "core", "board.wasm");

/** Where static data ends, in whole words of 16 bytes. */
function dataBytes(module: Uint8Array<ArrayBuffer>): number {
  const { exports } = new WebAssembly.Instance(new WebAssembly.Module(module), {});
  return ((exports["addressDataEnd"] as () => number)() + 15) & ~15;
}

/** Writes what is generated into `folder`. */
function generate(folder: string, wasmToC: string): void {
  copyFileSync(WASM_PATH, join(folder, "firmware.wasm"));
  const module = new Uint8Array(readFileSync(WASM_PATH));
  const identity = createHash("sha256").update(module).digest("hex").slice(0, 16);
  const made = join(folder, `${MODULE_NAME}-wasm2c.c`);
  execFileSync(wasmToC, [join(folder, "firmware.wasm"), "-n", MODULE_NAME, "-o", made]);
  writeFileSync(join(folder, "firmware.c"), boundFirmware(readFileSync(made, "utf8")));
  writeFileSync(join(folder, "firmware.h"), firmwareHeader(dataBytes(module), identity));
  writeFileSync(join(folder, "link-numbers.h"), linkNumbers());
  // The cross compiler does not look where the package lies.
  const header = join(dirname(dirname(wasmToC)), "include", "wasm-rt.h");
  copyFileSync(header, join(folder, "wasm-rt.h"));
}

/** Replaces a folder whole by what `make` puts into it, or leaves it as it was. */
function replacing(parts: readonly string[], make: (folder: string) => void): string {
  const all = join(PACKAGE_ROOT, "build", "board");
  mkdirSync(all, { recursive: true });
  const folder = mkdtempSync(join(all, ".new-"));
  try {
    make(folder);
    const target = join(all, parts.filter((part) => part !== "").join("-"));
    rmSync(target, { recursive: true, force: true });
    renameSync(folder, target);
    return target;
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

/**
 * Builds the firmware for a board.
 *
 * Errors    ToolMissing; an Error of the program that failed, with what it said
 */
export function buildBoard(options: BoardOptions): BoardBuild {
  const { board, hasBounds = false, main = "link", into } = options;
  const isArm = board !== "posix";
  const [wasmToC, compiler] = toolPaths([WASM_TO_C, isArm ? ARM_COMPILER : HOST_COMPILER]);
  const make = (folder: string): void => {
    generate(folder, wasmToC!);
    compileBoard(folder, compiler!, options);
  };
  if (into !== undefined) make(into);
  const parts = [board, main === "link" ? "" : main, hasBounds ? "bounds" : ""];
  const target = into ?? replacing(parts, make);
  const map = readFileSync(join(target, "firmware.map"), "utf8");
  return {
    programPath: join(target, "firmware.elf"),
    wasmPath: join(target, "firmware.wasm"),
    ...(isArm && { size: boardSize(map) }),
  };
}

/** The command line: builds, and says what came out and how large it is. */
export function command(args: readonly string[]): number {
  const unknown = args.find((one) => one.startsWith("--") && one !== "--bounds");
  if (unknown !== undefined) {
    process.stderr.write(`no option ${unknown} (there is --bounds)\n`);
    return 2;
  }
  const named = args.find((one) => !one.startsWith("--")) ?? "mps2-an386";
  const board = BOARD_NAMES.find((name) => name === named);
  const hasBounds = args.includes("--bounds");
  if (board === undefined) {
    process.stderr.write(`no board "${named}" (there are ${BOARD_NAMES.join(", ")})\n`);
    return 2;
  }
  try {
    const built = buildBoard({ board, hasBounds });
    process.stdout.write(`${built.programPath}\n`);
    if (built.size === undefined) return 0;
    process.stdout.write(`${sizeText(built.size)}\n`);
    const complaints = hasBounds ? [] : sizeComplaints(built.size);
    for (const complaint of complaints) process.stderr.write(`over its limit: ${complaint}\n`);
    return complaints.length > 0 ? 1 : 0;
  } catch (error) {
    if (!(error instanceof ToolMissing)) throw error;
    process.stderr.write(`${error.message}\n`);
    return error.exitCode;
  }
}

if (import.meta.url === pathToFileURL(process.argv[1] ?? "").href) {
  process.exitCode = command(process.argv.slice(2));
}
