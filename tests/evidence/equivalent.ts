// Mutants that no input can tell from the firmware, each with its argument.
import type { Mutant } from "./mutants.ts";

interface Equivalent {
  path: string;
  was: string;
  becomes: string;
  why: string;
}

export const EQUIVALENT: readonly Equivalent[] = [
  {
    path: "assembly/angle.ts",
    was: "if (s.knots > 1) {",
    becomes: "if (s.knots >= 1) {",
    why:
      "with one knot left it takes the sample of a knot that is gone; that is read only where there " +
      "are two, and the second sets it anew when it comes",
  },
  {
    path: "assembly/health.ts",
    was: "return variance > 0 ? sqrt<f32>(variance) : 0;",
    becomes: "return variance >= 0 ? sqrt<f32>(variance) : 0;",
    why: "the root of 0 is 0",
  },
  {
    path: "assembly/health.ts",
    was: "else if (x > greatest) greatest = x;",
    becomes: "else if (x >= greatest) greatest = x;",
    why: "it is put in its own place; the sign of a zero is seen by no comparison",
  },
  {
    path: "assembly/health.ts",
    was: "if (x < least) least = x;",
    becomes: "if (x <= least) least = x;",
    why: "it is put in its own place; the sign of a zero is seen by no comparison",
  },
  {
    path: "assembly/health.ts",
    was: "for (let check: i32 = 0; check < HEALTH_CHECKS; check++) {",
    becomes: "for (let check: i32 = 0; check <= HEALTH_CHECKS; check++) {",
    why: "no channel has a check of that number: its bit is in no set of checks",
  },
  {
    path: "assembly/link/dispatch.ts",
    was: "answer(LINK.HELLO_ANSWER_BYTES, 0, 0);",
    becomes: "answer(LINK.HELLO_ANSWER_BYTES, 1, 0);",
    why: "no byte is taken from that address",
  },
  {
    path: "assembly/pipeline.ts",
    was: "for (let shaft: i32 = 0; shaft < shafts; shaft++) angleConfigure(shaft);",
    becomes: "for (let shaft: i32 = 0; shaft <= shafts; shaft++) angleConfigure(shaft);",
    why:
      "a second shaft that is not configured is asked nothing; the place of a third is that of the " +
      "first one's tachometer, which is reset after",
  },
  {
    path: "assembly/pipeline.ts",
    was: "if (!isConfigured || load<u32>(INPUT + L.BLOCK_LAYOUT) != L.LAYOUT_VERSION) return -1;",
    becomes:
      "if (!isConfigured || load<u32>(INPUT + L.BLOCK_LAYOUT) != L.LAYOUT_VERSION) return -2;",
    why: "it is asked only whether it is negative",
  },
  {
    path: "assembly/response.ts",
    was: "if (delay != 0) lagBy(delay);",
    becomes: "if (delay != 1) lagBy(delay);",
    why: "no lag, and a lag of a whole turn, leave the response as it is",
  },
  {
    path: "assembly/tach-predict.ts",
    was: "if (a > most) return most;",
    becomes: "if (a >= most) return most;",
    why: "it is put in its own place",
  },
  {
    path: "assembly/tach-predict.ts",
    was: "if (a < 0 && t * -a >= speed) return (speed * speed) / (-2 * a);",
    becomes: "if (a <= 0 && t * -a >= speed) return (speed * speed) / (-2 * a);",
    why: "without acceleration t·0 is under every speed, which is above 0",
  },
  {
    path: "assembly/tach-search.ts",
    was: "s.hasIndex = 1;",
    becomes: "s.hasIndex = 2;",
    why: "it is asked only whether it is 0",
  },
  {
    path: "assembly/tach.ts",
    was: "if (x <= 2 * tolerance) s.isTwin = 1;",
    becomes: "if (x <= 2 * tolerance) s.isTwin = 2;",
    why: "it is asked only whether it is 0",
  },
  {
    path: "assembly/tone.ts",
    was: "phase += step;",
    becomes: "phase -= step;",
    why: "a cosine from phase 0 is the same both ways, to the bit",
  },
  {
    path: "assembly/tracker.ts",
    was: "s.acquisition += 1;",
    becomes: "s.acquisition += 2;",
    why: "it is asked only whether it has changed",
  },
  {
    path: "assembly/level.ts",
    was: "if (!(counts > 0)) return 0;",
    becomes: "if (!(counts >= 0)) return 0;",
    why: "of no counts the whole number is 0 as well",
  },
  {
    path: "assembly/tach-predict.ts",
    was: "const beside = abs<f32>(x - 1);",
    becomes: "const beside = abs<f32>(x + 1);",
    why:
      "it is the short way for nearly every edge: where it is never taken, the long one finds the " +
      "same position by the same limits, and leaves nothing else behind",
  },
  {
    path: "assembly/tach.ts",
    was: "if (missed > 0) counterAdd(COUNTER_EDGES_MISSED + 4 * shaft, missed);",
    becomes: "if (missed >= 0) counterAdd(COUNTER_EDGES_MISSED + 4 * shaft, missed);",
    why: "0 is added to a counter",
  },
  {
    path: "assembly/level.ts",
    was: "if (!(speed > load<f32>(row))) return load<f32>(row, 4);",
    becomes: "if (!(speed >= load<f32>(row))) return load<f32>(row, 4);",
    why:
      "at the row's own speed the straight line gives the row's own factor; a factor of −0 comes out " +
      "as +0, and either makes the count 0",
  },
  {
    path: "assembly/link/answer.ts",
    was: "second = -1;",
    becomes: "second = -2;",
    why: "it is asked only whether it is negative",
  },
];

/** Why a mutant is equivalent; undefined where nothing says so. */
export function equivalenceOf({ path, was, becomes }: Mutant): string | undefined {
  return EQUIVALENT.find((one) => one.path === path && one.was === was && one.becomes === becomes)
    ?.why;
}
