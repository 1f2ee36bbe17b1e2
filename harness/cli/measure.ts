// `amberline measure [PROFILE]`: what a target's tracking filter does, each value beside its closed form.
import { join } from "node:path";
import type { Command } from "@commander-js/extra-typings";
import { BAUD_DEFAULT } from "../../host/link/serial-port.ts";
import { PACKAGE_ROOT, packageVersion } from "../../host/package-root.ts";
import { readProfileFile } from "../../host/profile/profile-reader.ts";
import { parseQuantity } from "../../host/quantity.ts";
import { messageOf } from "../../host/error-message.ts";
import { Bench } from "../measure/bench.ts";
import { measureAll } from "../measure/measure.ts";
import type { MeasuredRow, Measurement } from "../measure/measurement.ts";
import { measurePage, measuredText, rowVerdict } from "../report/measure-page.ts";
import { writeWhole } from "../results/case-file.ts";
import { prepareOutput } from "../results/output-folder.ts";
import { figure } from "../results/scene-words.ts";
import { HELLO_LABEL, type Line, openLine } from "../run/line.ts";
import { TargetFailure } from "../run/run-case.ts";
import type { MonitorProfile } from "../scene/scene.ts";
import type { Capabilities } from "../target/target.ts";
import { CallError, EXIT_INTERRUPTED, EXIT_RIGHT, EXIT_WRONG, helpTail } from "./command-errors.ts";
import { CORE_HELP, withMoreTime } from "./given-up-core.ts";
import { refuseHeld } from "./held-results.ts";
import { commandStart } from "./command-start.ts";
import { folderStamp, parseBaud } from "./run.ts";
import { tellCautions } from "./run-cases.ts";
import { findFiles, shownPath } from "./scenario-files.ts";
import { shellWord } from "./shell-word.ts";
import {
  type TargetOptions,
  parseTimeOut,
  targetOption,
  targetSpec,
  targetWords,
} from "./target-wish.ts";
import { COLUMNS, hanging } from "./wrapped-text.ts";

const DEFAULT_PROFILE = join(PACKAGE_ROOT, "harness", "scenario", "templates", "fan.monitor.yaml");

const EXIT_HELP =
  "Ends with 0 all values within their tolerance, 1 one is outside, 2 the input or\n" +
  `the call is wrong, 3 the target failed, 130 interrupted.\n\n${CORE_HELP}`;
const EXAMPLES =
  "amberline measure\n" +
  "  $ amberline measure my-engine/fan.monitor.yaml --speed '2400 r/min'\n" +
  "  $ amberline measure board.monitor.yaml --counts --target board";

interface Wish extends TargetOptions {
  replace?: true;
  filter?: string;
  speed?: string;
  counts?: true;
  out?: string;
  json?: true;
}

/** Errors: CallError. */
function filterIndex({ filters }: MonitorProfile, name: string | undefined): number {
  if (name === undefined) return 0;
  const found = filters.findIndex((one) => one.name === name);
  if (found >= 0) return found;
  const names = filters.map((one) => one.name).join(", ");
  throw new CallError(`--filter ${name}: the profile has ${names}`);
}

/** Nearer to a limit an edge's own clock decides on which side of it a speed counts. */
const LIMIT_SHARE = 0.001;

/** The middle of the valid speeds, where none is stated. Errors: CallError. */
function speedOf(profile: MonitorProfile, filter: number, text: string | undefined): number {
  const shaft = profile.shafts[profile.filters[filter]!.shaft]!;
  const low = Math.max(shaft.speedMinRevPerS, shaft.validSpeedRevPerS);
  const high = shaft.speedMaxRevPerS;
  if (text === undefined) return (low + high) / 2;
  const parsed = parseQuantity(text, { dimensions: ["speed"] });
  if (typeof parsed === "string") throw new CallError(`--speed ${parsed}`);
  // A number that is not valid yet becomes so only above the hysteresis.
  const least = Math.max(low, shaft.validSpeedRevPerS + shaft.validHysteresisRevPerS);
  const [from, until] = [least * (1 + LIMIT_SHARE), high * (1 - LIMIT_SHARE)];
  // The limits themselves, as they are told, are allowed.
  if (parsed.value < from * (1 - 1e-9) || parsed.value > until * (1 + 1e-9)) {
    const range = `${figure(60 * from, 6)} to ${figure(60 * until, 6)} r/min`;
    throw new CallError(`--speed ${text}: steady numbers are measured from ${range}`);
  }
  return parsed.value;
}

function profileOf(path: string | undefined): { path: string; profile: MonitorProfile } {
  const [file] = path === undefined ? [DEFAULT_PROFILE] : findFiles([path], [".monitor.yaml"]);
  const profile = readProfileFile(file!);
  if (profile.timeUnit === "sample") {
    throw new CallError(`${file!}: its time counts samples; a sample rate is needed`);
  }
  if (profile.filters.length === 0) throw new CallError(`${file!}: has no filter to measure`);
  return { path: file!, profile };
}

async function hello(line: Line, signal: AbortSignal): Promise<Capabilities> {
  try {
    const target = line.target(HELLO_LABEL);
    const said = await target.open(signal);
    await target.close();
    return said;
  } catch (error) {
    if (signal.aborted) throw error;
    throw new TargetFailure(`the target cannot be opened: ${messageOf(error)}`, { cause: error });
  }
}

function withUnit(value: number, tolerance: number | undefined, unit: string): string {
  return `${measuredText(value, tolerance)} ${unit === "1" ? "" : unit}`.trim();
}

export function rowLines(row: MeasuredRow): string[] {
  const { closed, tolerance, rule, unit } = row;
  if (unit === "valid") {
    const yes = (value: number): string => (value === 1 ? "yes" : "no");
    const text = `${row.what}: ${yes(row.measured)}, should be ${yes(closed!)}`;
    return hanging(`  ${rowVerdict(row).padEnd(10)} `, text, 13).split("\n");
  }
  const parts = [withUnit(row.measured, tolerance, unit)];
  if (rule === "within") {
    parts.push(`closed form ${measuredText(closed!, tolerance)}`, `± ${figure(tolerance!, 2)}`);
  } else if (rule !== "told") parts.push(`${rule} ${withUnit(closed!, undefined, unit)}`);
  const word = rowVerdict(row).padEnd(10);
  const text = `${row.what}: ${parts.join(", ")}`;
  return hanging(`  ${word} `, text, 13).split("\n");
}

function tell(measurements: readonly Measurement[], about: readonly string[], page: string): void {
  const lines = [...about, ""];
  for (const { name, rows } of measurements) {
    lines.push(name, ...rows.flatMap(rowLines));
  }
  const judged = measurements.flatMap(({ rows }) => rows).filter((row) => row.rule !== "told");
  const outside = judged.filter((row) => !row.isRight).length;
  const word = outside === 0 ? "all within their tolerance" : `${outside} OUTSIDE their tolerance`;
  lines.push("", `${judged.length} values: ${word}.`, `Page: ${page}`);
  process.stdout.write(`${lines.join("\n")}\n`);
}

function repeatWords(path: string, isDefault: boolean, wish: Wish): string {
  const words = [commandStart(), "measure"];
  if (!isDefault) words.push(shellWord(shownPath(path)));
  if (wish.filter !== undefined) words.push("--filter", shellWord(wish.filter));
  if (wish.speed !== undefined) words.push("--speed", shellWord(wish.speed));
  if (wish.counts === true) words.push("--counts");
  return [...words, ...targetWords(wish)].join(" ");
}

async function measure(path: string | undefined, wish: Wish, signal: AbortSignal): Promise<void> {
  const { path: file, profile } = profileOf(path);
  const index = filterIndex(profile, wish.filter);
  const speed = speedOf(profile, index, wish.speed);
  const spec = targetSpec(wish);
  const folder = wish.out ?? join("out", `measure-${folderStamp(new Date())}`);
  refuseHeld(folder, { isReplaced: wish.replace === true });
  prepareOutput(folder);
  if (spec.kind === "serial" || spec.kind === "module") tellCautions();
  const line = openLine(spec);
  try {
    const target = await hello(line, signal);
    const isCounts = wish.counts === true;
    const bench = new Bench(profile, index, speed, { line, signal, isCounts });
    const isShown = process.stderr.isTTY && wish.json !== true;
    const measurements = await measureAll(bench, (name) => {
      if (isShown) process.stderr.write(`\r\u001b[KMeasuring: ${name} …`);
    });
    if (isShown) process.stderr.write("\r\u001b[K");
    write(folder, { file, isDefault: path === undefined, wish, target, bench, measurements });
  } finally {
    await line.end();
  }
}

interface Measured {
  file: string;
  isDefault: boolean;
  wish: Wish;
  target: Capabilities;
  bench: Bench;
  measurements: Measurement[];
}

function write(
  folder: string,
  { file, isDefault, wish, target, bench, measurements }: Measured,
): void {
  const { kind, identity, numericsVersion } = target;
  const { filter, profile, speedRevPerS } = bench;
  const facts: [string, string][] = [
    ["Target", `${kind} ${identity}, numerics ${numericsVersion}`],
    ["Profile", `${profile.name} (${shownPath(file)})`],
    ["Filter", `${filter.name}, order ${filter.order}, ${filter.unit} ${filter.detector}`],
    ["Speed", `${figure(60 * speedRevPerS, 5)} r/min`],
    ["Sample rate", `${figure(profile.sampleRateHz / 1000)} kHz`],
    ["Samples", wish.counts === true ? "16-bit counts" : "single precision"],
    ["Date", new Date().toISOString().slice(0, 10)],
    ["amberline", packageVersion()],
  ];
  const title = `Characteristics of ${filter.name}`;
  const repeat = repeatWords(file, isDefault, wish);
  const page = join(folder, "measure.html");
  const json = `${JSON.stringify({ title, facts, measurements, repeat }, undefined, 1)}\n`;
  writeWhole(page, measurePage({ title, facts, measurements, repeat }));
  writeWhole(join(folder, "measure.json"), json);
  if (wish.json === true) process.stdout.write(json);
  else {
    const about = facts.slice(0, 4).map(([name, value]) => `${name.padEnd(8)} ${value}`);
    tell(
      measurements,
      about.map((text) => hanging("", text, 9).slice(0, 3 * COLUMNS)),
      page,
    );
  }
  const isRight = measurements.every(({ rows }) => rows.every((row) => row.isRight));
  process.exitCode = isRight ? EXIT_RIGHT : EXIT_WRONG;
}

/** Adds the command `measure`. */
export function registerMeasure(program: Command): void {
  program
    .command("measure")
    .description("measure a target's tracking filter, each value beside its closed form")
    .argument("[profile]", "a monitor profile (default: the one that new writes)")
    .option("--filter <name>", "the filter to measure (default: the first)")
    .option("--speed <speed>", "held while it is measured (default: the middle)")
    .option("--counts", "play 16-bit counts in place of single precision")
    .addOption(targetOption())
    .option("--core <file.wasm>", "a firmware other than the built-in one")
    .option("--baud <n>", `rate of a serial port (default: ${BAUD_DEFAULT})`, parseBaud)
    .option("--time-out <time>", "give the target up after so long without an answer", parseTimeOut)
    .option("--record <file>", "write a log of a port's traffic")
    .option("--out <folder>", "where page and JSON go (default: out/measure-<date>-<time>)")
    .option("--replace", "replace the results that are in the folder")
    .option("--json", "print the values as JSON")
    .option("--debug", "print the stack where something fails")
    .addHelpText("after", helpTail(EXAMPLES, EXIT_HELP))
    .action(async (profile, options) => {
      const controller = new AbortController();
      const onInterrupt = (): void => controller.abort();
      process.on("SIGINT", onInterrupt);
      try {
        await measure(profile, options, controller.signal);
      } catch (error) {
        if (!controller.signal.aborted) throw withMoreTime(error);
        process.stderr.write("Interrupted; nothing was written.\n");
        process.exitCode = EXIT_INTERRUPTED;
      } finally {
        process.off("SIGINT", onInterrupt);
      }
    });
}
