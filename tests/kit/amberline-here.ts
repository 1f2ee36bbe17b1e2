// The command line in this process: quick, for calls that end before anything is run.
import { main } from "../../harness/cli/program.ts";
import type { Ended } from "./amberline-command.ts";

/** Runs `amberline ARGS…` to its end and gives what it wrote and its exit code. */
export async function amberlineHere(
  args: readonly string[],
  onWrite: (name: "stdout" | "stderr", text: string) => void = () => {},
): Promise<Ended> {
  const ended: Ended = { code: 0, stdout: "", stderr: "" };
  // oxlint-disable-next-line typescript/unbound-method -- put back as they were, never called
  const writes = { stdout: process.stdout.write, stderr: process.stderr.write };
  const codeBefore = process.exitCode;
  for (const name of ["stdout", "stderr"] as const) {
    process[name].write = ((piece: string | Uint8Array): boolean => {
      const text = typeof piece === "string" ? piece : Buffer.from(piece).toString();
      ended[name] += text;
      onWrite(name, text);
      return true;
    }) as typeof process.stdout.write;
  }
  try {
    process.exitCode = undefined;
    await main(["node", "amberline", ...args]);
    ended.code = process.exitCode ?? 0;
  } finally {
    process.stdout.write = writes.stdout;
    process.stderr.write = writes.stderr;
    process.exitCode = codeBefore;
  }
  return ended;
}
