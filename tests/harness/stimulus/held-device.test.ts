// The truth of a stimulus against a device that plays all of its file, from the first sample on: ramp,
// hold and scenario, read back from the WAV by code of the tests.
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { BENCH_CAUTIONS } from "../../../host/bench-cautions.ts";
import { configurationBytes } from "../../../host/profile/configuration.ts";
import type { EventRecord, LevelRecord } from "../../../host/record-types.ts";
import { decodeRecords } from "../../../host/records.ts";
import { EVENT_NAMES, validityName } from "../../../harness/judge/event-names.ts";
import type { SideFacts } from "../../../harness/stimulus/side-facts.ts";
import { type StimulusJob, writeStimulus } from "../../../harness/stimulus/stimulus-job.ts";
import type { Scene } from "../../../harness/scene/scene.ts";
import { CoreTarget } from "../../../harness/target/core-target.ts";
import { STATUS_CAUTION } from "../../../shared/layout.ts";
import { loadCore } from "../../kit/play-scene.ts";
import { suiteCases } from "../../kit/regression-suite.ts";
import { FULL_SCALE_V, PULSE_V, stimulusJob } from "./stimulus-kit.ts";
import { crossings, readWav } from "./wav-file.ts";

const folder = mkdtempSync(join(tmpdir(), "amberline held "));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

type Cell = number | string | null;

interface Side extends SideFacts {
  stimulus: string;
  words: string[];
  truth: { columns: string[]; rows: Cell[][] };
  events: { event: string; of: string; fromS: number; untilS: number; isOptional: boolean }[];
  cautions: { filter: string; fromS: number; caution: string }[];
  core: { isRight: boolean };
}

interface Row {
  timeS: number;
  filter: string;
  level: number | null;
  levelTolerance: number | null;
  validity: string;
  caution: string;
}

async function written(
  made: Scene,
  changes: Partial<StimulusJob> = {},
): Promise<{ job: StimulusJob; side: Side; rows: Row[] }> {
  // Many positions a turn need more samples for their pulses.
  const job = stimulusJob(folder, made, { times: 2, ...changes });
  const { sidePath } = await writeStimulus(job);
  const side = JSON.parse(readFileSync(sidePath, "utf8")) as Side;
  const rows = side.truth.rows.map(
    (row) =>
      Object.fromEntries(side.truth.columns.map((name, i) => [name, row[i]])) as never as Row,
  );
  return { job, side, rows };
}

/** All that the built-in core says of the whole file. */
async function wholeFile(
  made: Scene,
  job: StimulusJob,
): Promise<{ levels: LevelRecord[]; events: EventRecord[] }> {
  const { profile } = made;
  const { columns } = readWav(job.path, FULL_SCALE_V);
  const rateHz = profile.sampleRateHz * job.times;
  const edges = profile.shafts.map((_, i) =>
    crossings(columns[made.channels.length + i]!, PULSE_V / 2).map((at) =>
      Math.round((at / rateHz) * profile.clockHz),
    ),
  );
  // A device samples at its own rate, whatever the generator's.
  const own = made.channels.map((_, i) => columns[i]!.filter((__, at) => at % job.times === 0));
  const target = new CoreTarget(loadCore());
  await target.configure(configurationBytes(profile));
  const ticksPerSample = profile.clockHz / profile.sampleRateHz;
  const count = own[0]!.length;
  const found = [];
  for (let first = 0; first < count; first += 32_768) {
    const until = Math.min(count, first + 32_768);
    const inside = (tick: number): boolean =>
      tick >= first * ticksPerSample && tick < until * ticksPerSample;
    const records = await target.feed({
      firstSample: first,
      sampleCount: until - first,
      samples: made.channels.map((signal, i) => {
        const values = own[i]!.subarray(first, until).map((v) => v / job.voltsPerUnit[i]!);
        const isCounts = signal.converter.format === "i16";
        const { countStep } = profile.channels[i]!;
        return isCounts
          ? Int16Array.from(values, (value) => Math.round(value / countStep))
          : Float32Array.from(values);
      }),
      edges: edges.map((ticks) => Float64Array.from(ticks.filter(inside))),
      inputs: [{ fromSample: first, bits: 0 }],
    });
    found.push(...decodeRecords(records));
  }
  found.push(...decodeRecords((await target.finish()).records));
  return {
    levels: found.filter((one): one is LevelRecord => one.kind === "level"),
    events: found.filter((one): one is EventRecord => one.kind === "event"),
  };
}

const SATURATED = "board/is-a-saturated-converter-told-at-a-low-rate.scenario.yaml";
const FILES = [
  "transducer/is-a-lost-noise-floor-an-open-charge-lead.scenario.yaml",
  "board/does-a-caution-come-and-go-in-counts.scenario.yaml",
  "board/do-two-shafts-in-counts-keep-apart.scenario.yaml",
  "board/does-a-speed-under-the-minimum-end-the-number-in-counts.scenario.yaml",
  "board/are-missed-edges-bridged-on-counts.scenario.yaml",
  "board/does-noise-in-counts-stay-within-its-spread.scenario.yaml",
  "board/is-a-bias-out-of-range-told-in-counts.scenario.yaml",
  SATURATED,
  "board/does-a-resonance-read-true-in-counts.scenario.yaml",
  "board/are-counts-read-true-through-gears.scenario.yaml",
  "board/is-an-index-lost-and-found-on-counts.scenario.yaml",
  "board/is-a-drop-out-told-and-left-again-in-counts.scenario.yaml",
];

describe("a device that plays a stimulus from its first sample", () => {
  it.each(FILES)(
    "[STIM-007] reads every row of the side file, held part and all: %s",
    async (file) => {
      const made = suiteCases(file)[0]!;
      const { job, side, rows } = await written(made);
      expect(side.core.isRight).toBe(true);
      const { levels } = await wholeFile(made, job);
      const { clockHz } = made.profile;
      const zeroS = side.file.zeroSample / side.file.sampleRateHz;
      const key = (filter: string, timeS: number): string => `${filter} ${timeS.toFixed(4)}`;
      const read = new Map(
        levels.map((one) => [
          key(made.profile.filters[one.filter]!.name, one.tick / clockHz - zeroS),
          one,
        ]),
      );
      let judged = 0;
      let held = 0;
      for (const row of rows) {
        const where = key(row.filter, row.timeS);
        const one = read.get(where);
        expect(one, where).toBeDefined();
        // A display that takes the greatest of several may have none of them.
        if (made.profile.filters[one!.filter]!.display.source.kind === "own") {
          const validity = validityName(one!.validity, one!.cause);
          expect(row.validity.split(" or "), where).toContain(validity);
        }
        const isOn = (one!.statusBits & STATUS_CAUTION) !== 0;
        if (row.caution !== "either") expect(isOn ? "on" : "off", where).toBe(row.caution);
        if (row.level === null || one!.validity !== 0) continue;
        const { channel, levelFactor } = made.profile.filters[one!.filter]!;
        // A step of 24 bits, as an amplitude of the channel's own quantity.
        const rounding = (levelFactor * FULL_SCALE_V) / 2 ** 23 / job.voltsPerUnit[channel]!;
        expect(Math.abs(one!.level - row.level), where).toBeLessThanOrEqual(
          row.levelTolerance! + rounding,
        );
        judged += 1;
        if (row.timeS < 0) held += 1;
      }
      expect(rows.length).toBeGreaterThan(20);
      if (rows.some(({ validity }) => validity === "valid")) expect(judged).toBeGreaterThan(10);
      if (side.truthFromS < -1) expect(held).toBeGreaterThan(3);
    },
  );

  /** So many cycles in a display period that the truth is sure of the first one. */
  const saturatedAtSpeed = (): Scene => {
    const made = suiteCases(SATURATED)[0]!;
    const shafts = made.shafts.map((one) => ({ ...one, speed: [{ timeS: 0, revPerS: 80 }] }));
    return { ...made, name: "saturated at speed", shafts };
  };
  const EVENT_CASES = [...FILES.map((file) => suiteCases(file)[0]!), saturatedAtSpeed()];

  it.each(EVENT_CASES)(
    "[WAVE-076] tells the events of the side file, no others: $name",
    async (made) => {
      // A ramp so slow that a check which waits for size speaks late.
      const { job, side } = await written(made, { rampS: 2, times: 5 });
      const { events } = await wholeFile(made, job);
      const { clockHz } = made.profile;
      const zeroS = side.file.zeroSample / side.file.sampleRateHz;
      const endS = side.file.scenarioS;
      const kinds = new Set([
        "reference-found",
        "reference-lost",
        "transducer-fault",
        "transducer-healthy",
      ]);
      const names = (one: EventRecord): string => EVENT_NAMES[one.code]!;
      const come = events
        .map((one) => ({
          event: names(one),
          source: one.source,
          timeS: one.tick / clockHz - zeroS,
        }))
        .filter(
          ({ event, timeS }) => kinds.has(event) && timeS < endS - made.profile.displayPeriodS,
        );
      const sourceOf = (of: string): number => {
        const list = of.startsWith("shaft ") ? made.profile.shafts : made.profile.channels;
        return list.findIndex(({ name }) => of.endsWith(` ${name}`));
      };
      const tickS = 2 / clockHz + 1e-8;
      for (const one of come) {
        const fits = side.events.some(
          ({ event, of, fromS, untilS }) =>
            event === one.event &&
            sourceOf(of) === one.source &&
            one.timeS >= fromS - tickS &&
            one.timeS <= untilS + tickS,
        );
        expect(fits, `${one.event} at ${one.timeS}`).toBe(true);
      }
      for (const must of side.events) {
        if (must.isOptional || !kinds.has(must.event) || must.untilS > endS) continue;
        const isThere = come.some(
          ({ event, source, timeS }) =>
            event === must.event &&
            source === sourceOf(must.of) &&
            timeS >= must.fromS - tickS &&
            timeS <= must.untilS + tickS,
        );
        expect(isThere, `${must.event} of ${must.of}`).toBe(true);
      }
      expect(come.length).toBeGreaterThan(0);
    },
  );

  it("[WAVE-077] it has settled by the scenario's time 0, where one that starts there has not", async () => {
    const made = suiteCases(FILES[1]!)[0]!;
    const { rows } = await written(made);
    const atZero = rows.find(({ timeS }) => timeS === 0)!;
    expect(atZero.validity).toBe("valid");
    const late = await written(made, { holdS: 0 });
    const first = late.rows.find(({ timeS }) => timeS === 0)!;
    expect(first.validity).not.toContain("valid");
    expect(first.level).toBeNull();
  });

  it("[WAVE-078] a caution that stands at the first moment is on at time 0, its delay behind it", async () => {
    const plain = suiteCases(FILES[1]!)[0]!;
    const { caution } = plain.profile.filters[0]!.display;
    expect(caution!.onDelaySteps).toBeGreaterThan(0);
    const channels = plain.channels.map((signal) => ({
      ...signal,
      components: signal.components.map((one) =>
        one.kind !== "order"
          ? one
          : {
              ...one,
              envelope: { kind: "constant" as const, amplitudePk: 0.0762, phaseLagRad: 0 },
            },
      ),
    }));
    const { side, rows } = await written({ ...plain, channels });
    const on = side.cautions.find(({ caution: state }) => state === "on")!;
    expect(on.fromS).toBeLessThan(0);
    expect(rows.find(({ timeS }) => timeS === 0)!.caution).toBe("on");
    expect(side.core.isRight).toBe(true);
  });

  it("[WAVE-079] the side file says in words and in fields where each part stands", async () => {
    const made = suiteCases(FILES[3]!)[0]!;
    const { side, rows } = await written(made);
    const { file } = side;
    expect(side.stimulus).toBe("1.1");
    expect(file.holdSample).toBe(Math.round(file.rampS * file.sampleRateHz));
    expect(file.zeroSample - file.holdSample).toBe(Math.round(file.holdS * file.sampleRateHz));
    expect(file.endSample - file.zeroSample).toBe(Math.round(file.scenarioS * file.sampleRateHz));
    expect(file.sampleCount - file.endSample).toBe(Math.round(file.rampDownS * file.sampleRateHz));
    // The file goes to the bench without what the command said: the cautions stand first in it.
    expect(side.words.slice(0, BENCH_CAUTIONS.length)).toEqual(BENCH_CAUTIONS);
    const said = side.words.join("\n");
    for (const [from, until] of [
      [0, file.holdSample],
      [file.holdSample, file.zeroSample],
      [file.zeroSample, file.endSample],
      [file.endSample, file.sampleCount],
    ] as const) {
      expect(said).toContain(`Samples ${from} to ${until - 1}: `);
    }
    for (const { name, level } of side.filters)
      expect(said).toMatch(new RegExp(`Filter ${name}: .*${level}`));
    expect(said).toContain(`begin at ${side.truthFromS} s`);
    expect(rows[0]!.timeS).toBe(side.truthFromS);
    expect(rows.every(({ timeS }) => timeS < file.scenarioS + 1e-9)).toBe(true);
  });

  it("[WAVE-092] it lists the inputs that must be set, states held, moments at their own time", async () => {
    const made = suiteCases(FILES[1]!)[0]!;
    const none = { inhibit: 0, acknowledge: 0, running: 0, test: false };
    const inputs = [
      { ...none, timeS: 0, inhibit: 1, acknowledge: 1, running: 1 },
      { ...none, timeS: 0.5, running: 1 },
      { ...none, timeS: 0.75, running: 1 },
    ];
    const { side } = await written({ ...made, inputs });
    const fromS = 0 - side.file.rampS - side.file.holdS;
    expect(side.inputs).toEqual([
      { ...none, timeS: fromS, inhibit: 1, running: 1 },
      { ...none, timeS: 0, inhibit: 1, acknowledge: 1, running: 1 },
      { ...none, timeS: 0.5, running: 1 },
    ]);
    expect(side.words.join("\n")).toContain("inputs from outside are not in the file");
    expect((await written(made)).side.words.join("\n")).not.toContain("inputs from outside");
  });
});
