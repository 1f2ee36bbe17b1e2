// Mutants that no input can tell from the firmware, each with its argument.
import type { Mutant } from "./mutants.ts";

interface Equivalent {
  path: string;
  was: string;
  becomes: string;
  why: string;
}

export const EQUIVALENT: readonly Equivalent[] = [];

/** Why a mutant is equivalent; undefined where nothing says so. */
export function equivalenceOf({ path, was, becomes }: Mutant): string | undefined {
  return EQUIVALENT.find((one) => one.path === path && one.was === was && one.becomes === becomes)
    ?.why;
}
