// Shafts of a profile: the tachometer, its limits, and whether the pool of samples can wait for it.
import { POOL_SAMPLES } from "../../shared/capacity.ts";
import {
  EDGES_PER_SAMPLE_MAX,
  FACTOR_MAX,
  KNOTS_PER_SAMPLE_MAX,
  SPEED_MAX_REV_PER_S as FIRMWARE_SPEED_MAX,
  SPEED_MIN_REV_PER_S as FIRMWARE_SPEED_MIN,
  TIMEOUT_TICKS_MAX,
} from "./firmware-limits.ts";
import {
  knotRevolutions,
  poolNeedSamples,
  poolShareSamples,
  speedLeastRevPerS,
  timeoutLeastS,
  timeoutLeastTicks,
  timeoutMostS,
} from "./pool-budget.ts";
import type { ProfileContext } from "./profile-build.ts";
import { ascends, needRange, plain, stepsOf } from "./profile-build.ts";
import type { WrittenShaft } from "./profile-schema.ts";
import type { ShaftProfile } from "./types.ts";
import type { Path } from "./yaml-tree.ts";

/** Lowest speed where none is stated: 600 r/min. */
const SPEED_MIN_REV_PER_S = 10;
/** Highest speed where none is stated, unless the sample rate carries less: 24,000 r/min. */
const SPEED_MAX_REV_PER_S = 400;
/** Share of the sample rate that the highest order at the highest speed takes by default. */
const SPEED_MAX_SHARE = 0.4;
/** Fastest change of speed where none is stated. */
const ACCELERATION_MAX_REV_PER_S2 = 30;

/** What the five roundings of the firmware's own sum may add. */
const F32_SLACK = 4e-7;

/** A speed as a person would write it. */
export function speedText(context: { timeUnit: "s" | "sample" }, revPerS: number): string {
  return context.timeUnit === "s"
    ? `${plain(Math.round(revPerS * 60e3) / 1e3)} r/min`
    : `${plain(revPerS)} rev/sample`;
}

function timeText(context: ProfileContext, timeS: number): string {
  return context.timeUnit === "s"
    ? `${plain(Math.round(timeS * 1e6) / 1e3)} ms`
    : `${plain(timeS)} samples`;
}

function highestOrder(context: ProfileContext, shaft: string): number {
  let order = 1;
  for (const filter of Object.values(context.written.filters)) {
    if (filter.shaft === undefined || filter.shaft === shaft) order = Math.max(order, filter.order);
  }
  for (const channel of Object.values(context.written.channels)) {
    const test = channel["functional test"];
    if (test !== undefined) order = Math.max(order, test.order);
  }
  return order;
}

/** Speeds and what passes in a sample, within what the firmware takes. */
function checkSpeeds(context: ProfileContext, shaft: ShaftProfile): void {
  const { complaints } = context;
  const at = (key: string): Path => ["shafts", shaft.name, key];
  needRange(
    context,
    shaft.speedMinRevPerS,
    FIRMWARE_SPEED_MIN,
    FIRMWARE_SPEED_MAX,
    at("lowest speed"),
  );
  needRange(
    context,
    shaft.speedMaxRevPerS,
    FIRMWARE_SPEED_MIN,
    FIRMWARE_SPEED_MAX,
    at("highest speed"),
  );
  needRange(context, shaft.accelerationMaxRevPerS2, 0, FACTOR_MAX, at("greatest acceleration"));
  const perRevolution = 1 / knotRevolutions(shaft.positions, shaft.revolutions);
  const knotsPerSample = (shaft.speedMaxRevPerS * perRevolution) / context.sampleRateHz;
  const edgesPerSample =
    (shaft.speedMaxRevPerS * shaft.positions) / shaft.revolutions / context.sampleRateHz;
  if (edgesPerSample > EDGES_PER_SAMPLE_MAX * (1 - 1e-6)) {
    complaints.field(
      at("highest speed"),
      `passes ${plain(edgesPerSample)} positions in one sample; at most ` +
        `${EDGES_PER_SAMPLE_MAX} are possible`,
    );
  }
  if (knotsPerSample > KNOTS_PER_SAMPLE_MAX) {
    complaints.field(
      at("highest speed"),
      `passes ${plain(knotsPerSample)} knots of the angle model in one sample; at most ` +
        `${KNOTS_PER_SAMPLE_MAX} are possible`,
    );
  }
}

function checkShaft(context: ProfileContext, shaft: ShaftProfile, written: WrittenShaft): void {
  const { complaints } = context;
  const at = (key: string): Path => ["shafts", shaft.name, key];
  const speed = (value: number): string => speedText(context, value);
  if (!ascends(shaft.speedMinRevPerS, shaft.speedMaxRevPerS)) {
    complaints.field(
      at("lowest speed"),
      `must be below the highest speed (${speed(shaft.speedMaxRevPerS)}), ` +
        `found ${speed(shaft.speedMinRevPerS)}`,
    );
  }
  if (shaft.validSpeedRevPerS < shaft.speedMinRevPerS) {
    complaints.field(
      at("valid from"),
      `must not be below the lowest speed (${speed(shaft.speedMinRevPerS)}), ` +
        `found ${speed(shaft.validSpeedRevPerS)}`,
    );
  }
  const validAgain = shaft.validSpeedRevPerS + shaft.validHysteresisRevPerS;
  const isRange = ascends(shaft.speedMinRevPerS, shaft.speedMaxRevPerS);
  if (isRange && !ascends(validAgain, shaft.speedMaxRevPerS)) {
    const hasFrom = written["valid from"] !== undefined;
    const what = hasFrom ? "and its hysteresis" : "above the lowest speed";
    complaints.field(
      at(hasFrom ? "valid from" : "valid hysteresis"),
      `${what} must stay below the highest speed (${speed(shaft.speedMaxRevPerS)}), ` +
        `found ${speed(validAgain)}`,
    );
  }
  if (shaft.index === "missing-tooth" && shaft.positions < 4) {
    complaints.field(at("index"), `missing tooth needs 4 positions, found ${shaft.positions}`);
  }
  checkSpeeds(context, shaft);
  if (shaft.revolutions > 1 && shaft.index !== "none") {
    complaints.field(at("index"), "must be none on a geared shaft: phase has no meaning there");
  }
  if (shaft.positions === 1 && shaft.index === "extra-edge") {
    complaints.field(at("index"), "must be none at one position, which is its own index");
  }
  if (shaft.evidence.otherShaft && context.shaftNames.length < 2) {
    complaints.field(at("evidence of turning"), "names the other shaft, but there is none");
  }
}

export function buildShaft(context: ProfileContext, name: string): ShaftProfile {
  const written = context.written.shafts[name]!;
  const isSampled = context.timeUnit === "sample";
  const base: Path = ["shafts", name];
  for (const key of ["lowest speed", "highest speed"] as const) {
    if (!isSampled || written[key] !== undefined) continue;
    context.complaints.whole(base, `${key} is missing: needed where time counts samples`, true);
  }
  const most = (SPEED_MAX_SHARE * context.sampleRateHz) / highestOrder(context, name);
  const speedMinRevPerS = written["lowest speed"] ?? SPEED_MIN_REV_PER_S;
  const revolutions = written["per revolutions"];
  const { positions } = written;
  const timeoutS =
    written["time-out"] ?? timeoutLeastS({ positions, revolutions }, speedMinRevPerS);
  // The firmware counts ticks: rounded up, so that it is never under the least.
  const leastS = timeoutLeastS({ positions, revolutions }, speedMinRevPerS);
  const isAtLeast = timeoutS >= leastS * (1 - 1e-9);
  const leastTicks = isAtLeast
    ? timeoutLeastTicks({ positions, revolutions }, speedMinRevPerS, context.clockHz)
    : 0;
  const timeoutTicks = Math.max(leastTicks, Math.ceil(timeoutS * context.clockHz - 1e-6));
  const shaft: ShaftProfile = {
    name,
    positions,
    revolutions,
    index: written.index === "none" ? "none" : (written.index.replace(" ", "-") as never),
    wheelErrorRev: Math.abs(written["wheel error"]),
    speedMinRevPerS,
    speedMaxRevPerS: written["highest speed"] ?? Math.min(SPEED_MAX_REV_PER_S, most),
    accelerationMaxRevPerS2:
      written["greatest acceleration"] ??
      (isSampled ? speedMinRevPerS ** 2 / 3 : ACCELERATION_MAX_REV_PER_S2),
    timeoutS: timeoutTicks / context.clockHz,
    lockRevolutions: written["lock revolutions"],
    edgeTolerancePitches: written["edge tolerance"],
    validSpeedRevPerS: written["valid from"] ?? speedMinRevPerS,
    validHysteresisRevPerS: written["valid hysteresis"] ?? 0,
    validDelaySteps: stepsOf(context, written["invalid after"], [...base, "invalid after"]),
    evidence: {
      input: written["evidence of turning"].includes("running input"),
      otherShaft: written["evidence of turning"].includes("other shaft"),
    },
  };
  checkShaft(context, shaft, written);
  return shaft;
}

/** Refuses time-outs that are too short for the lowest speed or too long for the pool. */
export function checkPool(context: ProfileContext, shafts: readonly ShaftProfile[]): void {
  const { complaints, sampleRateHz } = context;
  const channelCount = Math.max(1, context.channelNames.length);
  const share = poolShareSamples(channelCount);
  for (const shaft of shafts) {
    const isStated = context.written.shafts[shaft.name]!["time-out"] !== undefined;
    const path: Path = ["shafts", shaft.name, isStated ? "time-out" : "lowest speed"];
    const leastS = timeoutLeastS(shaft, shaft.speedMinRevPerS);
    if (shaft.timeoutS < leastS * (1 - 1e-9)) {
      complaints.field(
        path,
        `must be at least 2.5 knot intervals at the lowest speed, ${timeText(context, leastS)}, ` +
          `found ${timeText(context, shaft.timeoutS)}`,
      );
    }
    const need = poolNeedSamples(sampleRateHz, shaft.timeoutS);
    if (need <= share) {
      if (shaft.timeoutS * context.clockHz <= TIMEOUT_TICKS_MAX) continue;
      complaints.field(path, `must be at most ${TIMEOUT_TICKS_MAX} ticks of the edge clock`);
      continue;
    }
    // Rounded up as it is shown, and past what f32 may add, so that what is named does fit.
    const least = speedLeastRevPerS(shaft, sampleRateHz, channelCount) * (1 + F32_SLACK);
    const shown = context.timeUnit === "s" ? Math.ceil(least * 60e3) / 60e3 : least;
    const lowest = speedText(context, shown);
    complaints.whole(
      path,
      `${isStated ? "time-out" : "lowest speed"} does not fit the pool: a time-out of ` +
        `${timeText(context, shaft.timeoutS)} needs ${need} samples a channel, and ` +
        `${POOL_SAMPLES} shared by ${channelCount} leave ${share}; the longest time-out that ` +
        `fits is ${timeText(context, timeoutMostS(sampleRateHz, channelCount))}, ` +
        `the lowest speed ${lowest}`,
    );
  }
}
