// The second opinions in a report: curves, a table of what each method says, the spectrum over
// speed.
import type { FilterOpinions, MethodResults, Opinion } from "../method/opinion-types.ts";
import { table } from "./case-tables.ts";
import { htmlText, quantityText } from "./html-text.ts";
import { methodFigure } from "./method-figure.ts";
import { numberText, ratioText, timeText } from "./number-text.ts";
import { speedMapFigure } from "./speed-map-figure.ts";
import type { TimeWords } from "./time-words.ts";

/** Reasons told of one method, the commonest first. */
const REASONS_MAX = 4;

const TERMS: Readonly<Record<string, string>> = {
  window: "what its window smooths or lets in beyond the shortest one that parts whole orders",
  companions: "what companions that change leave in the firmware's triangle of two revolutions",
  "once a revolution": "the firmware's one value a revolution, held",
  start: "what is left of the start",
  angle: "the firmware's angle, a parabola through fewer edges, or one taken for another",
  "doubtful edge": "what a count may make of an edge at no place of the wheel",
  "stated accuracy": "the firmware's own, of reading and of companions",
};

const WORDS: Readonly<Record<Opinion["verdict"], string>> = {
  agrees: "✓ agrees",
  differs: "✗ differs",
  "does not apply": "does not apply",
};

function reasonsOf({ notCompared }: Opinion, times: TimeWords): string {
  const told = notCompared.slice(0, REASONS_MAX).map(({ why, stepCount, fromS, untilS }) => {
    const when = `${timeText(fromS)} to ${timeText(untilS)} ${times.unit}`;
    const steps = stepCount === 1 ? "1 step" : `${stepCount} steps`;
    return `<div>${htmlText(why)}: ${steps}, ${quantityText(when)}</div>`;
  });
  return told.length === 0 ? "every settled step was compared" : told.join("");
}

function row(opinion: Opinion, times: TimeWords): string[] {
  const { method, settings, verdict, worst, comparedCount, stepCount } = opinion;
  const isDifferent = verdict === "differs";
  const word = isDifferent ? `<strong>${WORDS[verdict]}</strong>` : WORDS[verdict];
  return [
    `${htmlText(method)}<small>${quantityText(settings)}</small>`,
    `<span class="whole">${word}</span>`,
    `${comparedCount} of ${stepCount}`,
    worst === undefined ? "–" : numberText(worst.difference, 2),
    worst === undefined ? "–" : numberText(worst.bound, 2),
    worst === undefined ? "–" : ratioText(worst.ratio),
    worst === undefined ? "–" : timeText(worst.timeS),
    worst === undefined ? "–" : numberText(worst.levelDifference, 2),
    worst === undefined ? "–" : `${numberText(worst.phaseDifferenceDeg, 2)}°`,
    reasonsOf(opinion, times),
  ];
}

/** What the largest bound of all is made of, in words. */
function termsNote({ opinions }: FilterOpinions): string {
  const nearest = opinions.find(({ worst }) => worst !== undefined);
  if (nearest?.worst === undefined) return "";
  const terms = nearest.worst.terms
    .toSorted((a, b) => b.value - a.value)
    .map(({ name, value }) => `${name} ${numberText(value, 2)} (${TERMS[name] ?? ""})`);
  return ` The bound of ${nearest.method} there is the sum of ${terms.join("; ")}.`;
}

function filterBlock(
  filter: FilterOpinions,
  span: { from: number; until: number },
  id: string,
  times: TimeWords,
): string {
  const heads = [
    { head: "Method" },
    { head: "Says" },
    { head: "Steps compared", isNumber: true },
    { head: `Difference, ${htmlText(filter.unit)}`, isNumber: true },
    { head: "Bound", isNumber: true },
    { head: "Ratio", isNumber: true },
    { head: `At, ${times.unit}`, isNumber: true },
    { head: "Level", isNumber: true },
    { head: "Phase", isNumber: true },
    { head: "Where it was not compared" },
  ];
  const relative = filter.isPhaseRelative
    ? " Without an index the firmware and a method count from an edge each: a whole number of " +
      "pitches stands between them, and is taken off."
    : "";
  const note =
    "Difference: length of the vector between the firmware's and the method's after the firmware's " +
    "lag, where it came nearest to its bound; level and phase: the same apart. Steps where the " +
    `bound is over 2 % of the level are not compared.${relative}${htmlText(termsNote(filter))}`;
  return (
    `<figure class="opinions"><figcaption><h3>${htmlText(filter.name)}: second opinions</h3>` +
    `<p>The methods have no lag: where the level changes they lead the firmware's.</p></figcaption>` +
    `<div class="pane">${methodFigure(filter, span, `o-${id}-${filter.filter}`, times)}</div>` +
    `</figure>\n` +
    table(
      `What each method says of ${htmlText(filter.name)}, order ${filter.order}`,
      heads,
      filter.opinions.map((one) => row(one, times)),
      note,
      " methods",
    )
  );
}

/** The section; empty where there are no second opinions. */
export function methodSection(
  results: MethodResults | undefined,
  span: { from: number; until: number },
  id: string,
  times: TimeWords,
): string {
  if (results === undefined) return "";
  const notes = results.notes.map((note) => `<p class="note">${htmlText(note)}</p>\n`).join("");
  const filters = results.filters.map((one) => filterBlock(one, span, id, times)).join("");
  const maps = results.maps.map((map, i) => {
    const over = map.axis === "speed" ? "speed" : "time: the speed stays within 2 %";
    return (
      `<figure><figcaption><h3>${htmlText(map.channel)}: spectrum over ${over}</h3>` +
      `<p>Lines: orders of ${htmlText(map.shaft)}. What turns with it lies on them.</p>` +
      `</figcaption><div class="pane">${speedMapFigure(map, `s-${id}-${i}`, times)}</div></figure>\n`
    );
  });
  return notes + filters + maps.join("");
}
