// Calls that name nothing or ask for what cannot be, and cores that are none.
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { ROOT } from "../repo/source-files.ts";
import { scenarioText } from "../kit/small-scenario.ts";
import { type Content, type Kind, OUT } from "./kind.ts";

const wasm = readFileSync(join(ROOT, "build", "core", "release.wasm"));
const good = { "good.scenario.yaml": scenarioText() };
const run = (...more: string[]): string[] => ["run", "…/good.scenario.yaml", ...OUT, ...more];
const waveform = (...more: string[]): string[] => [
  "waveform",
  "…/good.scenario.yaml",
  "--out",
  "…/never.wav",
  ...more,
];

type Call = [what: string, args: string[], told: string];

const CALLS: Call[] = [
  ["a pattern that meets nothing", ["run", "none*.scenario.yaml"], "no file here ends in"],
  ["a file without a name", ["run", ""], "a file without a name was asked for"],
  ["a scenario that is no file", ["check", "none.scenario.yaml"], "no such file or folder"],
  ["no files", ["run"], "missing required argument 'files'"],
  ["no number of jobs", ["run", "x", "--jobs"], "argument missing"],
  ["no jobs", ["run", "x", "--jobs", "0"], "a whole number from 1 to 256 is needed"],
  ["a job and a half", run("--jobs", "1.5"), "a whole number from 1 to 256 is needed"],
  ["a scene that is none", ["demo", "--only", "zzz"], "--only zzz: no case has this in its name"],
  ["an argument too many", ["demo", "more"], "too many arguments"],
  ["a path that names a device", ["new", "/dev/null"], "is a file; a folder is expected"],
  ["a new folder without a name", ["new", ""], "the folder has no name"],
  ["an unknown command", ["fly"], "unknown command 'fly'"],
  ["an unknown option", run("--fast"), "unknown option '--fast'"],
  ["an unknown target", run("--target", "moon"), "Allowed choices are core, serial:PATH"],
  ["a seed that is a word", run("--seed", "x"), "a whole number from 0 to 4294967295 is"],
  ["one side to compare", ["compare", "core"], "missing required argument 'b'"],
  ["a side that is not there", ["compare", "…/none", "core"], "no such file or folder, and no"],
  ["a side without results", ["compare", "…/empty", "core"], 'it has no folder "cases"'],
  ["a scenario to measure", ["measure", "…/good.scenario.yaml"], "a profile (monitor: …) is exp"],
  ["a stimulus without limit", waveform(), "a stimulus needs the limit of the input"],
  ["a bare voltage", waveform("--input-limit", "5"), "the voltage needs a unit (V, mV"],
  ["a voltage as rms", waveform("--input-limit", "5 V rms"), "must be given as pk"],
  ["pulses without level", waveform("--input-limit", "5 V pk"), "pulses need a level"],
  ["an argument for target", ["target", "x"], "too many arguments for 'target'"],
  ["a speed that is a word", ["check", "…/small.monitor.yaml", "--speed", "fast"], "must be a num"],
];

type File = [what: string, file: string, content: Content, told: string, code: 2 | 3];

const CORES: File[] = [
  ["an empty core", "empty.wasm", "", "no WebAssembly module that starts", 3],
  ["a text as core", "text.wasm", "hello", "no WebAssembly module that starts", 3],
  ["a core that was cut", "cut.wasm", wasm.subarray(0, 5000), "no WebAssembly module that st", 3],
  [
    "another module as core",
    "other.wasm",
    Uint8Array.of(0, 97, 115, 109, 1, 0, 0, 0),
    "a module, but no core: it lacks",
    3,
  ],
  ["a core of 5 MiB", "big.wasm", new Uint8Array(5 * 2 ** 20), "a core has at most", 2],
];

const MODULES: File[] = [
  ["an adapter that is no program", "text.mjs", "(((", "text.mjs", 2],
  ["an adapter without a maker", "none.mjs", "export const a = 1;\n", "none.mjs", 2],
  ["an adapter that throws at once", "throws.mjs", 'throw new Error("so")\n', "so", 2],
];

export const CALL_KINDS: Kind[] = [
  ...CALLS.map(([what, args, told]): Kind => {
    return { group: "arguments", what, files: good, args, told: [told], code: 2 };
  }),
  ...CORES.map(([what, file, content, told, code]): Kind => {
    const files = { ...good, [file]: content };
    return { group: "files", what, files, args: run("--core", `…/${file}`), told: [told], code };
  }),
  ...MODULES.map(([what, file, content, told, code]): Kind => {
    const args = run("--target", `module:…/${file}`);
    return { group: "files", what, files: { ...good, [file]: content }, args, told: [told], code };
  }),
  {
    group: "files",
    what: "a file of no kind",
    files: { "x.json": "{}" },
    args: ["check", "…/x.json"],
    told: ["is neither a profile (monitor: …), a scenario"],
    code: 2,
  },
];
