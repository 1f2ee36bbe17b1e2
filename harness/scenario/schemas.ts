// The JSON Schemas that editors use, made from the same zod schemas that read the files. Run this
// file to write them; a test says whether they are current.
import { writeFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import type { z } from "zod";
import { jsonSchema } from "../../host/profile/fields.ts";
import { profileSchema } from "../../host/profile/profile-schema.ts";
import { deviceSchema } from "../box/device-file.ts";
import { scenarioSchema } from "./scenario-schema.ts";

type Json = { [key: string]: unknown };

/** A column of a table may stand for any value that is written. */
const COLUMN = { type: "string", pattern: "^\\$[a-zA-Z][a-zA-Z0-9_]*$" };
const COLUMN_REF = { $ref: "#/$defs/column" };

/** Lets `$column` stand wherever a value may. */
function withPlaceholders(json: unknown): unknown {
  if (Array.isArray(json)) return json.map(withPlaceholders);
  if (typeof json !== "object" || json === null) return json;
  const out: Json = {};
  for (const [key, value] of Object.entries(json)) {
    if (key === "properties") {
      const members = Object.entries(value as Json).map(([name, member]) => {
        const { description, examples, ...rest } = withPlaceholders(member) as Json;
        return [name, { description, examples, anyOf: [rest, COLUMN_REF] }];
      });
      out[key] = Object.fromEntries(members);
    } else if (key === "items") {
      out[key] = { anyOf: [withPlaceholders(value), COLUMN_REF] };
    } else out[key] = withPlaceholders(value);
  }
  return out;
}

/** What an editor needs to know besides: the title, and a profile in either unit of time. */
function document(title: string, schema: z.ZodType): Json {
  const { $schema, ...rest } = jsonSchema(schema);
  return { $schema, title, ...rest };
}

const TABLE: Json = {
  description: "One case for each row; $column stands for the row's cell. Lists: names first.",
  type: "array",
  items: { anyOf: [{ type: "array" }, { type: "object" }] },
};

/** The schema of `*.monitor.yaml`. */
export function monitorJsonSchema(): Json {
  return document("Monitor profile (times in seconds)", profileSchema("s"));
}

/** The schema of `*.scenario.yaml`. */
export function scenarioJsonSchema(): Json {
  const json = withPlaceholders(document("Scenario", scenarioSchema("s"))) as Json;
  (json["properties"] as Json)["cases"] = TABLE;
  json["$defs"] = { column: COLUMN };
  return json;
}

/** The schema of `*.device.yaml`. */
export function deviceJsonSchema(): Json {
  return document("Specification of a box", deviceSchema());
}

/** Where each schema lies, from this file's folder, and its text. */
export function schemaFiles(): { path: URL; text: string }[] {
  const text = (json: Json): string => `${JSON.stringify(json, null, 2)}\n`;
  return [
    {
      path: new URL("../../host/profile/monitor.schema.json", import.meta.url),
      text: text(monitorJsonSchema()),
    },
    {
      path: new URL("./scenario.schema.json", import.meta.url),
      text: text(scenarioJsonSchema()),
    },
    {
      path: new URL("../box/device.schema.json", import.meta.url),
      text: text(deviceJsonSchema()),
    },
  ];
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  for (const { path, text } of schemaFiles()) writeFileSync(path, text);
}
