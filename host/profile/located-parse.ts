// A zod schema over a tree of YAML values: what is wrong comes back with file, line and column.
import type { z } from "zod";
import type { Complaint } from "../input-error.ts";
import { InputError } from "../input-error.ts";
import { COMPLAINT_SEPARATOR, issueSentence } from "./fields.ts";
import type { Container, Path } from "./yaml-tree.ts";
import { placeOf } from "./yaml-tree.ts";

/** What a complaint calls the field that a path leads to. */
function fieldName(path: Path): string {
  const last = path[path.length - 1];
  if (typeof last !== "number") return String(last ?? "the file");
  const list = path.findLast((key) => typeof key !== "number");
  return `row ${last + 1} of ${String(list ?? "the list")}`;
}

/** Collects complaints about one tree; `finish` throws them all at once. */
export class Complaints {
  readonly list: Complaint[] = [];
  readonly #root: Container;

  constructor(root: Container) {
    this.#root = root;
  }

  /** A sentence that follows the name of the field: "must be > 0 r/min". */
  field(path: Path, sentence: string): void {
    this.whole(path, `${fieldName(path)} ${sentence}`);
  }

  /** A whole sentence, shown at the field's place. */
  whole(path: Path, message: string, atKey = false): void {
    this.list.push({ ...placeOf(this.#root, path, atKey), message });
  }

  add(issues: readonly z.core.$ZodIssue[], base: Path = []): void {
    for (const issue of issues) {
      const path = [...base, ...issue.path];
      if (issue.code === "unrecognized_keys") {
        const sentences = issue.message.split(COMPLAINT_SEPARATOR);
        for (const [index, key] of issue.keys.entries()) {
          this.whole([...path, key], sentences[index] ?? issue.message, true);
        }
      } else if (issue.code === "invalid_key") {
        const sentence = issue.issues[0]?.message ?? issue.message;
        this.whole(path, sentence, true);
      } else {
        this.field(path, issue.message);
      }
    }
  }

  /** Throws where anything was wrong. */
  finish(): void {
    if (this.list.length === 0) return;
    const inOrder = this.list.toSorted(
      (one, two) => one.line - two.line || one.column - two.column,
    );
    throw new InputError(inOrder);
  }
}

/**
 * The tree as the schema reads it.
 *
 * Errors    InputError with every complaint of the schema, in the order of the file
 */
export function parseLocated<Output>(schema: z.ZodType<Output>, root: Container): Output {
  const result = schema.safeParse(root, { error: issueSentence });
  if (result.success) return result.data;
  const complaints = new Complaints(root);
  complaints.add(result.error.issues);
  complaints.finish();
  throw new Error("a failed parse without complaints");
}
