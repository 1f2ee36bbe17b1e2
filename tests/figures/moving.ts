// Ramps with growing companions, and a second rotor near a whole ratio, against the truth.
import type { Component, Scene } from "../../harness/scene/scene.ts";
import { compareWithTruth } from "../kit/compare-with-truth.ts";
import {
  channelSignal,
  filterProfile,
  monitorProfile,
  orderComponent,
  scene,
  shaftProfile,
} from "../kit/scene-builder.ts";
import { type Figure, type Measured, Worst } from "./figure.ts";

const WHEELS = [1, 6, 60, 120];
const AMPLITUDE_PK = 10;

/** A component that grows with n² from ten times the tracked amplitude at the start. */
function growing(order: number, amplitudePk: number, startRevPerS: number): Component {
  return {
    kind: "order",
    shaft: 0,
    order,
    quantity: "acceleration",
    envelope: {
      kind: "speed-power",
      amplitudePk,
      phaseLagRad: order,
      referenceRevPerS: startRevPerS,
      power: 2,
    },
  };
}

/** A ramp without corners: those have a term of their own in the tolerance. */
function ramp(from: number, to: number, slope: number, positions: number): Scene {
  const durationS = Math.abs(to - from) / slope;
  const profile = monitorProfile({
    clockHz: 102_400_000,
    shafts: [shaftProfile({ positions, lockRevolutions: 1, timeoutS: 0.38 })],
  });
  const made = scene({
    name: `${from} to ${to} rev/s at ${slope} rev/s², P = ${positions}`,
    durationS,
    profile,
    channels: [
      channelSignal([
        growing(1, AMPLITUDE_PK, from),
        growing(2, 10 * AMPLITUDE_PK, from),
        growing(3, 10 * AMPLITUDE_PK, from),
      ]),
    ],
  });
  made.shafts[0]!.speed = [
    { timeS: 0, revPerS: from },
    { timeS: durationS, revPerS: to },
  ];
  return made;
}

const RAMPS: [from: number, to: number][] = [
  [10, 50],
  [20, 100],
  [80, 120],
  [120, 80],
  [150, 200],
];

async function worstOfRamps(slopes: number[]): Promise<Worst> {
  const worst = new Worst();
  for (const slope of slopes) {
    for (const [from, to] of RAMPS) {
      for (const positions of WHEELS) {
        const made = ramp(from, to, slope, positions);
        for (const { record, truth } of await compareWithTruth(made)) {
          worst.take(Math.abs(record.level / truth.level - 1), made.name);
        }
      }
    }
  }
  return worst;
}

function share(worst: Worst, limit: number, countMin: number): Measured {
  return {
    text: `${(worst.value * 100).toFixed(5)} % (${worst.where}; ${worst.count} steps)`,
    isOk: worst.count >= countMin && worst.value <= limit,
  };
}

async function worstOfNeighbours(): Promise<Worst> {
  const worst = new Worst();
  for (const ratio of [1.97, 1.98, 2, 2.013, 2.03, 2.97, 2.99, 3, 3.017, 3.03]) {
    for (const positions of [1, 60]) {
      const profile = monitorProfile({
        clockHz: 102_400_000,
        shafts: [shaftProfile({ positions, lockRevolutions: 1 })],
        filters: [filterProfile({ bandwidth: { kind: "fixed", fullWidthHz: 1 } })],
      });
      const made = scene({
        name: `ratio ${ratio}, P = ${positions}`,
        durationS: 12,
        profile,
        channels: [
          channelSignal([
            orderComponent(1, AMPLITUDE_PK, 30),
            orderComponent(ratio, AMPLITUDE_PK, 100),
          ]),
        ],
      });
      for (const { record, truth } of await compareWithTruth(made)) {
        worst.take(Math.abs(record.level / truth.level - 1), made.name);
      }
    }
  }
  return worst;
}

export const MOVING_FIGURES: Figure[] = [
  {
    id: "RAMP-10",
    what: "level on ramps of 2 to 10 rev/s², companions at orders 2, 3 growing with n² from ten times",
    required: "within 0.05 % of the truth",
    measure: async () => share(await worstOfRamps([2, 5, 10]), 0.0005, 5000),
  },
  {
    id: "RAMP-25",
    what: "the same at 25 rev/s²",
    required: "within 0.1 % of the truth",
    measure: async () => share(await worstOfRamps([25]), 0.001, 300),
  },
  {
    id: "SECOND-ROTOR",
    what: "second rotor as large, ratio within 0.03 of 2 and 3, full bandwidth 1 Hz at 80 rev/s",
    required: "within 0.02 % of the truth",
    measure: async () => share(await worstOfNeighbours(), 0.0002, 1000),
  },
];
