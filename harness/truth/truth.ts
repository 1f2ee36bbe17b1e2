// The truth of one scene: what every record must say within its tolerance, from the scene alone.
import { HEALTH_FLAT } from "../../shared/units.ts";
import type { Scene } from "../scene/scene.ts";
import { ChannelTruth } from "./channel-truth.ts";
import {
  channelCounters,
  deviceCounters,
  healthCounters,
  shaftCounters,
} from "./expected-counters.ts";
import { indexEvents, referenceEvents, testEvents } from "./expected-events.ts";
import { HealthStatistics } from "./health-statistics.ts";
import { HealthTruth } from "./health-truth.ts";
import { InputsTruth } from "./inputs-truth.ts";
import { ReferenceTruth } from "./reference.ts";
import type { Certainty } from "./reference.ts";
import { withLostReason } from "./lost-reasons.ts";
import { MotionTruth } from "./shaft-motion.ts";
import { StepGrid } from "./step-clock.ts";
import { TrackedFilter } from "./tracked-filter.ts";
import type { CounterTruth, EventTruth, SceneTruth, StepTruth } from "./types.ts";

class StreamedTruth implements SceneTruth {
  readonly stepCount: number;
  readonly #scene: Scene;
  readonly #grid: StepGrid;
  readonly #references: ReferenceTruth[];
  readonly #channels: ChannelTruth[];
  readonly #health: HealthTruth[];
  readonly #inputs: InputsTruth;
  readonly #filters: TrackedFilter[];
  #step = 0;

  constructor(scene: Scene) {
    this.#scene = scene;
    this.#grid = new StepGrid(scene);
    this.stepCount = this.#grid.stepCount;
    const { profile } = scene;
    const motions = scene.shafts.map((shaft) => new MotionTruth(shaft));
    this.#references = profile.shafts.map((_, i) => new ReferenceTruth(scene, i, motions[i]!));
    this.#channels = profile.channels.map((_, i) => new ChannelTruth(scene, i, motions));
    const isCounts = scene.channels.every(({ converter }) => converter.format === "i16");
    const rateHz = profile.sampleRateHz;
    this.#health = profile.channels.map((channel, i) => {
      const statistics = new HealthStatistics(this.#channels[i]!, channel, rateHz, isCounts);
      return new HealthTruth(i, channel.health.steps, statistics);
    });
    this.#inputs = new InputsTruth(scene, this.#grid);
    // Each filter goes its own way through the flight, so each has components of its own.
    this.#filters = profile.filters.map((filter) => {
      const motion = profile.shafts.map((_, i) => new MotionTruth(scene.shafts[i]!));
      const reference = this.#references[filter.shaft]!;
      const channel = new ChannelTruth(scene, filter.channel, motion);
      return new TrackedFilter(scene, filter, channel, reference, this.#grid);
    });
  }

  acquired(
    filter: number,
    step: number,
    closingTick: number,
    revolution = 2,
  ): { isAllowed: boolean; why: string } {
    return this.#filters[filter]!.acquired(step, closingTick, revolution);
  }

  step(filter: number, step: number, closingTick?: number): StepTruth {
    while (this.#step < step) {
      this.#step += 1;
      this.#stepDevice(this.#step);
    }
    const profile = this.#scene.profile.filters[filter]!;
    const { isTesting } = this.#inputs;
    return this.#filters[filter]!.step(
      step,
      {
        test: isTesting ? "yes" : "no",
        transducer: this.#health[profile.channel]!.state,
        evidence: this.#evidence(profile.shaft, this.#grid.timeOf(step)),
        isTesting: isTesting || this.#inputs.wasTesting,
      },
      closingTick,
    );
  }

  /** Inputs and health, once a step. */
  #stepDevice(step: number): void {
    this.#inputs.advance(step);
    const timeS = this.#grid.timeOf(step);
    const period = {
      fromS: this.#grid.timeOf(step - 1),
      untilS: timeS,
      sampleCount: this.#grid.displaySamples,
      firstSample: this.#grid.sampleOf(step - 1) + 1,
      lastSample: this.#grid.sampleOf(step),
    };
    const wasTesting = this.#inputs.wasTesting;
    this.#health.forEach((health, channel) => {
      const isTurning = this.#isTurning(channel, timeS);
      const mayPass = (check: number): boolean =>
        wasTesting || (check === HEALTH_FLAT && !isTurning);
      health.take(this.#grid.tickOf(step), period, mayPass);
    });
  }

  /** Whether every shaft that the channel's filters follow surely has its reference. */
  #isTurning(channel: number, timeS: number): boolean {
    const own = this.#scene.profile.filters.filter((filter) => filter.channel === channel);
    return (
      own.length > 0 && own.every((filter) => this.#references[filter.shaft]!.at(timeS) === "yes")
    );
  }

  #evidence(shaft: number, timeS: number): Certainty {
    const { evidence } = this.#scene.profile.shafts[shaft]!;
    if (evidence.input && this.#inputs.isRunning(shaft)) return "yes";
    const other = this.#references[1 - shaft];
    return evidence.otherShaft && other !== undefined ? other.at(timeS) : "no";
  }

  events(): EventTruth[] {
    const endTick = this.#grid.tickOf(this.stepCount);
    for (const health of this.#health) health.finish(endTick);
    const { durationS } = this.#scene;
    const shafts = this.#references.flatMap((reference, i) => [
      ...referenceEvents(i, reference, this.#grid, durationS).map(withLostReason),
      ...indexEvents(i, this.#scene.profile.shafts[i]!, reference, this.#grid, durationS),
    ]);
    return [
      ...shafts,
      ...this.#health.flatMap((health) => health.events),
      ...testEvents(this.#inputs),
    ];
  }

  counters(): CounterTruth[] {
    return [
      ...deviceCounters(this.#grid),
      ...this.#references.flatMap((reference, i) => shaftCounters(this.#scene, i, reference)),
      ...channelCounters(this.#scene, this.#channels, this.#grid),
      ...healthCounters(this.#health),
    ];
  }
}

/**
 * The truth of a scene, computed in f64 from its analytic signal.
 *
 * Accuracy  1e-10 of the largest component before the poles; the tolerance is told beside it
 * Errors    throws where a component cannot be made for its channel (it would have to be
 *           integrated)
 */
export function makeTruth(scene: Scene): SceneTruth {
  return new StreamedTruth(scene);
}
