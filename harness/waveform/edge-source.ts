// Edges of one shaft's tachometer: the times at which the true angle passes the wheel's places.
import { gaussianOf } from "../random/gaussian.ts";
import type { IntegerStream } from "../random/stream.ts";
import type { ShaftMotion } from "../scene/scene.ts";
import { EdgeOrder } from "./edge-order.ts";
import { RippleView } from "./ripple.ts";
import type { Ripple } from "./ripple.ts";
import { sampleTime } from "./sample-clock.ts";
import { cyclesOf, revBetween, stateInPiece } from "./shaft-angle.ts";
import type { ShaftState, SpeedPiece } from "./shaft-angle.ts";
import { TachFaults } from "./tach-faults.ts";
import { fractionPart, twoPart, wholePart } from "./two-part.ts";
import { wheelPlaces } from "./wheel.ts";
import type { WheelPlace } from "./wheel.ts";

/** Samples whose time is searched together, by angles relative to one anchor. */
const CHUNK = 1024;
/** Jitter is cut at so many times its rms (2 in 10⁹), so that the order can be settled. */
const JITTER_MAX = 6;
/** Angles this little before the start count as at it. */
const START_GUARD_REV = 1e-12;

export class EdgeSource {
  readonly #motion: ShaftMotion;
  readonly #pieces: readonly SpeedPiece[];
  readonly #places: WheelPlace[];
  /** The places once more, for the short loop: place in the cycle, and 1 where a tooth stands. */
  readonly #parts: Float64Array;
  readonly #fitted: Uint8Array;
  readonly #faults: TachFaults;
  readonly #order: EdgeOrder;
  readonly #ripple: RippleView;
  readonly #hasRipple: boolean;
  readonly #stream: IntegerStream;
  readonly #rateHz: number;
  readonly #ticksPerSample: number;
  readonly #clockHz: number;
  readonly #jitterTicks: number;
  readonly #isPlain: boolean;
  #chunk = 0;
  #piece = 0;
  #cycle: number;
  #place = 0;
  /** Glitches still to come, as cycle and part of it. */
  #glitches: { cycle: number; part: number }[] = [];

  constructor(
    motion: ShaftMotion,
    pieces: readonly SpeedPiece[],
    ripple: readonly Ripple[],
    stream: IntegerStream,
    clock: { sampleRateHz: number; ticksPerSample: number },
  ) {
    this.#motion = motion;
    this.#pieces = pieces;
    this.#places = wheelPlaces(motion.wheel);
    this.#parts = Float64Array.from(this.#places, (place) => place.cyclePart);
    this.#fitted = Uint8Array.from(this.#places, (place) => (place.isFitted ? 1 : 0));
    this.#faults = new TachFaults(motion.faults, motion.wheel.positions);
    this.#ripple = new RippleView(ripple);
    this.#hasRipple = ripple.length > 0;
    this.#stream = stream;
    this.#rateHz = clock.sampleRateHz;
    this.#ticksPerSample = clock.ticksPerSample;
    this.#clockHz = clock.sampleRateHz * clock.ticksPerSample;
    this.#jitterTicks = motion.wheel.jitterS * this.#clockHz;
    this.#isPlain = motion.faults.length === 0 && !this.#hasRipple && this.#jitterTicks === 0;
    const dropOuts = motion.faults.filter((one) => one.kind === "drop-out");
    this.#order = new EdgeOrder(
      dropOuts.map((one) => ({
        fromTick: Math.ceil(one.fromS * this.#clockHz - 1e-3),
        untilTick: Math.ceil(one.untilS * this.#clockHz - 1e-3),
      })),
    );
    this.#cycle = wholePart(cyclesOf(pieces[0]!.startRev, motion.wheel.revolutions)) - 1;
    this.#skipToStart();
  }

  /** Edges before a tick, in order; `into` is used where it is large enough. */
  take(untilTick: number, into: Float64Array): { buffer: Float64Array; count: number } {
    const ahead = untilTick + Math.ceil(JITTER_MAX * this.#jitterTicks) + 1;
    while (this.#chunk * CHUNK * this.#ticksPerSample < ahead) {
      this.#advanceChunk();
      this.#chunk += 1;
    }
    return this.#order.take(untilTick, into);
  }

  /** Leaves out the places that lie before the angle at time 0. */
  #skipToStart(): void {
    const { cycle, part } = this.#anchorOf(this.#pieces[0]!.startRev);
    this.#ripple.move(0);
    for (;;) {
      const next = this.#places[this.#place]!;
      const beyondRev = this.#beyond(this.#cycle, next.cyclePart, cycle, part);
      if (beyondRev - this.#ripple.addedRev >= -START_GUARD_REV) return;
      this.#stepPlace();
    }
  }

  #anchorOf(rev: ShaftState["rev"]): { cycle: number; part: number } {
    const cycles = cyclesOf(rev, this.#motion.wheel.revolutions);
    this.#ripple.anchor(rev);
    return { cycle: wholePart(cycles), part: fractionPart(cycles) };
  }

  #beyond(cycle: number, part: number, anchorCycle: number, anchorPart: number): number {
    return (cycle - anchorCycle + (part - anchorPart)) * this.#motion.wheel.revolutions;
  }

  #stepPlace(): void {
    this.#place += 1;
    if (this.#place < this.#places.length) return;
    this.#place = 0;
    this.#cycle += 1;
  }

  /** All passages within one chunk's time, piece by piece of the speed. */
  #advanceChunk(): void {
    const first = this.#chunk * CHUNK;
    const start = sampleTime(first, this.#rateHz);
    const lengthS = CHUNK / this.#rateHz;
    for (;;) {
      const piece = this.#pieces[this.#piece]!;
      const pieceFromS = revBetween(start, twoPart(piece.startS));
      const pieceUntilS =
        piece.endS === Infinity ? Infinity : revBetween(start, twoPart(piece.endS));
      const fromS = Math.max(0, pieceFromS);
      const untilS = Math.min(lengthS, pieceUntilS);
      const state = stateInPiece(piece, fromS > 0 ? twoPart(piece.startS) : start);
      this.#advanceSpan(first * this.#ticksPerSample, fromS, untilS - fromS, state);
      if (pieceUntilS > lengthS) return;
      this.#piece += 1;
    }
  }

  #advanceSpan(baseTick: number, fromS: number, lengthS: number, state: ShaftState): void {
    const { cycle, part } = this.#anchorOf(state.rev);
    const speed = state.revPerS;
    const slope = state.revPerS2;
    const endRev = lengthS * (speed + 0.5 * slope * lengthS);
    if (this.#isPlain) {
      this.#advancePlain(baseTick, fromS, endRev, state, { cycle, part });
      return;
    }
    for (;;) {
      const place = this.#places[this.#place]!;
      let targetRev = this.#beyond(this.#cycle, place.cyclePart, cycle, part);
      const glitch = this.#glitches[0];
      const glitchRev =
        glitch === undefined ? Infinity : this.#beyond(glitch.cycle, glitch.part, cycle, part);
      const isGlitch = glitchRev < targetRev;
      if (isGlitch) targetRev = glitchRev;
      const meanRev = this.#hasRipple ? this.#ripple.meanBeyond(targetRev) : targetRev;
      if (!(meanRev < endRev)) return;
      const root = Math.sqrt(Math.max(0, speed * speed + 2 * slope * meanRev));
      const afterS = meanRev <= 0 ? 0 : (2 * meanRev) / (speed + root);
      const offsetTicks = (fromS + afterS) * this.#clockHz;
      if (isGlitch) {
        this.#glitches.shift();
        this.#order.put(baseTick, offsetTicks);
      } else {
        this.#pass(place, baseTick, offsetTicks);
        this.#stepPlace();
      }
    }
  }

  /** The same for a shaft without ripple, jitter, glitch or other fault: nearly every one. */
  #advancePlain(
    baseTick: number,
    fromS: number,
    endRev: number,
    { revPerS: speed, revPerS2: slope }: ShaftState,
    anchor: { cycle: number; part: number },
  ): void {
    const parts = this.#parts;
    const fitted = this.#fitted;
    const revolutions = this.#motion.wheel.revolutions;
    const clockHz = this.#clockHz;
    const isSteady = slope === 0;
    let index = this.#place;
    let cycles = this.#cycle - anchor.cycle;
    for (;;) {
      const meanRev = (cycles + (parts[index]! - anchor.part)) * revolutions;
      if (!(meanRev < endRev)) break;
      // Without a slope the root is the speed itself, to the bit.
      const root = isSteady ? speed : Math.sqrt(Math.max(0, speed * speed + 2 * slope * meanRev));
      const afterS = meanRev <= 0 ? 0 : (2 * meanRev) / (speed + root);
      if (fitted[index] === 1) this.#order.put(baseTick, (fromS + afterS) * clockHz);
      index += 1;
      if (index < parts.length) continue;
      index = 0;
      cycles += 1;
    }
    this.#place = index;
    this.#cycle = anchor.cycle + cycles;
  }

  #pass(place: WheelPlace, baseTick: number, offsetTicks: number): void {
    const timeS = (baseTick + offsetTicks) / this.#clockHz;
    const comes = this.#faults.pass(place, timeS);
    for (const fraction of this.#faults.glitches) {
      const part = place.cyclePart + fraction / this.#motion.wheel.positions;
      this.#glitches.push({ cycle: this.#cycle, part });
      this.#glitches.sort((a, b) => a.cycle - b.cycle || a.part - b.part);
    }
    // Drawn for every place, so that a fault leaves the jitter of all other edges as it was.
    const jitter = this.#jitterTicks === 0 ? 0 : this.#jitterTicks * this.#jitterOf();
    if (comes) this.#order.put(baseTick, offsetTicks + jitter);
  }

  #jitterOf(): number {
    return Math.max(-JITTER_MAX, Math.min(JITTER_MAX, gaussianOf(this.#stream)));
  }
}
