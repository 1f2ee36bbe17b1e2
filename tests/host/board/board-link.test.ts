// The same C on this machine and on the emulated board, behind the link: the records that come back
// are the built-in core's, bit for bit.
import { describe, expect, it } from "vitest";
import { buildBoard, type BoardBuild } from "../../../host/board/build.ts";
import { startBoard } from "../../../host/board/emulator.ts";
import { isEmulatedBoardHere, isPosixBoardHere } from "../../kit/board-tools.ts";
import { playScene } from "../../kit/play-scene.ts";
import { boardTarget, playOnBoard } from "./board-play.ts";
import { ProcessLine, SerialLine } from "./ports.ts";
import { runUp } from "./run-up.ts";

describe.skipIf(!isPosixBoardHere())("on this machine", () => {
  it.each([false, true])("[BOARD-010] gives the core's records; bounds: %s", async (hasBounds) => {
    const { programPath } = buildBoard({ board: "posix", hasBounds });
    const made = runUp();
    const core = await playScene(made);
    const board = await playOnBoard(made, new ProcessLine(programPath));
    expect(core.records.length).toBeGreaterThan(5000);
    expect(Buffer.from(board.records).equals(Buffer.from(core.records))).toBe(true);
    expect(board.counters).toEqual(core.counters);
    expect(board.identity).toMatch(/^posix [0-9a-f]{16}$/);
  });

  it("[BOARD-011] tells a broken promise by a fault and ends with code 3", async () => {
    const { programPath } = buildBoard({ board: "posix", main: "trap" });
    const port = new ProcessLine(programPath);
    const target = boardTarget(port);
    await expect(target.open(new AbortController().signal)).rejects.toThrow(
      /one of its own assertions failed/,
    );
    await target.close().catch(() => {});
    expect(await port.ended).toBe(3);
  });
});

describe.skipIf(!isEmulatedBoardHere())("on the emulated board", () => {
  async function withBoard<T>(
    built: BoardBuild,
    use: (line: SerialLine) => Promise<T>,
  ): Promise<T> {
    const board = await startBoard({ programPath: built.programPath });
    try {
      return await use(new SerialLine(board.ptyPath));
    } finally {
      await board.stop();
    }
  }

  it("[BOARD-020] gives the core's records", async () => {
    const made = runUp();
    const core = await playScene(made);
    const built = buildBoard({ board: "mps2-an386" });
    const board = await withBoard(built, (line) => playOnBoard(made, line));
    expect(Buffer.from(board.records).equals(Buffer.from(core.records))).toBe(true);
    expect(board.counters).toEqual(core.counters);
    expect(board.identity).toMatch(/^mps2-an386 [0-9a-f]{16}$/);
  });

  it("[BOARD-021] tells a broken promise by a fault", async () => {
    const built = buildBoard({ board: "mps2-an386", main: "trap" });
    await withBoard(built, async (line) => {
      const target = boardTarget(line);
      const opened = target.open(new AbortController().signal);
      await expect(opened).rejects.toThrow(/one of its own assertions failed/);
      await target.close();
    });
  });
});
