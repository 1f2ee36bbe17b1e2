// The kinds of field that profiles and scenarios are made of: zod schemas whose complaints are
// sentences that follow the field's name, and whose JSON Schema is what an editor shows.
import { z } from "zod";
import { nearestHint } from "../input-error.ts";
import type { Amount, Dimension, QuantityRule } from "../quantity.ts";
import { DETECTORS, parseLevelUnit, parseQuantity, unitNames } from "../quantity.ts";
import type { Detector } from "./types.ts";

/** Joins several complaints of one issue, e.g. two unknown keys. */
export const COMPLAINT_SEPARATOR = "\u0000";

/** How something that was found reads in a complaint. */
export function found(value: unknown): string {
  if (value === null) return "nothing";
  if (Array.isArray(value)) return "a list";
  if (typeof value === "object") return "a map";
  if (typeof value === "string") {
    return value.length > 60 ? `"${value.slice(0, 57)}…"` : `"${value}"`;
  }
  return `${value as number | boolean | bigint | undefined}`;
}

/** Complaints of zod's own kinds as sentences; given to every parse. */
export function issueSentence(issue: z.core.$ZodRawIssue): string {
  if (issue.code === "invalid_type") {
    if (issue.input === undefined) return "is missing";
    return `must be ${typeName(issue.expected)}, found ${found(issue.input)}`;
  }
  if (issue.code === "invalid_value") {
    if (issue.input === undefined) return "is missing";
    const values = issue.values.map(String);
    const near = typeof issue.input === "string" ? nearestHint(issue.input, values) : "";
    const hint = near.startsWith(" (did") ? near : "";
    return `must be one of ${values.join(", ")}, found ${found(issue.input)}${hint}`;
  }
  if (issue.code === "too_small") {
    if (issue.origin === "string" && issue.minimum === 1) return "must not be empty";
    const sign = issue.inclusive === false ? ">" : ">=";
    const what = issue.origin === "array" ? "have at least" : `be ${sign}`;
    return `must ${what} ${String(issue.minimum)}, found ${counted(issue.input)}`;
  }
  if (issue.code === "too_big") {
    const sign = issue.inclusive === false ? "<" : "<=";
    const what = issue.origin === "array" ? "have at most" : `be ${sign}`;
    return `must ${what} ${String(issue.maximum)}, found ${counted(issue.input)}`;
  }
  if (issue.code === "invalid_union" && issue.discriminator !== undefined) {
    const key = issue.discriminator;
    const given = (issue.input as Record<string, unknown>)[key];
    const options = (issue["options"] as string[] | undefined) ?? [];
    if (given === undefined) return `is missing (${options.join(", ")})`;
    const hint = nearestHint(found(given).replaceAll('"', ""), options);
    return `is not known: found ${found(given)}${hint}`;
  }
  return issue.message ?? "is not right";
}

function counted(input: unknown): string {
  return Array.isArray(input) ? `${input.length}` : found(input);
}

function typeName(expected: string): string {
  if (expected === "object" || expected === "record") return "a map of keys and values";
  if (expected === "array") return "a list";
  if (expected === "int") return "a whole number";
  if (expected === "boolean") return "true or false";
  if (expected === "string") return "a text";
  return `a ${expected}`;
}

/** What each key is, in words. */
export type Words<Shape> = { readonly [Key in keyof Shape]: string };

/** What to do about keys that stand elsewhere, or in another form. */
export type Elsewhere = { readonly [key: string]: string };

/** "{ amplitude: 0,1 in/s pk }": within braces a comma parts entries, also in a number. */
function keyHint(key: string, names: readonly string[], elsewhere: Elsewhere): string {
  if (Object.hasOwn(elsewhere, key)) return ` (${elsewhere[key]!})`;
  const isNumber = /^\d/u.test(key);
  return isNumber ? " (a comma parts entries; decimals have a point)" : nearestHint(key, names);
}

/** A map with these keys and no others; the words are what an editor shows. */
export function record<Shape extends z.ZodRawShape>(
  shape: Shape,
  words: Words<Shape>,
  elsewhere: Elsewhere = {},
) {
  const names = Object.keys(shape);
  const described = Object.fromEntries(
    names.map((name) => [name, (shape[name] as z.ZodType).describe(words[name]!)]),
  ) as unknown as Shape;
  return z.strictObject(described, {
    error: (issue) => {
      if (issue.code !== "unrecognized_keys") return undefined;
      return issue.keys
        .map((key) => `unknown key "${key}"${keyHint(key, names, elsewhere)}`)
        .join(COMPLAINT_SEPARATOR);
    },
  });
}

/** A name that other fields refer to. */
const NAME = z.string().regex(/^\p{L}[\p{L}\p{N} ._/-]{0,39}$/u, {
  error: (issue) =>
    `a name must start with a letter and hold at most 40 letters, digits, spaces or . _ / -, ` +
    `found ${found(issue.input)}${digitHint(issue.input)}`,
});

/** "1X" of the trade: a number chooses a channel, so that a name begins with a letter. */
function digitHint(name: unknown): string {
  return typeof name === "string" && /^\d[\p{L}\p{N} ._/-]{0,30}$/u.test(name)
    ? `; "order ${name}" would do`
    : "";
}

/** A map from names to things of one kind, in the order as written. */
export function named<Item extends z.ZodType>(item: Item) {
  return z.record(NAME, item);
}

export interface QuantityOptions extends QuantityRule {
  /** In SI, tested on what was written. */
  above?: number;
  least?: number;
  most?: number;
  /** How the limits read, e.g. "0 r/min". */
  limitText?: string;
  example: string;
}

/** The range of a quantity for an editor: ", > 0". */
function rangeText({ above, least, most, limitText }: Partial<QuantityOptions>): string {
  const parts: string[] = [];
  if (above !== undefined) parts.push(`> ${above}`);
  if (least !== undefined) parts.push(`>= ${least}`);
  if (most !== undefined) parts.push(`<= ${limitText ?? most}`);
  return parts.length === 0 ? ", any" : `, ${parts.join(" and ")}`;
}

function limitComplaint(given: Amount, text: string, options: QuantityOptions): string | null {
  const { above, least, most } = options;
  const unit = given.unit;
  const limit = (value: number): string =>
    value === 0 ? `0 ${unit}` : (options.limitText ?? String(value));
  if (above !== undefined && !(given.value > above)) {
    return `must be > ${limit(above)}, found "${text}"`;
  }
  if (least !== undefined && !(given.value >= least)) {
    return `must be >= ${limit(least)}, found "${text}"`;
  }
  if (most !== undefined && !(given.value <= most)) {
    return `must be <= ${limit(most)}, found "${text}"`;
  }
  return null;
}

/** A number, then a unit; or a column of a table of cases. */
const QUANTITY_PATTERN = "^(\\s*[+-]?[0-9.]+([eE][+-]?[0-9]+)?\\s*[^0-9\\s].*|.*\\$.*)$";

/** A text with number, unit and perhaps detector → Amount in SI. */
export function amount(options: QuantityOptions) {
  const units = unitNames(options);
  const sampled = unitNames({ ...options, timeUnit: "sample" });
  const names = [...new Set([...units, ...sampled])];
  const detectors = options.detectors === undefined ? "" : ` with ${options.detectors.join(", ")}`;
  const start = `must be a number with a unit (${units.join(", ")}${detectors})`;
  return z
    .string({
      error: (issue) =>
        issue.input === undefined
          ? "is missing"
          : typeof issue.input === "number"
            ? `needs a unit (${units.join(", ")}${detectors}), found ${issue.input}`
            : `${start}, found ${found(issue.input)}`,
    })
    .meta({
      writing:
        `Number with unit (${names.join(", ")})` +
        (options.detectors === undefined ? "" : ` and detector (${options.detectors.join(", ")})`) +
        `${rangeText(options)}.`,
      examples: [options.example],
      pattern: QUANTITY_PATTERN,
    })
    .transform((text, context): Amount => {
      const parsed = parseQuantity(text, options);
      const complaint = typeof parsed === "string" ? parsed : limitComplaint(parsed, text, options);
      if (complaint === null) return parsed as Amount;
      context.addIssue({ code: "custom", message: complaint, input: text });
      return z.NEVER;
    });
}

/** A quantity of one dimension as a plain number in SI. */
export function quantity(options: QuantityOptions) {
  return amount(options).transform((parsed) => parsed.value);
}

const VIBRATIONS: readonly Dimension[] = ["acceleration", "velocity", "displacement", "unstated"];

/** An amplitude of vibration in any quantity, with its detector. */
export function vibration(
  example: string,
  detectors: readonly Detector[] = DETECTORS,
  limits: { above?: number; least?: number } = { least: 0 },
) {
  return amount({ dimensions: VIBRATIONS, detectors, example, ...limits });
}

/** A momentary value of vibration: a level of clipping, a bias. It takes no detector. */
export function vibrationValue(example: string, limits: { above?: number } = {}) {
  return amount({ dimensions: VIBRATIONS, example, ...limits });
}

/** A share: 2 % or 0.02. */
export function share(limits: { above?: number; most?: number; example?: string } = {}) {
  const { above, most, example = "2 %" } = limits;
  const range = rangeText(above === undefined ? { least: 0, ...limits } : limits);
  return z
    .union([z.string(), z.number()], {
      error: (issue) =>
        issue.input === undefined
          ? "is missing"
          : `must be a share such as 2 % or 0.02, found ${found(issue.input)}`,
    })
    .meta({
      writing: `In % or as a plain number${range}.`,
      examples: [example],
    })
    .transform((value, context): number => {
      const parsed: Amount | string =
        typeof value === "number"
          ? { value, dimension: "share", unit: "" }
          : /^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$/u.test(value.trim())
            ? { value: Number(value), dimension: "share", unit: "" }
            : parseQuantity(value, { dimensions: ["share"] });
      const options = { dimensions: [], example, least: 0, ...(above !== undefined && { above }) };
      const complaint =
        typeof parsed === "string"
          ? parsed
          : limitComplaint(parsed, String(value), {
              ...options,
              ...(most !== undefined && { most }),
            });
      if (complaint === null) return (parsed as Amount).value;
      context.addIssue({ code: "custom", message: complaint.replace(" ,", ","), input: value });
      return z.NEVER;
    });
}

/** Unit and detector without a number: "in/s pk". */
export function levelUnit() {
  return z
    .string()
    .meta({
      writing:
        `Unit (${unitNames({ dimensions: VIBRATIONS }).join(", ")}) ` +
        `and detector (${DETECTORS.join(", ")}).`,
      examples: ["in/s pk", "mm/s rms"],
    })
    .transform((text, context) => {
      const parsed = parseLevelUnit(text);
      if (typeof parsed !== "string") return parsed;
      context.addIssue({ code: "custom", message: parsed, input: text });
      return z.NEVER;
    });
}

/** A whole number within limits. */
export function whole(least: number, most: number) {
  return z.int().min(least).max(most);
}

/** A finite number; NaN and infinities are refused with what was found. */
export function real() {
  return z.number();
}

const BRANCHES = new WeakMap<z.ZodType, readonly z.ZodType[]>();

/**
 * One of several schemas, chosen by what was written, so that complaints are about that one only.
 *
 * Shape     `select` returns the schema, or a sentence that says what is allowed
 */
export function choose<Output>(
  branches: readonly z.ZodType<Output>[],
  select: (value: unknown) => z.ZodType<Output> | string,
): z.ZodType<Output> {
  const start = z.unknown();
  BRANCHES.set(start, branches);
  return start.transform((value, context): Output => {
    const branch = value === undefined ? "is missing" : select(value);
    if (typeof branch === "string") {
      context.addIssue({ code: "custom", message: branch, input: value });
      return z.NEVER;
    }
    const result = branch.safeParse(value, { error: issueSentence });
    if (result.success) return result.data;
    for (const issue of result.error.issues) {
      context.issues.push({ ...issue, input: value, continue: false } as never);
    }
    return z.NEVER;
  });
}

/** Chooses by which of these keys a map holds. */
export function chooseByKey<Output>(branches: {
  [key: string]: z.ZodType<Output>;
}): z.ZodType<Output> {
  const keys = Object.keys(branches);
  return choose(Object.values(branches), (value) => {
    if (typeof value !== "object" || value === null || Array.isArray(value)) {
      return `must be a map with one of ${keys.join(", ")}, found ${found(value)}`;
    }
    const given = keys.filter((key) => Object.hasOwn(value, key));
    if (given.length === 1) return branches[given[0]!]!;
    if (given.length > 1)
      return `may hold only one of ${keys.join(", ")}, found ${given.join(", ")}`;
    const own = Object.keys(value);
    const hint = own.length > 0 ? nearestHint(own[0]!, keys) : "";
    return `must hold one of ${keys.join(", ")}${hint.startsWith(" (did") ? hint : ""}`;
  });
}

type Json = { [key: string]: unknown };

/** How a plain value is written, from the JSON Schema of it. */
function plainWriting(json: Json): string {
  if (Array.isArray(json["enum"])) return `One of ${json["enum"].join(", ")}.`;
  if (typeof json["const"] === "string") return `${json["const"]}.`;
  if (json["type"] === "boolean") return "true or false.";
  if (json["type"] !== "integer" && json["type"] !== "number") return "";
  const limits: [sign: string, key: string][] = [
    [">", "exclusiveMinimum"],
    [">=", "minimum"],
    ["<", "exclusiveMaximum"],
    ["<=", "maximum"],
  ];
  const parts = limits
    .filter(([, key]) => json[key] !== undefined)
    .map(([sign, key]) => `${sign} ${String(json[key])}`);
  const kind = json["type"] === "integer" ? "Whole number" : "Number";
  return `${kind}, ${parts.length === 0 ? "any" : parts.join(" and ")}.`;
}

/** Puts words, way of writing and default of every field into the one text that editors show. */
function withWritings(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(withWritings);
  if (typeof value !== "object" || value === null) return value;
  const all = Object.fromEntries(
    Object.entries(value).map(([key, member]) => [key, withWritings(member)]),
  ) as Json;
  const { writing, description, ...rest } = all;
  if (typeof description !== "string") {
    return writing === undefined ? rest : { description: writing, ...rest };
  }
  // Where a field may be written in several ways, the first is the short one.
  const [short] = (rest["anyOf"] ?? []) as Json[];
  const shortSaid = short?.["description"];
  const own = typeof writing === "string" ? writing : plainWriting(rest);
  const other = typeof shortSaid === "string" ? shortSaid : plainWriting(short ?? {});
  const said = own === "" ? other : own;
  const { default: usual } = rest;
  const left = typeof usual === "string" || typeof usual === "number" ? `Left out: ${usual}.` : "";
  const text = [description, said, usual === "" ? "" : left].filter((one) => one !== "").join(" ");
  return { description: text, ...rest };
}

function rawSchema(schema: z.ZodType): z.core.JSONSchema.BaseSchema {
  return z.toJSONSchema(schema, {
    io: "input",
    unrepresentable: "any",
    override: ({ zodSchema, jsonSchema: json }) => {
      const branches = BRANCHES.get(zodSchema as unknown as z.ZodType);
      if (branches === undefined) return;
      json.anyOf = branches.map((branch) => {
        const { $schema: _, ...rest } = rawSchema(branch);
        return rest;
      });
    },
  });
}

/** JSON Schema (2020-12) of what a person writes. */
export function jsonSchema(schema: z.ZodType): z.core.JSONSchema.BaseSchema {
  return withWritings(rawSchema(schema)) as z.core.JSONSchema.BaseSchema;
}
