import { chmodSync, mkdtempSync, rmSync, truncateSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { InputError } from "../../../host/input-error.ts";
import {
  openFailure,
  parseYaml,
  placeOf,
  readSmallFile,
  YAML_BYTES_MAX,
} from "../../../host/profile/yaml-tree.ts";

const folder = mkdtempSync(join(tmpdir(), "yaml-tree-"));
afterAll(() => rmSync(folder, { recursive: true }));

function complaint(work: () => unknown): InputError {
  try {
    work();
  } catch (error) {
    if (error instanceof InputError) return error;
    throw error;
  }
  throw new Error("nothing was refused");
}

describe("files", () => {
  it("[PROF-010] a folder, a missing file and bytes that are no text are plain complaints", () => {
    expect(complaint(() => readSmallFile(folder)).message).toBe(
      `${folder}: is a folder; a file is expected`,
    );
    const missing = join(folder, "missing.yaml");
    expect(complaint(() => readSmallFile(missing)).message).toBe(`${missing}: does not exist`);
    const binary = join(folder, "binary.yaml");
    writeFileSync(binary, Uint8Array.of(0xff, 0xfe, 0x80));
    expect(complaint(() => readSmallFile(binary)).message).toContain("is not a text in UTF-8");
  });

  it("[PROF-011] a file of gigabytes is refused by its size", () => {
    const path = join(folder, "large.yaml");
    writeFileSync(path, "");
    truncateSync(path, 2 ** 31);
    expect(complaint(() => readSmallFile(path)).message).toContain("has 2147483648 bytes");
    truncateSync(path, YAML_BYTES_MAX + 1);
    expect(complaint(() => readSmallFile(path)).message).toContain("at most 4 MiB");
  });

  it("[PROF-012] an unreadable file is a plain complaint", () => {
    expect(openFailure("EACCES")).toBe("cannot be read: permission denied");
    expect(openFailure("EMFILE")).toBe("cannot be opened (too many files are open)");
    // Root reads every file, and Windows has no such permission: there the sentence alone is tested.
    if (process.getuid === undefined || process.getuid() === 0) return;
    const path = join(folder, "secret.yaml");
    writeFileSync(path, "monitor: x\n");
    chmodSync(path, 0);
    expect(complaint(() => readSmallFile(path)).message).toContain("permission denied");
  });
});

describe("yaml", () => {
  it.each([
    ["a key twice", "a: 1\na: 2\n", /^f:2:1: is not valid YAML: Map keys must be unique/],
    ["several documents", "a: 1\n---\nb: 2\n", /is not valid YAML/],
    ["a list", "- a\n", /^f:1:1: must hold a map/],
    ["nothing", "", /^f:1:1: must hold a map/],
    [
      "an open bracket",
      "a: [1, 2\nb: 3\n",
      /^f:2:1: is not valid YAML: .*; a bracket above is not/,
    ],
    ["a tab as indent", "a:\n  - b\n\t- c\n", /^f:3:1: is not valid YAML: Tabs .*; write blanks$/],
    [
      "a colon in a text",
      "a: b: c\n",
      /^f:1:4: .*, or a text that holds a colon and a blank has no/,
    ],
    ["a line too far right", "a: b\n  c: d\n", /^f:1:4: .*; a line below stands too far right, or/],
    ["no blank after a colon", "a: 1\nb:2\n", /^f:2:1: .*; a key ends in a colon and a blank$/],
    [
      "a quote that does not end",
      'a: "b\nc: d\n',
      /: .*; a text above begins with a quote and does/,
    ],
    [
      "keys twice, each",
      "a: 1\na: 2\nb: 1\nb: 2\n",
      /^f:2:1: .*; this one stands above as well\nf:4:1: /,
    ],
    ["a key that is a map", "? {a: 1}\n: 2\n", /a key must be a word/],
    ["a key that reaches the prototype", "__proto__: {a: 1}\n", /may not be called __proto__/],
    ["an alias to nothing", "a: *b\n", /^f:1:4: alias \*b names no anchor/],
    ["an alias to itself", "a: &a [*a]\n", /deeper than|grows to more/],
  ])("[PROF-013] refuses %s with its place", (_name, text, sentence) => {
    expect(complaint(() => parseYaml("f", text)).message).toMatch(sentence);
  });

  it("[PROF-014] refuses a file that grows without limit through aliases", () => {
    const lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x, x]"];
    for (let level = 1; level < 9; level += 1) {
      const last = `*a${level - 1}`;
      lines.push(`a${level}: &a${level} [${Array(10).fill(last).join(", ")}]`);
    }
    expect(complaint(() => parseYaml("f", lines.join("\n"))).message).toMatch(
      /more than 100 aliases|grows to more/,
    );
    const wide = `big: &big [${Array(3000).fill("x").join(", ")}]\n`;
    const aliases = Array.from({ length: 90 }, (_, at) => `k${at}: *big`).join("\n");
    expect(complaint(() => parseYaml("f", wide + aliases)).message).toMatch(/grows to more/);
  });

  it("[PROF-015] refuses nesting deeper than any file needs, without falling over", () => {
    const deep = `a: ${"[".repeat(20_000)}${"]".repeat(20_000)}`;
    expect(complaint(() => parseYaml("f", deep)).message).toMatch(/nested|YAML/);
  });

  it("[PROF-016] knows the place of every value and key", () => {
    const tree = parseYaml("f", "one: 1\nmap:\n  two: [3, 4]\n  five: { six: 7 }\n");
    expect(placeOf(tree, ["one"])).toMatchObject({ line: 1, column: 6 });
    expect(placeOf(tree, ["one"], true)).toMatchObject({ line: 1, column: 1 });
    expect(placeOf(tree, ["map", "two", 1])).toMatchObject({ line: 3, column: 12 });
    expect(placeOf(tree, ["map", "five", "six"])).toMatchObject({ line: 4, column: 16 });
    expect(placeOf(tree, ["map", "missing"])).toMatchObject({ line: 2, column: 1 });
  });
});
