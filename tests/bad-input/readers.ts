// Every reader's good example, and the command that reads it, for the fuzz.
import { createHash } from "node:crypto";
import { mkdirSync, readFileSync, readdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { amberlineHere } from "../kit/amberline-here.ts";
import { linkBench } from "../kit/link-bench.ts";
import { loadCore, playTarget } from "../kit/play-scene.ts";
import { scene } from "../kit/scene-builder.ts";
import { scenarioText, writeScenarios } from "../kit/small-scenario.ts";
import { toneRows, toneWav } from "../kit/small-recording.ts";
import { Deframer } from "../../host/link/deframer.ts";
import { LinkDevice } from "../../host/link/device.ts";
import { ROOT } from "../repo/source-files.ts";

/** How a good example ends where it is read: a reader that reads no more ends otherwise. */
export interface Taken {
  code: number;
  /** Words of what is said, whatever the width of the terminal. */
  says: string;
}

export interface Call {
  args: string[];
  taken: Taken;
}

/** Bytes in a file, and what a user types to have them read. */
export interface FileReader {
  good: Buffer;
  /** Where the harmed bytes are put, in the folder. */
  file: string;
  /** One of them for each harmed file; `out` is a folder that is not there yet. */
  calls: (folder: string, out: string) => Call[];
  /** Bits are turned and nothing else, where all else ends at the first check. */
  isBitsOnly?: boolean;
  /** It is what carries the signal path: harmed, it may be a target that fails. */
  isTarget?: boolean;
}

/** Bytes that are taken without a file. */
export interface ByteReader {
  good: Buffer;
  /** Throws where it may not; gives what came of them. */
  take: (bytes: Buffer) => Promise<string>;
  /** What comes of the good example. */
  taken: string;
}

export type Reader = FileReader | ByteReader;

const SAMPLES = 1500;
const LEVELS = `time,level,speed,altitude\n${Array.from(
  { length: 60 },
  (_, i) => `${i},${(1 + 0.05 * i).toFixed(2)},${2400 + i},${1000 + i}`,
).join("\n")}\n`;

const RICH = `${scenarioText({ duration: "1.2 s" })}  - { noise: 0.1 in/s rms }
seed: 7
requirements: []
note: "a note"
`;

const call = (says: string, args: string[]): Call => ({ args, taken: { code: 0, says } });

/** A replay of a file in the folder, into a folder of its own. */
function replayed(says: string, file: string, more: (folder: string) => string[]) {
  return (folder: string, out: string): Call[] => [
    call(says, ["replay", join(folder, file), ...more(folder), "--out", out]),
  ];
}

/** The calls that read what a run left in the folder "results". */
const RESUMED = "1 case was in the folder already and not run again.";

/** A run's own note without what differs from run to run, so that a seed finds its place again. */
function steadyNote(path: string): Buffer {
  const note = JSON.parse(readFileSync(path, "utf8")) as { cases: object[] };
  const cases = note.cases.map((one) => ({ ...one, elapsedS: 1 }));
  const machine = { platform: "linux", arch: "x64", node: "v20", cpu: "one", cores: 2 };
  const steady = { ...note, startedAt: "2000-01-01T00:00:00.000Z", elapsedS: 1, machine, cases };
  return Buffer.from(JSON.stringify(steady));
}

const resumed = (folder: string): string[] => [
  "run",
  join(folder, "good.scenario.yaml"),
  "--resume",
  "--jobs",
  "1",
  "--keep-records",
  "--out",
  join(folder, "results"),
];

async function folderOfResults(folder: string): Promise<string> {
  const out = join(folder, "results");
  const path = join(folder, "good.scenario.yaml");
  const args = ["run", path, "--jobs", "1", "--keep-records", "--out", out];
  const { code, stderr } = await amberlineHere(args);
  if (code !== 0) throw new Error(`the good scenario: ${stderr}`);
  return readdirSync(join(out, "cases")).find((name) => name.endsWith(".json"))!;
}

const IDENTICAL = "1 case: 1 identical to the bit.";

/** What reads a case that a folder of results holds. */
function callsOfResults(folder: string) {
  const [good, results] = [join(folder, "good.scenario.yaml"), join(folder, "results")];
  const calls = [
    call(IDENTICAL, ["compare", results, "core", good]),
    call(IDENTICAL, ["compare", results, results]),
    call('"isEqual": true', ["compare", "core", results, good, "--json"]),
    // Starts a thread, so it comes once in five; what it replaces is its own, so it reads again.
    call(RESUMED, resumed(folder)),
  ];
  return { good, results, calls };
}

/** What a host sends in a run, and what the device answers to it: bytes of the line. */
async function lineBytes(): Promise<{ host: Buffer; device: Buffer; answerCount: number }> {
  const pieces = { host: [] as Uint8Array[], device: [] as Uint8Array[] };
  let answerCount = 0;
  const bench = await linkBench({
    core: loadCore("debug"),
    device: { onAnswer: () => (answerCount += 1) },
    port: (port) => ({
      open: () => port.open(),
      close: () => port.close(),
      onClosed: (take) => port.onClosed(take),
      onBytes: (take) =>
        port.onBytes((bytes) => {
          pieces.device.push(bytes.slice());
          take(bytes);
        }),
      write: (bytes) => {
        pieces.host.push(bytes.slice());
        port.write(bytes);
      },
    }),
  });
  await bench.run(playTarget(bench.target, scene({ durationS: 0.5 })));
  await bench.run(bench.target.close());
  return { host: Buffer.concat(pieces.host), device: Buffer.concat(pieces.device), answerCount };
}

const hashOf = (bytes: Uint8Array): string => createHash("sha256").update(bytes).digest("hex");

/** A device must take whatever comes without a trap; gives the hash of what it answers. */
async function toDevice(bytes: Buffer): Promise<string> {
  const core = loadCore("debug");
  const answers: Uint8Array[] = [];
  let take: (bytes: Uint8Array) => void = () => {};
  const device = new LinkDevice(core, {
    open: async () => {},
    close: async () => {},
    onClosed: () => {},
    onBytes: (taker) => {
      take = taker;
    },
    write: (answer) => void answers.push(answer.slice()),
  });
  await device.start();
  take(bytes);
  return hashOf(Buffer.concat(answers));
}

/** A host must tell every packet, in a buffer that does not grow; gives how many were whole. */
async function toHost(bytes: Buffer): Promise<string> {
  const deframer = new Deframer();
  for (let at = 0; at < bytes.length; at += 97) {
    deframer.push(bytes.subarray(at, at + 97));
    while (deframer.pull() !== "needs more") deframer.packet();
  }
  return `${deframer.counts.whole} whole packets`;
}

const TABLES: Record<string, FileReader> = {
  csv: {
    good: Buffer.from(`${toneRows(SAMPLES).join("\n")}\n`),
    file: "r.csv",
    calls: replayed('"stepCount":7', "r.csv", () => ["--tachometer", "tach", "--json"]),
  },
  wav: {
    good: toneWav(SAMPLES),
    file: "r.wav",
    calls: replayed("Samples a channel: 1500.", "r.wav", () => ["--speed", "20 rev/s"]),
  },
  levels: {
    good: Buffer.from(LEVELS),
    file: "l.csv",
    calls: replayed("No caution.", "l.csv", (folder) => [
      "--levels",
      "--profile",
      join(folder, "small.monitor.yaml"),
    ]),
  },
  speeds: {
    good: Buffer.from("0,1200\n0.3,1220\n0.75,1210\n"),
    file: "s.csv",
    calls: replayed("The speed is a table,", "t.csv", (folder) => [
      "--speed",
      join(folder, "s.csv"),
    ]),
  },
  edges: {
    good: Buffer.from(`${Array.from({ length: 16 }, (_, i) => (i / 20).toFixed(3)).join("\n")}\n`),
    file: "e.csv",
    calls: replayed("edge list: 16 edges,", "t.csv", (folder) => [
      "--edges",
      join(folder, "e.csv"),
    ]),
  },
};

/** A list of one's own with every field that one may have; the good scenario proves its first. */
const REQUIREMENTS = `requirements:
  - id: OWN-1
    text: A low level brings no caution.
    source: { kind: standard, cite: "clause 4" }
    scenarios: [good]
    tests: [ABC-1, ABC-2]
  - { id: OWN-2, text: It is fast., source: { kind: this project }, scenarios: [never, gone] }
  - { id: OWN-3, text: It is right., source: { kind: common practice }, tests: [ABC-1] }
`;

/** Makes a reader by name; the folder holds the good files that it needs beside. */
export const READERS: Record<string, (folder: string) => Promise<Reader>> = {
  profile: async () => ({
    good: readFileSync(join(ROOT, "harness", "demo", "survey-twin.monitor.yaml")),
    file: "p.monitor.yaml",
    calls: (folder) => [
      call('the profile "Survey twin, engine vibration" is right', [
        "check",
        join(folder, "p.monitor.yaml"),
      ]),
    ],
  }),
  scenario: async () => ({
    good: Buffer.from(RICH),
    file: "s.scenario.yaml",
    calls: (folder) => [
      call('"isRight": true', ["check", join(folder, "s.scenario.yaml"), "--json"]),
      call("the scenario is right, one case", ["check", join(folder, "s.scenario.yaml")]),
    ],
  }),
  "rich scenario": async (at) => {
    const demo = join(ROOT, "harness", "demo");
    for (const name of readdirSync(demo).filter((one) => one.endsWith(".monitor.yaml"))) {
      writeFileSync(join(at, name), readFileSync(join(demo, name)));
    }
    return {
      good: readFileSync(join(demo, "2-blade-binds-at-start.scenario.yaml")),
      file: "d.scenario.yaml",
      calls: (folder) => [
        call("the scenario is right, one case", ["check", join(folder, "d.scenario.yaml")]),
      ],
    };
  },
  device: async () => ({
    good: readFileSync(join(ROOT, "harness", "adapter", "examples", "analog-box.device.yaml")),
    file: "b.device.yaml",
    calls: (folder) => [
      call('the device "Simulated analog box" is right', ["check", join(folder, "b.device.yaml")]),
    ],
  }),
  ...Object.fromEntries(Object.entries(TABLES).map(([name, made]) => [name, async () => made])),
  requirements: async () => ({
    good: Buffer.from(REQUIREMENTS),
    file: "q.yaml",
    calls: (folder, out) => [
      call("q.yaml: 1 proven, 2 not run.", [
        "run",
        join(folder, "good.scenario.yaml"),
        "--jobs",
        "1",
        "--requirements",
        join(folder, "q.yaml"),
        "--out",
        out,
      ]),
    ],
  }),
  results: async (at) => {
    const name = await folderOfResults(at);
    return {
      good: readFileSync(join(at, "results", "cases", name)),
      file: join("results", "cases", name),
      calls: (folder) => {
        const { results, calls } = callsOfResults(folder);
        return [...calls, call('"isEqual": true', ["compare", results, results, "--json"])];
      },
    };
  },
  "kept records": async (at) => {
    const name = (await folderOfResults(at)).replace(".json", ".records");
    return {
      good: readFileSync(join(at, "results", "cases", name)),
      file: join("results", "cases", name),
      calls: (folder) => {
        const { good, results, calls } = callsOfResults(folder);
        return [...calls, call(IDENTICAL, ["compare", results, results, good])];
      },
    };
  },
  "note of a run": async (at) => {
    await folderOfResults(at);
    writeScenarios(at, { other: scenarioText({ duration: "1 s" }) });
    return {
      good: steadyNote(join(at, "results", "run.json")),
      file: join("results", "run.json"),
      calls: (folder, out) => {
        const [other, results] = [join(folder, "other.scenario.yaml"), join(folder, "results")];
        const named = "good.scenario.yaml";
        return [
          call("1 case: 1 right, none wrong.", ["merge", results, "--out", out]),
          { args: ["compare", results, "core", other], taken: { code: 2, says: named } },
          call(RESUMED, resumed(folder)),
          { args: ["demo", "--out", results], taken: { code: 2, says: "the results of a run" } },
        ];
      },
    };
  },
  "summary of a run": async (at) => {
    await folderOfResults(at);
    const merge = (of: string, out: string) => ["merge", join(of, "results"), "--out", out];
    return {
      good: readFileSync(join(at, "results", "summary.json")),
      file: join("results", "summary.json"),
      calls: (folder, out) => [call("1 case: 1 right, none wrong.", merge(folder, out))],
    };
  },
  log: async (at) => {
    const { recordLog } = await import("./recorded-log.ts");
    return {
      good: await recordLog(at),
      isTarget: true,
      file: "l.log",
      calls: (folder, out) => [
        call("1 case: 1 right, none wrong.", [
          "run",
          join(folder, "good.scenario.yaml"),
          "--time-out",
          "1 s",
          "--target",
          `log:${join(folder, "l.log")}`,
          "--out",
          out,
        ]),
      ],
    };
  },
  core: async () => ({
    good: readFileSync(join(ROOT, "build", "core", "release.wasm")),
    isBitsOnly: true,
    isTarget: true,
    file: "c.wasm",
    // One bit may take the end from a loop: it is the command that gives such a core up, so a harmed
    // one is run as it is, and a hang of the command is a finding as everywhere. Long enough that the
    // good core comes back on a busy machine, and short against what the fuzz takes for a hang.
    calls: (folder, out) => [
      call("1 case: 1 right, none wrong.", [
        "run",
        join(folder, "good.scenario.yaml"),
        "--jobs",
        "1",
        "--time-out",
        "5 s",
        "--core",
        join(folder, "c.wasm"),
        "--out",
        out,
      ]),
      // In the command's own thread.
      call("1 case: 1 identical to the bit.", [
        "compare",
        "core",
        join(folder, "c.wasm"),
        join(folder, "good.scenario.yaml"),
        "--time-out",
        "5 s",
      ]),
    ],
  }),
  "frames to a device": async () => {
    const { host, device } = await lineBytes();
    return { good: host, take: toDevice, taken: hashOf(device) };
  },
  "frames to the host": async () => {
    const { device, answerCount } = await lineBytes();
    return { good: device, take: toHost, taken: `${answerCount} whole packets` };
  },
};

/** The files that readers need beside the harmed one. */
export function prepare(folder: string): void {
  mkdirSync(folder, { recursive: true });
  writeScenarios(folder, { good: scenarioText({ duration: "1.2 s" }) });
  writeFileSync(join(folder, "t.csv"), `${toneRows(SAMPLES).join("\n")}\n`);
}
