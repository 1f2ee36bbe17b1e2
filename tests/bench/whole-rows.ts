// Whole runs: where the time of a flight goes, how it grows with length and with cases, and memory.
import { execFileSync } from "node:child_process";
import { join } from "node:path";
import { configurationBytes } from "../../host/profile/configuration.ts";
import { builtInCore } from "../../host/built-in-core.ts";
import { CASE_PARTS } from "../../harness/run/case-parts.ts";
import { judged } from "../../harness/run/case-task.ts";
import { runCase } from "../../harness/run/run-case.ts";
import { caseText } from "../../harness/results/case-file.ts";
import type { CaseResult } from "../../harness/results/types.ts";
import type { Scene } from "../../harness/scene/scene.ts";
import { CoreTarget } from "../../harness/target/core-target.ts";
import { makeWaveform } from "../../harness/waveform/waveform.ts";
import {
  channelSignal,
  monitorProfile,
  orderComponent,
  scene,
  shaftProfile,
} from "../kit/scene-builder.ts";
import { ROOT } from "../repo/source-files.ts";
import { type Spread, spreadOf } from "./timing.ts";

const BATCH_SAMPLES = 65_536;
/** A minute's steps of a flight are told as a share of an hour. */
const HOUR_S = 3600;

/** A program of this folder, in a process of its own, and what it printed as JSON. */
function told(folder: string, name: string, args: readonly number[]): unknown {
  const script = join(ROOT, "tests", folder, name);
  const words = ["--import", "tsx", script, ...args.map(String)];
  const said = execFileSync(process.execPath, words, { cwd: ROOT, encoding: "utf8" });
  return JSON.parse(said) as unknown;
}

export interface Flight {
  isRight: boolean;
  timesRealTime: number[];
  greatestMb: number;
}

/** Flights one after another in a fresh process. */
export const fly = (hours: number, positions: number, flights: number): Flight =>
  told("figures", "long-flight.ts", [hours, positions, flights]) as Flight;

export interface Campaign {
  isRight: boolean;
  seconds: number;
  cpuSeconds: number;
  greatestMb: number;
  reportBytes: number;
}

export const campaign = (count: number, seconds: number, jobs: number): Campaign =>
  told("bench", "many-cases.ts", [count, seconds, jobs]) as Campaign;

/** One channel, one filter, a dwell with company. */
function flight(durationS: number): Scene {
  return scene({
    name: "flight",
    durationS,
    profile: monitorProfile({ shafts: [shaftProfile()] }),
    channels: [
      channelSignal([
        orderComponent(1, 10, 30),
        orderComponent(2, 50, 80),
        orderComponent(3, 50, 10),
      ]),
    ],
  });
}

async function made(durationS: number): Promise<void> {
  const waveform = makeWaveform(flight(durationS));
  while (waveform.next(BATCH_SAMPLES) !== undefined);
}

async function carried(durationS: number): Promise<void> {
  const one = flight(durationS);
  const target = new CoreTarget(builtInCore());
  await target.configure(configurationBytes(one.profile));
  const waveform = makeWaveform(one);
  for (;;) {
    const batch = waveform.next(BATCH_SAMPLES);
    if (batch === undefined) break;
    // oxlint-disable-next-line no-await-in-loop -- batches in their order
    await target.feed(batch);
  }
}

async function verdictOf(durationS: number): Promise<CaseResult> {
  const target = new CoreTarget(builtInCore());
  return runCase(flight(durationS), target, new AbortController().signal, CASE_PARTS);
}

async function reported(durationS: number): Promise<void> {
  const result = await verdictOf(durationS);
  const { section } = judged(result, { repeat: "amberline run", isSampled: true });
  if (section.length + caseText(result).length === 0) throw new Error("nothing was drawn");
}

/** Seconds of CPU time of this process. */
async function cpuSeconds(work: () => Promise<void>): Promise<number> {
  const before = process.cpuUsage();
  await work();
  const { user, system } = process.cpuUsage(before);
  return (user + system) / 1e6;
}

export interface Shares {
  /** Times real time of all of it. */
  timesRealTime: Spread;
  /** Shares of the time, which sum to 1. */
  synthesis: number;
  core: number;
  judging: number;
  report: number;
}

/**
 * Where the time of a flight goes: made alone, carried by the core as well, judged as well, and
 * written and drawn as well, each in its turn. The parts are the differences of the medians.
 */
export async function shares(durationS: number, rounds: number): Promise<Shares> {
  const works = [made, carried, verdictOf, reported];
  const times: number[][] = works.map(() => []);
  for (let i = 0; i < rounds + 2; i += 1) {
    for (const [k, work] of works.entries()) {
      // oxlint-disable-next-line no-await-in-loop -- one at a time: what is timed is this process
      const seconds = await cpuSeconds(async () => void (await work(durationS)));
      // The first two rounds are compiled as they go.
      if (i >= 2) times[k]!.push(seconds);
    }
  }
  const spreads = times.map((one) => spreadOf(one));
  const [make, carry, judge, all] = spreads as [Spread, Spread, Spread, Spread];
  return {
    timesRealTime: {
      median: durationS / all.median,
      least: durationS / all.greatest,
      greatest: durationS / all.least,
    },
    synthesis: make.median / all.median,
    core: (carry.median - make.median) / all.median,
    judging: (judge.median - carry.median) / all.median,
    report: (all.median - judge.median) / all.median,
  };
}

export interface Growth {
  /** Seconds of CPU time a unit, between neighbouring sizes, what a start costs left out. */
  rows: { size: number; seconds: number; greatestMb: number }[];
  /** Greatest departure of the last two steps' slopes from one another, as a share. */
  departure: number;
}

/** Slopes between neighbouring sizes are free of what a start costs. */
export function growthOf(rows: Growth["rows"]): Growth {
  const slopes = rows.slice(1).map((row, i) => {
    const before = rows[i]!;
    return (row.seconds - before.seconds) / (row.size - before.size);
  });
  const [one, other] = slopes.slice(-2) as [number, number];
  return { rows, departure: Math.abs(other / one - 1) };
}

const GROWTH_ROUNDS = 3;

/** The least CPU time of several rounds of all sizes: a slow moment of the machine is no growth. */
function leastOf(
  sizes: readonly number[],
  timed: (size: number) => { seconds: number; greatestMb: number },
): Growth {
  const rows = sizes.map((size) => ({ size, seconds: Infinity, greatestMb: 0 }));
  for (let i = 0; i < GROWTH_ROUNDS; i += 1) {
    for (const row of rows) {
      const { seconds, greatestMb } = timed(row.size);
      row.seconds = Math.min(row.seconds, seconds);
      row.greatestMb = Math.max(row.greatestMb, greatestMb);
    }
  }
  return growthOf(rows);
}

/** Flights of 2, 6 and 10 h in fresh processes: what is compiled on the way is, by then. */
export function growthWithLength(): Growth {
  return leastOf([2, 6, 10], (hours) => {
    const { timesRealTime, greatestMb } = fly(hours, 1, 1);
    return { seconds: (hours * HOUR_S) / timesRealTime[0]!, greatestMb };
  });
}

/** Cases of half a second. */
export function growthWithCases(counts: readonly number[]): Growth {
  return leastOf(counts, (count) => {
    const { cpuSeconds: seconds, greatestMb } = campaign(count, 0.5, 1);
    return { seconds, greatestMb };
  });
}
