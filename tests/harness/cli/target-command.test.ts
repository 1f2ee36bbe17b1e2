import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { realClock } from "../../../host/link/clock.ts";
import { SerialBytePort } from "../../../host/link/serial-port.ts";
import { LinkTarget } from "../../../harness/target/link-target.ts";
import { type Ended, amberline } from "../../kit/amberline-command.ts";
import { amberlineHere } from "../../kit/amberline-here.ts";
import { loadCore, playScene, playTarget } from "../../kit/play-scene.ts";
import { isPtyHere } from "../../kit/pty-here.ts";
import { scene } from "../../kit/scene-builder.ts";
import { startedTarget } from "../../kit/started-target.ts";

const isHere = await isPtyHere();
const folder = mkdtempSync(join(tmpdir(), "amberline target "));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe.skipIf(!isHere)("amberline target", () => {
  it("[CLI-180] prints a path that serves the core's bytes, and ends with 0 at an interrupt", async () => {
    const device = await startedTarget(["--json"]);
    const said = JSON.parse(device.firstLine) as Record<string, unknown>;
    const { identity, layoutVersion, numericsVersion } = loadCore();
    const versions = { protocolVersion: 1, layoutVersion, numericsVersion };
    expect(said).toEqual({ path: device.path, identity, ...versions });
    const made = scene({ durationS: 2 });
    const port = new SerialBytePort(device.path);
    const target = new LinkTarget({
      kind: "serial",
      port,
      clock: realClock,
      session: 5,
      firstSequence: 9,
    });
    const played = await playTarget(target, made);
    const direct = await playScene(made);
    expect(Buffer.compare(played.records, direct.records)).toBe(0);
    expect(played.counters).toEqual(direct.counters);
    const { code, stderr } = await device.end();
    expect([code, stderr]).toEqual([0, ""]);
  });

  it("[CLI-181] says in words how it is used, and how many packets it answered", async () => {
    const device = await startedTarget([]);
    const { code, stdout, stderr } = await device.end();
    expect([code, stderr]).toEqual([0, ""]);
    expect(stdout).toMatch(/^A device is at \/dev\/\S+: core [0-9a-f]{16},$/m);
    expect(stdout).toContain(`run FILES --target serial:${device.path}\n`);
    expect(stdout).toMatch(/^0 packets were answered\.$/m);
  });
});

describe("amberline target that cannot start", () => {
  it("[CLI-182] a core that is not there is a wrong call, one that is no core a failed target", async () => {
    const missing = await amberlineHere(["target", "--core", join(folder, "none.wasm")]);
    expect([missing.code, missing.stdout]).toEqual([2, ""]);
    expect(missing.stderr).toContain("none.wasm: no such file");
    writeFileSync(join(folder, "no.wasm"), "no wasm");
    const broken = await amberlineHere(["target", "--core", join(folder, "no.wasm")]);
    expect([broken.code, broken.stdout]).toEqual([3, ""]);
    expect(broken.stderr).toContain("no.wasm: ");
  });

  it("[CLI-183] without pseudo-terminals it says so and ends with 3", async () => {
    const preload = join(folder, "windows.mjs");
    writeFileSync(preload, 'Object.defineProperty(process, "platform", { value: "win32" });\n');
    const ended: Ended = await amberline(["target"], { cwd: folder, preload: [preload] });
    expect([ended.code, ended.stdout]).toEqual([3, ""]);
    expect(ended.stderr).toContain("this system has no pseudo-terminals");
  });
});
