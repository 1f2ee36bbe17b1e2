import { describe, expect, it } from "vitest";
import { projectFiles, readProjectFile } from "./source-files.ts";

const ID = /\b([A-Z]+-\d{3})\b/g;

/** Ids of the requirement table in DEVELOPERS.md. */
function requiredIds(): string[] {
  const page = readProjectFile("DEVELOPERS.md");
  return [...page.matchAll(/^\| ([A-Z]+-\d{3}) \|/gm)].map((match) => match[1]!);
}

/** Test files that the last column of each requirement names. */
function namedProofs(): Map<string, string[]> {
  const rows = readProjectFile("DEVELOPERS.md").matchAll(/^\| ([A-Z]+-\d{3}) \|.*\| ([^|]+) \|$/gm);
  return new Map(
    [...rows].map((row) => [
      row[1]!,
      (row[2]!.match(/[\w./-]+\.(?:test|suite)\.ts/g) ?? []).toSorted(),
    ]),
  );
}

/** Files with tests; a suite's are run by the test file of each target. */
const TESTS = /^tests\/.*\.(test|suite)\.ts$/;

/** Ids that stand in brackets in the title of a test, with the files. */
function testedIds(): Map<string, Set<string>> {
  const found = new Map<string, Set<string>>();
  for (const path of projectFiles().filter((one) => TESTS.test(one))) {
    for (const title of readProjectFile(path).matchAll(/["'`]\[([A-Z0-9, -]+)\]/g)) {
      for (const [id] of title[1]!.matchAll(ID)) {
        found.set(id, (found.get(id) ?? new Set()).add(path.replace(/^tests\//, "")));
      }
    }
  }
  return found;
}

describe("requirements", () => {
  const required = requiredIds();
  const tested = testedIds();

  it("[REPO-060] no requirement stands twice", () => {
    const twice = required.filter((id, i) => required.indexOf(id) !== i);
    expect(required.length).toBeGreaterThan(100);
    expect(twice).toEqual([]);
  });

  it("[REPO-061] every requirement has a test that names it", () => {
    expect(required.filter((id) => !tested.has(id))).toEqual([]);
  });

  it("[REPO-062] every id that a test names is a requirement", () => {
    const strangers = [...tested].filter(([id]) => !required.includes(id));
    expect(strangers.map(([id, paths]) => `${id} in ${[...paths].join(", ")}`)).toEqual([]);
  });

  it("[REPO-064] a requirement's proof names the files whose tests carry its id, and no other", () => {
    const proofs = namedProofs();
    const wrong = required.filter(
      (id) => proofs.get(id)?.join() !== [...(tested.get(id) ?? [])].toSorted().join(),
    );
    expect(wrong).toEqual([]);
  });

  it("[REPO-063] every test names a requirement or a published row", () => {
    const nameless: string[] = [];
    for (const path of projectFiles().filter((one) => TESTS.test(one))) {
      const text = readProjectFile(path);
      for (const one of text.matchAll(
        /^ *(?:it|test)(?:\.\w+(?:\([\s\S]*?\))?)*\(\s*(["'`])((?:(?!\1).)*)/gm,
      )) {
        if (!/^\[([A-Z]+-\d+|\$|%)/.test(one[2]!)) nameless.push(`${path}: ${one[2]}`);
      }
    }
    expect(nameless).toEqual([]);
  });

  it("[REPO-065] every requirement that a scenario names exists", () => {
    const strangers: string[] = [];
    for (const path of projectFiles().filter((one) => one.endsWith(".scenario.yaml"))) {
      const named = /^requirements: \[(.*)\]/m.exec(readProjectFile(path))?.[1] ?? "";
      for (const [id] of named.matchAll(ID)) {
        if (!required.includes(id)) strangers.push(`${id} in ${path}`);
      }
    }
    expect(strangers).toEqual([]);
  });
});
