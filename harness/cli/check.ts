// `amberline check FILES…`: profiles, scenarios and recordings without running them.
import { type Command, InvalidArgumentError } from "@commander-js/extra-typings";
import type { Complaint } from "../../host/input-error.ts";
import { complaintText, InputError } from "../../host/input-error.ts";
import type { Implied } from "../../host/profile/implied.ts";
import { impliedBy } from "../../host/profile/implied.ts";
import { profileOfTree } from "../../host/profile/profile-reader.ts";
import { parseYaml, readSmallFile } from "../../host/profile/yaml-tree.ts";
import { parseQuantity } from "../../host/quantity.ts";
import { deviceOfTree } from "../box/device-file.ts";
import { parseScenario } from "../scenario/scenario-reader.ts";
import {
  type CheckedLevels,
  type CheckedRecording,
  checkRecording,
  isRecordingName,
} from "./check-recording.ts";
import type { MonitorProfile } from "../../host/profile/types.ts";
import { impliedText, rightText, speedText, warningLines } from "./check-text.ts";
import { EXIT_INPUT, EXIT_RIGHT } from "./command-errors.ts";
import { findFiles } from "./scenario-files.ts";
import { printable } from "./wrapped-text.ts";

const YAML_SUFFIXES = [".monitor.yaml", ".scenario.yaml", ".device.yaml"];
const RECORDING_SUFFIXES = [".wav", ".csv", ".txt", ".tsv"];

/** What `check` says of one file. */
export interface FileCheck {
  file: string;
  kind: "profile" | "scenario" | "device" | "recording" | "levels" | "unknown";
  isRight: boolean;
  complaints: Complaint[];
  warnings: string[];
  implied?: Implied;
  cases?: { name: string; seed: number; durationS: number }[];
  recording?: CheckedRecording;
  levels?: CheckedLevels;
}

export interface CheckOptions {
  json?: boolean;
  /** Speed at which a profile's figures are stated; its lowest and highest where none is given. */
  speedRevPerS?: number;
}

interface Checked {
  check: FileCheck;
  text: string;
}

function kindOf(file: string, root: { [key: string]: unknown }): FileCheck["kind"] {
  if (file.endsWith(".monitor.yaml") || "monitor" in root) return "profile";
  if (file.endsWith(".scenario.yaml") || "question" in root) return "scenario";
  if (file.endsWith(".device.yaml") || "device" in root) return "device";
  return "unknown";
}

/** A speed at which the profile's shafts have no reference. */
function speedWarnings(profile: MonitorProfile, speedRevPerS: number | undefined): string[] {
  if (speedRevPerS === undefined) return [];
  return profile.shafts
    .filter((one) => speedRevPerS < one.speedMinRevPerS || speedRevPerS > one.speedMaxRevPerS)
    .map(
      ({ name, speedMinRevPerS, speedMaxRevPerS }) =>
        `${name}: turns at ${speedText(profile, speedMinRevPerS)} to ` +
        `${speedText(profile, speedMaxRevPerS)}; there is no number at ` +
        speedText(profile, speedRevPerS),
    );
}

/** Where a warning belongs, in the file that is named above it. */
function placedText({ line, column, message }: Complaint): string {
  return `line ${line}:${column}: ${message}`;
}

function withWarnings(text: string, { warnings }: FileCheck): string {
  return [text, ...warnings.map(warningLines)].join("\n");
}

async function checkOne(file: string, options: CheckOptions): Promise<Checked> {
  const check: FileCheck = { file, kind: "unknown", isRight: true, complaints: [], warnings: [] };
  if (isRecordingName(file)) {
    const { text, recording, levels } = await checkRecording(file);
    check.kind = levels === undefined ? "recording" : "levels";
    return { check: { ...check, recording, levels }, text };
  }
  const text = readSmallFile(file);
  const root = parseYaml(file, text);
  check.kind = kindOf(file, root);
  if (check.kind === "profile") {
    const profile = profileOfTree(root);
    check.implied = impliedBy(profile, options.speedRevPerS);
    check.warnings = [...check.implied.warnings, ...speedWarnings(profile, options.speedRevPerS)];
    const head = rightText(file, `the profile "${profile.name}" is right`);
    return { check, text: withWarnings(`${head}\n${impliedText(profile, check.implied)}`, check) };
  }
  if (check.kind === "scenario") {
    const warned = new Set<string>();
    const scenes = parseScenario(file, text, { onWarning: (one) => warned.add(placedText(one)) });
    check.warnings = [...warned];
    check.cases = scenes.map(({ name, seed, durationS }) => ({ name, seed, durationS }));
    const count = scenes.length === 1 ? "one case" : `${scenes.length} cases`;
    const head = rightText(file, `the scenario is right, ${count}`, scenes[0]!.question);
    return { check, text: withWarnings(head, check) };
  }
  if (check.kind === "device") {
    const { name, decision, filter } = deviceOfTree(root);
    const known = filter === undefined ? "its filter is not known" : "its filter is known";
    const about = `${known}; ${decision.rule}`;
    return { check, text: rightText(file, `the device "${name}" is right`, about) };
  }
  const message =
    "is neither a profile (monitor: …), a scenario (question: …) nor a device (device: …)";
  throw new InputError({ file, line: 1, column: 1, message });
}

/**
 * Checks files one by one; a wrong one does not keep the others from being checked.
 *
 * Shape     text for a person, or JSON for a machine; exit code 0 or 2
 */
export async function checkFiles(
  paths: readonly string[],
  options: CheckOptions = {},
): Promise<{ text: string; exitCode: number; files: FileCheck[] }> {
  const checked: Checked[] = [];
  for (const file of paths) {
    try {
      checked.push(await checkOne(file, options));
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      const { complaints } = error;
      const check = { file, kind: "unknown" as const, isRight: false, complaints, warnings: [] };
      checked.push({ check, text: complaints.map(complaintText).join("\n") });
    }
  }
  const files = checked.map((one) => one.check);
  const exitCode = files.every((file) => file.isRight) ? EXIT_RIGHT : EXIT_INPUT;
  const text = options.json
    ? JSON.stringify({ files }, jsonNumber, 2)
    : checked.map((one) => one.text).join("\n");
  return { text, exitCode, files };
}

/** JSON has no infinity: what never happens is null. */
function jsonNumber(_key: string, value: unknown): unknown {
  return typeof value === "number" && !Number.isFinite(value) ? null : value;
}

function parseSpeed(text: string): number {
  const parsed = parseQuantity(text, { dimensions: ["speed"] });
  if (typeof parsed === "string") throw new InvalidArgumentError(`the speed ${parsed}.`);
  if (parsed.value <= 0) throw new InvalidArgumentError("the speed must be > 0 r/min.");
  return parsed.value;
}

/** Adds the command `check`. */
export function registerCheck(program: Command): void {
  program
    .command("check")
    .description(
      "check profiles, scenarios, device files and recordings without running them; say what " +
        "settings imply",
    )
    .argument(
      "<files...>",
      "profiles, scenarios, device files, recordings (.wav, .csv), folders, or patterns",
    )
    .option(
      "--speed <speed>",
      'state a profile\'s figures at this speed, e.g. "4800 r/min"',
      parseSpeed,
    )
    .option("--json", "print what was found as JSON")
    .option("--debug", "print the stack where something fails")
    .addHelpText(
      "after",
      "\nExample:\n  $ amberline check fan.monitor.yaml --speed '4800 r/min'\n\n" +
        "In a folder all but recordings are looked for; a recording is named.\n" +
        "Ends with 0 where every file is right, 2 where one is wrong (says where).",
    )
    .action(async (files, options) => {
      const found = findFiles(files, YAML_SUFFIXES, [...YAML_SUFFIXES, ...RECORDING_SUFFIXES]);
      const result = await checkFiles(found, {
        json: options.json === true,
        ...(options.speed !== undefined && { speedRevPerS: options.speed }),
      });
      process.stdout.write(`${printable(result.text)}\n`);
      process.exitCode = result.exitCode;
    });
}
