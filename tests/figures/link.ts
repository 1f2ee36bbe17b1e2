// The serial link: every scenario's bytes over it, runs under faults, and noise.
import { linkBench } from "../kit/link-bench.ts";
import {
  FRAMES_PER_FAULT,
  type FaultRun,
  PASSING,
  everyFault,
  faultRun,
} from "../kit/link-faults.ts";
import { noiseRun } from "../kit/link-noise.ts";
import { loadCore, playScene, playTarget } from "../kit/play-scene.ts";
import { suiteCases, suiteFiles } from "../kit/regression-suite.ts";
import type { Figure, Measured } from "./figure.ts";

const RUNS = 1000;
const RIGHT_SHARE_MIN = 0.99;
const NOISE_BYTES = 10e6;
/** Printed, so that a figure can be measured again. */
const SEED = Number(process.env["TEST_SEED"] ?? "1");

async function suite(): Promise<Measured> {
  const files = suiteFiles();
  const [direct, device] = [loadCore(), loadCore()];
  let cases = 0;
  let different = 0;
  let megabytes = 0;
  let where = "";
  for (const file of files) {
    for (const made of suiteCases(file)) {
      const expected = await playScene(made, { core: direct });
      const bench = await linkBench({ core: device, device: { creditBytes: 8192 } });
      const { records, counters } = await bench.run(playTarget(bench.target, made));
      const isEqual =
        Buffer.compare(records, expected.records) === 0 &&
        JSON.stringify(counters) === JSON.stringify(expected.counters);
      cases += 1;
      megabytes += expected.records.byteLength / 1e6;
      if (isEqual) continue;
      different += 1;
      where ||= `; first ${file}`;
    }
  }
  return {
    text:
      `${files.length} files, ${cases} cases, ${megabytes.toFixed(0)} MB of records, ` +
      `${different} differ${where}`,
    isOk: files.length > 100 && different === 0,
  };
}

async function faults(): Promise<Measured> {
  const runs: FaultRun[] = [];
  for (let i = 0; i < RUNS; i += 1) runs.push(await faultRun(SEED + i, everyFault(PASSING)));
  const sum = (of: (run: FaultRun) => number): number =>
    runs.reduce((all, one) => all + of(one), 0);
  const right = sum((one) => Number(one.isRight));
  const hung = sum((one) => Number(one.isHung));
  const corrupt = sum((one) => Number(one.isCorrupt));
  const met = PASSING.map((name) => `${sum((one) => one.met[name])} ${name}`).join(", ");
  const longestS = Math.max(...runs.map((one) => one.timeMs)) / 1000;
  const repeated = sum((one) => one.framesRepeated) / sum((one) => one.framesSent);
  return {
    text:
      `${right} of ${RUNS} right, ${hung} hung, ${corrupt} took other bytes than were sent; ${met}; ` +
      `${(100 * repeated).toFixed(1)} % of frames repeated, longest run ${longestS.toFixed(0)} s of ` +
      `line time (seed ${SEED})`,
    isOk: right >= RIGHT_SHARE_MIN * RUNS && hung === 0 && corrupt === 0,
  };
}

async function cuts(): Promise<Measured> {
  let told = 0;
  let wrong = 0;
  for (let i = 0; i < RUNS / 10; i += 1) {
    for (const name of ["cut", "clog"] as const) {
      const direction = i % 2 === 0 ? "to device" : "to host";
      const fromFrame = 3 + ((SEED + i) % 60);
      const run = await faultRun(SEED + i, [{ name, direction, rate: 1, fromFrame }]);
      const first = run.error?.firstSample;
      const isTold =
        run.error?.kind === (name === "cut" ? "closed" : "no-answer") &&
        first !== undefined &&
        run.firstSamples.includes(first) &&
        first <= run.deviceNextSample;
      if (isTold && !run.isCorrupt) told += 1;
      else wrong += 1;
    }
  }
  return { text: `${told} told the first block lost, ${wrong} did not`, isOk: wrong === 0 };
}

async function noise(): Promise<Measured> {
  const parts = (["release", "debug"] as const).map((build) =>
    noiseRun(build, NOISE_BYTES / 2, SEED),
  );
  const sum = (of: (part: (typeof parts)[number]) => number): number =>
    parts.reduce((all, part) => all + of(part), 0);
  const missed = sum((part) => part.missed);
  const apart = parts.filter((part) => JSON.stringify(part.host) !== JSON.stringify(part.device));
  return {
    text:
      `${(sum((part) => part.bytes) / 1e6).toFixed(1)} million bytes, ` +
      `${sum((part) => part.pieces)} pieces of noise: no trap, ${missed} good packets missed after ` +
      `one, ${sum((part) => part.device["bad check"])} bad checks, host and device ` +
      `${apart.length === 0 ? "count alike" : "count otherwise"} (seed ${SEED})`,
    isOk: missed === 0 && apart.length === 0,
  };
}

export const LINK_FIGURES: Figure[] = [
  {
    id: "LINK-SUITE",
    what: "every scenario over a line in memory: records and counters against direct calls",
    required: "the same bytes",
    measure: suite,
  },
  {
    id: "LINK-FAULTS",
    what:
      `${RUNS} runs with 1 fault in ${FRAMES_PER_FAULT} frames, each way, of each of ` +
      PASSING.join(", "),
    required: "99 % end with the right bytes, none hangs, no other bytes are taken than were sent",
    measure: faults,
  },
  {
    id: "LINK-CUT",
    what: "lines that are cut or clogged at some frame",
    required: "each ends with an error that names the first block lost",
    measure: cuts,
  },
  {
    id: "LINK-FUZZ",
    what: "noise and mutated packets at the device, each piece followed by a good packet",
    required: "10 million bytes without a trap, every good packet answered",
    measure: noise,
  },
];
