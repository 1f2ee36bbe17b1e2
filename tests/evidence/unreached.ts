// Ways that no input takes: at most ten, each with the input that would be needed and why there is
// none. The count fails where one of them is taken after all.
import type { Branch } from "./branches.ts";

export interface Unreached {
  path: string;
  inside: string;
  text: string;
  way: string;
  needs: string;
  why: string;
}

export const UNREACHED: readonly Unreached[] = [];

export function isListed(one: Branch, among: readonly Unreached[] = UNREACHED): boolean {
  return among.some(
    ({ path, inside, text, way }) =>
      path === one.path && inside === one.inside && text === one.text && way === one.way,
  );
}
