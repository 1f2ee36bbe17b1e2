// The simulated box of the worked example, judged in this process; what it shows may be changed on the way.
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import type { LevelBox, LevelBoxFacts, Reading, Stimulus } from "../../harness/adapter/adapter.ts";
import { runBoxCase } from "../../harness/box/box-case.ts";
import { type DeviceSpecification, readDeviceFile } from "../../harness/box/device-file.ts";
import type { BoxVerdict, CheckResult, Verdict } from "../../harness/judge/types.ts";
import { readScenarioFile } from "../../harness/scenario/scenario-reader.ts";
import type { Scene } from "../../harness/scene/scene.ts";
import { ROOT } from "../repo/source-files.ts";

const EXAMPLES = join(ROOT, "harness", "adapter", "examples");
export const ANALOG_BOX = join(EXAMPLES, "analog-levels.mjs");
export const ANALOG_DEVICE = join(EXAMPLES, "analog-box.device.yaml");

/** A wheel without an index, one number with a caution at 5.0. */
export const BOX_PROFILE = `
monitor: Plain wheel
sample rate: 12.8 kHz
display period: 100 ms
channels:
  frame: { measures: velocity, range: 20 in/s pk }
shafts:
  N1: { positions: 12, lowest speed: 900 r/min, highest speed: 6000 r/min }
filters:
  fan:
    bandwidth: 1 Hz
    level: in/s pk
    display: { scale: 2.5, step: 0.1, top: 10 }
    caution: { level: 5.0, hysteresis: 0.4, on-delay: 1 s, off-delay: 1 s }
`;

/** A scene of the profile above whose amplitude stands or runs as written, rows as YAML. */
export function boxScene(
  kind: "steps" | "lines",
  rows: string[],
  { duration, profile = BOX_PROFILE }: { duration: string; profile?: string },
): Scene {
  const folder = mkdtempSync(join(tmpdir(), "amberline box scene "));
  try {
    writeFileSync(join(folder, "plain.monitor.yaml"), profile);
    const file = join(folder, "case.scenario.yaml");
    const vibration = rows.map((row) => `      - ${row}\n`).join("");
    writeFileSync(
      file,
      `question: What does the box show?\nprofile: plain.monitor.yaml\nduration: ${duration}\n` +
        `speed: 2400 r/min\nvibration:\n  - order: 1\n    ${kind}:\n${vibration}`,
    );
    return readScenarioFile(file, { seed: 1 })[0]!;
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

export interface SimulatedBox {
  /** Of the example's box: latencyS, displayStep, gain, clock … */
  settings?: Record<string, unknown>;
  /** Of the example's device file. */
  device?: Partial<DeviceSpecification>;
  /** What it shows in place of what it read, on its own time. */
  change?: (readings: Reading[], stimulus: Stimulus) => Reading[];
}

export interface JudgedBox {
  verdict: Verdict;
  box: BoxVerdict;
  check: (name: CheckResult["check"]) => CheckResult;
}

/** The box's own readings of all that is played. */
export async function judgeBox(scene: Scene, box: SimulatedBox): Promise<JudgedBox> {
  const { boxWith } = (await import(pathToFileURL(ANALOG_BOX).href)) as {
    boxWith: (settings: object) => LevelBox;
  };
  const made = boxWith({ clock: "host", drift: 0, offsetS: 0, ...box.settings });
  const under: LevelBox = {
    facts: () => made.facts(),
    async play(stimulus, signal) {
      const readings = await made.play(stimulus, signal);
      return box.change?.(readings, stimulus) ?? readings;
    },
    close: () => made.close(),
  };
  const facts: LevelBoxFacts = await under.facts();
  const device = { ...readDeviceFile(ANALOG_DEVICE), ...box.device };
  const signal = new AbortController().signal;
  const by = { box: under, facts, identity: "simulated", kind: "module" };
  const { verdict } = await runBoxCase(scene, by, device, signal);
  return {
    verdict,
    box: verdict.box!,
    check: (name) => verdict.checks.find((one) => one.check === name)!,
  };
}
