import { posix } from "node:path";
import { describe, expect, it } from "vitest";
import { projectFiles, readProjectFile } from "./source-files.ts";

/** Folders that each folder's files may import, besides their own. "…!" = types only. */
const MAY_IMPORT: [folder: string, allowed: string[]][] = [
  ["shared", []],
  ["assembly", ["shared"]],
  ["host", ["shared"]],
  ["harness/scene", ["host/profile/types.ts!"]],
  ["harness/random", []],
  ["harness/rotor", ["harness/scene"]],
  [
    "harness/waveform",
    [
      "shared",
      "host/package-root.ts",
      "harness/scene",
      "harness/random",
      "harness/rotor",
      "harness/target/target.ts!",
    ],
  ],
  ["harness/truth", ["shared", "harness/scene", "host/record-types.ts!"]],
  ["harness/method", ["shared", "harness/scene"]],
  [
    "harness/judge",
    [
      "shared",
      "harness/scene",
      "harness/truth/types.ts!",
      "host/records.ts",
      "host/record-types.ts",
    ],
  ],
  ["harness/scenario", ["shared", "host", "harness/scene", "harness/box/device-file.ts"]],
  [
    "harness/recording",
    ["shared", "host", "harness/scene", "harness/waveform/types.ts", "harness/target"],
  ],
  ["harness/target", ["shared", "host"]],
  ["harness/requirement", ["host"]],
  [
    "harness/results",
    [
      "shared",
      "host",
      "harness/scene",
      "harness/judge/types.ts!",
      "harness/method/opinion-types.ts!",
      "harness/requirement",
    ],
  ],
  [
    "harness/report",
    [
      "harness/method/opinion-types.ts!",
      "harness/measure/measurement.ts!",
      "shared",
      "host",
      "harness/scene",
      "harness/judge/types.ts!",
      "harness/truth/types.ts!",
      "harness/requirement",
      "harness/results",
    ],
  ],
  [
    "harness/run",
    [
      "harness/method",
      "harness/adapter",
      "harness/box",
      "shared",
      "host",
      "harness/scene",
      "harness/waveform",
      "harness/truth",
      "harness/judge",
      "harness/target",
      "harness/requirement",
      "harness/results",
      "harness/report",
      "harness/scenario",
      "harness/recording",
    ],
  ],
  [
    "harness/stimulus",
    [
      "shared",
      "host",
      "harness/scene",
      "harness/waveform",
      "harness/truth",
      "harness/judge",
      "harness/target",
      "harness/results",
      "harness/run",
    ],
  ],
  [
    "harness/compare",
    [
      "shared",
      "host",
      "harness/scene",
      "harness/waveform",
      "harness/judge",
      "harness/target",
      "harness/results",
      "harness/run",
    ],
  ],
  [
    "harness/measure",
    [
      "shared",
      "host",
      "harness/scene",
      "harness/waveform",
      "harness/truth",
      "harness/judge",
      "harness/target",
      "harness/run",
    ],
  ],
  ["harness/adapter", ["shared", "host", "harness/target"]],
  [
    "harness/box",
    [
      "shared",
      "host",
      "harness/adapter",
      "harness/scene",
      "harness/waveform",
      "harness/truth",
      "harness/judge",
      "harness/target",
      "harness/results",
      "harness/run",
    ],
  ],
  ["harness/cli", ["shared", "host", "harness"]],
  ["harness/page", ["shared", "host", "harness"]],
];

interface Import {
  from: string;
  to: string;
  isTypeOnly: boolean;
}

function importsOf(path: string): Import[] {
  const text = readProjectFile(path);
  const found: Import[] = [];
  const pattern =
    /(?:^|\n)\s*(import|export)\s+(type\s)?[^;"']*?from\s+["'](\.[^"']+)["']|import\(\s*["'](\.[^"']+)["']\s*\)/g;
  for (const match of text.matchAll(pattern)) {
    const specifier = match[3] ?? match[4]!;
    let to = posix.normalize(posix.join(posix.dirname(path), specifier));
    if (path.startsWith("assembly/") && !to.endsWith(".ts")) to += ".ts";
    const before = text.slice(Math.max(0, match.index - 20), match.index);
    const isTypeQuery = match[4] !== undefined && !/await\s*$/.test(before);
    found.push({ from: path, to, isTypeOnly: match[2] !== undefined || isTypeQuery });
  }
  return found;
}

function isWithin(path: string, folder: string): boolean {
  return path === folder || path.startsWith(`${folder}/`);
}

/** The complaint that an import earns, or undefined where it is allowed. */
export function complaintOf(one: Import): string | undefined {
  const rule = MAY_IMPORT.find(([folder]) => isWithin(one.from, folder));
  if (rule === undefined) return `${one.from} lies in no known folder`;
  const [folder, allowed] = rule;
  if (isWithin(one.to, folder)) return undefined;
  for (const entry of allowed) {
    const isTypeRule = entry.endsWith("!");
    const target = isTypeRule ? entry.slice(0, -1) : entry;
    if (isWithin(one.to, target) && (!isTypeRule || one.isTypeOnly)) return undefined;
  }
  return `${one.from} may not import ${one.to}`;
}

describe("imports", () => {
  const sources = projectFiles().filter((path) =>
    /^(shared|assembly|host|harness)\/.*\.ts$/.test(path),
  );

  it("[REPO-001] go only where the house rules let them", () => {
    expect(sources.length).toBeGreaterThan(10);
    const complaints = sources
      .flatMap(importsOf)
      .map(complaintOf)
      .filter((c) => c !== undefined);
    expect(complaints).toEqual([]);
  });

  it("[REPO-002] the rule can fail: truth from waveform, anything from cli, values for types", () => {
    const bad: Import[] = [
      { from: "harness/truth/a.ts", to: "harness/waveform/b.ts", isTypeOnly: false },
      { from: "harness/truth/a.ts", to: "host/records.ts", isTypeOnly: false },
      { from: "harness/run/a.ts", to: "harness/cli/run.ts", isTypeOnly: false },
      { from: "harness/scene/a.ts", to: "host/profile/types.ts", isTypeOnly: false },
      { from: "assembly/a.ts", to: "host/core.ts", isTypeOnly: false },
    ];
    for (const one of bad) expect(complaintOf(one)).toBe(`${one.from} may not import ${one.to}`);
  });

  it("[REPO-003] only host/core.ts uses the loader", () => {
    const users = sources.filter((path) =>
      readProjectFile(path).includes('"@assemblyscript/loader"'),
    );
    expect(users).toEqual(["host/core.ts"]);
  });
});
