// @ts-nocheck AssemblyScript: asc checks it. Imports carry no extension, so that tsc leaves it alone.
// An entry of its own for asc: the firmware's own functions of numbers. Never part of the firmware.
import { knotSpacing } from "../../../assembly/angle";
import { crcOf } from "../../../assembly/crc";
import { exponentialOfMinus } from "../../../assembly/math/exponential";
import { phaseOf, phasorIm, phasorRe, phasorSet } from "../../../assembly/math/phasor";
import { INPUT } from "../../../assembly/memory";

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
