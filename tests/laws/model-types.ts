// What the model of the display step is told, and what it answers.

export interface CautionRules {
  level: number;
  hysteresis: number;
  onSteps: number;
  offSteps: number;
  runsUnderInhibit: boolean;
  staysWhileHeld: boolean;
}

export interface DisplayRules {
  source:
    | { kind: "own" }
    | { kind: "greatest"; filters: number[] }
    | { kind: "substitute"; filter: number };
  /** Speeds rising. */
  scale: { speed: number; factor: number }[];
  smoothing: number;
  countsPerUnit: number;
  countsMax: number;
  holdSteps: number;
  caution: CautionRules | undefined;
}

export interface FilterRules {
  index: number;
  channel: number;
  shaft: number;
  levelFactor: number;
  /** Display steps, or cycles, that the poles take to settle. */
  settling: { isPerCycle: boolean; count: number };
  display: DisplayRules;
}

export interface ShaftRules {
  minimumSpeed: number;
  hysteresis: number;
  delaySteps: number;
  evidence: { input: boolean; otherShaft: boolean };
}

export interface DeviceRules {
  shafts: ShaftRules[];
  filters: FilterRules[];
}

export interface FilterFacts {
  isComputed: boolean;
  isSettled: boolean;
  isResponseLow: boolean;
  acquisition: number;
  revolution: number;
  levelPk: number;
  re: number;
  im: number;
  speed: number;
  speedNow: number;
  closingTick: number;
  flags: number;
  integrationDistance: number;
}

export interface StepFacts {
  tick: number;
  isTest: boolean;
  /** At some sample since the step before. */
  testWasSeen: boolean;
  /** Per channel. */
  isFaulty: boolean[];
  shafts: { isLocked: boolean; hasBeenLocked: boolean; isSaidToRun: boolean }[];
  filters: FilterFacts[];
  /** Per display. */
  isInhibited: boolean[];
  acknowledgeRose: boolean[];
}

/** A record; a field that is not named is zero. */
export interface Wanted {
  kind: number;
  source: number;
  /** Flags of a level record, code of an event. */
  code?: number;
  age?: number;
  revolution?: number;
  speed?: number;
  re?: number;
  im?: number;
  level?: number;
  shown?: number;
  /** Validity, cause, state of the caution, bits. */
  status?: number[];
  /** The word's place; of an exceedance the steps from onset to peak. */
  word?: number;
  detail?: number;
  speedNow?: number;
  value?: number;
  onsetTick?: number;
}
