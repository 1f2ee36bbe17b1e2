// Calls of `replay` that ask for what cannot be.
import { toneRows, toneWav } from "../kit/small-recording.ts";
import { changed, type Group, type Kind, OUT } from "./kind.ts";
import { SMALL_PROFILE } from "../kit/small-scenario.ts";

const rows = toneRows(6000);
const tables: [name: string, text: string][] = [
  ["edges.csv", "0.1\n0.2\n0.15\n"],
  ["edges2.csv", "0.1\n0.2\n"],
  ["speed.csv", "0,1200\n5,-5\n"],
  ["fast.csv", "0,1200\n0.75,99999999999999999999\n"],
  ["early.csv", "-1e308,1200\n0.75,1200\n"],
  ["speed0.csv", "0,0\n5,0\n"],
  ["speedx.csv", "0,1200\n5,x\n"],
  [
    "flat.csv",
    `time,a\n${rows
      .slice(1)
      .map((row) => `${row.split(",")[0]},1`)
      .join("\n")}\n`,
  ],
  ["levels.csv", "time,level\n0,1\n0.5,2\n1,1\n"],
  ["jump-levels.csv", "time,level\n0,1\n1,2\n2,2\n5,3\n6,3\n"],
  ["minus-levels.csv", "time,level\n0,1\n1,-2\n"],
  ["text-levels.csv", "time,level\n0,1\n1,x\n"],
  ["no-levels.csv", "time,speed\n0,1\n1,2\n"],
];

const slow = changed(
  changed(SMALL_PROFILE, "12.8 kHz", "2 kHz"),
  "highest speed: 7200",
  "highest speed: 2400",
);
const FILES: Record<string, string | Uint8Array> = {
  ...Object.fromEntries(tables),
  "good.csv": `${rows.join("\n")}\n`,
  "good.wav": toneWav(6000),
  "slow.monitor.yaml": slow,
};
const at = (speed: string, ...more: string[]) => ["good.csv", "--speed", speed, ...more];
const at20 = (...more: string[]): string[] => at("20 rev/s", ...more);
const edges = (name: string): string[] => ["good.csv", "--edges", name];
const tach = (...more: string[]): string[] => ["good.csv", "--tachometer", "tach", ...more];
const levels = (name: string): string[] => [name, "--levels", "--profile", "small.monitor.yaml"];

const CALLS: [name: string, args: string[], told: string][] = [
  ["no speed", ["good.csv"], "nothing says how fast the shaft turns"],
  ["a speed without unit", at("20"), "--speed needs a unit"],
  ["a speed that is a mass", at("20 kg"), '"20 kg" is a mass'],
  ["no turning", at("0 rev/s"), "--speed must be over 0"],
  ["a speed past all limits", at("1e30 rev/s"), "--speed makes 5.00e+26 revolutions"],
  ["a speed below all limits", at("1e-30 rev/s"), "the shaft turns too slowly for t"],
  ["an order past half the rate", at20("--order", "60"), "order 60 makes"],
  ["a huge bandwidth", at20("--bandwidth", "1e9 Hz"), "bandwidth of fil"],
  ["a tiny bandwidth", at20("--bandwidth", "1e-300 Hz"), "bandwidth of f"],
  [
    "no line to be found",
    ["flat.csv", "--speed-near", "20 rev/s"],
    "no line stands out as a shaft's within 10 %",
  ],
  [
    "a tachometer at rest",
    ["flat.csv", "--tachometer", "a", "--channel", "a"],
    "the tachometer channel does not move",
  ],
  ["a threshold out of reach", tach("--threshold", "9"), "0 edges, 3 are"],
  ["a hysteresis of 0", tach("--hysteresis", "0"), "a number over 0 is"],
  ["edges out of order", edges("edges.csv"), "edges.csv:3:1: this edge does not"],
  ["two edges", edges("edges2.csv"), "2 edges, 3 are needed"],
  ["2 GB of edges", edges("huge.csv"), "a table of numbers has at most 256 MiB"],
  ["a folder of edges", edges("folder.csv"), "folder.csv: is a folder"],
  ["a negative speed", at("speed.csv"), "speed.csv:2:2: the speed is negative"],
  ["a speed beyond all edges", at("fast.csv"), "fast.csv:2:2: the speed makes 8.33e+14 rev"],
  ["a time before all times", at("early.csv"), "early.csv:1:1: this time is too far off: -1e+308"],
  ["a speed of 0 throughout", at("speed0.csv"), "the speed is zero throughout"],
  ["text in a speed", at("speedx.csv"), 'speedx.csv:2:2: "x" is not a number'],
  ["a start past the end", at20("--from", "99 s"), "holds no samples"],
  [
    "too short a stretch",
    ["good.wav", "--speed", "20 rev/s", "--from", "2.99 s"],
    "no level was ever",
  ],
  ["a channel it lacks", at20("--channel", "b"), 'good.csv lacks; it has 1 "a", 2 "tach"'],
  ["a number it lacks", ["good.csv", "--tachometer", "3"], 'names channel "3", which'],
  ["no channel left", ["good.wav", "--tachometer", "1"], "no channel beside the tachometer's"],
  ["a rate of 0", at20("--rate", "0 Hz"), "--rate must be over 0"],
  ["a bandwidth without unit", at20("--bandwidth", "2"), "a share of the speed in % does, too"],
  ["a start without unit", at20("--from", "2"), 'found "2"; samples do, too'],
  [
    "a profile's channel it lacks",
    at20("--profile", "slow.monitor.yaml"),
    'names channel "frame", which',
  ],
  ["another sample rate", at20("--profile", "small.monitor.yaml"), "must be equal"],
  ["levels without a profile", ["levels.csv", "--levels"], "--levels needs --profile"],
  [
    "a gap in levels",
    levels("jump-levels.csv"),
    "jump-levels.csv:5:1: time steps by 3.000 s, even s",
  ],
  [
    "a negative level",
    levels("minus-levels.csv"),
    "minus-levels.csv:3:2: a level may not be negative",
  ],
  ["text in a level", levels("text-levels.csv"), 'text-levels.csv:3:2: "x" is not a number'],
  ["no levels", levels("no-levels.csv"), 'a table of levels needs a column "level"'],
  ["a threshold without channel", at20("--threshold", "1"), "--threshold does nothing without"],
  ["a slope without channel", at20("--slope", "rising"), "--slope does nothing without --tach"],
  ["a span without search", at20("--speed-span", "5 %"), "does nothing without --speed-near"],
  ["positions of nothing", at20("--positions", "2"), "without --tachometer or --edges"],
  ["a caution's filter", at20("--filter", "a"), "--filter does nothing without --levels"],
  [
    "orders of levels",
    [...levels("levels.csv"), "--order", "1"],
    "--order does nothing with --levels",
  ],
  ["2 GB of levels", levels("huge.csv"), "a table of numbers has at most 256 MiB"],
];

const EDGES = new Set([
  "2 GB of edges",
  "a folder of edges",
  "a hysteresis of 0",
  "a slope without channel",
  "a tachometer at rest",
  "a threshold out of reach",
  "a threshold without channel",
  "edges out of order",
  "positions of nothing",
  "two edges",
]);
const SIGNALS = new Set([
  "a gap in levels",
  "a huge bandwidth",
  "a negative level",
  "a negative speed",
  "a rate of 0",
  "a speed below all limits",
  "a speed of 0 throughout",
  "a speed past all limits",
  "a tiny bandwidth",
  "an order past half the rate",
  "another sample rate",
  "no levels",
  "no line to be found",
  "no turning",
  "text in a level",
  "text in a speed",
  "too short a stretch",
]);

const groupOf = (what: string): Group =>
  EDGES.has(what) ? "edges" : SIGNALS.has(what) ? "signals" : "arguments";

export const REPLAY_KINDS: Kind[] = CALLS.map(([what, args, told]) => {
  const named = args.filter((word) => /\.(csv|wav|yaml)$/.test(word));
  return {
    group: groupOf(what),
    what,
    files: Object.fromEntries(named.flatMap((one) => (one in FILES ? [[one, FILES[one]!]] : []))),
    args: ["replay", ...args.map((word) => (named.includes(word) ? `…/${word}` : word)), ...OUT],
    told: [told],
    code: 2,
  };
});
