// Laws of a level that stands: the input scaled, the index turned, company at other whole orders.
// What may differ is bounded by what the method leaves, worked out here for each drawn case.
import * as fc from "fast-check";
import { describe, expect, test } from "vitest";
import { KNOTS_PER_REVOLUTION_MIN, SEGMENT_SAMPLES_MAX } from "../../shared/capacity.ts";
import { FLAG_COMPUTED } from "../../shared/layout.ts";
import type { LevelRecord } from "../../host/record-types.ts";
import {
  type Part,
  coreOf,
  edgeTicks,
  orders,
  runCore,
  turning,
} from "../assembly/kit/core-run.ts";
import { plainFilter, profileOf } from "../assembly/kit/plain-profile.ts";
import { evenNumber } from "../kit/even-number.ts";
import { TEST_SEED } from "../kit/seed.ts";

const CLOCK_HZ = 80e6;
const RATE_HZ = 12_800;
const DURATION_S = 1;
const F32_UNIT = 2 ** -24;
const TIME_OUT_MS = 600_000;
const core = coreOf();

interface Steady {
  revPerS: number;
  startRev: number;
  positions: number;
  index: "none" | "missing-tooth" | "extra-edge";
  order: number;
  amplitudePk: number;
  lagDeg: number;
  company: Part[];
}

const ORDERS = [1, 2, 3, 4, 5, 6];

/** A constant speed, a wheel whose phase is not relative, a tracked order and its company. */
const steady: fc.Arbitrary<Steady> = fc
  .record({
    revPerS: evenNumber(15, 120),
    startRev: evenNumber(0, 1),
    wheel: fc.constantFrom(
      { positions: 1, index: "none" as const },
      { positions: 12, index: "extra-edge" as const },
      { positions: 36, index: "missing-tooth" as const },
    ),
    order: fc.integer({ min: 1, max: 4 }),
    amplitudePk: evenNumber(0.1, 5),
    lagDeg: evenNumber(0, 360),
    sizes: fc.tuple(...ORDERS.map(() => evenNumber(0, 10))),
    lags: fc.tuple(...ORDERS.map(() => evenNumber(0, 360))),
  })
  .map(({ wheel, sizes, lags, ...given }) => ({
    ...given,
    ...wheel,
    company: ORDERS.filter((order) => order !== given.order).map((order) => ({
      order,
      amplitudePk: sizes[order - 1]!,
      phaseLagDeg: lags[order - 1]!,
    })),
  }));

const own = (given: Steady): Part => ({
  order: given.order,
  amplitudePk: given.amplitudePk,
  phaseLagDeg: given.lagDeg,
});

/** The computed level records of a case; the index stands `indexRev` further on the wheel. */
async function levelsOf(
  given: Steady,
  parts: Part[],
  change: { indexRev?: number; factor?: number } = {},
): Promise<LevelRecord[]> {
  const { positions, index, revPerS, startRev, order } = given;
  const shaft = turning(revPerS, 0, startRev);
  const wheel = { positions, index };
  const turned = turning(revPerS, 0, startRev - (change.indexRev ?? 0));
  const signal = orders(shaft, parts);
  const factor = change.factor ?? 1;
  const { levels } = await runCore({
    core,
    profile: profileOf(wheel, { filters: [plainFilter({ order })] }),
    edges: [edgeTicks(turned, wheel, DURATION_S, CLOCK_HZ)],
    signals: [(t) => factor * signal(t)],
    durationS: DURATION_S,
  });
  const computed = levels.filter((one) => (one.flags & FLAG_COMPUTED) !== 0);
  expect(computed.length).toBeGreaterThanOrEqual(3);
  return computed;
}

/**
 * Units of 2^−24 by which a component may be wrong in single precision: products, phasors and poles
 * a few each; eight samples to a lane of a segment, three folds; then segment after segment of the
 * triangle's two turns, which end at a knot, of which there are 12 a turn, or after 64 samples.
 */
function unitsOf(given: Steady): number {
  const segments = 2 * (RATE_HZ / given.revPerS / SEGMENT_SAMPLES_MAX + KNOTS_PER_REVOLUTION_MIN);
  return 16 + 8 + 3 + segments;
}

/**
 * What the method may leave of components of constant amplitude, pk.
 *
 * Edge clock: 2·j·A·n/f, f the clock. Ends between samples: the correction is exact for a cubic, so
 * that a triangle of straight sides w a sample keeps (11/720)·3·w·g″ at each of eight sides of its
 * ends, g the component turned by the tracked order (Euler-Maclaurin with differences, Gregory's
 * formula). Single precision: `unitsOf`.
 */
function leftPk(given: Steady, parts: Part[]): number {
  const w = given.revPerS / RATE_HZ;
  return parts.reduce((sum, { order, amplitudePk }) => {
    const clock = (2 * Math.max(order, given.order) * given.revPerS) / CLOCK_HZ;
    const turn = (j: number): number => (2 * Math.PI * w * j) ** 2;
    const turns = 0.5 * (turn(order + given.order) + turn(order - given.order));
    const ends = 8 * (11 / 720) * 3 * w * w * turns;
    const single = F32_UNIT * unitsOf(given);
    return sum + amplitudePk * (clock + ends + single);
  }, 0);
}

const vector = (one: LevelRecord): [number, number] => [one.re, one.im];

describe("a level that stands", { timeout: TIME_OUT_MS }, () => {
  test("[LAW-020] input scaled by a power of two gives all scaled, to the bit", async () => {
    const power = fc.integer({ min: -12, max: 12 });
    await fc.assert(
      fc.asyncProperty(steady, power, async (given, exponent) => {
        const parts = [own(given), ...given.company];
        const factor = 2 ** exponent;
        const once = await levelsOf(given, parts);
        const scaled = await levelsOf(given, parts, { factor });
        expect(scaled.map((one) => [...vector(one), one.level])).toEqual(
          once.map((one) => [...vector(one), one.level].map((x) => factor * x)),
        );
      }),
      { numRuns: 25, seed: TEST_SEED },
    );
  });

  test("[LAW-021] input scaled by any factor gives the level scaled", async () => {
    await fc.assert(
      fc.asyncProperty(steady, evenNumber(0.01, 100), async (given, factor) => {
        const parts = [own(given), ...given.company];
        const once = await levelsOf(given, parts);
        const scaled = await levelsOf(given, parts, { factor });
        const sum = parts.reduce((all, part) => all + part.amplitudePk, 0);
        const bound = 2 * factor * sum * F32_UNIT * unitsOf(given);
        scaled.forEach((one, i) => {
          expect(Math.abs(one.level - factor * once[i]!.level)).toBeLessThanOrEqual(bound);
        });
      }),
      { numRuns: 25, seed: TEST_SEED },
    );
  });

  test("[LAW-022] the index turned by φ turns the phase by k·φ and leaves the level", async () => {
    await fc.assert(
      fc.asyncProperty(steady, evenNumber(0.01, 0.99), async (given, indexRev) => {
        const parts = [own(given), ...given.company];
        const before = (await levelsOf(given, parts)).at(-1)!;
        const after = (await levelsOf(given, parts, { indexRev })).at(-1)!;
        const bound = 2 * leftPk(given, parts);
        expect(Math.abs(after.level - before.level)).toBeLessThanOrEqual(bound);
        // The vector turned by hand: an index that comes later finds a peak that comes earlier.
        const turn = 2 * Math.PI * given.order * indexRev;
        const [re, im] = vector(before);
        const wantedRe = re * Math.cos(turn) - im * Math.sin(turn);
        const wantedIm = re * Math.sin(turn) + im * Math.cos(turn);
        // An edge's capture is a tick late at most: it turns the tracked order by that.
        const late = (2 * Math.PI * given.order * given.revPerS * before.level) / CLOCK_HZ;
        const away = Math.hypot(after.re - wantedRe, after.im - wantedIm);
        expect(away).toBeLessThanOrEqual(bound + 2 * late);
      }),
      { numRuns: 30, seed: TEST_SEED },
    );
  });

  test("[LAW-023] company at other orders leaves the level within its bound", async () => {
    await fc.assert(
      fc.asyncProperty(steady, async (given) => {
        const alone = (await levelsOf(given, [own(given)])).at(-1)!;
        const company = (await levelsOf(given, [own(given), ...given.company])).at(-1)!;
        const bound = leftPk(given, [own(given), ...given.company]) + leftPk(given, [own(given)]);
        expect(Math.abs(company.level - alone.level)).toBeLessThanOrEqual(bound);
        expect(Math.abs(alone.level - given.amplitudePk)).toBeLessThanOrEqual(bound);
      }),
      { numRuns: 30, seed: TEST_SEED },
    );
  });
});
