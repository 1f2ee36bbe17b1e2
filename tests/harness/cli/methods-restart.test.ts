// The demonstration's run-up, made faster than its profile lets the tachometer follow: the reference
// is lost and found, and the firmware's filter starts anew.
import { copyFileSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { PACKAGE_ROOT } from "../../../host/package-root.ts";
import { caseIds, readCase } from "../../../harness/results/results-folder.ts";
import { amberlineHere } from "../../kit/amberline-here.ts";

const folder = mkdtempSync(join(tmpdir(), "amberline restart "));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const demo = (name: string): string => join(PACKAGE_ROOT, "harness", "demo", name);
const PROFILE = "survey-twin-fan.monitor.yaml";

describe("second opinions after the reference was lost and found", () => {
  it.each(["2 s"])("[CLI-216] none differs after a run-up over %s", async (over) => {
    copyFileSync(demo(PROFILE), join(folder, PROFILE));
    const text = readFileSync(demo("3-resonance-run-up-and-coast-down.scenario.yaml"), "utf8");
    expect(text).toContain("over: 10 s");
    const file = join(folder, "fast.scenario.yaml");
    writeFileSync(file, text.replace("over: 10 s", `over: ${over}`));
    const out = join(folder, "out");
    expect((await amberlineHere(["run", file, "--methods", "--replace", "--out", out])).code).toBe(
      0,
    );
    const [id] = caseIds(out);
    const { opinions } = readCase(out, id!).methods!.filters[0]!;
    expect(opinions.map(({ verdict }) => verdict)).toEqual(Array(4).fill("agrees"));
    // The restart costs few steps, and is named as the reason.
    const why = opinions[0]!.notCompared.find((one) => one.why.includes("started anew"));
    expect(why!.stepCount).toBeGreaterThan(0);
    expect(why!.stepCount).toBeLessThan(8);
  });
});
