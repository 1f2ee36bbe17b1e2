// Readings of each number on the scenario's time: by that number's own bursts, or another's where its own
// cannot be played or seen.
import type { LevelBoxFacts, Reading } from "../adapter/adapter.ts";
import type { BoxClock } from "../judge/types.ts";
import type { Scene } from "../scene/scene.ts";
import { timeConstantS } from "../truth/filter-response.ts";
import type { TimedReading } from "./box-judge.ts";
import { COVERAGE_FACTOR, rectangular } from "./decision.ts";
import type { DeviceSpecification } from "./device-file.ts";
import { BurstLost, type ClockFit, clockStandardS, fitClock, generatorTime } from "./drift.ts";
import type { Timeline } from "./timeline.ts";

/** Time constants of two equal poles until half a step: root of (1 + x)·e^(−x) = 0.5. */
const HALF_STEP_TAU = 1.67834699;

/** The readings of one number, on the scenario's time. */
export interface TimedNumber {
  filter: number;
  /** All that was played, ascending. */
  readings: TimedReading[];
  fit: ClockFit;
  clock: BoxClock;
  /** Why another number's bursts tell its clock; undefined: they are its own. */
  why?: string;
}

/** How late half a burst is by what a box states, s: about this, so far on either side, how surely. */
interface BurstDelay {
  delayS: number;
  eitherS: number;
  standardS: number;
}

function burstDelay(
  scene: Scene,
  filter: number,
  { latency, settlingS, filter: known }: DeviceSpecification,
): BurstDelay {
  const middle = (latency.fromS + latency.toS) / 2;
  const half = (latency.toS - latency.fromS) / 2;
  if (known === undefined) {
    const settling = settlingS / 2;
    return {
      delayS: middle + settling,
      eitherS: half + settling,
      standardS: Math.hypot(rectangular(half), rectangular(settling)),
    };
  }
  const { shaft } = scene.profile.filters[filter]!;
  const { revolutions } = scene.profile.shafts[shaft]!;
  const { speed } = scene.shafts[shaft]!;
  const revPerS = speed[0]?.revPerS ?? 0;
  // A number that is renewed with each turn of the wheel follows up to one later.
  const turn = revPerS > 0 ? revolutions / revPerS / 2 : 0;
  return {
    delayS: middle + HALF_STEP_TAU * timeConstantS(known.fullWidthHz) + turn,
    eitherS: half + turn,
    standardS: Math.hypot(rectangular(half), rectangular(turn)),
  };
}

/**
 * Whether by the clock that plays both bursts are as late as the box states: what differs between
 * them is then its latency's to differ, and no drift.
 */
function isLatencyAlone(
  { bursts, offsetS, drift }: ClockFit,
  { delayS, eitherS }: BurstDelay,
  stated: number,
): boolean {
  return bursts.every(({ timeS, standardS }) => {
    const offS = Math.abs(offsetS + drift * timeS - delayS);
    return offS <= eitherS + COVERAGE_FACTOR * Math.hypot(standardS, stated);
  });
}

/** What puts a number's times on the generator's clock, by whose clock stamps them. */
function placing(
  fit: ClockFit,
  delay: BurstDelay,
  clock: LevelBoxFacts["clock"],
  stated: number,
): { fit: ClockFit; delayS: number; standardS: number } {
  if (clock === "own") return { fit, delayS: delay.delayS, standardS: delay.standardS };
  // Both clocks begin together.
  const drift = isLatencyAlone(fit, delay, stated) ? 0 : fit.drift;
  return { fit: { ...fit, drift, offsetS: 0 }, delayS: 0, standardS: 0 };
}

interface Fitted {
  filter: number;
  fit: ClockFit;
}

/** Fits of every number whose bursts are played and seen; of the others, why not. */
function fits(
  scene: Scene,
  timeline: Timeline,
  readings: readonly Reading[],
  { displayStep }: DeviceSpecification,
): { fitted: Fitted[]; lost: Map<number, string> } {
  const [{ fromS, untilS }] = timeline.bursts;
  const slackS = 0.5 * (untilS - fromS);
  const fitted: Fitted[] = [];
  const lost = new Map<number, string>();
  for (const [filter, { name }] of scene.profile.filters.entries()) {
    const own = readings.filter((one) => one.filter === name);
    if (own.length === 0) continue;
    const why = timeline.unserved[filter];
    if (why !== undefined) {
      lost.set(filter, why);
      continue;
    }
    try {
      const valid = own.filter((one) => one.isValid !== false);
      fitted.push({ filter, fit: fitClock(valid, timeline.bursts, slackS, displayStep) });
    } catch (error) {
      if (!(error instanceof BurstLost)) throw error;
      lost.set(filter, error.message);
    }
  }
  return { fitted, lost };
}

/** Errors: BurstLost where no number shows its bursts. */
export function timedNumbers(
  scene: Scene,
  timeline: Timeline,
  readings: readonly Reading[],
  clock: LevelBoxFacts["clock"],
  device: DeviceSpecification,
): TimedNumber[] {
  const { fitted, lost } = fits(scene, timeline, readings, device);
  const best = fitted.toSorted((a, b) => a.fit.driftUncertainty - b.fit.driftUncertainty)[0];
  if (best === undefined) {
    throw new BurstLost([...lost.values()][0] ?? "the box shows none of the profile's numbers");
  }
  const { filters } = scene.profile;
  const { stimulus } = device;
  const stated = stimulus.timeS / stimulus.coverageFactor;
  return filters.flatMap(({ name }, filter): TimedNumber[] => {
    const own = readings.filter((one) => one.filter === name);
    if (own.length === 0) return [];
    const { fit: found, filter: from } = fitted.find((one) => one.filter === filter) ?? best;
    const isOwn = clock === "own";
    const placed = placing(found, burstDelay(scene, from, device), clock, stated);
    const { fit } = placed;
    const driftStandard = fit.driftUncertainty / COVERAGE_FACTOR;
    const timed = own.map((one): TimedReading => {
      const timeS = generatorTime(fit, one.timeS, placed.delayS);
      const clockS = isOwn ? clockStandardS(fit, timeS) : driftStandard * Math.abs(timeS);
      return {
        ...one,
        sceneS: timeS - timeline.sceneFromS,
        standardS: Math.hypot(clockS, placed.standardS, stated),
      };
    });
    const isInScene = ({ sceneS }: TimedReading) => sceneS >= 0 && sceneS <= scene.durationS;
    const standards = timed.filter(isInScene).map((one) => one.standardS);
    const why = lost.get(filter);
    return [
      {
        filter,
        readings: timed,
        fit,
        clock: {
          name,
          from: filters[from]!.name,
          driftPpm: 1e6 * fit.drift,
          driftUncertaintyPpm: 1e6 * fit.driftUncertainty,
          timeUncertaintyS:
            COVERAGE_FACTOR * standards.reduce((most, one) => Math.max(most, one), 0),
        },
        ...(why === undefined ? {} : { why }),
      },
    ];
  });
}
