// Scenes for measuring, and what a target answers to them: a filter of a profile at a held speed, without
// health checks, smoothing or a channel's response, so that what is measured is the tracking filter.
import { configurationBytes } from "../../host/profile/configuration.ts";
import type { Counters } from "../../host/record-types.ts";
import { decodeRecords } from "../../host/records.ts";
import { EVENT_REFERENCE_FOUND, VALID } from "../../shared/units.ts";
import { FLAG_SETTLED } from "../../shared/layout.ts";
import { messageOf } from "../../host/error-message.ts";
import { makePlainJudge } from "../judge/streaming-judge.ts";
import { type Line, caseLabel } from "../run/line.ts";
import { TargetFailure } from "../run/run-case.ts";
import type {
  Component,
  Envelope,
  FilterProfile,
  MonitorProfile,
  Scene,
  ShaftMotion,
} from "../scene/scene.ts";
import { timeConstantS } from "../truth/filter-response.ts";
import { makeTruth } from "../truth/truth.ts";
import type { StepTruth } from "../truth/types.ts";
import { makeWaveform } from "../waveform/waveform.ts";

const BATCH_SAMPLES = 65_536;
/** Time constants until what is left of a beginning is under 1e-7 of it. */
const WAIT_TAU = 20;
/** Cycles before the recursion begins, at most. */
const START_CYCLES = 8;
/** Share of the channel's range that is played. */
export const PLAYED_SHARE = 0.25;

/** One display step of the filter that is measured. */
export interface MeasuredStep {
  timeS: number;
  /** Since the end of the newest revolution counted. */
  ageS: number;
  level: number;
  shownCounts: number;
  isSettled: boolean;
  isValid: boolean;
  truth: StepTruth;
}

export interface Answer {
  steps: MeasuredStep[];
  /** First time that the shaft's reference was found; undefined: never. */
  foundS?: number;
  bytes: number;
}

/** The profile as it is measured. */
function bareProfile(profile: MonitorProfile): MonitorProfile {
  return {
    ...profile,
    channels: profile.channels.map((channel) => ({
      ...channel,
      response: { kind: "none" },
      health: { steps: 1 },
    })),
    filters: profile.filters.map((filter) => ({
      ...filter,
      display: { ...filter.display, source: { kind: "own" }, smoothingS: 0, holdSteps: 0 },
    })),
  };
}

export class Bench {
  readonly profile: MonitorProfile;
  readonly filter: FilterProfile;
  readonly speedRevPerS: number;
  readonly cycleS: number;
  readonly tauS: number;
  /** Order within a cycle of the tachometer. */
  readonly cycleOrder: number;
  /** Amplitude that is played, the channel's own quantity, pk. */
  readonly amplitudePk: number;
  readonly #index: number;
  readonly #line: Line;
  readonly #signal: AbortSignal;
  readonly #isCounts: boolean;
  plays = 0;

  constructor(
    profile: MonitorProfile,
    index: number,
    speedRevPerS: number,
    carrier: { line: Line; signal: AbortSignal; isCounts: boolean },
  ) {
    this.profile = bareProfile(profile);
    this.#index = index;
    this.filter = this.profile.filters[index]!;
    this.speedRevPerS = speedRevPerS;
    const { revolutions } = this.profile.shafts[this.filter.shaft]!;
    this.cycleS = revolutions / speedRevPerS;
    const { bandwidth } = this.filter;
    const widthHz =
      bandwidth.kind === "fixed" ? bandwidth.fullWidthHz : bandwidth.fullWidthRatio * speedRevPerS;
    this.tauS = timeConstantS(widthHz);
    this.cycleOrder = this.filter.order * revolutions;
    this.amplitudePk = PLAYED_SHARE * this.profile.channels[this.filter.channel]!.range;
    this.#line = carrier.line;
    this.#signal = carrier.signal;
    this.#isCounts = carrier.isCounts;
  }

  /** From the start until all has settled to a ten-millionth. */
  get waitS(): number {
    return WAIT_TAU * this.tauS + START_CYCLES * this.cycleS + this.profile.displayPeriodS;
  }

  /** A tone of the played amplitude, so many Hz beside the order. */
  tone(offsetHz: number): Component {
    return {
      kind: "tone",
      frequencyHz: this.filter.order * this.speedRevPerS + offsetHz,
      quantity: this.profile.channels[this.filter.channel]!.quantity,
      amplitudePk: this.amplitudePk,
      phaseLagRad: 0.7,
    };
  }

  /** A component at an order of the filter's shaft. */
  order(order: number, envelope: Envelope): Component {
    const { quantity } = this.profile.channels[this.filter.channel]!;
    return { kind: "order", shaft: this.filter.shaft, order, quantity, envelope };
  }

  constant(amplitudePk: number): Envelope {
    return { kind: "constant", amplitudePk, phaseLagRad: 0.7 };
  }

  scene(
    name: string,
    durationS: number,
    components: Component[],
    speedRevPerS = this.speedRevPerS,
  ): Scene {
    const { channels, shafts } = this.profile;
    const converter = (step: number): Scene["channels"][number]["converter"] =>
      this.#isCounts ? { format: "i16", step } : { format: "f32", step: 0 };
    return {
      name: `measure: ${name}`,
      question: "What does the tracking filter make of it?",
      requirements: [],
      profile: this.profile,
      durationS,
      seed: 1,
      shafts: shafts.map(
        ({ positions, revolutions, index, speedMinRevPerS, speedMaxRevPerS }, i) => {
          const own = i === this.filter.shaft;
          const other = (speedMinRevPerS + speedMaxRevPerS) / 2;
          return motion(own ? speedRevPerS : other, { positions, revolutions, index });
        },
      ),
      channels: channels.map(({ countStep }, i) => ({
        components: i === this.filter.channel ? components : [],
        mean: 0,
        frontEnd: { kind: "none" },
        faults: [],
        converter: converter(countStep),
      })),
      inputs: [{ timeS: 0, inhibit: 0, acknowledge: 0, running: 0, test: false }],
      expectation: { eitherShare: 1 },
    };
  }

  /** Plays a scene to the target. Errors: TargetFailure; AbortError. */
  async play(made: Scene): Promise<Answer> {
    this.plays += 1;
    const target = this.#line.target(caseLabel(made));
    try {
      await target.open(this.#signal);
      await target.configure(configurationBytes(this.profile));
      const waveform = makeWaveform(made);
      const parts: Uint8Array[] = [];
      for (;;) {
        this.#signal.throwIfAborted();
        const batch = waveform.next(BATCH_SAMPLES);
        if (batch === undefined) break;
        parts.push((await target.feed(batch)).slice());
      }
      const { records, counters } = await target.finish();
      parts.push(records);
      return this.#answer(made, new Uint8Array(Buffer.concat(parts)), counters);
    } catch (error) {
      if (this.#signal.aborted) throw error;
      throw new TargetFailure(`${made.name}: ${messageOf(error)}`, { cause: error });
    } finally {
      await target.close();
    }
  }

  #answer(made: Scene, bytes: Uint8Array, counters: Counters): Answer {
    const { clockHz } = this.profile;
    const steps: MeasuredStep[] = [];
    const judge = makePlainJudge(made, makeTruth(made), ({ filter, timeS, truth, record }) => {
      if (filter !== this.#index || record === undefined) return;
      steps.push({
        timeS,
        ageS: record.ageTicks / clockHz,
        level: record.level,
        shownCounts: record.shownCounts,
        isSettled: (record.flags & FLAG_SETTLED) !== 0,
        isValid: record.validity === VALID,
        truth,
      });
    });
    judge.take(bytes);
    judge.finish(counters);
    const found = decodeRecords(bytes).find(
      (one) =>
        one.kind === "event" &&
        one.code === EVENT_REFERENCE_FOUND &&
        one.source === this.filter.shaft,
    );
    const foundS = found?.kind === "event" ? found.tick / clockHz : undefined;
    return { steps, ...(foundS === undefined ? {} : { foundS }), bytes: bytes.byteLength };
  }
}

function motion(
  revPerS: number,
  wheel: Pick<ShaftMotion["wheel"], "positions" | "revolutions" | "index">,
): ShaftMotion {
  return {
    speed: [{ timeS: 0, revPerS }],
    startAngleRev: 0.123,
    ripple: [],
    wheel: { ...wheel, eccentricityRev: 0, jitterS: 0 },
    faults: [],
  };
}
