// What must be said of a replay besides its numbers, in plain sentences.
import { impliedBy } from "../../host/profile/implied.ts";
import type { MonitorProfile } from "../../host/profile/types.ts";
import type { ReplayOutcome, ReplayRequest } from "./replay-run.ts";

/** Fewer samples than this in a period of the highest order deserve a word. */
const SAMPLES_PER_PERIOD_GOOD = 20;
/** A level that a straying speed makes read low by less than this share is not worth a word. */
const LOSS_TOLD = 0.005;

/** Of one pass's profile. */
export function passNotes(profile: MonitorProfile, request: ReplayRequest): string[] {
  return [...rateNotes(profile, request), ...wanderNotes(profile, request)];
}

/** Of the whole, once it is through. */
export function wholeNotes(request: ReplayRequest, outcome: ReplayOutcome): string[] {
  const notes: string[] = [];
  if (outcome.filters.some((filter) => filter.settledCount * 2 < filter.computedCount)) {
    notes.push(
      "The stretch is short for this bandwidth: levels had settled to 1 % on less than half of it, " +
        "so their statistics are taken over its second half.",
    );
  }
  for (const filter of outcome.filters) {
    if (!filter.endsAtLevel) continue;
    notes.push(
      `The stretch ends while the number of "${filter.name}" stands at its caution level: ` +
        "that exceedance has no end and is not listed.",
    );
  }
  return [...notes, ...scaleNotes(request), ...request.recording.notes];
}

/** A word of warning where there are few samples in a period of the highest order. */
function rateNotes(profile: MonitorProfile, { speed }: ReplayRequest): string[] {
  const highest = Math.max(...profile.filters.map((filter) => filter.order));
  const samples = 1 / (speed.speedTypical * highest);
  if (samples >= SAMPLES_PER_PERIOD_GOOD) return [];
  return [
    `Only ${samples.toPrecision(3)} samples in a period of order ${highest} ` +
      `(${SAMPLES_PER_PERIOD_GOOD} are good): whatever lies beyond half the sample rate is folded ` +
      "onto the level, and the ends of a revolution are integrated less well.",
  ];
}

/**
 * How low a steady level reads where the shaft strays from a speed that is taken as constant: two
 * equal poles pass 1/(1 + (√2 − 1)·x²) of a tone that is x half bandwidths off (check value F-02).
 */
function wanderNotes(profile: MonitorProfile, { speed, sampleRateHz }: ReplayRequest): string[] {
  const wander = (speed.wanderPerSample ?? 0) * sampleRateHz;
  const { filters } = impliedBy(profile, speed.speedTypical * sampleRateHz);
  let most = { loss: 0, order: 1 };
  for (const [i, { order }] of profile.filters.entries()) {
    const off = (order * wander) / (filters[i]!.atSpeeds[0]!.bandwidthHz / 2);
    const loss = 1 - 1 / (1 + (Math.SQRT2 - 1) * off ** 2);
    if (loss > most.loss) most = { loss, order };
  }
  if (most.loss < LOSS_TOLD) return [];
  return [
    `The speed is taken as constant. Where the shaft strays from it most, a steady level of order ` +
      `${most.order} reads ${(most.loss * 100).toPrecision(2)} % low, so narrow is the bandwidth.`,
  ];
}

const SI_UNITS: Record<string, string> = {
  acceleration: "m/s²",
  velocity: "m/s",
  displacement: "m",
};

/** What 1 in the file was taken as, unless an option said it: a level in no true unit misleads. */
function scaleNotes({ recording, profile, unit }: ReplayRequest): string[] {
  if (unit?.from === "option") return [];
  if (unit !== undefined) return [`1 in the file is taken as 1 ${unit.text}, as its heads say.`];
  if (profile === undefined) return [];
  if (recording.fullScale !== undefined) {
    // Whole numbers of a WAV are shares of full scale.
    return [
      "The file holds whole numbers and no unit: its full scale is taken as 1 SI unit of the " +
        "profile's channels. --file-unit may state what it stands for.",
    ];
  }
  const units = profile.channels.flatMap(({ quantity }) => SI_UNITS[quantity] ?? []);
  if (units.length === 0) return [];
  return [
    `1 in the file is taken as 1 ${[...new Set(units)].join(" or 1 ")}: ` +
      "--file-unit may state another unit.",
  ];
}
