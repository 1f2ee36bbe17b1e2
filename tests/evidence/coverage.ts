// Branch coverage of the firmware: `npm run coverage`. Its source is counted (branches.ts), built as
// it always is, and the tests that play to it are run on that build; what they leave out is told by
// file and line, and all of it as coverage/lcov.info.
import { mkdirSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { ROOT } from "../repo/source-files.ts";
import { type Branch, COUNTING_PATH, CountedFile, countingSource } from "./branches.ts";
import { lcovOf } from "./lcov.ts";
import { firmwareFiles, sourceOf } from "./syntax.ts";
import { UNREACHED, isListed } from "./unreached.ts";
import { WorkCopy } from "./work-copy.ts";

/** Ways that may be listed as not to be reached. */
const LISTED_MAX = 10;

/** Tests that play to the firmware itself; those of its C need no count. */
const TESTS = [
  "tests/assembly",
  "tests/harness/scenarios/golden.test.ts",
  "tests/harness/scenarios/suite.test.ts",
  "tests/host/link",
  "tests/host/profile/firmware.prop.test.ts",
  "tests/harness/target/link-target.test.ts",
];

function counted(): { branches: Branch[]; counts: number[] } {
  const copy = new WorkCopy();
  const folder = mkdtempSync(join(tmpdir(), "amberline-counts-"));
  try {
    const branches: Branch[] = [];
    for (const path of firmwareFiles()) {
      const file = new CountedFile(path, sourceOf(path), branches.length);
      branches.push(...file.branches);
      copy.put(path, file.counted);
    }
    copy.put(COUNTING_PATH, countingSource(branches.length));
    copy.build(["release", "debug"]);
    const done = copy.test(TESTS, {
      config: "tests/evidence/vitest.coverage.config.ts",
      env: { BRANCH_COUNTS: folder },
      isLoud: true,
    });
    if (done.status !== 0) throw new Error("the tests fail on the counted build");
    return { branches, counts: sumOf(folder, branches.length) };
  } finally {
    copy.remove();
    rmSync(folder, { recursive: true, force: true });
  }
}

function sumOf(folder: string, length: number): number[] {
  const counts = Array.from({ length }, () => 0);
  for (const name of readdirSync(folder)) {
    const entries = JSON.parse(readFileSync(join(folder, name), "utf8")) as [
      string,
      number | null,
    ][];
    for (const [way, count] of entries) counts[Number(way)]! += count ?? 0;
  }
  return counts;
}

/** A line for each file, then each way that was not taken. */
function report(branches: readonly Branch[], counts: readonly number[]): number {
  const paths = [...new Set(branches.map(({ path }) => path))];
  for (const path of paths) {
    const own = branches.flatMap((one, i) => (one.path === path ? [counts[i]!] : []));
    const met = own.filter((count) => count > 0).length;
    const share = ((100 * met) / own.length).toFixed(1).padStart(5);
    process.stdout.write(
      `${share} %  ${String(met).padStart(4)} of ${String(own.length).padStart(4)}  ${path}\n`,
    );
  }
  const open = branches.filter((_, i) => counts[i] === 0);
  const listed = open.filter((one) => isListed(one));
  const missed = open.filter((one) => !isListed(one));
  for (const { path, line, inside, kind, text, way } of missed) {
    process.stdout.write(`not taken  ${path}:${line} in ${inside}: ${kind} ${text} is ${way}\n`);
  }
  const idle = UNREACHED.filter((entry) => !open.some((one) => isListed(one, [entry])));
  for (const { path, text, way } of idle) {
    process.stdout.write(
      `listed as not to be reached, and reached or gone: ${path}: ${text} ${way}\n`,
    );
  }
  const met = branches.length - open.length;
  process.stdout.write(
    `branches ${met} of ${branches.length} taken, ${listed.length} listed, ${missed.length} missed\n`,
  );
  const isLong = UNREACHED.length > LISTED_MAX;
  if (isLong)
    process.stdout.write(`more than ${LISTED_MAX} ways are listed as not to be reached\n`);
  return missed.length + idle.length + (isLong ? 1 : 0);
}

const { branches, counts } = counted();
const out = join(ROOT, "coverage");
mkdirSync(out, { recursive: true });
writeFileSync(join(out, "lcov.info"), lcovOf(branches, counts));
process.exitCode = report(branches, counts) > 0 ? 1 : 0;
