// A scale of colours that grows evenly darker to the eye: from pale green-grey to dark violet.
// Amber is not in it. It reads the same in grey, and for an eye that parts no colours.
// Source: the OKLab space, B. Ottosson, 2020 (matrices from memory, checked against grey and the
// primaries by a test).

/** Red, green, blue, 0 to 255. */
export type Colour = readonly [number, number, number];

const LIGHTNESS_FROM = 0.965;
const LIGHTNESS_UNTIL = 0.24;
const HUE_FROM_DEG = 190;
const HUE_UNTIL_DEG = 305;
const CHROMA_MOST = 0.105;

function gamma(linear: number): number {
  const inside = Math.min(1, Math.max(0, linear));
  return inside <= 0.0031308 ? 12.92 * inside : 1.055 * inside ** (1 / 2.4) - 0.055;
}

/** A colour of the OKLab space in sRGB; outside its reach it is cut off. */
export function fromOklab(lightness: number, a: number, b: number): Colour {
  const l = (lightness + 0.3963377774 * a + 0.2158037573 * b) ** 3;
  const m = (lightness - 0.1055613458 * a - 0.0638541728 * b) ** 3;
  const s = (lightness - 0.0894841775 * a - 1.291485548 * b) ** 3;
  const channel = (value: number): number => Math.round(255 * gamma(value));
  return [
    channel(4.0767416621 * l - 3.3077115913 * m + 0.2309699292 * s),
    channel(-1.2684380046 * l + 2.6097574011 * m - 0.3413193965 * s),
    channel(-0.0041960863 * l - 0.7034186147 * m + 1.707614701 * s),
  ];
}

/** The colour at a place of the scale, 0 (little) to 1 (much). */
export function scaleColour(place: number): Colour {
  const lightness = LIGHTNESS_FROM + place * (LIGHTNESS_UNTIL - LIGHTNESS_FROM);
  const hue = ((HUE_FROM_DEG + place * (HUE_UNTIL_DEG - HUE_FROM_DEG)) * Math.PI) / 180;
  // Little colour at either end, where there is little room for it.
  const chroma = CHROMA_MOST * Math.sin(Math.PI * (0.03 + 0.9 * place));
  return fromOklab(lightness, chroma * Math.cos(hue), chroma * Math.sin(hue));
}

export function hexOf([red, green, blue]: Colour): string {
  return `#${[red, green, blue].map((one) => one.toString(16).padStart(2, "0")).join("")}`;
}
