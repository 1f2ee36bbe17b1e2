// The emulated board: starts QEMU, finds out on which pseudo-terminal its serial port is, and stops
// it for certain.
import { existsSync } from "node:fs";
import { type ChildProcess, spawn } from "node:child_process";
import { setTimeout as setTimeoutPromise } from "node:timers/promises";
import { EMULATOR, findCommand, toolPaths } from "./tools.ts";

/** Nanoseconds of the emulator's time for one instruction while it counts: 2^shift. */
const COUNT_SHIFT = 6;
export const INSTRUCTION_NS = 2 ** COUNT_SHIFT;

const MACHINE = ["-M", "mps2-an386", "-nodefaults", "-nographic", "-monitor", "none"];
/** A network chip that no one asked for has no peer: QEMU says so at each start. */
const HARMLESS = /^qemu-system-arm: warning: nic \S+ has no peer$/;
const COUNTING = ["-icount", `shift=${COUNT_SHIFT}`];
const START_MS_MAX = 20_000;
const END_MS_MAX = 500;

/** The emulator did not start, or ended by itself: says what it said. */
export class EmulatorError extends Error {
  readonly exitCode = 3;
  constructor(what: string, said: string) {
    const lines = said.split("\n").filter((line) => line.trim() !== "" && !HARMLESS.test(line));
    super([`the emulator ${what}`, ...lines].join("\n"));
    this.name = "EmulatorError";
  }
}

/** A process that ends with this one, whatever ends it. */
function spawnBound(command: string, args: readonly string[]): ChildProcess {
  // On Linux the kernel sees to it even where this process is killed, elsewhere an exit alone is.
  const binder = process.platform === "linux" ? findCommand("setpriv") : undefined;
  const [program, all] =
    binder === undefined
      ? [command, [...args]]
      : [binder, ["--pdeathsig", "KILL", command, ...args]];
  const child = spawn(program, all, { stdio: ["ignore", "pipe", "pipe"] });
  const kill = (): void => void child.kill("SIGKILL");
  process.once("exit", kill);
  child.once("exit", () => process.removeListener("exit", kill));
  return child;
}

function ended(child: ChildProcess): Promise<void> {
  if (child.exitCode !== null || child.signalCode !== null) return Promise.resolve();
  return new Promise((resolve) => {
    child.once("exit", () => resolve());
    child.once("error", () => resolve());
  });
}

export interface EmulatedBoard {
  /** The pseudo-terminal that its serial port is on. */
  ptyPath: string;
  /** How it ended by itself, where it does within a short while; else undefined. */
  ended(): Promise<string | undefined>;
  /** Resolves once the process is gone; may be called again. */
  stop(): Promise<void>;
}

export interface EmulatorOptions {
  programPath: string;
  /** Its clock runs by instructions in place of the wall's time: slower, the same every time. */
  isCounting?: boolean;
}

/**
 * Starts a program on the emulated board; its serial port is a pseudo-terminal.
 *
 * What is sent while no one has the terminal open is lost, and it takes up to a second until the
 * board notices that someone has: the host speaks first, and asks again.
 *
 * Errors    ToolMissing; EmulatorError where it ends or names no terminal within 20 s
 */
export async function startBoard(options: EmulatorOptions): Promise<EmulatedBoard> {
  const [emulator] = toolPaths([EMULATOR]);
  // QEMU names its terminal before it looks for the program.
  if (!existsSync(options.programPath)) {
    throw new EmulatorError("has nothing to run", `no program at ${options.programPath}`);
  }
  const counting = options.isCounting === true ? COUNTING : [];
  const args = [...MACHINE, "-kernel", options.programPath, "-serial", "pty", ...counting];
  const child = spawnBound(emulator!, args);
  const stop = async (): Promise<void> => {
    child.kill("SIGKILL");
    await ended(child);
  };
  try {
    return { ptyPath: await ptyOf(child), ended: () => endOf(child), stop };
  } catch (error) {
    await stop();
    throw error;
  }
}

/** How a child ended. Its terminal closes before it is known to have ended. */
async function endOf(child: ChildProcess): Promise<string | undefined> {
  const late = new AbortController();
  await Promise.race([
    ended(child),
    setTimeoutPromise(END_MS_MAX, undefined, { ref: false, signal: late.signal }).catch(() => {}),
  ]);
  late.abort();
  const { exitCode, signalCode } = child;
  if (signalCode !== null) return `the emulator was ended by ${signalCode}`;
  return exitCode === null ? undefined : `the emulator ended with code ${exitCode}`;
}

/** The path in QEMU's own words: "char device redirected to /dev/pts/3 (label serial0)". */
function ptyOf(child: ChildProcess): Promise<string> {
  return new Promise((resolve, reject) => {
    let said = "";
    const late = setTimeout(
      () => reject(new EmulatorError("names no terminal", said)),
      START_MS_MAX,
    );
    const done = (): void => clearTimeout(late);
    const take = (piece: Buffer): void => {
      said += piece.toString();
      const path = /redirected to (\S+) \(label serial0\)/.exec(said)?.[1];
      if (path === undefined) return;
      done();
      resolve(path);
    };
    child.stdout!.on("data", take);
    child.stderr!.on("data", take);
    child.once("error", (error) => {
      done();
      reject(new EmulatorError("does not start", error.message));
    });
    child.once("exit", (code) => {
      done();
      reject(new EmulatorError(`ended with ${code ?? "a signal"}`, said));
    });
  });
}

/**
 * Runs a program with a file laid into the board's memory, its clock running by instructions, and
 * gives what it sent; `isWhole` says when that is all.
 *
 * Errors    ToolMissing; EmulatorError where it ends before
 */
export async function runBoard(
  programPath: string,
  file: { path: string; address: number },
  isWhole: (sent: Buffer) => boolean,
): Promise<Buffer> {
  const [emulator] = toolPaths([EMULATOR]);
  const loader = `loader,file=${file.path.replaceAll(",", ",,")},addr=${file.address},force-raw=on`;
  const serial = ["-kernel", programPath, "-serial", "stdio", "-device", loader];
  const child = spawnBound(emulator!, [...MACHINE, ...serial, ...COUNTING]);
  try {
    return await new Promise((resolve, reject) => {
      let sent: Buffer = Buffer.alloc(0);
      let said = "";
      child.stdout!.on("data", (piece: Buffer) => {
        sent = Buffer.concat([sent, piece]);
        if (isWhole(sent)) resolve(sent);
      });
      child.stderr!.on("data", (piece: Buffer) => {
        said += piece.toString();
      });
      child.once("error", (error) => reject(new EmulatorError("does not start", error.message)));
      child.once("exit", (code) =>
        reject(new EmulatorError(`ended with ${code ?? "a signal"}`, said)),
      );
    });
  } finally {
    child.kill("SIGKILL");
    await ended(child);
  }
}
