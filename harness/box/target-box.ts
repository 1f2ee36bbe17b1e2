// A target that speaks our records as a box that shows levels: its own specification in place of bits.
import { configurationBytes } from "../../host/profile/configuration.ts";
import { decodeRecords } from "../../host/records.ts";
import { CAUTION_HELD, CAUTION_ON, CAUTION_TIMING_OFF, VALID } from "../../shared/units.ts";
import type { LevelBox, Reading, Stimulus } from "../adapter/adapter.ts";
import type { BlockBatch, Target } from "../target/target.ts";
import type { BoxUnderTest } from "./box-under-test.ts";

const BATCH_SAMPLES = 65_536;
/** States in which the caution is shown. */
const SHOWN: readonly number[] = [CAUTION_ON, CAUTION_TIMING_OFF, CAUTION_HELD];

function readingsOf(bytes: Uint8Array, { profile }: Stimulus): Reading[] {
  return decodeRecords(bytes).flatMap((record): Reading[] => {
    if (record.kind !== "level") return [];
    const { name, display } = profile.filters[record.filter]!;
    return [
      {
        timeS: record.tick / profile.clockHz,
        filter: name,
        shown: record.shownCounts * display.step,
        isValid: record.validity === VALID,
        speedRevPerS: record.speedNowRevPerS,
        isCaution: SHOWN.includes(record.cautionState),
      },
    ];
  });
}

class TargetBox implements LevelBox {
  readonly #target: Target;
  readonly #identity: string;

  constructor(target: Target, identity: string) {
    this.#target = target;
    this.#identity = identity;
  }

  async facts() {
    return { name: "target", identity: this.#identity, clock: "host" as const };
  }

  async play(stimulus: Stimulus, signal: AbortSignal): Promise<Reading[]> {
    const { profile } = stimulus;
    await this.#target.configure(configurationBytes(profile));
    const readings: Reading[] = [];
    for (;;) {
      signal.throwIfAborted();
      const piece = stimulus.next(BATCH_SAMPLES);
      if (piece === undefined) break;
      const batch: BlockBatch = {
        firstSample: piece.firstSample,
        sampleCount: piece.samples[0]!.length,
        samples: piece.samples.map((values) => Float32Array.from(values)),
        edges: piece.edges.map((times) =>
          times.map((timeS) => Math.round(timeS * profile.clockHz)),
        ),
        inputs: [{ fromSample: piece.firstSample, bits: 0 }],
      };
      readings.push(...readingsOf(await this.#target.feed(batch), stimulus));
    }
    readings.push(...readingsOf((await this.#target.finish()).records, stimulus));
    return readings;
  }

  close(): Promise<void> {
    return this.#target.close();
  }
}

/** Opens the target. Errors: the target's own. */
export async function targetBox(target: Target, signal: AbortSignal): Promise<BoxUnderTest> {
  const { kind, identity } = await target.open(signal);
  const box = new TargetBox(target, identity);
  return { box, facts: await box.facts(), kind, identity };
}
