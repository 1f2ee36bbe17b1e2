// Counters at the end, each as a range.
import { HEALTH_CHECKS } from "../../shared/units.ts";
import type { Scene } from "../scene/scene.ts";
import { ChannelTruth } from "./channel-truth.ts";
import type { HealthTruth } from "./health-truth.ts";
import type { ReferenceTruth } from "./reference.ts";
import type { StepGrid } from "./step-clock.ts";
import type { CounterTruth } from "./types.ts";

/** Edges that an index that is gone may cost before and after. */
const INDEX_EDGES = 8;

/** Edges at either end of a reference that may count or not, and an index between them. */
const EDGES_OPEN = 3;

export function deviceCounters(grid: StepGrid): CounterTruth[] {
  const count = grid.sampleCount;
  return [
    { name: "samples", index: 0, min: count, max: count, why: "every sample was taken once" },
    { name: "refusedBlocks", index: 0, min: 0, max: 0, why: "no block breaks a rule" },
    { name: "recordsLost", index: 0, min: 0, max: 0, why: "the ring is drained in time" },
  ];
}

/** Whether jitter and wheel leave every edge within half of the tolerance it is judged by. */
function edgesAreCalm(scene: Scene, shaft: number, reference: ReferenceTruth): boolean {
  const { wheel } = reference;
  const speeds = scene.shafts[shaft]!.speed.map((row) => row.revPerS);
  const jitterPitch = (8 * wheel.jitterS * Math.max(...speeds)) / wheel.pitchRev;
  const ripple = wheel.motion.ripple.reduce((sum, one) => sum + Math.abs(one.amplitudeRev), 0);
  const shift = jitterPitch + (4 * (wheel.errorRev + ripple)) / wheel.pitchRev;
  return shift < 0.5 * scene.profile.shafts[shaft]!.edgeTolerancePitches;
}

export function shaftCounters(
  scene: Scene,
  shaft: number,
  reference: ReferenceTruth,
): CounterTruth[] {
  const { wheel } = reference;
  const profile = scene.profile.shafts[shaft]!;
  const endS = scene.durationS;
  const isSameIndex = profile.positions === 1 || profile.index === wheel.index;
  const lost = reference.spans.filter((span) => span.lostFromS < endS);
  const isVague = lost.some((span) => span.mayRepeat);
  if (!isSameIndex || isVague || !edgesAreCalm(scene, shaft, reference)) return [];
  const counters: CounterTruth[] = [];
  const put = (name: CounterTruth["name"], min: number, max: number, why: string): void => {
    counters.push({ name, index: shaft, min, max, why });
  };
  const isSurelyLocked = (timeS: number): boolean => reference.at(timeS) === "yes";
  const mayBeLocked = (timeS: number): boolean => reference.at(timeS) !== "no";
  const sureLost = lost.filter(
    (span) => span.isSurelyLost && span.foundUntilS <= span.lostFromS && span.lostUntilS <= endS,
  ).length;
  put("referenceLost", sureLost, lost.length, "losses that the scene causes");
  const extras = wheel.extras.filter((one) => mayBeLocked(one.timeS));
  const surelyEarly = extras.filter((one) => isSurelyLocked(one.timeS) && one.fraction < 0.5);
  const indexMost = wheel.indexLost.length * (INDEX_EDGES + profile.lockRevolutions);
  put(
    "edgesEarly",
    wheel.index === "extra-edge" ? 0 : surelyEarly.length,
    extras.length + indexMost,
    "extra edges while the reference stood",
  );
  const bridged = wheel.gaps.filter((gap) => mayBeLocked(gap.fromS) && gap.missed > 0);
  const surelyBridged = bridged.filter(
    (gap) => isSurelyLocked(gap.fromS) && isSurelyLocked(gap.untilS + 1e-9),
  );
  const sum = (gaps: typeof bridged): number => gaps.reduce((all, gap) => all + gap.missed, 0);
  const most = bridged.filter((gap) => gap.positions <= 16);
  put("edgesMissed", sum(surelyBridged), sum(most) + indexMost, "edges that did not come, bridged");
  const others = 3 * lost.length + extras.length - surelyEarly.length + indexMost;
  put("edgesIrregular", 0, others, "edges that fit nowhere");
  if (wheel.indexLost.length === 0 && wheel.gaps.length === 0 && wheel.extras.length === 0) {
    put("indexContradictions", 0, 0, "the index came in every cycle");
  }
  put(...edgeRange(scene, shaft, reference, others + extras.length + indexMost));
  put(...revolutionRange(reference, endS));
  return counters;
}

/**
 * Edges of the wheel taken between found and lost: those that passed, by the widest and the
 * narrowest reading; `odd` may have been dropped, bridged, or taken for others.
 */
function edgeRange(
  scene: Scene,
  shaft: number,
  reference: ReferenceTruth,
  odd: number,
): [CounterTruth["name"], number, number, string] {
  const { motion, index, indexLost } = reference.wheel;
  // What is fitted counts, not what the profile says.
  const { positions, revolutions } = scene.shafts[shaft]!.wheel;
  const perCycle = positions + (index === "missing-tooth" ? -1 : index === "extra-edge" ? 1 : 0);
  const endS = scene.durationS;
  const passed = (fromS: number, untilS: number): number => {
    const [from, until] = [Math.min(fromS, endS), Math.min(untilS, endS)];
    return Math.max(0, motion.angleAt(until) - motion.angleAt(from)) * (perCycle / revolutions);
  };
  let least = 0;
  let most = 0;
  for (const span of reference.spans) {
    const sureS = Math.min(span.lostFromS, span.edgesUntilS);
    // The teeth are not even about an index; what is missed is told by its own counter.
    least += Math.max(0, Math.floor(passed(span.foundUntilS, sureS)) - EDGES_OPEN);
    most += Math.ceil(passed(span.foundFromS, span.lostUntilS)) + EDGES_OPEN;
  }
  const missed = reference.wheel.gaps.reduce((sum, gap) => sum + gap.missed, 0);
  // While an index does not come its gap is filled, or its mark left out, once a cycle.
  const filled = indexLost.reduce(
    (sum, { fromS, untilS }) => sum + Math.ceil(passed(fromS, untilS) / perCycle) + 1,
    0,
  );
  const open = odd + filled;
  return ["edges", Math.max(0, least - missed - open), most + open, "edges of the wheel"];
}

/** Whole cycles between found and lost, by the widest and the narrowest reading. */
function revolutionRange(
  reference: ReferenceTruth,
  endS: number,
): [CounterTruth["name"], number, number, string] {
  const { motion, cycleRev } = reference.wheel;
  let least = 0;
  let most = 0;
  for (const span of reference.spans) {
    const cycles = (fromS: number, untilS: number): number => {
      const turned = motion.angleAt(Math.min(untilS, endS)) - motion.angleAt(Math.min(fromS, endS));
      return turned / cycleRev;
    };
    least += Math.max(
      0,
      Math.floor(cycles(span.foundUntilS, Math.min(span.lostFromS, span.edgesUntilS))) - 2,
    );
    most += Math.max(0, Math.ceil(cycles(span.foundFromS, span.lostUntilS)) + 1);
  }
  return ["revolutions", least, most, "cycles closed while the reference stood"];
}

export function channelCounters(
  scene: Scene,
  channels: readonly ChannelTruth[],
  grid: StepGrid,
): CounterTruth[] {
  const counters: CounterTruth[] = [];
  for (const [index, channel] of channels.entries()) {
    const { faults, mean } = channel.signal;
    let spoilt = 0;
    for (const fault of faults) {
      if (fault.kind !== "not-finite") continue;
      const from = grid.inputSample(fault.atS);
      spoilt += Math.max(0, Math.min(fault.samples, grid.sampleCount - from));
    }
    counters.push({
      name: "samplesNotFinite",
      index,
      min: spoilt,
      max: spoilt,
      why: "NaN and infinities that the scene plants",
    });
    const isPlain = faults.every(({ kind }) => kind === "not-finite" || kind === "open");
    if (!isPlain || scene.inputs.some((row) => row.test)) continue;
    const sum = ChannelTruth.largestSum(channel.carriers, scene.durationS);
    const most = 1.001 * sum + Math.abs(mean) + 7 * channel.noiseRms;
    if (most >= scene.profile.channels[index]!.range) continue;
    counters.push({
      name: "samplesClipped",
      index,
      min: 0,
      max: 0,
      why: "the signal stays inside the range",
    });
  }
  return counters;
}

/** Periods on which each check held, over all channels. */
export function healthCounters(channels: readonly HealthTruth[]): CounterTruth[] {
  const counters: CounterTruth[] = [];
  for (let check = 0; check < HEALTH_CHECKS; check += 1) {
    const min = channels.reduce((sum, one) => sum + one.checks[check]!.heldLeast, 0);
    const max = channels.reduce((sum, one) => sum + one.checks[check]!.heldMost, 0);
    const why = "display periods on which the check's condition held";
    counters.push({ name: "health", index: check, min, max, why });
  }
  return counters;
}
