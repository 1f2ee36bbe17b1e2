// Prints one plain closing line, "N passed, N failed, N skipped", for logs that are read by
// machine; before it, for each file or group that failed outside of a test (at import, in beforeAll),
// the command that repeats it. Each counts as one that failed.
import { relative } from "node:path";
import { fileURLToPath } from "node:url";
import type { Reporter, TestModule, TestSuite } from "vitest/node";

const ROOT = fileURLToPath(new URL("../..", import.meta.url));

export default class ClosingLine implements Reporter {
  onTestRunEnd(modules: readonly TestModule[]): void {
    let passed = 0;
    let failed = 0;
    let skipped = 0;
    for (const module of modules) {
      const parts: (TestModule | TestSuite)[] = [module, ...module.children.allSuites()];
      const broken = parts.filter((part) => part.errors().length > 0).length;
      failed += broken;
      if (broken > 0) {
        const file = relative(ROOT, module.moduleId);
        // Set by global-setup.ts, after this file was read.
        const seed = process.env["TEST_SEED"];
        const run = `TEST_SEED=${seed} npx vitest run --config tests/vitest.config.ts ${file}`;
        process.stdout.write(`\nThe command that repeats it:\n  ${run}\n`);
      }
      for (const test of module.children.allTests()) {
        const state = test.result().state;
        if (state === "passed") passed += 1;
        else if (state === "failed") failed += 1;
        else skipped += 1;
      }
    }
    process.stdout.write(`\n${passed} passed, ${failed} failed, ${skipped} skipped\n`);
  }
}
