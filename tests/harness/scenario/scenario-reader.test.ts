import { describe, expect, it } from "vitest";
import { COUNTERS } from "../../../harness/scenario/expect-schema.ts";
import { EVENT_CODES } from "../../../harness/scenario/event-codes.ts";
import { scenarioName } from "../../../harness/scenario/scenario-reader.ts";
import { EVENT_NAMES } from "../../../harness/judge/event-names.ts";
import { decodeCounters } from "../../../host/records.ts";
import { COUNTERS_BYTES } from "../../../shared/layout.ts";
import { scene } from "./scenario-kit.ts";

describe("a scenario", () => {
  it("[SCEN-001] needs no more than question, profile, duration, speed and vibration", () => {
    const found = scene();
    expect(found).toMatchObject({
      name: "case",
      question: "Does it read?",
      durationS: 30,
      requirements: [],
      shafts: [
        {
          speed: [{ timeS: 0, revPerS: 80 }],
          startAngleRev: 0,
          ripple: [],
          wheel: { positions: 60, revolutions: 1, index: "missing-tooth", jitterS: 0 },
          faults: [],
        },
      ],
      inputs: [{ timeS: 0, inhibit: 0, acknowledge: 0, running: 0, test: false }],
      expectation: { eitherShare: 0.02 },
    });
    expect(found.channels[0]).toMatchObject({
      frontEnd: { kind: "none" },
      mean: 0,
      faults: [],
      converter: { format: "f32" },
    });
    const [component] = found.channels[0]!.components;
    expect(component).toMatchObject({ kind: "order", order: 1, quantity: "velocity" });
    expect(component).toMatchObject({ envelope: { kind: "constant", phaseLagRad: 0 } });
    expect((component as { envelope: { amplitudePk: number } }).envelope.amplitudePk).toBeCloseTo(
      0.0254,
      15,
    );
  });

  it("[SCEN-002] a speed is built from pieces", () => {
    const speed = (yaml: string) => scene({ speed: `speed: ${yaml}` }).shafts[0]!.speed;
    expect(
      speed(
        "[ { start: 600 r/min }, { hold: 5 s }, { to: 3600 r/min, rate: 10 rev/s² }, " +
          "{ to: 1200 r/min, over: 8 s }, { at: 30 s, speed: 0 r/min } ]",
      ),
    ).toEqual([
      { timeS: 0, revPerS: 10 },
      { timeS: 5, revPerS: 10 },
      { timeS: 10, revPerS: 60 },
      { timeS: 18, revPerS: 20 },
      { timeS: 30, revPerS: 0 },
    ]);
    expect(speed("[ { at: 0 s, speed: 10 rev/s }, { at: 2 s, speed: 20 rev/s } ]")).toEqual([
      { timeS: 0, revPerS: 10 },
      { timeS: 2, revPerS: 20 },
    ]);
  });

  it("[SCEN-003] a component may be constant, grow with speed, step, or run between rows", () => {
    const envelope = (fields: string) => {
      const [one] = scene({ vibration: `vibration: [ { order: 2, ${fields} } ]` }).channels[0]!
        .components;
      return (one as { envelope: unknown }).envelope;
    };
    expect(envelope("amplitude: 2 m/s rms, phase lag: 180 deg")).toEqual({
      kind: "constant",
      amplitudePk: 2 * Math.SQRT2,
      phaseLagRad: Math.PI,
    });
    expect(envelope("amplitude: 2 m/s pk, power of speed: 2, at speed: 4800 r/min")).toEqual({
      kind: "speed-power",
      amplitudePk: 2,
      phaseLagRad: 0,
      referenceRevPerS: 80,
      power: 2,
    });
    const rows = "[ { at: 0 s, amplitude: 2 m pk-pk }, { at: 5 s, amplitude: 4 m pk-pk } ]";
    const wanted = [
      { timeS: 0, amplitudePk: 1, phaseLagRad: 0 },
      { timeS: 5, amplitudePk: 2, phaseLagRad: 0 },
    ];
    expect(envelope(`steps: ${rows}`)).toEqual({ kind: "steps", rows: wanted });
    expect(envelope(`lines: ${rows}`)).toEqual({ kind: "lines", rows: wanted });
  });

  it("[SCEN-004] knows tones, noise and a rotor", () => {
    const { components } = scene({
      vibration: `vibration:
  - { tone: 400 Hz, amplitude: 1 mm/s pk, phase lag: 90 deg }
  - { noise: 2 mm/s rms }
  - rotor:
      modal mass: 150 kg
      critical speed: 3980 r/min
      damping ratio: 3 %
      unbalance: { amount: 1000 g mm, angle: 90 deg }
  - rotor:
      modal mass: 150 kg
      natural frequency: 66 Hz
      damping ratio: 0.03
      unbalance: [ { at: 0 s, amount: 1 g mm }, { at: 5 s, amount: 2 g mm } ]`,
    }).channels[0]!;
    expect(components[0]).toEqual({
      kind: "tone",
      frequencyHz: 400,
      quantity: "velocity",
      amplitudePk: 1e-3,
      phaseLagRad: Math.PI / 2,
    });
    expect(components[1]).toEqual({ kind: "noise", rms: 2e-3 });
    expect(components[2]).toEqual({
      kind: "rotor",
      shaft: 0,
      modalMassKg: 150,
      naturalHz: 3980 / 60,
      dampingRatio: 0.03,
      unbalance: [{ timeS: 0, kgM: 1e-3, angleRad: Math.PI / 2 }],
    });
    expect(components[3]).toMatchObject({
      naturalHz: 66,
      unbalance: [{ timeS: 0 }, { timeS: 5, kgM: 2e-6 }],
    });
  });

  it("[SCEN-005] knows every fault of a channel, its mean, front end and converter", () => {
    const [channel] = scene({
      vibration: "",
      channels: `channels:
  frame:
    vibration: [ { order: 1, amplitude: 1 m/s pk } ]
    mean: 2 m/s
    front end: { high pass: { order: 2, corner: 4 Hz }, delay: 1 ms }
    converter: { format: f32, step: 0.01 m/s }
    faults:
      - { fault: clip, level: 3 m/s, from: 1 s, until: 2 s }
      - { fault: flat, from: 1 s, until: 2 s }
      - { fault: bias, value: -1 m/s, from: 1 s }
      - { fault: open lead, share: 2 % }
      - { fault: loose connector, bursts: 3 m/s pk, per second: 2, length: 200 ms }
      - { fault: gain, factor: 0.5 }
      - { fault: spike, value: 9 m/s, at: 3 s, samples: 2 }
      - { fault: not finite, at: 4 s, samples: 3 }`,
    }).channels;
    expect(channel).toMatchObject({
      mean: 2,
      frontEnd: { kind: "filters", highPassOrder: 2, highPassHz: 4, lowPassOrder: 0, delayS: 1e-3 },
      converter: { format: "f32", step: 0.01 },
    });
    expect(channel!.faults).toEqual([
      { kind: "clip", fromS: 1, untilS: 2, level: 3 },
      { kind: "flat", fromS: 1, untilS: 2, value: 0 },
      { kind: "bias", fromS: 1, untilS: 30, value: -1 },
      { kind: "open", fromS: 0, untilS: 30, share: 0.02 },
      { kind: "loose", fromS: 0, untilS: 30, burstPk: 3, burstsPerS: 2, lengthS: 0.2 },
      { kind: "gain", fromS: 0, untilS: 30, factor: 0.5 },
      { kind: "spike", atS: 3, value: 9, samples: 2 },
      { kind: "not-finite", atS: 4, samples: 3 },
    ]);
  });

  it("[SCEN-006] knows the true wheel and every fault of a tachometer", () => {
    const [shaft] = scene({
      speed: "",
      shafts: `shafts:
  N1:
    speed: 4800 r/min
    start angle: 90 deg
    torsional ripple: [ { order: 2, amplitude: 0.001 rev } ]
    wheel:
      positions: 59
      index: extra edge
      eccentricity: 0.0001 rev
      bad tooth: { position: 7, offset: 0.0002 rev }
      jitter: 2 us
    faults:
      - { fault: glitch, at: 1 s, fraction: 0.3 }
      - { fault: glitch, at: 1 s, fraction: 30 %, position: 58 }
      - { fault: missed edges, at: 2 s, count: 3 }
      - { fault: missed edges, at: 2 s, position: 1 }
      - { fault: drop-out, from: 5 s, until: 8 s }
      - { fault: index lost, from: 9 s }`,
    }).shafts;
    expect(shaft).toMatchObject({
      startAngleRev: 0.25,
      wheel: {
        positions: 59,
        revolutions: 1,
        index: "extra-edge",
        badTooth: { position: 7 },
        jitterS: 2e-6,
      },
    });
    expect(shaft!.ripple[0]!.amplitudeRev).toBeCloseTo(0.001, 15);
    expect(shaft!.wheel.eccentricityRev).toBeCloseTo(0.0001, 15);
    expect(shaft!.faults).toEqual([
      { kind: "glitch", atS: 1, fraction: 0.3 },
      { kind: "glitch-position", atS: 1, position: 58, fraction: 0.3 },
      { kind: "missed", atS: 2, count: 3 },
      { kind: "missed-position", atS: 2, position: 1, count: 1 },
      { kind: "drop-out", fromS: 5, untilS: 8 },
      { kind: "index-lost", fromS: 9, untilS: 30 },
    ]);
  });

  it("[SCEN-007] inputs stand until they are changed; an acknowledgement ends with its row", () => {
    const { inputs } = scene({
      inputs: `inputs:
  - { at: 5 s, inhibit: [fan], running: [N1] }
  - { at: 8 s, acknowledge: [fan], functional test: true }
  - { at: 9 s, inhibit: [] }`,
    });
    expect(inputs).toEqual([
      { timeS: 0, inhibit: 0, acknowledge: 0, running: 0, test: false },
      { timeS: 5, inhibit: 1, acknowledge: 0, running: 1, test: false },
      { timeS: 8, inhibit: 1, acknowledge: 1, running: 1, test: true },
      { timeS: 9, inhibit: 0, acknowledge: 0, running: 1, test: true },
    ]);
  });

  it("[SCEN-008] expectations name filters, events, counters, a canary and what it plants", () => {
    const { expectation } = scene({
      expect: `expect:
  caution never: [fan]
  caution on: [ { from: 5 s, until: 8 s } ]
  caution off: [ { filter: fan, from: 9 s } ]
  events: [ { event: reference-lost, of: N1, from: 5 s, until: 8 s } ]
  events never: [transducer-fault]
  counters:
    - { counter: edges missed, at least: 3, at most: 3 }
    - { counter: health, of: noise floor, at most: 0 }
  undecided share: 5 %
  tolerance reason: noise
  canary: level
  plant: { alteration: level, amount: 2 }`,
    });
    expect(expectation).toEqual({
      cautionNever: [{ filter: 0 }],
      cautionOnWithin: [{ filter: 0, fromS: 5, untilS: 8 }],
      cautionOffWithin: [{ filter: 0, fromS: 9, untilS: 30 }],
      events: [{ name: "reference-lost", source: 0, fromS: 5, untilS: 8 }],
      eventsNever: [{ name: "transducer-fault" }],
      counters: [
        { name: "edgesMissed", index: 0, min: 3, max: 3 },
        { name: "health", index: 3, min: 0, max: 0 },
      ],
      eitherShare: 0.05,
      toleranceReason: "noise",
      canary: { check: "level" },
      plant: { alteration: "level", amount: 2 },
    });
  });

  it("[SCEN-009] events and counters carry the names that the judge and the records use", () => {
    const names = [...EVENT_CODES].map(([name, { code }]) => [code, name]);
    expect(Object.fromEntries(names)).toEqual(EVENT_NAMES);
    const decoded = decodeCounters(new DataView(new ArrayBuffer(COUNTERS_BYTES)), 0);
    const fields = Object.values(COUNTERS).map((counter) => counter.field as string);
    expect(fields.toSorted()).toEqual(Object.keys(decoded).toSorted());
  });

  it("[SCEN-010] changes to a profile replace, add and take away fields", () => {
    const { profile } = scene({
      changes: `profile changes:
  channels: { frame: { range: 20 in/s pk } }
  shafts: { N1: { positions: 36, index: none } }
  filters: { fan: { order: 2, caution: null } }`,
    });
    expect(profile.shafts[0]).toMatchObject({ positions: 36, index: "none" });
    expect(profile.filters[0]!.order).toBe(2);
    expect(profile.filters[0]!.display.caution).toBeUndefined();
    expect(profile.channels[0]!.range).toBeCloseTo(20 * 0.0254, 12);
  });

  it("[SCEN-011] names of cases are paths from the root, without the ending", () => {
    expect(scenarioName("/a/b/c d.scenario.yaml", "/a")).toBe("b/c d");
    expect(scenarioName("/a/b/c.scenario.yaml")).toBe("c");
  });
});
