// `npm run bench`: the core beside C, Python and the machine's memory; whole runs; one table, and the
// same as JSON. Medians of rounds that take turns, with the least and the greatest. Each row has the
// hash of what it gave, and builds of the core that differ by a bit end it with 1.
//   --only TEXT    parts whose name has this: core, memory, python, parts, jobs, length, cases
//   --out FILE     JSON (default: out/bench.json)
//   --flights N    N flights of one hour on two threads, and nothing else
import { execFileSync } from "node:child_process";
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { arch, cpus, platform, tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { parseArgs } from "node:util";
import { HOST_COMPILER, WASM_TO_C, findCommand, toolPaths } from "../../host/board/tools.ts";
import { ROOT } from "../repo/source-files.ts";
import { TimedC, timeWork } from "./core-rows.ts";
import { pythonPath, routes, timesOfRoutes } from "./python-rows.ts";
import { type Spread, spreadOf } from "./timing.ts";
import { campaign, fly, growthWithCases, growthWithLength, shares } from "./whole-rows.ts";
import { WORKS } from "./works.ts";

const ROUNDS = 9;
const MEMORY_MB = 256;

const say = (line = ""): void => void process.stdout.write(`${line}\n`);
const number = (value: number): string => value.toFixed(value < 100 ? 2 : 0);
const range = ({ least, greatest }: Spread): string => `${number(least)} to ${number(greatest)}`;

/** What is left out says why; where nothing may be left out it is an error. */
function missing(what: string, packages: string): undefined {
  const line = `${what}: left out, needs ${packages}`;
  if (process.env["AMBERLINE_ALL_TESTS"] === "1") throw new Error(line);
  say(line);
  return undefined;
}

function hasCompiler(): boolean {
  return [WASM_TO_C.command, HOST_COMPILER.command].every((one) => findCommand(one) !== undefined);
}

function coreRows(): unknown {
  const c = hasCompiler() ? new TimedC() : missing("C", "wabt, gcc and libc6-dev");
  say(`The core, ns a filter-sample (channels × orders), ${ROUNDS} rounds`);
  say(`  ${"work".padEnd(47)}${"SIMD".padStart(7)}${"scalar".padStart(8)}${"C".padStart(7)}`);
  try {
    return WORKS.map((work) => {
      const result = timeWork(work, c, ROUNDS);
      const cells = result.rows.map(({ nsPerFilterSample }, i) =>
        number(nsPerFilterSample.median).padStart(i === 1 ? 8 : 7),
      );
      say(`  ${work.name.padEnd(47)}${cells.join("")}  ${result.rows[0]!.hash.slice(0, 6)}`);
      const [simd] = result.rows;
      const spread = range(simd!.nsPerFilterSample);
      say(`    SIMD ${spread} ns; ${number(simd!.timesRealTime)} times real time`);
      return result;
    });
  } finally {
    c?.remove();
  }
}

/** ns to read a sample of four bytes from memory. */
function memoryRate(): Spread | undefined {
  if (!hasCompiler()) return missing("memory", "gcc and libc6-dev");
  const folder = mkdtempSync(join(tmpdir(), "amberline-memory-"));
  try {
    const program = join(folder, "memory-rate");
    const [compiler] = toolPaths([HOST_COMPILER]);
    const source = join(ROOT, "tests", "bench", "memory-rate.c");
    execFileSync(compiler!, ["-O3", source, "-o", program]);
    const args = [String(MEMORY_MB), String(ROUNDS)];
    const said = execFileSync(program, args, {
      encoding: "utf8",
      stdio: ["pipe", "pipe", "ignore"],
    });
    const spread = spreadOf(said.trim().split("\n").map(Number));
    say(
      `Reading a sample of 4 bytes once from memory: ${number(spread.median)} ns (${range(spread)})`,
    );
    return spread;
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

function pythonRows(): unknown {
  const python = pythonPath();
  if (python === undefined) return missing("Python", "python3-scipy");
  say("The same work in Python with SciPy; worst error of order 1 in a dwell");
  return routes(python, Math.ceil(ROUNDS / 2)).map((result) => {
    for (const { route, nsPerFilterSample: ns, errorPercent, hash } of result.rows) {
      say(
        `  ${result.work}  ${route.padEnd(18)}${number(ns.median).padStart(8)} ns  ` +
          `${errorPercent.toFixed(5)} %  ${hash.slice(0, 6)}`,
      );
    }
    say(`    the core is ${number(timesOfRoutes(result))} times as fast as the fastest of them`);
    return result;
  });
}

async function partsRow(): Promise<unknown> {
  const found = await shares(1200, 5);
  const percent = (share: number): string => `${(100 * share).toFixed(0)} %`;
  say("A flight of 20 min, one channel, one filter, 12.8 kHz, on one core");
  say(`  ${number(found.timesRealTime.median)} times real time (${range(found.timesRealTime)})`);
  say(
    `  synthesis ${percent(found.synthesis)}, core ${percent(found.core)}, ` +
      `truth and judging ${percent(found.judging)}, case file and report ${percent(found.report)}`,
  );
  return found;
}

function jobsRows(): unknown {
  say("1,000 cases of half a second, cases a second");
  return [1, 2].map((jobs) => {
    const one = campaign(1000, 0.5, jobs);
    say(
      `  --jobs ${jobs}: ${number(1000 / one.seconds)}; ${number(one.greatestMb)} MB; ` +
        `report ${number(one.reportBytes / 1e6)} MB`,
    );
    return { jobs, ...one };
  });
}

function growth(name: string, unit: string, found: ReturnType<typeof growthWithLength>): unknown {
  say(`Growth with ${name}: CPU seconds, greatest resident set`);
  for (const { size, seconds, greatestMb } of found.rows) {
    say(`  ${String(size).padStart(7)} ${unit}: ${number(seconds)} s, ${number(greatestMb)} MB`);
  }
  say(`  the last slope departs from the one before by ${number(100 * found.departure)} %`);
  return found;
}

function flightsRow(count: number): unknown {
  const one = campaign(count, 3600, 2);
  say(
    `${count} flights of one hour on two threads: ${number(one.seconds / 60)} min, ` +
      `${number(one.greatestMb)} MB, ${one.isRight ? "all right" : "NOT ALL RIGHT"}`,
  );
  return one;
}

const PARTS: [name: string, run: () => unknown][] = [
  ["core", coreRows],
  ["memory", memoryRate],
  ["python", pythonRows],
  ["parts", partsRow],
  ["jobs", jobsRows],
  ["length", () => growth("length", "h", growthWithLength())],
  ["cases", () => growth("cases", "cases", growthWithCases([10, 100, 1000, 5000, 10_000]))],
];

async function main(): Promise<void> {
  const { values } = parseArgs({
    options: {
      only: { type: "string", default: "" },
      out: { type: "string", default: join("out", "bench.json") },
      flights: { type: "string" },
    },
  });
  const cpu = cpus()[0]?.model ?? "unknown";
  const machine = `${platform()} ${arch()}, ${cpu}, ${cpus().length} cores, Node ${process.version}`;
  say(`${machine}\n`);
  // A first flight, so that nothing below pays for what a start loads from disk.
  fly(0.1, 1, 1);
  const found: Record<string, unknown> = { machine };
  if (values.flights !== undefined) found["flights"] = flightsRow(Number(values.flights));
  else {
    const parts = PARTS.filter(([name]) => name.includes(values.only));
    if (parts.length === 0) throw new Error(`no part is called ${values.only}`);
    for (const [name, run] of parts) {
      // oxlint-disable-next-line no-await-in-loop -- one at a time: each is timed
      found[name] = await run();
      say();
    }
  }
  mkdirSync(dirname(values.out), { recursive: true });
  writeFileSync(values.out, `${JSON.stringify(found, undefined, 2)}\n`);
  say(`JSON: ${values.out}`);
}

await main();
