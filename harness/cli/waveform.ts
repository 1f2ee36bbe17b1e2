// `amberline waveform SCENARIO`: the waveform as a file for a signal generator or another tool.
import { existsSync } from "node:fs";
import { join } from "node:path";
import { type Command, InvalidArgumentError, Option } from "@commander-js/extra-typings";
import { BENCH_CAUTIONS } from "../../host/bench-cautions.ts";
import { amountPk, parseQuantity } from "../../host/quantity.ts";
import { readScenarioFile } from "../scenario/scenario-reader.ts";
import { figure } from "../results/scene-words.ts";
import type { MonitorProfile, Scene } from "../scene/scene.ts";
import type { FrameFormat } from "../stimulus/frame-writer.ts";
import { WIDTH_SAMPLES_MIN } from "../stimulus/pulse-track.ts";
import {
  type StimulusDone,
  type StimulusJob,
  TIMES_MAX,
  sidePathOf,
  writeStimulus,
} from "../stimulus/stimulus-job.ts";
import { CallError, EXIT_INTERRUPTED, EXIT_RIGHT, helpTail } from "./command-errors.ts";
import { parseSeed, wholeNumber } from "./run.ts";
import { findFiles } from "./scenario-files.ts";
import { hanging } from "./wrapped-text.ts";

const FORMATS: readonly FrameFormat[] = ["wav24", "wav-float", "csv"];
const RAMP_S_MIN = 0.1;
const RAMP_S_MAX = 600;
const HOLD_S_MAX = 3600;
const EXIT_HELP =
  "Ends with 0 when the file is written, 2 when the input or the call is wrong or\n" +
  "a limit would be passed (nothing is written then), 3 when the built-in core\n" +
  "failed, 130 interrupted (nothing is left).";
const EXAMPLE =
  "amberline waveform my-engine/first.scenario.yaml --only below \\\n" +
  '      --input-limit "5 V pk" --volt "fan frame=2 in/s" \\\n' +
  '      --pulse-level "2 V" --oversample 5';

/** A voltage as "5 V pk"; a pulse's level names no detector. */
function voltage(detectors?: readonly ["pk"]) {
  return (text: string): number => {
    const parsed = parseQuantity(text, {
      dimensions: ["voltage"],
      ...(detectors === undefined ? {} : { detectors }),
    });
    if (typeof parsed === "string") throw new InvalidArgumentError(`the voltage ${parsed}.`);
    const value = amountPk(parsed);
    if (!(value > 0)) throw new InvalidArgumentError("a voltage above 0 is needed.");
    return value;
  };
}

function duration(text: string): number {
  const parsed = parseQuantity(text, { dimensions: ["time"] });
  if (typeof parsed === "string") throw new InvalidArgumentError(`the time ${parsed}.`);
  return parsed.value;
}

function ramp(text: string): number {
  const value = duration(text);
  if (value < RAMP_S_MIN || value > RAMP_S_MAX) {
    throw new InvalidArgumentError(`a time from ${RAMP_S_MIN} s to ${RAMP_S_MAX} s is needed.`);
  }
  return value;
}

function hold(text: string): number {
  const value = duration(text);
  if (!(value >= 0 && value <= HOLD_S_MAX)) {
    throw new InvalidArgumentError(`a time from 0 s to ${HOLD_S_MAX} s is needed.`);
  }
  return value;
}

/** The one case that is meant. */
function chosenCase(file: string, only: string | undefined, seed: number): Scene {
  const all = readScenarioFile(file, { seed });
  const exact = all.filter(({ name }) => name === only);
  const found =
    only === undefined
      ? all
      : exact.length > 0
        ? exact
        : all.filter(({ name }) => name.includes(only));
  if (found.length === 1) return found[0]!;
  const names = (found.length === 0 ? all : found).map(({ name }) => `  ${name}`).join("\n");
  throw new CallError(
    found.length === 0
      ? `--only ${only}: no case of ${file} has this in its name; there are\n${names}`
      : `a stimulus is of one case; name it by --only, of these:\n${names}`,
  );
}

/** Volts for 1 SI of each channel, and what one volt stands for, in words. */
function scales(
  profile: MonitorProfile,
  wishes: readonly string[],
  inputLimitV: number,
): { voltsPerUnit: number[]; oneVoltIs: string[] } {
  const voltsPerUnit = profile.channels.map(({ range }) => inputLimitV / range);
  const si = { acceleration: "m/s²", velocity: "m/s", displacement: "m", unstated: "units" };
  const oneVoltIs = profile.channels.map(
    ({ range, quantity }) => `${figure(range / inputLimitV, 4)} ${si[quantity]}`,
  );
  for (const wish of wishes) {
    const at = wish.indexOf("=");
    const name = wish.slice(0, Math.max(at, 0)).trim();
    const channel = profile.channels.findIndex((one) => one.name === name);
    if (channel < 0) {
      const names = profile.channels.map((one) => one.name).join(", ");
      throw new CallError(`--volt ${wish}: CHANNEL=AMOUNT is needed, of the channels ${names}`);
    }
    const written = wish.slice(at + 1).trim();
    const amount = parseQuantity(written, { dimensions: [profile.channels[channel]!.quantity] });
    if (typeof amount === "string") throw new CallError(`--volt ${name}: the amount ${amount}`);
    if (!(amount.value > 0)) throw new CallError(`--volt ${name}: must be above 0`);
    voltsPerUnit[channel] = 1 / amount.value;
    oneVoltIs[channel] = written;
  }
  return { voltsPerUnit, oneVoltIs };
}

function freePath(out: string | undefined, scene: Scene, format: FrameFormat): string {
  const ending = format === "csv" ? "csv" : "wav";
  const plain = scene.name.replaceAll(/[^A-Za-z0-9._-]+/g, "-").replaceAll(/^-+|-+$/g, "");
  const path = out ?? join("out", "waveform", `${plain || "case"}.${ending}`);
  if (path === "") throw new CallError("--out needs the name of a file");
  for (const one of [path, sidePathOf(path)]) {
    if (existsSync(one))
      throw new CallError(`${one}: is there already; it is not written over: --out names another`);
  }
  return path;
}

function tellCautions(): void {
  const lines = BENCH_CAUTIONS.map((one) => hanging("- ", one, 2));
  process.stderr.write(`Before a generator is connected:\n${lines.join("\n")}\n\n`);
}

const volts = (value: number): string => `${figure(value, 4)} V`;

function tell({ path, sidePath, facts, truthRows, eventCount, isCoreRight }: StimulusDone): void {
  const { file, limits } = facts;
  const kind = { wav24: "WAV of 24 bits", "wav-float": "WAV of floats", csv: "CSV" }[file.format];
  const lines = [
    hanging(
      "Wrote ",
      `${path}: ${kind}, ${figure(file.sampleRateHz / 1000)} kHz: a ramp up of ` +
        `${figure(file.rampS)} s without pulses, the first moment held for ` +
        `${figure(file.holdS)} s, the scenario, ${figure(file.scenarioS)} s, from sample ` +
        `${file.zeroSample} on, its time 0, and a ramp down of ${figure(file.rampDownS)} s.`,
      2,
    ),
  ];
  for (const one of facts.channels) {
    lines.push(
      hanging(
        `  ${one.column} ${one.name}: `,
        `peak ${volts(one.peakV)} at ${figure(one.peakAtS, 4)} s, rms ${volts(one.fileRmsV)}; ` +
          `1 V is ${one.oneVoltIs}; limit ${volts(limits.inputV)} pk`,
        4,
      ),
    );
  }
  for (const one of facts.tachometers) {
    lines.push(
      hanging(
        `  ${one.column} ${one.name}: `,
        `${one.edgeCount} pulses of ${volts(one.pulseV)} and ` +
          `${figure(one.pulseWidthS * 1e6, 4)} us, peak ${volts(one.peakV)}, ` +
          `rms ${volts(one.fileRmsV)}; an edge is where ` +
          `it rises through ${volts(one.edgeAtV)}; limit ${volts(limits.pulseV)} pk`,
        4,
      ),
    );
  }
  lines.push(
    hanging("  ", `A full-scale sample is ${volts(file.fullScaleV)}: set the generator to it.`, 4),
    hanging(
      "Beside it ",
      `${sidePath}: scale factors, the truth in ${truthRows} rows from ` +
        `${figure(facts.truthFromS)} s on, ` +
        `${eventCount} expected event${eventCount === 1 ? "" : "s"}.`,
      2,
    ),
  );
  if (!isCoreRight) {
    lines.push("The built-in core is not judged right on this case; the side file says so.");
  }
  process.stdout.write(`${lines.join("\n")}\n`);
}

interface Wish {
  inputLimit?: number;
  pulseLevel?: number;
  pulseLimit?: number;
  pulseWidth?: number;
  volt?: string[];
  fullScale?: number;
  ramp: number;
  hold?: number;
  oversample: number;
  format: FrameFormat;
  only?: string;
  seed: number;
  out?: string;
}

/** Errors: CallError, InputError. */
function jobOf(scenario: string, wish: Wish): Omit<StimulusJob, "signal"> {
  const { inputLimit, pulseLevel, format, seed, oversample } = wish;
  if (inputLimit === undefined) {
    throw new CallError(
      'a stimulus needs the limit of the input that it is meant for: --input-limit "5 V pk",\n' +
        "from the equipment's manual; nothing is written without it",
    );
  }
  const [file] = findFiles([scenario], [".scenario.yaml"]);
  const scene = chosenCase(file!, wish.only, seed);
  const { profile } = scene;
  if (profile.timeUnit === "sample") {
    throw new CallError(`${file!}: its time counts samples; a generator needs a sample rate`);
  }
  if (profile.shafts.length > 0 && pulseLevel === undefined) {
    throw new CallError(
      'the tachometer\'s pulses need a level: --pulse-level "2 V", as its input expects it',
    );
  }
  const rateHz = profile.sampleRateHz * oversample;
  const pulseWidthS = wish.pulseWidth ?? WIDTH_SAMPLES_MIN / rateHz;
  // A width that was counted in samples is not made too narrow by its own division.
  if (pulseWidthS * rateHz < WIDTH_SAMPLES_MIN * (1 - 1e-9)) {
    const least = figure((1e6 * WIDTH_SAMPLES_MIN) / rateHz, 4);
    throw new CallError(`--pulse-width: at ${rateHz} Hz a pulse has ${least} us at least`);
  }
  const pulseLimit = wish.pulseLimit ?? inputLimit;
  return {
    scene,
    path: freePath(wish.out, scene, format),
    format,
    times: oversample,
    rampS: wish.ramp,
    ...(wish.hold === undefined ? {} : { holdS: wish.hold }),
    fullScaleV: wish.fullScale ?? Math.max(inputLimit, pulseLimit),
    limits: { inputV: inputLimit, pulseV: pulseLimit },
    ...scales(profile, wish.volt ?? [], inputLimit),
    pulseV: pulseLevel ?? 0,
    pulseWidthS,
  };
}

/** Adds the command `waveform`. */
export function registerWaveform(program: Command): void {
  program
    .command("waveform")
    .description("write a scenario's waveform for a signal generator or another tool")
    .argument("<scenario>", "a scenario file")
    .option(
      "--input-limit <voltage>",
      'greatest voltage the input bears, as "5 V pk"',
      voltage(["pk"]),
    )
    .option("--pulse-level <voltage>", 'level of a tachometer\'s pulses, as "2 V"', voltage())
    .option("--pulse-limit <voltage>", "the same limit of the tachometer's input", voltage(["pk"]))
    .option(
      "--pulse-width <time>",
      `width of a pulse (default: ${WIDTH_SAMPLES_MIN} samples)`,
      duration,
    )
    .option("--volt <channel=amount...>", "what one volt stands for (default: range over limit)")
    .option(
      "--full-scale <voltage>",
      "voltage of a full-scale sample (default: the limit)",
      voltage(["pk"]),
    )
    .option("--ramp <time>", "ramp up from silence, and down after the scenario", ramp, 2)
    .option(
      "--hold <time>",
      "how long the first moment stands (default: until a device of the profile has settled)",
      hold,
    )
    .option("--oversample <n>", "samples for each of the scenario's", wholeNumber(1, TIMES_MAX), 1)
    .addOption(
      new Option("--format <format>", "what is written").choices(FORMATS).default("wav24" as const),
    )
    .option("--only <text>", "the case with this in its name")
    .option("--seed <n>", "seed of all random numbers", parseSeed, 1)
    .option("--out <file>", "the file to write (default: out/waveform/<case>.wav)")
    .option("--json", "print what was written as JSON")
    .option("--debug", "print the stack where something fails")
    .addHelpText("after", helpTail(EXAMPLE, EXIT_HELP))
    .action(async (scenario, options) => {
      const isJson = options.json === true;
      const job = jobOf(scenario, options);
      const controller = new AbortController();
      const onInterrupt = (): void => controller.abort();
      process.on("SIGINT", onInterrupt).on("SIGTERM", onInterrupt);
      if (!isJson) tellCautions();
      try {
        const done = await writeStimulus({ ...job, signal: controller.signal });
        if (isJson) process.stdout.write(`${JSON.stringify(done, undefined, 1)}\n`);
        else tell(done);
        process.exitCode = EXIT_RIGHT;
      } catch (error) {
        if (!controller.signal.aborted) throw error;
        process.stderr.write("Interrupted; nothing was written.\n");
        process.exitCode = EXIT_INTERRUPTED;
      } finally {
        process.off("SIGINT", onInterrupt).off("SIGTERM", onInterrupt);
      }
    });
}
