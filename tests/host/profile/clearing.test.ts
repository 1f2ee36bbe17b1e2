// The seconds that `check` prints until a caution clears, held against the signal path itself: a
// sine that falls from 1.5 times the caution level to half of it, played to the built-in core.
import { describe, expect, it } from "vitest";
import { VALID } from "../../../shared/units.ts";
import { STATUS_CAUTION } from "../../../shared/layout.ts";
import { Core } from "../../../host/core.ts";
import { releaseCorePath } from "../../../host/package-root.ts";
import {
  configurationBytes,
  displaySamples,
  ticksPerSample,
} from "../../../host/profile/configuration.ts";
import { clearing, impliedBy } from "../../../host/profile/implied.ts";
import { parseProfile } from "../../../host/profile/profile-reader.ts";
import type { MonitorProfile } from "../../../host/profile/types.ts";
import type { LevelRecord } from "../../../host/record-types.ts";
import { decodeRecords } from "../../../host/records.ts";
import { CoreTarget } from "../../../harness/target/core-target.ts";

interface Setting {
  bandwidth: string;
  smoothing: string;
  wheel?: string;
}

function profileOf({ bandwidth, smoothing, wheel = "" }: Setting): MonitorProfile {
  return parseProfile(
    "p",
    `monitor: my fan
sample rate: 4 kHz
display period: 200 ms
channels: { x: { measures: velocity, range: 50 in/s pk } }
shafts: { N1: { lowest speed: 300 r/min, highest speed: 4800 r/min${wheel} } }
filters:
  fan:
    bandwidth: ${bandwidth}
    level: in/s pk
    display: { scale: 1, step: 0.1, top: 30, smoothing: ${smoothing} }
    caution: { level: 4, hysteresis: 0.2, on-delay: 0.4 s, off-delay: 0.6 s }
`,
  );
}

interface Cleared {
  numberBelowS: number;
  clearsS: number;
}

/** From the step of the amplitude until number and caution are down, by the core's own records. */
async function played(
  profile: MonitorProfile,
  speedRevPerS: number,
  stepAtS: number,
  untilS: number,
): Promise<Cleared> {
  const target = new CoreTarget(Core.fromFile(releaseCorePath()));
  await target.open(new AbortController().signal);
  await target.configure(configurationBytes(profile));
  const { sampleRateHz, clockHz } = profile;
  const shaft = profile.shafts[0]!;
  const sampleCount = Math.ceil((stepAtS + untilS) * sampleRateHz);
  const levelPk = 4 / profile.filters[0]!.levelFactor;
  const samples = Float32Array.from({ length: sampleCount }, (_, i) => {
    const timeS = i / sampleRateHz;
    const factor = timeS < stepAtS ? 1.5 : 0.5;
    return factor * levelPk * Math.cos(2 * Math.PI * speedRevPerS * timeS);
  });
  const pitchS = shaft.revolutions / shaft.positions / speedRevPerS;
  const endTick = sampleCount * ticksPerSample(profile);
  const edges: number[] = [];
  for (let edge = 0; ; edge += 1) {
    const tick = Math.floor((edge + 0.3) * pitchS * clockHz);
    if (tick >= endTick) break;
    edges.push(tick);
  }
  const bytes = await target.feed({
    firstSample: 0,
    sampleCount,
    samples: [samples],
    edges: [Float64Array.from(edges)],
    inputs: [{ fromSample: 0, bits: 0 }],
  });
  const { records } = await target.finish();
  const levels = [...decodeRecords(bytes), ...decodeRecords(records)].filter(
    (record): record is LevelRecord => record.kind === "level",
  );
  const timeOf = (record: LevelRecord): number => record.tick / clockHz - stepAtS;
  const before = levels.filter((record) => timeOf(record) <= 0).at(-1)!;
  expect([before.validity, before.statusBits & STATUS_CAUTION]).toEqual([VALID, STATUS_CAUTION]);
  const after = levels.filter((record) => timeOf(record) > 0);
  const below = after.find((record) => record.shownCounts < 40)!;
  const off = after.find((record) => (record.statusBits & STATUS_CAUTION) === 0)!;
  return { numberBelowS: timeOf(below), clearsS: timeOf(off) };
}

const SETTINGS: [name: string, setting: Setting, speeds: number[]][] = [
  ["as it comes", { bandwidth: "1 Hz", smoothing: "0 s" }, [8, 70]],
  ["with smoothing", { bandwidth: "1 Hz", smoothing: "2 s" }, [8, 70]],
  ["in proportion to the speed", { bandwidth: "5 %", smoothing: "1 s" }, [8, 70]],
  [
    "with a tachometer on a geared shaft",
    { bandwidth: "2 Hz", smoothing: "0 s", wheel: ", positions: 7, per revolutions: 5" },
    [10, 60],
  ],
];

describe("seconds until a caution clears", () => {
  it("[CLI-151] says when, however long the off-delay, as many display periods after the number", () => {
    const profile = profileOf(SETTINGS[0]![1]);
    const filter = profile.filters[0]!;
    const { caution } = filter.display;
    if (caution === undefined) throw new Error("no caution");
    const withDelay = (offDelaySteps: number): number => {
      const display = { ...filter.display, caution: { ...caution, offDelaySteps } };
      return clearing({ ...filter, display }, profile, 40).clearsS;
    };
    expect(withDelay(210_000) - withDelay(0)).toBeCloseTo(210_000 * profile.displayPeriodS, 3);
  });

  it.each(SETTINGS)(
    "[CLI-150] %s: never later than printed, and at worst within a display period of it",
    async (_, setting, speeds) => {
      const profile = profileOf(setting);
      const period = displaySamples(profile) / profile.sampleRateHz;
      for (const speed of speeds) {
        const printed = clearing(profile.filters[0]!, profile, speed);
        const cycleS = profile.shafts[0]!.revolutions / speed;
        // Long enough for the caution to stand: settled, shown, the on-delay over.
        const startS =
          Math.ceil(
            (impliedBy(profile, speed).filters[0]!.atSpeeds[0]!.acquisitionS + 10) / period,
          ) * period;
        const worst = { numberBelowS: 0, clearsS: 0 };
        // The step at other places of the display period and of the revolution.
        for (let i = 0; i < 12; i += 1) {
          const stepAtS = startS + ((i % 4) / 4) * period + 0.002 + (((i * 5) % 12) / 12) * cycleS;
          const found = await played(profile, speed, stepAtS, printed.clearsS + 2);
          worst.numberBelowS = Math.max(worst.numberBelowS, found.numberBelowS);
          worst.clearsS = Math.max(worst.clearsS, found.clearsS);
        }
        const late = period / 16 + 0.08 / speed;
        const told = JSON.stringify({ speed, printed, worst });
        for (const name of ["numberBelowS", "clearsS"] as const) {
          // An alignment in between those tried, and a sine's mean over a part of a revolution:
          // ∫2cos² differs from a straight line by sin(4πf)/4π, at most 0.08 of it.
          expect(worst[name], `${name} ${told}`).toBeLessThanOrEqual(printed[name] + late);
          expect(worst[name], `${name} ${told}`).toBeGreaterThanOrEqual(printed[name] - period);
        }
      }
    },
  );
});
