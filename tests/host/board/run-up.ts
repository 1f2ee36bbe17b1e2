// The scene that goes through boards.
import type { Scene } from "../../../harness/scene/scene.ts";
import {
  channelProfile,
  channelSignal,
  monitorProfile,
  orderComponent,
  scene,
  shaftProfile,
} from "../../kit/scene-builder.ts";

/** A run-up and coast-down at a rate that an emulated serial line carries: i16, 300 blocks. */
export function runUp(): Scene {
  const profile = monitorProfile({
    clockHz: 3_200_000,
    sampleRateHz: 3200,
    channels: [channelProfile({ health: { steps: 2, clipSamples: 3, flatPkPk: 0.1 } })],
    shafts: [
      shaftProfile({
        positions: 6,
        index: "missing-tooth",
        timeoutS: 0.6,
        accelerationMaxRevPerS2: 20,
        speedMaxRevPerS: 120,
      }),
    ],
  });
  const made = scene({
    name: "run-up on a board",
    durationS: 12,
    profile,
    channels: [
      channelSignal([orderComponent(1, 40, 30), orderComponent(2, 25, 77)], {
        converter: { format: "i16", step: 0.05 },
      }),
    ],
  });
  made.shafts[0]!.speed = [
    { timeS: 0, revPerS: 20 },
    { timeS: 6, revPerS: 60 },
    { timeS: 12, revPerS: 30 },
  ];
  return made;
}
