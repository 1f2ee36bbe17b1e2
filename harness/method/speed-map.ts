// The windowed spectrum over the speed: what turns with the shaft lies on straight lines through
// the origin, what does not lies level.
import type { Quantity } from "../scene/scene.ts";
import type { BoxSignal } from "./box-signal.ts";
import type { SpeedMap } from "./opinion-types.ts";
import { RealSpectrum } from "./real-spectrum.ts";
import type { ShaftAngle } from "./shaft-angle.ts";
import { coherentGain, HANN, windowSamples } from "./time-window.ts";
import { blockSize } from "./windowed-spectrum.ts";

const COLUMNS = 120;
const ROWS = 160;
/** Decibels from the greatest down to the foot of the scale. */
const RANGE_DB = 60;
/** Share by which the speed must change for a map over speed. */
const SPEED_SHARE_LEAST = 0.02;
/** Orders above the highest tracked that the map reaches to. */
const ORDERS_ABOVE = 4.5;
/** Revolutions of a block, at the middle speed: lines an order apart stand clear of each other. */
const BLOCK_REVOLUTIONS = 16;

export interface MapRequest {
  channel: string;
  shaft: string;
  quantity: Quantity;
  /** The time of the first sample. */
  startS: number;
  /** Orders that are tracked. */
  orders: number[];
}

interface Block {
  middle: number;
  /** Revolutions a sample. */
  speed: number;
}

function blocksOf(signal: BoxSignal, angles: readonly ShaftAngle[], size: number): Block[] {
  const blocks: Block[] = [];
  for (let from = 0; from + size <= signal.samples.length; from += size / 4) {
    const middle = from + size / 2;
    const angle = angles.find((one) => one.firstAt <= middle && middle <= one.lastAt);
    if (angle !== undefined) blocks.push({ middle, speed: angle.speedAt(middle) });
  }
  return blocks;
}

/** The unit in which a channel's amplitudes are told, and its SI value. */
function mapUnit(quantity: Quantity): { unit: string; factor: number } {
  if (quantity === "acceleration") return { unit: "m/s² pk", factor: 1 };
  if (quantity === "velocity") return { unit: "mm/s pk", factor: 1000 };
  if (quantity === "displacement") return { unit: "µm pk", factor: 1e6 };
  return { unit: "pk", factor: 1 };
}

function columnOf(value: number, low: number, high: number): number {
  return Math.min(COLUMNS - 1, Math.floor(((value - low) / (high - low)) * COLUMNS));
}

/**
 * The map of one channel over one shaft's speed; over time where the speed stays within 2 %.
 *
 * Shape     the greatest amplitude of all blocks that fall into a cell; a column without a block
 *           between two that have one takes after the nearer. Undefined where no edges are
 */
export function speedMap(
  signal: BoxSignal,
  angles: readonly ShaftAngle[],
  { channel, shaft, quantity, startS, orders }: MapRequest,
): SpeedMap | undefined {
  const turns = angles.reduce((sum, one) => sum + one.lastRev - one.firstRev, 0);
  const time = angles.reduce((sum, one) => sum + one.lastAt - one.firstAt, 0);
  if (!(turns > 0)) return undefined;
  const wanted = (BLOCK_REVOLUTIONS * time) / turns;
  const size = blockSize(Math.min(wanted, signal.samples.length / 4));
  const blocks = blocksOf(signal, angles, size);
  if (blocks.length === 0) return undefined;
  const speeds = blocks.map(({ speed }) => speed);
  const [slowest, fastest] = [Math.min(...speeds), Math.max(...speeds)];
  const isOverSpeed = fastest - slowest > SPEED_SHARE_LEAST * fastest;
  const perTold = signal.sampleRateHz * (signal.sampleRateHz === 1 ? 1 : 60);
  const valueOf = ({ middle, speed }: Block): number =>
    isOverSpeed ? speed * perTold : startS + middle / signal.sampleRateHz;
  const values = blocks.map(valueOf);
  const low = isOverSpeed ? slowest * perTold : startS;
  const high = isOverSpeed
    ? fastest * perTold
    : startS + signal.samples.length / signal.sampleRateHz;
  const top = Math.min(0.5, (Math.max(...orders) + ORDERS_ABOVE) * fastest);
  const drawn = drawBlocks(signal, size, top, blocks, (i) => columnOf(values[i]!, low, high));
  const { unit, factor } = mapUnit(quantity);
  const rate = signal.sampleRateHz;
  const greatest = drawn.cells.reduce((most, one) => Math.max(most, one), 0);
  return {
    channel,
    shaft,
    unit,
    axis: isOverSpeed ? "speed" : "time",
    low,
    high,
    columns: COLUMNS,
    frequencyHigh: top * rate,
    rows: ROWS,
    greatestPk: Number((greatest * factor).toPrecision(4)),
    rangeDb: RANGE_DB,
    cells: Buffer.from(inDecibels(drawn.cells, drawn.hasData, greatest)).toString("base64"),
    orders,
    speedHz: drawn.speed.map((speed, column) => {
      const middle = low + ((column + 0.5) / COLUMNS) * (high - low);
      return Number((isOverSpeed ? (middle / perTold) * rate : speed * rate).toPrecision(6));
    }),
  };
}

interface Drawn {
  /** Amplitudes, column by column, rows upwards. */
  cells: Float64Array;
  hasData: boolean[];
  /** Revolutions a sample at each column. */
  speed: number[];
}

function drawBlocks(
  { samples }: BoxSignal,
  size: number,
  top: number,
  blocks: readonly Block[],
  columnAt: (i: number) => number,
): Drawn {
  const spectrum = new RealSpectrum(size);
  const weights = windowSamples(HANN, size);
  const scale = 2 / (size * coherentGain(HANN));
  const perRow = (top * size) / ROWS;
  const cells = new Float64Array(COLUMNS * ROWS);
  const found: (number | undefined)[] = Array.from({ length: COLUMNS }, () => undefined);
  for (const [i, { middle, speed }] of blocks.entries()) {
    const from = middle - size / 2;
    for (let j = 0; j < size; j += 1) spectrum.input[j] = samples[from + j]! * weights[j]!;
    spectrum.transform();
    const column = columnAt(i);
    found[column] = speed;
    for (let row = 0; row < ROWS; row += 1) {
      const [low, high] = [row * perRow, (row + 1) * perRow];
      // The bins that lie in the row; where bins are wider than rows, the nearest one.
      const nearest = Math.max(1, Math.round((low + high) / 2));
      const hasOwn = Math.ceil(low) < high;
      const first = hasOwn ? Math.max(1, Math.ceil(low)) : nearest;
      const last = hasOwn ? Math.ceil(high) - 1 : nearest;
      const cell = column * ROWS + row;
      for (let bin = first; bin <= last; bin += 1) {
        const amplitude = scale * Math.hypot(spectrum.bins[2 * bin]!, spectrum.bins[2 * bin + 1]!);
        if (amplitude > cells[cell]!) cells[cell] = amplitude;
      }
    }
  }
  return filled(cells, found);
}

/** Empty columns between full ones, taken after the nearer. */
function filled(cells: Float64Array, found: readonly (number | undefined)[]): Drawn {
  const full = found.flatMap((speed, column) => (speed === undefined ? [] : [column]));
  const [first, last] = [full[0]!, full.at(-1)!];
  const nearest = found.map((_, column) =>
    full.reduce((best, one) => (Math.abs(one - column) < Math.abs(best - column) ? one : best)),
  );
  const all = new Float64Array(cells.length);
  for (const [column, from] of nearest.entries()) {
    all.set(cells.subarray(from * ROWS, (from + 1) * ROWS), column * ROWS);
  }
  return {
    cells: all,
    hasData: found.map((_, column) => column >= first && column <= last),
    speed: nearest.map((from) => found[from]!),
  };
}

/** A byte for each amplitude: 0 no data, 1 to 255 even in decibels up to the greatest. */
function inDecibels(
  cells: Float64Array,
  hasData: readonly boolean[],
  greatest: number,
): Uint8Array {
  return Uint8Array.from(cells, (amplitude, cell) => {
    if (hasData[Math.floor(cell / ROWS)] !== true || !(greatest > 0)) return 0;
    const decibels = amplitude > 0 ? 20 * Math.log10(amplitude / greatest) : -Infinity;
    return Math.max(1, Math.round(255 + (decibels / RANGE_DB) * 254));
  });
}
