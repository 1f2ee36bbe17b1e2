// The project's own requirements of an indication, and the reading of anyone's.
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { InputError } from "../../../host/input-error.ts";
import {
  OWN_REQUIREMENTS,
  readRequirements,
} from "../../../harness/requirement/requirements-file.ts";
import { suiteFiles } from "../../kit/regression-suite.ts";
import { projectFiles, readProjectFile } from "../../repo/source-files.ts";

const own = readRequirements(OWN_REQUIREMENTS);
const folder = mkdtempSync(join(tmpdir(), "amberline-requirements-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

function complaintsOf(text: string): string[] {
  const path = join(folder, "own.yaml");
  writeFileSync(path, text);
  try {
    readRequirements(path);
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    return error.complaints.map(({ line, message }) => `${line}: ${message}`);
  }
  return [];
}

/**
 * The titles of tests: the first string of a call of it, with what it.each takes before; a comment,
 * and a string in a body, is none.
 */
function titlesOf(text: string): string[] {
  const code = text.replace(/^\s*\/\/.*$/gm, "").replace(/^\s*\/\*.*?\*\//gms, "");
  const called = /(?:\bit|\btest|\bit\.\w+|\)|`)\(\s*(["'`])(\[[A-Z][A-Z0-9-]*\] .*?)\1/g;
  return [...code.matchAll(called)].map((one) => one[2]!);
}

describe("the requirements of an indication", () => {
  it("[REQ-010] are forty at least, each with a proof that is there", () => {
    expect(own.length).toBeGreaterThanOrEqual(40);
    const files = new Set(suiteFiles().map((path) => path.replace(".scenario.yaml", "")));
    const titles = projectFiles()
      .filter((path) => /^tests\/.*\.(test|suite)\.ts$/.test(path))
      .flatMap((path) => titlesOf(readProjectFile(path)));
    const missing = own.flatMap(({ id, scenarios, tests }) => [
      ...scenarios.filter((path) => !files.has(path)).map((path) => `${id}: ${path}`),
      ...tests
        .filter((test) => !titles.some((title) => title.startsWith(`[${test}] `)))
        .map((test) => `${id}: ${test}`),
      ...(scenarios.length + tests.length === 0 ? [`${id}: no proof`] : []),
    ]);
    expect(missing).toEqual([]);
  });

  it("[REQ-011] every requirement of the list that a scenario names is one", () => {
    const ids = new Set(own.map(({ id }) => id));
    const named = suiteFiles().flatMap((path) => [
      ...readProjectFile(`harness/scenarios/${path}`).matchAll(/\bIND-\w+/g),
    ]);
    expect(named.map(([id]) => id).filter((id) => !ids.has(id))).toEqual([]);
  });

  it("[REQ-012] come from a regulation or a standard by its paragraph, or say that they do not", () => {
    const kinds = new Set(own.map(({ source }) => source.kind));
    expect(kinds).toEqual(new Set(["regulation", "standard", "common practice", "this project"]));
  });
});

describe("the title of a test", () => {
  it("[REQ-028] is what a test is called, no comment and no string elsewhere", () => {
    const text =
      '// it("[ABC-1] gone")\n/* [ABC-2] */ const word = "[ABC-3] said";\n' +
      'describe("[ABC-4] group", () => { it("[ABC-5] runs", () => { told("[ABC-6] x"); });\n' +
      'it.each([["[ABC-7] row"]])(`[ABC-8] %s`, () => {}); });';
    expect(titlesOf(text)).toEqual(["[ABC-5] runs", "[ABC-8] %s"]);
  });
});

describe("a file of requirements", () => {
  const good = `requirements:
  - { id: OWN-1, text: It works., source: { kind: this project }, scenarios: [steps/a] }
`;

  it("[REQ-013] of the reader's own is read", () => {
    expect(complaintsOf(good)).toEqual([]);
  });

  it("[REQ-013] names a scenario with its ending or without", () => {
    const path = join(folder, "endings.yaml");
    writeFileSync(
      path,
      good.replace("[steps/a]", "[steps/a.scenario.yaml, steps/a, b.scenario.yml]"),
    );
    expect(readRequirements(path)[0]!.scenarios).toEqual(["steps/a", "b"]);
  });

  it.each([
    ["a requirement without proof", good.replace("scenarios: [steps/a]", "tests: []"), "no proof"],
    ["an id that stands twice", good + good.split("\n")[1]!, "stands twice"],
    [
      "a regulation without its paragraph",
      good.replace("this project", "regulation"),
      "needs cite",
    ],
    ["a source that is none", good.replace("this project", "hearsay"), "hearsay"],
    ["an id in small letters", good.replace("OWN-1", "own-1"), "capitals"],
    ["a list of none", "requirements: []\n", "1"],
    ["an unknown key", good.replace("text:", "words: x, text:"), "words"],
  ])("[REQ-014] %s is told by its line", (_what, text, word) => {
    const complaints = complaintsOf(text);
    expect(complaints.join("\n")).toContain(word);
    expect(complaints[0]).toMatch(/^\d+: /);
  });
});
