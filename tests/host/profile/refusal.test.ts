import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import * as L from "../../../shared/layout.ts";
import { ConfigurationRefused, Core } from "../../../host/core.ts";
import { releaseCorePath } from "../../../host/package-root.ts";
import { configurationBytes } from "../../../host/profile/configuration.ts";
import { parseProfile } from "../../../host/profile/profile-reader.ts";
import { fieldAt, refusedProfile } from "../../../host/profile/refusal.ts";
import type { MonitorProfile } from "../../../host/profile/types.ts";
import { exitCodeOf } from "../../../harness/cli/run-cases.ts";
import { runPlan } from "../../../harness/run/runner.ts";
import { parseScenario } from "../../../harness/scenario/scenario-reader.ts";

const profile = parseProfile(
  "p",
  `monitor: my fan
channels: { front: {}, rear: {} }
shafts: { N1: { lowest speed: 900 r/min }, N2: { lowest speed: 900 r/min } }
filters:
  fan: { channel: front, shaft: N1 }
  core: { channel: rear, shaft: N2, caution: { level: 4, hysteresis: 0.4 } }
`,
);

/** The complaint about a profile that was changed behind the reader's back. */
function complaintAbout(change: (wrong: MonitorProfile) => void): string {
  const wrong = structuredClone(profile);
  change(wrong);
  try {
    Core.fromFile(releaseCorePath()).configure(configurationBytes(wrong));
  } catch (error) {
    if (!(error instanceof ConfigurationRefused)) throw error;
    return refusedProfile(error, wrong).message;
  }
  throw new Error("the firmware took it");
}

type Row = [field: string, change: (wrong: MonitorProfile) => void];
const ROWS: Row[] = [
  [
    'lowest speed of shaft "N2" is out of range',
    ({ shafts }) => (shafts[1]!.speedMinRevPerS = 1e-9),
  ],
  [
    'highest speed of shaft "N1" is out of range',
    ({ shafts }) => (shafts[0]!.speedMaxRevPerS = 1e9),
  ],
  ['positions of shaft "N1" is out of range', ({ shafts }) => (shafts[0]!.positions = 1000)],
  ['range of channel "rear" is out of range', ({ channels }) => (channels[1]!.range = -1)],
  ['order of filter "core" is out of range', ({ filters }) => (filters[1]!.order = 65)],
  [
    'bandwidth of filter "fan" is no finite number',
    ({ filters }) => (filters[0]!.bandwidth = { kind: "fixed", fullWidthHz: Number.NaN }),
  ],
  [
    'caution hysteresis of filter "core"',
    ({ filters }) => (filters[1]!.display.caution!.hysteresisCounts = 1e6),
  ],
  ["display period does not fit", (wrong) => (wrong.displayPeriodS = 1e6)],
];

describe("a configuration that the firmware refuses", () => {
  it.each(ROWS)("[CLI-140] is told as a sentence with the field's name: %s", (field, change) => {
    const told = complaintAbout(change);
    expect(told).toContain(`profile "my fan": the firmware refuses this: ${field}`);
    expect(told).toMatch(/\(found \S+, limit \S+\)$/);
  });

  it("[CLI-141] every byte of a configuration has a field's name", () => {
    for (let offset = L.GLOBAL_CLOCK_HZ; offset < L.CONFIG_BYTES; offset += 4) {
      expect(fieldAt(offset, profile), `byte ${offset}`).not.toMatch(/configuration|undefined/);
    }
  });
});

describe("a case whose profile the firmware refuses", () => {
  it("[CLI-142] has no verdict because of its input, not of its target, and ends with code 2", async () => {
    const [scene] = parseScenario(
      "s.scenario.yaml",
      `question: Does it read?
profile: { monitor: my fan, channels: { x: {} }, shafts: { N1: {} }, filters: { fan: {} } }
duration: 2 s
speed: 4800 r/min
`,
    );
    scene!.profile.filters[0]!.order = 65;
    const folder = mkdtempSync(join(tmpdir(), "amberline-refused-"));
    try {
      const { summary, isInterrupted } = await runPlan({
        cases: [{ scene: scene!, file: "s.scenario.yaml", repeat: "amberline run", place: 0 }],
        target: { kind: "core", wasmPath: releaseCorePath() },
        folder,
        jobs: 1,
        seed: 1,
        title: "Run",
        command: [],
        signal: new AbortController().signal,
        onCase: () => {},
      });
      expect(summary.failures).toMatchObject([
        {
          kind: "input",
          message: expect.stringContaining('order of filter "fan" is out of range'),
        },
      ]);
      expect(exitCodeOf({ summary, isInterrupted })).toBe(2);
    } finally {
      rmSync(folder, { recursive: true });
    }
  });
});
