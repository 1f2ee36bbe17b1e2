// Edges of an ideal wheel with a constant acceleration, and what may be done to them. Time of angle θ
// (rev) by the root of θ = n·t + a·t²/2 in its stable form, so nothing is shared with the firmware.
import { INDEX_EXTRA_EDGE, INDEX_MISSING_TOOTH } from "../../../shared/units.ts";

export interface WheelRun {
  clockHz: number;
  positions: number;
  index: number;
  /** Revolutions of the shaft in one turn of the wheel. */
  revolutions: number;
  revPerS: number;
  revPerS2: number;
  turns: number;
  /** Position of the wheel at the first edge. */
  first: number;
  startTick: number;
  /** Position error in pitches, by position counted from the first turn's index. */
  errorPitches: (position: number) => number;
}

/** One edge before it is captured: position p of turn r is r·P + p; marks stand at halves. */
export interface WheelEdge {
  place: number;
  tick: number;
}

const DEFAULTS: WheelRun = {
  clockHz: 80e6,
  positions: 60,
  index: 0,
  revolutions: 1,
  revPerS: 80,
  revPerS2: 0,
  turns: 10,
  first: 0,
  startTick: 1000,
  errorPitches: () => 0,
};

/** The wheel's edges; captured as floor(t·clock). */
export function wheelEdges(given: Partial<WheelRun>): WheelEdge[] {
  const w = { ...DEFAULTS, ...given };
  const tickAt = (place: number): number => {
    const pitches = place - w.first + w.errorPitches(place);
    const theta = (pitches / w.positions) * w.revolutions;
    const root = Math.sqrt(w.revPerS * w.revPerS + 2 * w.revPerS2 * theta);
    return w.startTick + Math.floor(((2 * theta) / (w.revPerS + root)) * w.clockHz);
  };
  const edges: WheelEdge[] = [];
  for (let place = w.first; place < w.first + w.turns * w.positions; place += 1) {
    const position = place % w.positions;
    const isGap = w.index === INDEX_MISSING_TOOTH && position === w.positions - 1;
    if (!isGap) edges.push({ place, tick: tickAt(place) });
    if (w.index === INDEX_EXTRA_EDGE && position === w.positions - 1) {
      edges.push({ place: place + 0.5, tick: tickAt(place + 0.5) });
    }
  }
  return edges;
}

export const ticksOf = (edges: WheelEdge[]): number[] => edges.map((edge) => edge.tick);

/** Leaves out the edges at these places. */
export function without(edges: WheelEdge[], ...places: number[]): WheelEdge[] {
  return edges.filter((edge) => !places.includes(edge.place));
}

/** Adds an edge at a place between two that are there. */
export function withGlitch(edges: WheelEdge[], place: number): WheelEdge[] {
  const after = edges.findIndex((edge) => edge.place > place);
  const from = edges[after - 1];
  const to = edges[after];
  if (from === undefined || to === undefined)
    throw new Error("a glitch needs an edge on each side");
  const share = (place - from.place) / (to.place - from.place);
  const tick = Math.round(from.tick + share * (to.tick - from.tick));
  return [...edges.slice(0, after), { place, tick }, ...edges.slice(after)];
}
