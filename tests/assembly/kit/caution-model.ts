// An independent model of number → caution: a plain table over the history of the steps. It keeps no
// counters: a delay is over where the last steps, looked up one by one, all met the condition.
import {
  CAUTION_HELD,
  CAUTION_INHIBITED,
  CAUTION_OFF,
  CAUTION_ON,
  CAUTION_TIMING_OFF,
  CAUTION_TIMING_ON,
  EVENT_ACKNOWLEDGED,
  EVENT_CAUTION_ENDED_INVALID,
  EVENT_CAUTION_OFF,
  EVENT_CAUTION_ON,
  EVENT_INHIBIT_OFF,
  EVENT_INHIBIT_ON,
} from "../../../shared/units.ts";

export interface ModelProfile {
  levelCounts: number;
  hysteresisCounts: number;
  onDelaySteps: number;
  offDelaySteps: number;
  delayRunsUnderInhibit: boolean;
  whenInvalid: "end" | "hold";
}

export interface ModelInput {
  /** The number of this step, or how it is missing. */
  number: number | "held" | "blank";
  isInhibited: boolean;
  acknowledgeRose: boolean;
}

export interface ModelAnswer {
  isAtLevel: boolean;
  isOn: boolean;
  isAcknowledged: boolean;
  state: number;
  events: number[];
}

type Place = "at" | "between" | "under" | "held" | "blank";

/** [before, place of the number, delay over] → [after, state, why it ended] */
type Row = [boolean, Place, boolean | "any", boolean, number, "invalid" | ""];

function tableOf(profile: ModelProfile): Row[] {
  const holds = profile.whenInvalid === "hold";
  return [
    [false, "at", false, false, CAUTION_TIMING_ON, ""],
    [false, "at", true, true, CAUTION_ON, ""],
    [false, "between", "any", false, CAUTION_OFF, ""],
    [false, "under", "any", false, CAUTION_OFF, ""],
    [false, "held", "any", false, CAUTION_OFF, ""],
    [false, "blank", "any", false, CAUTION_OFF, ""],
    [true, "at", "any", true, CAUTION_ON, ""],
    [true, "between", "any", true, CAUTION_HELD, ""],
    [true, "under", false, true, CAUTION_TIMING_OFF, ""],
    [true, "under", true, false, CAUTION_OFF, ""],
    [true, "held", "any", holds, holds ? CAUTION_ON : CAUTION_OFF, holds ? "" : "invalid"],
    [true, "blank", "any", false, CAUTION_OFF, "invalid"],
  ];
}

function placeOf(profile: ModelProfile, number: ModelInput["number"]): Place {
  if (typeof number !== "number") return number;
  if (number >= profile.levelCounts) return "at";
  return number < profile.levelCounts - profile.hysteresisCounts ? "under" : "between";
}

export class CautionModel {
  readonly #profile: ModelProfile;
  readonly #table: Row[];
  readonly #history: { place: Place; mayTime: boolean }[] = [];
  #isDemanded = false;
  #last: ModelAnswer & { isInhibited: boolean } = {
    isAtLevel: false,
    isOn: false,
    isAcknowledged: false,
    state: CAUTION_OFF,
    events: [],
    isInhibited: false,
  };

  constructor(profile: ModelProfile) {
    this.#profile = profile;
    this.#table = tableOf(profile);
  }

  /** True where this step and the `steps` before it were all at the place. */
  #hasStayed(place: "at" | "under", steps: number): boolean {
    const recent = this.#history.slice(-(steps + 1));
    if (recent.length < steps + 1) return false;
    return recent.every((row) => row.place === place && (place === "under" || row.mayTime));
  }

  step(input: ModelInput): ModelAnswer {
    const profile = this.#profile;
    const place = placeOf(profile, input.number);
    const mayTime = !input.isInhibited || profile.delayRunsUnderInhibit;
    this.#history.push({ place, mayTime });
    const isOver =
      place === "at"
        ? this.#hasStayed("at", profile.onDelaySteps)
        : place === "under" && this.#hasStayed("under", profile.offDelaySteps);
    const row = this.#table.find(
      ([before, at, over]) =>
        before === this.#isDemanded && at === place && (over === "any" || over === isOver),
    );
    if (row === undefined) throw new Error(`no row for ${place}`);
    const [, , , after, stateFree, ended] = row;
    this.#isDemanded = after;
    const isHeldBackOnly = place === "at" && (after || profile.onDelaySteps === 0);
    const isMasked = input.isInhibited && (after || isHeldBackOnly);
    const answer: ModelAnswer = {
      isAtLevel: place === "at",
      isOn: after && !input.isInhibited,
      isAcknowledged: false,
      state: isMasked ? CAUTION_INHIBITED : stateFree,
      events: [],
    };
    this.#tell(answer, input, ended === "invalid");
    this.#last = { ...answer, isInhibited: input.isInhibited };
    return answer;
  }

  #tell(answer: ModelAnswer, input: ModelInput, isInvalidEnd: boolean): void {
    const last = this.#last;
    if (input.isInhibited !== last.isInhibited) {
      answer.events.push(input.isInhibited ? EVENT_INHIBIT_ON : EVENT_INHIBIT_OFF);
    }
    const acknowledges = input.acknowledgeRose && last.isOn;
    if (acknowledges) answer.events.push(EVENT_ACKNOWLEDGED);
    if (answer.isOn && last.isOn) {
      answer.isAcknowledged = acknowledges || last.isAcknowledged;
    }
    if (answer.isOn && !last.isOn) answer.events.push(EVENT_CAUTION_ON);
    if (!answer.isOn && last.isOn) {
      answer.events.push(isInvalidEnd ? EVENT_CAUTION_ENDED_INVALID : EVENT_CAUTION_OFF);
    }
  }
}
