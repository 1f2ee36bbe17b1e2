// The side file of a stimulus: what one volt stands for, what comes when, and what must be answered.
import { closeSync, openSync, writeSync } from "node:fs";
import { type Expected, TRUTH_COLUMNS, type TruthRow } from "./expected.ts";

/** Version of the side file; a reader accepts its own major number only. */
export const SIDE_VERSION = "1.0";

/** A column of the stimulus that stands for an accelerometer or another transducer. */
export interface ChannelFacts {
  column: number;
  name: string;
  transducer: string;
  quantity: string;
  /** Volts for 1 of the quantity in SI. */
  voltsPerSiUnit: number;
  /** The same as it was asked for, e.g. "2 in/s". */
  oneVoltIs: string;
  /** Greatest |volt|, ramp and scenario, and the scenario's time of it. */
  peakV: number;
  peakAtS: number;
  /** Of the scenario, without the ramp. */
  rmsV: number;
}

/** A column that stands for a tachometer. */
export interface TachometerFacts {
  column: number;
  name: string;
  pulseV: number;
  pulseWidthS: number;
  /** An edge is where the voltage rises through this. */
  edgeAtV: number;
  slope: "rising";
  edgeCount: number;
  /** Rms over the scenario, without the ramp. */
  rmsV: number;
  /** An edge's time is right within so much: a tick of the scenario's clock, and the rounding. */
  edgeUncertaintyS: number;
}

/** How the truth below is to be read by whoever plays the file to a box. */
const STARTS =
  "Times count from the scenario's time 0. Truth, events and cautions are those of a device that " +
  "starts there; one that ran through the ramp has found its reference and settled before.";

export interface SideFacts {
  amberline: string;
  scenario: { name: string; question: string; seed: number };
  file: {
    name: string;
    format: string;
    sha256: string;
    sampleRateHz: number;
    /** Samples for each of the scenario's; its noise is held so long. */
    samplesForOne: number;
    sampleCount: number;
    /** Voltage that a full-scale sample stands for; the generator is to be set to it. */
    fullScaleV: number;
    /** Largest error by rounding, volts. */
    roundingV: number;
    /** The scenario's time 0 stands at this sample; before it all ramps up from silence. */
    zeroSample: number;
    rampS: number;
  };
  limits: { inputV: number; pulseV: number };
  channels: ChannelFacts[];
  tachometers: TachometerFacts[];
}

/** Writes the rows of the truth as they come, then the rest. */
export class SideFile {
  readonly #file: number;
  #isFirst = true;

  constructor(path: string, facts: SideFacts) {
    this.#file = openSync(path, "w");
    const head = { stimulus: SIDE_VERSION, ...facts, starts: STARTS };
    const text = JSON.stringify(head, undefined, 1).replace(/\n\}$/, "");
    this.#put(`${text},\n "truth": {\n  "columns": ${JSON.stringify(TRUTH_COLUMNS)},\n  "rows": [`);
  }

  #put(text: string): void {
    const bytes = Buffer.from(text);
    for (let at = 0; at < bytes.length;) at += writeSync(this.#file, bytes, at);
  }

  row(row: TruthRow): void {
    this.#put(`${this.#isFirst ? "" : ","}\n   ${JSON.stringify(row)}`);
    this.#isFirst = false;
  }

  end({ events, cautions, core }: Expected): void {
    const rest = JSON.stringify({ events, cautions, core }, undefined, 1).replace(/^\{\n/, "");
    this.#put(`\n  ]\n },\n${rest}\n`);
    closeSync(this.#file);
  }

  abandon(): void {
    closeSync(this.#file);
  }
}
