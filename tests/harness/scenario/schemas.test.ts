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
});
