// Gaussian numbers by the ziggurat method: mostly one integer and one multiplication each.
// Source: Marsaglia, Tsang, The ziggurat method for generating random variables, 2000; with sign,
// layer and magnitude from separate bits as in Doornik, An improved ziggurat method, 2005 (from
// memory; the two constants are checked against their definition in the tests).
import { exponential, logarithm } from "./logarithm.ts";
import { uniformOf } from "./stream.ts";
import type { IntegerStream } from "./stream.ts";

const LAYERS = 128;
/** Start of the tail, and the area of each layer under exp(−x²/2). */
export const TAIL_START = 3.442619855899;
export const LAYER_AREA = 9.91256303526217e-3;
/** Magnitudes are 24 bits with half a step added, so that 0 stands for both signs alike. */
const MAGNITUDE_STEP = 1 / 16777216;

/** Right edge of each layer: [0] the base's width, had it no tail; [LAYERS] = 0. */
const EDGES = new Float64Array(LAYERS + 1);
/** What a magnitude is multiplied by, and below which it surely lies under the curve. */
export const WIDTHS = new Float64Array(LAYERS);
export const INSIDE = new Int32Array(LAYERS);

function fillTables(): void {
  let height = exponential(-0.5 * TAIL_START * TAIL_START);
  EDGES[0] = LAYER_AREA / height;
  EDGES[1] = TAIL_START;
  for (let i = 2; i < LAYERS; i += 1) {
    height += LAYER_AREA / EDGES[i - 1]!;
    EDGES[i] = Math.sqrt(-2 * logarithm(height));
  }
  EDGES[LAYERS] = 0;
  for (let i = 0; i < LAYERS; i += 1) {
    WIDTHS[i] = EDGES[i]! * MAGNITUDE_STEP;
    INSIDE[i] = Math.floor(EDGES[i + 1]! / EDGES[i]! / MAGNITUDE_STEP) - 1;
  }
}
fillTables();

/** One Gaussian number of mean 0 and variance 1. */
export function gaussianOf(stream: IntegerStream): number {
  for (;;) {
    // The high bits are the best of this generator: layer from them, then sign, then magnitude.
    const bits = stream.next();
    const layer = bits >>> 25;
    const magnitude = bits & 0xffffff;
    const x = (magnitude + 0.5) * WIDTHS[layer]!;
    const isNegative = (bits & 0x1000000) !== 0;
    if (magnitude < INSIDE[layer]!) return isNegative ? -x : x;
    if (layer === 0) {
      const tail = tailOf(stream);
      return isNegative ? -tail : tail;
    }
    if (isUnderCurve(x, layer, uniformOf(stream))) return isNegative ? -x : x;
  }
}

/** Whether a point of the layer's corner lies under the curve. */
function isUnderCurve(x: number, layer: number, share: number): boolean {
  const outer = EDGES[layer]!;
  const inner = EDGES[layer + 1]!;
  const low = exponential(-0.5 * (outer * outer - x * x));
  const high = exponential(-0.5 * (inner * inner - x * x));
  return low + share * (high - low) < 1;
}

/** A number beyond TAIL_START. Source: Marsaglia, Generating a variable from the tail, 1964. */
function tailOf(stream: IntegerStream): number {
  for (;;) {
    const x = -logarithm(uniformOf(stream)) / TAIL_START;
    const y = -logarithm(uniformOf(stream));
    if (2 * y > x * x) return TAIL_START + x;
  }
}

/** Adds rms·Gaussian to out[0 … count). */
export function addGaussian(
  out: Float64Array,
  count: number,
  rms: number,
  stream: IntegerStream,
): void {
  for (let i = 0; i < count; i += 1) out[i] = out[i]! + rms * gaussianOf(stream);
}
