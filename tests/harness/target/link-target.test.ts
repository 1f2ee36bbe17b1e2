import { linkBench } from "../../kit/link-bench.ts";
import { targetSuite } from "../../suites/target.suite.ts";

targetSuite({
  name: "a line in memory",
  make: ({ blockSamplesMax }) => linkBench({ blockSamplesMax }),
});
