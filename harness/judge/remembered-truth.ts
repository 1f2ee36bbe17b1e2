// A truth that keeps what it said, so that the same flight can be judged again with altered records
// without being computed again. Its memory grows with the flight: for short flights only.
import type { CounterTruth, EventTruth, SceneTruth, StepTruth } from "../truth/types.ts";

type Acquisition = { isAllowed: boolean; why: string };

/** Passes a truth through once and remembers it. */
export class RememberedTruth implements SceneTruth {
  readonly stepCount: number;
  private readonly steps: StepTruth[][] = [];
  private readonly acquisitions = new Map<string, Acquisition>();
  private readonly truth: SceneTruth;

  constructor(truth: SceneTruth) {
    this.truth = truth;
    this.stepCount = truth.stepCount;
  }

  acquired(filter: number, step: number, closingTick: number, revolution?: number): Acquisition {
    const said = this.truth.acquired(filter, step, closingTick, revolution);
    this.acquisitions.set(`${filter} ${step}`, said);
    return said;
  }

  step(filter: number, step: number, closingTick?: number): StepTruth {
    const said = this.truth.step(filter, step, closingTick);
    const copy = { ...said, allowed: said.allowed.map((one) => ({ ...one })) };
    (this.steps[filter] ??= [])[step] = copy;
    return copy;
  }

  events(): EventTruth[] {
    return this.truth.events();
  }

  counters(): CounterTruth[] {
    return this.truth.counters();
  }

  /** What was said of a step; undefined before the first pass came there. */
  said(filter: number, step: number): StepTruth | undefined {
    return this.steps[filter]?.[step];
  }

  /** The same truth once more, for another pass over the same flight. */
  again(): SceneTruth {
    return {
      stepCount: this.stepCount,
      acquired: (filter, step) =>
        this.acquisitions.get(`${filter} ${step}`) ?? {
          isAllowed: false,
          why: "where nothing was acquired before",
        },
      step: (filter, step) => this.steps[filter]![step]!,
      events: () => this.truth.events(),
      counters: () => this.truth.counters(),
    };
  }
}
