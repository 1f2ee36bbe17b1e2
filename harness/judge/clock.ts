// The grid of display steps and the inputs from outside as they stand at each.
import type { InputRow, Scene } from "../scene/scene.ts";

/** Ticks and times of a scene's display steps. */
export class StepClock {
  readonly stepTicks: number;
  readonly clockHz: number;
  readonly displayPeriodS: number;
  readonly timeUnit: "s" | "sample";
  private readonly ticksPerSample: number;
  private readonly sampleRateHz: number;

  constructor(scene: Scene) {
    const { clockHz, sampleRateHz, displayPeriodS, timeUnit } = scene.profile;
    this.clockHz = clockHz;
    this.sampleRateHz = sampleRateHz;
    this.ticksPerSample = Math.round(clockHz / sampleRateHz);
    const displaySamples = Math.round(displayPeriodS * sampleRateHz);
    this.stepTicks = displaySamples * this.ticksPerSample;
    this.displayPeriodS = displaySamples / sampleRateHz;
    this.timeUnit = timeUnit;
  }

  tickOf(step: number): number {
    return step * this.stepTicks;
  }

  stepOf(tick: number): number {
    return Math.round(tick / this.stepTicks);
  }

  timeOf(tick: number): number {
    return tick / this.clockHz;
  }

  /** The first sample's tick at which an input of this time stands. */
  inputTick(timeS: number): number {
    return Math.ceil(timeS * this.sampleRateHz - 1e-6) * this.ticksPerSample;
  }
}

/** One input bit of a display over time: what stands at a step, and what happened since the last. */
export class InputBit {
  private readonly ticks: number[] = [];
  private readonly values: boolean[] = [];
  private next = 0;
  isSet = false;
  /** Rising and falling edges after the step before, up to and at this one. */
  riseCount = 0;
  fallCount = 0;
  /** Tick of the first edge counted. */
  firstTick = 0;

  constructor(clock: StepClock, rows: InputRow[], read: (row: InputRow) => boolean) {
    for (const row of rows) {
      this.ticks.push(clock.inputTick(row.timeS));
      this.values.push(read(row));
    }
  }

  /** Brings the bit up to a step's tick. */
  advance(tick: number): void {
    this.riseCount = 0;
    this.fallCount = 0;
    while (this.next < this.ticks.length && this.ticks[this.next]! <= tick) {
      const value = this.values[this.next]!;
      if (value !== this.isSet) {
        if (this.riseCount + this.fallCount === 0) this.firstTick = this.ticks[this.next]!;
        if (value) this.riseCount += 1;
        else this.fallCount += 1;
      }
      this.isSet = value;
      this.next += 1;
    }
  }
}
