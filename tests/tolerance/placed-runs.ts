// Terms that no chance is in: the clock's resolution and the converter's steps. Where a run lies
// among them (speed, angle, phase, amplitude) decides its error, and the same run errs by the same
// again and again. So no probability is stated and no share is to be met: the bound is one that no
// placement passes. Many seeded placements are held against it, none may lie outside, and the
// worst of them tells how wide it is.
import { randomStream, uniformOf } from "../../harness/random/stream.ts";
import type { Scene } from "../../harness/scene/scene.ts";
import type { TermName } from "../../harness/truth/types.ts";
import { compareWithTruth } from "../kit/compare-with-truth.ts";
import * as kit from "../kit/scene-builder.ts";
import { shareInterval } from "./binomial.ts";
import { CONFIDENCE } from "./judged-runs.ts";

export interface PlacedTerm {
  id: string;
  what: string;
  name: TermName;
  scene: (seed: number) => Scene;
}

export interface PlacedRuns {
  runs: number;
  outside: number;
  /** What the share of placements outside can be. */
  interval: { low: number; high: number };
  /** The largest error over its bound. */
  worst: number;
  /** The share of the tolerance that is of other terms, at most. */
  otherShare: number;
}

const DURATION_S = 1.5;

interface Placed {
  seed: number;
  positions: number;
  clockHz?: number;
  converterStep?: number;
  components: (uniform: () => number) => ReturnType<typeof kit.orderComponent>[];
}

function placed({ seed, positions, clockHz, converterStep = 0, components }: Placed): Scene {
  const stream = randomStream(seed, 0);
  const uniform = (): number => uniformOf(stream);
  const profile = kit.monitorProfile({
    displayPeriodS: 0.5,
    shafts: [kit.shaftProfile({ positions, lockRevolutions: 1 })],
    filters: [kit.filterProfile({ bandwidth: { kind: "fixed", fullWidthHz: 4 } })],
    ...(clockHz !== undefined && { clockHz }),
  });
  const isStepped = converterStep > 0;
  if (isStepped) profile.channels[0]!.countStep = converterStep;
  return kit.oneShaftScene({
    profile,
    durationS: DURATION_S,
    seed,
    speed: [{ timeS: 0, revPerS: 79 + 2 * uniform() }],
    startAngleRev: uniform(),
    components: components(uniform),
    converter: { format: isStepped ? "i16" : "f32", step: converterStep },
  });
}

/** Largest amplitude beside a converter's step of 1: above it the steps average. */
const STEPS_MOST = 3;

export const PLACED_TERMS: readonly PlacedTerm[] = [
  {
    id: "CLOCK",
    what: "edges of sixty a turn on ticks of 0.39 µs, order 2 ten times as large",
    name: "edge clock",
    scene: (seed) =>
      placed({
        seed,
        positions: 60,
        clockHz: 2_560_000,
        components: (uniform) => [
          kit.orderComponent(1, 10, 360 * uniform()),
          kit.orderComponent(2, 100, 360 * uniform()),
        ],
      }),
  },
  {
    id: "STEP",
    what: "a converter's steps of 1 m/s² without noise, amplitudes up to three steps",
    name: "converter step",
    scene: (seed) =>
      placed({
        seed,
        positions: 1,
        converterStep: 1,
        components: (uniform) => [kit.orderComponent(1, STEPS_MOST * uniform(), 360 * uniform())],
      }),
  },
];

/** Plays `runs` placements from `firstSeed` on: the level of the last step against its bound. */
export async function placedRuns(
  { name, scene }: PlacedTerm,
  firstSeed: number,
  runs: number,
): Promise<PlacedRuns> {
  let outside = 0;
  let worst = 0;
  let otherShare = 0;
  for (let seed = firstSeed; seed < firstSeed + runs; seed += 1) {
    const last = (await compareWithTruth(scene(seed))).at(-1);
    if (last === undefined) throw new Error(`seed ${seed}: no judged step`);
    const { truth, record } = last;
    const bound = truth.terms?.find((one) => one.name === name)?.value;
    if (bound === undefined) throw new Error(`seed ${seed}: no term of ${name}`);
    const error = Math.abs(record.level - truth.level);
    if (error > bound) outside += 1;
    worst = Math.max(worst, error / bound);
    otherShare = Math.max(otherShare, 1 - bound / truth.levelTol);
  }
  return { runs, outside, worst, otherShare, interval: shareInterval(outside, runs, CONFIDENCE) };
}
