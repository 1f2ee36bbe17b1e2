// What a display step gathers of all filters of a channel, and of no other: the memory that a tracked
// level is compared with, the greatest tracked level, the filters that may serve a display.
import { describe, expect, test } from "vitest";
import { RECORDS_MAX } from "../../shared/capacity.ts";
import * as L from "../../shared/layout.ts";
import * as U from "../../shared/units.ts";
import { type Field, STAGE_BUILDS } from "./kit/stage.ts";
import { eventsOf, levelOf, openStep } from "./kit/step-stage.ts";

const DISPLAY_S = 0.1;
const SPEED_REV_PER_S = 80;
const LOUD_RMS = 8;
const SHARE = 0.5;

interface Pole {
  kind: "fixed" | "proportional";
  value: number;
}

const poleFields = (filter: number, { kind, value }: Pole): Field[] => {
  const at = L.CONFIG_FILTERS + filter * L.FILTER_BYTES;
  return [
    [
      at + L.FILTER_BANDWIDTH,
      "i32",
      kind === "fixed" ? U.BANDWIDTH_FIXED : U.BANDWIDTH_PROPORTIONAL,
    ],
    [at + L.FILTER_POLE, "f32", value],
  ];
};

const broadbandFields = (revolutions: number): Field[] => [
  [L.GLOBAL_CLOCK_HZ, "u32", 80_000],
  [L.GLOBAL_TICKS_PER_SAMPLE, "u32", 1000],
  [L.CONFIG_SHAFTS + L.SHAFT_REVOLUTIONS, "i32", revolutions],
  [L.CONFIG_CHANNELS + L.CHANNEL_HEALTH_MASK, "u32", 1 << U.HEALTH_BROADBAND],
  [L.CONFIG_CHANNELS + L.CHANNEL_BROADBAND_RATIO, "f32", 1],
];

/**
 * Display periods after the vibration has gone until a tracked level of half its rms is more than
 * two poles of the slowest filter have kept of it, (1 + x)·exp(−x) with x periods over the time
 * constant (two equal poles, by definition) and the two cycles that DEVELOPERS.md adds to it.
 */
function periodsExpected(poles: readonly Pole[], revolutions: number): number {
  const slowestS = Math.max(
    ...poles.map(({ kind, value }) => {
      const tauS = kind === "fixed" ? value : 1 / (value * SPEED_REV_PER_S);
      return tauS + (2 * revolutions) / SPEED_REV_PER_S;
    }),
  );
  const kept = (n: number): number => {
    const x = (n * DISPLAY_S) / slowestS;
    return (1 + x) * Math.exp(-x);
  };
  let n = 1;
  while (kept(n) >= SHARE) n += 1;
  // No case hangs on a rounding.
  expect(Math.min(kept(n - 1) - SHARE, SHARE - kept(n))).toBeGreaterThan(1e-4);
  return n;
}

const CASES: [name: string, poles: [Pole, Pole], revolutions: number][] = [
  [
    "proportional, filter 0 the slower",
    [
      { kind: "proportional", value: 0.01 },
      { kind: "proportional", value: 0.05 },
    ],
    1,
  ],
  [
    "proportional, filter 2 the slower",
    [
      { kind: "proportional", value: 0.05 },
      { kind: "proportional", value: 0.02 },
    ],
    1,
  ],
  [
    "fixed and proportional, the fixed one slower",
    [
      { kind: "fixed", value: 2 },
      { kind: "proportional", value: 0.05 },
    ],
    1,
  ],
  [
    "a geared shaft of long cycles",
    [
      { kind: "fixed", value: 0.2 },
      { kind: "fixed", value: 0.1 },
    ],
    20,
  ],
];

describe.each(STAGE_BUILDS)("filters of a channel, %s build", async (build) => {
  const stage = await openStep(build);
  const period = (rms: number): void =>
    stage.samples(0, [rms, -rms, rms, -rms, rms, -rms, rms, -rms]);

  test.each(CASES)(
    "[HEALTH-034] vibration that has gone is remembered as long as the slowest filter: %s",
    (_name, poles, revolutions) => {
      stage.configure([
        ...broadbandFields(revolutions),
        ...poleFields(0, poles[0]),
        ...poleFields(2, poles[1]),
        // What no filter of the configuration is says nothing, however slow.
        ...poleFields(3, { kind: "fixed", value: 100 }),
      ]);
      // Not computed yet: the memory is what the period was.
      for (const f of [0, 2]) stage.tracked(f, { isComputed: false, flags: 0 });
      period(LOUD_RMS);
      stage.step();
      const rawPk = Math.SQRT2 * SHARE * LOUD_RMS;
      for (const f of [0, 2]) stage.tracked(f, { rawPk, speedNow: SPEED_REV_PER_S });
      stage.tracked(3, { isSettled: false, speedNow: SPEED_REV_PER_S });
      const isFault = (): boolean => {
        period(0);
        return eventsOf(stage.step()).some(([code]) => code === U.EVENT_TRANSDUCER_FAULT);
      };
      // The first such period is only remembered: no tracked level stood at its start.
      expect(isFault()).toBe(false);
      let periods = 1;
      while (!isFault()) {
        periods += 1;
        expect(periods).toBeLessThan(1000);
      }
      expect(periods).toBe(periodsExpected(poles, revolutions));
      stage.tracked(3, { isComputed: false, isSettled: false });
    },
  );

  test.each([0, 2])(
    "[HEALTH-035] filter %d alone is compared with its channel's broadband, a filter of no configuration never",
    (loud) => {
      const faultOf = (f: number): boolean => {
        stage.configure([
          ...broadbandFields(1),
          ...[0, 2].flatMap((one) => poleFields(one, { kind: "fixed", value: 0.001 })),
        ]);
        stage.tracked(f, { rawPk: 100, speedNow: SPEED_REV_PER_S });
        let isFault = false;
        for (let k = 0; k < 3; k += 1) {
          period(LOUD_RMS);
          const events = eventsOf(stage.step());
          isFault ||= events.some(([code]) => code === U.EVENT_TRANSDUCER_FAULT);
        }
        stage.tracked(f, { isComputed: false, isSettled: false });
        return isFault;
      };
      expect(faultOf(loud)).toBe(true);
      expect(faultOf(1)).toBe(false); // the other channel's
      expect(faultOf(3)).toBe(false);
    },
  );

  test("[LEVEL-073] filter 0 may be the substitute; one that is not configured may not", () => {
    const sourceOf = (substitute: number): Field[] => [
      [L.CONFIG_DISPLAYS + L.DISPLAY_BYTES + L.DISPLAY_SOURCE, "u32", U.SOURCE_SUBSTITUTE],
      [L.CONFIG_DISPLAYS + L.DISPLAY_BYTES + L.DISPLAY_SOURCES, "u32", substitute],
    ];
    stage.configure(sourceOf(0));
    stage.step();
    stage.shaft(1, { isLocked: false });
    const served = stage.step();
    expect(eventsOf(served)).toEqual([[U.EVENT_SUBSTITUTE_ON, 1, 0]]);
    expect(levelOf(served, 1)).toMatchObject({
      validity: U.VALID,
      statusBits: L.STATUS_SUBSTITUTE,
    });
    stage.shaft(1, {});
    expect(eventsOf(stage.step())).toEqual([[U.EVENT_SUBSTITUTE_OFF, 1, 0]]);

    stage.configure(sourceOf(3));
    stage.tracked(3, {});
    stage.step();
    stage.shaft(1, { isLocked: false });
    expect(levelOf(stage.step(), 1).validity).not.toBe(U.VALID);
    stage.tracked(3, { isComputed: false, isSettled: false });
  });

  test("[CAUT-042] an exceedance that begins beyond 2³² ticks says so in both words", () => {
    stage.configure();
    stage.tracked(0, { levelPk: 9 });
    stage.run.step(7, 5);
    stage.tracked(0, { levelPk: 1 });
    stage.run.step(9, 5);
    const [found] = stage.take().filter((one) => one.kind === "exceedance");
    expect(found).toMatchObject({ onsetTick: 5 * 2 ** 32 + 7, endTick: 5 * 2 ** 32 + 9 });
  });

  test("[CORE-065] a record that finds no room is written nowhere", () => {
    // Below the first static datum stands nothing, so what is written there does no harm at once.
    const low = new Uint8Array(stage.run.memory.buffer, 0, L.RECORD_BYTES);
    const fill = (): void => {
      for (let i = 0; i < RECORDS_MAX; i += 1) stage.run.event(U.EVENT_REFERENCE_FOUND, 1, i, i);
    };
    stage.configure();
    stage.tracked(0, { levelPk: 9 });
    stage.step();
    stage.tracked(0, { levelPk: 5 });
    fill();
    const before = low.slice();
    stage.run.step(2000, 0);
    expect(stage.counters().recordsLost).toBeGreaterThan(3);
    expect(low).toEqual(before);
  });
});
