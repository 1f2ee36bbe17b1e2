// The truth's rotor as a check asks it: one unbalance vector on one mode.
import { RotorTruth } from "../../harness/truth/rotor-amplitude.ts";
import { MotionTruth } from "../../harness/truth/shaft-motion.ts";

export interface OneMode {
  naturalHz: number;
  zeta: number;
  kgM: number;
  massKg: number;
}

/** Truth of a mode under speed rows; angle 0 at time 0. */
export function rotorTruth(mode: OneMode, speed: { timeS: number; revPerS: number }[]) {
  const motion = new MotionTruth({ speed, startAngleRev: 0, ripple: [] });
  const truth = new RotorTruth(
    {
      kind: "rotor",
      shaft: 0,
      modalMassKg: mode.massKg,
      naturalHz: mode.naturalHz,
      dampingRatio: mode.zeta,
      unbalance: [{ timeS: 0, kgM: mode.kgM, angleRad: 0 }],
    },
    motion,
  );
  return { motion, truth };
}

/** Amplitude in m and lag in degrees, 0 to 360, of the steady state at a speed. */
export function steadyOf(mode: OneMode, revPerS: number): { pk: number; lagDeg: number } {
  const z = rotorTruth(mode, [{ timeS: 0, revPerS }]).truth.steadyAt(revPerS, 0);
  return { pk: Math.hypot(z.re, z.im), lagDeg: (-Math.atan2(z.im, z.re) * 180) / Math.PI };
}
