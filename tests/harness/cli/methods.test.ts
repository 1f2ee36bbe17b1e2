// `--methods` on `run` and `replay`, through the command line.
import { mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import type { CaseResult, Summary } from "../../../harness/results/types.ts";
import { METHOD_SAMPLES_MAX } from "../../../harness/run/method-recorder.ts";
import type { Ended } from "../../kit/amberline-command.ts";
import { amberlineHere } from "../../kit/amberline-here.ts";
import { toneRows, toneWav } from "../../kit/small-recording.ts";
import { scenarioText, writeScenarios } from "../../kit/small-scenario.ts";

let folder = "";
const path = (...names: string[]): string => join(folder, ...names);

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "amberline methods "));
  writeScenarios(folder, { steady: scenarioText({ duration: "4 s" }) });
  writeFileSync(path("tone.csv"), `${toneRows(16_000).join("\n")}\n`);
  writeFileSync(path("device.device.yaml"), "device: none\n");
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const run = (...more: string[]): Promise<Ended> =>
  amberlineHere(["run", path("steady.scenario.yaml"), "--out", path("out"), ...more]);

function caseFile(): CaseResult {
  const [name] = readdirSync(path("out", "cases")).filter((one) => one.endsWith(".json"));
  return JSON.parse(readFileSync(path("out", "cases", name!), "utf8")) as CaseResult;
}

describe("--methods on run", () => {
  it("[CLI-210] puts second opinions beside each level: terminal, case file, report", async () => {
    const { code, stdout } = await run("--methods");
    expect(code).toBe(0);
    expect(stdout).toMatch(/second opinions: fan 4 of 4 agree/);
    expect(stdout).toMatch(/Second opinions: 4 agree, 0 differ, 0 do not apply\./);
    for (const line of stdout.split("\n")) {
      if (!line.includes(folder)) expect(line.length).toBeLessThanOrEqual(80);
    }
    const { methods } = caseFile();
    expect(methods!.filters[0]!.opinions.map(({ verdict }) => verdict)).toEqual([
      "agrees",
      "agrees",
      "agrees",
      "agrees",
    ]);
    expect(methods!.maps.length).toBe(1);
    const report = readFileSync(path("out", "report.html"), "utf8");
    expect(report).toContain("What each method says of fan, order 1");
    expect(report).toMatch(/--only steady --seed 1 --methods/);
  });

  it("[CLI-211] a run that is gone on with does a case again that has none yet", async () => {
    await run("--replace");
    expect(caseFile().methods).toBeUndefined();
    const { stdout } = await run("--methods", "--resume");
    expect(stdout).not.toContain("not run again");
    expect(caseFile().methods).toBeDefined();
    expect((await run("--methods", "--resume")).stdout).toContain("1 case was in the folder");
  });

  it("[CLI-212] the same bytes again; without it a summary holds nothing of them", async () => {
    await run("--methods", "--replace");
    const first = JSON.stringify(caseFile());
    await run("--methods", "--replace");
    expect(JSON.stringify(caseFile())).toBe(first);
    await run("--replace");
    const summary = JSON.parse(readFileSync(path("out", "summary.json"), "utf8")) as Summary;
    expect(summary.cases[0]!.methods).toBeUndefined();
  });

  it("[CLI-213] goes without --device, which has no vector", async () => {
    const { code, stderr } = await run("--methods", "--device", path("device.device.yaml"));
    expect(code).toBe(2);
    expect(stderr).toContain("--methods goes without --device");
  });
});

describe("--methods on replay", () => {
  it("[CLI-214] puts second opinions beside the levels of a recording", async () => {
    const call = ["replay", path("tone.csv"), "--tachometer", "tach", "--bandwidth", "2 Hz"];
    call.push("--channel", "a", "--methods", "--out", path("replay"));
    const { code, stdout } = await amberlineHere(call);
    expect(code).toBe(0);
    const said = stdout.replaceAll(/\s+/g, " ");
    expect(said).toMatch(/Second opinions on [^:]+: \d of 4 agree/);
    expect(said).not.toContain("DIFFER");
    const page = readFileSync(path("replay", "report.html"), "utf8");
    expect(page).toContain("spectrum over time");
    const result = JSON.parse(readFileSync(path("replay", "replay.json"), "utf8")) as {
      methods: { filters: { opinions: { curve: { level: number[] } }[] }[] };
    };
    // A tone of 3 pk, as order tracking reads it without the firmware.
    const levels = result.methods.filters[0]!.opinions[0]!.curve.level.filter((one) => one >= 0);
    for (const level of levels) expect(Math.abs(level - 3)).toBeLessThan(0.003);
  });

  it("[CLI-215] refuses what is too long for it, with the way out", async () => {
    writeFileSync(path("long.wav"), toneWav(METHOD_SAMPLES_MAX + 10));
    const call = ["replay", path("long.wav"), "--speed", "20 rev/s", "--methods"];
    const { code, stderr } = await amberlineHere([...call, "--out", path("long")]);
    expect(code).toBe(2);
    expect(stderr.replaceAll(/\s+/g, " ")).toMatch(
      /keeps 8000000 samples; the stretch has 8000010: --from and --until take a part/,
    );
  });
});
