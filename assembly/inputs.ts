// The inputs from outside: as they stand, and what rose or stood since the last display step.
import { INPUT_ACKNOWLEDGE, INPUT_TEST } from "../shared/layout.ts";

let inputs: u32 = 0; // as they stand now
let acknowledges: u32 = 0; // displays whose bit rose since the last step
let isTesting: bool = false; // as the last step had it
let testSeen: bool = false; // at some sample since the step before

export function inputsReset(): void {
  inputs = 0;
  acknowledges = 0;
  isTesting = false;
  testSeen = false;
}

/** The inputs as they stand from this block on; a bit that rises is kept until the next step. */
export function inputsSet(bits: u32): void {
  acknowledges |= ((bits & ~inputs) >> INPUT_ACKNOWLEDGE) & 0xff;
  inputs = bits;
  if (inputStands(INPUT_TEST, 0)) testSeen = true;
}

/** True where bit `first` + `index` of the inputs stands. */
export function inputStands(first: i32, index: i32): bool {
  return (inputs >> (first + index) & 1) != 0;
}

/** True where a display's acknowledge rose since the last step. */
export function acknowledgeRose(display: i32): bool {
  return (acknowledges >> display & 1) != 0;
}

/** Begins a display step; true where the functional test began or ended with it. */
export function testStep(): bool {
  const isTest: bool = inputStands(INPUT_TEST, 0);
  const hasChanged: bool = isTest != isTesting;
  isTesting = isTest;
  return hasChanged;
}

/** True where the functional test runs at this step. */
export function testStands(): bool {
  return isTesting;
}

/** True where it ran at some sample since the last step. */
export function testWasSeen(): bool {
  return testSeen;
}

/** Ends a display step. */
export function inputsStepEnd(): void {
  acknowledges = 0;
  testSeen = isTesting;
}
