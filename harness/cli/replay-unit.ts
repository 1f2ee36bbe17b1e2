// What 1 in a recording stands for: as an option says, else as the heads of its columns do.
import type { MonitorProfile } from "../../host/profile/types.ts";
import { type Dimension, parseQuantity, vibrationUnit } from "../../host/quantity.ts";
import type { Recording } from "../recording/recording.ts";
import { CallError } from "./command-errors.ts";

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

/** Errors: CallError where the unit is none, or not of what a channel of the profile measures. */
export function fileUnitOf(
  stated: string | undefined,
  profile: MonitorProfile | undefined,
  recording: Recording,
  columns: readonly number[],
): FileUnit {
  if (profile === undefined) {
    if (stated !== undefined) throw new CallError("--file-unit goes with --profile");
    return { scale: 1 };
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
