// Builds the firmware in C for a board: asc → wasm2c → gcc. On the command line
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
import { installedCommand } from "../installed-command.ts";
import { PACKAGE_ROOT } from "../package-root.ts";
import { type BoardOptions, compileBoard } from "./compile.ts";
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

let wasm: Uint8Array<ArrayBuffer> | undefined;

/** The firmware as WebAssembly into a folder; compiled once in a process. */
function wasmInto(folder: string): Uint8Array<ArrayBuffer> {
  const path = join(folder, "firmware.wasm");
  if (wasm === undefined) {
    const args = [installedCommand("assemblyscript", "asc"), "--target", "board"];
    const options = { cwd: PACKAGE_ROOT, stdio: "pipe" } as const;
    execFileSync(process.execPath, [...args, "--outFile", path], options);
    wasm = new Uint8Array(readFileSync(path));
  } else writeFileSync(path, wasm);
  return wasm;
}

/** Where static data ends, in whole words of 16 bytes. */
function dataBytes(module: Uint8Array<ArrayBuffer>): number {
  const { exports } = new WebAssembly.Instance(new WebAssembly.Module(module), {});
  return ((exports["addressDataEnd"] as () => number)() + 15) & ~15;
}

/** Writes what is generated into `folder`. */
function generate(folder: string, wasmToC: string): void {
  const module = wasmInto(folder);
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

/**
 * Builds the firmware for a board into build/board; what stood there before is replaced whole.
 *
 * Errors    ToolMissing; an Error of the program that failed, with what it said
 */
export function buildBoard(options: BoardOptions): BoardBuild {
  const { board, hasBounds = false, main = "link" } = options;
  const isArm = board !== "posix";
  const [wasmToC, compiler] = toolPaths([WASM_TO_C, isArm ? ARM_COMPILER : HOST_COMPILER]);
  const all = join(PACKAGE_ROOT, "build", "board");
  mkdirSync(all, { recursive: true });
  const folder = mkdtempSync(join(all, ".new-"));
  try {
    generate(folder, wasmToC!);
    compileBoard(folder, compiler!, options);
    const parts = [board, main === "link" ? "" : main, hasBounds ? "bounds" : ""];
    const target = join(all, parts.filter((part) => part !== "").join("-"));
    rmSync(target, { recursive: true, force: true });
    renameSync(folder, target);
    const map = readFileSync(join(target, "firmware.map"), "utf8");
    return {
      programPath: join(target, "firmware.elf"),
      wasmPath: join(target, "firmware.wasm"),
      ...(isArm && { size: boardSize(map) }),
    };
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

/** The command line: builds, and says what came out and how large it is. */
function command(args: readonly string[]): number {
  const board = args.find((one) => !one.startsWith("--")) ?? "mps2-an386";
  const hasBounds = args.includes("--bounds");
  if (board !== "mps2-an386" && board !== "posix") {
    process.stderr.write(`no board "${board}" (there are mps2-an386 and posix)\n`);
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
