// Events of tachometers and of the functional test, with the windows in which they must come.
import {
  EVENT_INDEX_FOUND,
  EVENT_INDEX_LOST,
  EVENT_REFERENCE_FOUND,
  EVENT_REFERENCE_LOST,
  EVENT_TEST_OFF,
  EVENT_TEST_ON,
} from "../../shared/units.ts";
import type { ShaftProfile } from "../scene/scene.ts";
import type { InputsTruth } from "./inputs-truth.ts";
import type { ReferenceTruth } from "./reference.ts";
import type { StepGrid } from "./step-clock.ts";
import type { EventTruth } from "./types.ts";

/** Cycles that contradict before the index is lost, and one for the cycle that is open. */
const LOSS_CYCLES = 4;

export function referenceEvents(
  shaft: number,
  reference: ReferenceTruth,
  grid: StepGrid,
  endS: number,
): EventTruth[] {
  const events: EventTruth[] = [];
  for (const span of reference.spans) {
    const isSure = span.foundUntilS <= Math.min(endS, span.lostFromS);
    const isLost = isSure && span.isSurelyLost && span.lostUntilS <= endS;
    // What cannot be told for sure may happen more than once.
    const isVague = span.mayRepeat && span.lostFromS < endS;
    const base = { source: shaft };
    const found: EventTruth = {
      ...base,
      code: EVENT_REFERENCE_FOUND,
      fromTick: grid.tickAt(span.foundFromS),
      untilTick: grid.tickAt(Math.min(span.foundUntilS, endS)),
      why: "enough cycles have agreed",
    };
    const lost: EventTruth = {
      ...base,
      code: EVENT_REFERENCE_LOST,
      fromTick: grid.tickAt(span.lostFromS),
      untilTick: grid.tickAt(Math.min(span.lostUntilS, endS)),
      why: span.whyLost,
    };
    events.push(isSure && !span.isVague ? found : optional(found, 1));
    if (span.lostFromS < endS) events.push(isLost ? lost : optional(lost, 1));
    if (!isVague) continue;
    const again = { ...found, fromTick: lost.fromTick, untilTick: lost.untilTick };
    events.push(optional(again, 1000), optional(lost, 1000));
  }
  return events;
}

function optional(event: EventTruth, countMax: number): EventTruth {
  return { ...event, isOptional: true, countMax };
}

/** The index goes after two cycles that contradict it, and comes back after as many as lock. */
export function indexEvents(
  shaft: number,
  profile: ShaftProfile,
  reference: ReferenceTruth,
  grid: StepGrid,
  endS: number,
): EventTruth[] {
  if (profile.index === "none" || profile.positions === 1) return [];
  const { motion, cycleRev, indexLost } = reference.wheel;
  const events: EventTruth[] = [];
  const after = (timeS: number, cycles: number): number =>
    motion.timeAt(motion.angleAt(timeS) + cycles * cycleRev);
  for (const { fromS, untilS } of indexLost) {
    const isLocked =
      reference.at(fromS) === "yes" && reference.at(Math.min(untilS, endS)) === "yes";
    const lostByS = after(fromS, LOSS_CYCLES);
    const isSure = isLocked && lostByS <= Math.min(untilS, endS);
    const lost: EventTruth = {
      code: EVENT_INDEX_LOST,
      source: shaft,
      fromTick: grid.tickAt(fromS),
      untilTick: grid.tickAt(Math.min(after(Math.min(untilS, endS), 2), lostByS, endS)),
      why: "the index did not come",
    };
    events.push(isSure ? lost : optional(lost, 1));
    if (untilS >= endS) continue;
    const foundByS = after(untilS, profile.lockRevolutions + LOSS_CYCLES);
    const found: EventTruth = {
      code: EVENT_INDEX_FOUND,
      source: shaft,
      fromTick: grid.tickAt(untilS),
      untilTick: grid.tickAt(Math.min(foundByS, endS)),
      why: "the index came again",
    };
    events.push(isSure && foundByS <= endS ? found : optional(found, 1));
  }
  return events;
}

export function testEvents(inputs: InputsTruth): EventTruth[] {
  return inputs.testChanges().map(({ tick, isOn }) => ({
    code: isOn ? EVENT_TEST_ON : EVENT_TEST_OFF,
    source: 0,
    fromTick: tick,
    untilTick: tick,
    why: isOn ? "the functional test began" : "the functional test ended",
  }));
}
