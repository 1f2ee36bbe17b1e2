// A monitor profile from YAML.
import { InputError } from "../input-error.ts";
import { parseLocated, Complaints } from "./located-parse.ts";
import { buildProfile } from "./profile-build.ts";
import type { TimeUnit } from "./profile-schema.ts";
import { profileSchema } from "./profile-schema.ts";
import type { MonitorProfile } from "./types.ts";
import type { Container } from "./yaml-tree.ts";
import { parseYaml, readSmallFile } from "./yaml-tree.ts";

const SCHEMAS = new Map<TimeUnit, ReturnType<typeof profileSchema>>();

/** The schema for a profile's unit of time, made once. */
export function schemaFor(timeUnit: TimeUnit): ReturnType<typeof profileSchema> {
  let schema = SCHEMAS.get(timeUnit);
  if (schema === undefined) SCHEMAS.set(timeUnit, (schema = profileSchema(timeUnit)));
  return schema;
}

/**
 * A profile from values that were read already, e.g. those that stand inside a scenario.
 *
 * Errors    InputError with every complaint, each at its place
 */
export function profileOfTree(root: { [key: string]: unknown }): MonitorProfile {
  const timeUnit = root["time"] === "samples" ? "sample" : "s";
  const written = parseLocated(schemaFor(timeUnit), root as Container);
  const complaints = new Complaints(root);
  const profile = buildProfile(written, complaints);
  complaints.finish();
  return profile;
}

/** A profile from a text; `file` names it in complaints. */
export function parseProfile(file: string, text: string): MonitorProfile {
  const root = parseYaml(file, text);
  if (Object.hasOwn(root, "question") && !Object.hasOwn(root, "monitor")) {
    const message = "is a scenario (question: …), a profile (monitor: …) is expected";
    throw new InputError({ file, line: 1, column: 1, message });
  }
  return profileOfTree(root);
}

/**
 * A profile from its file.
 *
 * Errors    InputError with every complaint, each with file, line and column
 */
export function readProfileFile(path: string): MonitorProfile {
  return parseProfile(path, readSmallFile(path));
}
