// What turn stands between the firmware's zero of the angle and a method's.
import type { FirmwareStep } from "./agreement.ts";
import type { BoxSignal } from "./box-signal.ts";
import type { ShaftAngle } from "./shaft-angle.ts";

/** Positions of a wheel at most. */
const MOST_PITCHES = 256;

interface Turn {
  re: number;
  im: number;
}

function turnOf(revolutions: number): Turn {
  const angle = 2 * Math.PI * (revolutions - Math.floor(revolutions));
  return { re: Math.cos(angle), im: Math.sin(angle) };
}

/** The whole number of pitches between two zeros of the angle that fits best over all steps. */
function fittedTurn(
  steps: readonly FirmwareStep[],
  own: readonly ({ re: number; im: number } | undefined)[],
  turnsOfPitch: number,
): { re: number; im: number } {
  let [re, im] = [0, 0];
  for (const [i, step] of steps.entries()) {
    const other = own[i];
    if (other === undefined) continue;
    re += step.re * other.re + step.im * other.im;
    im += step.im * other.re - step.re * other.im;
  }
  // Where a pitch is most of the order's turn, more pitches may come nearer after whole turns.
  const wanted = Math.atan2(im, re) / (2 * Math.PI);
  let best = { off: Infinity, turn: 0 };
  for (let pitches = 0; pitches < MOST_PITCHES; pitches += 1) {
    const turn = pitches * turnsOfPitch;
    const off = Math.abs(turn - wanted - Math.round(turn - wanted));
    if (off < best.off - 1e-9) best = { off, turn };
    if (pitches > 0 && Math.abs(turn - Math.round(turn)) < 1e-9) break;
  }
  return turnOf(best.turn);
}

/**
 * Of each step: what a method's vector is turned by to count from the firmware's zero.
 *
 * A phase that is relative counts from the end of the cycle, which is the edge that the step tells,
 * and may be another one each time that the reference was lost and found. Where the firmware has an
 * index that a method could not find, whole pitches are fitted over all such steps.
 */
export function zeroTurns(
  { wheel }: BoxSignal,
  angle: ShaftAngle,
  order: number,
  steps: readonly FirmwareStep[],
  own: readonly (Turn | undefined)[],
): Turn[] {
  const pitch = wheel.revolutions / wheel.positions;
  const told = steps.map((step, i) => (step.isPhaseRelative ? undefined : own[i]));
  const fitted = angle.hasIndex ? turnOf(0) : fittedTurn(steps, told, order * pitch);
  return steps.map(({ isPhaseRelative, closedAt }) => {
    if (!isPhaseRelative) return fitted;
    const place = Math.round(angle.revAt(Math.min(closedAt, angle.lastAt)) / pitch);
    return turnOf(order * place * pitch);
  });
}
