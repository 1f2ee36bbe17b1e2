// The events that a display must send at one step, by what its own records say; the records
// themselves are judged elsewhere.
import { STATUS_ACKNOWLEDGED, STATUS_CAUTION, STATUS_SUBSTITUTE } from "../../shared/layout.ts";
import {
  EVENT_ACKNOWLEDGED,
  EVENT_CAUTION_ENDED_INVALID,
  EVENT_CAUTION_OFF,
  EVENT_CAUTION_ON,
  EVENT_INHIBIT_OFF,
  EVENT_INHIBIT_ON,
  EVENT_INVALID,
  EVENT_SUBSTITUTE_OFF,
  EVENT_SUBSTITUTE_ON,
  EVENT_VALID,
  VALID,
} from "../../shared/units.ts";
import type { LevelRecord } from "../../host/record-types.ts";
import type { DisplayProfile, Scene } from "../scene/scene.ts";
import type { StepClock } from "./clock.ts";
import { InputBit } from "./clock.ts";
import type { DueEvent } from "./event-check.ts";

/** Follows one display's records and inputs from step to step. */
export class DisplayDue {
  /** Whether the inhibit input stands at this step, where a caution is configured. */
  isInhibited = false;
  /** Whether "acknowledged" is to be marked in the record of this step. */
  isAcknowledged = false;
  private readonly inhibit: InputBit;
  private readonly acknowledge: InputBit;
  private wasInhibited = false;
  private isValid = false;
  private isOn = false;
  private isReplaced = false;
  private due: DueEvent[] = [];
  private tick = 0;
  private readonly display: DisplayProfile;

  constructor(own: number, display: DisplayProfile, scene: Scene, clock: StepClock) {
    this.display = display;
    const bit = 1 << own;
    this.inhibit = new InputBit(clock, scene.inputs, (row) => (row.inhibit & bit) !== 0);
    this.acknowledge = new InputBit(clock, scene.inputs, (row) => (row.acknowledge & bit) !== 0);
  }

  /** Brings the inputs up to a step. */
  advance(tick: number): void {
    this.tick = tick;
    this.inhibit.advance(tick);
    this.acknowledge.advance(tick);
    this.wasInhibited = this.isInhibited;
    this.isInhibited = this.display.caution !== undefined && this.inhibit.isSet;
  }

  /** The events of this step; isHeld: the number is not valid and still held. */
  process(record: LevelRecord, isHeld: boolean): DueEvent[] {
    this.due = [];
    const isValid = record.validity === VALID;
    if (isValid && !this.isValid) this.add(EVENT_VALID, "the number became valid");
    if (!isValid && this.isValid) {
      this.add(EVENT_INVALID, "the number is no longer valid", record.cause);
    }
    this.isValid = isValid;
    this.dueBySubstitute(record);
    this.dueByCaution(record, isValid, isHeld);
    return this.due;
  }

  private dueBySubstitute(record: LevelRecord): void {
    const isReplaced = (record.statusBits & STATUS_SUBSTITUTE) !== 0;
    if (isReplaced && !this.isReplaced) {
      const { source } = this.display;
      const serving = source.kind === "substitute" ? source.filter : undefined;
      this.add(EVENT_SUBSTITUTE_ON, "a substitute serves", serving);
    }
    if (!isReplaced && this.isReplaced) {
      this.add(EVENT_SUBSTITUTE_OFF, "the substitute serves no more");
    }
    this.isReplaced = isReplaced;
  }

  /**
   * A caution that comes on or goes off tells so, whatever the reason: an inhibit that holds it
   * back is an event beside its own. An acknowledge counts where the caution was on at the step
   * before.
   */
  private dueByCaution(record: LevelRecord, isValid: boolean, isHeld: boolean): void {
    const isOn = (record.statusBits & STATUS_CAUTION) !== 0;
    if (isOn && !this.isOn) this.add(EVENT_CAUTION_ON, "the caution came on");
    if (!isOn && this.isOn) {
      const isKept = isHeld && this.display.caution?.whenInvalid === "hold";
      const isByLoss = !isValid && !isKept;
      const code = isByLoss ? EVENT_CAUTION_ENDED_INVALID : EVENT_CAUTION_OFF;
      this.add(code, "the caution went off");
    }
    if (this.isInhibited && !this.wasInhibited) {
      this.addInput(EVENT_INHIBIT_ON, this.inhibit, "inhibit set");
    }
    if (!this.isInhibited && this.wasInhibited) {
      this.addInput(EVENT_INHIBIT_OFF, this.inhibit, "inhibit ended");
    }
    const isAcknowledge = this.isOn && this.acknowledge.riseCount > 0;
    if (isAcknowledge) this.addInput(EVENT_ACKNOWLEDGED, this.acknowledge, "acknowledge rose");
    this.isAcknowledged = isOn && this.isOn && (isAcknowledge || this.isAcknowledged);
    this.isOn = isOn;
  }

  private add(code: number, why: string, detail?: number): void {
    this.due.push({ code, fromTick: this.tick, untilTick: this.tick, detail, why });
  }

  /** An input's event may be told when the input moves, or at the step that sees it. */
  private addInput(code: number, input: InputBit, why: string): void {
    this.due.push({ code, fromTick: input.firstTick, untilTick: this.tick, why });
  }
}

/** Whether a record's mark of an acknowledged caution is as it must be. */
export function isMarkedRight(record: LevelRecord, isAcknowledged: boolean): boolean {
  return ((record.statusBits & STATUS_ACKNOWLEDGED) !== 0) === isAcknowledged;
}
