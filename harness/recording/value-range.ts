// Between which levels a waveform goes, but for a few samples that stray.

const BINS = 1024;
/** Share of the samples that may lie beyond either level: narrow pulses are more, glitches fewer. */
const STRAY_SHARE = 2.5e-4;
/** Of a few samples so many, though a hundredth at most. */
const STRAY_COUNT = 3;

export interface ValueRange {
  low: number;
  high: number;
}

/** The value that `rank` others lie below; the bin that holds it is sorted, nothing else. */
function valueAtRank(samples: Float32Array, least: number, most: number, rank: number): number {
  const scale = (BINS - 1) / (most - least);
  const counts = new Uint32Array(BINS);
  for (const value of samples) {
    if (Number.isFinite(value)) counts[Math.floor((value - least) * scale)]! += 1;
  }
  let bin = 0;
  let below = 0;
  while (bin < BINS - 1 && below + counts[bin]! <= rank) {
    below += counts[bin]!;
    bin += 1;
  }
  const within = samples.filter((value) => Math.floor((value - least) * scale) === bin);
  return within.sort()[rank - below] ?? most;
}

/** The levels that all but a few of the samples lie between; undefined where none is finite. */
export function valueRange(samples: Float32Array): ValueRange | undefined {
  let [least, most, count] = [Infinity, -Infinity, 0];
  for (const value of samples) {
    if (!Number.isFinite(value)) continue;
    if (value < least) least = value;
    if (value > most) most = value;
    count += 1;
  }
  if (count === 0) return undefined;
  if (least === most) return { low: least, high: most };
  const few = Math.min(STRAY_COUNT, Math.floor(count / 100));
  const stray = Math.max(few, Math.floor(count * STRAY_SHARE));
  return {
    low: valueAtRank(samples, least, most, stray),
    high: valueAtRank(samples, least, most, count - 1 - stray),
  };
}
