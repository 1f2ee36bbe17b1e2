// Edges of a tachometer channel, found while the recording runs by: none is kept for longer than two
// runs, however long the flight.
import { fileComplaint } from "../../host/input-error.ts";
import { EdgeDetector, type EdgeSettings, edgeSettingsFrom } from "./edge-detector.ts";
import type { EdgeSource } from "./edge-sources.ts";
import { PitchTally } from "./pitch-tally.ts";
import { type Recording, type SampleRun, type Stretch, stretchRuns } from "./recording.ts";
import { measuredSpeed, type ShaftSpeed, type Wheel } from "./speed-sources.ts";

/** Edges as the runs go by. An edge before the samples that were taken already is left out. */
class PassingEdges implements EdgeSource {
  readonly #detector: EdgeDetector;
  readonly #column: number;
  #waiting: number[] = [];
  #takenUntil = 0;

  constructor(settings: EdgeSettings, column: number) {
    this.#detector = new EdgeDetector(settings);
    this.#column = column;
  }

  see(run: SampleRun): void {
    for (const time of this.#detector.process(run[this.#column]!)) this.#waiting.push(time);
  }

  take(untilSample: number): number[] {
    const taken = this.#waiting.filter((time) => time >= this.#takenUntil && time < untilSample);
    this.#waiting = this.#waiting.filter((time) => time >= untilSample);
    this.#takenUntil = untilSample;
    return taken;
  }
}

export interface TachometerWish {
  slope: "rising" | "falling";
  threshold?: number;
  hysteresis?: number;
}

/** Settings as wished, what is missing from the first run. */
function settingsFor(
  recording: Recording,
  column: number,
  wish: TachometerWish,
  samples: Float32Array,
): EdgeSettings {
  try {
    const own = edgeSettingsFrom(samples, wish.slope);
    return {
      threshold: wish.threshold ?? own.threshold,
      hysteresis: wish.hysteresis ?? own.hysteresis,
      slope: wish.slope,
    };
  } catch (error) {
    if (!(error instanceof RangeError)) throw error;
    const name = recording.channelNames[column]!;
    throw fileComplaint(recording.path, `channel "${name}": ${error.message}`);
  }
}

/**
 * Edges of a tachometer channel: threshold and hysteresis as given, else from its first samples.
 *
 * Errors    InputError: a channel that does not move, fewer than three edges
 */
export async function tachometerChannel(
  recording: Recording,
  column: number,
  wish: TachometerWish,
  wheel: Wheel,
  stretch: Stretch,
): Promise<ShaftSpeed> {
  let settings: EdgeSettings | undefined;
  let detector: EdgeDetector | undefined;
  const pitches = new PitchTally();
  for await (const run of stretchRuns(recording, stretch)) {
    settings ??= settingsFor(recording, column, wish, run[column]!);
    detector ??= new EdgeDetector(settings);
    for (const time of detector.process(run[column]!)) pitches.take(time);
  }
  const found =
    settings === undefined
      ? ""
      : `, ${settings.slope} through ${settings.threshold.toPrecision(3)}, ` +
        `hysteresis ${settings.hysteresis.toPrecision(3)}`;
  const what = `channel "${recording.channelNames[column]!}"${found}`;
  const makeEdges = (): EdgeSource => new PassingEdges(settings!, column);
  return measuredSpeed(recording.path, pitches, makeEdges, wheel, what);
}
