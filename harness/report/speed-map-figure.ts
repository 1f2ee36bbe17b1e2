// The spectrum over the speed as a picture: amplitude as colour, lines where an order lies.
import type { SpeedMap } from "../method/opinion-types.ts";
import { makeScale, type Scale } from "./axis.ts";
import { hexOf, scaleColour } from "./colour-scale.ts";
import { linePath } from "./curve.ts";
import {
  acrossAxis,
  AXIS_ROOM,
  figureStart,
  type FigureFrame,
  heading,
  line,
  makePanel,
  type Panel,
  onBothSheets,
  path,
  rect,
  text,
  valueAxis,
} from "./figure-frame.ts";
import { htmlText } from "./html-text.ts";
import { indexedPng } from "./indexed-png.ts";
import { numberText } from "./number-text.ts";
import type { TimeWords } from "./time-words.ts";

const HEIGHT = 340;
const TOP = 8;
const COLOURS = 255;
/** Orders beside the highest tracked one whose lines are drawn. */
const ORDERS_BESIDE = 4;
const SCALE_WIDTH = 300;

/** The scale's colours, and before them the one that is left clear. */
function palette(): ReturnType<typeof scaleColour>[] {
  const colours = Array.from({ length: COLOURS }, (_, i) => scaleColour(i / (COLOURS - 1)));
  return [[255, 255, 255], ...colours];
}

/** The cells as an element of width and height 1, for the sheet that holds it. */
function cellImage(map: SpeedMap, id: string): string {
  const cells = Buffer.from(map.cells, "base64");
  const png = indexedPng(
    map.columns,
    map.rows,
    palette(),
    (x, y) => cells[x * map.rows + (map.rows - 1 - y)]!,
  );
  return (
    `<image id="${id}" width="1" height="1" preserveAspectRatio="none" class="map" ` +
    `href="data:image/png;base64,${png.toString("base64")}"/>`
  );
}

/**
 * The cells over a panel. The wide sheet holds the image, the narrow one draws the same again:
 * twice in the page it would be most of the page's size.
 */
function picture(map: SpeedMap, panel: Panel, imageId: string): string {
  const { left, right, isNarrow } = panel.frame;
  const place = `translate(${left} ${panel.top}) scale(${right - left} ${panel.height})`;
  const image = isNarrow ? `<use href="#${imageId}"/>` : cellImage(map, imageId);
  return (
    rect(left, panel.top, right - left, panel.height, "box", "url(#hatch-no-data)") +
    `<g transform="${place}">${image}</g>`
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
  const [px, py] = [
    Math.min(panel.frame.right - 4, x.at(columnValue(map, last))),
    panel.y.at(top(last)),
  ];
  const look = isTracked ? "order-line tracked" : "order-line";
  const words = isTracked ? `order ${order}` : String(order);
  return (
    path(d, "order-halo") +
    path(d, look) +
    text(px, Math.max(panel.top + 12, py - 4), words, "order-word", "end")
  );
}

function scaleBar(map: SpeedMap, frame: FigureFrame, top: number): string {
  const width = Math.min(SCALE_WIDTH, frame.right - frame.left);
  const left = frame.right - width;
  const steps = 60;
  // Beside the scale where there is room, else above it.
  const parts = frame.isNarrow
    ? [text(left, top - 6, `amplitude, ${map.unit}`, "tick")]
    : [text(left - 12, top + 10, `amplitude, ${map.unit}`, "tick", "end")];
  for (let i = 0; i < steps; i += 1) {
    const x = left + (i * width) / steps;
    const colour = hexOf(scaleColour(i / (steps - 1)));
    parts.push(rect(x, top, width / steps + 0.5, 12, "swatch", colour));
  }
  for (let down = 0; down <= map.rangeDb; down += 20) {
    const x = left + (1 - down / map.rangeDb) * width;
    const words = numberText(map.greatestPk * 10 ** (-down / 20), 3);
    const foot = down === map.rangeDb ? `≤ ${words}` : words;
    parts.push(line(x, top + 12, x, top + 16, "axis"));
    parts.push(
      text(
        x,
        top + 28,
        foot,
        "tick",
        down === 0 ? "end" : down === map.rangeDb && frame.isNarrow ? "start" : "middle",
      ),
    );
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

/** The map as a figure, for either sheet. */
export function speedMapFigure(map: SpeedMap, id: string, times: TimeWords): string {
  return onBothSheets((frame) => mapOn(frame, map, id, times));
}

function mapOn(frame: FigureFrame, map: SpeedMap, figureId: string, times: TimeWords): string {
  const id = frame.isNarrow ? `${figureId}-n` : figureId;
  const x = makeScale(map.low, map.high, frame.left, frame.right);
  const isTimed = times.unit === "s";
  const unit = isTimed ? "Hz" : "cycles/sample";
  const head = heading(frame, TOP, `Frequency, ${unit}`, []);
  const panel = makePanel(frame, head.bottom, HEIGHT, x, 0, map.frequencyHigh);
  const bottom = head.bottom + HEIGHT;
  const across =
    map.axis === "speed" ? `speed of ${map.shaft}, ${times.speedUnit}` : `time, ${times.unit}`;
  const orders = Array.from({ length: Math.max(...map.orders) + ORDERS_BESIDE }, (_, i) => i + 1);
  const label = `${map.channel}: amplitude spectrum over ${across}`;
  const barTop = bottom + AXIS_ROOM + (frame.isNarrow ? 18 : 4);
  return (
    figureStart(frame, Math.ceil(barTop + 36), `aria-labelledby="${id} ${id}-d"`) +
    `<title id="${id}">${htmlText(label)}</title>` +
    `<desc id="${id}-d">${htmlText(inWords(map, across, unit))}</desc>` +
    head.svg +
    valueAxis(panel, 6) +
    picture(map, panel, `${figureId}-i`) +
    orders.map((order) => orderLine(map, order, x, panel)).join("") +
    acrossAxis(frame, x, bottom, across) +
    scaleBar(map, frame, barTop) +
    `</svg>`
  );
}
