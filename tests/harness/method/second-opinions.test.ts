// The methods beside the firmware on scenarios of the suite: they agree where they apply, they find
// a firmware that is off, and they say why where they do not apply.
import { describe, expect, it } from "vitest";
import * as L from "../../../shared/layout.ts";
import type { MethodResults, Opinion } from "../../../harness/method/opinion-types.ts";
import { METHOD_SAMPLES_MAX, MethodRecorder } from "../../../harness/run/method-recorder.ts";
import { opinionsOf } from "../../kit/opinions-of.ts";
import { suiteCases } from "../../kit/regression-suite.ts";
import { monitorProfile } from "../../kit/scene-builder.ts";
import { opinionTally, shortestOfFolders } from "../../kit/suite-opinions.ts";

/** One case of a scenario of the suite. */
function caseOf(file: string, words = "") {
  const found = suiteCases(`${file}.scenario.yaml`).find((one) => one.name.includes(words));
  if (found === undefined) throw new Error(`no case "${words}" in ${file}`);
  return found;
}

function opinion({ filters }: MethodResults, method: Opinion["method"]): Opinion {
  return filters[0]!.opinions.find((one) => one.method === method)!;
}

/** Turns and scales the vectors of every level record. */
function alteredBy(factor: number, lagDeg: number): (records: Uint8Array) => Uint8Array {
  const [cos, sin] = [
    factor * Math.cos((lagDeg * Math.PI) / 180),
    -factor * Math.sin((lagDeg * Math.PI) / 180),
  ];
  return (records) => {
    const copy = records.slice();
    const view = new DataView(copy.buffer);
    for (let at = 0; at < copy.length; at += L.RECORD_BYTES) {
      const re = view.getFloat32(at + L.RECORD_RE, true);
      const im = view.getFloat32(at + L.RECORD_IM, true);
      view.setFloat32(at + L.RECORD_RE, re * cos - im * sin, true);
      view.setFloat32(at + L.RECORD_IM, re * sin + im * cos, true);
    }
    return copy;
  };
}

const DWELL = "dwell/does-company-ten-times-as-large-leave-a-dwell-alone";

/** Opinions that must agree on the shortest case of each of the suite's folders. */
const AGREEING_LEAST = 60;

/** Share of the settled steps that order tracking must compare: the rest is starts and ends. */
const SAMPLE: [file: string, words: string, shareLeast: number][] = [
  [DWELL, "[80 rev/s at 60]", 0.9],
  [DWELL, "[40 rev/s at 36 less one]", 0.9],
  [DWELL, "[10 rev/s at 1]", 0.9],
  ["dwell/is-phase-read-against-the-index", "three quarters", 0.9],
  ["ramps/does-the-level-follow-a-ramp-at-any-rate", "[up at 2 rev/s²]", 0.9],
  ["ramps/does-the-level-follow-a-ramp-at-any-rate", "[down at 10 rev/s²]", 0.9],
  ["ramps/does-a-geared-tachometer-follow-a-ramp", "[37 in 2", 0.9],
  ["ramps/is-velocity-from-acceleration-right-in-a-ramp", "velocity at 25", 0.9],
  ["ramps/does-company-that-grows-with-speed-stay-out-of-a-ramp", "[from 11 rev/s", 0.8],
  ["steps/does-company-that-steps-leave-the-level-alone", "ten times as large", 0.8],
  ["rotor/does-a-fast-run-up-through-a-resonance-read-true", "[one edge", 0.7],
  ["tachometer/does-one-bad-tooth-stay-within-its-computed-share", "[on a knot", 0.9],
  ["tachometer/does-a-glitch-at-one-edge-a-revolution-end-in-the-right-speed", "[12 at 65]", 0.8],
  ["tachometer/does-a-glitch-at-one-edge-a-revolution-end-in-the-right-speed", "[15 at 70]", 0.8],
  ["dwell/is-a-dwell-read-true-with-every-number-of-positions", "[3 and an extra edge]", 0.9],
];

describe("second opinions on the suite", () => {
  it.each(SAMPLE)(
    "[METH-070] agree with the firmware within their computed bound: %s %s",
    async (file, words, shareLeast) => {
      const results = await opinionsOf(caseOf(file, words));
      expect(results.notes).toEqual([]);
      for (const one of results.filters[0]!.opinions) {
        expect([one.method, one.verdict, one.differingCount]).not.toContain("differs");
        // A step is compared only where the bound says something: the level is at most 10 in/s.
        if (one.worst !== undefined) expect(one.worst.ratio).toBeLessThanOrEqual(1);
      }
      const tracking = opinion(results, "order tracking");
      expect(tracking.verdict).toBe("agrees");
      expect(tracking.comparedCount / tracking.stepCount).toBeGreaterThanOrEqual(shareLeast);
    },
  );

  it.each([
    ["a level 0.2 % high", 1.002, 0],
    ["a phase 0.2° late", 1, 0.2],
  ])("[METH-071] every method finds %s in a dwell", async (_, factor, lagDeg) => {
    const scene = caseOf(DWELL, "[80 rev/s at 60]");
    const results = await opinionsOf(scene, alteredBy(factor, lagDeg));
    for (const one of results.filters[0]!.opinions) {
      expect([one.method, one.verdict]).toEqual([one.method, "differs"]);
      // The first steps' bounds still hold what is left of the start.
      expect(one.differingCount).toBeGreaterThan(0.7 * one.comparedCount);
    }
  });

  it("[METH-072] a level that is 1 % high is found in a ramp, too", async () => {
    const scene = caseOf("ramps/does-the-level-follow-a-ramp-at-any-rate", "[up at 2 rev/s²]");
    const results = await opinionsOf(scene, alteredBy(1.01, 0));
    for (const method of ["order tracking", "Vold-Kalman", "synchronous average"] as const) {
      expect(opinion(results, method).verdict).toBe("differs");
    }
  });

  it("[METH-073] in a fast passage they say why the peak is not compared", async () => {
    const scene = caseOf(
      "rotor/does-a-fast-run-up-through-a-resonance-read-true",
      "[60 edges and 3",
    );
    const results = await opinionsOf(scene);
    for (const method of ["order tracking", "Vold-Kalman", "synchronous average"] as const) {
      const reasons = opinion(results, method).notCompared;
      const passage = reasons.find(({ why }) => why.startsWith("fast passage"))!;
      // The critical speed is passed at about 2.6 s, and the level peaks at 3.0 s.
      expect(passage.fromS).toBeLessThan(2.9);
      expect(passage.untilS).toBeGreaterThan(2.6);
      expect(passage.untilS).toBeLessThan(3.6);
    }
    const spectrum = opinion(results, "windowed spectrum");
    expect(spectrum.notCompared[0]!.why).toMatch(/the order's line moves/);
    expect(spectrum.comparedCount).toBeLessThan(spectrum.stepCount / 5);
  });

  it("[METH-074] a second rotor close to the order is told, with the order it lies near", async () => {
    const scene = caseOf(DWELL, "[80 rev/s at 60]");
    // 1.02 orders: within the bandwidth of neither filter alone, and no method parts it.
    const [signal] = scene.channels;
    const near = { kind: "tone", frequencyHz: 82, quantity: "velocity" } as const;
    const tone = { ...near, amplitudePk: 0.1, phaseLagRad: 0 };
    const results = await opinionsOf({
      ...scene,
      durationS: 6,
      channels: [{ ...signal!, components: [...signal!.components, tone] }],
    });
    const told = results.filters[0]!.opinions.flatMap(({ notCompared }) => notCompared);
    expect(told.map(({ why }) => why)).toContainEqual(
      expect.stringMatching(/another component turns within its width, near order 1\.0/),
    );
    for (const one of results.filters[0]!.opinions) expect(one.verdict).not.toBe("differs");
  });

  it("[METH-075] without an index whole pitches between the two counts are taken off", async () => {
    const scene = caseOf(DWELL, "[80 rev/s at 60]");
    const results = await opinionsOf({
      ...scene,
      shafts: [{ ...scene.shafts[0]!, startAngleRev: 0.77 }],
    });
    expect(results.filters[0]!.isPhaseRelative).toBe(true);
    expect(opinion(results, "order tracking").verdict).toBe("agrees");
    // A turn that is no whole number of pitches is still found: 1° of the 6° between two edges.
    const off = await opinionsOf(scene, alteredBy(1, 1));
    expect(opinion(off, "order tracking").verdict).toBe("differs");
  });
});

describe("second opinions on every folder of the suite", () => {
  it("[METH-086] none differs on the shortest case of each, and most agree", async () => {
    const scenes = shortestOfFolders();
    expect(scenes.length).toBeGreaterThanOrEqual(15);
    const { agreeing, notApplying, differing } = await opinionTally(scenes);
    expect(differing).toEqual([]);
    expect(agreeing).toBeGreaterThanOrEqual(AGREEING_LEAST);
    expect(agreeing).toBeGreaterThan(notApplying);
  });
});

describe("steps that are no measurement", () => {
  it("[METH-079] a functional test's tone is not held against what the channel gives", async () => {
    const results = await opinionsOf(caseOf("board/does-a-functional-test-end-settled-in-counts"));
    for (const one of results.filters[0]!.opinions) {
      expect([one.method, one.verdict]).toEqual([one.method, "agrees"]);
    }
  });
});

describe("what is kept for the methods", () => {
  const profile = monitorProfile();
  const batch = (firstSample: number, samples: Float32Array) => ({
    firstSample,
    sampleCount: samples.length,
    samples: [samples],
    edges: [new Float64Array(0)],
    inputs: [],
  });

  it("[METH-076] what is too long is told in a sentence, and no longer kept", () => {
    const recorder = new MethodRecorder(profile);
    const chunk = new Float32Array(1_000_000);
    for (let from = 0; from <= METHOD_SAMPLES_MAX; from += chunk.length) {
      recorder.takeBatch(batch(from, chunk));
    }
    const { notes, filters, maps } = recorder.finish();
    expect(notes).toEqual([expect.stringMatching(/9000000 samples are more than the 8000000/)]);
    expect([filters, maps]).toEqual([[], []]);
  });

  it("[METH-077] samples that are no numbers are counted and told; without edges nothing applies", () => {
    const recorder = new MethodRecorder(profile);
    recorder.takeBatch(batch(0, Float32Array.of(1, Number.NaN, 2, Infinity)));
    const { notes, filters, maps } = recorder.finish();
    expect(notes).toEqual([expect.stringMatching(/^2 samples of "fan" were no numbers/)]);
    expect(filters[0]!.opinions.map(({ verdict }) => verdict)).toEqual([
      "does not apply",
      "does not apply",
      "does not apply",
      "does not apply",
    ]);
    expect(maps).toEqual([]);
  });
});

describe("once a revolution", () => {
  it("[METH-078] what holding leaves is at most T²/19 of the second derivative", () => {
    const terms = [0.35875, -0.48829, 0.14128, -0.01168];
    const sinc = (x: number): number => (x === 0 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x));
    // Blackman-Harris over four revolutions, joined by lines every half a revolution; T = 1.
    const reference = (off: number): number =>
      (terms.reduce((sum, term, j) => {
        const at = 4 * off;
        const sign = j % 2 === 0 ? 1 : -1;
        const parts = j === 0 ? sinc(at) : (sinc(at - j) + sinc(at + j)) / 2;
        return sum + sign * term * parts;
      }, 0) /
        0.35875) *
      sinc(off / 2) ** 2;
    let most = 0;
    for (const tau of [2, 4, 10, 30]) {
      const rise = (s: number): number => 1 - (1 + s / tau) * Math.exp(-s / tau);
      for (let off = 0.01; off <= 0.35; off += 0.01) {
        const omega = 2 * Math.PI * off;
        let [re, im] = [0, 0];
        for (let i = 0; i < 60 * tau; i += 1) {
          const weight = sinc(off) ** 2 * (rise(i + 1) - rise(i));
          re += weight * Math.cos(omega * (i + 1));
          im -= weight * Math.sin(omega * (i + 1));
        }
        // Two poles: 1/(1 + jωτ)², and half a revolution late.
        const gain = 1 / (1 + (omega * tau) ** 2);
        const lag = 2 * Math.atan(omega * tau) + omega / 2;
        const [ownRe, ownIm] = [
          reference(off) * gain * Math.cos(lag),
          -reference(off) * gain * Math.sin(lag),
        ];
        most = Math.max(most, Math.hypot(re - ownRe, im - ownIm) / (gain * omega ** 2));
      }
    }
    expect(most).toBeLessThanOrEqual(1 / 19);
    expect(most).toBeGreaterThan(1 / 25);
  });
});
