// Flights made, run and judged one after the other in this process; called by cost.ts in a process of
// its own. Arguments: hours, positions of the wheel, flights. Prints times real time of each by the
// process's own CPU time, compiling included, and the greatest resident set in MB.
import { CASE_PARTS } from "../../harness/run/case-parts.ts";
import { runCase } from "../../harness/run/run-case.ts";
import { CoreTarget } from "../../harness/target/core-target.ts";
import { loadCore } from "../kit/play-scene.ts";
import {
  channelSignal,
  monitorProfile,
  orderComponent,
  scene,
  shaftProfile,
} from "../kit/scene-builder.ts";

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

const target = new CoreTarget(loadCore());
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
