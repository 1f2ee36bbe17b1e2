// The compiler's part of a board's build: its flags, and the C that is written by hand.
import { execFileSync } from "node:child_process";
import { readdirSync } from "node:fs";
import { join } from "node:path";
import { RECORD_BYTES } from "../../shared/layout.ts";
import { PACKAGE_ROOT } from "../package-root.ts";

export const BOARD_NAMES = ["mps2-an386", "posix"] as const;
export type BoardName = (typeof BOARD_NAMES)[number];
/** What is built around the firmware: its link, a count of what it costs, or a link that traps. */
export type BoardMain = "link" | "count" | "trap";

export interface BoardOptions {
  board: BoardName;
  /**
   * Every access of memory is checked, on this machine its alignment, too; without, only assertions
   * catch a broken promise.
   */
  hasBounds?: boolean;
  main?: BoardMain;
  /** Folder that the build goes into; else one of its own in build/board, replaced whole. */
  into?: string;
}

const SOURCES = join(PACKAGE_ROOT, "host", "board");
/** Where the emulator puts the steps that are counted: memory that the firmware does not use. */
export const COUNT_STEPS_ADDRESS = 0x21000000;
/** Of which 840 bytes were used, by a run-up over the link. */
const STACK_BYTES = 3072;

const words = (line: string): string[] => line.split(" ");

const FLAGS = [
  // The same bits everywhere: no fused multiply-add, no liberties.
  "-std=gnu11 -ffp-contract=off -fno-math-errno -DNDEBUG",
  "-DWASM_RT_USE_STACK_DEPTH_COUNT=0 -DWASM_RT_SKIP_SIGNAL_RECOVERY=1",
  "-ffunction-sections -fdata-sections",
].flatMap(words);
const ARM_FLAGS = [
  "-mcpu=cortex-m4 -mthumb -mfpu=fpv4-sp-d16 -mfloat-abi=hard",
  `--specs=nano.specs -nostartfiles -Wl,--defsym=STACK_BYTES=${STACK_BYTES}`,
].flatMap(words);

const ALIGNMENT_FLAGS = ["-fsanitize=alignment", "-fsanitize-undefined-trap-on-error"];
const STRICT = ["-Wall", "-Wextra", "-Werror"];
const SHARED_SOURCES = ["runtime.c", "fault.c", "conversions.c"];

function mainFlags(kind: BoardMain): string[] {
  if (kind === "trap") return ["-DFAULT_PROVOKED"];
  if (kind === "link") return [];
  return [`-DCOUNT_STEPS=${COUNT_STEPS_ADDRESS}u`, `-DCOUNT_RECORD_BYTES=${RECORD_BYTES}u`];
}

/**
 * Compiles what was generated in a folder, and what is written by hand, into `firmware.elf`.
 *
 * Errors    an Error of the compiler with what it said
 */
export function compileBoard(folder: string, compiler: string, options: BoardOptions): void {
  const { board, hasBounds = false, main = "link" } = options;
  const isArm = board !== "posix";
  const flags = [
    ...FLAGS,
    ...(isArm ? [...ARM_FLAGS, "-T", join(SOURCES, board, "memory.ld")] : []),
    // For a microcontroller small is quick, too; and loops keep their registers.
    ...(isArm ? ["-Os", "-fira-region=all", "-fira-loop-pressure"] : ["-O2"]),
    `-DWASM_RT_MEMCHECK_SIGNAL_HANDLER=${hasBounds ? 0 : 1}`,
    // An address that is not a whole multiple of what lies there would stop a microcontroller.
    ...(!isArm && hasBounds ? ALIGNMENT_FLAGS : []),
    ...mainFlags(main),
    "-I",
    folder,
    "-I",
    SOURCES,
  ];
  const run = (args: string[]): void => void execFileSync(compiler, args, { stdio: "pipe" });
  const object = join(folder, "firmware.o");
  // What is generated is not ours to warn of; what is written by hand is held to all of it.
  run([...flags, "-w", "-c", join(folder, "firmware.c"), "-o", object]);
  const hand = [...SHARED_SOURCES, main === "count" ? "count-main.c" : "link-main.c"];
  const own = readdirSync(join(SOURCES, board)).filter((name) => name.endsWith(".c"));
  const sources = [...hand, ...own.map((name) => join(board, name))];
  const link = ["-Wl,--gc-sections", `-Wl,-Map=${join(folder, "firmware.map")}`, "-lm"];
  run([
    ...flags,
    ...STRICT,
    object,
    ...sources.map((name) => join(SOURCES, name)),
    ...link,
    "-o",
    join(folder, "firmware.elf"),
  ]);
}
