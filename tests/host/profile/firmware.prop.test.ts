// Whatever the reader accepts, the firmware accepts: a person never sees a byte offset.
import * as fc from "fast-check";
import { readdirSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { Core } from "../../../host/core.ts";
import { InputError } from "../../../host/input-error.ts";
import { PACKAGE_ROOT, releaseCorePath } from "../../../host/package-root.ts";
import { configurationBytes } from "../../../host/profile/configuration.ts";
import { parseProfile, readProfileFile } from "../../../host/profile/profile-reader.ts";
import type { MonitorProfile } from "../../../host/profile/types.ts";
import { TEST_SEED } from "../../kit/seed.ts";

const core = Core.fromFile(releaseCorePath());

/** Numbers with few digits over many decades, and the edges of what a field takes. */
const real = (...edges: number[]) =>
  fc.oneof(
    fc
      .tuple(fc.integer({ min: 1, max: 999 }), fc.integer({ min: -6, max: 6 }))
      .map(([digits, decade]) => `${digits}e${decade}`),
    fc.constantFrom(...edges.map(String)),
  );
const whole = (...edges: number[]) =>
  fc.oneof(fc.integer({ min: 1, max: 99 }).map(String), fc.constantFrom(...edges.map(String)));
const maybe = (arbitrary: fc.Arbitrary<string>) =>
  fc.oneof({ arbitrary: fc.constant(""), weight: 4 }, { arbitrary, weight: 1 });
const field = (name: string, value: fc.Arbitrary<string>, unit = "") =>
  maybe(value.map((number) => `${name}: ${number}${unit}`));
const map = (...fields: fc.Arbitrary<string>[]) =>
  fc.tuple(...fields).map((lines) => `{ ${lines.filter((line) => line !== "").join(", ")} }`);

const channel = map(
  field("transducer", fc.constantFrom("charge", "powered", "coil")),
  field("range", real(1e12), " m/s pk"),
  field("count step", real(1e-12), " m/s"),
  field(
    "response",
    map(
      field(
        "high pass",
        map(
          field("order", whole(0, 1, 4, 5)),
          real(0.1).map((hz) => `corner: ${hz} Hz`),
        ),
      ),
      field("low pass", map(real(1e4, 1e7).map((hz) => `corner: ${hz} Hz`))),
      field("delay", real(0), " s"),
    ),
  ),
  field(
    "functional test",
    map(
      real(1e13).map((pk) => `amplitude: ${pk} m/s pk`),
      field("order", whole(1, 64)),
    ),
  ),
  field(
    "health",
    map(
      field("flat below", real(1e13), " m/s pk-pk"),
      field("physical limit", real(1e13), " m/s pk"),
      field("tracked to broadband", real(1e13)),
      field("bias", fc.constant("{ low: 1 m/s, high: 1.00000001 m/s }")),
    ),
  ),
);
const shaft = map(
  field("positions", whole(1, 2, 3, 4, 7, 23, 24, 255)),
  field("per revolutions", whole(1, 7, 32)),
  field("index", fc.constantFrom("none", "missing tooth", "extra edge")),
  field("lowest speed", real(10, 11.3, 1e-5, 1e4), " rev/s"),
  field("highest speed", real(100, 400, 6399.9999, 1e4, 10.0000001), " rev/s"),
  field("greatest acceleration", real(1e12, 1e13), " rev/s²"),
  field("time-out", real(0.25, 0.3896875), " s"),
  field("lock revolutions", whole(64, 65)),
  field("edge tolerance", real(0.449, 0.45)),
  field("valid from", real(10, 99.9999999), " rev/s"),
  field("invalid after", whole(0), " s"),
);
const filter = map(
  field("order", whole(1, 64)),
  field("bandwidth", real(1e-6, 1e6), " Hz"),
  field("level", fc.constantFrom("m/s pk", "mil pk-pk", "mm/s rms", "g pk")),
  field(
    "display",
    map(
      field(
        "scale",
        fc.oneof(
          real(1e12),
          real(1e5).map((speed) => `[{ speed: ${speed} rev/s, factor: 1 }]`),
          fc.constant("[{ speed: 100 rev/s, factor: 1 }, { speed: 100.0000001 rev/s, factor: 2 }]"),
        ),
      ),
      field("smoothing", real(0), " s"),
      field("step", fc.constantFrom("0.1", "0.5", "1", "1e-9")),
      field("top", whole(0, 10, 4194304)),
      field("hold", whole(0), " s"),
    ),
  ),
  field(
    "caution",
    map(
      whole(1, 10).map((level) => `level: ${level}`),
      field("hysteresis", fc.oneof(whole(0), fc.constant("0.9999999999"))),
    ),
  ),
);
const profile = fc
  .record({
    rate: fc.constantFrom("12.8 kHz", "25.6 kHz", "8 Hz", "1 MHz"),
    clock: maybe(
      fc.constantFrom("edge clock: 80 MHz\n", "edge clock: 102.4 MHz\n", "edge clock: 5 GHz\n"),
    ),
    period: maybe(fc.constantFrom("display period: 1 s\n", "display period: 1 ms\n")),
    channel,
    shaft,
    filter,
  })
  .map(
    (parts) =>
      `monitor: x\nsample rate: ${parts.rate}\n${parts.clock}${parts.period}` +
      `channels: { c: ${parts.channel} }\nshafts: { s: ${parts.shaft} }\n` +
      `filters: { f: ${parts.filter} }\n`,
  );

function accepted(text: string): MonitorProfile | undefined {
  try {
    return parseProfile("p", text);
  } catch (error) {
    if (error instanceof InputError) return undefined;
    throw error;
  }
}

describe("the firmware and the reader", () => {
  it("[PROF-050] the firmware takes every profile that the reader takes", () => {
    let acceptedCount = 0;
    fc.assert(
      fc.property(profile, (text) => {
        const read = accepted(text);
        if (read === undefined) return;
        acceptedCount += 1;
        core.configure(configurationBytes(read));
      }),
      { seed: TEST_SEED, numRuns: 3000 },
    );
    // Most draws break some rule; the law is empty unless a fair number does not.
    expect(acceptedCount).toBeGreaterThan(20);
  });

  it("[PROF-051] lowest speeds of any value get a time-out that the firmware takes", () => {
    const speed = fc.integer({ min: 385_000, max: 6_000_000 });
    const positions = fc.integer({ min: 1, max: 255 });
    fc.assert(
      fc.property(speed, positions, (milli, count) => {
        const read = accepted(
          `monitor: x\nchannels: { c: {} }\nfilters: { f: {} }\n` +
            `shafts: { s: { positions: ${count}, lowest speed: ${milli / 1000} r/min } }\n`,
        );
        if (read === undefined) throw new Error("refused");
        core.configure(configurationBytes(read));
      }),
      { seed: TEST_SEED, numRuns: 1000 },
    );
  });

  it("[PROF-052] the firmware takes every profile that the project ships", () => {
    const folders = ["harness/demo", "harness/scenario/templates"];
    const files = folders.flatMap((folder) =>
      readdirSync(join(PACKAGE_ROOT, folder))
        .filter((name) => name.endsWith(".monitor.yaml"))
        .map((name) => join(PACKAGE_ROOT, folder, name)),
    );
    expect(files.length).toBeGreaterThanOrEqual(3);
    for (const file of files) core.configure(configurationBytes(readProfileFile(file)));
  });
});
