import { describe, expect, it } from "vitest";
import { VirtualClock, realClock } from "../../../host/link/clock.ts";
import {
  CARRYING_MAX_MS,
  RoundTrip,
  TIMEOUT_FIRST_MS,
  TIMEOUT_MAX_MS,
  TIMEOUT_MIN_MS,
} from "../../../host/link/round-trip.ts";

/** A wait as a promise. */
function waited(clock: VirtualClock, ms: number): Promise<void> {
  return new Promise((resolve) => void clock.after(ms, resolve));
}

describe("virtual time", () => {
  it("[LINK-050] acts in order of time, of equals in the order of starting, and forgets", async () => {
    const clock = new VirtualClock();
    const acts: string[] = [];
    const note = (name: string) => (): void => void acts.push(`${name} ${clock.now()}`);
    clock.after(20, note("c"));
    clock.after(10, note("a"));
    const forgotten = clock.after(10, note("never"));
    clock.after(10, note("b"));
    clock.after(-5, note("now"));
    clock.cancel(forgotten);
    clock.cancel(forgotten);
    await clock.run(waited(clock, 30), 100);
    expect(acts).toEqual(["now 0", "a 10", "b 10", "c 20"]);
    expect(clock.now()).toBe(30);
  });

  it("[LINK-050] goes on only when every promise that can has gone on", async () => {
    const clock = new VirtualClock();
    let isLate = false;
    const work = async (): Promise<boolean> => {
      await waited(clock, 1);
      const late = clock.after(1, () => {
        isLate = true;
      });
      // Many turns of the queue of microtasks take no time.
      for (let i = 0; i < 100; i += 1) await Promise.resolve();
      clock.cancel(late);
      return isLate;
    };
    expect(await clock.run(work(), 10)).toBe(false);
  });

  it("[LINK-050] tells what hangs, what takes too long, and what the work throws", async () => {
    const never = new Promise<void>(() => {});
    await expect(new VirtualClock().run(never, 10)).rejects.toThrow(/hangs/);
    const clock = new VirtualClock();
    await expect(clock.run(waited(clock, 11), 10)).rejects.toThrow(/not done after 10 ms/);
    await expect(clock.run(Promise.reject(new Error("own")), 10)).rejects.toThrow("own");
  });

  it("[LINK-051] the machine's own clock waits, forgets, and never goes back", async () => {
    const before = realClock.now();
    let isForgotten = true;
    const wait = realClock.after(1, () => {
      isForgotten = false;
    });
    realClock.cancel(wait);
    await new Promise<void>((resolve) => void realClock.after(20, resolve));
    expect(isForgotten).toBe(true);
    expect(realClock.now()).toBeGreaterThanOrEqual(before);
  });
});

describe("time-outs", () => {
  it("[LINK-069] a time-out is the mean and four deviations, within floor and cap (RFC 6298)", () => {
    const trip = new RoundTrip();
    expect(trip.timeoutMs(0)).toBe(TIMEOUT_FIRST_MS);
    // RFC 6298 (2.2): SRTT = R, RTTVAR = R/2, RTO = SRTT + 4·RTTVAR.
    trip.take(400, 100);
    expect(trip.timeoutMs(0)).toBe(400 + 4 * 200);
    // (2.3): RTTVAR = 3/4·RTTVAR + 1/4·|SRTT − R|, then SRTT = 7/8·SRTT + 1/8·R.
    trip.take(560, 100);
    expect(trip.timeoutMs(0)).toBeCloseTo(420 + 4 * (150 + 40), 9);
    for (let i = 0; i < 100; i += 1) trip.take(1, 100);
    expect(trip.timeoutMs(0)).toBe(TIMEOUT_MIN_MS);
    trip.take(60_000, 100);
    expect(trip.timeoutMs(0)).toBe(TIMEOUT_MAX_MS);
  });

  it("[LINK-069] it doubles where nothing comes, once something was heard", () => {
    const trip = new RoundTrip();
    trip.backOff();
    expect(trip.timeoutMs(0)).toBe(TIMEOUT_FIRST_MS);
    trip.take(1, 100);
    const waits = Array.from({ length: 6 }, () => {
      trip.backOff();
      return trip.timeoutMs(0);
    });
    expect(waits).toEqual([400, 800, 1600, 3200, TIMEOUT_MAX_MS, TIMEOUT_MAX_MS]);
    trip.take(1, 100);
    expect(trip.timeoutMs(0)).toBe(TIMEOUT_MIN_MS);
  });

  it("[LINK-069] it grows with the bytes on their way, by the slowest of late", () => {
    const trip = new RoundTrip();
    trip.take(20, 100);
    expect(trip.timeoutMs(3000)).toBeCloseTo(TIMEOUT_MIN_MS + 600, 9);
    // A quicker one fades it by an eighth of the difference, a slower one counts at once.
    trip.take(4, 100);
    expect(trip.timeoutMs(3000)).toBeCloseTo(TIMEOUT_MIN_MS + 3000 * 0.18, 9);
    trip.take(30, 100);
    expect(trip.timeoutMs(3000)).toBeCloseTo(TIMEOUT_MIN_MS + 900, 9);
    expect(trip.timeoutMs(1e6)).toBe(TIMEOUT_MIN_MS + CARRYING_MAX_MS);
  });
});
