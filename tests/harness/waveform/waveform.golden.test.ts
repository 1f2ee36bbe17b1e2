import { createHash } from "node:crypto";
import { readFileSync, readdirSync } from "node:fs";
import { describe, expect, it } from "vitest";
import type { Component, Scene } from "../../../harness/scene/scene.ts";
import { makeWaveform } from "../../../harness/waveform/waveform.ts";
import { channelSignal, orderComponent, scene, shaftMotion } from "../../kit/scene-builder.ts";

/** SHA-256 over all samples, edges and inputs, the first 16 hex digits. */
function digest(one: Scene): string {
  const hash = createHash("sha256");
  const source = makeWaveform(one);
  for (let batch = source.next(4096); batch !== undefined; batch = source.next(4096)) {
    for (const values of [...batch.samples, ...batch.edges]) {
      hash.update(new Uint8Array(values.buffer, values.byteOffset, values.byteLength));
    }
    hash.update(JSON.stringify(batch.inputs));
  }
  return hash.digest("hex").slice(0, 16);
}

const wheel = {
  positions: 1,
  revolutions: 1,
  index: "none" as const,
  eccentricityRev: 0,
  jitterS: 0,
};
const ramp = [
  { timeS: 0, revPerS: 20 },
  { timeS: 1.7, revPerS: 90 },
];
const growing: Component = {
  kind: "order",
  shaft: 0,
  order: 2,
  quantity: "displacement",
  envelope: {
    kind: "speed-power",
    amplitudePk: 1e-4,
    phaseLagRad: 1,
    referenceRevPerS: 50,
    power: 2,
  },
};
const rotor: Component = {
  kind: "rotor",
  shaft: 0,
  modalMassKg: 40,
  naturalHz: 55,
  dampingRatio: 0.03,
  unbalance: [
    { timeS: 0, kgM: 0.01, angleRad: 0.3 },
    { timeS: 1.00003, kgM: 0.03, angleRad: 2 },
  ],
};
const frontEnd = {
  kind: "filters" as const,
  highPassOrder: 2,
  highPassHz: 5,
  lowPassOrder: 3,
  lowPassHz: 900,
  delayS: 1e-4,
};

// Frozen: whoever changes one changes every waveform made before, and says so in the commit.
const GOLDEN: [name: string, digest: string, scene: Scene][] = [
  ["a dwell", "3e4066a34c8257aa", scene({ durationS: 2 })],
  [
    "a ramp with growing company, noise, jitter and 52 less one",
    "df1512509403896a",
    scene({
      durationS: 2,
      shafts: [
        shaftMotion({
          speed: ramp,
          wheel: { ...wheel, positions: 52, index: "missing-tooth", jitterS: 1e-6 },
        }),
      ],
      channels: [channelSignal([orderComponent(1, 3, 40), growing, { kind: "noise", rms: 2 }])],
    }),
  ],
  [
    "a rotor through its resonance with ripple and front end, in counts",
    "3fef85267c34894d",
    scene({
      durationS: 2,
      shafts: [
        shaftMotion({
          speed: ramp,
          ripple: [{ order: 2, amplitudeRev: 1e-3 }],
          wheel: { ...wheel, positions: 20, eccentricityRev: 1e-4 },
        }),
      ],
      channels: [channelSignal([rotor], { frontEnd, converter: { format: "i16", step: 0.01 } })],
    }),
  ],
  [
    "a loose connector, a tone, faults of the wheel and inputs",
    "22f369fa26ec7327",
    scene({
      durationS: 2,
      shafts: [
        shaftMotion({
          wheel: { ...wheel, positions: 12, index: "extra-edge" },
          faults: [
            { kind: "glitch", atS: 0.5, fraction: 0.4 },
            { kind: "drop-out", fromS: 1, untilS: 1.2 },
          ],
        }),
      ],
      channels: [
        channelSignal(
          [
            {
              kind: "tone",
              frequencyHz: 400,
              quantity: "velocity",
              amplitudePk: 1e-3,
              phaseLagRad: 1,
            },
          ],
          {
            faults: [
              { kind: "loose", fromS: 0.2, untilS: 1.9, burstPk: 20, burstsPerS: 9, lengthS: 0.05 },
            ],
          },
        ),
      ],
      inputs: [{ timeS: 0.7, inhibit: 1, acknowledge: 0, running: 1, test: false }],
    }),
  ],
];

describe("golden waveforms", () => {
  it.each(GOLDEN)("[WAVE-060] %s: the same bytes as ever", (_, right, one) => {
    expect(digest(one)).toBe(right);
  });

  it("[WAVE-061] no waveform calls a function whose bits differ by machine", () => {
    const portable = ["abs", "ceil", "floor", "fround", "imul", "max", "min", "sqrt"];
    const strangers: string[] = [];
    for (const folder of ["waveform", "rotor", "random"]) {
      const url = new URL(`../../../harness/${folder}/`, import.meta.url);
      const files = readdirSync(url).filter((name) => name.endsWith(".ts"));
      expect(files.length).toBeGreaterThan(0);
      for (const name of files) {
        const text = readFileSync(new URL(name, url), "utf8");
        for (const [, called] of text.matchAll(/\bMath\.(\w+)/g)) {
          if (!portable.includes(called!)) strangers.push(`${folder}/${name}: Math.${called}`);
        }
        if (/\*\*/.test(text.replace(/\/\*\*/g, ""))) strangers.push(`${folder}/${name}: **`);
      }
    }
    expect(strangers).toEqual([]);
  });
});
