// The firmware's records against the truth: two ways from the same scene, nothing shared.
import { beforeAll, describe, expect, it } from "vitest";
import type { Core } from "../../../host/core.ts";
import { makePlainJudge } from "../../../harness/judge/streaming-judge.ts";
import type { Verdict } from "../../../harness/judge/types.ts";
import type { ChannelFault, Component, Scene, TachFault } from "../../../harness/scene/scene.ts";
import { makeTruth } from "../../../harness/truth/truth.ts";
import { loadCore, playScene } from "../../kit/play-scene.ts";
import * as kit from "../../kit/scene-builder.ts";

let core: Core;
beforeAll(() => {
  core = loadCore();
});

async function judged(played: Scene, judgedBy: Scene = played): Promise<Verdict> {
  const { records, counters } = await playScene(played, { core });
  const judge = makePlainJudge(judgedBy, makeTruth(judgedBy));
  judge.take(records);
  return judge.finish(counters);
}

function wrongOf(verdict: Verdict): string[] {
  return verdict.checks
    .filter((check) => !check.isRight)
    .map(({ check, why }) => `${check}: ${why}`);
}

const RAMP = [
  { timeS: 0, revPerS: 20 },
  { timeS: 1, revPerS: 20 },
  { timeS: 7, revPerS: 80 },
];

const WHEEL_60 = kit.fittedWheel({ positions: 60, index: "missing-tooth" });
const SHAFT_60 = kit.shaftProfile({ positions: 60, index: "missing-tooth" });

function growing(order: number, amplitudePk: number): Component {
  const law = { kind: "speed-power", phaseLagRad: 0.4, referenceRevPerS: 20, power: 2 } as const;
  return kit.orderWith({ ...law, amplitudePk }, { order });
}

function withTach(...faults: TachFault[]): Partial<Scene> {
  return {
    durationS: 16,
    profile: kit.monitorProfile({ shafts: [SHAFT_60] }),
    shafts: [kit.shaftMotion({ wheel: WHEEL_60, faults })],
  };
}

function withChannel(components: Component[], ...faults: ChannelFault[]): Partial<Scene> {
  const health = {
    steps: 3,
    flatPkPk: 1,
    clipSamples: 20,
    noiseFloorRms: 0.05,
    burstRms: 40,
    physicalPk: 1500,
  };
  return {
    durationS: 22,
    profile: kit.monitorProfile({ channels: [kit.channelProfile({ health })] }),
    channels: [kit.channelSignal(components, { faults })],
  };
}

const ORDER = kit.orderComponent(1, 10, 30);
const NOISE: Component = { kind: "noise", rms: 1 };
const COMPANY = [ORDER, kit.orderComponent(2, 100, 10), kit.orderComponent(3, 100, 77)];

const SCENES: [string, Partial<Scene>][] = [
  ["a dwell with company ten times as large", { channels: [kit.channelSignal(COMPANY)] }],
  [
    "a ramp with company that grows, one pulse a revolution",
    {
      shafts: [kit.shaftMotion({ speed: RAMP })],
      channels: [kit.channelSignal([growing(1, 1), growing(2, 10), growing(3, 10)])],
    },
  ],
  [
    "a rotor through its resonance, a blade binding on the way",
    {
      shafts: [kit.shaftMotion({ speed: RAMP })],
      channels: [
        kit.channelSignal([
          {
            kind: "rotor",
            shaft: 0,
            modalMassKg: 60,
            naturalHz: 55,
            dampingRatio: 0.05,
            unbalance: [
              { timeS: 0, kgM: 0.01, angleRad: 0.5 },
              { timeS: 3.00001, kgM: 0.03, angleRad: 1.5 },
            ],
          },
        ]),
      ],
    },
  ],
  [
    "amplitude and phase steps between samples",
    {
      channels: [
        kit.channelSignal([
          kit.orderWith(
            {
              kind: "steps",
              rows: [
                { timeS: 0, amplitudePk: 0.01, phaseLagRad: 0 },
                { timeS: 3.00003, amplitudePk: 0.03, phaseLagRad: 2 },
              ],
            },
            { quantity: "velocity" },
          ),
        ]),
      ],
    },
  ],
  [
    "a tone close by, on a ramp",
    {
      shafts: [kit.shaftMotion({ speed: RAMP })],
      channels: [
        kit.channelSignal([
          ORDER,
          {
            kind: "tone",
            frequencyHz: 60,
            quantity: "acceleration",
            amplitudePk: 30,
            phaseLagRad: 1,
          },
        ]),
      ],
    },
  ],
  ["noise", { durationS: 30, channels: [kit.channelSignal([ORDER, { ...NOISE, rms: 20 }])] }],
  ["a drop-out", withTach({ kind: "drop-out", fromS: 4, untilS: 7 })],
  [
    "missed edges, a glitch, a missed edge beside the index",
    withTach(
      { kind: "missed", atS: 3, count: 3 },
      { kind: "glitch", atS: 5, fraction: 0.4 },
      { kind: "missed-position", atS: 8, position: 0, count: 1 },
    ),
  ],
  ["an index that is lost and found", withTach({ kind: "index-lost", fromS: 4, untilS: 7 })],
  [
    "a flat line and an open lead",
    withChannel(
      [ORDER, NOISE],
      { kind: "flat", fromS: 4, untilS: 6, value: 0 },
      { kind: "open", fromS: 14, untilS: 16, share: 0.01 },
    ),
  ],
  [
    "a loose connector",
    withChannel([ORDER, NOISE], {
      kind: "loose",
      fromS: 4,
      untilS: 8,
      burstPk: 400,
      burstsPerS: 150,
      lengthS: 0.05,
    }),
  ],
  [
    "clipping, a changed gain, a spike, numbers that are none",
    withChannel(
      [ORDER],
      { kind: "clip", fromS: 2, untilS: 5, level: 6 },
      { kind: "gain", fromS: 7, untilS: 9, factor: 0.7 },
      { kind: "spike", atS: 12, value: 300, samples: 1 },
      { kind: "not-finite", atS: 16, samples: 2 },
    ),
  ],
];

describe("firmware and truth", () => {
  it.each(SCENES)("[TRUTH-040] agree on %s", async (_, over) => {
    const verdict = await judged(kit.scene({ durationS: 10, ...over }));
    expect(wrongOf(verdict)).toEqual([]);
    const level = verdict.checks.find((check) => check.check === "level")!;
    expect(level.judgedCount).toBeGreaterThan(40);
    expect(level.worstRatio).toBeGreaterThan(0);
  });

  it("[TRUTH-041] fail to agree when one of them is told of 0.1 % more amplitude", async () => {
    const played = kit.scene();
    const other = kit.scene({ channels: [kit.channelSignal([kit.orderComponent(1, 10.01, 30)])] });
    expect(wrongOf(await judged(played, other)).map((one) => one.split(":")[0])).toEqual(["level"]);
  });

  it("[TRUTH-042] fail to agree when one of them is told of 0.1° more phase", async () => {
    const played = kit.scene();
    const other = kit.scene({ channels: [kit.channelSignal([kit.orderComponent(1, 10, 30.1)])] });
    expect(wrongOf(await judged(played, other)).map((one) => one.split(":")[0])).toEqual(["phase"]);
  });

  it("[TRUTH-043] a wheel of 58 positions taken for 60 reads 58/60 of the speed", async () => {
    const profile = kit.monitorProfile({ shafts: [kit.shaftProfile({ positions: 60 })] });
    const wheel = kit.fittedWheel({ positions: 58 });
    const played = kit.scene({ profile, shafts: [kit.shaftMotion({ wheel })] });
    const verdict = await judged(played);
    expect(wrongOf(verdict)).toEqual([]);
    expect(verdict.filters[0]!.trace.speedRevPerS.at(-1)).toBeCloseTo((80 * 58) / 60, 4);
  });
});
