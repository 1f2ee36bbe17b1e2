// The caution as a nondeterministic automaton: fed with an interval of counts for each display step
// it keeps every state that some sequence of counts inside the intervals could have led to.
// Fed with intervals of one count it is the deterministic table of states.
import {
  CAUTION_HELD,
  CAUTION_INHIBITED,
  CAUTION_OFF,
  CAUTION_ON,
  CAUTION_TIMING_OFF,
  CAUTION_TIMING_ON,
} from "../../shared/units.ts";
import type { CautionProfile } from "../scene/scene.ts";

const OFF = 1 << CAUTION_OFF;
const TIMING_ON = 1 << CAUTION_TIMING_ON;
const ON = 1 << CAUTION_ON;
const TIMING_OFF = 1 << CAUTION_TIMING_OFF;
const HELD = 1 << CAUTION_HELD;
const INHIBITED = 1 << CAUTION_INHIBITED;
/** States in which the caution is on as a crew sees it. */
export const STATES_LIT = ON | TIMING_OFF | HELD;

/** What one display step brings to a caution. */
export interface CautionInput {
  /** Smallest and greatest count that the number may show; used where it is valid. */
  low: number;
  high: number;
  isValid: boolean;
  /** The number is invalid and still held, not blank. */
  isHeld: boolean;
  isInhibited: boolean;
}

/**
 * All states that a caution may be in.
 *
 * On: shown >= level on this step and the `onDelaySteps` before it. Off: shown < level − hysteresis
 * likewise. A step that breaks the condition restarts its delay; an invalid step breaks both. An
 * inhibit holds back the output of a caution that is or comes on; without `delayRunsUnderInhibit`
 * the on-delay stands at its start until the inhibit has ended. A caution kept on over an invalid
 * number is plainly on: neither hysteresis nor a delay keeps it.
 */
export class CautionAutomaton {
  /** off[c]: off, the condition having held for c steps; on[d]: on, d steps below the hysteresis. */
  private off: Uint8Array;
  private on: Uint8Array;
  private offNext: Uint8Array;
  private onNext: Uint8Array;
  private readonly profile: CautionProfile;
  /** Bits 1 << CAUTION_… of every state that is possible now. */
  states = OFF;

  constructor(profile: CautionProfile) {
    this.profile = profile;
    this.off = new Uint8Array(profile.onDelaySteps + 1);
    this.on = new Uint8Array(profile.offDelaySteps + 1);
    this.offNext = new Uint8Array(profile.onDelaySteps + 1);
    this.onNext = new Uint8Array(profile.offDelaySteps + 1);
    this.off[0] = 1;
  }

  get mayBeLit(): boolean {
    return (this.states & STATES_LIT) !== 0;
  }

  get mayBeDark(): boolean {
    return (this.states & ~STATES_LIT) !== 0;
  }

  /** Takes one display step; `states` then says what is possible. */
  step(input: CautionInput): void {
    this.offNext.fill(0);
    this.onNext.fill(0);
    this.states = 0;
    if (input.isValid) {
      this.fromOff(input);
      this.fromOn(input);
    } else {
      this.fromInvalid(input);
    }
    [this.off, this.offNext] = [this.offNext, this.off];
    [this.on, this.onNext] = [this.onNext, this.on];
  }

  private fromOff(input: CautionInput): void {
    const { levelCounts, onDelaySteps, delayRunsUnderInhibit } = this.profile;
    const mayReach = input.high >= levelCounts;
    const mayMiss = input.low < levelCounts;
    const isWaiting = input.isInhibited && !delayRunsUnderInhibit;
    for (let c = 0; c <= onDelaySteps; c += 1) {
      if (this.off[c] === 0) continue;
      if (mayMiss) {
        this.offNext[0] = 1;
        this.states |= OFF;
      }
      if (!mayReach) continue;
      if (isWaiting) {
        this.offNext[0] = 1;
        this.states |= onDelaySteps === 0 ? INHIBITED : TIMING_ON;
      } else if (c + 1 > onDelaySteps) {
        this.onNext[0] = 1;
        this.states |= input.isInhibited ? INHIBITED : ON;
      } else {
        this.offNext[c + 1] = 1;
        this.states |= TIMING_ON;
      }
    }
  }

  private fromOn(input: CautionInput): void {
    const { levelCounts, hysteresisCounts, offDelaySteps } = this.profile;
    const end = levelCounts - hysteresisCounts;
    const mayReach = input.high >= levelCounts;
    const mayHold = Math.max(input.low, end) <= Math.min(input.high, levelCounts - 1);
    const mayLeave = input.low < end;
    for (let d = 0; d <= offDelaySteps; d += 1) {
      if (this.on[d] === 0) continue;
      if (mayReach || mayHold) this.onNext[0] = 1;
      if (mayReach) this.states |= input.isInhibited ? INHIBITED : ON;
      if (mayHold) this.states |= input.isInhibited ? INHIBITED : HELD;
      if (!mayLeave) continue;
      if (d + 1 > offDelaySteps) {
        this.offNext[0] = 1;
        this.states |= OFF;
      } else {
        this.onNext[d + 1] = 1;
        this.states |= input.isInhibited ? INHIBITED : TIMING_OFF;
      }
    }
  }

  private fromInvalid(input: CautionInput): void {
    const isKept = this.profile.whenInvalid === "hold" && input.isHeld;
    if (this.off.includes(1) || !isKept) {
      this.offNext[0] = 1;
      this.states |= OFF;
    }
    if (isKept && this.on.includes(1)) {
      this.onNext[0] = 1;
      this.states |= input.isInhibited ? INHIBITED : ON;
    }
  }
}
