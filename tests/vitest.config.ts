import { defineConfig } from "vitest/config";

export default defineConfig({
  test: {
    root: new URL("..", import.meta.url).pathname,
    include: ["tests/**/*.test.ts"],
    testTimeout: 120_000,
    hookTimeout: 180_000,
    maxWorkers: 2,
    globalSetup: ["tests/kit/global-setup.ts"],
    setupFiles: ["tests/kit/repeat-command.ts"],
    reporters: ["default", "./tests/kit/closing-line.ts"],
  },
});
