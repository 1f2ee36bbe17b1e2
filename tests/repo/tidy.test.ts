import { describe, expect, it } from "vitest";
import { projectFiles, readProjectFile } from "./source-files.ts";

const FILE_LINES_MAX = 400;
const FUNCTION_LINES_MAX = 70;
const LINE_COLUMNS_MAX = 100;

/** Files over the limit, each with its reason. */
const LONG_FILES: Record<string, string> = {};
/** Functions over the limit, as path:name, each with its reason. */
const LONG_FUNCTIONS: Record<string, string> = {};

const TOP_LEVEL = [
  "README.md",
  "DEVELOPERS.md",
  "package.json",
  "package-lock.json",
  "tsconfig.json",
  "asconfig.json",
  "LICENSE",
  "assembly",
  "host",
  "harness",
  "tests",
  "shared",
];

const files = projectFiles();
const code = files.filter((path) => /\.(ts|mts|js|mjs)$/.test(path));

/** Functions by a plain reading of braces: name, first line, lines. Strings are blanked first. */
function functionsOf(text: string): { name: string; line: number; lines: number }[] {
  const plain = text
    .replace(/\/\*[\s\S]*?\*\//g, (all) => all.replace(/[^\n]/g, " "))
    .replace(/\/\/[^\n]*/g, (all) => " ".repeat(all.length))
    .replace(/"(?:[^"\\\n]|\\.)*"|'(?:[^'\\\n]|\\.)*'/g, (all) => " ".repeat(all.length));
  const found: { name: string; line: number; lines: number }[] = [];
  const lines = plain.split("\n");
  for (const [i, line] of lines.entries()) {
    const head =
      /^\s*(?:export\s+)?(?:default\s+)?(?:async\s+)?function\*?\s+([\w$]+)/.exec(line) ??
      /^\s{2}(?:private |public |static |async |override |get |set |\*)*(#?[\w$]+)\([^;]*\{\s*$/.exec(
        line,
      );
    if (head === null || /^(if|for|while|switch|return|it|describe|expect)$/.test(head[1]!))
      continue;
    const indent = /^\s*/.exec(line)![0];
    let end = i + 1;
    while (end < lines.length && !lines[end]!.startsWith(`${indent}}`)) end += 1;
    if (line.trimEnd().endsWith("}")) end = i;
    found.push({ name: head[1]!, line: i + 1, lines: end - i + 1 });
  }
  return found;
}

describe("tidy", () => {
  it("[REPO-010] the top level holds nothing else", () => {
    const tops = new Set(files.map((path) => path.split("/")[0]!));
    const strangers = [...tops].filter((top) => !top.startsWith(".") && !TOP_LEVEL.includes(top));
    expect(strangers).toEqual([]);
    expect(TOP_LEVEL.filter((top) => !tops.has(top))).toEqual([]);
  });

  it("[REPO-011] files stay under 400 lines, or say why not", () => {
    const long = code.filter(
      (path) => readProjectFile(path).split("\n").length - 1 > FILE_LINES_MAX,
    );
    expect(long.filter((path) => !(path in LONG_FILES))).toEqual([]);
    expect(Object.keys(LONG_FILES).filter((path) => !long.includes(path))).toEqual([]);
  });

  it("[REPO-012] functions stay under 70 lines, or say why not", () => {
    const long: string[] = [];
    for (const path of code) {
      for (const one of functionsOf(readProjectFile(path))) {
        if (one.lines > FUNCTION_LINES_MAX) long.push(`${path}:${one.name}`);
      }
    }
    expect(long.filter((name) => !(name in LONG_FUNCTIONS))).toEqual([]);
    expect(Object.keys(LONG_FUNCTIONS).filter((name) => !long.includes(name))).toEqual([]);
  });

  it("[REPO-013] the reading of functions finds a long one", () => {
    const body = Array.from({ length: 80 }, () => "  x += 1;").join("\n");
    const text = `export function tooLong(): void {\n${body}\n}\nclass A {\n  short(): void {\n  }\n}\n`;
    expect(functionsOf(text)).toEqual([
      { name: "tooLong", line: 1, lines: 82 },
      { name: "short", line: 84, lines: 2 },
    ]);
  });

  it("[REPO-014] lines stay within 100 columns", () => {
    const wide: string[] = [];
    for (const path of code) {
      for (const [i, line] of readProjectFile(path).split("\n").entries()) {
        const isData = /https?:|["'`/].{70,}/.test(line);
        if (line.length > LINE_COLUMNS_MAX && !isData) wide.push(`${path}:${i + 1}`);
      }
    }
    expect(wide).toEqual([]);
  });

  it("[REPO-015] file names are kebab-case and none is a drawer for odds and ends", () => {
    const bad = files.filter((path) => {
      const name = path.split("/").at(-1);
      if (/^(README|DEVELOPERS|PROTOCOL|PORTING|ADAPTERS)\.md$|^LICENSE$|^\./.test(name))
        return false;
      if (/^(utils?|common|helpers?|misc)\b/.test(name)) return true;
      return !/^[a-z0-9]+(-[a-z0-9]+)*(\.[a-z0-9-]+)*$/.test(name);
    });
    expect(bad).toEqual([]);
  });

  it("[REPO-016] no leftover markers, no registry addresses, no paths of a machine", () => {
    const words = [
      ["TO", "DO"].join(""),
      ["FIX", "ME"].join(""),
      ["X", "XX"].join(""),
      ["registry.npm", "js"].join(""),
      ["/wo", "rk/"].join(""),
      ["/ro", "ot/"].join(""),
    ];
    const found: string[] = [];
    for (const path of files) {
      if (/\.(png|wav)$/.test(path) || path === "package-lock.json") continue;
      const text = readProjectFile(path);
      for (const word of words) if (text.includes(word)) found.push(`${path}: ${word}`);
    }
    expect(found).toEqual([]);
  });

  it("[REPO-017] package.json's scripts use no shell syntax", () => {
    const manifest = JSON.parse(readProjectFile("package.json")) as {
      scripts: Record<string, string>;
    };
    const shell = Object.entries(manifest.scripts).filter(([, line]) =>
      /[&|;<>$`*~]|^cd /.test(line),
    );
    expect(shell).toEqual([]);
  });

  it("[REPO-018] waveforms use no function of Math whose bits differ between machines", () => {
    const folders = /^harness\/(random|waveform|rotor)\//;
    const banned =
      /Math\.(sin|cos|tan|asin|acos|atan2?|exp|expm1|log|log2|log10|log1p|pow|sinh|cosh|tanh|cbrt|hypot|random)\b|\*\*/;
    const found: string[] = [];
    for (const path of code.filter((one) => folders.test(one))) {
      for (const [i, line] of readProjectFile(path).split("\n").entries()) {
        if (banned.test(line.replace(/\/\/.*|^\s*\/?\*.*/, ""))) found.push(`${path}:${i + 1}`);
      }
    }
    expect(found).toEqual([]);
  });
});
