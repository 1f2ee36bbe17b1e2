// What the second opinions say of the regression suite, one case of each file.
import { opinionTally, shortestCases } from "../kit/suite-opinions.ts";
import type { Figure, Measured } from "./figure.ts";

/**
 * Seconds of a case beyond which its file is left out, so that the figure takes under 3 minutes:
 * twelve files, an hour of flight among them, which is more than the methods keep.
 */
const LONGEST_S = 15;
const AGREEING_SHARE = 1 / 3;

const suite: Figure = {
  id: "METHODS",
  what:
    "second opinions on the regression suite: of each file the shortest case, up to " +
    `${LONGEST_S} s; four methods on each filter`,
  required: "none differs, at least a third agree",
  async measure(): Promise<Measured> {
    const all = shortestCases();
    const scenes = all.filter(({ durationS }) => durationS <= LONGEST_S);
    const { agreeing, notApplying, differing } = await opinionTally(scenes);
    const opinions = agreeing + notApplying + differing.length;
    const first = differing.length === 0 ? "" : ` (${differing.slice(0, 3).join("; ")})`;
    return {
      text:
        `${agreeing} of ${opinions} agree, ${notApplying} do not apply, ${differing.length} differ` +
        `${first}, on ${scenes.length} of ${all.length} files`,
      isOk: differing.length === 0 && agreeing >= AGREEING_SHARE * opinions,
    };
  },
};

export const METHOD_FIGURES: Figure[] = [suite];
