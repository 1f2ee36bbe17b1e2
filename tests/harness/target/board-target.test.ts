// The firmware as C, on this machine and on the emulated board, by the way that a run takes to it.
import { afterAll, describe, it } from "vitest";
import type { BoardName } from "../../../host/board/compile.ts";
import { BoardPort } from "../../../host/board/board-port.ts";
import { realClock } from "../../../host/link/clock.ts";
import { KeptPort } from "../../../host/link/kept-port.ts";
import { LinkTarget } from "../../../harness/target/link-target.ts";
import { isEmulatedBoardHere, isPosixBoardHere } from "../../kit/board-tools.ts";
import { isPtyHere } from "../../kit/pty-here.ts";
import { type TargetKind, targetSuite } from "../../suites/target.suite.ts";

/** An emulated serial line carries tens of kilobytes a second: short ones, in counts. */
const EMULATED = {
  files: [
    "board/does-a-caution-come-and-go-in-counts.scenario.yaml",
    "board/do-two-shafts-in-counts-keep-apart.scenario.yaml",
  ],
  blockSizes: [7, 64],
};

const opened: KeptPort[] = [];
afterAll(async () => {
  for (const port of opened) await port.end();
});

function boardSuite(board: BoardName, name: string, options: Partial<TargetKind> = {}): void {
  let port: KeptPort | undefined;
  let session = 0;
  targetSuite({
    ...options,
    name,
    make: async ({ blockSamplesMax }) => {
      if (port === undefined) opened.push((port = new KeptPort(new BoardPort(board))));
      session += 1;
      const mark = { session, firstSequence: 1000 * session };
      const target = new LinkTarget({
        kind: "board",
        port,
        clock: realClock,
        ...mark,
        blockSamplesMax,
      });
      return { target, run: (work) => work };
    },
  });
}

const NAMES = {
  posix: "the firmware as C on this machine",
  "mps2-an386": "the firmware on an emulated board",
};
if (isPosixBoardHere()) boardSuite("posix", NAMES.posix);
else
  describe(NAMES.posix, () => {
    it.skip("[LINK-090] needs wasm2c and gcc", () => {});
  });

if (isEmulatedBoardHere() && (await isPtyHere()))
  boardSuite("mps2-an386", NAMES["mps2-an386"], EMULATED);
else
  describe(NAMES["mps2-an386"], () => {
    it.skip("[LINK-090] needs wasm2c, arm-none-eabi-gcc, qemu-system-arm, serialport", () => {});
  });
