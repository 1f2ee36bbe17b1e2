// Builds what the command needs: JavaScript by tsc, the firmware by asc (release and debug). Run by
// `npm run build` and by `prepare`, so that a fresh clone is ready after `npm ci`.
import { spawnSync } from "node:child_process";
import { mkdirSync } from "node:fs";
import { createRequire } from "node:module";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const root = dirname(dirname(fileURLToPath(import.meta.url)));
const require = createRequire(import.meta.url);

/** Path of an installed package's command, so that no shell has to find it. */
function binOf(packageName: string, commandName: string): string {
  const manifestPath = require.resolve(`${packageName}/package.json`);
  const manifest = require(manifestPath) as { bin: string | Record<string, string> };
  const bin = typeof manifest.bin === "string" ? manifest.bin : manifest.bin[commandName];
  if (bin === undefined) throw new Error(`${packageName} has no command ${commandName}`);
  return join(dirname(manifestPath), bin);
}

function runNode(script: string, args: string[]): void {
  const done = spawnSync(process.execPath, [script, ...args], { cwd: root, stdio: "inherit" });
  if (done.status !== 0) process.exit(done.status ?? 1);
}

const asc = binOf("assemblyscript", "asc");
const only = process.argv.slice(2);
const wants = (part: string): boolean => only.length === 0 || only.includes(part);

mkdirSync(join(root, "build", "core"), { recursive: true });
if (wants("core")) {
  runNode(asc, ["--target", "release"]);
  runNode(asc, ["--target", "debug"]);
}
if (wants("host")) runNode(binOf("typescript", "tsc"), ["-p", "host/tsconfig.build.json"]);
