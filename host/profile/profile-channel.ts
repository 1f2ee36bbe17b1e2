// Channels of a profile: what the transducer measures, its range, its response, its health checks.
import type { Amount } from "../quantity.ts";
import { amountPk } from "../quantity.ts";
import {
  DELAY_S_MAX,
  FACTOR_MAX,
  FACTOR_MIN,
  FREQUENCY_MAX_HZ,
  FREQUENCY_MIN_HZ,
} from "./firmware-limits.ts";
import type { ProfileContext } from "./profile-build.ts";
import { ascends, indexOf, needRange, plain, stepsOf } from "./profile-build.ts";
import type { WrittenChannel, WrittenResponse } from "./profile-schema.ts";
import type { ChannelProfile, HealthProfile, Quantity, Response, TransducerKind } from "./types.ts";
import type { Complaints } from "./located-parse.ts";
import type { Path } from "./yaml-tree.ts";

/** Kind of transducer where none is stated (common practice, no source). */
const KIND_OF: Readonly<Record<Quantity, TransducerKind>> = {
  acceleration: "charge",
  velocity: "coil",
  displacement: "powered",
  unstated: "powered",
};
/** Range where none is stated, SI: 100 g, 100 in/s, 100 mil, 10 units. */
const RANGE_OF: Readonly<Record<Quantity, number>> = {
  acceleration: 980.665,
  velocity: 2.54,
  displacement: 0.00254,
  unstated: 10,
};
/** Counts of an i16 converter from 0 to its range. */
const COUNTS_TO_RANGE = 32_768;
/** Clipped samples in a display period that count as a fault where nothing is stated. */
const CLIP_SAMPLES = 4;

/** The value of an amount that must be in the channel's own quantity. */
export function inQuantity(
  complaints: Complaints,
  amount: Amount,
  quantity: Quantity,
  path: Path,
): number {
  if (amount.dimension !== quantity) {
    complaints.field(
      path,
      `must be in the channel's own quantity, ${quantity}; found ${amount.unit || "no unit"}`,
    );
  }
  return amount.value;
}

/** Corners and delays that the firmware does not take. */
function checkResponse(context: ProfileContext, response: Response, base: Path): void {
  if (response.kind === "none") return;
  const hertz = (value: number, least: number, ...path: PropertyKey[]): void =>
    needRange(context, value, least, FREQUENCY_MAX_HZ, [...base, ...path]);
  needRange(context, response.delayS, -DELAY_S_MAX, DELAY_S_MAX, [...base, "delay"]);
  if (response.kind === "table") {
    for (const [row, point] of response.points.entries()) {
      hertz(point.frequencyHz, 0, "table", row, "frequency");
      needRange(context, point.gain, 0, FACTOR_MAX, [...base, "table", row, "gain"]);
      needRange(context, point.phaseLagRad, -1000, 1000, [...base, "table", row, "phase lag"]);
    }
    return;
  }
  const { highPassOrder, highPassHz, lowPassOrder, lowPassHz } = response;
  if (highPassOrder > 0) hertz(highPassHz, FREQUENCY_MIN_HZ, "high pass", "corner");
  if (lowPassOrder > 0) hertz(lowPassHz, FREQUENCY_MIN_HZ, "low pass", "corner");
}

/** A written response in SI. */
export function buildResponse(
  written: WrittenResponse | undefined,
  complaints: Complaints,
  path: Path,
): Response {
  if (written === undefined) return { kind: "none" };
  const { table, delay } = written;
  const high = written["high pass"];
  const low = written["low pass"];
  if (table !== undefined) {
    if (high !== undefined || low !== undefined) {
      complaints.field(path, "may hold either a table or high pass and low pass, not both");
    }
    for (let row = 1; row < table.length; row += 1) {
      if (ascends(table[row - 1]!.frequency, table[row]!.frequency)) continue;
      complaints.field([...path, "table", row], "must have a frequency above the row before");
    }
    const points = table.map((point) => ({
      frequencyHz: point.frequency,
      gain: point.gain,
      phaseLagRad: point["phase lag"],
    }));
    return { kind: "table", points, delayS: delay };
  }
  if (high !== undefined && low !== undefined && high.corner >= low.corner) {
    complaints.field(
      [...path, "high pass", "corner"],
      `must lie below the low pass (${plain(low.corner)} Hz), found ${plain(high.corner)} Hz`,
    );
  }
  return {
    kind: "filters",
    highPassOrder: high?.order ?? 0,
    highPassHz: high?.corner ?? 0,
    lowPassOrder: low?.order ?? 0,
    lowPassHz: low?.corner ?? 0,
    delayS: delay,
  };
}

function serves(
  context: ProfileContext,
  path: Path,
  kind: TransducerKind,
  kinds: TransducerKind[],
): void {
  if (kinds.includes(kind)) return;
  context.complaints.field(
    path,
    `serves ${kinds.join(" and ")} transducers only; this one is ${kind}`,
  );
}

function buildHealth(
  context: ProfileContext,
  written: WrittenChannel,
  kind: TransducerKind,
  base: Path,
): HealthProfile {
  const fields = written.health;
  if (fields === undefined) return { clipSamples: CLIP_SAMPLES, steps: 1 };
  const quantity = written.measures;
  const health: HealthProfile = {
    clipSamples: fields["clipped samples"] ?? CLIP_SAMPLES,
    steps: 1,
  };
  const value = (amount: Amount, least: number, ...path: string[]): number => {
    const found = inQuantity(context.complaints, amount, quantity, [...base, ...path]);
    needRange(context, found, least, FACTOR_MAX, [...base, ...path]);
    return found;
  };
  if (fields.persistence !== undefined) {
    health.steps = Math.max(1, stepsOf(context, fields.persistence, [...base, "persistence"]));
  }
  if (fields.bias !== undefined) {
    serves(context, [...base, "bias"], kind, ["powered"]);
    health.bias = {
      low: value(fields.bias.low, -FACTOR_MAX, "bias", "low"),
      high: value(fields.bias.high, -FACTOR_MAX, "bias", "high"),
    };
    if (!ascends(health.bias.low, health.bias.high)) {
      context.complaints.field([...base, "bias", "low"], "must be below high");
    }
  }
  const flat = fields["flat below"];
  if (flat !== undefined) health.flatPkPk = value(flat, 0, "flat below");
  const floor = fields["noise floor"];
  if (floor !== undefined) {
    serves(context, [...base, "noise floor"], kind, ["charge"]);
    health.noiseFloorRms = value(floor, 0, "noise floor");
  }
  const burst = fields["bursts above"];
  if (burst !== undefined) {
    serves(context, [...base, "bursts above"], kind, ["charge", "powered"]);
    health.burstRms = value(burst, 0, "bursts above");
  }
  const physical = fields["physical limit"];
  if (physical !== undefined) health.physicalPk = value(physical, 0, "physical limit");
  const ratio = fields["tracked to broadband"];
  if (ratio !== undefined) {
    needRange(context, ratio, 0, FACTOR_MAX, [...base, "tracked to broadband"]);
    health.broadbandRatio = ratio;
  }
  return health;
}

export function buildChannel(context: ProfileContext, name: string): ChannelProfile {
  const written = context.written.channels[name]!;
  const quantity = written.measures;
  const base: Path = ["channels", name];
  const kind = written.transducer ?? KIND_OF[quantity];
  const value = (amount: Amount, key: string): number =>
    inQuantity(context.complaints, amount, quantity, [...base, key]);
  const range = written.range === undefined ? RANGE_OF[quantity] : value(written.range, "range");
  const step = written["count step"];
  const test = written["functional test"];
  const testPath = [...base, "functional test"];
  if (test !== undefined) {
    const amplitudePath = [...testPath, "amplitude"];
    inQuantity(context.complaints, test.amplitude, quantity, amplitudePath);
    needRange(context, amountPk(test.amplitude), 0, FACTOR_MAX, amplitudePath);
  }
  const countStep = step === undefined ? range / COUNTS_TO_RANGE : value(step, "count step");
  needRange(context, range, FACTOR_MIN * COUNTS_TO_RANGE, FACTOR_MAX, [...base, "range"]);
  const countPath = [...base, "count step"];
  needRange(context, countStep, FACTOR_MIN, FACTOR_MAX / COUNTS_TO_RANGE, countPath);
  const response = buildResponse(written.response, context.complaints, [...base, "response"]);
  checkResponse(context, response, [...base, "response"]);
  return {
    name,
    kind,
    quantity,
    countStep,
    range,
    response,
    health: buildHealth(context, written, kind, [...base, "health"]),
    test:
      test === undefined
        ? { amplitudePk: 0, shaft: 0, order: 1 }
        : {
            amplitudePk: amountPk(test.amplitude),
            shaft: indexOf(context, "shaft", test.shaft, [...testPath, "shaft"]),
            order: test.order,
          },
  };
}
