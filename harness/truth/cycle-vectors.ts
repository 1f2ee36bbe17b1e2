// Z(m) of the analytic signal: the triangle over two cycles, from the moments of each cycle. Closed
// form wherever amplitude and frequency are constant over the triangle, or the component is tied to
// a whole order with a constant amplitude whatever the speed.
import type { Carrier } from "./carriers.ts";
import type { Complex } from "./complex.ts";
import { addMoments } from "./filon.ts";
import type { Moments } from "./filon.ts";
import type { MotionTruth } from "./shaft-motion.ts";

const TWO_PI = 2 * Math.PI;
/** A share of the amplitude that counts as nothing. */
const NOTHING = 1e-14;

/** The cycles of one acquisition: boundary c stands at offsetRev + c·cycleRev of the true angle. */
export interface CycleGrid {
  shaft: number;
  motion: MotionTruth;
  /** Revolutions of the true shaft in one cycle of the tracker. */
  cycleRev: number;
  offsetRev: number;
  /** Order tracked, of the cycle. */
  order: number;
}

export function boundaryTimeS(grid: CycleGrid, c: number): number {
  return grid.motion.timeAt(grid.offsetRev + c * grid.cycleRev);
}

function sinc(x: number): number {
  return x === 0 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x);
}

/** sinc² with exact nulls at whole numbers: order differences are whole up to rounding. */
function sincSquared(x: number): number {
  const nearest = Math.round(x);
  if (Math.abs(x - nearest) < 1e-12) return nearest === 0 ? 1 : 0;
  return sinc(x) ** 2;
}

/** A component that is steady over a stretch: what it adds at boundary m turns with its phase. */
interface SteadyPart {
  carrier: Carrier;
  amplitude: Complex;
  direct: number;
  image: number;
}

/** Whole-cycle moments of one carrier, kept for the next triangle. */
interface KeptCycle {
  c: number;
  falling: Complex;
  rising: Complex;
}

/** A stretch of triangles over which nothing but phases changes. */
interface Stretch {
  untilS: number;
  /** Sum of all that does not turn. */
  constant: Complex;
  turning: SteadyPart[];
}

export class CycleVectors {
  readonly #grid: CycleGrid;
  readonly #carriers: readonly Carrier[];
  readonly #kept: (KeptCycle | undefined)[];
  #stretch: Stretch | undefined;

  constructor(grid: CycleGrid, carriers: readonly Carrier[]) {
    this.#grid = grid;
    this.#carriers = carriers;
    this.#kept = carriers.map(() => undefined);
  }

  /** Until when triangles that end before it are all alike; 0 where they are not. */
  get constantUntilS(): number {
    const stretch = this.#stretch;
    return stretch !== undefined && stretch.turning.length === 0 ? stretch.untilS : 0;
  }

  /** The vector of the triangle about boundary m, which runs from fromS over middleS to untilS. */
  vector(m: number, fromS: number, middleS: number, untilS: number, out: Complex): void {
    if (this.#stretch === undefined || untilS > this.#stretch.untilS) {
      this.#stretch = this.#steadyStretch(fromS, untilS);
    }
    const stretch = this.#stretch;
    out.re = 0;
    out.im = 0;
    if (stretch !== undefined) {
      out.re = stretch.constant.re;
      out.im = stretch.constant.im;
      for (const part of stretch.turning) this.#addTurning(part, m, middleS, out);
      return;
    }
    for (let i = 0; i < this.#carriers.length; i += 1) {
      this.#addCarrier(i, m, fromS, middleS, untilS, out);
    }
  }

  /** The shaft and order of a carrier whose phase hangs on this shaft; a constant hangs on any. */
  #ownTie(carrier: Carrier): Carrier["tied"] {
    const { tied } = carrier;
    return tied?.shaft === this.#grid.shaft || tied?.order === 0 ? tied : undefined;
  }

  /** Cycles per cycle of the tracker, where that is constant at a time. */
  #relativeOrder(carrier: Carrier, timeS: number): number {
    const tied = this.#ownTie(carrier);
    if (tied !== undefined) return tied.order * this.#grid.cycleRev;
    return (
      (carrier.frequencyHzAt(timeS) / this.#grid.motion.meanSpeedAt(timeS)) * this.#grid.cycleRev
    );
  }

  #isWhole(carrier: Carrier): boolean {
    const tied = this.#ownTie(carrier);
    if (tied === undefined) return false;
    const relative = tied.order * this.#grid.cycleRev;
    return Math.abs(relative - Math.round(relative)) < 1e-12;
  }

  #steadyStretch(fromS: number, untilS: number): Stretch | undefined {
    const { motion } = this.#grid;
    let until = Infinity;
    const areAllWhole = this.#carriers.every((carrier) => this.#isWhole(carrier));
    if (!areAllWhole || motion.slopeAt(fromS) !== 0) {
      if (motion.slopeAt(fromS) !== 0 || motion.hasRipple) {
        if (!areAllWhole) return undefined;
      } else until = motion.cornerAfter(fromS);
    }
    for (const carrier of this.#carriers) {
      until = Math.min(until, carrier.steadyUntil(fromS));
      if (carrier.tied !== undefined && this.#ownTie(carrier) === undefined) {
        // Another shaft's frequency must stand still, too: its corners end the stretch.
        if (carrier.hasRipple === true) return undefined;
        const later = Math.min(until, untilS + 1);
        const now = carrier.frequencyHzAt(fromS);
        if (carrier.frequencyHzAt(later) !== now) return undefined;
        until = Math.min(until, carrier.breakAfter(fromS));
      }
      if (until < untilS) return undefined;
    }
    const stretch: Stretch = { untilS: until, constant: { re: 0, im: 0 }, turning: [] };
    for (const carrier of this.#carriers) this.#addSteady(stretch, carrier, fromS);
    return stretch;
  }

  #addSteady(stretch: Stretch, carrier: Carrier, fromS: number): void {
    const { order } = this.#grid;
    const relative = this.#relativeOrder(carrier, fromS);
    const direct = sincSquared(relative - order);
    const image = sincSquared(relative + order);
    const amplitude = { re: 0, im: 0 };
    carrier.amplitudeAt(fromS, amplitude);
    if (direct + image < NOTHING) return;
    const part = { carrier, amplitude, direct, image };
    if (this.#isWhole(carrier)) this.#addTurning(part, 0, 0, stretch.constant);
    else stretch.turning.push(part);
  }

  /** Phase of a carrier at boundary m: from the angle where it is tied to this shaft. */
  #phaseAt(carrier: Carrier, m: number, timeS: number): number {
    const { offsetRev, cycleRev } = this.#grid;
    const tied = this.#ownTie(carrier);
    if (tied !== undefined) return tied.order * offsetRev + tied.order * cycleRev * m;
    return carrier.phaseRevAt(timeS);
  }

  #addTurning(part: SteadyPart, m: number, middleS: number, out: Complex): void {
    const turn = this.#phaseAt(part.carrier, m, middleS);
    const angle = TWO_PI * (turn - Math.round(turn));
    const cos = Math.cos(angle);
    const sin = Math.sin(angle);
    const re = part.amplitude.re * cos - part.amplitude.im * sin;
    const im = part.amplitude.re * sin + part.amplitude.im * cos;
    out.re += (part.direct + part.image) * re;
    out.im += (part.direct - part.image) * im;
  }

  #addCarrier(
    i: number,
    m: number,
    fromS: number,
    middleS: number,
    untilS: number,
    out: Complex,
  ): void {
    const carrier = this.#carriers[i]!;
    if (this.#isWhole(carrier) && carrier.steadyUntil(fromS) >= untilS) {
      const relative = Math.round(this.#relativeOrder(carrier, fromS));
      const direct = relative === this.#grid.order ? 1 : 0;
      const amplitude = { re: 0, im: 0 };
      carrier.amplitudeAt(fromS, amplitude);
      this.#addTurning({ carrier, amplitude, direct, image: 0 }, m, middleS, out);
      return;
    }
    const kept = this.#kept[i];
    const before = kept?.c === m - 1 ? kept : this.#cycle(carrier, m - 1, fromS, middleS);
    const after = this.#cycle(carrier, m, middleS, untilS);
    this.#kept[i] = after;
    out.re += before.rising.re + after.falling.re;
    out.im += before.rising.im + after.falling.im;
  }

  /** The rising and the falling half of a triangle over one cycle. */
  #cycle(carrier: Carrier, c: number, fromS: number, untilS: number): KeptCycle {
    if (carrier.needsRaw?.(fromS, untilS) === true)
      return this.#rawCycle(carrier, c, fromS, untilS);
    const { motion, offsetRev, cycleRev, order } = this.#grid;
    const start = offsetRev + c * cycleRev;
    const direct: Moments = { plain: { re: 0, im: 0 }, rising: { re: 0, im: 0 } };
    const image: Moments = { plain: { re: 0, im: 0 }, rising: { re: 0, im: 0 } };
    const own = this.#ownTie(carrier);
    const isOwn = own !== undefined;
    const phaseFrom = isOwn ? own.order * start : carrier.phaseRevAt(fromS);
    const phasePerCycle = isOwn ? own.order * cycleRev : carrier.phaseRevAt(untilS) - phaseFrom;
    // What is left of the phase beside the straight line turns slowly and goes into g.
    const g = (u: number, at: Complex): void => {
      const timeS = Math.min(Math.max(motion.timeAt(start + u * cycleRev), fromS), untilS);
      carrier.amplitudeAt(timeS, at);
      if (isOwn) return;
      const rest = TWO_PI * (carrier.phaseRevAt(timeS) - phaseFrom - phasePerCycle * u);
      const cos = Math.cos(rest);
      const sin = Math.sin(rest);
      const { re } = at;
      at.re = re * cos - at.im * sin;
      at.im = re * sin + at.im * cos;
    };
    let u = 0;
    let timeS = fromS;
    while (u < 1) {
      const breakS = Math.min(carrier.breakAfter(timeS), motion.cornerAfter(timeS));
      const next = breakS >= untilS ? 1 : (motion.angleAt(breakS) - start) / cycleRev;
      addMoments(
        g,
        u,
        Math.min(1, next),
        TWO_PI * (phasePerCycle - order),
        TWO_PI * (-phasePerCycle - order),
        direct,
        image,
      );
      u = next;
      timeS = breakS;
    }
    return placed(c, phaseFrom, direct, image);
  }

  /** A cycle by the midpoint rule in the angle, on the signal itself. */
  #rawCycle(carrier: Carrier, c: number, fromS: number, untilS: number): KeptCycle {
    const { motion, offsetRev, cycleRev, order } = this.#grid;
    const kept: KeptCycle = { c, falling: { re: 0, im: 0 }, rising: { re: 0, im: 0 } };
    for (let i = 0; i < RAW_POINTS; i += 1) {
      const u = (i + 0.5) / RAW_POINTS;
      const at = motion.timeAt(offsetRev + (c + u) * cycleRev);
      const x = (2 / RAW_POINTS) * carrier.rawAt!(Math.min(Math.max(at, fromS), untilS));
      const re = x * Math.cos(TWO_PI * order * u);
      const im = -x * Math.sin(TWO_PI * order * u);
      kept.rising.re += u * re;
      kept.rising.im += u * im;
      kept.falling.re += (1 - u) * re;
      kept.falling.im += (1 - u) * im;
    }
    return kept;
  }
}

/** Points of a cycle that is integrated as it is; its kinks are worth 1e-7 at this many. */
const RAW_POINTS = 16_384;

/** Turns a cycle's moments to the phase at its start; the tracked order is whole there. */
function placed(c: number, phaseFrom: number, direct: Moments, image: Moments): KeptCycle {
  const angle = TWO_PI * (phaseFrom - Math.round(phaseFrom));
  const cos = Math.cos(angle);
  const sin = Math.sin(angle);
  const turned = (d: Complex, i: Complex): Complex => ({
    re: d.re * cos - d.im * sin + (i.re * cos + i.im * sin),
    im: d.re * sin + d.im * cos + (i.im * cos - i.re * sin),
  });
  const plain = turned(direct.plain, image.plain);
  const rising = turned(direct.rising, image.rising);
  return { c, rising, falling: { re: plain.re - rising.re, im: plain.im - rising.im } };
}
