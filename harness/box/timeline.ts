// What a box is really played: a burst, the scenario, a burst. The bursts are of one height, so that
// their times on the box's clock tell its drift against the generator's.
import type { Component, FilterProfile, Quantity, Scene, ShaftMotion } from "../scene/scene.ts";
import type { BlockBatch } from "../target/target.ts";
import { makeWaveform } from "../waveform/waveform.ts";
import type { Stimulus, StimulusPiece } from "../adapter/adapter.ts";
import type { DeviceSpecification } from "./device-file.ts";
import { scaleAt } from "./expected-number.ts";

/** Silence, burst, silence, in times of settling. */
const QUIET = 1.5;
const BURST = 2;
/** Share of the channel's range that all bursts on it have together. */
const BURST_SHARE = 0.25;
/** Share of the display's top that a burst has at most: at the top half its height means nothing. */
const TOP_SHARE = 0.6;

/** When a burst begins and ends on the generator's clock, s from the first sample. */
export interface Burst {
  fromS: number;
  untilS: number;
}

export interface Timeline {
  parts: { scene: Scene; fromS: number }[];
  bursts: [Burst, Burst];
  /** Of each number: why its burst is not played; undefined: it is. */
  unserved: (string | undefined)[];
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

/** The display's top, display units. */
export function displayTop({ display }: FilterProfile, device: DeviceSpecification): number {
  return device.displayTop ?? display.countsMax * display.step;
}

/** Times that a quantity has been differentiated: displacement, velocity, acceleration. */
const DERIVATIVES: Record<Quantity, number> = {
  displacement: 0,
  velocity: 1,
  acceleration: 2,
  // Never turned into another.
  unstated: 0,
};

/** What is played on a channel in a burst: one component for each order of a shaft that a number reads. */
function burstComponents(
  scene: Scene,
  device: DeviceSpecification,
  serves: readonly boolean[],
  timeS: number,
  [quietS, burstS]: readonly number[],
): Component[][] {
  const { channels, filters } = scene.profile;
  return channels.map(({ range, quantity }, channel): Component[] => {
    const own = filters.filter((one, i) => one.channel === channel && serves[i] === true);
    const names = [...new Set(own.map(({ shaft, order }) => `${shaft} ${order}`))];
    return names.map((name) => {
      const alike = own.filter(({ shaft, order }) => `${shaft} ${order}` === name);
      const { shaft, order } = alike[0]!;
      const revPerS = speedAt(scene.shafts[shaft]!, timeS);
      const amplitudes = alike.map((one) => {
        const times = DERIVATIVES[quantity] - DERIVATIVES[one.quantity];
        const perLevel = (2 * Math.PI * order * revPerS) ** times / one.levelFactor;
        return (TOP_SHARE * displayTop(one, device) * perLevel) / scaleAt(one, revPerS);
      });
      const amplitudePk = Math.min((BURST_SHARE * range) / names.length, ...amplitudes);
      const rows = [
        { timeS: 0, amplitudePk: 0, phaseLagRad: 0 },
        { timeS: quietS!, amplitudePk, phaseLagRad: 0 },
        { timeS: quietS! + burstS!, amplitudePk: 0, phaseLagRad: 0 },
      ];
      return { kind: "order", shaft, order, quantity, envelope: { kind: "steps", rows } };
    });
  });
}

/** A held stretch with a burst in it, shafts turning as they do at `timeS` of the scenario. */
function burstScene(
  scene: Scene,
  components: readonly Component[][],
  timeS: number,
  durationS: number,
  isBefore: boolean,
): Scene {
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
      components: components[i]!,
      faults: [],
    })),
    inputs: [{ timeS: 0, inhibit: 0, acknowledge: 0, running: 0, test: false }],
  };
}

/** Of each number: why no burst can be played for it at both ends. */
function unservedNumbers({ profile, shafts }: Scene, sceneS: number): (string | undefined)[] {
  return profile.filters.map(({ shaft }) => {
    const { name, speedMinRevPerS } = profile.shafts[shaft]!;
    const ends = [
      ["beginning", 0],
      ["end", sceneS],
    ] as const;
    const slow = ends.find(([, timeS]) => speedAt(shafts[shaft]!, timeS) < speedMinRevPerS);
    return slow && `shaft ${name} does not turn fast enough at the ${slow[0]}`;
  });
}

/** Errors: NoBurst where no number's shaft turns at both ends. */
export function makeTimeline(scene: Scene, device: DeviceSpecification): Timeline {
  const { sampleRateHz, filters, displayPeriodS } = scene.profile;
  const wholeS = (seconds: number): number => Math.ceil(seconds * sampleRateHz) / sampleRateHz;
  const unitS = wholeS(device.settlingS + device.latency.toS + 1 / device.updateRateHz);
  const quietS = wholeS(QUIET * unitS);
  const burstS = wholeS(BURST * unitS);
  // A caution that a burst has brought on must have gone before the scenario.
  const offSteps = filters.map(({ display }) => display.caution?.offDelaySteps ?? 0);
  const goneS = wholeS(quietS + Math.max(...offSteps) * displayPeriodS);
  const samples = makeWaveform(scene).sampleCount;
  const sceneS = samples / sampleRateHz;
  const unserved = unservedNumbers(scene, sceneS);
  const serves = unserved.map((why) => why === undefined);
  if (!serves.includes(true)) {
    throw new NoBurst(
      `a box is played a burst at either end to find its clock's drift, and ${unserved[0]!}`,
    );
  }
  const part = (timeS: number, restS: number, isBefore: boolean): Scene =>
    burstScene(
      scene,
      burstComponents(scene, device, serves, timeS, [quietS, burstS]),
      timeS,
      quietS + burstS + restS,
      isBefore,
    );
  const lead = part(0, goneS, true);
  const tail = part(sceneS, quietS, false);
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
    unserved,
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
