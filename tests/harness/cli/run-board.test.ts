import { readFileSync, mkdtempSync, readdirSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { readCase, readSummary } from "../../../harness/results/results-folder.ts";
import { amberlineHere } from "../../kit/amberline-here.ts";
import { isEmulatedBoardHere, isPosixBoardHere } from "../../kit/board-tools.ts";
import { isPtyHere } from "../../kit/pty-here.ts";
import { SUITE_FOLDER } from "../../kit/regression-suite.ts";

const folder = mkdtempSync(join(tmpdir(), "amberline board "));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const FILES = [
  "does-a-caution-come-and-go-in-counts",
  "is-a-drop-out-told-and-left-again-in-counts",
  "does-a-glitch-leave-a-level-of-counts-alone",
].map((name) => join(SUITE_FOLDER, "board", `${name}.scenario.yaml`));
const run = (name: string, ...args: string[]) =>
  amberlineHere(["run", ...FILES, "--out", join(folder, name), ...args]);

/** Processes of the emulator that this process has started. */
function emulators(): number[] {
  return readdirSync("/proc")
    .filter((name) => /^\d+$/.test(name))
    .filter((name) => {
      try {
        const words = readFileSync(`/proc/${name}/cmdline`, "utf8").split("\0");
        const parent = /\nPPid:\s+(\d+)/.exec(readFileSync(`/proc/${name}/status`, "utf8"))?.[1];
        return words[0]!.endsWith("qemu-system-arm") && Number(parent) === process.pid;
      } catch {
        return false;
      }
    })
    .map(Number);
}

/** Verdicts and counters: all of a case that is not bound to what carried it. */
function carried(name: string): unknown[] {
  const summary = readSummary(join(folder, name));
  return summary.cases.map((row) => {
    const { id: _id, target: _target, ...rest } = readCase(join(folder, name), row.id);
    return rest;
  });
}

describe("amberline run on a board", () => {
  it.skipIf(!isPosixBoardHere())(
    "[BOARD-050] the C on this machine is judged as the core",
    async () => {
      expect((await run("core")).code).toBe(0);
      const board = await run("posix", "--target", "board:posix");
      expect(board.code).toBe(0);
      expect(board.stderr).toMatch(
        /^\d+ s to be simulated in \d+ cases\. How fast it goes is told/,
      );
      expect(carried("posix")).toEqual(carried("core"));
      expect(board.stdout).toMatch(/Device posix [0-9a-f]{16} /);
    },
  );

  it("[BOARD-051] another board's name is a wrong call that names those there are", async () => {
    const { code, stderr } = await run("other", "--target", "board:arduous");
    expect(code).toBe(2);
    expect(stderr).toContain("There is no board arduous, but mps2-an386, posix.");
  });

  it("[BOARD-052] a missing tool is named with its packages, and ends with 3", async () => {
    const path = process.env["PATH"];
    process.env["PATH"] = "";
    try {
      const { code, stderr } = await run("bare", "--target", "board");
      expect(code).toBe(3);
      expect(stderr).toContain("a board needs wasm2c, arm-none-eabi-gcc, qemu-system-arm,");
      expect(stderr).toContain("apt-get install -y --no-install-recommends");
      expect(stderr).toContain("works without");
      expect(stderr).not.toMatch(/\n\s+at /);
    } finally {
      process.env["PATH"] = path;
    }
  });
});

const isHere = isEmulatedBoardHere() && (await isPtyHere());
// Its processes are found as Linux lists them.
describe.skipIf(!isHere || process.platform !== "linux")("on the emulated board", () => {
  it("[BOARD-053] an emulator that dies is told with 3; --resume runs the rest on a new one", async () => {
    let killed = 0;
    const timer = setInterval(() => {
      const isOneDone =
        readdirSync(folder).includes("died") &&
        readdirSync(join(folder, "died", "cases")).length > 0;
      if (!isOneDone || killed > 0) return;
      for (const pid of emulators()) {
        killed += 1;
        process.kill(pid, "SIGKILL");
      }
    }, 20);
    const died = await run("died", "--target", "board");
    clearInterval(timer);
    expect(killed).toBe(1);
    expect(died.code).toBe(3);
    expect(died.stderr + died.stdout).toContain("the emulator was ended by SIGKILL");
    const kept = readSummary(join(folder, "died")).caseCount;
    expect(kept).toBeGreaterThan(0);
    expect(kept).toBeLessThan(FILES.length);
    const rest = await run("died", "--target", "board", "--resume");
    expect(rest.code).toBe(0);
    expect(emulators()).toEqual([]);
    expect(readSummary(join(folder, "died")).rightCount).toBe(FILES.length);
  });
});
