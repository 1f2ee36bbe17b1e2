// A scenario's speed against the range in which the profile's shaft has a reference.
import { speedText } from "../../host/profile/profile-shaft.ts";
import type { Path } from "../../host/profile/yaml-tree.ts";
import type { ShaftMotion, ShaftProfile } from "../scene/scene.ts";
import type { SceneContext } from "./scene-names.ts";

type SpeedRow = ShaftMotion["speed"][number];
type Wheel = ShaftMotion["wheel"];

/** Share of a limit within which nobody can say on which side of it a speed is read. */
const LIMIT_SHARE = 1e-3;
/** Jitter is cut at six times its rms: two edges differ by twice that at most. */
const JITTER_OF_TWO = 12;
/** The speed is read over two intervals. */
const READING_PITCHES = 2;

/** Rows of the speed, each with the place of the piece that it comes from. */
export type PlacedRow = SpeedRow & { path: Path };

interface Limit {
  name: "lowest" | "highest";
  /** As the profile states it, and what the shaft turns at when it is read. */
  statedRevPerS: number;
  revPerS: number;
}

/** By which share the speed that the edges show may be off: clock, jitter, wheel, ripple. */
function readingShare(
  context: SceneContext,
  motion: Pick<ShaftMotion, "wheel" | "ripple">,
  revPerS: number,
): number {
  const { positions, revolutions, jitterS, eccentricityRev, badTooth } = motion.wheel;
  const spanRev = (READING_PITCHES * revolutions) / positions;
  const timeS = 1 / context.profile.clockHz + JITTER_OF_TWO * jitterS;
  const angle = Math.min(1, (READING_PITCHES * Math.PI) / positions);
  const pairRev =
    2 * Math.abs(eccentricityRev) * angle +
    Math.abs(badTooth === undefined ? 0 : badTooth.offsetRev);
  const ripple = motion.ripple.reduce(
    (sum, { order, amplitudeRev }) => sum + Math.abs(amplitudeRev) * 2 * Math.PI * order,
    0,
  );
  return Math.max(LIMIT_SHARE, (revPerS * timeS + pairRev) / spanRev + ripple);
}

/** A wheel that is not the profile's reads another speed than the shaft's. */
function readFactor(shaft: ShaftProfile, wheel: Wheel): number {
  return (shaft.revolutions / shaft.positions) * (wheel.positions / wheel.revolutions);
}

/** Rounded up: who keeps as far away as is said is far enough. */
function percent(share: number): string {
  const step = 10 ** (Math.floor(Math.log10(100 * share)) - 1);
  return `${Number((Math.ceil((100 * share) / step - 1e-9) * step).toPrecision(2))} %`;
}

/** A speed that is held beside a limit: the reference may be found there, and may not. */
function refuseHeld(
  context: SceneContext,
  shaft: ShaftProfile,
  motion: Pick<ShaftMotion, "wheel" | "ripple">,
  rows: readonly PlacedRow[],
  limits: readonly Limit[],
): void {
  const text = (revPerS: number): string => speedText(context.profile, revPerS);
  for (const [index, row] of rows.entries()) {
    if (row.timeS >= context.durationS) break;
    if ((rows[index + 1]?.revPerS ?? row.revPerS) !== row.revPerS) continue;
    for (const { name, statedRevPerS, revPerS } of limits) {
      const share = readingShare(context, motion, revPerS);
      if (!(Math.abs(row.revPerS - revPerS) < share * revPerS)) continue;
      const why = share > LIMIT_SHARE ? ", as its wheel is stated," : "";
      context.complaints.field(
        row.path,
        `is held at ${text(row.revPerS)}, so near the ${name} speed of shaft "${shaft.name}" ` +
          `(${text(statedRevPerS)}) that the reference${why} may be found or not: ` +
          `keep ${percent(share)} away from it`,
      );
      return;
    }
  }
}

/** The least and the greatest speed while a scenario lasts, and where each is reached. */
export function speedExtremes(context: SceneContext, rows: readonly PlacedRow[]) {
  let least = rows[0]!;
  let most = rows[0]!;
  for (const [index, row] of rows.entries()) {
    let { revPerS } = row;
    if (row.timeS > context.durationS) {
      const last = rows[index - 1]!;
      if (last.timeS >= context.durationS) break;
      const part = (context.durationS - last.timeS) / (row.timeS - last.timeS);
      revPerS = last.revPerS + part * (row.revPerS - last.revPerS);
    }
    if (revPerS < least.revPerS) least = { ...row, revPerS };
    if (revPerS > most.revPerS) most = { ...row, revPerS };
  }
  return { least, most };
}

/** Without a reference there is no number: right, but seldom what a writer had in mind. */
function warnOutside(context: SceneContext, shaft: ShaftProfile, rows: readonly PlacedRow[]): void {
  const text = (revPerS: number): string => speedText(context.profile, revPerS);
  const { least, most } = speedExtremes(context, rows);
  const { speedMinRevPerS, speedMaxRevPerS, name } = shaft;
  // At rest from start to end is what it says.
  if (most.revPerS === 0) return;
  if (least.revPerS > speedMaxRevPerS || most.revPerS < speedMinRevPerS) {
    const side = least.revPerS > speedMaxRevPerS ? "is never below" : "is never above";
    const at = least.revPerS > speedMaxRevPerS ? least : most;
    context.warnings.field(
      at.path,
      `${side} ${text(at.revPerS)}; shaft "${name}" has a reference from ` +
        `${text(speedMinRevPerS)} to ${text(speedMaxRevPerS)} in the profile: ` +
        `there is no number at any time`,
    );
  } else if (most.revPerS > speedMaxRevPerS) {
    context.warnings.field(
      most.path,
      `goes up to ${text(most.revPerS)}; the highest speed of shaft "${name}" in the profile is ` +
        `${text(speedMaxRevPerS)}: there is no number above it`,
    );
  }
}

/** A change of speed beyond what the profile takes for one: the reference is given up in it. */
function warnFaster(context: SceneContext, shaft: ShaftProfile, rows: readonly PlacedRow[]): void {
  if (context.profile.timeUnit !== "s") return;
  const most = shaft.accelerationMaxRevPerS2;
  for (const [index, row] of rows.entries()) {
    const next = rows[index + 1];
    if (next === undefined || row.timeS >= context.durationS) return;
    const change = Math.abs(next.revPerS - row.revPerS) / (next.timeS - row.timeS);
    if (!(change > most * (1 + LIMIT_SHARE))) continue;
    const text = (value: number): string => `${Number(value.toPrecision(4))} rev/s²`;
    context.warnings.field(
      next.path,
      `changes by ${text(change)}; the greatest acceleration of shaft "${shaft.name}" in the ` +
        `profile is ${text(most)}: the reference may be lost, and the number with it`,
    );
    return;
  }
}

/** Holds a shaft's speed against its range. */
export function checkSpeedLimits(
  context: SceneContext,
  shaft: ShaftProfile,
  motion: Pick<ShaftMotion, "wheel" | "ripple">,
  rows: readonly PlacedRow[],
): void {
  const factor = readFactor(shaft, motion.wheel);
  const limit = (name: Limit["name"], statedRevPerS: number): Limit => {
    return { name, statedRevPerS, revPerS: statedRevPerS / factor };
  };
  refuseHeld(context, shaft, motion, rows, [
    limit("lowest", shaft.speedMinRevPerS),
    limit("highest", shaft.speedMaxRevPerS),
  ]);
  if (Math.abs(factor - 1) < 1e-9) {
    warnOutside(context, shaft, rows);
    warnFaster(context, shaft, rows);
  }
}
