// Flights made, run and judged one after the other in this process; called by cost.ts in a process of
// its own. Arguments: hours, positions of the wheel, flights. Prints times real time of each by the
// process's own CPU time, compiling included, and the greatest resident set in MB.
//
// What is measured is the product as `npm run build` leaves it, not its sources through a loader that
// keeps the names of all functions.
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import {
  channelSignal,
  monitorProfile,
  orderComponent,
  scene,
  shaftProfile,
} from "../kit/scene-builder.ts";
import { ROOT } from "../repo/source-files.ts";

/** A module of the built product. */
async function built<Module>(...path: string[]): Promise<Module> {
  return (await import(pathToFileURL(join(ROOT, "build", ...path)).href)) as Module;
}

const { CASE_PARTS } = await built<typeof import("../../harness/run/case-parts.ts")>(
  "harness",
  "run",
  "case-parts.js",
);
const { runCase } = await built<typeof import("../../harness/run/run-case.ts")>(
  "harness",
  "run",
  "run-case.js",
);
const { CoreTarget } = await built<typeof import("../../harness/target/core-target.ts")>(
  "harness",
  "target",
  "core-target.js",
);
const { builtInCore } = await built<typeof import("../../host/built-in-core.ts")>(
  "host",
  "built-in-core.js",
);

const [hours, positions, flights] = process.argv.slice(2).map(Number) as [number, number, number];

const flight = scene({
  name: `${hours} h, P = ${positions}`,
  durationS: hours * 3600,
  profile: monitorProfile({
    shafts: [shaftProfile({ positions, timeoutS: positions === 1 ? 0.35 : 0.1 })],
  }),
  channels: [
    channelSignal([
      orderComponent(1, 10, 30),
      orderComponent(2, 50, 80),
      orderComponent(3, 50, 10),
    ]),
  ],
});

const target = new CoreTarget(builtInCore());
const timesRealTime: number[] = [];
let isRight = true;
for (let flown = 0; flown < flights; flown += 1) {
  const before = process.cpuUsage();
  const result = await runCase(flight, target, new AbortController().signal, CASE_PARTS);
  const used = process.cpuUsage(before);
  timesRealTime.push((hours * 3600) / ((used.user + used.system) / 1e6));
  isRight &&= result.verdict.isRight;
}
const greatestMb = process.resourceUsage().maxRSS / 1024;
process.stdout.write(JSON.stringify({ isRight, timesRealTime, greatestMb }));
