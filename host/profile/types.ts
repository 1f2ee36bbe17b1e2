// A monitor profile as plain data, every value in SI. The reader (profile-reader.ts) makes it from
// YAML; configuration.ts lays it out as bytes for the firmware; the truth reads it as it stands.

export type Quantity = "acceleration" | "velocity" | "displacement" | "unstated";
export type Detector = "pk" | "rms" | "pk-pk";
export type TransducerKind = "charge" | "powered" | "coil";

/** A channel's known response, by which each revolution's vector is divided. Phase lag positive. */
export type Response =
  | { kind: "none" }
  | {
      kind: "filters";
      /** Butterworth; order 0 leaves that side out. Corners in Hz at −3 dB. */
      highPassOrder: number;
      highPassHz: number;
      lowPassOrder: number;
      lowPassHz: number;
      delayS: number;
    }
  | {
      kind: "table";
      /** Ascending frequency; gain and phase lag are interpolated linearly, held at the ends. */
      points: { frequencyHz: number; gain: number; phaseLagRad: number }[];
      delayS: number;
    };

export interface HealthProfile {
  /** Each check is absent where it is not used. Values in the channel's SI unit. */
  bias?: { low: number; high: number };
  clipSamples?: number;
  flatPkPk?: number;
  noiseFloorRms?: number;
  burstRms?: number;
  physicalPk?: number;
  broadbandRatio?: number;
  /** Display steps that a check must hold before the fault counts, and again before it ends. */
  steps: number;
}

export interface ChannelProfile {
  name: string;
  kind: TransducerKind;
  quantity: Quantity;
  /** SI value of one converter count; samples as i16 are counts of this step. */
  countStep: number;
  /** |sample| at or above it is clipped, SI. */
  range: number;
  response: Response;
  health: HealthProfile;
  test: { amplitudePk: number; shaft: number; order: number };
}

export interface ShaftProfile {
  name: string;
  /** Tachometer positions in one cycle, a missing tooth counted. */
  positions: number;
  /** Shaft revolutions in one cycle: 1, or more for a tachometer on a geared shaft. */
  revolutions: number;
  index: "none" | "missing-tooth" | "extra-edge";
  /** Largest error of a position, revolutions pk: enters the tolerance only. */
  wheelErrorRev: number;
  speedMinRevPerS: number;
  speedMaxRevPerS: number;
  accelerationMaxRevPerS2: number;
  timeoutS: number;
  lockRevolutions: number;
  edgeTolerancePitches: number;
  validSpeedRevPerS: number;
  validHysteresisRevPerS: number;
  validDelaySteps: number;
  evidence: { input: boolean; otherShaft: boolean };
}

export type Bandwidth =
  /** Full width between the −3 dB points, Hz. */
  | { kind: "fixed"; fullWidthHz: number }
  /** Full width over the rotational speed, 1. */
  | { kind: "proportional"; fullWidthRatio: number };

export interface FilterProfile {
  name: string;
  channel: number;
  shaft: number;
  order: number;
  quantity: Quantity;
  detector: Detector;
  /** Unit of the level as written, e.g. "in/s". */
  unit: string;
  /** level = levelFactor × pk in SI: unit and detector together. */
  levelFactor: number;
  bandwidth: Bandwidth;
  display: DisplayProfile;
}

export interface DisplayProfile {
  source:
    | { kind: "own" }
    | { kind: "greatest"; filters: number[] }
    | { kind: "substitute"; filter: number };
  /** Display units per level unit over speed, linear between rows, held at the ends. */
  scale: { speedRevPerS: number; factor: number }[];
  /** Time constant of the number's smoothing, s; 0 = none. */
  smoothingS: number;
  /** One display step in display units, e.g. 0.1. */
  step: number;
  countsMax: number;
  /** Steps that an invalid number is held before it blanks. */
  holdSteps: number;
  caution?: CautionProfile;
  word?: { label: number; sdi: number; bits: number; resolution: number };
}

export interface CautionProfile {
  /** Whole counts of the display step. */
  levelCounts: number;
  hysteresisCounts: number;
  onDelaySteps: number;
  offDelaySteps: number;
  delayRunsUnderInhibit: boolean;
  whenInvalid: "end" | "hold";
  /** The wait that the user's procedure allows after a power change, s; used by `check` only. */
  procedureWaitS?: number;
}

export interface MonitorProfile {
  name: string;
  note: string;
  clockHz: number;
  sampleRateHz: number;
  displayPeriodS: number;
  /** "sample": times and speeds of a recording whose sample rate is not known count samples. */
  timeUnit: "s" | "sample";
  channels: ChannelProfile[];
  shafts: ShaftProfile[];
  filters: FilterProfile[];
}
