// @ts-nocheck AssemblyScript: asc checks it. Imports carry no extension, so that tsc leaves it alone.
// An entry of its own for asc: the firmware's own functions of numbers. Never part of the firmware.
import { knotSpacing } from "../../../assembly/angle";
import { crcOf } from "../../../assembly/crc";
import { exponentialOfMinus } from "../../../assembly/math/exponential";
import { phaseOf, phasorIm, phasorRe, phasorSet } from "../../../assembly/math/phasor";
import { INPUT } from "../../../assembly/memory";
import {
  momentIm,
  momentRe,
  segmentShape,
  segmentTake,
  sumIm,
  sumRe,
} from "../../../assembly/segment";

export { crcOf, exponentialOfMinus, knotSpacing, phaseOf, phasorSet };

export function re(): f32 {
  return phasorRe;
}
export function im(): f32 {
  return phasorIm;
}
export function addressBytes(): usize {
  return INPUT;
}
/** What is no number, or infinite, among a segment's four sums; samples at `addressBytes`. */
export function segmentNotFinite(n: i32, speed: f32, speedChange: f32): i32 {
  segmentShape(n, speed, speedChange, 0, 0.5, 0.5);
  segmentTake(INPUT, 1);
  return (
    i32(!isFinite(sumRe)) + i32(!isFinite(sumIm)) + i32(!isFinite(momentRe)) +
    i32(!isFinite(momentIm))
  );
}
