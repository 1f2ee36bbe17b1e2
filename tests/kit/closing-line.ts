// Prints one plain closing line, "N passed, N failed, N skipped", for logs that are read by
// machine.
import type { Reporter, TestModule } from "vitest/node";

export default class ClosingLine implements Reporter {
  onTestRunEnd(modules: readonly TestModule[]): void {
    let passed = 0;
    let failed = 0;
    let skipped = 0;
    for (const module of modules) {
      if (module.state() === "failed" && module.children.size === 0) failed += 1;
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
