import { existsSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { makeProgram } from "../../harness/cli/program.ts";
import { CAUTION_SENTENCE } from "../../host/caution-sentence.ts";
import { readProjectFile, ROOT } from "./source-files.ts";

const readme = readProjectFile("README.md");
const developers = readProjectFile("DEVELOPERS.md");
const scripts = (JSON.parse(readProjectFile("package.json")) as { scripts: Record<string, string> })
  .scripts;

/** Lines of fenced shell blocks, and of code spans in tables. */
function commandsOf(page: string): string[] {
  const fenced = [...page.matchAll(/```sh\n([\s\S]*?)```/g)].flatMap((match) =>
    match[1]!.split("\n"),
  );
  const spans = [...page.matchAll(/`((?:npm|npx amberline|amberline) [^`]+)`/g)].map((m) => m[1]!);
  return [...fenced, ...spans].map((line) => line.trim()).filter((line) => line !== "");
}

const byText = (a = "", b = ""): number => a.localeCompare(b);

describe.each([
  ["README.md", readme],
  ["DEVELOPERS.md", developers],
])("%s", (name, page) => {
  it(`[REPO-050] every npm script that ${name} names exists`, () => {
    const named = commandsOf(page)
      .map((line) => /^npm (?:run )?([\w-]+)/.exec(line)?.[1])
      .filter((one) => one !== undefined && !["ci", "pack", "install"].includes(one));
    expect(named.length).toBeGreaterThan(0);
    expect(named.filter((one) => scripts[one!] === undefined)).toEqual([]);
  });

  it(`[REPO-051] every command and option that ${name} names exists`, () => {
    const program = makeProgram();
    const unknown: string[] = [];
    for (const line of commandsOf(page)) {
      const words = /^(?:npx )?amberline (.+)$/.exec(line)?.[1]?.split(/\s+/);
      if (words === undefined) continue;
      const command = program.commands.find((one) => one.name() === words[0]);
      if (command === undefined) unknown.push(line);
      for (const option of words.filter((word) => word.startsWith("--"))) {
        const known = command?.options.some((one) => one.long === option) ?? false;
        if (!known && option !== "--help") unknown.push(`${line}: ${option}`);
      }
    }
    expect(unknown).toEqual([]);
  });

  it(`[REPO-052] every file that ${name} links to exists`, () => {
    const links = [...page.matchAll(/\]\((?!https?:|#)([^)#]+)/g)].map((match) => match[1]!);
    expect(links.length).toBeGreaterThan(0);
    expect(links.filter((link) => !existsSync(join(ROOT, link)))).toEqual([]);
  });
});

describe("words", () => {
  it("[REPO-053] README carries the caution sentence, whole", () => {
    expect(readme.replace(/\s+/g, " ")).toContain(CAUTION_SENTENCE);
  });

  it("[REPO-054] README lists every command that the program has, and no other", () => {
    const listed = [...readme.matchAll(/^\| `amberline (\w+)/gm)].map((match) => match[1]);
    const offered = makeProgram().commands.map((one) => one.name());
    expect(listed.toSorted(byText)).toEqual(offered.toSorted(byText));
  });
});
