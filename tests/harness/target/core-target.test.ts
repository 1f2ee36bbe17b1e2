import { CoreTarget } from "../../../harness/target/core-target.ts";
import { loadCore } from "../../kit/play-scene.ts";
import { targetSuite } from "../../suites/target.suite.ts";

for (const build of ["release", "debug"] as const) {
  targetSuite({
    name: `the built-in core, ${build}`,
    make: async ({ blockSamplesMax }) => ({
      target: new CoreTarget(loadCore(build), blockSamplesMax),
      run: (work) => work,
    }),
  });
}
