// `npm run check`: types of both languages, lint, format, repo rules. Every part runs, so that one
// call shows all that is wrong; the exit code is 1 where any part failed.
import { spawnSync } from "node:child_process";
import { createRequire } from "node:module";
import { dirname, join } from "node:path";
import { ROOT } from "./source-files.ts";

const require = createRequire(import.meta.url);

function binOf(packageName: string, command: string): string {
  const manifestPath = join(ROOT, "node_modules", packageName, "package.json");
  const { bin } = require(manifestPath) as { bin: string | Record<string, string> };
  return join(dirname(manifestPath), typeof bin === "string" ? bin : bin[command]!);
}

const parts: [name: string, script: string, args: string[]][] = [
  ["types of host, harness, tests", binOf("typescript", "tsc"), ["-p", ".", "--noEmit"]],
  // Without the tests: what they import declares types of its own, and hides what a build finds.
  [
    "types of the build",
    binOf("typescript", "tsc"),
    ["-p", "host/tsconfig.build.json", "--noEmit"],
  ],
  ["types of assembly", binOf("assemblyscript", "asc"), ["--target", "debug", "--noEmit"]],
  [
    "types of the waveforms' kernel",
    binOf("assemblyscript", "asc"),
    ["harness/waveform/kernel/index.ts", "--config", "none", "--runtime", "stub", "--noEmit"],
  ],
  [
    "lint",
    binOf("oxlint", "oxlint"),
    ["--type-aware", "--deny-warnings", "shared", "host", "harness", "tests"],
  ],
  ["format", binOf("oxfmt", "oxfmt"), ["--check", "."]],
  [
    "repo rules",
    binOf("vitest", "vitest"),
    ["run", "--config", "tests/vitest.config.ts", "tests/repo"],
  ],
];

const env = { ...process.env, TEST_SEED: process.env["TEST_SEED"] ?? "1" };
let failed = 0;
for (const [name, script, args] of parts) {
  const done = spawnSync(process.execPath, [script, ...args], { cwd: ROOT, encoding: "utf8", env });
  const isRight = done.status === 0;
  process.stdout.write(`${isRight ? "right" : "WRONG"}  ${name}\n`);
  if (isRight) continue;
  failed += 1;
  process.stdout.write(`${done.stdout}${done.stderr}\n`);
}
process.exit(failed === 0 ? 0 : 1);
