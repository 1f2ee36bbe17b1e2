// Edges of a tachometer channel, found while the recording runs by: none is kept for longer than two
// runs, however long the flight.
import { fileComplaint } from "../../host/input-error.ts";
import {
  EdgeDetector,
  type EdgeSettings,
  edgeSettingsFor,
  type EdgeSlope,
} from "./edge-detector.ts";
import type { EdgeSource } from "./edge-sources.ts";
import { channelNature, type EdgeTiming, EdgeTimingTally } from "./edge-timing.ts";
import { PitchTally } from "./pitch-tally.ts";
import {
  commonRange,
  grouped,
  isStillAtStart,
  LONG_PITCH,
  LongPitches,
  type PulseRun,
  unpassedStretches,
  type UnpassedStretch,
  wholeRange,
} from "./pulse-watch.ts";
import { type Recording, type SampleRun, type Stretch, stretchRuns } from "./recording.ts";
import { measuredSpeed, type ShaftSpeed, type Wheel } from "./speed-sources.ts";
import { valueRange } from "./value-range.ts";

/** Stretches that are told one by one. */
const STRETCHES_TOLD = 3;
/** Samples that pulses are looked at in together: they may shrink or grow within a run. */
const LEVEL_SAMPLES = 8192;
/** Pitches that a stretch must hold before its levels say anything of pulses. */
const PITCHES_LEAST = 3;
/** Long pitches by this share are the wheel's own: one gap in fifty edges or fewer. */
const WHEEL_GAP_SHARE = 0.02;

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
  slope: EdgeSlope;
  threshold?: number;
  hysteresis?: number;
}

/** A place, by its sample in the stretch, as it is told. */
export type PlaceWords = (sample: number) => string;

/** One look at all of a tachometer channel: its edges with given settings, or those of its start. */
class Look {
  readonly #wish: TachometerWish;
  readonly pitches = new PitchTally();
  readonly longPitches = new LongPitches();
  readonly #runs: PulseRun[] = [];
  settings: EdgeSettings | undefined;
  #detector: EdgeDetector | undefined;
  #timing: EdgeTimingTally | undefined;
  #sampleCount = 0;

  constructor(wish: TachometerWish, settings?: EdgeSettings) {
    this.#wish = wish;
    this.settings = settings;
  }

  take(samples: Float32Array): void {
    const fromSample = this.#sampleCount;
    this.#sampleCount += samples.length;
    const range = valueRange(samples);
    if (range === undefined) return;
    for (let from = 0; from < samples.length; from += LEVEL_SAMPLES) {
      const part = samples.subarray(from, from + LEVEL_SAMPLES);
      const levels = {
        fromSample: fromSample + from,
        untilSample: fromSample + from + part.length,
      };
      const ofPart = valueRange(part);
      if (ofPart !== undefined) this.#runs.push({ ...ofPart, ...levels });
    }
    // A channel that rests says nothing of its pulses: they may come yet.
    if (this.settings === undefined && range.low === range.high) return;
    this.settings ??= { ...edgeSettingsFor(range, this.#wish.slope), ...stated(this.#wish) };
    this.#detector ??= new EdgeDetector(this.settings, fromSample);
    const times = this.#detector.process(samples);
    for (const time of times) {
      this.pitches.take(time);
      this.longPitches.take(time);
    }
    if (times.length === 0) return;
    this.#timing ??= new EdgeTimingTally(channelNature(samples, range));
    const ofRun = times.map((time) => time - fromSample);
    this.#timing.process(samples, ofRun);
  }

  get timing(): EdgeTiming | undefined {
    return this.#timing?.finish(this.#pitch);
  }

  /** The middle pitch; 0 without one. */
  get #pitch(): number {
    return this.pitches.edgeCount < 2 ? 0 : this.pitches.middle;
  }

  /** The levels, in stretches that are long enough to hold pulses. */
  get runs(): PulseRun[] {
    return grouped(this.#runs, PITCHES_LEAST * this.#pitch);
  }
}

/** What was stated of the settings, without what was not. */
function stated({ threshold, hysteresis }: TachometerWish): Partial<EdgeSettings> {
  return {
    ...(threshold !== undefined && { threshold }),
    ...(hysteresis !== undefined && { hysteresis }),
  };
}

async function lookAt(
  recording: Recording,
  column: number,
  stretch: Stretch,
  look: Look,
): Promise<Look> {
  for await (const run of stretchRuns(recording, stretch)) look.take(run[column]!);
  return look;
}

/**
 * The look whose settings serve best: those of the start, unless the shaft stood still there or the
 * pulses grew out of them, and others pass everywhere.
 */
async function bestLook(
  recording: Recording,
  column: number,
  wish: TachometerWish,
  stretch: Stretch,
): Promise<Look> {
  const first = await lookAt(recording, column, stretch, new Look(wish));
  const { settings, runs } = first;
  if (settings === undefined) return first;
  if (wish.threshold !== undefined && wish.hysteresis !== undefined) return first;
  const unpassed = unpassedStretches(runs, settings).some((one) => !one.isStill);
  if (!unpassed && !isStillAtStart(runs)) return first;
  const common = commonRange(runs);
  if (!(common.high > common.low)) return first;
  const served = { ...edgeSettingsFor(common, wish.slope), ...stated(wish) };
  return lookAt(recording, column, stretch, new Look(wish, served));
}

function settingsWords({ slope, threshold, hysteresis }: EdgeSettings): string {
  return `${slope} through ${threshold.toPrecision(3)}, hysteresis ${hysteresis.toPrecision(3)}`;
}

function short(value: number): string {
  return String(Number(value.toPrecision(2)));
}

function timingWords(timing: EdgeTiming, phaseDeg: number): string {
  return (
    `An edge's time is known to about ${short(timing.total)} samples (one standard deviation: ` +
    `noise ${short(timing.noise)}, steps of the values ${short(timing.valueSteps)}, between ` +
    `samples ${short(timing.betweenSamples)}): ${short(phaseDeg)}° of order 1 at the middle speed, ` +
    "k times as much of order k. Filters average what differs from edge to edge."
  );
}

function unpassedWords(stretch: UnpassedStretch, place: PlaceWords): string {
  const { fromSample, untilSample, low, high, isStill } = stretch;
  const where = `From ${place(fromSample)} to ${place(untilSample)} the tachometer channel`;
  const levels = `(${low.toPrecision(3)} to ${high.toPrecision(3)})`;
  return isStill
    ? `${where} hardly moves ${levels}: no edge is taken there.`
    : `${where} does not pass threshold and hysteresis all along ${levels}: edges are missing there.`;
}

function longWords(
  { count, firstAt, lastAt }: LongPitches,
  edges: number,
  place: PlaceWords,
): string {
  const at = count === 1 ? `at ${place(firstAt)}` : `from ${place(firstAt)} to ${place(lastAt)}`;
  const gap =
    count > WHEEL_GAP_SHARE * edges
      ? " A wheel with a gap needs a profile that says so (index: missing tooth)."
      : "";
  const one = count === 1 ? "pitch is" : "pitches are";
  return (
    `${count} ${one} over ${LONG_PITCH} times the one before, ${at}: edges may be missing there, ` +
    `or the speed fell that fast.${gap}`
  );
}

function watchWords(look: Look, wheel: Wheel, place: PlaceWords): string[] {
  const unpassed = unpassedStretches(look.runs, look.settings!);
  const words = unpassed.slice(0, STRETCHES_TOLD).map((one) => unpassedWords(one, place));
  const more = unpassed.length - words.length;
  if (more > 0) words.push(`${more} more such stretches follow.`);
  const { longPitches, pitches } = look;
  if (wheel.index === "none" && longPitches.count > 0) {
    words.push(longWords(longPitches, pitches.edgeCount, place));
  }
  return words;
}

/**
 * Edges of a tachometer channel: threshold and hysteresis as given, else from its first samples, or
 * from all where those do not serve.
 *
 * Errors    InputError: a channel that does not move, fewer than three edges
 */
export async function tachometerChannel(
  recording: Recording,
  column: number,
  wish: TachometerWish,
  wheel: Wheel,
  stretch: Stretch,
  place: PlaceWords = (sample) => `sample ${Math.round(sample)}`,
): Promise<ShaftSpeed> {
  const look = await bestLook(recording, column, wish, stretch);
  const channel = `channel "${recording.channelNames[column]!}"`;
  const { settings, pitches, timing } = look;
  if (settings === undefined) {
    throw fileComplaint(recording.path, `${channel}: the tachometer channel does not move`);
  }
  const what = `${channel}, ${settingsWords(settings)}`;
  if (pitches.edgeCount < 3) {
    const { low, high } = wholeRange(look.runs);
    const levels = `from ${low.toPrecision(3)} to ${high.toPrecision(3)}`;
    throw fileComplaint(
      recording.path,
      `${what}: ${pitches.edgeCount} edges, 3 are needed; the channel goes ${levels}`,
    );
  }
  const makeEdges = (): EdgeSource => new PassingEdges(settings, column);
  const speed = measuredSpeed(recording.path, pitches, makeEdges, wheel, what);
  const watched = watchWords(look, wheel, place);
  if (timing === undefined) return { ...speed, notes: [...speed.notes, ...watched] };
  const phaseDeg = 360 * timing.total * speed.speedTypical;
  const notes = [...speed.notes, timingWords(timing, phaseDeg), ...watched];
  return { ...speed, edgeTiming: { ...timing, phaseDeg }, notes };
}
