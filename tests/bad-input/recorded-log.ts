// A traffic log of the good scenario, as a run over a line writes it.
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { LoggedPort, type SessionMark, TrafficLog } from "../../host/link/traffic-log.ts";
import { caseLabel, HELLO_LABEL } from "../../harness/run/line.ts";
import { readScenarioFile } from "../../harness/scenario/scenario-reader.ts";
import { linkBench } from "../kit/link-bench.ts";
import { playTarget } from "../kit/play-scene.ts";

const SESSION = 4_000_000_000;
const FIRST_SEQUENCE = 100;

export async function recordLog(folder: string): Promise<Buffer> {
  const [made] = readScenarioFile(join(folder, "good.scenario.yaml"));
  const path = join(folder, "written.log");
  const log = new TrafficLog(path);
  // As a run does it: a session that asks who is there, then one for the case.
  for (const label of [HELLO_LABEL, caseLabel(made!)]) {
    const mark: SessionMark = { label, session: SESSION, firstSequence: FIRST_SEQUENCE };
    const bench = await linkBench({
      session: SESSION,
      firstSequence: FIRST_SEQUENCE,
      port: (port, clock) => new LoggedPort(port, log, mark, clock),
    });
    const { target } = bench;
    const work =
      label === HELLO_LABEL ? target.open(new AbortController().signal) : playTarget(target, made!);
    await bench.run<unknown>(work);
    await bench.run(target.close());
  }
  log.end();
  return readFileSync(path);
}
