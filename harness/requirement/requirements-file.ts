// What an indication must do, from YAML: each requirement with its source and what proves it.
import { z } from "zod";
import { join } from "node:path";
import { Complaints, parseLocated } from "../../host/profile/located-parse.ts";
import { record } from "../../host/profile/fields.ts";
import { type Container, parseYaml, readSmallFile } from "../../host/profile/yaml-tree.ts";
import { PACKAGE_ROOT } from "../../host/package-root.ts";

export const SOURCE_KINDS = ["regulation", "standard", "common practice", "this project"] as const;
export type SourceKind = (typeof SOURCE_KINDS)[number];

export interface Requirement {
  id: string;
  text: string;
  source: { kind: SourceKind; cite: string };
  /** Paths of scenarios without their ending, as a case's name begins. */
  scenarios: string[];
  /** Ids in the titles of tests; shown, not run. */
  tests: string[];
}

/** Requirements and the file that they come from, as it is shown. */
export interface RequirementList {
  file: string;
  requirements: Requirement[];
  /** The project's own: told only where a run proves something of them. */
  isOwn: boolean;
}

/** The project's own requirements of an indication. */
export const OWN_REQUIREMENTS = join(PACKAGE_ROOT, "harness", "requirements.yaml");

const ENDING = /\.scenario\.ya?ml$/;

/** A scenario's path as a list names it. */
export const withoutEnding = (path: string): string => path.replace(ENDING, "");

const ID = /^[A-Z][A-Z0-9]*(-[A-Z0-9]+)+$/;

export function requirementsSchema() {
  const source = record(
    { kind: z.enum(SOURCE_KINDS), cite: z.string().default("") },
    {
      kind: "Where it comes from.",
      cite: "Of a regulation or standard: which, and its paragraph.",
    },
  );
  const one = record(
    {
      id: z
        .string()
        .regex(ID, { error: 'must be capitals and digits with hyphens, like "IND-001"' }),
      text: z.string().min(1),
      source,
      scenarios: z.array(z.string().min(1)).default([]),
      tests: z.array(z.string().min(1)).default([]),
    },
    {
      id: "A scenario may name it among its requirements.",
      text: "What must be so, in a sentence.",
      source: "Where it comes from.",
      scenarios: "Scenarios that prove it: their paths, with or without .scenario.yaml.",
      tests: "Tests that prove it beside them, by the ids in their titles; shown, not run.",
    },
  );
  return record(
    { requirements: z.array(one).min(1) },
    { requirements: "What must be so, where that comes from, and what proves it." },
  );
}

/** The project's own list. */
export function ownRequirements(): RequirementList {
  const requirements = readRequirements(OWN_REQUIREMENTS);
  return { file: "harness/requirements.yaml", requirements, isOwn: true };
}

/** Errors: InputError with every complaint, each with file, line and column. */
export function readRequirements(path: string): Requirement[] {
  const root = parseYaml(path, readSmallFile(path)) as Container;
  const { requirements } = parseLocated(requirementsSchema(), root);
  const complaints = new Complaints(root);
  const seen = new Set<string>();
  for (const [i, { id, source, scenarios, tests }] of requirements.entries()) {
    const at = ["requirements", i] as const;
    if (seen.has(id)) complaints.field([...at, "id"], `"${id}" stands twice`);
    seen.add(id);
    const needsCite = source.kind === "regulation" || source.kind === "standard";
    if (needsCite && source.cite === "") {
      complaints.field([...at, "source"], `a ${source.kind} needs cite: which, and its paragraph`);
    }
    if (scenarios.length === 0 && tests.length === 0) {
      complaints.field([...at], "has no proof: name scenarios or tests");
    }
  }
  complaints.finish();
  return requirements.map((one) => ({
    ...one,
    scenarios: [...new Set(one.scenarios.map(withoutEnding))],
  }));
}
