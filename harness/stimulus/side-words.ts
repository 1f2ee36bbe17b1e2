// The side file in words, for whoever stands at the bench.
import { BENCH_CAUTIONS } from "../../host/bench-cautions.ts";
import type { SideFacts } from "./side-facts.ts";

const figure = (value: number, digits = 6): string => String(Number(value.toPrecision(digits)));

/** How the truth is to be read by whoever plays the file to a box. */
export const STARTS =
  "Times count from the scenario's time 0, those before it are negative. Truth, events and cautions " +
  "are those of a device that has run from the start of the file: no pulses come during the ramp, so " +
  "it finds its references and settles on the held first moment, and the scenario's time 0 finds it " +
  "running.";

/** The file's parts in order, each with its samples. */
function partLines({ file }: SideFacts): string[] {
  const { rampS, holdS, holdSample, zeroSample, scenarioS, endSample, rampDownS } = file;
  const line = (from: number, until: number, what: string): string[] =>
    until > from ? [`Samples ${from} to ${until - 1}: ${what}`] : [];
  return [
    ...line(0, holdSample, `the ramp up from silence, ${figure(rampS)} s, without pulses.`),
    ...line(
      holdSample,
      zeroSample,
      `the scenario's first moment, held for ${figure(holdS)} s, with pulses.`,
    ),
    ...line(zeroSample, endSample, `the scenario, ${figure(scenarioS)} s, from its time 0 on.`),
    ...line(
      endSample,
      file.sampleCount,
      `the last moment, ramping down to silence in ${figure(rampDownS)} s; nothing is judged here.`,
    ),
  ];
}

/** What to look at first, what must be set at the bench, what comes, and how the truth is read. */
export function wordsOf(facts: SideFacts): string[] {
  const { file, channels, tachometers, filters, inputs, truthFromS, limits } = facts;
  const inV = figure(limits.inputV);
  const lines = [
    ...BENCH_CAUTIONS,
    ...partLines(facts),
    `A full-scale sample is ${figure(file.fullScaleV)} V: set the generator to it.`,
    ...channels.map(
      (one) =>
        `Column ${one.column}, channel ${one.name}: 1 V is ${one.oneVoltIs}; peak ` +
        `${figure(one.peakV)} V, rms ${figure(one.fileRmsV)} V over the file; limit ${inV} V pk.`,
    ),
    ...tachometers.map(
      (one) =>
        `Column ${one.column}, tachometer ${one.name}: ${one.edgeCount} pulses of ` +
        `${figure(one.pulseV)} V; an edge is where it rises through ${figure(one.edgeAtV)} V.`,
    ),
    ...filters.map(
      (one) =>
        `Filter ${one.name}: order ${one.order} of ${one.shaft} on ${one.channel}, level as ${one.level}.`,
    ),
    STARTS,
    `The truth's rows begin at ${figure(truthFromS)} s; what is null is not judged. Level, phase, ` +
      "speed and validity are the tracking filter's own, the caution is its display's.",
  ];
  if (file.samplesForOne > 1) {
    lines.push(
      `There are ${file.samplesForOne} samples for each of the scenario's. Its noise has its own ` +
        "values at the scenario's moments and is limited to half its sample rate between them.",
    );
  }
  if (truthFromS > 0 - file.holdS) {
    lines.push(
      "A health check of the profile may take the ramp for a failed transducer and has let go of " +
        "it by then.",
    );
  }
  if (inputs.some((row) => row.inhibit + row.acknowledge + row.running > 0 || row.test)) {
    lines.push("The inputs from outside are not in the file: set them as their rows say.");
  }
  return lines;
}
