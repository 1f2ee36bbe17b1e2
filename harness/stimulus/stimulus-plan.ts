// What stands where in a stimulus: ramp, hold, scenario, ramp; and the scenes that are played and judged.
import { type Complaint, InputError } from "../../host/input-error.ts";
import type { ChannelFault, MonitorProfile, Scene } from "../scene/scene.ts";
import { type HeldTimes, heldScene } from "./held-scene.ts";
import { settlingHoldS } from "./hold-length.ts";

/** Samples for each of the scenario's, at most. */
export const TIMES_MAX = 64;

/** Samples of the file; all are those that come first in their part. */
export interface Parts {
  /** The first moment stands from here on, and pulses come. */
  holdSample: number;
  /** The scenario's time 0. */
  zeroSample: number;
  /** The first sample after the scenario: from here on all ramps down. */
  endSample: number;
  sampleCount: number;
}

export interface StimulusPlan {
  /** What is written, at the rate of the file. */
  played: Scene;
  /** What a device must answer to, up to the scenario's end, at the scenario's own rate. */
  judged: Scene;
  sampleRateHz: number;
  rampUpSamples: number;
  rampDownSamples: number;
  rampUpS: number;
  holdS: number;
  rampDownS: number;
  /** The hold after which everything has settled. */
  settlingS: number;
}

export interface PlanWish {
  scene: Scene;
  /** Samples for each of the scenario's. */
  times: number;
  rampS: number;
  /** Absent: as long as the profile needs to settle. */
  holdS?: number;
}

/** A complaint about the scene as a whole. */
export function refused(scene: Scene, message: string): InputError {
  const complaint: Complaint = { file: `case "${scene.name}"`, line: 0, column: 0, message };
  return new InputError(complaint);
}

/** How many samples may stand for one: edges must fall on whole ticks of a sample. */
export function servedTimes({ profile }: Scene): number[] {
  const { clockHz, sampleRateHz } = profile;
  const all = Array.from({ length: TIMES_MAX }, (_, i) => i + 1);
  return all.filter((times) => clockHz % (sampleRateHz * times) === 0);
}

/** A fault that counts samples lasts as long as it does at the scenario's own rate. */
function atRateFault(fault: ChannelFault, times: number): ChannelFault {
  return "samples" in fault ? { ...fault, samples: fault.samples * times } : fault;
}

function atRate(scene: Scene, times: number): Scene {
  if (times === 1) return scene;
  const sampleRateHz = scene.profile.sampleRateHz * times;
  if (scene.profile.clockHz % sampleRateHz !== 0) {
    const clock = `the edge clock of ${scene.profile.clockHz} Hz is no multiple of it`;
    const served = servedTimes(scene).slice(0, 8).join(", ");
    throw refused(
      scene,
      `cannot be written at ${sampleRateHz} Hz: ${clock}; ${served} times serve`,
    );
  }
  const channels = scene.channels.map((signal) => ({
    ...signal,
    faults: signal.faults.map((fault) => atRateFault(fault, times)),
  }));
  return { ...scene, channels, profile: { ...scene.profile, sampleRateHz } };
}

/** Whole display periods: the scenario's steps fall on the file's. */
function wholePeriods({ displayPeriodS }: MonitorProfile, timeS: number): number {
  return Math.max(0, Math.ceil(timeS / displayPeriodS - 1e-9));
}

/** Errors: InputError where the edge clock does not serve the rate. */
export function planOf({ scene, times, rampS, holdS }: PlanWish): StimulusPlan {
  const { profile } = scene;
  const sampleRateHz = profile.sampleRateHz * times;
  const periodSamples = Math.round(profile.displayPeriodS * sampleRateHz);
  const settlingS = settlingHoldS(scene);
  const rampUpSamples = Math.max(1, wholePeriods(profile, rampS)) * periodSamples;
  const holdSamples = wholePeriods(profile, holdS ?? settlingS) * periodSamples;
  const rampDownSamples = Math.max(1, Math.round(rampS * sampleRateHz));
  const heldTimes: HeldTimes = {
    rampUpS: rampUpSamples / sampleRateHz,
    holdS: holdSamples / sampleRateHz,
    tailS: rampDownSamples / sampleRateHz,
  };
  return {
    played: atRate(heldScene(scene, heldTimes), times),
    judged: heldScene(scene, { ...heldTimes, tailS: 0 }),
    sampleRateHz,
    rampUpSamples,
    rampDownSamples,
    rampUpS: heldTimes.rampUpS,
    holdS: heldTimes.holdS,
    rampDownS: heldTimes.tailS,
    settlingS,
  };
}

/** Where the parts of a file of so many samples begin. */
export function partsOf(plan: StimulusPlan, sampleCount: number): Parts {
  const { sampleRateHz, rampUpSamples, rampDownSamples, holdS } = plan;
  return {
    holdSample: rampUpSamples,
    zeroSample: rampUpSamples + Math.round(holdS * sampleRateHz),
    endSample: sampleCount - rampDownSamples,
    sampleCount,
  };
}
