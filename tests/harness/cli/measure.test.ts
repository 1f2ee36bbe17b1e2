import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { CAUTION_SENTENCE } from "../../../host/caution-sentence.ts";
import type { Measurement } from "../../../harness/measure/measurement.ts";
import { rowLines } from "../../../harness/cli/measure.ts";
import { measurePage } from "../../../harness/report/measure-page.ts";
import { amberlineHere } from "../../kit/amberline-here.ts";
import { isPosixBoardHere } from "../../kit/board-tools.ts";
import { ROOT } from "../../repo/source-files.ts";

const folder = mkdtempSync(join(tmpdir(), "amberline measure "));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const measure = (...args: string[]) => amberlineHere(["measure", ...args]);
const PROFILE = join(ROOT, "harness", "scenarios", "board", "fan.monitor.yaml");

describe("amberline measure", () => {
  it("[MEAS-030] prints each value beside its closed form, and writes the page", async () => {
    const out = join(folder, "core");
    const { code, stdout } = await measure("--out", out);
    expect(code).toBe(0);
    expect(stdout).toContain("26 values: all within their tolerance.");
    const widest = Math.max(...stdout.split("\n").map((line) => line.length));
    expect(widest).toBeLessThanOrEqual(Math.max(80, out.length + 25));
    const page = readFileSync(join(out, "measure.html"), "utf8");
    expect(page).toContain("All 26 values lie within their tolerance of the closed form.");
    expect(page).toContain("default-src &#39;none&#39;".replaceAll("&#39;", "'"));
    expect(page).toContain(CAUTION_SENTENCE);
    // Each of two for the wide sheet and for the narrow one.
    expect(page.match(/<svg/g)).toHaveLength(4);
    expect(page).not.toMatch(/<script|https?:\/\/|\b(benign|safe|continue)\b/i);
    const json = JSON.parse(readFileSync(join(out, "measure.json"), "utf8")) as {
      measurements: Measurement[];
    };
    expect(json.measurements).toHaveLength(10);
  });

  it.skipIf(!isPosixBoardHere())("[MEAS-031] measures any target, in counts, too", async () => {
    const args = [PROFILE, "--counts", "--target", "board:posix", "--out", join(folder, "c")];
    const { code, stdout } = await measure(...args, "--json");
    expect(code).toBe(0);
    const { facts } = JSON.parse(stdout) as { facts: [string, string][] };
    expect(facts[0]![1]).toMatch(/^board posix [0-9a-f]{16}, numerics \d+$/);
  });

  it.each([
    [["no/such.monitor.yaml"], "no such file"],
    [["--filter", "tail"], "--filter tail: the profile has fan vibration"],
    [["--speed", "4000"], "needs a unit"],
    [["--speed", "20000 r/min"], "steady numbers are measured from 600.6 to 7192.8 r/min"],
    [["--speed", "7200 r/min"], "steady numbers are measured from 600.6 to 7192.8 r/min"],
    [["--baud", "9600"], "--baud goes with --target serial"],
  ])("[MEAS-032] a wrong call %j ends with 2 and a sentence", async (args, said) => {
    const { code, stderr } = await measure(...args, "--out", join(folder, "never"));
    expect(code).toBe(2);
    expect(stderr.replace(/\s+/g, " ")).toContain(said);
    expect(stderr).not.toMatch(/\n\s+at /);
  });

  it.each(["600.6 r/min", "7192.8 r/min"])(
    "[MEAS-035] at %s, the end of the range, all is right, too",
    async (speed) => {
      const { code, stdout } = await measure(
        "--speed",
        speed,
        "--out",
        join(folder, speed.replace("/", " ")),
      );
      expect([code, stdout]).toEqual([0, expect.stringContaining("all within their tolerance")]);
    },
  );

  it("[MEAS-033] a target that is none ends with 3", async () => {
    const wasm = join(ROOT, "package.json");
    const { code, stderr } = await measure("--core", wasm, "--out", join(folder, "none"));
    expect(code).toBe(3);
    expect(stderr).toContain("the target cannot be opened");
  });

  it("[MEAS-034] the page shows text from files as text, and what is outside in words", () => {
    const page = measurePage({
      title: "<b>bold</b>",
      facts: [["Profile", '<img src="x">']],
      measurements: [
        {
          name: "Level",
          how: "how",
          rows: [
            {
              what: "<i>it</i>",
              unit: "1",
              measured: 2,
              closed: 1,
              tolerance: 0.1,
              rule: "within",
              isRight: false,
            },
          ],
        },
      ],
      repeat: "amberline measure",
    });
    expect(page).not.toMatch(/<b>|<img|<i>/);
    expect(page).toContain("✗ OUTSIDE");
    expect(page).toContain("1 of 1 values lie OUTSIDE their tolerance");
  });

  it("[MEAS-036] a limit has its unit, a minus its sign, and a cross its cross in the key", async () => {
    const row = { what: "image", unit: "%", measured: 0.00012, closed: 0.0006913 } as const;
    const [line] = rowLines({ ...row, rule: "at most", isRight: true });
    expect(line).toContain("0.00012 %, at most 0.0006913 %");
    const curve = {
      title: "Response",
      x: "offset, Hz",
      y: "gain",
      measured: [-1, 0, 1].map((x) => ({ x, y: 1 })),
      closed: [-1, 1].map((x) => ({ x, y: 1 })),
    };
    const page = measurePage({
      title: "x",
      facts: [],
      measurements: [{ name: "Response", how: "how", rows: [], curve }],
      repeat: "amberline measure",
    });
    // The key's sample is one cross, drawn as the points are.
    expect(page).toMatch(
      /<g transform="translate\([\d. ]+\)"><path class="measured-point" d="M9\.5 -7\.5l7 7M9\.5 -0\.5l7 -7"\/><\/g>/,
    );
    expect(page).not.toMatch(/class="measured-point" d="M[\d. ]+h26"/);
    const json = readFileSync(join(folder, "core", "measure.json"), "utf8");
    const { measurements } = JSON.parse(json) as { measurements: Measurement[] };
    const words = measurements.flatMap(({ rows }) => rows.map(({ what }) => what)).join("\n");
    expect(words).toMatch(/at −?\d/);
    expect(words).not.toMatch(/-\d/);
  });
});
