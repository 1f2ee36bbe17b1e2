// What a folder that is gone on with holds already, and the present call would leave out of it.
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { z } from "zod";
import { fileComplaint } from "../../host/input-error.ts";
import { counted } from "../results/scene-words.ts";
import { caseIds } from "../results/results-folder.ts";

/** What tells finished work of another call from a case that was changed since. */
const HELD = z.looseObject({
  name: z.string(),
  seed: z.number(),
  target: z.looseObject({ kind: z.string(), identity: z.string() }),
});
type HeldCase = z.infer<typeof HELD>;

/** A case of the present call. */
export interface CalledCase {
  id: string;
  name: string;
  /** The case's own. */
  seed: number;
}

/** undefined where the file is not whole: that is no finished case. */
function heldCase(folder: string, id: string): HeldCase | undefined {
  try {
    return HELD.parse(JSON.parse(readFileSync(join(folder, "cases", `${id}.json`), "utf8")));
  } catch {
    return undefined;
  }
}

function named(cases: readonly HeldCase[]): string {
  return `${counted(cases.length, "finished case")} ("${cases[0]!.name}"${cases.length > 1 ? " …" : ""})`;
}

/**
 * A folder is gone on with by the call that began it. A case of the same name, seed and target that
 * has another id was changed since, and is run again.
 *
 * Errors    InputError where the folder holds finished cases that this call does not have
 */
export function refuseLeavingOut(
  folder: string,
  called: readonly CalledCase[],
  target: { kind: string; identity: string },
): void {
  const ids = new Set(called.map(({ id }) => id));
  const seedOf = new Map(called.map(({ name, seed }) => [name, seed]));
  const others = caseIds(folder)
    .filter((id) => !ids.has(id))
    .flatMap((id) => heldCase(folder, id) ?? []);
  const isOtherTarget = ({ target: { kind, identity } }: HeldCase): boolean =>
    kind !== target.kind || identity !== target.identity;
  const differing: [HeldCase[], string][] = [
    [others.filter(({ name }) => !seedOf.has(name)), "that this call does not have"],
    [others.filter(isOtherTarget), "of another target than this call's"],
    [
      others.filter(({ name, seed }) => (seedOf.get(name) ?? seed) !== seed),
      "of another seed than this call's",
    ],
  ];
  const found = differing.find(([cases]) => cases.length > 0);
  if (found === undefined) return;
  const [cases, how] = found;
  throw fileComplaint(
    folder,
    `holds ${named(cases)} ${how}, which --resume would lose: the same call as before goes on, ` +
      "--out names another folder, --replace in place of --resume gives this one up",
  );
}
