// Mutation testing of the firmware: `npm run mutation -- [--sample N] [--seed N] [--only PATH]`.
// Without --sample 520 mutants over all files; each is built and run against the tests. What survives
// and is not listed (equivalent.ts) fails the command, as does a share under what is required.
// With --thorough what its file's own tests do not notice is held against every test that plays to the
// firmware, at once. With --again the last run is brought up to date in that way: what was not killed,
// what stands in a file of the firmware that has changed since, and as many others as have gone.
import { fork } from "node:child_process";
import { createHash } from "node:crypto";
import { mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { parseArgs } from "node:util";
import { xoroshiro128plus } from "pure-rand/generator/xoroshiro128plus";
import { uniformInt } from "pure-rand/distribution/uniformInt";
import { ROOT } from "../repo/source-files.ts";
import { shareInterval } from "../tolerance/binomial.ts";
import { equivalenceOf } from "./equivalent.ts";
import type { Outcome } from "./mutant-worker.ts";
import { type Mutant, mutantsOf } from "./mutants.ts";
import { firmwareFiles, sourceOf } from "./syntax.ts";

const SAMPLE = 520;
/** Of so many the shares themselves are judged. */
const WHOLE = 500;
const CONFIDENCE = 0.99;
/** Of each file, where it has so many. */
const FILE_MIN = 4;
const KILLED_MIN = 0.9;
const EQUIVALENT_MAX = 0.03;
/** What ends in no time says little; more of it would leave too few that were judged. */
const TIMED_OUT_MAX = 0.05;
/** A build and the golden bytes, some 5 s of processor time on a machine with other work to do. */
const GOLDEN_MS_MAX = 60_000;
/** Two more builds and the tests, which have a limit of their own, three times at most. */
const TESTS_MS_MAX = 900_000;
const JOBS = 2;

/** A seeded choice over all files, each with its share. */
function chosen(all: readonly Mutant[], count: number, seed: number): Mutant[] {
  const random = xoroshiro128plus(seed);
  const paths = [...new Set(all.map(({ path }) => path))];
  const least = count < paths.length * FILE_MIN ? 0 : FILE_MIN;
  return paths.flatMap((path) => {
    const own = all.filter((one) => one.path === path);
    // Shares are cut so that they sum to the count.
    const before = all.findIndex((one) => one.path === path);
    const at = (n: number): number => Math.round((n * count) / all.length);
    const share = at(before + own.length) - at(before);
    const wanted = Math.min(own.length, Math.max(least, share));
    for (let k = 0; k < wanted; k += 1) {
      const pick = uniformInt(random, k, own.length - 1);
      [own[k], own[pick]] = [own[pick]!, own[k]!];
    }
    return own.slice(0, wanted);
  });
}

interface Judged {
  mutant: Mutant;
  outcome: Outcome;
  /** Digest of the file that was changed, as it stood. */
  source: string;
  /** It was held against every test that plays to the firmware. */
  isThorough: boolean;
}

function digestOf(path: string): string {
  return createHash("sha256").update(sourceOf(path)).digest("hex");
}

/** One worker that takes mutants until there are none. */
async function work(next: () => Mutant | undefined, tell: (one: Judged) => void): Promise<void> {
  for (;;) {
    const more = isThorough ? ["--thorough"] : [];
    const child = fork(join(import.meta.dirname, "mutant-worker.ts"), more, {
      execArgv: ["--import", "tsx"],
    });
    const answer = (firstMs: number): Promise<{ outcome?: Outcome }> =>
      new Promise((resolve) => {
        const limit = (ms: number, by: string): NodeJS.Timeout =>
          setTimeout(() => done({ outcome: { kind: "timed out", by } }), ms);
        let late = limit(firstMs, "golden bytes");
        const done = (message: { outcome?: Outcome; isAtTests?: boolean }): void => {
          clearTimeout(late);
          if (message.isAtTests === true) {
            late = limit(TESTS_MS_MAX, "tests");
            return;
          }
          child.removeAllListeners();
          resolve(message);
        };
        child.on("message", done);
        child.once("exit", (code, signal) => {
          done({ outcome: { kind: "no outcome", by: `exit ${code ?? signal}` } });
        });
      });
    // The suite's waveforms are made first.
    await answer(TESTS_MS_MAX);
    for (;;) {
      const mutant = next();
      if (mutant === undefined) {
        child.send({});
        return;
      }
      const heard = answer(GOLDEN_MS_MAX);
      child.send({ mutant });
      const { outcome } = await heard;
      if (outcome === undefined) throw new Error(`no answer to ${lineOf(mutant)}`);
      tell({ mutant, outcome, source: digestOf(mutant.path), isThorough });
      if (outcome.kind === "timed out" || outcome.kind === "no outcome") {
        child.kill("SIGKILL");
        break;
      }
    }
  }
}

function lineOf({ path, line, kind, was, becomes }: Mutant): string {
  return `${path}:${line} ${kind}: ${was}  ->  ${becomes}`;
}

function isSame(a: Mutant, b: Mutant): boolean {
  return a.path === b.path && a.edit.from === b.edit.from && a.edit.put === b.edit.put;
}

function report(judged: readonly Judged[]): number {
  const of = (kind: Outcome["kind"]): Judged[] => judged.filter((one) => one.outcome.kind === kind);
  const none = [...of("no build"), ...of("same build")];
  const mutants = judged.filter((one) => !none.includes(one));
  const late = of("timed out");
  // A worker that ended by itself says nothing of its mutant: it is told, and the command fails.
  const lost = of("no outcome");
  const counted = mutants.length - late.length - lost.length;
  const killed = of("killed").length + of("trapped").length;
  const survived = of("survived");
  const equivalent = survived.filter(({ mutant }) => equivalenceOf(mutant) !== undefined);
  const open = survived.filter((one) => !equivalent.includes(one));
  const noticed = [...of("killed"), ...of("trapped")];
  const untrue = noticed.filter(({ mutant }) => equivalenceOf(mutant) !== undefined);
  const share = killed / counted;
  process.stdout.write(
    `${mutants.length} mutants (${of("no build").length} more do not build, ` +
      `${of("same build").length} give the firmware's own bytes): ` +
      `${killed} killed (${of("trapped").length} of them by a trap), ${survived.length} survived, ` +
      `${equivalent.length} of them equivalent, ${late.length} timed out\n` +
      `killed ${(100 * share).toFixed(1)} % of ${counted}\n`,
  );
  for (const { mutant } of open) process.stdout.write(`survived  ${lineOf(mutant)}\n`);
  for (const { mutant } of late) process.stdout.write(`timed out  ${lineOf(mutant)}\n`);
  for (const { mutant } of lost) process.stdout.write(`no outcome  ${lineOf(mutant)}\n`);
  for (const { mutant } of untrue) process.stdout.write(`not equivalent  ${lineOf(mutant)}\n`);
  // A sample of the whole is judged by what it can say: its intervals must reach the limits.
  const isWhole = mutants.length >= WHOLE;
  const shareOf = (count: number, all: number): number =>
    isWhole ? count / all : shareInterval(count, all, CONFIDENCE).low;
  const isGood =
    shareOf(late.length, mutants.length) <= TIMED_OUT_MAX &&
    shareOf(counted - killed, counted) <= 1 - KILLED_MIN &&
    shareOf(equivalent.length, counted) <= EQUIVALENT_MAX &&
    (isWhole || !isWholeAsked) &&
    open.length + lost.length + untrue.length === 0;
  return isGood ? 0 : 1;
}

const { values } = parseArgs({
  options: {
    sample: { type: "string" },
    seed: { type: "string", default: "1" },
    only: { type: "string" },
    again: { type: "boolean", default: false },
    thorough: { type: "boolean", default: false },
    jobs: { type: "string", default: String(JOBS) },
  },
});
const isThorough = values.again || values.thorough;
const RESULTS = join(ROOT, "coverage", "mutants.json");
mkdirSync(dirname(RESULTS), { recursive: true });
const isMeant = ({ path }: Mutant): boolean =>
  values.only === undefined || path.includes(values.only);
const all = firmwareFiles().flatMap((path) => mutantsOf(path, sourceOf(path)));

/** The last run, as far as its mutants are there. */
function lastRun(): Judged[] {
  const told = JSON.parse(readFileSync(RESULTS, "utf8")) as Judged[];
  return told.flatMap(({ mutant, ...rest }) => {
    // By text, since a line may have moved; of equal ones the nearest.
    const same = ({ path, was, becomes }: Mutant): boolean =>
      path === mutant.path && was === mutant.was && becomes === mutant.becomes;
    const away = (one: Mutant): number => Math.abs(one.edit.from - mutant.edit.from);
    const [now] = all.filter(same).toSorted((a, b) => away(a) - away(b));
    return now === undefined ? [] : [{ mutant: now, ...rest }];
  });
}

/** As many as are wanted: what was chosen before, and in the place of what has gone the next ones. */
function filledUp(before: readonly Mutant[], count: number): Mutant[] {
  const isNew = (one: Mutant): boolean => !before.some((known) => isSame(known, one));
  const more = chosen(meant, 2 * count, Number(values.seed)).filter(isNew);
  return more.slice(0, Math.max(0, count - before.length));
}

const before = values.again ? lastRun() : [];
/** A mutant that is listed as equivalent needs to have survived everything once. */
const isOver = ({ mutant, outcome, source, isThorough: isDone }: Judged): boolean =>
  !isMeant(mutant) ||
  (source === digestOf(mutant.path) &&
    (["killed", "trapped", "no build", "same build"].includes(outcome.kind) ||
      (outcome.kind === "survived" && isDone && equivalenceOf(mutant) !== undefined)));
const judged: Judged[] = before.filter(isOver);
const meant = all.filter(isMeant);
const wanted = Math.min(meant.length, Number(values.sample ?? SAMPLE));
const isWholeAsked = values.sample === undefined && values.only === undefined;
const known = before.map(({ mutant }) => mutant);
const queue = values.again
  ? [
      ...before.filter((one) => !isOver(one)).map(({ mutant }) => mutant),
      ...(isWholeAsked ? filledUp(known, SAMPLE) : []),
    ]
  : chosen(meant, wanted, Number(values.seed));
process.stdout.write(`${queue.length} of ${meant.length} mutants, seed ${values.seed}\n`);
let at = 0;
const next = (): Mutant | undefined => queue[at++];
const tell = (one: Judged): void => {
  judged.push(one);
  const by = "by" in one.outcome ? ` by ${one.outcome.by}` : "";
  process.stdout.write(`${judged.length}  ${one.outcome.kind}${by}  ${lineOf(one.mutant)}\n`);
  // A run that is cut off is gone on with: what waits is kept as it was told before.
  const isWaiting = ({ mutant }: Judged): boolean =>
    !judged.some((done) => isSame(done.mutant, mutant));
  const waiting = before.filter(isWaiting);
  writeFileSync(RESULTS, `${JSON.stringify([...judged, ...waiting], undefined, 2)}\n`);
};
await Promise.all(Array.from({ length: Number(values.jobs) }, () => work(next, tell)));
process.exitCode = report(judged);
