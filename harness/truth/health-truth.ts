// Verdicts of transducer health over time: every check's table of states with all that the period's
// statistics leave open, and the events that must or may come of it.
import { EVENT_TRANSDUCER_FAULT, EVENT_TRANSDUCER_HEALTHY } from "../../shared/units.ts";
import type { Period } from "./health-statistics.ts";
import { HealthStatistics } from "./health-statistics.ts";
import type { Certainty } from "./reference.ts";
import type { EventTruth } from "./types.ts";

const NAMES = ["bias", "clipping", "flat line", "noise floor", "bursts", "physical", "broadband"];

/** One check: the states that are possible, as fault·STRIDE + periods that speak against it. */
const STRIDE = 65_536;

class CheckTruth {
  #possible = new Set<number>([0]);
  #settled: "healthy" | "fault" = "healthy";
  #openTick: number | undefined;
  #openSteps = 0;
  readonly #channel: number;
  readonly #check: number;
  readonly #stepsNeeded: number;
  readonly events: EventTruth[];
  /** Periods in which the check held, at least and at most. */
  heldLeast = 0;
  heldMost = 0;

  constructor(channel: number, check: number, stepsNeeded: number, events: EventTruth[]) {
    this.#channel = channel;
    this.#check = check;
    this.#stepsNeeded = Math.max(1, stepsNeeded);
    this.events = events;
  }

  get state(): Certainty {
    let hasFault = false;
    let hasHealthy = false;
    for (const one of this.#possible) {
      if (one >= STRIDE) hasFault = true;
      else hasHealthy = true;
    }
    return hasFault ? (hasHealthy ? "maybe" : "yes") : "no";
  }

  take(tick: number, verdict: Certainty, mayPass: boolean): void {
    if (verdict !== "no") this.heldMost += 1;
    if (verdict === "yes" && !mayPass) this.heldLeast += 1;
    // The common case: healthy, and nothing speaks against it.
    if (verdict === "no" && this.#possible.size === 1 && this.#possible.has(0)) return;
    const next = new Set<number>();
    for (const one of this.#possible) {
      if (mayPass) next.add(one);
      if (verdict !== "no") next.add(this.#after(one, true));
      if (verdict !== "yes") next.add(this.#after(one, false));
    }
    this.#possible = next;
    this.#note(tick);
  }

  #after(one: number, speaks: boolean): number {
    const isFault = one >= STRIDE;
    const count = one % STRIDE;
    if (speaks === isFault) return isFault ? STRIDE : 0;
    if (count + 1 < this.#stepsNeeded) return one + 1;
    return isFault ? 0 : STRIDE;
  }

  /** Windows open where the states part and close where they agree again. */
  #note(tick: number): void {
    const { state } = this;
    if (state === "maybe") {
      this.#openTick ??= tick;
      this.#openSteps += 1;
      return;
    }
    const now = state === "yes" ? "fault" : "healthy";
    const fromTick = this.#openTick ?? tick;
    if (now !== this.#settled) this.#expect(now, fromTick, tick, false);
    if (this.#openTick !== undefined) this.#allow(fromTick, tick);
    this.#settled = now;
    this.#openTick = undefined;
    this.#openSteps = 0;
  }

  #expect(to: "healthy" | "fault", fromTick: number, untilTick: number, isOptional: boolean): void {
    const event: EventTruth = {
      code: to === "fault" ? EVENT_TRANSDUCER_FAULT : EVENT_TRANSDUCER_HEALTHY,
      source: this.#channel,
      fromTick,
      untilTick,
      detail: this.#check,
      why: `${NAMES[this.#check]}: its condition ${to === "fault" ? "holds" : "has ended"}`,
    };
    if (isOptional) {
      event.isOptional = true;
      event.countMax = 1 + Math.ceil(this.#openSteps / this.#stepsNeeded / 2);
      event.why = `${NAMES[this.#check]}: its condition is too close to tell`;
    }
    this.events.push(event);
  }

  #allow(fromTick: number, untilTick: number): void {
    this.#expect("fault", fromTick, untilTick, true);
    this.#expect("healthy", fromTick, untilTick, true);
  }

  finish(tick: number): void {
    if (this.#openTick === undefined) return;
    this.#allow(this.#openTick, tick);
    this.#openTick = undefined;
  }
}

export class HealthTruth {
  readonly events: EventTruth[] = [];
  readonly checks: CheckTruth[];
  readonly #statistics: HealthStatistics;
  readonly #hasAny: boolean;

  constructor(channel: number, stepsNeeded: number, statistics: HealthStatistics) {
    this.#statistics = statistics;
    this.#hasAny = statistics.serves.some(Boolean);
    this.checks = statistics.serves.map(
      (_, check) => new CheckTruth(channel, check, stepsNeeded, this.events),
    );
  }

  /** Takes the period that ends at a step; `mayPass[check]`: it may have been passed over. */
  take(tick: number, period: Period, mayPass: (check: number) => boolean): void {
    if (!this.#hasAny) return;
    const verdicts = this.#statistics.verdicts(period);
    for (let i = 0; i < this.checks.length; i += 1) {
      if (this.#statistics.serves[i] !== true) continue;
      this.checks[i]!.take(tick, verdicts[i]!, mayPass(i));
    }
  }

  /** Whether a fault of the channel stands. */
  get state(): Certainty {
    let state: Certainty = "no";
    for (const check of this.checks) {
      const one = check.state;
      if (one === "yes") return "yes";
      if (one === "maybe") state = "maybe";
    }
    return state;
  }

  finish(tick: number): void {
    for (const check of this.checks) check.finish(tick);
  }
}
