// What 1 in a recording stands for: as an option says, else as the heads of its columns do.
import type { MonitorProfile } from "../../host/profile/types.ts";
import { type Dimension, parseQuantity, vibrationUnit } from "../../host/quantity.ts";
import type { Recording } from "../recording/recording.ts";
import { CallError } from "./command-errors.ts";

const NO_UNIT = "units";
const MOTION: Dimension[] = ["acceleration", "velocity", "displacement"];

/** "prox (mil)", "prox [mil]": name and unit; all of it and "" where no bracket ends it. */
export function headParts(head: string): { name: string; unit: string } {
  const match = /^(.*\S)\s*(?:\(\s*([^()]*?)\s*\)|\[\s*([^[\]]*?)\s*\])$/u.exec(head.trim());
  return match === null
    ? { name: head, unit: "" }
    : { name: match[1]!, unit: match[2] ?? match[3] ?? "" };
}

export interface FileUnit {
  /** What a value of 1 in the file stands for, in SI; 1 where the file has the channel's SI unit. */
  scale: number;
  /** As who has it; undefined where nobody says. */
  unit?: { text: string; from: "option" | "heads" };
  /** Of each column's levels, where no profile says it. */
  levelUnits?: string[];
}

/** True of m/s² for an acceleration, and so on. */
function isSiOf(unit: string, quantity: string): boolean {
  const found = parseQuantity(`1 ${unit}`, { dimensions: MOTION });
  return (
    typeof found !== "string" &&
    found.value === 1 &&
    vibrationUnit(found.unit)?.dimension === quantity
  );
}

/**
 * The unit that the heads of these columns share; undefined where none has one of a motion, or each
 * has its channel's own SI unit.
 */
function unitOfHeads(
  { channelNames }: Recording,
  columns: readonly number[],
  { channels }: MonitorProfile,
): string | undefined {
  const units = columns.map((column) => {
    const { unit } = headParts(channelNames[column]!);
    return typeof parseQuantity(`1 ${unit}`, { dimensions: MOTION }) === "string" ? "" : unit;
  });
  const [first] = units;
  if (units.every((unit) => unit === first)) return first === "" ? undefined : first;
  if (units.every((unit, i) => isSiOf(unit, channels[i]!.quantity))) return undefined;
  const heads = columns.map((column) => `"${channelNames[column]!}"`).join(", ");
  throw new CallError(
    `the columns ${heads} say different units, and one serves all: --file-unit states it`,
  );
}

/** The unit that a column's head has, where it is one of a motion; else "units". */
function unitOfHead(head: string): string {
  const { unit } = headParts(head);
  return unit === "" || typeof parseQuantity(`1 ${unit}`, { dimensions: MOTION }) === "string"
    ? NO_UNIT
    : unit;
}

/** Without a profile nothing is turned into another unit: levels stay in the file's, and say which. */
function ownUnits(
  stated: string | undefined,
  { channelNames }: Recording,
  columns: readonly number[],
): FileUnit {
  if (stated === undefined) {
    const levelUnits = columns.map((column) => unitOfHead(channelNames[column]!));
    const [text] = new Set(levelUnits);
    const isOne = levelUnits.every((one) => one === text) && text !== NO_UNIT;
    return { scale: 1, levelUnits, ...(isOne ? { unit: { text: text!, from: "heads" } } : {}) };
  }
  const [, number = "", name = ""] = /^\s*([\d.]+(?:e[+-]?\d+)?)?\s*(.*?)\s*$/iu.exec(stated)!;
  const parsed = parseQuantity(`${number === "" ? 1 : number} ${name}`, { dimensions: MOTION });
  if (typeof parsed === "string") throw new CallError(`--file-unit ${parsed}`);
  const scale = number === "" ? 1 : Number(number);
  if (!(scale > 0)) throw new CallError(`--file-unit must be over 0, found ${stated}`);
  return { scale, levelUnits: columns.map(() => name), unit: { text: stated, from: "option" } };
}

/** Errors: CallError where the unit is none, or not of what a channel of the profile measures. */
export function fileUnitOf(
  stated: string | undefined,
  profile: MonitorProfile | undefined,
  recording: Recording,
  columns: readonly number[],
): FileUnit {
  if (profile === undefined) {
    return ownUnits(stated, recording, columns);
  }
  const text = stated ?? unitOfHeads(recording, columns, profile);
  if (text === undefined) return { scale: 1 };
  const who = stated === undefined ? "the unit in the columns' heads," : "--file-unit";
  const parsed = parseQuantity(/^[\d.+-]/.test(text.trim()) ? text : `1 ${text}`, {
    dimensions: MOTION,
  });
  if (typeof parsed === "string") throw new CallError(`${who} ${parsed}`);
  for (const channel of profile.channels) {
    if (vibrationUnit(parsed.unit)?.dimension === channel.quantity) continue;
    throw new CallError(
      `${who} "${text}" is no ${channel.quantity}, which channel "${channel.name}" measures`,
    );
  }
  return { scale: parsed.value, unit: { text, from: stated === undefined ? "heads" : "option" } };
}
