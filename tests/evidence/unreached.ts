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

export const UNREACHED: readonly Unreached[] = [
  {
    path: "assembly/config.ts",
    inside: "refuse",
    text: "abs(found) <= f32.MAX_VALUE",
    way: "false",
    needs: "a rule that is broken by a value that is infinite or no number",
    why:
      "each real field is refused as not finite before its value is told, and what is worked out " +
      "of fields that are in range stays far under the largest f32",
  },
  {
    path: "assembly/records.ts",
    inside: "recordOpen",
    text: "lost != i32.MAX_VALUE",
    way: "false",
    needs: "2³¹ records lost with none taken in between",
    why: "at 20 display steps a second and 8 filters that is 155 days without a single look",
  },
];

export function isListed(one: Branch, among: readonly Unreached[] = UNREACHED): boolean {
  return among.some(
    ({ path, inside, text, way }) =>
      path === one.path && inside === one.inside && text === one.text && way === one.way,
  );
}
