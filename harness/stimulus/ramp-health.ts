// What a ramp does to the health checks of a device that has them: silence looks like a dead cable, a
// bias on its way like a wrong one. Such a device has taken the transducer for failed by the end of
// the ramp and lets go of it while the first moment stands.
import type { ChannelProfile, Scene } from "../scene/scene.ts";
import { type ExpectedEvent, instant } from "./expected.ts";
import type { StimulusPlan } from "./stimulus-plan.ts";

/** Greatest i16 count. */
const COUNT_MAX = 32_767;
/** What is so much under a limit stays under it whatever is rounded. */
const SURELY_UNDER = 0.999;

/** Checks that answer otherwise to a ramp than to what stands; flat line and broadband wait for pulses. */
function disturbedChecks(scene: Scene, channel: number, leadPeak: number): string[] {
  const { kind, health, range, countStep }: ChannelProfile = scene.profile.channels[channel]!;
  const isCounts = scene.channels[channel]!.converter.format === "i16";
  const top = isCounts ? Math.min(range, COUNT_MAX * countStep) : range;
  const reaches = (limit: number | undefined): boolean =>
    limit !== undefined && leadPeak >= SURELY_UNDER * limit;
  const checks: [string, boolean][] = [
    ["bias", kind === "powered" && health.bias !== undefined],
    ["noise floor", kind === "charge" && health.noiseFloorRms !== undefined],
    ["bursts", kind !== "coil" && health.burstRms !== undefined],
    ["clipping", health.clipSamples !== undefined && reaches(top)],
    ["physical", reaches(health.physicalPk)],
  ];
  return checks.filter(([, isDisturbed]) => isDisturbed).map(([name]) => name);
}

export interface RampHealth {
  /** From here on the truth holds for a device that took the ramp for a fault, too. */
  truthFromS: number;
  /** What such a device may tell. */
  events: ExpectedEvent[];
}

/** `leadPeaks`: greatest |sample| of each channel before the scenario, in its own quantity. */
export function rampHealth(
  scene: Scene,
  { rampUpS, holdS, settlingS }: StimulusPlan,
  leadPeaks: readonly number[],
): RampHealth {
  const heldFromS = instant(-holdS);
  const { displayPeriodS } = scene.profile;
  const periods = Math.ceil(settlingS / displayPeriodS - 1e-9);
  const settledFromS = instant(periods * displayPeriodS - holdS);
  const events = leadPeaks.flatMap((leadPeak, channel) => {
    const checks = disturbedChecks(scene, channel, leadPeak);
    return checks.flatMap((check) =>
      ["transducer-fault", "transducer-healthy"].map((event) => ({
        event,
        of: `channel ${scene.profile.channels[channel]!.name}`,
        fromS: instant(-holdS - rampUpS),
        untilS: settledFromS,
        isOptional: true,
        why: `${check}: the ramp is no signal that stands`,
      })),
    );
  });
  return { truthFromS: events.length === 0 ? heldFromS : settledFromS, events };
}
