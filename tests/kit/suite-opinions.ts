// The second opinions on a sample of the regression suite: its cases played with the methods beside.
import type { Opinion } from "../../harness/method/opinion-types.ts";
import type { Scene } from "../../harness/scene/scene.ts";
import { opinionsOf } from "./opinions-of.ts";
import { suiteCases, suiteFiles } from "./regression-suite.ts";

/** What all methods said of some cases. */
export interface OpinionTally {
  cases: number;
  agreeing: number;
  notApplying: number;
  /** In words: case, filter, method, by how many times its bound. */
  differing: string[];
}

/** The case of each file that is the shortest, the first of several. */
export function shortestCases(files: readonly string[] = suiteFiles()): Scene[] {
  return files.map((file) =>
    suiteCases(file).reduce((best, one) => (one.durationS < best.durationS ? one : best)),
  );
}

/** The shortest of all cases of each folder. */
export function shortestOfFolders(): Scene[] {
  const files = suiteFiles();
  const folders = new Set(files.map((file) => file.split("/")[0]!));
  return [...folders].map((folder) =>
    shortestCases(files.filter((file) => file.startsWith(`${folder}/`))).reduce((best, one) =>
      one.durationS < best.durationS ? one : best,
    ),
  );
}

function told(scene: Scene, filter: string, { method, worst }: Opinion): string {
  return `${scene.name}, ${filter}: ${method} at ${worst?.ratio ?? Infinity} of its bound`;
}

/** Plays cases one by one. */
export async function opinionTally(scenes: readonly Scene[]): Promise<OpinionTally> {
  const tally: OpinionTally = { cases: 0, agreeing: 0, notApplying: 0, differing: [] };
  for (const scene of scenes) {
    const { filters } = await opinionsOf(scene);
    tally.cases += 1;
    for (const { name, opinions } of filters) {
      for (const one of opinions) {
        if (one.verdict === "agrees") tally.agreeing += 1;
        else if (one.verdict === "does not apply") tally.notApplying += 1;
        else tally.differing.push(told(scene, name, one));
      }
    }
  }
  return tally;
}
