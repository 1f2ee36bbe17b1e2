// `amberline check FILES…`: profiles and scenarios without running them.
import { type Command, InvalidArgumentError } from "@commander-js/extra-typings";
import type { Complaint } from "../../host/input-error.ts";
import { complaintText, InputError } from "../../host/input-error.ts";
import type { Implied } from "../../host/profile/implied.ts";
import { impliedBy } from "../../host/profile/implied.ts";
import { profileOfTree } from "../../host/profile/profile-reader.ts";
import { parseYaml, readSmallFile } from "../../host/profile/yaml-tree.ts";
import { parseQuantity } from "../../host/quantity.ts";
import { parseScenario } from "../scenario/scenario-reader.ts";
import { impliedText } from "./check-text.ts";
import { EXIT_INPUT, EXIT_RIGHT } from "./command-errors.ts";
import { findFiles } from "./scenario-files.ts";

/** What `check` says of one file. */
export interface FileCheck {
  file: string;
  kind: "profile" | "scenario" | "unknown";
  isRight: boolean;
  complaints: Complaint[];
  warnings: string[];
  implied?: Implied;
  cases?: { name: string; seed: number; durationS: number }[];
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
  return "unknown";
}

function checkOne(file: string, options: CheckOptions): Checked {
  const check: FileCheck = { file, kind: "unknown", isRight: true, complaints: [], warnings: [] };
  const text = readSmallFile(file);
  const root = parseYaml(file, text);
  check.kind = kindOf(file, root);
  if (check.kind === "profile") {
    const profile = profileOfTree(root);
    check.implied = impliedBy(profile, options.speedRevPerS);
    check.warnings = check.implied.warnings;
    const warnings = check.warnings.map((warning) => `\n  warning: ${warning}`).join("");
    const head = `${file}: the profile "${profile.name}" is right\n`;
    return { check, text: `${head}${impliedText(profile, check.implied)}${warnings}` };
  }
  if (check.kind === "scenario") {
    const scenes = parseScenario(file, text);
    check.cases = scenes.map(({ name, seed, durationS }) => ({ name, seed, durationS }));
    const count = scenes.length === 1 ? "one case" : `${scenes.length} cases`;
    return { check, text: `${file}: the scenario is right, ${count}: ${scenes[0]!.question}` };
  }
  const message = `is neither a profile (monitor: …) nor a scenario (question: …)`;
  throw new InputError({ file, line: 1, column: 1, message });
}

/**
 * Checks files one by one; a wrong one does not keep the others from being checked.
 *
 * Shape     text for a person, or JSON for a machine; exit code 0 or 2
 */
export function checkFiles(
  paths: readonly string[],
  options: CheckOptions = {},
): { text: string; exitCode: number; files: FileCheck[] } {
  const checked = paths.map((file): Checked => {
    try {
      return checkOne(file, options);
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      const { complaints } = error;
      const check = { file, kind: "unknown" as const, isRight: false, complaints, warnings: [] };
      return { check, text: complaints.map(complaintText).join("\n") };
    }
  });
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
    .description("check profiles and scenarios without running them; say what settings imply")
    .argument("<files...>", "profiles, scenarios, folders, or patterns")
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
        "Ends with 0 where every file is right, 2 where one is wrong (says where).",
    )
    .action((files, options) => {
      const found = findFiles(files, [".monitor.yaml", ".scenario.yaml"]);
      const result = checkFiles(found, {
        json: options.json === true,
        ...(options.speed !== undefined && { speedRevPerS: options.speed }),
      });
      process.stdout.write(`${result.text}\n`);
      process.exitCode = result.exitCode;
    });
}
