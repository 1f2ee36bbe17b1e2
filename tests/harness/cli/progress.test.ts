import { PassThrough } from "node:stream";
import { stripVTControlCharacters } from "node:util";
import { describe, expect, it } from "vitest";
import { makeProgress } from "../../../harness/cli/progress.ts";

/** A stream that says whether it is a terminal and keeps what was written. */
function fakeStream(isTTY: boolean): { stream: NodeJS.WriteStream; written: () => string } {
  const stream = new PassThrough() as unknown as NodeJS.WriteStream;
  stream.isTTY = isTTY;
  const all: string[] = [];
  (stream as unknown as PassThrough).on("data", (piece: Buffer) => all.push(piece.toString()));
  return { stream, written: () => stripVTControlCharacters(all.join("")) };
}

async function drive(isTTY: boolean, isQuiet: boolean): Promise<string> {
  const { stream, written } = fakeStream(isTTY);
  const progress = makeProgress(2, isQuiet, stream);
  progress.show(1, 2, "first case");
  progress.show(2, 2, "second case");
  progress.stop();
  await new Promise((resolve) => setImmediate(resolve));
  return written();
}

describe("progress", () => {
  it("[CLI-060] counts the cases on a terminal", async () => {
    expect(await drive(true, false)).toContain("2/2");
  });

  it("[CLI-061] writes nothing into a pipe, and nothing where the output is JSON", async () => {
    expect(await drive(false, false)).toBe("");
    expect(await drive(true, true)).toBe("");
  });
});
