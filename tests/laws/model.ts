// What a device must tell at a display step, from the facts of that step: number, validity,
// caution, events, exceedances. An opinion of its own, written from the definitions as tables that are read
// row by row; a delay is the distance to the last step that broke its condition, and an exceedance
// is summed up from its steps when it ends. It shares no code with what it is held against.
import * as L from "../../shared/layout.ts";
import * as U from "../../shared/units.ts";
import { CautionPart, type Place } from "./caution-model.ts";
import type { DeviceRules, DisplayRules, StepFacts, Wanted } from "./model-types.ts";
import { FilterPart } from "./validity-model.ts";

const f32 = Math.fround;
const F32_MAX = (2 - 2 ** -23) * 2 ** 127;

interface AboveStep {
  isAt: boolean;
  shown: number;
  level: number;
  speed: number;
  revolution: number;
}

class DisplayPart {
  readonly #own: number;
  readonly #rules: DisplayRules;
  readonly #caution: CautionPart | undefined;
  #validStep = -1;
  #shown = 0;
  #smoothed = 0;
  #wasValid = false;
  #wasSubstituted = false;
  #onsetTick = 0;
  #above: AboveStep[] | undefined;

  constructor(own: number, rules: DisplayRules) {
    this.#own = own;
    this.#rules = rules;
    this.#caution = rules.caution && new CautionPart(rules.caution);
  }

  /** Display units of a filter's level at its own speed; single precision, in this order. */
  #valueOf(filter: FilterPart): number {
    const rows = this.#rules.scale;
    const next = rows.findIndex((row) => filter.speedNow < row.speed);
    let scale = next === 0 ? rows[0]!.factor : rows.at(-1)!.factor;
    if (next > 0) {
      const [a, b] = [rows[next - 1]!, rows[next]!];
      const share = f32(f32(filter.speedNow - a.speed) / f32(b.speed - a.speed));
      scale = f32(a.factor + f32(f32(b.factor - a.factor) * share));
    }
    return Math.min(F32_MAX, f32(filter.level * scale));
  }

  /** The filter whose level is shown, or undefined. */
  #serving(filters: FilterPart[]): number | undefined {
    const { source } = this.#rules;
    const valid = (one: number): boolean => filters[one]!.validity === U.VALID;
    if (source.kind === "greatest") {
      const candidates = source.filters.filter(valid);
      const values = candidates.map((one) => this.#valueOf(filters[one]!));
      return candidates[values.indexOf(Math.max(...values))];
    }
    const candidates = source.kind === "substitute" ? [this.#own, source.filter] : [this.#own];
    return candidates.find(valid);
  }

  #validityOf(filters: FilterPart[], serving: number | undefined): [number, number] {
    const { source } = this.#rules;
    if (serving !== undefined) return [U.VALID, U.CAUSE_NONE];
    if (source.kind !== "greatest") {
      return [filters[this.#own]!.validity, filters[this.#own]!.cause];
    }
    const found = source.filters.map((one) => filters[one]!.validity);
    if (found.includes(U.FUNCTIONAL_TEST)) return [U.FUNCTIONAL_TEST, U.CAUSE_FUNCTIONAL_TEST];
    const isAllFailed = found.every((one) => one === U.FAILURE);
    return [isAllFailed ? U.FAILURE : U.NO_COMPUTED_DATA, U.CAUSE_NO_SOURCE];
  }

  #numberOf(step: number, value: number | undefined): number | "held" | "blank" {
    const rules = this.#rules;
    if (value === undefined) {
      const isHeld = this.#validStep >= 0 && step - this.#validStep <= rules.holdSteps;
      if (!isHeld) this.#shown = 0;
      return isHeld ? "held" : "blank";
    }
    const isContinued = this.#validStep >= 0 && this.#validStep === step - 1;
    const moved = f32(rules.smoothing * f32(value - this.#smoothed));
    this.#smoothed = isContinued ? f32(this.#smoothed + moved) : value;
    const counts = Math.floor(f32(f32(this.#smoothed * rules.countsPerUnit) + 0.5));
    this.#shown = Math.max(0, Math.min(rules.countsMax, counts));
    this.#validStep = step;
    return this.#shown;
  }

  step(step: number, facts: StepFacts, filters: FilterPart[], tell: (one: Wanted) => void): void {
    const own = this.#own;
    const serving = this.#serving(filters);
    const [validity, cause] = this.#validityOf(filters, serving);
    const value = serving === undefined ? undefined : this.#valueOf(filters[serving]!);
    const number = this.#numberOf(step, value);
    const isSubstituted =
      this.#rules.source.kind === "substitute" && serving !== undefined && serving !== own;
    const caution = this.#caution?.step(
      step,
      this.#caution.placeOf(number),
      facts.isInhibited[own]!,
      facts.acknowledgeRose[own]!,
    );
    const bits =
      (number === "held" ? L.STATUS_HELD : 0) |
      (number === "blank" ? L.STATUS_BLANK : 0) |
      (isSubstituted ? L.STATUS_SUBSTITUTE : 0) |
      (caution?.bits ?? 0);
    const record = this.#levelRecord(facts, filters[own]!.level);
    record.status = [validity, cause, caution?.state ?? 0, bits];
    tell(record);
    const event = (code: number, detail: number): void => {
      const { revolution, shown, speed, re, im, level } = record;
      const measured = { revolution, shown, speed, re, im, level };
      tell({ kind: L.RECORD_EVENT, source: own, code, detail, ...measured });
    };
    const isValid = validity === U.VALID;
    if (isValid && !this.#wasValid) event(U.EVENT_VALID, 0);
    if (!isValid && this.#wasValid) event(U.EVENT_INVALID, cause);
    if (isSubstituted && !this.#wasSubstituted) event(U.EVENT_SUBSTITUTE_ON, serving);
    if (!isSubstituted && this.#wasSubstituted) event(U.EVENT_SUBSTITUTE_OFF, 0);
    for (const code of caution?.events ?? []) event(code, 0);
    this.#wasValid = isValid;
    this.#wasSubstituted = isSubstituted;
    if (this.#caution !== undefined) {
      const from = serving ?? own;
      const place = this.#caution.placeOf(number);
      const { speed, revolution } = facts.filters[from]!;
      const level = filters[from]!.level;
      const row = { isAt: place === "at", shown: this.#shown, level, speed, revolution };
      this.#followExceedance(facts.tick, place, row, tell);
    }
  }

  #levelRecord(facts: StepFacts, level: number): Wanted {
    const own = facts.filters[this.#own]!;
    const isTold = own.isComputed;
    return {
      kind: L.RECORD_LEVEL,
      source: this.#own,
      code: own.flags,
      revolution: own.revolution,
      shown: this.#shown,
      age: isTold ? Math.min(2 ** 32 - 1, facts.tick - own.closingTick) : 0,
      speed: isTold ? own.speed : 0,
      re: isTold ? own.re : 0,
      im: isTold ? own.im : 0,
      level: isTold ? level : 0,
      speedNow: isTold ? own.speedNow : 0,
      value: isTold ? own.integrationDistance : 0,
    };
  }

  #followExceedance(tick: number, place: Place, row: AboveStep, tell: (one: Wanted) => void): void {
    if (this.#above === undefined) {
      if (place !== "at") return;
      this.#above = [row];
      this.#onsetTick = tick;
      return;
    }
    if (place === "at" || place === "between") {
      this.#above.push(row);
      return;
    }
    const above = this.#above;
    this.#above = undefined;
    const shown = Math.max(...above.map((one) => one.shown));
    const highest = above.filter((one) => one.shown === shown);
    const level = Math.max(...highest.map((one) => one.level));
    const peak = highest.find((one) => one.level === level)!;
    tell({
      kind: L.RECORD_EXCEEDANCE,
      source: this.#own,
      age: above.filter((one) => one.isAt).length,
      revolution: peak.revolution,
      speed: peak.speed,
      level,
      shown,
      word: above.indexOf(peak),
      onsetTick: this.#onsetTick,
    });
  }
}

// --- the device

export class DeviceModel {
  readonly #rules: DeviceRules;
  readonly #filters: FilterPart[];
  readonly #displays: DisplayPart[];
  #wasTest = false;
  #wasFaulty: boolean[];

  constructor(rules: DeviceRules) {
    this.#rules = rules;
    this.#filters = rules.filters.map((one) => new FilterPart(one, rules.shafts[one.shaft]!));
    this.#displays = rules.filters.map((one) => new DisplayPart(one.index, one.display));
    this.#wasFaulty = [false, false];
  }

  /** All records of one display step, in their order. `step` counts from 1. */
  step(step: number, facts: StepFacts): Wanted[] {
    const wanted: Wanted[] = [];
    if (facts.isTest !== this.#wasTest) {
      const code = facts.isTest ? U.EVENT_TEST_ON : U.EVENT_TEST_OFF;
      wanted.push({ kind: L.RECORD_EVENT, source: 0, code });
    }
    facts.isFaulty.forEach((isFaulty, channel) => {
      if (isFaulty === this.#wasFaulty[channel]) return;
      const code = isFaulty ? U.EVENT_TRANSDUCER_FAULT : U.EVENT_TRANSDUCER_HEALTHY;
      wanted.push({ kind: L.RECORD_EVENT, source: channel, code, detail: U.HEALTH_PHYSICAL });
    });
    this.#wasTest = facts.isTest;
    this.#wasFaulty = facts.isFaulty;
    this.#filters.forEach((filter, i) => {
      const { shaft } = this.#rules.filters[i]!;
      const { evidence } = this.#rules.shafts[shaft]!;
      const turnsElsewhere =
        (evidence.input && facts.shafts[shaft]!.isSaidToRun) ||
        (evidence.otherShaft && facts.shafts[1 - shaft]!.isLocked);
      filter.step(step, facts, turnsElsewhere);
    });
    for (const display of this.#displays) {
      display.step(step, facts, this.#filters, (one) => wanted.push(one));
    }
    return wanted;
  }
}
