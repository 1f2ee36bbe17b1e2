// The spectrum over the speed as a picture: amplitude as colour, lines where an order lies.
import type { SpeedMap } from "../method/opinion-types.ts";
import { makeScale, ticks, type Scale } from "./axis.ts";
import { hexOf, scaleColour } from "./colour-scale.ts";
import { linePath } from "./curve.ts";
import {
  FIGURE_WIDTH,
  heading,
  line,
  makePanel,
  type Panel,
  path,
  PLOT_LEFT,
  PLOT_RIGHT,
  rect,
  text,
  valueAxis,
} from "./figure-frame.ts";
import { htmlText } from "./html-text.ts";
import { indexedPng } from "./indexed-png.ts";
import { numberText } from "./number-text.ts";
import type { TimeWords } from "./time-words.ts";

const HEIGHT = 340;
const TOP = 34;
const COLOURS = 255;
/** Orders beside the highest tracked one whose lines are drawn. */
const ORDERS_BESIDE = 4;
const SCALE_WIDTH = 300;

/** The scale's colours, and before them the one that is left clear. */
function palette(): ReturnType<typeof scaleColour>[] {
  const colours = Array.from({ length: COLOURS }, (_, i) => scaleColour(i / (COLOURS - 1)));
  return [[255, 255, 255], ...colours];
}

function picture(map: SpeedMap, panel: Panel): string {
  const cells = Buffer.from(map.cells, "base64");
  const png = indexedPng(
    map.columns,
    map.rows,
    palette(),
    (x, y) => cells[x * map.rows + (map.rows - 1 - y)]!,
  );
  return (
    rect(PLOT_LEFT, panel.top, PLOT_RIGHT - PLOT_LEFT, panel.height, "box", "url(#hatch-no-data)") +
    `<image x="${PLOT_LEFT}" y="${panel.top}" width="${PLOT_RIGHT - PLOT_LEFT}" ` +
    `height="${panel.height}" preserveAspectRatio="none" class="map" ` +
    `href="data:image/png;base64,${png.toString("base64")}"/>`
  );
}

/** Value of a column's middle. */
function columnValue({ low, high, columns }: SpeedMap, column: number): number {
  return low + ((column + 0.5) / columns) * (high - low);
}

/** One order's line, and its name where it ends inside the picture. */
function orderLine(map: SpeedMap, order: number, x: Scale, panel: Panel): string {
  const isTracked = map.orders.includes(order);
  const top = (i: number): number => map.speedHz[i]! * order;
  const isInside = (i: number): boolean => map.speedHz[i]! > 0 && top(i) <= map.frequencyHigh;
  const d = linePath(map.columns, isInside, (i) => ({
    x: x.at(columnValue(map, i)),
    y: panel.y.at(top(i)),
  }));
  if (d === "") return "";
  let last = map.columns - 1;
  while (!isInside(last)) last -= 1;
  const [px, py] = [Math.min(PLOT_RIGHT - 4, x.at(columnValue(map, last))), panel.y.at(top(last))];
  const look = isTracked ? "order-line tracked" : "order-line";
  const words = isTracked ? `order ${order}` : String(order);
  return (
    path(d, "order-halo") +
    path(d, look) +
    text(px, Math.max(panel.top + 12, py - 4), words, "order-word", "end")
  );
}

function scaleBar(map: SpeedMap, top: number): string {
  const left = PLOT_RIGHT - SCALE_WIDTH;
  const steps = 60;
  const parts = [text(left - 12, top + 10, `amplitude, ${map.unit}`, "tick", "end")];
  for (let i = 0; i < steps; i += 1) {
    const x = left + (i * SCALE_WIDTH) / steps;
    const colour = hexOf(scaleColour(i / (steps - 1)));
    parts.push(rect(x, top, SCALE_WIDTH / steps + 0.5, 12, "swatch", colour));
  }
  for (let down = 0; down <= map.rangeDb; down += 20) {
    const x = left + (1 - down / map.rangeDb) * SCALE_WIDTH;
    const words = numberText(map.greatestPk * 10 ** (-down / 20), 3);
    const foot = down === map.rangeDb ? `≤ ${words}` : words;
    parts.push(line(x, top + 12, x, top + 16, "axis"));
    parts.push(text(x, top + 28, foot, "tick", down === 0 ? "end" : "middle"));
  }
  return parts.join("");
}

/** What the picture shows, for those who do not see it. */
function inWords(map: SpeedMap, acrossWords: string, frequencyUnit: string): string {
  const cells = Buffer.from(map.cells, "base64");
  const best = cells.reduce((most, value, i) => (value > cells[most]! ? i : most), 0);
  const hertz = ((best % map.rows) + 0.5) * (map.frequencyHigh / map.rows);
  const column = Math.floor(best / map.rows);
  const order = hertz / map.speedHz[column]!;
  const told = map.orders.map((one) => {
    const along = map.speedHz.flatMap((speed, i) => {
      const row = Math.floor(((speed * one) / map.frequencyHigh) * map.rows);
      const value = cells[i * map.rows + row];
      return value === undefined || value === 0 ? [] : [value];
    });
    const greatest = along.reduce((most, value) => Math.max(most, value), 1);
    const down = ((greatest - 255) / 254) * map.rangeDb;
    const amplitude = numberText(map.greatestPk * 10 ** (down / 20), 3);
    return `along order ${one} up to ${greatest === 1 ? "under " : ""}${amplitude}`;
  });
  return (
    `The greatest amplitude is ${numberText(map.greatestPk, 3)} ${map.unit}, near order ` +
    `${order.toFixed(1)} (${numberText(hertz, 3)} ${frequencyUnit}), at ${acrossWords} ` +
    `${numberText(columnValue(map, column), 4)}; ${told.join(", ")}.`
  );
}

/** The map as a figure. */
export function speedMapFigure(map: SpeedMap, id: string, times: TimeWords): string {
  const x = makeScale(map.low, map.high, PLOT_LEFT, PLOT_RIGHT);
  const panel = makePanel(TOP, HEIGHT, x, 0, map.frequencyHigh);
  const bottom = TOP + HEIGHT;
  const isTimed = times.unit === "s";
  const unit = isTimed ? "Hz" : "cycles/sample";
  const across =
    map.axis === "speed" ? `speed of ${map.shaft}, ${times.speedUnit}` : `time, ${times.unit}`;
  const orders = Array.from({ length: Math.max(...map.orders) + ORDERS_BESIDE }, (_, i) => i + 1);
  const axis = ticks(x, 10)
    .map(
      ({ value, text: words }) =>
        line(x.at(value), bottom, x.at(value), bottom + 4, "axis") +
        text(x.at(value), bottom + 17, words, "tick", "middle"),
    )
    .join("");
  const label = `${map.channel}: amplitude spectrum over ${across}`;
  const height = bottom + 78;
  return (
    `<svg class="figure" role="img" aria-labelledby="${id} ${id}-d" ` +
    `viewBox="0 0 ${FIGURE_WIDTH} ${height}">` +
    `<title id="${id}">${htmlText(label)}</title>` +
    `<desc id="${id}-d">${htmlText(inWords(map, across, unit))}</desc>` +
    heading(TOP - 12, `Frequency, ${unit}`, []) +
    valueAxis(panel, 6) +
    picture(map, panel) +
    orders.map((order) => orderLine(map, order, x, panel)).join("") +
    axis +
    text(PLOT_LEFT, bottom + 34, across, "tick") +
    scaleBar(map, bottom + 40) +
    `</svg>`
  );
}
