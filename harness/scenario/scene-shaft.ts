// Shafts of a scene: the speed over time, the wheel as it really is, faults of the tachometer.
import { speedText } from "../../host/profile/profile-shaft.ts";
import type { Path } from "../../host/profile/yaml-tree.ts";
import type { ShaftMotion, ShaftProfile, TachFault } from "../scene/scene.ts";
import type { SceneContext } from "./scene-names.ts";
import { momentOf, spanOf } from "./scene-names.ts";
import type { SpeedPiece, WrittenShaftMotion } from "./scenario-schema.ts";

type SpeedRow = ShaftMotion["speed"][number];

/** Pieces of a speed profile as rows between which the speed runs straight. */
export function speedRows(context: SceneContext, pieces: SpeedPiece[], path: Path): SpeedRow[] {
  const rows: SpeedRow[] = [];
  for (const [index, piece] of pieces.entries()) {
    const last = rows[rows.length - 1];
    const here = [...path, index];
    if ("start" in piece) {
      if (last !== undefined) context.complaints.field(here, "start may only stand first");
      rows.push({ timeS: 0, revPerS: piece.start });
    } else if ("at" in piece) {
      if (last === undefined && piece.at !== 0) {
        context.complaints.field(here, "must be at 0 s: the first row is the start");
      } else if (last !== undefined && piece.at <= last.timeS) {
        context.complaints.field(here, "must be later than the row before");
      }
      rows.push({ timeS: piece.at, revPerS: piece.speed });
    } else if (last === undefined) {
      context.complaints.field(here, "must be a start: { start: 4800 r/min }");
      return [{ timeS: 0, revPerS: 0 }];
    } else if ("hold" in piece) {
      rows.push({ timeS: last.timeS + piece.hold, revPerS: last.revPerS });
    } else {
      const change = Math.abs(piece.to - last.revPerS);
      const overS = "over" in piece ? piece.over : change / piece.rate;
      if (overS > 0) rows.push({ timeS: last.timeS + overS, revPerS: piece.to });
    }
  }
  return rows;
}

function buildFault(
  context: SceneContext,
  fault: WrittenShaftMotion["faults"][number],
  path: Path,
): TachFault {
  if (fault.fault === "drop-out") return { kind: "drop-out", ...spanOf(context, fault, path) };
  if (fault.fault === "index lost") return { kind: "index-lost", ...spanOf(context, fault, path) };
  const atS = momentOf(context, fault.at, [...path, "at"]);
  const { position } = fault;
  if (fault.fault === "glitch") {
    const { fraction } = fault;
    return position === undefined
      ? { kind: "glitch", atS, fraction }
      : { kind: "glitch-position", atS, position, fraction };
  }
  const { count } = fault;
  return position === undefined
    ? { kind: "missed", atS, count }
    : { kind: "missed-position", atS, position, count };
}

function checkPositions(
  context: SceneContext,
  written: WrittenShaftMotion,
  positions: number,
  base: Path,
): void {
  const check = (position: number | undefined, path: Path): void => {
    if (position === undefined || position < positions) return;
    context.complaints.field(
      path,
      `must be a position of the wheel, 0 to ${positions - 1}, found ${position}`,
    );
  };
  check(written.wheel?.["bad tooth"]?.position, [...base, "wheel", "bad tooth", "position"]);
  for (const [index, fault] of written.faults.entries()) {
    if ("position" in fault) check(fault.position, [...base, "faults", index, "position"]);
  }
}

/** Share of a limit within which a measured speed may fall on either side of it. */
const LIMIT_SHARE = 1e-3;

/** A speed that is held at a limit of the reference: nobody can say whether it is found there. */
function checkLimits(
  context: SceneContext,
  shaft: ShaftProfile,
  rows: readonly SpeedRow[],
  path: Path,
): void {
  const limits = [
    ["lowest", shaft.speedMinRevPerS],
    ["highest", shaft.speedMaxRevPerS],
  ] as const;
  for (const [index, row] of rows.entries()) {
    if (row.timeS >= context.durationS) break;
    if ((rows[index + 1]?.revPerS ?? row.revPerS) !== row.revPerS) continue;
    const limit = limits.find(([, speed]) => Math.abs(row.revPerS - speed) < LIMIT_SHARE * speed);
    if (limit === undefined) continue;
    context.complaints.field(
      path,
      `is held at ${speedText(context.profile, row.revPerS)}, the ${limit[0]} speed of shaft ` +
        `"${shaft.name}", where the reference may be found or not; keep 0.1 % away from it`,
    );
    return;
  }
}

export function buildShaftMotion(
  context: SceneContext,
  assumed: ShaftProfile,
  written: WrittenShaftMotion,
  base: Path,
  speedPath: Path,
): ShaftMotion {
  const { wheel } = written;
  const index = wheel?.index ?? assumed.index;
  const positions = wheel?.positions ?? assumed.positions;
  checkPositions(context, written, positions, base);
  const badTooth = wheel?.["bad tooth"];
  const speed = speedRows(context, written.speed, speedPath);
  checkLimits(context, assumed, speed, speedPath);
  const motion: ShaftMotion = {
    speed,
    startAngleRev: written["start angle"],
    ripple: written["torsional ripple"].map((ripple) => ({
      order: ripple.order,
      amplitudeRev: ripple.amplitude,
    })),
    wheel: {
      positions,
      revolutions: wheel?.["per revolutions"] ?? assumed.revolutions,
      index: index.replace(" ", "-") as ShaftMotion["wheel"]["index"],
      eccentricityRev: wheel?.eccentricity ?? 0,
      jitterS: wheel?.jitter ?? 0,
    },
    faults: written.faults.map((fault, row) =>
      buildFault(context, fault, [...base, "faults", row]),
    ),
  };
  if (badTooth !== undefined) {
    motion.wheel.badTooth = { position: badTooth.position, offsetRev: badTooth.offset };
  }
  return motion;
}
