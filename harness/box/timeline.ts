// What a box is really played: a burst, the scenario, a burst. The bursts are of one height, so that
// their times on the box's clock tell its drift against the generator's.
import type { Component, Scene, ShaftMotion } from "../scene/scene.ts";
import type { BlockBatch } from "../target/target.ts";
import { makeWaveform } from "../waveform/waveform.ts";
import type { Stimulus, StimulusPiece } from "../adapter/adapter.ts";
import type { DeviceSpecification } from "./device-file.ts";

/** Silence, burst, silence, in times of settling. */
const QUIET = 1.5;
const BURST = 2;
/** Share of the channel's range that a burst has. */
const BURST_SHARE = 0.25;

/** When a burst begins and ends on the generator's clock, s from the first sample. */
export interface Burst {
  fromS: number;
  untilS: number;
}

export interface Timeline {
  parts: { scene: Scene; fromS: number }[];
  bursts: [Burst, Burst];
  /** The scenario's time 0. */
  sceneFromS: number;
  durationS: number;
}

/** Why a scenario cannot be played between bursts, in a sentence. */
export class NoBurst extends Error {}

/** Angle of a shaft at a time, revolutions, by its smooth speed. */
function angleAt({ speed, startAngleRev }: ShaftMotion, timeS: number): number {
  let rev = startAngleRev;
  for (let i = 0; i < speed.length; i += 1) {
    const row = speed[i]!;
    if (row.timeS >= timeS) break;
    const next = speed[i + 1];
    const until = Math.min(timeS, next?.timeS ?? timeS);
    const spanS = until - row.timeS;
    const slope =
      next === undefined || next.timeS <= row.timeS
        ? 0
        : (next.revPerS - row.revPerS) / (next.timeS - row.timeS);
    rev += row.revPerS * spanS + 0.5 * slope * spanS * spanS;
  }
  return rev;
}

function speedAt({ speed }: ShaftMotion, timeS: number): number {
  let at = speed[0]!.revPerS;
  for (let i = 0; i < speed.length; i += 1) {
    const row = speed[i]!;
    if (row.timeS > timeS) break;
    const next = speed[i + 1];
    if (next === undefined || timeS >= next.timeS) at = row.revPerS;
    else {
      const share = (timeS - row.timeS) / (next.timeS - row.timeS);
      at = row.revPerS + share * (next.revPerS - row.revPerS);
    }
  }
  return at;
}

/** A held stretch with a burst in it, shafts turning as they do at `timeS` of the scenario. */
function burstScene(
  scene: Scene,
  filter: number,
  timeS: number,
  parts: number[],
  isBefore: boolean,
): Scene {
  const [quietS, burstS, restS] = parts as [number, number, number];
  const durationS = quietS + burstS + restS;
  const own = scene.profile.filters[filter]!;
  const { range } = scene.profile.channels[own.channel]!;
  const rows = [
    { timeS: 0, amplitudePk: 0, phaseLagRad: 0 },
    { timeS: quietS, amplitudePk: BURST_SHARE * range, phaseLagRad: 0 },
    { timeS: quietS + burstS, amplitudePk: 0, phaseLagRad: 0 },
  ];
  const burst: Component = {
    kind: "order",
    shaft: own.shaft,
    order: own.order,
    quantity: scene.profile.channels[own.channel]!.quantity,
    envelope: { kind: "steps", rows },
  };
  const shafts = scene.shafts.map((shaft): ShaftMotion => {
    const revPerS = speedAt(shaft, timeS);
    const angle = angleAt(shaft, timeS) - (isBefore ? revPerS * durationS : 0);
    const { revolutions } = shaft.wheel;
    // Whole cycles more leave the wheel where it is.
    const startAngleRev = angle - revolutions * Math.floor(angle / revolutions);
    return { ...shaft, speed: [{ timeS: 0, revPerS }], startAngleRev, ripple: [], faults: [] };
  });
  return {
    ...scene,
    durationS,
    shafts,
    channels: scene.channels.map((signal, i) => ({
      ...signal,
      components: i === own.channel ? [burst] : [],
      faults: [],
    })),
    inputs: [{ timeS: 0, inhibit: 0, acknowledge: 0, running: 0, test: false }],
  };
}

/** Errors: NoBurst where a shaft stands at either end. */
export function makeTimeline(scene: Scene, filter: number, device: DeviceSpecification): Timeline {
  const { shaft } = scene.profile.filters[filter]!;
  const { sampleRateHz, shafts } = scene.profile;
  const wholeS = (seconds: number): number => Math.ceil(seconds * sampleRateHz) / sampleRateHz;
  const unitS = wholeS(device.settlingS + device.latency.toS + 1 / device.updateRateHz);
  const quietS = wholeS(QUIET * unitS);
  const burstS = wholeS(BURST * unitS);
  const samples = makeWaveform(scene).sampleCount;
  const sceneS = samples / sampleRateHz;
  for (const [what, timeS] of [
    ["beginning", 0],
    ["end", sceneS],
  ] as const) {
    const speed = speedAt(scene.shafts[shaft]!, timeS);
    if (speed >= shafts[shaft]!.speedMinRevPerS) continue;
    throw new NoBurst(
      `a box is played a burst at either end to find its clock's drift, and shaft ` +
        `${shafts[shaft]!.name} does not turn fast enough at the ${what}`,
    );
  }
  const parts = [quietS, burstS, quietS];
  const lead = burstScene(scene, filter, 0, parts, true);
  const tail = burstScene(scene, filter, sceneS, parts, false);
  const sceneFromS = lead.durationS;
  const tailFromS = sceneFromS + sceneS;
  const burstFrom = (fromS: number): Burst => ({
    fromS: fromS + quietS,
    untilS: fromS + quietS + burstS,
  });
  return {
    parts: [
      { scene: lead, fromS: 0 },
      { scene, fromS: sceneFromS },
      { scene: tail, fromS: tailFromS },
    ],
    bursts: [burstFrom(0), burstFrom(tailFromS)],
    sceneFromS,
    durationS: tailFromS + tail.durationS,
  };
}

/** The timeline as an adapter gets it. */
export function timelineStimulus(name: string, scene: Scene, timeline: Timeline): Stimulus {
  const { sampleRateHz, clockHz, channels } = scene.profile;
  const sources = timeline.parts.map(({ scene: part, fromS }) => ({
    source: makeWaveform(part),
    fromS,
    firstSample: Math.round(fromS * sampleRateHz),
  }));
  const sampleCount = sources.reduce((sum, { source }) => sum + source.sampleCount, 0);
  let part = 0;
  const si = (samples: BlockBatch["samples"][number], channel: number): Float64Array =>
    Float64Array.from(
      samples,
      samples instanceof Int16Array
        ? (value) => value * channels[channel]!.countStep
        : (value) => value,
    );
  return {
    name,
    sampleRateHz,
    sampleCount,
    durationS: sampleCount / sampleRateHz,
    profile: scene.profile,
    next(samplesMax): StimulusPiece | undefined {
      for (; part < sources.length; part += 1) {
        const { source, fromS, firstSample } = sources[part]!;
        const batch = source.next(samplesMax);
        if (batch === undefined) continue;
        return {
          firstSample: firstSample + batch.firstSample,
          samples: batch.samples.map(si),
          edges: batch.edges.map((ticks) => ticks.map((tick) => fromS + tick / clockHz)),
        };
      }
      return undefined;
    },
  };
}
