// Shafts of a scene: the speed over time, the wheel as it really is, faults of the tachometer.
import type { Path } from "../../host/profile/yaml-tree.ts";
import type { ShaftMotion, ShaftProfile, TachFault } from "../scene/scene.ts";
import type { SceneContext } from "./scene-names.ts";
import { momentOf, spanOf } from "./scene-names.ts";
import type { SpeedPiece, WrittenShaftMotion } from "./scenario-schema.ts";
import { checkSpeedLimits, speedExtremes } from "./speed-limits.ts";
import type { PlacedRow } from "./speed-limits.ts";
import { refuseMotion } from "./wheel-limits.ts";

/** Pieces of a speed profile as rows between which the speed runs straight. */
function speedRows(context: SceneContext, pieces: SpeedPiece[], path: Path): PlacedRow[] {
  const rows: PlacedRow[] = [];
  // A constant speed is no list.
  const isConstant = pieces.length === 1 && "start" in pieces[0]!;
  for (const [index, piece] of pieces.entries()) {
    const last = rows[rows.length - 1];
    const here = isConstant ? path : [...path, index];
    if ("start" in piece) {
      if (last !== undefined) context.complaints.field(here, "start may only stand first");
      rows.push({ timeS: 0, revPerS: piece.start, path: here });
    } else if ("at" in piece) {
      if (last === undefined && piece.at !== 0) {
        context.complaints.field(here, "must be at 0 s: the first row is the start");
      } else if (last !== undefined && piece.at <= last.timeS) {
        context.complaints.field(here, "must be later than the row before");
      }
      rows.push({ timeS: piece.at, revPerS: piece.speed, path: here });
    } else if (last === undefined) {
      context.complaints.field(here, "must be a start: { start: 4800 r/min }");
      return [{ timeS: 0, revPerS: 0, path: here }];
    } else if ("hold" in piece) {
      rows.push({ timeS: last.timeS + piece.hold, revPerS: last.revPerS, path: here });
    } else {
      const change = Math.abs(piece.to - last.revPerS);
      const overS = "over" in piece ? piece.over : change / piece.rate;
      if (overS > 0) rows.push({ timeS: last.timeS + overS, revPerS: piece.to, path: here });
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
  const rows = speedRows(context, written.speed, speedPath);
  const motion: ShaftMotion = {
    speed: rows.map(({ timeS, revPerS }) => ({ timeS, revPerS })),
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
  const lastS = rows.at(-1)!.timeS;
  if (lastS > context.durationS) {
    const unit = context.profile.timeUnit === "s" ? "s" : "samples";
    const [end, found] = [context.durationS, lastS].map((value) => {
      return `${Number(value.toPrecision(6))} ${unit}`;
    });
    context.warnings.field(speedPath, `goes on to ${found}; the scenario ends at ${end}`);
  }
  const isRefused = refuseMotion(context, motion, base, speedPath);
  if (!isRefused) checkSpeedLimits(context, assumed, motion, rows);
  // Of a speed that is refused no other part needs to complain.
  const { most } = speedExtremes(context, rows);
  context.speedMostRevPerS.push(isRefused ? 0 : most.revPerS);
  return motion;
}
