// The kernel's loops against the same written plainly here, to the bit, in both of its builds.
import * as fc from "fast-check";
import { describe, expect, it } from "vitest";
import { gaussianOf } from "../../../harness/random/gaussian.ts";
import { randomStream } from "../../../harness/random/stream.ts";
import { CHUNK_SAMPLES } from "../../../harness/waveform/sample-clock.ts";
import { cosineOfRev, sineOfRev } from "../../../harness/waveform/sine.ts";
import { SampleKernel } from "../../../harness/waveform/sample-kernel.ts";
import { TEST_SEED } from "../../kit/seed.ts";

const number = fc.double({ min: -4, max: 4, noNaN: true });
const numbers = (count: number) => fc.array(number, { minLength: count, maxLength: count });
/** A stretch of the chunk. */
const stretch = fc
  .tuple(fc.integer({ min: 0, max: CHUNK_SAMPLES }), fc.integer({ min: 0, max: CHUNK_SAMPLES }))
  .map(([a, b]) => [Math.min(a, b), Math.max(a, b)] as const);

/** A chunk that already holds something. */
function started(kernel: SampleKernel): Float64Array {
  for (let i = 0; i < CHUNK_SAMPLES; i += 1) kernel.out[i] = Math.sin(i) * 3;
  return kernel.out.slice();
}

function expectSameBits(found: ArrayLike<number>, right: ArrayLike<number>): void {
  for (let i = 0; i < right.length; i += 1) {
    if (!Object.is(found[i], right[i])) expect([i, found[i]]).toEqual([i, right[i]]);
  }
  expect(found.length).toBe(right.length);
}

describe.each(["simd", "scalar"] as const)("the kernel's %s build", (build) => {
  const kernel = new SampleKernel(build);

  it(`[KERN-001] ${build} adds a steady turn`, () => {
    fc.assert(
      fc.property(stretch, numbers(7), ([from, until], values) => {
        const right = started(kernel);
        const [phase, re, im, oneX, oneY, fourX, fourY] = values;
        const x = [re! * cosineOfRev(phase!) - im! * sineOfRev(phase!)];
        const y = [re! * sineOfRev(phase!) + im! * cosineOfRev(phase!)];
        for (let i = 0; i < 3; i += 1) {
          x.push(x[i]! * oneX! - y[i]! * oneY!);
          y.push(x[i]! * oneY! + y[i]! * oneX!);
        }
        const was = x.map((one, i) => one * fourX! + y[i]! * fourY!);
        for (let i = from; i < until; i += 1) {
          const run = (i - from) % 4;
          right[i] = right[i]! + x[run]!;
          const next = 2 * fourX! * x[run]! - was[run]!;
          was[run] = x[run]!;
          x[run] = next;
        }
        kernel.loops.addSteady(from, until, ...values);
        expectSameBits(kernel.out, right);
      }),
      { seed: TEST_SEED },
    );
  });

  it(`[KERN-002] ${build} adds a turn that turns`, () => {
    fc.assert(
      fc.property(stretch, numbers(10), ([from, until], values) => {
        const right = started(kernel);
        const [bendX, bendY, x0, y0, x1, y1, tx0, ty0, tx1, ty1] = values;
        const x = [x0!, x1!];
        const y = [y0!, y1!];
        const turnX = [tx0!, tx1!];
        const turnY = [ty0!, ty1!];
        for (let i = from; i < until; i += 1) {
          const run = (i - from) % 2;
          right[i] = right[i]! + x[run]!;
          const was = x[run]!;
          x[run] = was * turnX[run]! - y[run]! * turnY[run]!;
          y[run] = was * turnY[run]! + y[run]! * turnX[run]!;
          const turnWas = turnX[run]!;
          turnX[run] = turnWas * bendX! - turnY[run]! * bendY!;
          turnY[run] = turnWas * bendY! + turnY[run]! * bendX!;
        }
        kernel.loops.addChirp(from, until, ...values);
        expectSameBits(kernel.out, right);
      }),
      { seed: TEST_SEED },
    );
  });

  it(`[KERN-003] ${build} adds an amplitude that moves times a phasor`, () => {
    const count = fc.integer({ min: 0, max: CHUNK_SAMPLES });
    fc.assert(
      fc.property(stretch, count, numbers(6), numbers(10), ([from], many, turn, moving) => {
        const right = started(kernel);
        const until = Math.min(CHUNK_SAMPLES, from + many);
        let [x, y, turnX, turnY] = turn as number[] as [number, number, number, number];
        const [bendX, bendY] = turn.slice(4) as [number, number];
        const [a, b] = [moving.slice(0, 5), moving.slice(5)] as [number[], number[]];
        const step = 1 / 12_800;
        for (let i = 0; from + i < until; i += 1) {
          const t = i * step;
          const re = a[0]! + t * (a[1]! + t * (a[2]! + t * (a[3]! + t * a[4]!)));
          const im = b[0]! + t * (b[1]! + t * (b[2]! + t * (b[3]! + t * b[4]!)));
          right[from + i] = right[from + i]! + (re * x - im * y);
          const was = x;
          x = was * turnX - y * turnY;
          y = was * turnY + y * turnX;
          const turnWas = turnX;
          turnX = turnWas * bendX - turnY * bendY;
          turnY = turnWas * bendY + turnY * bendX;
        }
        kernel.loops.fillPhasor(until - from, ...turn);
        kernel.loops.addVarying(from, until - from, step, ...moving);
        expectSameBits(kernel.out, right);
      }),
      { seed: TEST_SEED },
    );
  });

  it(`[KERN-004] ${build} adds the stream's Gaussian numbers and leaves it where they end`, () => {
    const plain = randomStream(TEST_SEED, 3);
    let stream = randomStream(TEST_SEED, 3);
    let slow = 0;
    for (let chunk = 0; chunk < 400; chunk += 1) {
      const right = started(kernel);
      const rms = 0.1 + chunk;
      for (let i = 0; i < CHUNK_SAMPLES; i += 1) {
        const x = gaussianOf(plain);
        if (Math.abs(x) > 3.4426198559) slow += 1;
        right[i] = right[i]! + rms * x;
      }
      stream = kernel.addNoise(rms, stream);
      expectSameBits(kernel.out, right);
      expect(stream.getState()).toEqual(plain.getState());
    }
    // Numbers of the tail were met.
    expect(slow).toBeGreaterThan(5);
  });

  it(`[KERN-005] ${build} converts to f32, to counts and to counts as f32`, () => {
    const special = [0, -0, 0.5, -0.5, 1.5, -1.5, 1e300, -1e300, Infinity, -Infinity, NaN, 1e-320];
    const value = fc.oneof(number, fc.constantFrom(...special), fc.double({ noNaN: true }));
    const chunk = fc.array(value, { minLength: CHUNK_SAMPLES, maxLength: CHUNK_SAMPLES });
    fc.assert(
      fc.property(chunk, fc.constantFrom(0.05, 1, 3.3 / 4096), (values, step) => {
        kernel.out.set(values);
        kernel.loops.convertFloats();
        expectSameBits(kernel.floats, Float32Array.from(values));
        const counts = values.map((one) =>
          Math.max(-32_768, Math.min(32_767, Math.floor(one / step + 0.5))),
        );
        kernel.loops.convertCounts(step);
        expectSameBits(kernel.counts, Int16Array.from(counts));
        kernel.loops.convertCountsToFloats(step);
        const stepF32 = Math.fround(step);
        expectSameBits(kernel.floats, Float32Array.from(counts.map((one) => one * stepF32)));
      }),
      { seed: TEST_SEED },
    );
  });
});
