// Waveform and truth read the same scene by different code: here they are laid side by side.
import { describe, expect, it } from "vitest";
import type { Component, Quantity, Response, ShaftMotion } from "../../../harness/scene/scene.ts";
import { carriersOf } from "../../../harness/truth/carriers.ts";
import { MotionTruth } from "../../../harness/truth/shaft-motion.ts";
import { ChannelSource } from "../../../harness/waveform/channel-source.ts";
import { RippleView } from "../../../harness/waveform/ripple.ts";
import { CHUNK_SAMPLES } from "../../../harness/waveform/sample-clock.ts";
import { speedPieces, stateInPiece } from "../../../harness/waveform/shaft-angle.ts";
import { ShaftTrack } from "../../../harness/waveform/shaft-track.ts";
import { twoPart } from "../../../harness/waveform/two-part.ts";
import { randomStream, uniformOf } from "../../../harness/random/stream.ts";
import { channelSignal, shaftMotion } from "../../kit/scene-builder.ts";
import { TEST_SEED } from "../../kit/seed.ts";

const RATE_HZ = 12_800;
const CHUNKS = 60;

const ramps = [
  { timeS: 0, revPerS: 22 },
  { timeS: 0.2503, revPerS: 71 },
  { timeS: 0.2503, revPerS: 60 },
  { timeS: 0.5, revPerS: 18 },
];
/** The same without the step of the speed, at which a rotor's shaft needs an endless torque. */
const withoutStep = ramps.toSpliced(2, 1);
const ripple = [
  { order: 2, amplitudeRev: 0.004 },
  { order: 3.3, amplitudeRev: 0.002 },
];

function order(quantity: Quantity, power: number): Component {
  const speedPower = { amplitudePk: 2, phaseLagRad: 0.4, referenceRevPerS: 40, power };
  return {
    kind: "order",
    shaft: 0,
    order: 2,
    quantity,
    envelope: { kind: "speed-power", ...speedPower },
  };
}

const lines: Component = {
  kind: "order",
  shaft: 0,
  order: 1,
  quantity: "velocity",
  envelope: {
    kind: "lines",
    rows: [
      { timeS: 0, amplitudePk: 1, phaseLagRad: 0 },
      { timeS: 0.3, amplitudePk: 2, phaseLagRad: 2 },
      { timeS: 0.45, amplitudePk: 0.5, phaseLagRad: -1 },
    ],
  },
};
const tone: Component = {
  kind: "tone",
  frequencyHz: 49.9,
  quantity: "displacement",
  amplitudePk: 3,
  phaseLagRad: 2,
};
const rotor: Component = {
  kind: "rotor",
  shaft: 0,
  modalMassKg: 50,
  naturalHz: 45,
  dampingRatio: 0.03,
  unbalance: [
    { timeS: 0, kgM: 0.03, angleRad: 0.7 },
    { timeS: 0.15003, kgM: 0.06, angleRad: 2 },
  ],
};
const filters: Response = {
  kind: "filters",
  highPassOrder: 3,
  highPassHz: 9,
  lowPassOrder: 2,
  lowPassHz: 300,
  delayS: 2e-4,
};

const CASES: [name: string, component: Component, frontEnd: Response, limit: number][] = [
  ["acceleration with the square of speed", order("acceleration", 2), { kind: "none" }, 1e-9],
  ["velocity in proportion to speed", order("velocity", 1), { kind: "none" }, 1e-9],
  ["displacement with the square of speed", order("displacement", 2), { kind: "none" }, 1e-9],
  ["the same through a front end", order("displacement", 2), filters, 1e-9],
  ["lines", lines, { kind: "none" }, 1e-9],
  ["a tone through a front end", tone, filters, 1e-9],
  // The mode's steps are good for 1e-8 (harness/rotor/mode.ts), the truth for 1e-10.
  ["a rotor", rotor, { kind: "none" }, 1e-8],
  ["a rotor through a front end", rotor, filters, 1e-8],
];

/** Largest difference of waveform and truth, over the largest value. */
function difference(component: Component, frontEnd: Response, motion: ShaftMotion): number {
  const signal = channelSignal([component], { frontEnd });
  const tracks = [new ShaftTrack(motion, RATE_HZ)];
  const setting = { tracks, sampleRateHz: RATE_HZ, seed: 1, streamBase: 16 };
  const source = new ChannelSource(signal, { ...setting, quantity: "acceleration" });
  const motions = [new MotionTruth(motion)];
  const [carrier] = carriersOf(signal, "acceleration", motions, RATE_HZ);
  const c = { re: 0, im: 0 };
  let worst = 0;
  let largest = 0;
  for (let chunk = 0; chunk < CHUNKS; chunk += 1) {
    const out = source.make(chunk * CHUNK_SAMPLES);
    for (let i = 0; i < CHUNK_SAMPLES; i += 1) {
      const t = (chunk * CHUNK_SAMPLES + i) / RATE_HZ;
      carrier!.amplitudeAt(t, c);
      const angle = 2 * Math.PI * carrier!.phaseRevAt(t);
      const right = c.re * Math.cos(angle) - c.im * Math.sin(angle);
      worst = Math.max(worst, Math.abs(out[i]! - right));
      largest = Math.max(largest, Math.abs(right));
    }
  }
  return worst / largest;
}

describe("waveform against truth", () => {
  it.each(CASES)(
    "[WAVE-064] %s: the same signal by other code",
    (_, component, frontEnd, limit) => {
      const motion = shaftMotion({ speed: component.kind === "rotor" ? withoutStep : ramps });
      expect(difference(component, frontEnd, motion)).toBeLessThan(limit);
      expect(difference(component, frontEnd, { ...motion, ripple })).toBeLessThan(limit);
    },
  );

  it("[WAVE-065] the angle is the same at random times, ripple included", () => {
    const stream = randomStream(TEST_SEED, 0);
    for (let scene = 0; scene < 50; scene += 1) {
      const speed = [{ timeS: 0, revPerS: 100 * uniformOf(stream) }];
      for (let row = 0; row < 4; row += 1) {
        const timeS = speed[row]!.timeS + 10 * uniformOf(stream);
        speed.push({ timeS, revPerS: 100 * uniformOf(stream) });
      }
      const motion = shaftMotion({ speed, ripple, startAngleRev: uniformOf(stream) });
      const truth = new MotionTruth(motion);
      const pieces = speedPieces(motion);
      const view = new RippleView(ripple);
      for (let i = 0; i < 40; i += 1) {
        const t = 60 * uniformOf(stream);
        const piece = pieces.findLast((one) => one.startS <= t)!;
        const { rev } = stateInPiece(piece, twoPart(t));
        view.anchor(rev);
        view.move(0);
        // 5,000 revolutions in f64: 1e-12 for each of a few roundings in the truth.
        expect(Math.abs(rev.hi + view.addedRev - truth.angleAt(t))).toBeLessThan(1e-10);
      }
    }
  });
});
