// What is said of a box as a whole: the worst of its checks, its clock, and what was not judged.
import type { LevelBoxFacts } from "../adapter/adapter.ts";
import type { BoxClock, BoxVerdict, CheckResult } from "../judge/types.ts";
import type { Scene } from "../scene/scene.ts";
import type { LevelDecisions, Tally } from "./box-judge.ts";
import type { CautionDecisions } from "./box-caution.ts";
import type { TimedNumber } from "./clock.ts";
import { worstDecision } from "./decision.ts";
import type { DeviceSpecification } from "./device-file.ts";

/** One number of a box, judged. */
export interface NumberDecisions {
  number: TimedNumber;
  levels: LevelDecisions;
  caution: CautionDecisions | undefined;
}

const isEmpty = ({ inside, guardBand, outside, notJudged }: Tally): boolean =>
  inside + guardBand + outside + notJudged === 0;

/** What is stated or configured of a number, and no reading of it tells. */
function unsaid({ speedShare }: DeviceSpecification, all: readonly NumberDecisions[]): string[] {
  return all.flatMap(({ number: { clock }, levels, caution }) => [
    ...(speedShare !== undefined && isEmpty(levels.speed)
      ? [`The box tells no speed with ${clock.name}: not judged.`]
      : []),
    ...(caution !== undefined && isEmpty(caution.tally)
      ? [`The box tells no caution of ${clock.name}: not judged.`]
      : []),
  ]);
}

/** A drift that is surely none of reading alone. */
function drifting({ name, driftPpm, driftUncertaintyPpm }: BoxClock): string[] {
  if (Math.abs(driftPpm) <= driftUncertaintyPpm) return [];
  return [
    `A drift of ${driftPpm.toFixed(0)} ppm is taken out of the times of ${name}, and with it a latency ` +
      "that changes evenly, which looks the same: see that its clock can be off by so much.",
  ];
}

function notesOf(
  device: DeviceSpecification,
  scene: Scene,
  all: readonly NumberDecisions[],
  clock: LevelBoxFacts["clock"],
  notJudgedShare: number,
): string[] {
  const greatestS = Math.max(...all.map(({ number }) => number.clock.timeUncertaintyS));
  const shown = new Set(all.map(({ number }) => number.clock.name));
  const absent = scene.profile.filters.filter(({ name }) => !shown.has(name));
  return [
    device.filter === undefined
      ? "The filter is not known: judged are stretches at which the input has stood still for longer " +
        "than settling and latency, so a step must not show before the earliest latency and must " +
        "have arrived after the latest and settling."
      : `The filter is two equal poles, ${device.filter.fullWidthHz} Hz wide: every reading is ` +
        "judged against the truth of that filter within the latency.",
    `${(100 * notJudgedShare).toFixed(0)} % of the readings were not judged.`,
    clock === "own"
      ? "Readings are stamped by the box's own clock, whose offset is taken from the bursts: judged " +
        "is how the latency changes, not how great it is."
      : "Readings are stamped by the clock that plays.",
    `Times are known to ± ${greatestS.toFixed(3)} s (k = 2): a part of each reading's U.`,
    ...all.flatMap(({ number: { clock: one, why } }) =>
      why === undefined ? [] : [`The clock of ${one.name} is that of ${one.from}: ${why}.`],
    ),
    ...all.flatMap(({ number: { clock: one } }) => drifting(one)),
    ...absent.map(({ name }) => `The box does not show ${name}: not judged.`),
    ...unsaid(device, all),
  ];
}

export function boxVerdict(
  device: DeviceSpecification,
  scene: Scene,
  all: readonly NumberDecisions[],
  checks: readonly CheckResult[],
  clock: LevelBoxFacts["clock"],
): BoxVerdict {
  const sum = (key: "inside" | "guardBand" | "outside" | "notJudged"): number =>
    all.reduce((total, { levels }) => total + levels.level[key], 0);
  const [inside, guardBand, outside] = [sum("inside"), sum("guardBand"), sum("outside")];
  const notJudged = sum("notJudged");
  const share = notJudged / Math.max(1, notJudged + inside + guardBand + outside);
  return {
    device: device.name,
    rule: device.decision.rule,
    // A check that is right though nothing decided it takes nothing from the others.
    decision: worstDecision(
      checks.flatMap(({ decision, isRight }) =>
        decision === undefined || (isRight && decision === "not judged") ? [] : [decision],
      ),
    ),
    inside,
    guardBand,
    outside,
    notJudged,
    worst: all.flatMap(({ levels }) => (levels.worst === undefined ? [] : [levels.worst])),
    cautions: all.flatMap(({ caution }) => caution?.windows ?? []),
    clocks: all.map(({ number }) => number.clock),
    notes: notesOf(device, scene, all, clock, share),
  };
}
