// Every reader's good example, and the command that reads it, for the fuzz.
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

/** Bytes that are read, and what a user types to have them read. */
export interface Reader {
  good: Buffer;
  /** Where the harmed bytes are put, in the folder; absent: they go to `take`. */
  file?: string;
  /** Calls of the command, with names in the folder; one of them for each harmed file. */
  calls?: (folder: string) => string[][];
  /** Takes the bytes where no file is read; throws where it may not. */
  take?: (bytes: Buffer) => Promise<void>;
  /** Bits are turned and nothing else, where all else ends at the first check. */
  isBitsOnly?: boolean;
}

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

function replayed(file: string, ...more: string[]): (folder: string) => string[][] {
  return (folder) => [["replay", join(folder, file), ...more, "--out", join(folder, "out")]];
}

async function folderOfResults(folder: string): Promise<string> {
  const out = join(folder, "results");
  const path = join(folder, "good.scenario.yaml");
  const call = ["run", path, "--jobs", "1", "--keep-records", "--out", out];
  const { code, stderr } = await amberlineHere(call);
  if (code !== 0) throw new Error(`the good scenario: ${stderr}`);
  return readdirSync(join(out, "cases")).find((name) => name.endsWith(".json"))!;
}

/** What a host sends in a run, and what the device answers to it: bytes of the line. */
async function lineBytes(direction: "host" | "device"): Promise<Buffer> {
  const pieces: Uint8Array[] = [];
  const bench = await linkBench({
    port: (port) => ({
      open: () => port.open(),
      close: () => port.close(),
      onClosed: (take) => port.onClosed(take),
      onBytes: (take) =>
        port.onBytes((bytes) => {
          if (direction === "device") pieces.push(bytes.slice());
          take(bytes);
        }),
      write: (bytes) => {
        if (direction === "host") pieces.push(bytes.slice());
        port.write(bytes);
      },
    }),
  });
  await bench.run(playTarget(bench.target, scene({ durationS: 0.5 })));
  await bench.run(bench.target.close());
  return Buffer.concat(pieces);
}

/** A device must take whatever comes without a trap. */
async function toDevice(bytes: Buffer): Promise<void> {
  const core = loadCore("debug");
  let take: (bytes: Uint8Array) => void = () => {};
  const device = new LinkDevice(core, {
    open: async () => {},
    close: async () => {},
    onClosed: () => {},
    onBytes: (taker) => {
      take = taker;
    },
    write: () => {},
  });
  await device.start();
  take(bytes);
}

/** A host must tell every packet, in a buffer that does not grow. */
async function toHost(bytes: Buffer): Promise<void> {
  const deframer = new Deframer();
  for (let at = 0; at < bytes.length; at += 97) {
    deframer.push(bytes.subarray(at, at + 97));
    while (deframer.pull() !== "needs more") deframer.packet();
  }
}

const TABLES: Record<string, () => Reader> = {
  csv: () => ({
    good: Buffer.from(`${toneRows(SAMPLES).join("\n")}\n`),
    file: "r.csv",
    calls: replayed("r.csv", "--tachometer", "tach", "--json"),
  }),
  wav: () => ({
    good: toneWav(SAMPLES),
    file: "r.wav",
    calls: replayed("r.wav", "--speed", "20 rev/s"),
  }),
  levels: () => ({
    good: Buffer.from(LEVELS),
    file: "l.csv",
    calls: (folder) => [
      ["replay", join(folder, "l.csv"), "--levels"].concat([
        "--profile",
        join(folder, "small.monitor.yaml"),
        "--out",
        join(folder, "out"),
      ]),
    ],
  }),
  speeds: () => ({
    good: Buffer.from("0,1200\n0.3,1220\n0.75,1210\n"),
    file: "s.csv",
    calls: (folder) => replayed("t.csv", "--speed", join(folder, "s.csv"))(folder),
  }),
  edges: () => ({
    good: Buffer.from(`${Array.from({ length: 16 }, (_, i) => (i / 20).toFixed(3)).join("\n")}\n`),
    file: "e.csv",
    calls: (folder) => replayed("t.csv", "--edges", join(folder, "e.csv"))(folder),
  }),
};

/** Makes a reader by name; the folder holds the good files that it needs beside. */
export const READERS: Record<string, (folder: string) => Promise<Reader>> = {
  profile: async (folder) => ({
    good: readFileSync(join(ROOT, "harness", "demo", "survey-twin.monitor.yaml")),
    file: "p.monitor.yaml",
    calls: () => [["check", join(folder, "p.monitor.yaml")]],
  }),
  scenario: async (folder) => ({
    good: Buffer.from(RICH),
    file: "s.scenario.yaml",
    calls: () => [
      ["check", join(folder, "s.scenario.yaml"), "--json"],
      ["check", join(folder, "s.scenario.yaml")],
    ],
  }),
  "rich scenario": async (folder) => {
    const demo = join(ROOT, "harness", "demo");
    for (const name of readdirSync(demo).filter((one) => one.endsWith(".monitor.yaml"))) {
      writeFileSync(join(folder, name), readFileSync(join(demo, name)));
    }
    return {
      good: readFileSync(join(demo, "2-blade-binds-at-start.scenario.yaml")),
      file: "d.scenario.yaml",
      calls: () => [["check", join(folder, "d.scenario.yaml")]],
    };
  },
  device: async (folder) => ({
    good: readFileSync(join(ROOT, "harness", "adapter", "examples", "analog-box.device.yaml")),
    file: "b.device.yaml",
    calls: () => [["check", join(folder, "b.device.yaml")]],
  }),
  ...Object.fromEntries(Object.entries(TABLES).map(([name, make]) => [name, async () => make()])),
  results: async (folder) => {
    const name = await folderOfResults(folder);
    const good = join(folder, "good.scenario.yaml");
    const results = join(folder, "results");
    return {
      good: readFileSync(join(results, "cases", name)),
      file: join("results", "cases", name),
      calls: () => [
        ["compare", results, "core", good],
        ["compare", results, results],
        ["compare", "core", results, good, "--json"],
        ["compare", results, results, "--json"],
        // Starts a thread, so it comes once in five.
        ["run", good, "--resume", "--jobs", "1", "--keep-records", "--out", results],
      ],
    };
  },
  log: async (folder) => {
    const { recordLog } = await import("./recorded-log.ts");
    const good = await recordLog(folder);
    return {
      good,
      file: "l.log",
      calls: () => [
        [
          "run",
          join(folder, "good.scenario.yaml"),
          "--time-out",
          "1 s",
          "--target",
          `log:${join(folder, "l.log")}`,
          "--out",
          join(folder, "log-out"),
        ],
      ],
    };
  },
  core: async (folder) => ({
    good: readFileSync(join(ROOT, "build", "core", "release.wasm")),
    isBitsOnly: true,
    file: "c.wasm",
    calls: () => [
      [
        "run",
        join(folder, "good.scenario.yaml"),
        "--jobs",
        "1",
        "--core",
        join(folder, "c.wasm"),
        "--out",
        join(folder, "core-out"),
      ],
    ],
  }),
  "frames to a device": async () => ({ good: await lineBytes("host"), take: toDevice }),
  "frames to the host": async () => ({ good: await lineBytes("device"), take: toHost }),
};

/** The files that readers need beside the harmed one. */
export function prepare(folder: string): void {
  mkdirSync(folder, { recursive: true });
  writeScenarios(folder, { good: scenarioText({ duration: "1.2 s" }) });
  writeFileSync(join(folder, "t.csv"), `${toneRows(SAMPLES).join("\n")}\n`);
}
