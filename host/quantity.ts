// "1.2 in/s pk" ↔ number in SI. The only place where units are turned into each other.
import type { Detector, Quantity } from "./profile/types.ts";
import { standardWriting } from "./unit-writings.ts";

export type Dimension =
  | "acceleration"
  | "velocity"
  | "displacement"
  | "unstated"
  | "frequency"
  | "speed"
  | "speed rate"
  | "time"
  | "angle"
  | "mass"
  | "unbalance"
  | "voltage"
  | "share";

/** SI value = number × times / over; two whole numbers where that keeps the conversion exact. */
interface Unit {
  dimension: Dimension;
  times: number;
  over: number;
  /** Counts samples in place of seconds. */
  isPerSample?: boolean;
}

/** Standard gravity, m/s², exact by definition (CGPM 1901; ISO 80000-3). */
export const GRAVITY_M_PER_S2 = 9.80665;

const unit = (dimension: Dimension, times: number, over = 1): Unit => ({ dimension, times, over });
const sampled = (dimension: Dimension): Unit => ({ ...unit(dimension, 1), isPerSample: true });

/** The first spelling of each dimension is the one that complaints name. g is gravity or gram. */
const UNITS: readonly [string[], Unit][] = [
  [["g"], unit("acceleration", GRAVITY_M_PER_S2)],
  [["m/s²", "m/s^2", "m/s2"], unit("acceleration", 1)],
  [["mm/s²", "mm/s^2"], unit("acceleration", 1, 1e3)],
  [["um/s²", "um/s^2", "µm/s²"], unit("acceleration", 1, 1e6)],
  [["in/s²", "in/s^2", "in/s2"], unit("acceleration", 254, 1e4)],
  [["in/s"], unit("velocity", 254, 1e4)],
  [["mm/s"], unit("velocity", 1, 1e3)],
  [["m/s"], unit("velocity", 1)],
  [["nm/s"], unit("velocity", 1, 1e9)],
  [["mil"], unit("displacement", 254, 1e7)],
  [["um", "µm", "μm"], unit("displacement", 1, 1e6)],
  [["mm"], unit("displacement", 1, 1e3)],
  [["m"], unit("displacement", 1)],
  [["in"], unit("displacement", 254, 1e4)],
  [["units", "unit"], unit("unstated", 1)],
  [["Hz"], unit("frequency", 1)],
  [["kHz"], unit("frequency", 1e3)],
  [["MHz"], unit("frequency", 1e6)],
  [["cycles/sample", "cycle/sample"], sampled("frequency")],
  [["r/min"], unit("speed", 1, 60)],
  [["rev/s"], unit("speed", 1)],
  [["rev/sample"], sampled("speed")],
  [["rev/s²", "rev/s^2", "rev/s2"], unit("speed rate", 1)],
  [["r/min/s"], unit("speed rate", 1, 60)],
  [["rev/sample²", "rev/sample^2"], sampled("speed rate")],
  [["s"], unit("time", 1)],
  [["ms"], unit("time", 1, 1e3)],
  [["us", "µs"], unit("time", 1, 1e6)],
  [["min"], unit("time", 60)],
  [["h"], unit("time", 3600)],
  [["samples", "sample"], sampled("time")],
  [["deg", "°"], unit("angle", Math.PI, 180)],
  [["rad"], unit("angle", 1)],
  [["rev"], unit("angle", 2 * Math.PI)],
  [["kg"], unit("mass", 1)],
  [["g"], unit("mass", 1, 1e3)],
  [["g mm", "g·mm", "g*mm"], unit("unbalance", 1, 1e6)],
  [["kg m", "kg·m", "kg*m"], unit("unbalance", 1)],
  [["oz in", "oz·in", "oz*in"], unit("unbalance", 28349523125 * 254, 1e12 * 1e4)],
  [["V"], unit("voltage", 1)],
  [["mV"], unit("voltage", 1, 1e3)],
  [["%"], unit("share", 1, 100)],
];

/** Pk of a pure sine that reads 1 in each detector (ratios of a sine, by definition). */
const PK_OF_DETECTOR: Readonly<Record<Detector, number>> = {
  pk: 1,
  rms: Math.SQRT2,
  "pk-pk": 0.5,
};
export const DETECTORS: readonly Detector[] = ["pk", "rms", "pk-pk"];

export interface Amount {
  /** SI, in the detector as written. */
  value: number;
  dimension: Dimension;
  unit: string;
  detector?: Detector;
}

export interface QuantityRule {
  dimensions: readonly Dimension[];
  /** Detectors of which one must stand; absent: none may stand. */
  detectors?: readonly Detector[];
  /** Where times count samples, only per-sample units of time, speed and frequency serve. */
  timeUnit?: "s" | "sample";
}

const TIMED: readonly Dimension[] = ["time", "speed", "speed rate", "frequency"];
const NUMBER = /^([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*)$/su;
/** "4,800 r/min": whether the comma parts thousands or decimals, nobody can say. */
const COMMA = /^[,'’]\d/u;

function serves(rule: QuantityRule, found: Unit): boolean {
  if (!rule.dimensions.includes(found.dimension)) return false;
  if (!TIMED.includes(found.dimension)) return true;
  return (rule.timeUnit === "sample") === (found.isPerSample === true);
}

/** Names of the units that a rule allows, e.g. "r/min, rev/s". */
export function unitNames(rule: QuantityRule): string[] {
  return UNITS.filter(([, known]) => serves(rule, known)).map(([names]) => names[0]!);
}

function wanted(rule: QuantityRule): string {
  const units = unitNames(rule).join(", ");
  const detectors = rule.detectors === undefined ? "" : ` with ${rule.detectors.join(", ")}`;
  return `${units}${detectors}`;
}

function findUnit(name: string, rule: QuantityRule): Unit | undefined {
  let other: Unit | undefined;
  for (const [names, known] of UNITS) {
    if (!names.includes(name)) continue;
    if (serves(rule, known)) return known;
    other = known;
  }
  return other;
}

/** Splits "in/s pk" into unit and detector. */
function splitDetector(rest: string): { name: string; detector?: Detector; odd?: string } {
  const words = rest.trim().split(/\s+/u);
  const last = words[words.length - 1] ?? "";
  if ((DETECTORS as readonly string[]).includes(last)) {
    return { name: words.slice(0, -1).join(" "), detector: last as Detector };
  }
  const isOdd = /^(avg|average|mean)$/iu.test(last) || standardWriting(last, DETECTORS) !== "";
  return isOdd ? { name: words.slice(0, -1).join(" "), odd: last } : { name: words.join(" ") };
}

/** `; write "r/min"` where a writing is near to one that is read, else nothing. */
function writingHint(found: string, allowed: readonly string[]): string {
  const standard = standardWriting(found, allowed);
  return standard === "" ? "" : `; write "${standard}"`;
}

/**
 * Reads a number with its unit and, where the rule asks for one, its detector.
 *
 * Errors    a sentence that follows the field's name: "must …, found …"
 */
export function parseQuantity(text: string, rule: QuantityRule): Amount | string {
  const match = NUMBER.exec(text.trim());
  const number = match === null ? NaN : Number(match[1]);
  if (match === null || !Number.isFinite(number)) {
    return `must be a number with a unit (${wanted(rule)}), found "${text}"`;
  }
  if (match[2] === "") return `needs a unit (${wanted(rule)}), found "${text}"`;
  if (COMMA.test(match[2]!)) {
    return `must be a number without a comma, with a point for decimals, found "${text}"`;
  }
  const level = /^dB re (.+)$/u.exec(match[2]!);
  if (level !== null) return parseLevel(number, level[1]!, text, rule);
  const { name, detector, odd } = splitDetector(match[2]!);
  if (odd !== undefined) {
    const hint = writingHint(odd, rule.detectors ?? []);
    return `must name its detector as ${DETECTORS.join(", ")}, found "${odd}" in "${text}"${hint}`;
  }
  const found = findUnit(name, rule);
  if (found === undefined) {
    return name === ""
      ? `needs a unit (${wanted(rule)}), found "${text}"`
      : `has an unknown unit "${name}" (allowed: ${wanted(rule)})` +
          writingHint(name, unitNames(rule));
  }
  if (!serves(rule, found)) {
    const what = found.isPerSample === true ? `${found.dimension} in samples` : found.dimension;
    const hint = writingHint(name, unitNames(rule));
    return `must be in ${wanted(rule)}; "${text}" is a ${what}${hint}`;
  }
  const complaint = detectorComplaint(detector, text, rule);
  if (complaint !== undefined) return complaint;
  const value = (number * found.times) / found.over;
  if (!Number.isFinite(value)) return `is out of range: "${text}"`;
  return { value, dimension: found.dimension, unit: name, ...(detector && { detector }) };
}

function detectorComplaint(
  detector: Detector | undefined,
  text: string,
  rule: QuantityRule,
): string | undefined {
  if (rule.detectors === undefined) {
    return detector && `takes no detector: leave out "${detector}" in "${text}"`;
  }
  if (detector === undefined) {
    return `must name its detector (${rule.detectors.join(", ")}), found "${text}"`;
  }
  if (rule.detectors.includes(detector)) return undefined;
  return `must be given as ${rule.detectors.join(", ")}, found "${text}"`;
}

/** "120 dB re 1 nm/s rms": 20·lg of the ratio to a reference (level as in ISO 1683). */
function parseLevel(
  decibels: number,
  reference: string,
  text: string,
  rule: QuantityRule,
): Amount | string {
  const base = parseQuantity(reference, rule);
  if (typeof base === "string") return `${base} in "${text}"`;
  if (base.value <= 0) return `must have a reference > 0, found "${text}"`;
  const value = base.value * 10 ** (decibels / 20);
  return Number.isFinite(value) ? { ...base, value } : `is out of range: "${text}"`;
}

/** SI pk of an amount that was written with a detector. */
export function amountPk(amount: Amount): number {
  return amount.value * PK_OF_DETECTOR[amount.detector ?? "pk"];
}

/**
 * Level = factor × pk in SI, for a level in this unit and detector.
 *
 * Errors    throws where the unit is not one of vibration
 */
export function levelFactor(unitName: string, detector: Detector): number {
  const found = vibrationUnit(unitName);
  if (found === undefined) throw new Error(`no unit of vibration: ${unitName}`);
  return found.over / found.times / PK_OF_DETECTOR[detector];
}

export function vibrationUnit(unitName: string): Unit | undefined {
  const found = findUnit(unitName, { dimensions: VIBRATION });
  return found !== undefined && VIBRATION.includes(found.dimension) ? found : undefined;
}

export const VIBRATION: readonly Dimension[] = [
  "acceleration",
  "velocity",
  "displacement",
  "unstated",
];

/** "in/s pk" → its parts, or a sentence that follows the field's name. */
export function parseLevelUnit(
  text: string,
): { unit: string; detector: Detector; quantity: Quantity; factor: number } | string {
  const { name, detector, odd } = splitDetector(text);
  const found = vibrationUnit(name);
  if (found === undefined || detector === undefined) {
    const rule = { dimensions: VIBRATION, detectors: DETECTORS };
    const unitHint = found === undefined ? standardWriting(name, unitNames(rule)) : name;
    const detectorHint = detector ?? standardWriting(odd ?? "", DETECTORS);
    const hint = unitHint && detectorHint && `; write "${unitHint} ${detectorHint}"`;
    return `must be a unit and a detector (${wanted(rule)}), found "${text}"${hint}`;
  }
  const quantity = found.dimension as Quantity;
  return { unit: name, detector, quantity, factor: levelFactor(name, detector) };
}

/** How many times a quantity is the time derivative of displacement; unstated has none. */
export const DERIVATIVES: Readonly<Record<Quantity, number>> = {
  displacement: 0,
  velocity: 1,
  acceleration: 2,
  unstated: NaN,
};

/**
 * The amplitude of a sine of this frequency in another quantity.
 *
 * Units     SI in, SI out, the detector unchanged
 */
export function sineIn(value: number, from: Quantity, to: Quantity, frequencyHz: number): number {
  const power = DERIVATIVES[to] - DERIVATIVES[from];
  return value * (2 * Math.PI * frequencyHz) ** power;
}
