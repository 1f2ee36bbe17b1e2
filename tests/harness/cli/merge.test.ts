// Shards of a run, and their merge: what one run of all cases would have left, byte for byte.
import { cpSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { readSummary } from "../../../harness/results/results-folder.ts";
import { amberlineHere } from "../../kit/amberline-here.ts";
import { expectSameResults } from "../../kit/results-bytes.ts";
import { scenarioText, writeScenarios } from "../../kit/small-scenario.ts";

const TIME_OUT_MS = 300_000;
/** More than a report draws of right cases. */
const MANY = 240;
const SHARDS = 3;
let folder = "";
const at = (...names: string[]): string => join(folder, ...names);

/** A table: one case a row. */
function tableText(rows: number): string {
  const lines = Array.from({ length: rows }, (_, i) => `  - [row ${i + 1}, ${i + 1} mil pk-pk]`);
  const text = scenarioText({ amplitude: "$amplitude", duration: "1 s" });
  return `${text}cases:\n  - [case, amplitude]\n${lines.join("\n")}\n`;
}

async function run(out: string, ...args: string[]) {
  const ended = await amberlineHere(["run", ...args, "--jobs", "1", "--out", at(out)]);
  expect(ended.stderr).not.toMatch(/mistake of its own/);
  return ended;
}
const merge = (out: string, ...args: string[]) =>
  amberlineHere(["merge", ...args, "--out", at(out)]);
const told = async (out: string, ...args: string[]): Promise<string> => {
  const { code, stderr } = await merge(out, ...args);
  expect(code).toBe(2);
  return stderr.replace(/\s+/g, " ");
};

const parts = Array.from({ length: SHARDS }, (_, i) => `part-${i + 1}`);

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), "amberline merge "));
  writeScenarios(folder, {
    low: scenarioText(),
    high: scenarioText({ amplitude: "3 in/s pk" }),
    third: scenarioText({ amplitude: "2 in/s pk" }),
    never: scenarioText({ amplitude: "3 in/s pk", more: "expect:\n  caution never: [fan]\n" }),
    many: tableText(MANY),
  });
  const files = ["low", "high", "third", "never", "many"].map((name) =>
    at(`${name}.scenario.yaml`),
  );
  await run("all", ...files, "--keep-records");
  for (const [i, part] of parts.entries()) {
    // Shards run anywhere and in any order: here one after another.
    // oxlint-disable-next-line no-await-in-loop
    await run(part, ...files, "--keep-records", "--shard", `${i + 1}/${SHARDS}`);
  }
}, TIME_OUT_MS);
afterAll(() => {
  rmSync(folder, { recursive: true, force: true });
});

describe("amberline merge", { timeout: TIME_OUT_MS }, () => {
  it("[MERGE-001] leaves what one run of all cases leaves, in whatever order shards are named", async () => {
    const { code, stdout } = await merge("joined", ...parts.toReversed().map((one) => at(one)));
    expect(code).toBe(1);
    expect(stdout).toContain(`${MANY + 4} cases: ${MANY + 3} right, 1 WRONG`);
    expectSameResults(at("all"), at("joined"));
    const counts = parts.map((one) => readSummary(at(one)).caseCount);
    expect(counts.reduce((sum, one) => sum + one, 0)).toBe(MANY + 4);
    expect(Math.min(...counts)).toBeGreaterThan(0);
  });

  it("[MERGE-002] a shard is gone on with by --resume, and an empty one is a right run", async () => {
    const files = ["low", "high"].map((name) => at(`${name}.scenario.yaml`));
    const names: string[] = [];
    for (let k = 1; k <= 8; k += 1) {
      // oxlint-disable-next-line no-await-in-loop
      const { code, stdout } = await run(`few-${k}`, ...files, "--shard", `${k}/8`);
      expect(code).toBe(0);
      expect(stdout).toContain(`Shard ${k} of 8, of 2 cases in all; merge joins them.`);
      names.push(at(`few-${k}`));
    }
    expect(names.some((one) => readSummary(one).caseCount === 0)).toBe(true);
    expect((await merge("few", ...names)).code).toBe(0);
    await run("two", ...files);
    expectSameResults(at("two"), at("few"));
    const again = await run("part-1", ...files, "--shard", "1/8", "--resume");
    expect(again.code).toBe(2);
    expect(again.stderr.replace(/\s+/g, " ")).toContain("that this call does not have");
  });

  it("[MERGE-003] says which shards are missing, twice there or of another call", async () => {
    const [one, two, three] = parts.map((name) => at(name)) as [string, string, string];
    expect(await told("x", one, three)).toContain("shard 2 of 3 is not there; --part joins");
    expect(await told("x", one)).toContain("shards 2, 3 of 3 are not there");
    cpSync(one, at("copy"), { recursive: true });
    expect(await told("x", one, at("copy"), two, three)).toContain("is shard 1 of 3, and so is");
    expect(await told("x", one, one)).toContain("is named twice");
    expect(await told("part-1", one, two, three)).toContain("--out must be another");
    expect(await told("x", one, two, at("two"))).toContain("shards 1, and of");
    await run("seeded", at("low.scenario.yaml"), "--shard", "3/3", "--seed", "5");
    expect(await told("x", one, two, at("seeded"))).toContain("not parts of one call");
    expect(await told("joined", one, two, three)).toContain("--replace puts the new ones");
    const part = await merge("some", one, three, "--part");
    expect(part.code).toBe(readSummary(at("some")).wrongCount > 0 ? 1 : 0);
    expect(part.stderr).toContain("Not there: shard 2.");
    expect(readSummary(at("some")).plannedCount).toBe(MANY + 4);
    expect(readFileSync(at("some", "report.html"), "utf8")).toContain(" cases ended");
  });

  it("[MERGE-004] tells a folder that has not ended, was cut off, or is harmed, by its file", async () => {
    const [one, two] = parts.map((name) => at(name)) as [string, string];
    const harmed = (change: (root: string) => void): string => {
      const root = at("harmed");
      rmSync(root, { recursive: true, force: true });
      cpSync(at("part-3"), root, { recursive: true });
      change(root);
      return root;
    };
    const tell = (change: (root: string) => void) => told("x", one, two, harmed(change));
    const change = (root: string, name: string, edit: (value: Record<string, unknown>) => void) => {
      const value = JSON.parse(readFileSync(join(root, name), "utf8")) as Record<string, unknown>;
      edit(value);
      writeFileSync(join(root, name), JSON.stringify(value));
    };
    expect(await tell((root) => rmSync(join(root, "run.json")))).toContain("the run has not ended");
    expect(await tell((root) => writeFileSync(join(root, "run.json"), "{"))).toContain(
      "not a whole JSON file",
    );
    expect(await tell((root) => change(root, "run.json", (note) => (note["cases"] = 3)))).toContain(
      'no note of a run as this program writes it, by "cases"',
    );
    expect(
      await tell((root) =>
        change(root, "summary.json", (summary) => {
          summary["caseCount"] = 1;
        }),
      ),
    ).toContain("was cut off after 1 of");
    const first = readdirSync(at("part-3", "cases")).find((name) => name.endsWith(".json"))!;
    expect(await tell((root) => writeFileSync(join(root, "cases", first), "{"))).toContain(first);
    expect(readdirSync(at("x", "cases"))).toEqual([]);
    expect(await tell((root) => rmSync(join(root, "cases", first)))).toContain(
      "has no file cases/",
    );
    expect(
      await tell((root) => change(root, join("cases", first), (held) => (held["name"] = "other"))),
    ).toContain("as run.json has it");
    expect(
      await tell((root) =>
        change(root, "run.json", (note) => {
          (note["cases"] as unknown[]).pop();
        }),
      ),
    ).toContain("a scenario was changed between them");
    expect(
      await tell((root) =>
        change(root, "summary.json", (summary) => {
          (summary["target"] as Record<string, unknown>)["identity"] = "0123456789abcdef";
        }),
      ),
    ).toContain("target's identity 0123456789abcdef");
    const mixed = await merge("mixed", one, two, at("harmed"), "--mixed");
    expect(mixed.code).toBe(1);
    expect(readSummary(at("mixed")).target.identity).toBe("mixed");
    expect(await told("x", at("nowhere"))).toContain("run.json: cannot be read");
  });

  it("[MERGE-005] the report of many cases draws every wrong one and a stated sample", () => {
    const page = readFileSync(at("all", "report.html"), "utf8");
    const drawn = page.match(/<section[^>]* id="case-/g) ?? [];
    const { cases } = readSummary(at("all"));
    expect(drawn.length).toBeLessThanOrEqual(201);
    expect(drawn.length).toBeGreaterThan(195);
    const wrong = cases.find((one) => !one.isRight)!;
    expect(page).toContain(`id="case-${wrong.id}"`);
    expect(page).toContain(`Of ${MANY + 4} cases this page shows every one that is wrong, and`);
    expect(readFileSync(at("two", "report.html"), "utf8")).not.toContain("this page shows");
    for (const link of page.matchAll(/href="#(case-[0-9a-f]+)"/g)) {
      expect(page).toContain(`id="${link[1]}"`);
    }
  });

  it.each(["0/3", "4/3", "1", "1/0", "a/b", "1/3/5", "-1/3", "1/10001", "1.5/3"])(
    "[MERGE-006] --shard %s ends with 2 and says what is meant",
    async (shard) => {
      const { code, stderr } = await run("y", at("low.scenario.yaml"), "--shard", shard);
      expect(code).toBe(2);
      expect(stderr).toContain("k/n is needed, k from 1 to n");
    },
  );
});
