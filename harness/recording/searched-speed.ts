// The speed of a shaft found in a recording's own vibration, with how sure it is.
import { fileComplaint } from "../../host/input-error.ts";
import { type Recording, type Stretch, stretchRuns } from "./recording.ts";
import { findSpeed, LENGTH_MAX, type SpeedFound } from "./speed-search.ts";
import { constantSpeed, type ShaftSpeed } from "./speed-sources.ts";

/** A speed in words, with no more digits than an uncertainty of a share leaves. */
export type SpeedWords = (cyclesPerSample: number, uncertaintyShare?: number) => string;

/** What is said of the recording at hand. */
export interface SearchWords {
  speed: SpeedWords;
  /** A place, by its sample in the stretch. */
  place: (sample: number) => string;
  /** Share within which the sample rate is known: a speed in time is no surer. */
  rateShare: number;
}

/** Finer than any clock, and more than any noise leaves. */
const SHARE_LEAST = 1e-8;
const TIMES_MOST = 1e6;

/** A share as percent, in two digits. */
function percent(share: number): string {
  return `${Number((Math.max(share, SHARE_LEAST) * 100).toPrecision(2))} %`;
}

function timesNoise(ratio: number): string {
  const times = ratio > TIMES_MOST ? `over ${TIMES_MOST}` : Number(ratio.toPrecision(3));
  return `${times} times the noise`;
}

/** The first samples of some channels, as many as a search reads, and whether there are more. */
async function firstSamples(
  recording: Recording,
  columns: number[],
  stretch: Stretch,
): Promise<{ channels: Float32Array[]; isCut: boolean }> {
  const until = Math.min(stretch.untilSample, stretch.fromSample + LENGTH_MAX + 1);
  const parts: Float32Array[][] = columns.map(() => []);
  for await (const run of stretchRuns(recording, { ...stretch, untilSample: until })) {
    for (const [i, column] of columns.entries()) parts[i]!.push(run[column]!.slice());
  }
  let isCut = false;
  const channels = parts.map((runs) => {
    const length = runs.reduce((sum, run) => sum + run.length, 0);
    isCut = length > LENGTH_MAX;
    const all = new Float32Array(length);
    let at = 0;
    for (const run of runs) {
      all.set(run, at);
      at += run.length;
    }
    return all.subarray(0, LENGTH_MAX);
  });
  return { channels, isCut };
}

function halvesApart({ halves: [first, second] }: SpeedFound): number {
  return Math.abs(first!.cyclesPerSample - second!.cyclesPerSample);
}

/** Why a line does not serve as a speed. */
function refusalWords(found: SpeedFound, words: SearchWords): string {
  const { powerRatio, powerRatioNeeded, cyclesPerSample, halves } = found;
  if (powerRatio <= powerRatioNeeded) {
    return (
      `the strongest is ${timesNoise(powerRatio)} at ${words.speed(cyclesPerSample)}; it would have to ` +
      `be over ${Number(powerRatioNeeded.toPrecision(3))}`
    );
  }
  const weak = halves.findIndex((half) => half.powerRatio <= half.powerRatioNeeded);
  const half = ["first", "second"][weak];
  if (half !== undefined) {
    return (
      `the strongest, at ${words.speed(cyclesPerSample)}, does not stand out of the ${half} half ` +
      `(${timesNoise(halves[weak]!.powerRatio)})`
    );
  }
  const [first, second] = halves.map((one) => words.speed(one.cyclesPerSample));
  return (
    `in the first half it is at ${first}, in the second at ${second}, and a search finds one ` +
    "constant speed: --from and --until choose a shorter stretch, --speed takes a table"
  );
}

function gapWords({ gap }: SpeedFound, place: SearchWords["place"]): string {
  if (gap === undefined)
    return "the line is too weak, or too short, in parts to count its revolutions";
  const { fromSample, untilSample, isFaint } = gap;
  const what = isFaint ? "the line fades" : "it moves too much";
  return (
    `from ${place(fromSample)} to ${place(untilSample)} ${what} to count its revolutions ` +
    "(--from and --until choose a stretch)"
  );
}

function foundWords(found: SpeedFound, words: SearchWords): string {
  const { cyclesPerSample, counted, powerRatio } = found;
  const line = `a line ${timesNoise(powerRatio)}`;
  if (counted === undefined) {
    const share = halvesApart(found) / cyclesPerSample;
    const apart = percent(share);
    return (
      `The speed was found from the signal: ${words.speed(cyclesPerSample, share)}, ${line}. How sure that ` +
      `is cannot be said: ${gapWords(found, words.place)}; the two halves differ by ${apart}.`
    );
  }
  const share = counted.uncertaintyCyclesPerSample / cyclesPerSample + words.rateShare;
  const ofRate =
    words.rateShare > share / 10
      ? ` of which the sample rate makes ${percent(words.rateShare)}`
      : "";
  return (
    `The speed was found from the signal: ${words.speed(cyclesPerSample, share)} in the mean, ` +
    `within ${percent(share)} (95 %)${ofRate}, ${line}. ` +
    (counted.wanderCyclesPerSample > 0
      ? `It moved by up to ${percent(counted.wanderCyclesPerSample / cyclesPerSample)} from that.`
      : "No movement about that stands out of the noise.")
  );
}

/**
 * The speed found from the vibration near a stated one.
 *
 * Errors    InputError where no line stands out of the noise
 */
export async function searchedSpeed(
  recording: Recording,
  columns: number[],
  near: number,
  spanShare: number,
  stretch: Stretch,
  words: SearchWords,
): Promise<ShaftSpeed & { found: SpeedFound }> {
  const { channels, isCut } = await firstSamples(recording, columns, stretch);
  let found: SpeedFound;
  try {
    found = findSpeed(channels, { nearCyclesPerSample: near, spanShare });
  } catch (error) {
    if (error instanceof RangeError) throw fileComplaint(recording.path, error.message);
    throw error;
  }
  if (!found.standsOut) {
    const span = `within ${percent(spanShare)} of ${words.speed(near)}`;
    const message = `no line stands out as a shaft's ${span}: ${refusalWords(found, words)}`;
    throw fileComplaint(recording.path, message);
  }
  const made = constantSpeed(found.cyclesPerSample);
  const notes = [
    foundWords(found, words),
    "Nothing says where a revolution starts: phase means nothing.",
  ];
  if (isCut) {
    notes.push(
      `Only the first ${LENGTH_MAX} samples of the stretch were searched; what comes after may ` +
        "turn at another speed. --from and --until choose a stretch.",
    );
  }
  const wanderPerSample = found.counted?.wanderCyclesPerSample;
  return { ...made, found, wanderPerSample, notes };
}
