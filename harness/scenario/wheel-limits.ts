// What no wheel can do: a tooth past the next, ripple that turns the shaft backwards, more edges
// within a sample than a block of the link holds.
import type { Path } from "../../host/profile/yaml-tree.ts";
import { BLOCK_EDGES_MAX } from "../../shared/capacity.ts";
import type { ShaftMotion } from "../scene/scene.ts";
import type { SceneContext } from "./scene-names.ts";

/** Jitter is cut at six times its rms, to either side. */
const JITTER_SPAN = 12;
/** Both ends of a sample's span may cut a pitch, and a glitch may add an edge. */
const EDGES_BESIDE = 3;

type Wheel = ShaftMotion["wheel"];

/** How far a place of the cycle is out, revolutions of the shaft. */
function errorRev(wheel: Wheel, position: number): number {
  const bad = wheel.badTooth?.position === position ? wheel.badTooth.offsetRev : 0;
  return wheel.eccentricityRev * Math.sin((2 * Math.PI * position) / wheel.positions) + bad;
}

/** The least of the ways from one tooth to the next, in pitches; not over 0: one is past it. */
function leastPitch(wheel: Wheel): number {
  const { positions, revolutions } = wheel;
  const places = Array.from({ length: positions }, (_, position) => position);
  if (wheel.index === "extra-edge") places.push(positions - 0.5);
  const at = places.map((place) => place + (errorRev(wheel, place) / revolutions) * positions);
  return Math.min(...at.map((place, i) => (at[i + 1] ?? at[0]! + positions) - place));
}

function refuseWheel(context: SceneContext, wheel: Wheel, base: Path): boolean {
  if (leastPitch(wheel) > 0) return false;
  const alone: Wheel = { ...wheel, eccentricityRev: 0 };
  const isBadTooth = wheel.badTooth !== undefined && !(leastPitch(alone) > 0);
  const path = isBadTooth ? ["bad tooth", "offset"] : ["eccentricity"];
  context.complaints.field(
    [...base, "wheel", ...path],
    `puts a tooth past the next one: a pitch of this wheel is ` +
      `${Number((360 * (wheel.revolutions / wheel.positions)).toPrecision(4))} deg`,
  );
  return true;
}

/** Greatest speed of the angle over the mean speed, where ripple is at its steepest, less 1. */
function steepnessOf(ripple: ShaftMotion["ripple"]): number {
  return ripple.reduce(
    (sum, { order, amplitudeRev }) => sum + 2 * Math.PI * order * Math.abs(amplitudeRev),
    0,
  );
}

function refuseRipple(context: SceneContext, ripple: ShaftMotion["ripple"], base: Path): boolean {
  const steepness = steepnessOf(ripple);
  if (steepness < 1) return false;
  context.complaints.field(
    [...base, "torsional ripple"],
    `turns the shaft backwards: the sum of 2π · order · amplitude is ` +
      `${Number(steepness.toPrecision(3))} of the speed, it must be below 1`,
  );
  return true;
}

function refuseCrowd(context: SceneContext, motion: ShaftMotion, speedPath: Path): boolean {
  const { wheel, speed, ripple } = motion;
  const { sampleRateHz } = context.profile;
  const mostRevPerS = Math.max(
    ...speed.filter(({ timeS }) => timeS <= context.durationS).map(({ revPerS }) => revPerS),
  );
  const closest = 1 / Math.min(1, leastPitch(wheel));
  const pitchesPerS =
    (mostRevPerS * (1 + steepnessOf(ripple)) * wheel.positions * closest) / wheel.revolutions;
  const spanS = 1 / sampleRateHz + JITTER_SPAN * wheel.jitterS;
  const most = Math.floor(pitchesPerS * spanS) + EDGES_BESIDE;
  if (!(most > BLOCK_EDGES_MAX)) return false;
  context.complaints.field(
    speedPath,
    `gives up to ${most} edges within one sample (at ${Number(mostRevPerS.toPrecision(5))} rev/s, ` +
      `${wheel.positions} positions); a block holds ${BLOCK_EDGES_MAX}`,
  );
  return true;
}

/** True where the shaft cannot be made; what is wrong was told. */
export function refuseMotion(
  context: SceneContext,
  motion: ShaftMotion,
  base: Path,
  speedPath: Path,
): boolean {
  const isWheel = refuseWheel(context, motion.wheel, base);
  const isRipple = refuseRipple(context, motion.ripple, base);
  return isWheel || isRipple || refuseCrowd(context, motion, speedPath);
}
