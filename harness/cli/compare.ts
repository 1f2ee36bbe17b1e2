// `amberline compare A B [FILES…]`: two cores, targets or folders of results over the same cases.
import { existsSync, readFileSync, statSync } from "node:fs";
import { join } from "node:path";
import type { Command } from "@commander-js/extra-typings";
import { BAUD_DEFAULT } from "../../host/link/serial-port.ts";
import { messageOf } from "../../host/error-message.ts";
import { PACKAGE_ROOT } from "../../host/package-root.ts";
import {
  type CaseComparison,
  type Side,
  compareResults,
  compareScene,
  folderSide,
} from "../compare/compare.ts";
import { writeWhole } from "../results/case-file.ts";
import type { RunInfo } from "../results/types.ts";
import { HELLO_LABEL, type Line, openLine } from "../run/line.ts";
import { TargetFailure } from "../run/run-case.ts";
import { readScenarioFile } from "../scenario/scenario-reader.ts";
import type { Scene } from "../scene/scene.ts";
import { comparisonText } from "./compare-words.ts";
import { CallError, EXIT_INTERRUPTED, EXIT_RIGHT, EXIT_WRONG, helpTail } from "./command-errors.ts";
import { CORE_HELP, withMoreTime } from "./given-up-core.ts";
import { checkOutputFile } from "./output-file.ts";
import { makeProgress } from "./progress.ts";
import { parseBaud, parseSeed } from "./run.ts";
import { tellCautions } from "./run-cases.ts";
import { findFiles } from "./scenario-files.ts";
import { shellWord } from "./shell-word.ts";
import { type TargetName, parseTarget, parseTimeOut, targetSpec } from "./target-wish.ts";
import { hanging } from "./wrapped-text.ts";

const EXIT_HELP =
  "A and B are each: core (the built-in one), FILE.wasm, serial:PATH, log:FILE,\n" +
  "board, board:posix, module:FILE (with makeTarget), or the folder of a run (with\n" +
  "--keep-records its records are compared).\n" +
  "Ends with 0 identical, 1 they differ or could not be held against each other,\n" +
  "2 the input or the call is wrong, 3 a target failed, 130 interrupted.\n\n" +
  CORE_HELP;
const EXAMPLES =
  "amberline compare core changed.wasm\n" +
  "  $ amberline compare core board harness/scenarios/board\n" +
  "  $ amberline compare out/before out/after";

interface Wish {
  baud?: number;
  timeOut?: number;
  seed: number;
  only?: string;
}

/** One side as it was named, opened. */
interface OpenSide {
  side: Side;
  words: string;
  end(): Promise<void>;
}

interface NamedTarget {
  target: TargetName;
  core?: string;
}

function namedTarget(name: string): NamedTarget {
  if (name !== "core" && existsSync(name) && statSync(name).isFile()) {
    return { target: { kind: "core", path: "" }, core: name };
  }
  try {
    return { target: parseTarget(name) };
  } catch (error) {
    throw new CallError(`${name}: no such file or folder, and no target (${messageOf(error)})`);
  }
}

/** A side as it was named: a folder of results, or what carries the signal path. */
type NamedSide = { folder: string } | NamedTarget;

function namedSide(name: string): NamedSide {
  if (name === "") throw new CallError("a side without a name was asked for");
  if (existsSync(name) && statSync(name).isDirectory()) return { folder: name };
  return namedTarget(name);
}

const isSerial = (side: NamedSide): boolean => "target" in side && side.target.kind === "serial";

/** The built-in core ends, and a folder is read. */
const isBounded = (side: NamedSide): boolean =>
  "target" in side && (side.core !== undefined || side.target.kind !== "core");

/** Errors: CallError where an option is of neither side. */
function needTaker(sides: readonly NamedSide[], { baud, timeOut }: Wish): void {
  if (baud !== undefined && !sides.some(isSerial)) {
    throw new CallError("--baud goes with a side serial:PATH, and neither is one");
  }
  if (timeOut !== undefined && !sides.some(isBounded)) {
    throw new CallError(
      "--time-out goes with a core of your own or another target: the built-in core ends, and a " +
        "folder is read",
    );
  }
}

async function openSide(
  named: NamedSide,
  wish: Wish,
  signal: AbortSignal,
  onPort: () => void,
): Promise<OpenSide> {
  if ("folder" in named) {
    const { folder } = named;
    return { side: folderSide(folder), words: `results in ${folder}`, end: async () => {} };
  }
  const { kind } = named.target;
  const line = openLine(
    targetSpec({
      ...named,
      ...(isSerial(named) ? { baud: wish.baud } : {}),
      ...(isBounded(named) ? { timeOut: wish.timeOut } : {}),
    }),
  );
  try {
    if (kind === "serial" || kind === "module") onPort();
    const words = await identity(line, signal);
    return { side: { kind: "played", line }, words, end: () => line.end() };
  } catch (error) {
    await line.end();
    throw error;
  }
}

async function identity(line: Line, signal: AbortSignal): Promise<string> {
  try {
    const target = line.target(HELLO_LABEL);
    const { kind, identity: id, numericsVersion } = await target.open(signal);
    await target.close();
    return `${kind} ${id}, numerics ${numericsVersion}`;
  } catch (error) {
    if (signal.aborted) throw error;
    throw new TargetFailure(`the target cannot be opened: ${messageOf(error)}`, { cause: error });
  }
}

/** The scenes of the files, by name. Errors: InputError. */
function scenesOf(files: readonly string[], seed: number): Map<string, Scene> {
  const given = files.length > 0 ? files : [join(PACKAGE_ROOT, "harness", "scenarios")];
  const scenes = new Map<string, Scene>();
  for (const path of findFiles(given, [".scenario.yaml"])) {
    for (const scene of readScenarioFile(path, { seed })) {
      if (scenes.has(scene.name)) {
        throw new CallError(`${path}: case "${scene.name}" has the name of a case in another file`);
      }
      scenes.set(scene.name, scene);
    }
  }
  return scenes;
}

/** Names of the cases to compare, in order. */
function namesOf(scenes: Map<string, Scene>, a: Side, b: Side, only: string | undefined): string[] {
  const all =
    a.kind === "folder" && b.kind === "folder"
      ? new Set([...a.cases.keys(), ...b.cases.keys()])
      : a.kind === "folder"
        ? new Set(a.cases.keys())
        : b.kind === "folder"
          ? new Set(b.cases.keys())
          : new Set(scenes.keys());
  const names = [...all].filter((name) => only === undefined || name.includes(only));
  if (names.length === 0) throw new CallError("there is no case to compare");
  return names.toSorted();
}

/** Scenario files of a run that a hint names; the rest it leaves to the reader. */
const FILES_TOLD_MAX = 3;

/** The scenario files that a folder's run was of, as its own note has them; it may be harmed. */
function filesOfRun(folder: string): string[] {
  try {
    const note = JSON.parse(readFileSync(join(folder, "run.json"), "utf8")) as Partial<RunInfo>;
    const files = (note.cases ?? []).map(({ file }): unknown => file);
    return [...new Set(files)].filter((file) => typeof file === "string");
  } catch {
    return [];
  }
}

/** Errors: CallError where a folder is held against a target, and none of its cases can be played. */
function needScenes(names: readonly string[], scenes: Map<string, Scene>, a: Side, b: Side): void {
  const folder = a.kind === "folder" ? a.folder : b.kind === "folder" ? b.folder : "";
  if ((a.kind === "folder" && b.kind === "folder") || folder === "") return;
  if (names.some((name) => scenes.has(name))) return;
  const files = filesOfRun(folder);
  const told = files.slice(0, FILES_TOLD_MAX).map(shellWord).join(" ");
  const more = files.length > FILES_TOLD_MAX ? ` and ${files.length - FILES_TOLD_MAX} more` : "";
  throw new CallError(
    `none of the cases in ${folder} is in the scenario files that were named or, without any, in ` +
      "the regression suite: name the files that the run was of after the two sides" +
      (told === "" ? "" : ` (${told}${more})`),
  );
}

async function compareOne(
  name: string,
  a: Side,
  b: Side,
  scenes: Map<string, Scene>,
  signal: AbortSignal,
): Promise<CaseComparison> {
  const scene = scenes.get(name);
  if (a.kind === "folder" && b.kind === "folder") {
    return compareResults(name, a, b, scene, signal);
  }
  if (scene !== undefined) return compareScene(scene, a, b, signal);
  const why = "no scenario file that was named has this case";
  return { name, compared: "none", isEqual: false, why };
}

async function compareAll(
  sides: readonly [OpenSide, OpenSide],
  files: readonly string[],
  wish: Wish,
  signal: AbortSignal,
  isQuiet: boolean,
): Promise<CaseComparison[]> {
  const [a, b] = [sides[0].side, sides[1].side];
  const scenes = scenesOf(files, wish.seed);
  const names = namesOf(scenes, a, b, wish.only);
  needScenes(names, scenes, a, b);
  const progress = makeProgress(names.length, isQuiet);
  const all: CaseComparison[] = [];
  try {
    for (const name of names) {
      all.push(await compareOne(name, a, b, scenes, signal));
      progress.show(all.length, names.length, name);
    }
  } finally {
    progress.stop();
  }
  return all;
}

/** Adds the command `compare`. */
export function registerCompare(program: Command): void {
  program
    .command("compare")
    .description("hold two cores, targets or folders of results against each other, to the bit")
    .argument("<a>", "one side")
    .argument("<b>", "the other")
    .argument("[files...]", "scenario files or folders (default: the regression suite)")
    .option("--only <text>", "only cases with this in their name")
    .option("--seed <n>", "seed of all random numbers", parseSeed, 1)
    .option("--baud <n>", `rate of a serial port (default: ${BAUD_DEFAULT})`, parseBaud)
    .option("--time-out <time>", "give the target up after so long without an answer", parseTimeOut)
    .option("--out <file>", "write the comparison as JSON, too")
    .option("--json", "print the comparison as JSON")
    .option("--debug", "print the stack where something fails")
    .addHelpText("after", helpTail(EXAMPLES, EXIT_HELP))
    .action(async (nameA, nameB, files, options) => {
      if (nameA === nameB && nameA.startsWith("serial:")) {
        throw new CallError(`${nameA}: one port carries one device; name two`);
      }
      const named = [namedSide(nameA), namedSide(nameB)];
      needTaker(named, options);
      if (options.out !== undefined) checkOutputFile("out", options.out);
      const controller = new AbortController();
      const onInterrupt = (): void => controller.abort();
      let areCautionsTold = false;
      const onPort = (): void => {
        if (!areCautionsTold) tellCautions();
        areCautionsTold = true;
      };
      process.on("SIGINT", onInterrupt);
      const open: OpenSide[] = [];
      try {
        for (const one of named) {
          open.push(await openSide(one, options, controller.signal, onPort));
        }
        const sides = [open[0]!, open[1]!] as const;
        const isJson = options.json === true;
        if (!isJson) {
          for (const [i, { words }] of open.entries()) {
            process.stdout.write(`${hanging(`${"AB"[i]}  `, words, 3)}\n`);
          }
          process.stdout.write("\n");
        }
        const cases = await compareAll(sides, files, options, controller.signal, isJson);
        const [a, b] = open.map(({ words }) => words);
        const text = `${JSON.stringify({ a, b, cases }, undefined, 1)}\n`;
        if (options.out !== undefined) writeWhole(options.out, text);
        process.stdout.write(isJson ? text : comparisonText(cases));
        process.exitCode = cases.every((one) => one.isEqual) ? EXIT_RIGHT : EXIT_WRONG;
      } catch (error) {
        if (!controller.signal.aborted) throw withMoreTime(error);
        process.stderr.write("Interrupted.\n");
        process.exitCode = EXIT_INTERRUPTED;
      } finally {
        process.off("SIGINT", onInterrupt);
        for (const one of open) await one.end();
      }
    });
}
