// The tables of a replay's page: levels against speed, exceedances, events.
import type { Column } from "../report/case-tables.ts";
import { numberText } from "../report/number-text.ts";
import type { ReplayTable } from "../report/replay-page.ts";
import type { FilterTally } from "../run/replay-tally.ts";
import type { ReplayOutcome, ReplayRequest } from "../run/replay-run.ts";

const EVENTS_MAX = 500;

/** A speed in words, as the request has it. */
export type SpeedText = (speed: number) => string;

function numbers(...heads: string[]): Column[] {
  return heads.map((head) => ({ head, isNumber: true }));
}

/** A filter's name without its channel's, where it begins with that. */
function shortName({ name, channel }: FilterTally): string {
  return name.startsWith(`${channel} `) ? name.slice(channel.length + 1) : name;
}

/** Edges of the bins in which some filter has a level, ascending. */
function edgesOf(filters: readonly FilterTally[]): { from: number; until: number }[] {
  const bins = new Map<number, { from: number; until: number }>();
  for (const filter of filters) {
    for (const { from, until } of filter.bySpeed) bins.set(until, { from, until });
  }
  return [...bins.values()].toSorted((a, b) => a.until - b.until);
}

/** Levels of one channel's filters against speed: a row for each bin. */
function speedTable(filters: readonly FilterTally[], outcome: ReplayOutcome): ReplayTable {
  const { unit, width } = outcome.speedBins;
  const units = [...new Set(filters.map((filter) => filter.unit))];
  const unitOf = (filter: FilterTally): string => (units.length > 1 ? `, ${filter.unit}` : "");
  const rows = edgesOf(filters).map(({ from, until }) => {
    const bins = filters.map((filter) => filter.bySpeed.find((bin) => bin.until === until));
    const counts = [...new Set(bins.map((bin) => String(bin?.count ?? 0)))];
    return [
      numberText(from, 6),
      numberText(until, 6),
      counts.length === 1 ? counts[0]! : bins.map((bin) => bin?.count ?? 0).join(" / "),
      ...bins.flatMap((bin) => [numberText(bin?.median), numberText(bin?.greatest)]),
    ];
  });
  const inUnit = units.length === 1 ? `, ${units[0]}` : "";
  return {
    caption: `${filters[0]!.channel}: levels against speed${inUnit}`,
    columns: numbers(
      `From, ${unit}`,
      `to under, ${unit}`,
      "Steps",
      ...filters.flatMap((filter) => [`${shortName(filter)}${unitOf(filter)}: median`, "greatest"]),
    ),
    rows,
    note:
      `Bins of ${numberText(width, 6)} ${unit} about its multiples. Steps are the display steps ` +
      "whose statistics stand above. A level follows its speed later, by " +
      `${numberText(outcome.levelLag, 2)} ${unit === "r/min" ? "s" : "samples"} at the middle ` +
      "speed: in a fast run it stands in a bin too late.",
  };
}

/** Whether some filter's levels stand at more than one speed. */
export function hasSpeeds({ filters }: ReplayOutcome): boolean {
  return filters.some((filter) => filter.bySpeed.length > 1);
}

/** One table for each channel, where the speed changes at all. */
export function speedTables(outcome: ReplayOutcome): ReplayTable[] {
  if (!hasSpeeds(outcome)) return [];
  const channels = new Map<string, FilterTally[]>();
  for (const filter of outcome.filters) {
    channels.set(filter.channel, [...(channels.get(filter.channel) ?? []), filter]);
  }
  return [...channels.values()].map((filters) => speedTable(filters, outcome));
}

/** Exceedances, where some filter has a caution level at all. */
export function exceedanceTables(
  request: ReplayRequest,
  { exceedances }: ReplayOutcome,
  timeName: string,
  speedText: SpeedText,
): ReplayTable[] {
  const hasCaution = request.profile?.filters.some((filter) => filter.display.caution);
  if (hasCaution !== true) return [];
  return [
    {
      caption: "Exceedances of the caution level",
      columns: [
        { head: "Filter" },
        ...numbers(`Onset, ${timeName}`, `End, ${timeName}`, `Peak at, ${timeName}`),
        ...numbers("Peak level", "Shown", "Speed at peak"),
      ],
      rows: exceedances.map((one) => [
        one.filter,
        numberText(one.onset, 6),
        numberText(one.end, 6),
        numberText(one.peakAt, 6),
        numberText(one.peakLevel),
        numberText(one.peakShown),
        speedText(one.speedAtPeak),
      ]),
    },
  ];
}

/** Events as they came. */
export function eventTable(
  { events }: ReplayOutcome,
  timeName: string,
  speedText: SpeedText,
): ReplayTable {
  const cut = events.length > EVENTS_MAX ? ` (first ${EVENTS_MAX} of ${events.length})` : "";
  return {
    caption: `Events${cut}`,
    columns: [
      ...numbers(`At, ${timeName}`),
      ...["Event", "Of", "Detail"].map((head) => ({ head })),
      ...numbers("Speed", "Level"),
    ],
    rows: events
      .slice(0, EVENTS_MAX)
      .map((one) => [
        numberText(one.time, 6),
        one.name,
        one.of,
        one.detailText === "" ? "–" : one.detailText,
        one.speed > 0 ? speedText(one.speed) : "–",
        one.level > 0 ? numberText(one.level) : "–",
      ]),
  };
}
