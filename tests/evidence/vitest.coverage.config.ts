import { defineConfig, mergeConfig } from "vitest/config";
import base from "../vitest.config.ts";

export default mergeConfig(
  base,
  defineConfig({
    test: {
      // Counting costs a look at each way.
      testTimeout: 900_000,
      setupFiles: ["tests/evidence/branch-counts.ts"],
      // What is counted is the scalar build; the copy has no other.
      exclude: ["tests/assembly/vector/**"],
    },
  }),
);
