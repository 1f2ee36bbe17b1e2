// A profile for a recording that comes without one: orders of one shaft on some channels, in the
// file's own unit, no caution.
import type {
  Bandwidth,
  ChannelProfile,
  FilterProfile,
  MonitorProfile,
} from "../../host/profile/types.ts";
import type { Wheel } from "./speed-sources.ts";
import { timeoutLeastS } from "../../host/profile/pool-budget.ts";

export interface ReplayProfileWish {
  channelNames: string[];
  /** Of each channel's levels: the file's own. */
  units: string[];
  orders: number[];
  bandwidth: Bandwidth;
  /** rev/s, or rev/sample where timeUnit is "sample". */
  speedMin: number;
  speedMax: number;
  wheel: Wheel;
  /** 1 where the rate is not known and time counts samples. */
  sampleRateHz: number;
  timeUnit: "s" | "sample";
  displayPeriodS: number;
}

/** Ticks of the edge clock that this profile aims at for each second of sampling, at most. */
const CLOCK_HZ_AIM = 80_000_000;
const TICKS_PER_SAMPLE_MAX = 250_000;
/** The time-out is counted in whole ticks: a little over the least. */
export const TIMEOUT_ROOM = 1.001;
/** Fraction of a pitch by which an edge found in a waveform may stray. */
const EDGE_TOLERANCE_PITCHES = 0.3;

function channelOf(name: string): ChannelProfile {
  return {
    name,
    kind: "charge",
    quantity: "unstated",
    countStep: 1,
    range: 9e11,
    response: { kind: "none" },
    health: { steps: 1 },
    test: { amplitudePk: 1, shaft: 0, order: 1 },
  };
}

function filterOf(wish: ReplayProfileWish, channel: number, order: number): FilterProfile {
  return {
    name: `${wish.channelNames[channel]!} order ${order}`,
    channel,
    shaft: 0,
    order,
    quantity: "unstated",
    detector: "pk",
    unit: wish.units[channel]!,
    levelFactor: 1,
    bandwidth: wish.bandwidth,
    display: {
      source: { kind: "own" },
      scale: [{ speedRevPerS: 0, factor: 1 }],
      smoothingS: 0,
      step: 1,
      countsMax: 1_000_000,
      holdSteps: 1,
    },
  };
}

/** The profile; its filters stand channel by channel, order by order. */
export function replayProfile(wish: ReplayProfileWish): MonitorProfile {
  const ticksPerSample = Math.max(
    1,
    Math.min(TICKS_PER_SAMPLE_MAX, Math.floor(CLOCK_HZ_AIM / wish.sampleRateHz)),
  );
  const clockHz = Math.round(wish.sampleRateHz * ticksPerSample);
  return {
    name: "replay",
    note: "made for this recording",
    clockHz,
    sampleRateHz: clockHz / ticksPerSample,
    displayPeriodS: wish.displayPeriodS,
    timeUnit: wish.timeUnit,
    channels: wish.channelNames.map(channelOf),
    shafts: [
      {
        name: "1",
        ...wish.wheel,
        wheelErrorRev: 0,
        speedMinRevPerS: wish.speedMin,
        speedMaxRevPerS: wish.speedMax,
        accelerationMaxRevPerS2: wish.speedMin ** 2,
        timeoutS: timeoutLeastS(wish.wheel, wish.speedMin) * TIMEOUT_ROOM,
        lockRevolutions: 1,
        edgeTolerancePitches: EDGE_TOLERANCE_PITCHES,
        validSpeedRevPerS: wish.speedMin,
        validHysteresisRevPerS: 0,
        validDelaySteps: 0,
        evidence: { input: false, otherShaft: false },
      },
    ],
    filters: wish.channelNames.flatMap((_, channel) =>
      wish.orders.map((order) => filterOf(wish, channel, order)),
    ),
  };
}
