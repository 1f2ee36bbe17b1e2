// Names of a scenario → indexes of its profile, and times within its duration.
import { nearestHint } from "../../host/input-error.ts";
import type { Complaints } from "../../host/profile/located-parse.ts";
import type { Path } from "../../host/profile/yaml-tree.ts";
import type { MonitorProfile } from "../scene/scene.ts";

/** What the parts of a scene are built with. */
export interface SceneContext {
  complaints: Complaints;
  /** What is allowed, and seldom meant. */
  warnings: Complaints;
  profile: MonitorProfile;
  durationS: number;
  /** The greatest speed of each shaft while the scenario lasts, as it becomes known. */
  speedMostRevPerS: number[];
}

const LISTS = { filter: "filters", shaft: "shafts", channel: "channels" } as const;

/** Index of a name; the only one where none is written. */
export function nameIndex(
  context: SceneContext,
  kind: keyof typeof LISTS,
  name: string | undefined,
  path: Path,
): number {
  const names = context.profile[LISTS[kind]].map((item) => item.name);
  if (name === undefined) {
    if (names.length === 1) return 0;
    context.complaints.whole(path, `${kind} is missing (${names.join(", ")})`, true);
    return 0;
  }
  const index = names.indexOf(name);
  if (index >= 0) return index;
  const what = `names no ${kind} of the profile: "${name}"${nearestHint(name, names)}`;
  context.complaints.field(path, what);
  return 0;
}

/** A span of time within the scenario; the end of the scenario where no end is written. */
export function spanOf(
  context: SceneContext,
  span: { from: number; until?: number | undefined },
  path: Path,
): { fromS: number; untilS: number } {
  const untilS = span.until ?? context.durationS;
  if (span.from >= context.durationS) {
    context.complaints.field([...path, "from"], "must be before the end of the scenario");
  } else if (span.from >= untilS) {
    context.complaints.field([...path, "from"], "must be before until");
  } else if (untilS > context.durationS) {
    context.warnings.field([...path, "until"], "lies after the end of the scenario");
  }
  return { fromS: span.from, untilS };
}

/** A moment within the scenario. */
export function momentOf(context: SceneContext, atS: number, path: Path): number {
  if (atS >= context.durationS) {
    context.complaints.field(path, `must be before the end of the scenario`);
  }
  return atS;
}
