// The table of bad input: each kind through the command as a user types it.
import {
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  rmSync,
  truncateSync,
  writeFileSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, afterEach, beforeAll, describe, expect, it } from "vitest";
import { amberlineHere } from "../kit/amberline-here.ts";
import { scenarioText, writeScenarios } from "../kit/small-scenario.ts";
import { CALL_KINDS } from "./call-kinds.ts";
import { FIELD_KINDS } from "./field-kinds.ts";
import { frameKinds } from "./frame-kinds.ts";
import { GROUPS, type Kind } from "./kind.ts";
import { ownMistake } from "./own-mistake.ts";
import { RECORDING_KINDS } from "./recording-kinds.ts";
import { recordLog } from "./recorded-log.ts";
import { REPLAY_KINDS } from "./replay-kinds.ts";
import { SCENARIO_KINDS } from "./scenario-kinds.ts";

const KINDS_MIN = 80;
const GROUP_MIN = 8;
const TWO_GIB = 2 ** 31;

const folder = mkdtempSync(join(tmpdir(), "amberline bad 中 "));
const path = (name: string): string => join(folder, name);
const scenario = scenarioText({ duration: "1.2 s" });
writeScenarios(folder, { good: scenario });

const KINDS: Kind[] = [
  ...SCENARIO_KINDS,
  ...RECORDING_KINDS,
  ...REPLAY_KINDS,
  ...FIELD_KINDS,
  ...CALL_KINDS,
  ...frameKinds((await recordLog(folder)).toString("latin1"), scenario),
];

beforeAll(() => {
  for (const name of ["folder.csv", "folder.wav", "folder.monitor.yaml", "empty"]) {
    mkdirSync(path(name));
  }
  for (const name of ["huge.csv", "huge.wav", "huge.monitor.yaml"]) {
    writeFileSync(path(name), "");
    truncateSync(path(name), TWO_GIB);
  }
});
// Whatever one kind leaves where it fails is in no other's way.
afterEach(() => rmSync(path("never"), { recursive: true, force: true }));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** What was said, on one line, with the folder as "…". */
const plain = (text: string): string => text.replaceAll(folder, "…").replace(/\s+/g, " ");

describe("bad input", () => {
  it.each(KINDS)("[BAD-001] $group: $what", async ({ files, args, told, code }) => {
    for (const [name, content] of Object.entries(files)) writeFileSync(path(name), content);
    const call = args.map((word) => word.replace("…/", `${folder}/`));
    const ended = await amberlineHere(call);
    const said = plain(ended.stderr + ended.stdout);
    for (const words of told) expect(said).toContain(words.replace(/\s+/g, " "));
    // A list of what is allowed that holds nothing is no sentence.
    expect(said).not.toMatch(/ \(\)|\(allowed: ?\)|undefined|\[object/);
    expect(said.length).toBeGreaterThan(10);
    expect(ownMistake(`${ended.stderr}${ended.stdout}`)).toBeUndefined();
    expect(ended.code).toBe(code);
    // Nothing is run, drawn or written where the input is wrong.
    if (code === 2) {
      if (args[0] !== "check") expect(ended.stdout).toBe("");
      const left = existsSync(path("never")) ? readdirSync(path("never")) : [];
      expect(left.filter((name) => name !== "cases")).toEqual([]);
    }
  });

  it("[BAD-002] has eighty kinds or more, some of each group, each once", () => {
    const calls = new Set(KINDS.map(({ group, what }) => `${group}: ${what}`));
    expect(calls.size).toBe(KINDS.length);
    expect(KINDS.length).toBeGreaterThanOrEqual(KINDS_MIN);
    const counts = GROUPS.map((one) => KINDS.filter(({ group }) => group === one).length);
    console.log(
      `${KINDS.length} kinds: ${GROUPS.map((one, i) => `${one} ${counts[i]}`).join(", ")}`,
    );
    expect(Math.min(...counts)).toBeGreaterThanOrEqual(GROUP_MIN);
  });
});
