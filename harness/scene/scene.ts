// The scene: profile plus scenario as plain data in SI, no behaviour. Waveform, truth and judge
// read
// it, each with its own formulas. Angles in rad or rev as named, phase lag positive: a component
// reads x = A·cos(2π·order·θ − phaseLag).

export type {
  Bandwidth,
  CautionProfile,
  ChannelProfile,
  Detector,
  DisplayProfile,
  FilterProfile,
  MonitorProfile,
  Quantity,
  Response,
  ShaftProfile,
} from "../../host/profile/types.ts";
import type { MonitorProfile, Quantity, Response } from "../../host/profile/types.ts";

// Rules that waveform and truth share, each in its own code:
// - Mean angle: the integral of the piecewise linear speed from startAngleRev. True angle: mean
//   angle plus Σ ripple amplitude·sin(2π·order·mean angle). Components, rotors and edges all
//   follow the true angle: the ripple is torsional, of the shaft itself. Wheel errors (eccentric,
//   bad tooth) and jitter touch edges only.
// - n in an envelope and the frequency that a front end sees (order·n) are the smooth speed,
//   without ripple; dψ/dt in a derivative is that of the true angle.
// - Sample i stands at i / sample rate. A time t takes effect at the first sample at or after t,
//   ceil(t·rate − 1e-6); the scene has ceil(duration·rate − 1e-6) samples.
// - A component stated in displacement or velocity is differentiated analytically, within a row of
//   its envelope: neither a step nor a corner of the envelope makes an impulse.
// - Two speed rows at one time are a step of the speed; a rotor's displacement and velocity run on.

/** Amplitude and phase of a component over time. */
export type Envelope =
  | { kind: "constant"; amplitudePk: number; phaseLagRad: number }
  /** amplitude = amplitudePk · (n / referenceRevPerS)^power, power 0, 1 or 2. */
  | {
      kind: "speed-power";
      amplitudePk: number;
      phaseLagRad: number;
      referenceRevPerS: number;
      power: number;
    }
  /** Piecewise constant from each time on; the first row is at time 0. */
  | { kind: "steps"; rows: { timeS: number; amplitudePk: number; phaseLagRad: number }[] }
  /** The complex amplitude runs straight between rows; held after the last. First row at time 0. */
  | { kind: "lines"; rows: { timeS: number; amplitudePk: number; phaseLagRad: number }[] };

/**
 * A component states its amplitude in `quantity`; the channel sees its analytic time
 * derivative.
 */
export type Component =
  | { kind: "order"; shaft: number; order: number; quantity: Quantity; envelope: Envelope }
  /** A tone at a fixed frequency (hum, another machine). */
  | {
      kind: "tone";
      frequencyHz: number;
      quantity: Quantity;
      amplitudePk: number;
      phaseLagRad: number;
    }
  /**
   * One unbalance vector on one mode: x'' + 2ζωn·x' + ωn²·x = kgM/M · Re[(ω² − jα)·e^(jψ)],
   * ψ = 2πθ − angleRad, ω and α those of the true angle: far below resonance the displacement lags
   * by angleRad. It starts in the steady state of the first smooth speed, which turns with the true
   * angle; the channel measures x, x' or x''. The front end is applied to the analytic signal,
   * at the frequency n.
   */
  | {
      kind: "rotor";
      shaft: number;
      modalMassKg: number;
      naturalHz: number;
      dampingRatio: number;
      /** Piecewise constant from each time on (exact time, not the next sample); first row at 0. */
      unbalance: { timeS: number; kgM: number; angleRad: number }[];
    }
  /** White Gaussian noise in the channel's own quantity. */
  | { kind: "noise"; rms: number };

/** Faults of a transducer, its cable or its converter, in the channel's own quantity. */
export type ChannelFault =
  | { kind: "clip"; fromS: number; untilS: number; level: number }
  | { kind: "flat"; fromS: number; untilS: number; value: number }
  /** The mean moves (powered transducers). */
  | { kind: "bias"; fromS: number; untilS: number; value: number }
  /** An open lead: signal and noise fade to a share. */
  | { kind: "open"; fromS: number; untilS: number; share: number }
  /** A loose connector: random low-frequency bursts, each a decaying half-sine. */
  | {
      kind: "loose";
      fromS: number;
      untilS: number;
      burstPk: number;
      burstsPerS: number;
      lengthS: number;
    }
  /** Sensitivity lost: the signal is multiplied by a factor. */
  | { kind: "gain"; fromS: number; untilS: number; factor: number }
  | { kind: "spike"; atS: number; value: number; samples: number }
  /** NaN or infinity in the sample stream. */
  | { kind: "not-finite"; atS: number; samples: number };

export interface ChannelSignal {
  components: Component[];
  /** Constant part (bias), the channel's own quantity. */
  mean: number;
  /**
   * The true front end; the profile states the assumed one. Applied per component, steady
   * state.
   */
  frontEnd: Response;
  faults: ChannelFault[];
  /** Converter: "f32" as computed; "i16" counts of `step` (SI), rounded and saturated. */
  converter: { format: "f32" | "i16"; step: number };
}

/** Faults of a tachometer. Positions count from the index. */
export type TachFault =
  /** An extra edge, `fraction` of a pitch after the first position edge at or after `atS`. */
  | { kind: "glitch"; atS: number; fraction: number }
  /** `count` successive edges from the first at or after `atS` do not come. */
  | { kind: "missed"; atS: number; count: number }
  /** The same beside a position of the wheel: the first time it passes at or after `atS`. */
  | { kind: "missed-position"; atS: number; position: number; count: number }
  | { kind: "glitch-position"; atS: number; position: number; fraction: number }
  | { kind: "drop-out"; fromS: number; untilS: number }
  /** The index does not come: the gap is filled, or the extra edge left out. */
  | { kind: "index-lost"; fromS: number; untilS: number };

export interface ShaftMotion {
  /** Speed runs straight between rows and is held after the last; first row at time 0; ≥ 0. */
  speed: { timeS: number; revPerS: number }[];
  startAngleRev: number;
  /** Torsional ripple: angle += amplitudeRev·sin(2π·order·θ). */
  ripple: { order: number; amplitudeRev: number }[];
  wheel: {
    /** What is really fitted; differs from the profile where a wrong setting is tested. */
    positions: number;
    revolutions: number;
    index: "none" | "missing-tooth" | "extra-edge";
    /** Angle error of position p: eccentricityRev·sin(2πp/P). */
    eccentricityRev: number;
    badTooth?: { position: number; offsetRev: number };
    /** Gaussian, rms seconds. */
    jitterS: number;
  };
  faults: TachFault[];
}

/** Inputs from outside, as they stand from `timeS` on; bits by display or shaft index. */
export interface InputRow {
  timeS: number;
  inhibit: number;
  acknowledge: number;
  running: number;
  test: boolean;
}

/** What the computed truth cannot know. */
export interface Expectation {
  cautionNever?: { filter: number }[];
  /** The caution is on at some step within the window. */
  cautionOnWithin?: { filter: number; fromS: number; untilS: number }[];
  cautionOffWithin?: { filter: number; fromS: number; untilS: number }[];
  /** An event that must come: name as in results, source index, window. */
  events?: { name: string; source: number; fromS: number; untilS: number }[];
  /** Event names that must not come at all. */
  eventsNever?: { name: string }[];
  /** A counter that must read so at the end. */
  counters?: { name: string; index: number; min: number; max: number }[];
  /** Share of display steps that may be undecided; default 0.02. */
  eitherShare: number;
  /** Reason for a tolerance over 1 % (5 % in noise) of the level. */
  toleranceReason?: string;
  /** A canary: the verdict must be wrong, and found by this check. */
  canary?: { check: CheckName };
  /** What a canary plants in the records before they are judged: one of the judge's alterations. */
  plant?: { alteration: string; amount: number };
}

/** The checks that a verdict is made of. */
export type CheckName =
  | "level"
  | "phase"
  | "speed"
  | "shown"
  | "validity"
  | "caution"
  | "events"
  | "exceedances"
  | "counters"
  | "decidable"
  | "expectation";

export interface Scene {
  /** Unique within a run: file name and table row. */
  name: string;
  /** The question that the scenario answers. */
  question: string;
  /** What a reader sees in the result, in one sentence; where the scenario says it. */
  see?: string;
  requirements: string[];
  profile: MonitorProfile;
  durationS: number;
  /** 32-bit seed, from the case's name and the user's seed. */
  seed: number;
  shafts: ShaftMotion[];
  channels: ChannelSignal[];
  inputs: InputRow[];
  expectation: Expectation;
}
