// `amberline replay RECORDING`
import { join } from "node:path";
import { type Command, InvalidArgumentError, Option } from "@commander-js/extra-typings";
import { fileComplaint } from "../../host/input-error.ts";
import { readProfileFile } from "../../host/profile/profile-reader.ts";
import type { Recording, Stretch } from "../recording/recording.ts";
import { METHOD_SAMPLES_MAX } from "../run/method-recorder.ts";
import { openRecording } from "../recording/open-recording.ts";
import { sampleRateWords } from "../recording/sample-rate-words.ts";
import { replayPage } from "../report/replay-page.ts";
import { writeWhole } from "../results/case-file.ts";
import { prepareOutput } from "../results/output-folder.ts";
import { CYCLES_PER_SAMPLE_MAX, type ReplayRequest, runReplay } from "../run/replay-run.ts";
import { commandStart } from "./command-start.ts";
import { CallError, EXIT_INPUT, EXIT_INTERRUPTED, EXIT_RIGHT, helpTail } from "./command-errors.ts";
import { refuseHeld } from "./held-results.ts";
import { refuseIdleOptions } from "./replay-idle.ts";
import { replayLevels } from "./replay-levels.ts";
import { fileUnitOf } from "./replay-unit.ts";
import { replayLines, replayView } from "./replay-words.ts";
import {
  bandwidthOf,
  columnsOf,
  replayedColumns,
  type ReplayOptions,
  shaftSpeedOf,
  speedBinOf,
  stretchOf,
  timingOf,
} from "./replay-wish.ts";
import { folderStamp } from "./run.ts";
import { printable } from "./wrapped-text.ts";
import { shellWord } from "./shell-word.ts";

function orderList(text: string, before: number[] | undefined): number[] {
  const orders = text.split(",").map(Number);
  if (!orders.every((order) => Number.isInteger(order) && order >= 1 && order <= 64)) {
    throw new InvalidArgumentError("whole numbers from 1 to 64 are needed, as in 1,2,3.");
  }
  return [...(before ?? []), ...orders];
}

function real(text: string): number {
  const value = Number(text);
  if (text.trim() === "" || !Number.isFinite(value)) {
    throw new InvalidArgumentError("a number is needed.");
  }
  return value;
}

function above(text: string): number {
  const value = real(text);
  if (!(value > 0)) throw new InvalidArgumentError("a number over 0 is needed.");
  return value;
}

function positionCount(text: string): number {
  const value = Number(text);
  if (!Number.isInteger(value) || value < 1 || value > 255) {
    throw new InvalidArgumentError("a whole number from 1 to 255 is needed.");
  }
  return value;
}

/** What the options ask for, worked out against the recording. */
export async function replayRequest(
  path: string,
  options: ReplayOptions,
): Promise<ReplayRequest & { timingWords: string }> {
  const recording = await openRecording(path);
  const profile = options.profile === undefined ? undefined : readProfileFile(options.profile);
  const timing = timingOf(recording, profile, options.rate);
  const stretch = stretchOf(options, timing);
  const orders = options.order ?? [1];
  for (const name of ["order", "bandwidth", "channel"] as const) {
    if (profile === undefined || options[name] === undefined) continue;
    throw new CallError(`--${name} goes without --profile: the profile says it`);
  }
  if (orders.length > 8) throw new CallError("at most 8 orders at a time");
  if (profile !== undefined && profile.filters.some((filter) => filter.shaft !== 0)) {
    throw new CallError("a replay turns one shaft: a filter of this profile tracks the second");
  }
  refuseTooLong(options, recording, stretch);
  const columns =
    profile === undefined
      ? replayedColumns(recording, options)
      : columnsOf(
          recording,
          profile.channels.map((channel) => channel.name),
          options.profile!,
        );
  if (recording.sampleCount !== undefined && stretch.fromSample >= recording.sampleCount) {
    const length =
      timing.timeUnit === "s"
        ? `, ${Number((recording.sampleCount / timing.sampleRateHz).toPrecision(4))} s`
        : "";
    throw new CallError(
      `--from lies past the end of the recording (${recording.sampleCount} samples${length})`,
    );
  }
  const speed = await shaftSpeedOf(options, recording, columns, { profile, timing, stretch }).catch(
    (error: unknown) => {
      // What is wrong with the file comes first: the rest may follow from it.
      throw recording.fault ?? error;
    },
  );
  if (profile === undefined) checkOrders(orders, speed.speedTypical);
  return {
    recording,
    stretch,
    speed,
    ...timing,
    columns,
    ...fileUnitOf(options.fileUnit, profile, recording, columns),
    profile,
    orders,
    usesMethods: options.methods === true,
    bandwidth: bandwidthOf(options.bandwidth ?? "2 %", timing),
    speedBinWidth: speedBinOf(options.speedBin, timing),
    timingWords:
      timing.timeUnit === "s"
        ? sampleRateWords(timing.sampleRateHz, timing.sampleRateUncertaintyHz)
        : "not known",
  };
}

/** The methods look at the whole at once. */
function refuseTooLong({ methods }: ReplayOptions, recording: Recording, stretch: Stretch): void {
  if (methods !== true || recording.sampleCount === undefined) return;
  const until = Math.min(stretch.untilSample, recording.sampleCount);
  const samples = until - stretch.fromSample;
  if (samples <= METHOD_SAMPLES_MAX) return;
  throw new CallError(
    `--methods looks at the whole at once and keeps ${METHOD_SAMPLES_MAX} samples; the stretch has ` +
      `${samples}: --from and --until take a part of it`,
  );
}

/** An order beyond half the sample rate is not in the recording. */
function checkOrders(orders: readonly number[], cyclesPerSample: number): void {
  const highest = Math.max(...orders);
  if (highest * cyclesPerSample < CYCLES_PER_SAMPLE_MAX) return;
  throw new CallError(
    `order ${highest} makes ${(highest * cyclesPerSample).toPrecision(3)} cycles in a sample at ` +
      "this speed; a recording holds less than half a cycle in a sample",
  );
}

interface Output {
  data: object;
  page: string;
  lines: string[];
  isInterrupted?: boolean;
  fault?: string;
}

/** Errors: what replayRequest says; undefined where an interrupt came before the first level. */
async function replayRecording(
  path: string,
  options: ReplayOptions,
  folder: string,
  repeat: string,
  signal: AbortSignal,
): Promise<Output | undefined> {
  const request = await replayRequest(path, options);
  const outcome = await runReplay(request, signal);
  if (!outcome.filters.some((filter) => filter.computedCount > 0)) {
    if (outcome.isInterrupted) return undefined;
    if (request.recording.fault !== undefined) throw request.recording.fault;
    if (outcome.sampleCount === 0) throw new CallError("the stretch holds no samples");
    throw fileComplaint(path, "no level was ever computed: too short, or no speed was found");
  }
  const view = replayView(path, request, outcome, repeat);
  const lines = replayLines(view, outcome, folder);
  const { isInterrupted, fault } = outcome;
  return { data: outcome, page: replayPage(view), lines, isInterrupted, fault };
}

interface WholeOptions extends ReplayOptions {
  levels?: true;
  filter?: string;
  out?: string;
  replace?: true;
  json?: true;
}

async function replay(path: string, options: WholeOptions, signal: AbortSignal): Promise<void> {
  const folder = options.out ?? join("out", `replay-${folderStamp(new Date())}`);
  refuseHeld(folder, { isReplaced: options.replace === true });
  const words = process.argv.slice(3);
  if (options.out !== undefined && options.replace !== true) words.push("--replace");
  const repeat = [commandStart(), "replay", ...words.map(shellWord)].join(" ");
  prepareOutput(folder);
  let output: Output | undefined;
  if (options.levels === true) {
    const { review, page, lines } = replayLevels(path, options, folder, repeat);
    output = { data: review, page, lines };
  } else output = await replayRecording(path, options, folder, repeat, signal);
  if (output === undefined) {
    process.stderr.write("Interrupted before the first level: nothing was written.\n");
    process.exitCode = EXIT_INTERRUPTED;
    return;
  }
  writeWhole(join(folder, "replay.json"), `${JSON.stringify(output.data, undefined, 1)}\n`);
  writeWhole(join(folder, "report.html"), output.page);
  const text =
    options.json === true ? JSON.stringify({ folder, ...output.data }) : output.lines.join("\n");
  process.stdout.write(`${printable(text)}\n`);
  if (output.fault !== undefined) process.stderr.write(`${printable(output.fault)}\n`);
  process.exitCode = exitCodeOf(output);
}

function exitCodeOf({ isInterrupted, fault }: Output): number {
  if (isInterrupted === true) return EXIT_INTERRUPTED;
  return fault === undefined ? EXIT_RIGHT : EXIT_INPUT;
}

const EXIT_HELP =
  "Ends with 0 when levels were told, 2 when the input or the call is wrong (no\n" +
  "line found near a stated speed; a file that is broken, and what stands before\n" +
  "the break is told), 3 the target failed, 130 interrupted (what was finished is\n" +
  "kept).";

/** The name by which a parsed option goes: speed-near → speedNear. */
function camelCase(name: string): string {
  return name.replace(/-(.)/g, (_, letter: string) => letter.toUpperCase());
}

const slopeOption = () =>
  new Option("--slope <slope>", "slope that counts as the edge")
    .choices(["rising", "falling"] as const)
    .default("rising" as const);

const EXAMPLE = "amberline replay rig.csv --tachometer tach --order 1,2 --bandwidth '1 Hz'";

/** Adds the command `replay`. */
export function registerReplay(program: Command): void {
  program
    .command("replay")
    .description("put a recording through the signal path and report levels, orders and events")
    .argument("<recording>", "a recording: .wav, .csv")
    .option("--profile <file>", "a monitor profile; its channels name the recording's columns")
    .option(
      "--channel <names...>",
      "channels to read without a profile, by name or number, after <recording> (default: all)",
    )
    .option("--speed <value>", "a constant speed, or a CSV of time (s) and speed (r/min)")
    .option("--speed-near <value>", "find the speed from the signal near this one")
    .option("--speed-span <share>", "how far from it to search, either way", "10 %")
    .option("--edges <file>", "a CSV of edge times (s)")
    .option("--tachometer <channel>", "the tachometer's waveform: a channel by name or number")
    .option(
      "--positions <n>",
      "edges in a revolution (default: the profile's wheel, or 1)",
      positionCount,
    )
    .option("--threshold <value>", "of the tachometer channel (default: from the signal)", real)
    .option("--hysteresis <value>", "of the threshold (default: from the signal)", above)
    .addOption(slopeOption())
    .option("--order <list>", "orders to track without a profile, as 1,2,3", orderList)
    .option(
      "--bandwidth <width>",
      "full width: share of the speed, Hz, or cycles/sample where no rate is known (default: 2 %)",
    )
    .option(
      "--speed-bin <width>",
      "width of the bins of levels against speed, a speed (default: a dozen bins or so)",
    )
    .option(
      "--rate <frequency>",
      "sample rate, where the file does not say; else held against its own",
    )
    .option(
      "--file-unit <unit>",
      "of 1 in the file (default: the head's; else, with --profile, SI)",
    )
    .option("--methods", "put other methods' levels beside the firmware's, offline")
    .option("--levels", "the file is a table of recorded levels: time, level, speed, altitude")
    .option("--filter <name>", "whose caution the levels enter (with --levels)")
    .option("--from <time>", "start of the stretch, in time or samples")
    .option("--until <time>", "end of the stretch, in time or samples")
    .option("--out <folder>", "where the results go (default: out/replay-<date>-<time>)")
    .option("--replace", "replace the results that are in the folder")
    .option("--json", "print the result as JSON")
    .option("--debug", "print the stack where something fails")
    .addHelpText("after", helpTail(EXAMPLE, EXIT_HELP))
    .action(async (path, options, command) => {
      refuseIdleOptions((name) => command.getOptionValueSource(camelCase(name)) === "cli");
      const stop = new AbortController();
      const interrupt = (): void => stop.abort();
      process.once("SIGINT", interrupt);
      try {
        await replay(path, options, stop.signal);
      } finally {
        process.off("SIGINT", interrupt);
      }
    });
}
