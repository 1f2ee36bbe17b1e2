// The programs that a board is built and run with: found on the path, and named where they are not
// there.
import { accessSync, constants } from "node:fs";
import { delimiter, join } from "node:path";

export interface Tool {
  command: string;
  /** Debian's packages that bring it and what belongs to it. */
  packages: readonly string[];
}

export const WASM_TO_C: Tool = { command: "wasm2c", packages: ["wabt"] };
export const ARM_COMPILER: Tool = {
  command: "arm-none-eabi-gcc",
  packages: ["gcc-arm-none-eabi", "libnewlib-arm-none-eabi"],
};
export const HOST_COMPILER: Tool = { command: "gcc", packages: ["gcc", "libc6-dev"] };
export const EMULATOR: Tool = { command: "qemu-system-arm", packages: ["qemu-system-arm"] };

/** Path of a command, or undefined where none is on the path. */
export function findCommand(command: string): string | undefined {
  for (const folder of (process.env["PATH"] ?? "").split(delimiter)) {
    try {
      const path = join(folder, command);
      accessSync(path, constants.X_OK);
      return path;
    } catch {
      // Not in this folder; the next one may have it.
    }
  }
  return undefined;
}

/** A tool is not installed: says which, how to get it, and what works without. */
export class ToolMissing extends Error {
  readonly exitCode = 3;
  constructor(missing: readonly Tool[]) {
    const commands = missing.map(({ command }) => command).join(", ");
    const packages = missing.flatMap((tool) => tool.packages).join(" ");
    super(
      `a board needs ${commands}, not found on the path.\n` +
        `On Debian: sudo apt-get install -y --no-install-recommends ${packages}\n` +
        "All that does not build or run a board works without, the built-in core first.",
    );
    this.name = "ToolMissing";
  }
}

/**
 * Paths of tools, in their order.
 *
 * Errors    ToolMissing with all that are not there
 */
export function toolPaths(tools: readonly Tool[]): string[] {
  const missing = tools.filter(({ command }) => findCommand(command) === undefined);
  if (missing.length > 0) throw new ToolMissing(missing);
  return tools.map(({ command }) => findCommand(command)!);
}
