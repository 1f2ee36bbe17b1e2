// A campaign in a process of its own, as the built product runs it: COUNT cases of SECONDS each on JOBS
// threads. Prints the seconds it took, from its call to its report, and the greatest resident set of
// the process, threads included.
import { mkdtempSync, rmSync, statSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { scenarioText, writeScenarios } from "../kit/small-scenario.ts";
import { ROOT } from "../repo/source-files.ts";

/** Rows of a scenario's table at most. */
const ROWS_MAX = 2000;

const [count, seconds, jobs] = process.argv.slice(2).map(Number) as [number, number, number];
const program = join(ROOT, "build", "harness", "cli", "program.js");
const { main } = (await import(
  pathToFileURL(program).href
)) as typeof import("../../harness/cli/program.ts");

const folder = mkdtempSync(join(tmpdir(), "amberline-cases-"));
try {
  // Amplitudes far below the caution, each another.
  const rows = Array.from(
    { length: count },
    (_, i) => `  - [case ${i + 1}, ${(0.5 + i / count).toFixed(6)} in/s pk]`,
  );
  const text = scenarioText({ amplitude: "$amplitude", duration: `${seconds} s` });
  for (let first = 0; first < count; first += ROWS_MAX) {
    const some = rows.slice(first, first + ROWS_MAX).join("\n");
    const table = `cases:\n  - [case, amplitude]\n${some}\n`;
    writeScenarios(folder, { [`part-${first / ROWS_MAX + 1}`]: `${text}${table}` });
  }
  const out = join(folder, "out");
  const before = performance.now();
  const write = process.stdout.write.bind(process.stdout);
  process.stdout.write = () => true;
  process.stderr.write = () => true;
  const args = ["run", folder, "--out", out, "--jobs", String(jobs)];
  await main(["node", "amberline", ...args]);
  process.stdout.write = write;
  const took = (performance.now() - before) / 1000;
  const { user, system } = process.cpuUsage();
  const told = {
    isRight: (process.exitCode ?? 0) === 0,
    seconds: took,
    cpuSeconds: (user + system) / 1e6,
    greatestMb: process.resourceUsage().maxRSS / 1024,
    reportBytes: statSync(join(out, "report.html")).size,
  };
  process.stdout.write(JSON.stringify(told));
} finally {
  rmSync(folder, { recursive: true, force: true });
}
