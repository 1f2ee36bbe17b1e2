// The command as a user starts it, from its sources, in a process of its own.
import { spawn } from "node:child_process";
import { createRequire } from "node:module";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { PACKAGE_ROOT } from "../../host/package-root.ts";

const LOADER = pathToFileURL(createRequire(import.meta.url).resolve("tsx")).href;
const COMMAND = join(PACKAGE_ROOT, "harness", "cli", "amberline.ts");

/** The command from its sources, word by word, as a shell may start it. */
export const SOURCE_COMMAND: readonly string[] = [process.execPath, "--import", LOADER, COMMAND];

export interface Ended {
  code: number | null;
  stdout: string;
  stderr: string;
}

export interface StartOptions {
  cwd: string;
  /** Set in the environment beside what is there. */
  env?: Record<string, string>;
  /** More modules to load before the command. */
  preload?: string[];
  /** Called once it runs; may send a signal later by the function it is given. */
  onStart?: (kill: (signal: NodeJS.Signals) => void) => void;
  /** Called with each piece of its standard output. */
  onOutput?: (text: string) => void;
}

/** Runs `amberline ARGS…` to its end. */
export function amberline(args: string[], options: StartOptions): Promise<Ended> {
  const imports = [LOADER, ...(options.preload ?? [])].flatMap((one) => ["--import", one]);
  const child = spawn(process.execPath, [...imports, COMMAND, ...args], {
    cwd: options.cwd,
    env: { ...process.env, ...options.env },
    stdio: ["ignore", "pipe", "pipe"],
  });
  const ended: Ended = { code: null, stdout: "", stderr: "" };
  options.onStart?.((signal) => void child.kill(signal));
  child.stdout.on("data", (piece: Buffer) => {
    ended.stdout += piece.toString();
    options.onOutput?.(piece.toString());
  });
  child.stderr.on("data", (piece: Buffer) => {
    ended.stderr += piece.toString();
  });
  return new Promise((resolve, reject) => {
    child.on("error", reject);
    child.on("close", (code) => resolve({ ...ended, code }));
  });
}
