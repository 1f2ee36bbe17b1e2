// Every failed test ends its message with the command that repeats it: seed, file, name.
import { relative } from "node:path";
import { fileURLToPath } from "node:url";
import { beforeEach } from "vitest";
import { TEST_SEED } from "./seed.ts";

const ROOT = fileURLToPath(new URL("../..", import.meta.url));

/** A command for a POSIX shell in the project's folder. */
export function repeatCommand(file: string, name: string, seed: number): string {
  const pattern = `^${name.replaceAll(/[\\^$.*+?()[\]{}|]/g, String.raw`\$&`)}$`;
  const quoted = `'${pattern.replaceAll("'", String.raw`'\''`)}'`;
  const run = "npx vitest run --config tests/vitest.config.ts";
  return `TEST_SEED=${seed} ${run} ${file} -t ${quoted}`;
}

beforeEach(({ task, onTestFailed }) => {
  onTestFailed(() => {
    const names: string[] = [task.name];
    for (let { suite } = task; suite !== undefined; suite = suite.suite) names.unshift(suite.name);
    const file = relative(ROOT, task.file.filepath);
    const command = repeatCommand(file, names.join(" "), TEST_SEED);
    for (const error of task.result?.errors ?? []) {
      error.message += `\n\nThe command that repeats it:\n  ${command}\n`;
    }
  });
});
