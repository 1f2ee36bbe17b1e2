// What is told of a stimulus, as fields for a program.
import type { FrameFormat } from "./frame-writer.ts";

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
  /** Greatest |volt| of the whole file as it is written, and the scenario's time of it. */
  peakV: number;
  peakAtS: number;
  /** Of the scenario as it is written, without ramps and hold. */
  rmsV: number;
  /** Of the whole file as it is written. */
  fileRmsV: number;
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
  /** In the whole file. */
  edgeCount: number;
  /** Greatest |volt| of the whole file as it is written. */
  peakV: number;
  /** Rms over the scenario, without ramps and hold. */
  rmsV: number;
  /** Of the whole file as it is written. */
  fileRmsV: number;
  /** An edge's time is right within so much: a tick of the scenario's clock, and the rounding. */
  edgeUncertaintyS: number;
}

/** What a tracking filter's number is of. */
export interface FilterFacts {
  name: string;
  channel: string;
  shaft: string;
  order: number;
  /** Unit and detector of the truth's levels, e.g. "in/s pk". */
  level: string;
}

/** Inputs from outside as they stand from a time on; bits by display or shaft. */
export interface InputFacts {
  timeS: number;
  inhibit: number;
  acknowledge: number;
  running: number;
  test: boolean;
}

export interface FileFacts {
  name: string;
  format: FrameFormat;
  sha256: string;
  sampleRateHz: number;
  /** Samples for each of the scenario's. */
  samplesForOne: number;
  sampleCount: number;
  /** Voltage that a full-scale sample stands for; the generator is to be set to it. */
  fullScaleV: number;
  /** Largest error by rounding, volts. */
  roundingV: number;
  /** Of the ramp up from silence, at the file's start; no pulses come meanwhile. */
  rampS: number;
  /** The scenario's first moment stands from this sample on, and pulses come. */
  holdSample: number;
  holdS: number;
  /** The scenario's time 0 stands at this sample. */
  zeroSample: number;
  scenarioS: number;
  /** From this sample on the last moment stands and ramps down; the last sample is silence. */
  endSample: number;
  rampDownS: number;
}

export interface SideFacts {
  amberline: string;
  scenario: { name: string; question: string; seed: number };
  file: FileFacts;
  limits: { inputV: number; pulseV: number };
  channels: ChannelFacts[];
  tachometers: TachometerFacts[];
  filters: FilterFacts[];
  inputs: InputFacts[];
  /** Rows of the truth before this time are left out; it counts from the scenario's time 0. */
  truthFromS: number;
}
