// What faults do to the samples themselves, as windows: a factor on the signal, and a constant in its
// place or on top of it. All of it is known exactly; windows stand half a sample early (jumpTimeS).
import type { ChannelSignal, Scene } from "../scene/scene.ts";
import { jumpTimeS } from "./carriers.ts";
import type { Carrier } from "./carriers.ts";
import type { Complex } from "./complex.ts";

/** A value from a time on. */
export interface Row {
  timeS: number;
  value: number;
}

export function rowAt(rows: readonly Row[], timeS: number, before: number): number {
  let value = before;
  for (const row of rows) if (row.timeS <= timeS) value = row.value;
  return value;
}

interface Window {
  fromS: number;
  untilS: number;
  /** Factor on the signal, and the constant that stands then: on top of the signal, or absolute. */
  factor: number;
  constant: { kind: "none" | "added" | "mean" | "instead"; value: number };
  /** Samples before `fromS` that a lost sample repeats. */
  holdsFromS?: number;
}

function windowOfTest(scene: Scene, index: number): Window | undefined {
  const row = scene.inputs[index]!;
  if (!row.test) return undefined;
  const { sampleRateHz } = scene.profile;
  const next = scene.inputs[index + 1]?.timeS;
  return {
    fromS: jumpTimeS(row.timeS, sampleRateHz),
    untilS: next === undefined ? Infinity : jumpTimeS(next, sampleRateHz),
    factor: 0,
    constant: { kind: "instead", value: 0 },
  };
}

/** The windows of a channel, in the order of the signal's way: later ones win. */
function windowsOf(signal: ChannelSignal, scene: Scene): Window[] {
  const { sampleRateHz } = scene.profile;
  const windows: Window[] = [];
  for (const fault of signal.faults) {
    if (fault.kind === "loose" || fault.kind === "clip") continue;
    if (fault.kind === "spike" || fault.kind === "not-finite") {
      const first = Math.max(0, Math.ceil(fault.atS * sampleRateHz - 1e-6));
      const fromS = (first - 0.5) / sampleRateHz;
      const untilS = fromS + fault.samples / sampleRateHz;
      if (fault.kind === "spike") {
        const constant = { kind: "added", value: fault.value } as const;
        windows.push({ fromS, untilS, factor: 1, constant });
      } else {
        const holdsFromS = (first - 1) / sampleRateHz;
        const constant = { kind: "instead", value: 0 } as const;
        windows.push({ fromS, untilS, factor: 0, constant, holdsFromS });
      }
      continue;
    }
    const fromS = jumpTimeS(fault.fromS, sampleRateHz);
    const untilS = jumpTimeS(fault.untilS, sampleRateHz);
    if (fault.kind === "gain" || fault.kind === "open") {
      const factor = fault.kind === "gain" ? fault.factor : fault.share;
      windows.push({ fromS, untilS, factor, constant: { kind: "none", value: 0 } });
    } else {
      const isFlat = fault.kind === "flat";
      const kind = isFlat ? "instead" : "mean";
      const constant = { kind, value: fault.value } as const;
      windows.push({ fromS, untilS, factor: isFlat ? 0 : 1, constant });
    }
  }
  const rank = (one: Window): number => (one.holdsFromS === undefined ? 0 : 1);
  windows.sort((a, b) => rank(a) - rank(b));
  for (let i = 0; i < scene.inputs.length; i += 1) {
    const window = windowOfTest(scene, i);
    if (window !== undefined) windows.push(window);
  }
  return windows;
}

export class SampleFaults {
  /** Factor on the signal; constant that stands beside it. Both empty where nothing happens. */
  readonly gains: Row[];
  readonly constants: Row[];

  /** `plainAt` is the undisturbed signal, for samples that are repeated. */
  constructor(signal: ChannelSignal, scene: Scene, plainAt: (timeS: number) => number) {
    const windows = windowsOf(signal, scene);
    const times = [...new Set(windows.flatMap((one) => [one.fromS, one.untilS]))]
      .filter(Number.isFinite)
      .toSorted((a, b) => a - b);
    const at = (timeS: number): { factor: number; constant: number } => {
      let factor = 1;
      let { mean: constant } = signal;
      let added = 0;
      for (const one of windows) {
        if (timeS < one.fromS || timeS >= one.untilS) continue;
        factor *= one.factor;
        const { kind, value } = one.constant;
        if (kind === "added") added += value;
        if (kind === "mean") constant = value;
        if (kind !== "instead") continue;
        added = 0;
        constant = value;
        if (one.holdsFromS !== undefined && one.holdsFromS >= 0) {
          const before = at(one.holdsFromS);
          constant = before.factor * plainAt(one.holdsFromS) + before.constant;
        }
      }
      return { factor, constant: constant + added };
    };
    this.gains = times.map((timeS) => ({ timeS, value: at(timeS).factor }));
    this.constants = times.map((timeS) => ({ timeS, value: at(timeS).constant }));
  }
}

/** The constant part of a channel where it is not the same all the time. */
export class ConstantCarrier implements Carrier {
  readonly tied = { shaft: 0, order: 0 };
  readonly jumpTimesS: readonly number[];
  readonly #rows: readonly Row[];
  readonly #mean: number;

  constructor(rows: readonly Row[], mean: number) {
    this.#rows = rows;
    this.#mean = mean;
    this.jumpTimesS = rows.map((row) => row.timeS);
  }

  amplitudeAt(timeS: number, out: Complex): void {
    out.re = rowAt(this.#rows, timeS, this.#mean);
    out.im = 0;
  }

  phaseRevAt(): number {
    return 0;
  }

  frequencyHzAt(): number {
    return 0;
  }

  breakAfter(timeS: number): number {
    for (const row of this.#rows) if (row.timeS > timeS) return row.timeS;
    return Infinity;
  }

  steadyUntil(timeS: number): number {
    return this.breakAfter(timeS);
  }
}
