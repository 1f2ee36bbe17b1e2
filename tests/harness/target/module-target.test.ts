// A device with a protocol of its own, behind an adapter: the worked example as every target is tried.
import { join } from "node:path";
import { openLine } from "../../../harness/run/line.ts";
import { ROOT } from "../../repo/source-files.ts";
import { targetSuite } from "../../suites/target.suite.ts";

const path = join(ROOT, "harness", "adapter", "examples", "ascii-lines.mjs");
const line = openLine({ kind: "module", path });

targetSuite({
  name: "a device behind an adapter",
  make: async () => ({ target: line.target("a case"), run: (work) => work }),
  // The adapter cuts blocks as it likes.
  blockSizes: [],
});
