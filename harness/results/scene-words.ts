// Values of a scene as a person wrote them: units, detectors, speeds, times.
import { levelFactor } from "../../host/quantity.ts";
import type { Detector, MonitorProfile, Quantity, Response } from "../scene/scene.ts";

interface LevelUnit {
  unit: string;
  detector: Detector;
}

/** Units for a quantity that no filter of the channel is stated in. */
const CUSTOMARY: Readonly<Record<Quantity, LevelUnit>> = {
  acceleration: { unit: "g", detector: "pk" },
  velocity: { unit: "in/s", detector: "pk" },
  displacement: { unit: "mil", detector: "pk-pk" },
  unstated: { unit: "units", detector: "pk" },
};
const METRIC: Readonly<Record<Quantity, LevelUnit>> = {
  acceleration: { unit: "m/s²", detector: "pk" },
  velocity: { unit: "mm/s", detector: "pk" },
  displacement: { unit: "um", detector: "pk-pk" },
  unstated: { unit: "units", detector: "pk" },
};
const METRIC_UNITS = ["m/s²", "m/s^2", "m/s2", "mm/s", "m/s", "um", "µm", "μm", "mm", "m"];

/** Items of a list that are told; the rest are counted. */
const ITEMS_MAX = 8;

/** Six significant digits: what was typed comes back, the conversion's last bits do not. */
export function figure(value: number, digits = 6): string {
  return String(Number(value.toPrecision(digits)));
}

export function degrees(radians: number): string {
  return `${figure((radians * 180) / Math.PI)}°`;
}

/** The items in one line; of a long list the first ones, with how many are left. */
export function listed(items: readonly string[], separator = "; "): string {
  if (items.length <= ITEMS_MAX) return items.join(separator);
  const left = items.length - (ITEMS_MAX - 1);
  return [...items.slice(0, ITEMS_MAX - 1), `and ${left} more`].join(separator);
}

/** "1 edge", "3 edges". */
export function counted(count: number, noun: string): string {
  return `${count} ${noun}${count === 1 ? "" : "s"}`;
}

/** The words of one profile: its unit of time, and the unit of each channel's filters. */
export class SceneWords {
  readonly profile: MonitorProfile;
  private readonly isTimed: boolean;
  private readonly customary: Readonly<Record<Quantity, LevelUnit>>;

  constructor(profile: MonitorProfile) {
    this.profile = profile;
    this.isTimed = profile.timeUnit === "s";
    const isMetric = profile.filters.some(({ unit }) => METRIC_UNITS.includes(unit));
    this.customary = isMetric ? METRIC : CUSTOMARY;
  }

  time(timeS: number): string {
    if (this.isTimed) return `${figure(timeS)} s`;
    return counted(Number(figure(timeS)), "sample");
  }

  /** A short time, as jitter is. */
  shortTime(timeS: number): string {
    return this.isTimed ? `${figure(timeS * 1e6)} µs` : this.time(timeS);
  }

  span({ fromS, untilS }: { fromS: number; untilS: number }): string {
    return `from ${this.time(fromS)} to ${this.time(untilS)}`;
  }

  speed(revPerS: number): string {
    return this.isTimed ? `${figure(revPerS * 60)} r/min` : `${figure(revPerS)} rev/sample`;
  }

  frequency(hz: number): string {
    return `${figure(hz)} ${this.isTimed ? "Hz" : "cycles/sample"}`;
  }

  /** An amplitude with its detector, in the unit of the channel's filter for that quantity. */
  amplitude(channel: number, quantity: Quantity, valuePk: number): string {
    const { unit, detector } = this.unitOf(channel, quantity);
    return `${figure(valuePk * levelFactor(unit, detector))} ${unit} ${detector}`;
  }

  /** A value of the channel's own quantity, with the word that says what of it. */
  value(channel: number, valueSi: number, what = ""): string {
    const { unit } = this.unitOf(channel, this.profile.channels[channel]!.quantity);
    const word = what === "" ? "" : ` ${what}`;
    return `${figure(valueSi * levelFactor(unit, "pk"))} ${unit}${word}`;
  }

  response(response: Response): string {
    if (response.kind === "none") return "none";
    const parts: string[] = [];
    if (response.kind === "filters") {
      const { highPassOrder, highPassHz, lowPassOrder, lowPassHz } = response;
      const side = (name: string, order: number, hz: number): void => {
        if (order > 0) parts.push(`${name} of order ${order} at ${this.frequency(hz)}`);
      };
      side("high pass", highPassOrder, highPassHz);
      side("low pass", lowPassOrder, lowPassHz);
    } else {
      const points = response.points.map(
        ({ frequencyHz, gain, phaseLagRad }) =>
          `${figure(gain)} and lag ${degrees(phaseLagRad)} at ${this.frequency(frequencyHz)}`,
      );
      parts.push(`gain ${listed(points, ", ")}`);
    }
    if (response.delayS > 0) parts.push(`delay ${this.shortTime(response.delayS)}`);
    return parts.length === 0 ? "none" : parts.join(", ");
  }

  private unitOf(channel: number, quantity: Quantity): LevelUnit {
    const filter = this.profile.filters.find(
      (one) => one.channel === channel && one.quantity === quantity,
    );
    return filter ?? this.customary[quantity];
  }
}
