// What was played and how it is set, in the words of the results.
import { readdirSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import type { ChannelFault, Component, Scene, TachFault } from "../../../harness/scene/scene.ts";
import { playedRows } from "../../../harness/results/played.ts";
import { settingsRows } from "../../../harness/results/settings.ts";
import { readScenarioFile } from "../../../harness/scenario/scenario-reader.ts";
import { PACKAGE_ROOT } from "../../../host/package-root.ts";
import * as kit from "../../kit/scene-builder.ts";
import { suiteCases, suiteFiles } from "../../kit/regression-suite.ts";

/** Each line as "what: value", of the shaft or the channel. */
function linesOf(scene: Scene, of: "shaft" | "channel" | "inputs" | "records"): string[] {
  const rows = playedRows(scene).filter((row) => row.of.split(" ")[0] === of);
  return rows.map(({ what, value }) => `${what}: ${value}`);
}

function played(components: Component[], over: Parameters<typeof kit.channelSignal>[1] = {}) {
  return linesOf(kit.scene({ channels: [kit.channelSignal(components, over)] }), "channel");
}

const G = 9.80665;

describe("what was played", () => {
  it.each<[string, Component, string]>([
    [
      "an order of constant amplitude, in the unit of the channel's filter",
      kit.orderComponent(2, 0.0254 * 1.5, 70, "velocity"),
      "order 2 of fan: 1.5 in/s pk, phase lag 70°",
    ],
    [
      "an order that grows with the speed, in a unit of its own quantity",
      {
        kind: "order",
        shaft: 0,
        order: 26,
        quantity: "acceleration",
        envelope: {
          kind: "speed-power",
          amplitudePk: 1.5 * G,
          phaseLagRad: 0,
          referenceRevPerS: 105,
          power: 2,
        },
      },
      "order 26 of fan: 1.5 g pk at 6300 r/min, growing with the square of the speed, phase lag 0°",
    ],
    [
      "steps of an order",
      {
        kind: "order",
        shaft: 0,
        order: 1,
        quantity: "displacement",
        envelope: {
          kind: "steps",
          rows: [
            { timeS: 0, amplitudePk: 2.54e-5, phaseLagRad: 0 },
            { timeS: 6, amplitudePk: 5.08e-5, phaseLagRad: Math.PI / 2 },
          ],
        },
      },
      "order 1 of fan: from 0 s 2 mil pk-pk, phase lag 0°; from 6 s 4 mil pk-pk, phase lag 90°",
    ],
    [
      "a tone",
      { kind: "tone", frequencyHz: 400, quantity: "acceleration", amplitudePk: G, phaseLagRad: 0 },
      "tone of 400 Hz: 1 g pk, phase lag 0°",
    ],
    [
      "a rotor with its unbalance",
      {
        kind: "rotor",
        shaft: 0,
        modalMassKg: 280,
        naturalHz: 70,
        dampingRatio: 0.05,
        unbalance: [{ timeS: 0, kgM: 700e-6, angleRad: Math.PI / 6 }],
      },
      "rotor on fan: 280 kg on a mode at 70 Hz (4200 r/min), damping ratio 5 %; " +
        "unbalance 700 g mm at 30° from 0 s",
    ],
    ["noise", { kind: "noise", rms: 0.04 * G }, "noise: white, 0.04 g rms"],
  ])("[RES-050] tells %s", (_, component, line) => {
    expect(played([component])[0]).toBe(line);
  });

  it.each<[ChannelFault, string]>([
    [{ kind: "clip", fromS: 1, untilS: 2, level: 5 * G }, "clipped at 5 g from 1 s to 2 s"],
    [{ kind: "flat", fromS: 1, untilS: 2, value: 0 }, "flat at 0 g from 1 s to 2 s"],
    [{ kind: "bias", fromS: 1, untilS: 2, value: G }, "mean moved by 1 g from 1 s to 2 s"],
    [{ kind: "open", fromS: 1, untilS: 2, share: 0.1 }, "open lead, 10 % left from 1 s to 2 s"],
    [
      { kind: "loose", fromS: 1, untilS: 2, burstPk: 40 * G, burstsPerS: 9, lengthS: 0.04 },
      "loose connector: bursts of 40 g pk, 9 a second, 0.04 s long, from 1 s to 2 s",
    ],
    [{ kind: "gain", fromS: 1, untilS: 2, factor: 0.5 }, "sensitivity × 0.5 from 1 s to 2 s"],
    [{ kind: "spike", atS: 1, value: G, samples: 1 }, "spike of 1 g at 1 s, 1 sample"],
    [{ kind: "not-finite", atS: 1, samples: 3 }, "no numbers at 1 s, 3 samples"],
  ])("[RES-051] tells a channel's fault: $kind", (fault, words) => {
    expect(played([], { faults: [fault] })).toContain(`fault: ${words}`);
  });

  it.each<[TachFault, string]>([
    [
      { kind: "glitch", atS: 3, fraction: 0.5 },
      "an extra edge at 3 s, 0.5 of a pitch after an edge",
    ],
    [
      { kind: "glitch-position", atS: 3, position: 4, fraction: 0.5 },
      "an extra edge beside position 4 at 3 s, 0.5 of a pitch after an edge",
    ],
    [{ kind: "missed", atS: 3, count: 2 }, "2 edges missing at 3 s"],
    [
      { kind: "missed-position", atS: 3, position: 4, count: 1 },
      "1 edge missing beside position 4 at 3 s",
    ],
    [{ kind: "drop-out", fromS: 3, untilS: 4 }, "no edges from 3 s to 4 s"],
    [{ kind: "index-lost", fromS: 3, untilS: 4 }, "no index from 3 s to 4 s"],
  ])("[RES-052] tells a tachometer's fault: $kind", (fault, words) => {
    const lines = linesOf(kit.scene({ shafts: [kit.shaftMotion({ faults: [fault] })] }), "shaft");
    expect(lines).toContain(`tachometer fault: ${words}`);
  });

  it("[RES-053] tells speed pieces, and a wheel that is not the profile's", () => {
    const row = (timeS: number, rpm: number) => ({ timeS, revPerS: rpm / 60 });
    const speed = [row(0, 1200), row(5, 1200), row(9, 4800), row(9, 4500), row(12, 4500)];
    const wheel = {
      positions: 60,
      revolutions: 1,
      index: "missing-tooth" as const,
      eccentricityRev: 1e-4,
      badTooth: { position: 7, offsetRev: 0.001 },
      jitterS: 2e-6,
    };
    const ripple = [{ order: 2, amplitudeRev: 0.001 }];
    const scene = kit.scene({ shafts: [kit.shaftMotion({ speed, wheel, ripple })] });
    expect(linesOf(scene, "shaft")).toEqual([
      "speed: 1200 r/min, held to 5 s; to 4800 r/min at 9 s; at once to 4500 r/min at 9 s, held",
      "start angle: 0.123 rev",
      "tachometer: 60 positions, missing tooth (the profile says 1 position, no index); " +
        "eccentric by 0.0001 rev pk; position 7 off by 0.001 rev; jitter 2 µs rms",
      "torsional ripple: order 2, 0.001 rev pk",
    ]);
  });

  it("[RES-054] tells the true front end beside the one the profile assumes", () => {
    const filters = { highPassOrder: 2, highPassHz: 5, lowPassOrder: 0, lowPassHz: 0, delayS: 0 };
    const frontEnd = { kind: "filters" as const, ...filters };
    const other = played([], { frontEnd, converter: { format: "i16", step: 0.01 * G }, mean: G });
    expect(other).toContain("front end: high pass of order 2 at 5 Hz (the profile says none)");
    expect(other).toContain("converter: 16 bits in steps of 0.01 g");
    expect(other).toContain("mean: 1 g");
    expect(played([])).toEqual(["vibration: none", "front end: none, as the profile says"]);
  });

  it("[RES-055] tells inputs from outside, and what a canary plants", () => {
    const row = { timeS: 0, inhibit: 0, acknowledge: 0, running: 0, test: false };
    const inputs = [
      row,
      { ...row, timeS: 2, inhibit: 1 },
      { ...row, timeS: 3, running: 1, test: true },
    ];
    const expectation = {
      eitherShare: 0,
      canary: { check: "level" as const },
      plant: { alteration: "level", amount: 2 },
    };
    const scene = kit.scene({ inputs, expectation });
    expect(linesOf(scene, "inputs")).toEqual([
      "as they stand: from 0 s nothing; from 2 s inhibit of fan order 1; " +
        "from 3 s fan said to run, functional test",
    ]);
    expect(linesOf(scene, "records")).toEqual(['planted error: "level" by 2']);
    expect(linesOf(kit.scene(), "inputs")).toEqual([]);
  });

  it("[RES-056] counts samples where the profile knows no rate, and cuts long lists", () => {
    const profile = kit.monitorProfile({ timeUnit: "sample", sampleRateHz: 1 });
    const speed = Array.from({ length: 40 }, (_, i) => ({ timeS: i, revPerS: 0.01 + i / 1e4 }));
    const scene = kit.scene({ profile, durationS: 50, shafts: [kit.shaftMotion({ speed })] });
    const [line] = linesOf(scene, "shaft");
    expect(line).toMatch(/^speed: 0.01 rev\/sample; to 0.0101 rev\/sample at 1 sample; /);
    expect(line).toMatch(/at 6 samples; and 33 more$/);
  });

  it("[RES-057] has words for every scene of the suite and the demonstration", () => {
    const demo = join(PACKAGE_ROOT, "harness", "demo");
    const files = readdirSync(demo).filter((name) => name.endsWith(".scenario.yaml"));
    const scenes = [
      ...suiteFiles().flatMap(suiteCases),
      ...files.flatMap((name) => readScenarioFile(join(demo, name))),
    ];
    expect(scenes.length).toBeGreaterThan(300);
    for (const scene of scenes) {
      const rows = playedRows(scene);
      const all = [...rows, ...settingsRows(scene.profile)].flatMap((row) => Object.values(row));
      expect(all.filter((words) => /undefined|NaN|null|\[object|Infinity/.test(words))).toEqual([]);
      for (const words of all) expect(words.length).toBeLessThan(700);
      const parts = [...scene.profile.shafts, ...scene.profile.channels];
      expect(new Set(rows.map(({ of }) => of)).size).toBeGreaterThanOrEqual(parts.length);
    }
  });
});

describe("how a number is set", () => {
  const BASE = kit.filterProfile().display;

  it("[RES-060] tells what it tracks, its display scale and its caution", () => {
    const caution = {
      levelCounts: 50,
      hysteresisCounts: 4,
      onDelaySteps: 30,
      offDelaySteps: 0,
      delayRunsUnderInhibit: true,
      whenInvalid: "hold" as const,
    };
    const scale = [
      { speedRevPerS: 25, factor: 4 },
      { speedRevPerS: 112.5, factor: 6 },
    ];
    const display = { ...BASE, scale, smoothingS: 0.5, caution };
    const filters = [kit.filterProfile({ name: "fan", display })];
    expect(settingsRows(kit.monitorProfile({ filters }))).toEqual([
      {
        number: "fan",
        tracks: "order 1 of fan in fan, 1 Hz wide at −3 dB; level in in/s pk; valid from 480 r/min",
        display:
          "× 4 at 1500 r/min, × 6 at 6750 r/min per in/s pk; smoothed over 0.5 s; " +
          "step 0.1, top 10; every 0.1 s; held 1 s when not valid",
        caution:
          "from 5 up, ends below 4.6; on after 3 s, off at once; kept while the number is held; " +
          "the on-delay runs under an inhibit",
      },
    ]);
  });

  it("[RES-061] tells a number made of several, a proportional width, and no caution", () => {
    const bandwidth = { kind: "proportional" as const, fullWidthRatio: 0.02 };
    const names = ["left", "right", "best", "spare"];
    const sources = [
      { kind: "own" as const },
      { kind: "own" as const },
      { kind: "greatest" as const, filters: [0, 1] },
      { kind: "substitute" as const, filter: 1 },
    ];
    const filters = names.map((name, i) =>
      kit.filterProfile({ name, bandwidth, display: { ...BASE, source: sources[i]! } }),
    );
    const rows = settingsRows(kit.monitorProfile({ filters }));
    expect(rows[0]!.tracks).toContain("2 % of the speed wide");
    expect(rows[0]!.caution).toBe("none");
    expect(rows[2]!.display).toContain("; greatest of left, right; ");
    expect(rows[3]!.display).toContain("; right serves where it is not valid; ");
  });
});
