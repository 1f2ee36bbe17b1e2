// A list of requirements against a run, as a user calls it.
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { readSummary } from "../../../harness/results/results-folder.ts";
import { amberline } from "../../kit/amberline-command.ts";
import { scenarioText, writeScenarios } from "../../kit/small-scenario.ts";
import { readProjectFile } from "../../repo/source-files.ts";

const folder = mkdtempSync(join(tmpdir(), "amberline-proof-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const LIST = `requirements:
  - id: OWN-1
    text: A low level brings no <caution>.
    source: { kind: standard, cite: clause 4 }
    scenarios: [low]
  - { id: OWN-2, text: It is fast., source: { kind: this project }, scenarios: [never, gone] }
  - { id: OWN-3, text: It is right., source: { kind: common practice }, tests: [ABC-1] }
`;

beforeAll(() => {
  writeScenarios(folder, {
    low: scenarioText(),
    never: scenarioText({ amplitude: "3 in/s pk", more: "expect:\n  caution never: [fan]\n" }),
    named: scenarioText({ more: "requirements: [OWN-3, OWN-9]\n" }),
  });
  writeFileSync(join(folder, "own.yaml"), LIST);
});

const run = (...args: string[]) => amberline(["run", ...args], { cwd: folder });

describe("amberline run --requirements", () => {
  it("[REQ-020] tells what the cases prove, on the terminal, in the report and as JSON", async () => {
    const files = ["low", "never", "named"].map((name) => `${name}.scenario.yaml`);
    const ended = await run(...files, "--requirements", "own.yaml", "--out", "a");
    expect(ended.code).toBe(1);
    expect(ended.stdout).toContain("Requirements of own.yaml: 2 proven, 1 NOT MET.");
    expect(ended.stdout).toContain("named names OWN-9, which is no requirement of the list.");
    const { requirements } = readSummary(join(folder, "a"));
    expect(requirements!.rows.map(({ id, state }) => [id, state])).toEqual([
      ["OWN-1", "proven"],
      ["OWN-2", "not met"],
      ["OWN-3", "proven"],
    ]);
    const page = readFileSync(join(folder, "a", "report.html"), "utf8");
    expect(page).toContain('<details class="requirements" open>');
    expect(page).toContain("A low level brings no &lt;caution&gt;.");
    expect(page).toContain("gone: not run");
    for (const told of [ended.stdout.replace(/\s+/g, " "), page]) {
      expect(told).toContain("not run: gone (no scenario of this run has this path)");
    }
  });

  it("[REQ-021] a list that is none is told before anything is run, code 2", async () => {
    writeFileSync(join(folder, "bad.yaml"), LIST.replace("scenarios: [low]", "tests: []"));
    const bad = await run("low.scenario.yaml", "--requirements", "bad.yaml", "--out", "b");
    expect(bad.code).toBe(2);
    expect(bad.stderr).toContain("bad.yaml:2:5: row 1 of requirements has no proof");
    const none = await run("low.scenario.yaml", "--requirements", "none.yaml", "--out", "b");
    expect(none.code).toBe(2);
  });

  it("[REQ-022] of the project's own list nothing is said where it says nothing of a run", async () => {
    const ended = await run("low.scenario.yaml", "--out", "c");
    expect(ended.stdout).not.toContain("Requirements");
    expect(readSummary(join(folder, "c")).requirements).toBeUndefined();
  });

  it("[REQ-024] the README's example of a list proves what the README says that it does", async () => {
    const section = readProjectFile("README.md").split("## Requirements of your own")[1]!;
    const list = /```yaml\n([\s\S]*?)```/.exec(section)![1]!;
    const command = /```sh\nnpx amberline (.*)\n```/.exec(section)![1]!;
    const said = /"(Requirements of my-list\.yaml: [^"]+)"/.exec(section)![1]!;
    expect((await amberline(["new", "my-engine"], { cwd: folder })).code).toBe(0);
    writeFileSync(join(folder, "my-list.yaml"), list);
    const ended = await amberline([...command.split(" "), "--out", "readme"], { cwd: folder });
    expect(ended.code, ended.stderr).toBe(0);
    expect(ended.stdout).toContain(said);
    const page = readFileSync(join(folder, "readme", "report.html"), "utf8");
    for (const words of [
      "my-engine/first: 2 of 2",
      "BENCH-12",
      "regulation, 14 CFR 25.1322(a)(3)",
    ]) {
      expect(page).toContain(words);
    }
  });

  it("[REQ-025] a case that --only leaves out leaves the requirement in part", async () => {
    const engine = join(folder, "part");
    expect((await amberline(["new", engine], { cwd: folder })).code).toBe(0);
    const list = LIST.replace("[low]", "[part/first.scenario.yaml]");
    writeFileSync(join(folder, "part.yaml"), list.replace("[never, gone]", "[nowhere/first]"));
    const asked = ["part", "--requirements", "part.yaml"];
    const whole = await run(...asked, "--out", "whole");
    expect(whole.stdout).toContain("Requirements of part.yaml: 1 proven, 2 not run.");
    const some = await run(...asked, "--only", "below", "--out", "some");
    expect(some.code, some.stderr).toBe(0);
    expect(some.stdout).toContain("Requirements of part.yaml: 0 proven, 1 in part, 2 not run.");
    const page = readFileSync(join(folder, "some", "report.html"), "utf8");
    expect(page).toContain("part/first: 1 of 1, 1 not run");
    // From inside the folder the path is the same.
    const args = ["run", "first.scenario.yaml", "--requirements", "../part.yaml", "--out", "in"];
    const inside = await amberline(args, { cwd: engine });
    expect(inside.stdout).toContain("1 proven, 2 not run.");
  });
});
