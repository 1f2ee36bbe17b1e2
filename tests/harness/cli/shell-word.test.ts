import { execFileSync } from "node:child_process";
import { describe, expect, it } from "vitest";
import { shellWord } from "../../../harness/cli/shell-word.ts";

describe("a command that repeats a run", () => {
  it("[CLI-086] comes through a shell as it was called", () => {
    const words = ["channel 3", "10 g", "it's", '"$HOME"', "a;b", "*", "1,2", "--out", "m/s²", ""];
    const script = `const all = process.argv.slice(1); process.stdout.write(JSON.stringify(all));`;
    const line = [process.execPath, "-e", script, "--", ...words].map(shellWord).join(" ");
    expect(JSON.parse(execFileSync("/bin/sh", ["-c", line], { encoding: "utf8" }))).toEqual(words);
  });
});
