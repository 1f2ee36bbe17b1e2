import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { Ajv2020 } from "ajv/dist/2020.js";
import { describe, expect, it } from "vitest";
import { parse } from "yaml";
import {
  monitorJsonSchema,
  scenarioJsonSchema,
  schemaFiles,
} from "../../../harness/scenario/schemas.ts";

const ROOT = new URL("../../..", import.meta.url).pathname;

/** Every profile or scenario of the project's own. */
function ownFiles(ending: string): string[] {
  return ["harness/scenario/templates", "harness/demo", "harness/scenarios"].flatMap((folder) =>
    readdirSync(join(ROOT, folder), { recursive: true, encoding: "utf8" })
      .filter((name) => name.endsWith(ending))
      .map((name) => join(folder, name)),
  );
}

const compile = (schema: object) => new Ajv2020({ strict: false }).compile(schema);
const isMonitor = compile(monitorJsonSchema());
const isScenario = compile(scenarioJsonSchema());
const yaml = (name: string): unknown => parse(readFileSync(join(ROOT, name), "utf8"));

type Json = { [key: string]: unknown };
/** The label of a word is digits, and no quantity. */
const DIGITS = "^[0-3][0-7]{2}$";

/** Every property of a schema, wherever it is nested, with what is said of it. */
function properties(json: unknown, path = ""): { path: string; text: string; json: Json }[] {
  if (typeof json !== "object" || json === null) return [];
  const found = Object.entries(json).flatMap(([key, value]) => properties(value, `${path}/${key}`));
  const { type, properties: own } = json as { type?: string; properties?: Json };
  if (type !== "object" || own === undefined) return found;
  for (const [name, value] of Object.entries(own)) {
    const member = value as Json;
    // A column of a table may stand in place of any value of a scenario.
    const [first] = (member["anyOf"] ?? []) as Json[];
    const inner = member["type"] === undefined && first !== undefined ? first : member;
    const { description } = member;
    const text = typeof description === "string" ? description : "";
    const { examples } = member;
    found.push({ path: `${path}/${name}`, text, json: examples ? { ...inner, examples } : inner });
  }
  return found;
}

describe("the JSON Schemas", () => {
  it("[SCEN-040] are current: made by harness/scenario/schemas.ts from the readers' schemas", () => {
    for (const { path, text } of schemaFiles()) {
      expect(readFileSync(path, "utf8")).toBe(text);
    }
  });

  it.each(ownFiles(".monitor.yaml"))("[SCEN-041] an editor accepts the profile %s", (name) => {
    isMonitor(yaml(name));
    expect(isMonitor.errors ?? []).toEqual([]);
  });

  it.each(ownFiles(".scenario.yaml"))("[SCEN-042] an editor accepts the scenario %s", (name) => {
    isScenario(yaml(name));
    expect(isScenario.errors ?? []).toEqual([]);
  });

  it.each([
    ["an unknown key", { monitr: "x" }],
    ["a bare number", { "sample rate": 12_800 }],
    ["a number out of range", { shafts: { N1: { positions: 256 } } }],
    ["a wrong choice", { channels: { x: { measures: "speed" } } }],
  ])("[SCEN-043] an editor refuses %s in a profile", (_name, change) => {
    const minimal = { monitor: "x", channels: { x: {} }, shafts: { N1: {} }, filters: { f: {} } };
    expect(isMonitor(minimal)).toBe(true);
    expect(isMonitor({ ...minimal, ...change })).toBe(false);
  });

  it.each([
    ["an unknown key", { questoin: "x" }],
    ["a bare number", { duration: 30 }],
    ["an unknown component", { vibration: [{ ordre: 1 }] }],
    ["an unknown fault", { channels: { x: { faults: [{ fault: "clipp" }] } } }],
  ])("[SCEN-044] an editor refuses %s in a scenario", (_name, change) => {
    const minimal = { question: "x", profile: "p", duration: "30 s", speed: "$speed" };
    expect(isScenario(minimal)).toBe(true);
    expect(isScenario({ ...minimal, ...change })).toBe(false);
  });

  const described = [monitorJsonSchema(), scenarioJsonSchema()].flatMap((one) => properties(one));

  it("[SCEN-045] say of every property what it is, in a sentence", () => {
    expect(described.length).toBeGreaterThan(250);
    const bare = described.filter(({ text }) => !/^[A-Z`f].{8,}\.$/su.test(text));
    expect(bare.map(({ path, text }) => `${path}: ${text}`)).toEqual([]);
  });

  it("[SCEN-045] say of every quantity its units, its detectors and its range", () => {
    const quantities = described.filter(({ json }) => json["pattern"] !== undefined);
    expect(quantities.length).toBeGreaterThan(100);
    const said =
      /\. Number with unit \([^)]+\)( and detector \((pk|rms|pk-pk|, )+\))?, (any|[<>]=? \S)/u;
    for (const { path, text, json } of quantities) {
      if (json["pattern"] === DIGITS) continue;
      expect(`${path}: ${text}`).toMatch(said);
      const [example] = json["examples"] as string[];
      // The example has a detector exactly where one is asked for.
      expect([path, / (pk|rms|pk-pk)$/u.test(example!)]).toEqual([path, text.includes("detector")]);
    }
  });

  it("[SCEN-045] say of every number its range, of every choice what there is", () => {
    const numbers = described.filter(({ json }) =>
      /^(integer|number)$/u.test(String(json["type"])),
    );
    expect(numbers.length).toBeGreaterThan(40);
    for (const { path, text, json } of numbers) {
      const limits = ["minimum", "maximum", "exclusiveMinimum", "exclusiveMaximum"]
        .filter((key) => json[key] !== undefined && json[key] !== Number.MAX_SAFE_INTEGER)
        .map((key) => `= ${String(json[key])}`.slice(key.startsWith("ex") ? 2 : 0));
      expect(`${path}: ${text}`).toMatch(/(Whole number|Number), /u);
      for (const limit of limits) expect(`${path}: ${text}`).toContain(limit);
    }
    const choices = described.filter(({ json }) => json["enum"] !== undefined);
    expect(choices.length).toBeGreaterThan(8);
    for (const { text, json } of choices) {
      expect(text).toContain(`One of ${(json["enum"] as string[]).join(", ")}.`);
    }
  });

  it("[SCEN-045] say of what has a default what stands where it is left out", () => {
    const usual = described.filter(
      ({ json }) => ["string", "number"].includes(typeof json["default"]) && json["default"] !== "",
    );
    expect(usual.length).toBeGreaterThan(15);
    for (const { text, json } of usual) {
      expect(text).toContain(`Left out: ${String(json["default"])}.`);
    }
  });
});
