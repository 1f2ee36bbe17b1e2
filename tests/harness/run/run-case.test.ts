import { describe, expect, it } from "vitest";
import { InputError } from "../../../host/input-error.ts";
import { BatchError } from "../../../harness/target/block-cutter.ts";
import { type CaseParts, TargetFailure, runCase } from "../../../harness/run/run-case.ts";
import type { BlockBatch, Target } from "../../../harness/target/target.ts";
import type { SceneTruth } from "../../../harness/truth/types.ts";
import { sampleCase } from "../../kit/sample-case.ts";
import { scene } from "../../kit/scene-builder.ts";

const SAMPLES = 150_000;

/** A target that answers each batch with one byte, and says what was asked of it. */
class EchoTarget implements Target {
  readonly asked: string[] = [];
  echo = new Uint8Array([1, 2, 3]);
  failAt = "";
  #note(what: string): void {
    this.asked.push(what);
    if (what === this.failAt) throw new Error("the plug came out");
  }
  async open() {
    this.#note("open");
    return {
      kind: "core",
      identity: "0011223344556677",
      layoutVersion: 1,
      numericsVersion: 4,
      sampleFormats: ["f32" as const],
    };
  }
  async configure() {
    this.#note("configure");
    return { bytes: this.echo };
  }
  async feed(batch: BlockBatch) {
    this.#note(`feed ${batch.firstSample} ${batch.sampleCount}`);
    return new Uint8Array([batch.firstSample % 251]);
  }
  async finish() {
    this.#note("finish");
    return { records: new Uint8Array([255]), counters: sampleCase().counters };
  }
  async reset() {}
  async close() {
    this.asked.push("close");
  }
}

function standIns(): { parts: CaseParts; taken: number[][] } {
  const taken: number[][] = [];
  const parts: CaseParts = {
    configurationBytes: () => new Uint8Array([1, 2, 3]),
    makeWaveform: () => {
      let first = 0;
      return {
        sampleCount: SAMPLES,
        next: (samplesMax) => {
          const sampleCount = Math.min(samplesMax, SAMPLES - first);
          if (sampleCount === 0) return undefined;
          const batch = { firstSample: first, sampleCount, samples: [], edges: [], inputs: [] };
          first += sampleCount;
          return batch;
        },
      };
    },
    makeTruth: () => ({}) as SceneTruth,
    makeJudge: () => ({
      take: (records) => void taken.push([...records]),
      finish: () => sampleCase().verdict,
    }),
  };
  return { parts, taken };
}

const never = new AbortController().signal;

describe("a case", () => {
  it("[RUN-001] streams in batches of 65,536 and hands every record over, in order", async () => {
    const target = new EchoTarget();
    const { parts, taken } = standIns();
    await runCase(scene(), target, never, parts);
    expect(target.asked).toEqual([
      "open",
      "configure",
      "feed 0 65536",
      "feed 65536 65536",
      "feed 131072 18928",
      "finish",
      "close",
    ]);
    expect(taken).toEqual([[0], [65536 % 251], [131072 % 251], [255]]);
  });

  it("[RUN-002] states what was run and played, how it was set, on what, and no path", async () => {
    const { parts } = standIns();
    const result = await runCase(scene({ seed: 77 }), new EchoTarget(), never, parts);
    expect(result).toMatchObject({
      name: "test",
      seed: 77,
      timeUnit: "s",
      played: [
        { of: "shaft fan", what: "speed", value: "4800 r/min, held" },
        { of: "shaft fan", what: "start angle", value: "0.123 rev" },
        { of: "shaft fan", what: "tachometer", value: "1 position, no index" },
        { of: "channel fan", what: "order 1 of fan", value: "1.01972 g pk, phase lag 30°" },
        { of: "channel fan", what: "front end", value: "none, as the profile says" },
      ],
      target: { kind: "core", identity: "0011223344556677", numericsVersion: 4 },
      sampleRateHz: 12_800,
    });
    expect(result.settings.map((one) => one.number)).toEqual(["fan order 1"]);
    expect(result.id).toMatch(/^[0-9a-f]{16}$/);
    expect(Object.keys(result)).not.toContain("repeat");
  });

  it.each(["open", "configure", "feed 65536 65536", "finish"])(
    "[RUN-003] tells where the target failed: %s",
    async (failAt) => {
      const target = new EchoTarget();
      target.failAt = failAt;
      const outcome = runCase(scene(), target, never, standIns().parts);
      await expect(outcome).rejects.toThrow(TargetFailure);
      await expect(outcome).rejects.toThrow("the plug came out");
    },
  );

  it("[RUN-006] a scene that no cutting makes into blocks is the scene's fault", async () => {
    const target = new EchoTarget();
    target.feed = async () => {
      throw new BatchError("more than 64 edges within sample 0");
    };
    const outcome = runCase(scene(), target, never, standIns().parts);
    await expect(outcome).rejects.toThrow(InputError);
    await expect(outcome).rejects.toThrow("the scene gives more than 64 edges within sample 0");
  });

  it("[RUN-004] an echo that differs by a byte is the target's failure, and it is closed", async () => {
    const target = new EchoTarget();
    target.echo = new Uint8Array([1, 2, 4]);
    const outcome = runCase(scene(), target, never, standIns().parts);
    await expect(outcome).rejects.toThrow("echo of its configuration differs");
    expect(target.asked.at(-1)).toBe("close");
  });

  it("[RUN-005] stops between batches when the signal comes, and closes the target", async () => {
    const controller = new AbortController();
    const target = new EchoTarget();
    const { parts } = standIns();
    parts.makeJudge = () => ({
      take: () => controller.abort(),
      finish: () => sampleCase().verdict,
    });
    const outcome = runCase(scene(), target, controller.signal, parts);
    await expect(outcome).rejects.toThrow(/abort/i);
    expect(target.asked).toEqual(["open", "configure", "feed 0 65536", "close"]);
  });
});
