// Fields and quantities of profiles, device files and scenarios, each changed in one place.
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { SMALL_PROFILE, scenarioText } from "../kit/small-scenario.ts";
import { ROOT } from "../repo/source-files.ts";
import { changed, fileName, type Group, type Kind } from "./kind.ts";

type Change = [what: string, from: string | RegExp, to: string, told: string];

const device = readFileSync(
  join(ROOT, "harness", "adapter", "examples", "analog-box.device.yaml"),
  "utf8",
);

const deep = (depth: number): string => `order: ${"[".repeat(depth)}${"]".repeat(depth)}\n`;

const PROFILE_QUANTITIES: Change[] = [
  ["a range of 0", "50 in/s pk", "0 in/s pk", ":6:39: range must be > 0 in/s"],
  ["a negative range", "50 in/s pk", "-5 in/s pk", ":6:39: range must be > 0 in/s"],
  ["a range in g", "50 in/s pk", "50 g pk", "must be in the channel's own quantity"],
  ["a negative delay", "on-delay: 0.5 s", "on-delay: -1 s", ":15:55: on-delay must be >= 0 s"],
  ["a rate of 0", "12.8 kHz", "0 Hz", ":3:14: sample rate must be > 0 Hz"],
  ["a bandwidth in kg", "2 Hz", "2 kg", '"2 kg" is a mass'],
  ["a period between samples", "100 ms", "0.01 ms", "must be a whole number of samples"],
  ["a unit that is none", "level: in/s pk", "level: span/s pk", ":13:12: level must be a unit"],
];

const PROFILE_FIELDS: Change[] = [
  ["no channels", /channels:\n.*\n/, "channels: {}\n", "channels must hold 1 to 4, found 0"],
  ["lowest over highest", "speed: 1200", "speed: 9000", "must be below the highest speed"],
  ["order 0", "order: 1\n", "order: 0\n", ":11:12: order must be >= 1, found 0"],
  ["a display step of 0", "step: 0.1", "step: 0", ":14:34: step must be > 0, found 0"],
  ["a caution beside a step", "level: 5.0", "level: 5.03", "the nearest are 5 and 5.1"],
  ["a caution over the top", "level: 5.0", "level: 50", "must not be above the top"],
  ["hysteresis over the level", "hysteresis: 0.4", "hysteresis: 6.0", "must be < the caution lev"],
  ["an alias of nothing", "order: 1\n", "order: *x\n", "alias *x names no anchor above it"],
  ["an anchor in itself", "order: 1\n", "order: &a [*a]\n", "is nested deeper than 60 levels"],
  ["deep brackets", "order: 1\n", deep(90), "is nested deeper than 60 levels"],
  ["very deep brackets", "order: 1\n", deep(20_000), "is nested too deeply"],
  ["a key of the language", "order: 1\n", "order: 1\n    __proto__: 1\n", "may not be called"],
  ["a key that is a list", "order: 1\n", "order: 1\n    ? [a]\n    : 1\n", "must be a word"],
];

const PROFILE_SIGNALS: Change[] = [
  ["a rate too low", "12.8 kHz", "100 Hz", "is not below half the sample rate"],
];

const PROFILE_EDGES: Change[] = [
  ["half a position", "positions: 1,", "positions: 1.5,", "positions must be a whole number"],
  ["no positions", "positions: 1,", "positions: 0,", "positions must be >= 1, found 0"],
  ["99999 positions", "positions: 1,", "positions: 99999,", "positions must be <= 255"],
];

const DEVICE_QUANTITIES: Change[] = [
  ["a negative accuracy", "3 %", "-3 %", ":4:25: of reading must be >= 0 %"],
  ["an accuracy of 3", "3 %", "3", ":4:25: of reading must be <= 1, found"],
  ["an update rate of 0", "8 Hz", "0 Hz", "update rate must be > 0 Hz"],
];

const DEVICE_FIELDS: Change[] = [
  ["a latency that ends before it begins", "from: 0 s", "from: 1 s", "from must not be above to"],
  ["no error allowed", "{ of reading: 3 %, plus: 0.1 }", "{ of reading: 0 % }", "must allow some"],
  ["an unknown filter's kind", "two equal poles", "one pole", "must be one of two equal poles"],
  ["a rule that is none", "guarded acceptance", "luck", "must be one of guarded acceptance"],
  ["a coverage factor of 0", "coverage factor: 2", "coverage factor: 0", "must be > 0, found 0"],
  ["a device without a name", /device: .*/, "device: ''", "device must not be empty"],
  ["no settling time", /settling.*\n/, "", "settling is missing"],
];

const SCENARIO_SIGNALS: Change[] = [
  ["a scenario's negative speed", "4800 r/min", "-4800 r/min", "speed must be >= 0 r/min"],
  ["negative noise", /$/, "  - { noise: -1 in/s rms }\n", "noise must be >= 0 in/s"],
  ["noise as a peak", /$/, "  - { noise: 1 in/s pk }\n", "noise must be given as rms"],
];

const SCENARIO_EDGES: Change[] = [
  ["more edges than a block holds", "4800 r/min", "1e9 r/min", "edges within one sample"],
];

const SCENARIO_FIELDS: Change[] = [
  ["a negative seed", /$/, "seed: -1\n", ":8:7: seed must be >= 0, found -1"],
  ["a seed past 32 bits", /$/, "seed: 1e99\n", "seed must be <= 4294967295"],
  ["a canary of nothing", /$/, "expect: { canary: nothing }\n", "canary must be one of level"],
  ["requirements that are no list", /$/, "requirements: 3\n", "requirements must be a list"],
];

function kinds(group: Group, text: string, ending: string, changes: Change[]): Kind[] {
  return changes.map(([what, from, to, told]) => {
    const file = fileName(what, ending);
    const files = { [file]: changed(text, from, to) };
    return {
      group,
      what,
      files,
      args: ["check", `…/${file}`],
      told: [`…/${file}:`, told],
      code: 2,
    };
  });
}

export const FIELD_KINDS: Kind[] = [
  ...kinds("quantities", SMALL_PROFILE, ".monitor.yaml", PROFILE_QUANTITIES),
  ...kinds("fields", SMALL_PROFILE, ".monitor.yaml", PROFILE_FIELDS),
  ...kinds("signals", SMALL_PROFILE, ".monitor.yaml", PROFILE_SIGNALS),
  ...kinds("edges", SMALL_PROFILE, ".monitor.yaml", PROFILE_EDGES),
  ...kinds("quantities", device, ".device.yaml", DEVICE_QUANTITIES),
  ...kinds("fields", device, ".device.yaml", DEVICE_FIELDS),
  ...kinds("signals", scenarioText(), ".scenario.yaml", SCENARIO_SIGNALS),
  ...kinds("edges", scenarioText(), ".scenario.yaml", SCENARIO_EDGES),
  ...kinds("fields", scenarioText(), ".scenario.yaml", SCENARIO_FIELDS),
];
