// Where an installed package's command lies, so that no shell has to find it.
import { createRequire } from "node:module";
import { dirname, join } from "node:path";

const require = createRequire(import.meta.url);

/**
 * Path of a command's script.
 *
 * Errors    throws where the package is not installed, or has no such command
 */
export function installedCommand(packageName: string, command: string): string {
  const manifestPath = require.resolve(`${packageName}/package.json`);
  const manifest = require(manifestPath) as { bin: string | Record<string, string> };
  const bin = typeof manifest.bin === "string" ? manifest.bin : manifest.bin[command];
  if (bin === undefined) throw new Error(`${packageName} has no command ${command}`);
  return join(dirname(manifestPath), bin);
}
