// Tracking filters of a profile, each with its display and caution.
import { DERIVATIVES, parseLevelUnit } from "../quantity.ts";
import { filterPole, smoothingShare } from "./configuration.ts";
import {
  COUNTS_MAX,
  DELAY_TURNS_MAX,
  FACTOR_MAX,
  FACTOR_MIN,
  POLE_MAX,
  POLE_MIN,
  SHARE_MIN,
  SPEED_MAX_REV_PER_S,
} from "./firmware-limits.ts";
import type { ProfileContext } from "./profile-build.ts";
import { ascends, indexOf, needRange, plain, stepsOf, wholeOf } from "./profile-build.ts";
import type { WrittenFilter } from "./profile-schema.ts";
import { speedText } from "./profile-shaft.ts";
import type {
  CautionProfile,
  ChannelProfile,
  DisplayProfile,
  FilterProfile,
  Quantity,
  ShaftProfile,
} from "./types.ts";
import type { Path } from "./yaml-tree.ts";

/** Unit and detector of the level where none is stated: that of the channel's quantity. */
const LEVEL_OF: Readonly<Record<Quantity, string>> = {
  acceleration: "g pk",
  velocity: "in/s pk",
  displacement: "mil pk-pk",
  unstated: "units pk",
};
/** Full bandwidth where none is stated, Hz; where time counts samples a share of the speed. */
const BANDWIDTH_HZ = 1;
const BANDWIDTH_RATIO = 0.02;

/** Counts of the display step; one that is not whole names the two nearest values that are. */
function countsOf(context: ProfileContext, value: number, step: number, path: Path): number {
  const counts = wholeOf(value / step);
  if (!Number.isNaN(counts)) return counts;
  const below = Math.floor(value / step);
  context.complaints.field(
    path,
    `must be a whole count of the display step ${plain(step)}, found ${plain(value)}; ` +
      `the nearest are ${plain(below * step)} and ${plain((below + 1) * step)}`,
  );
  return below;
}

function buildCaution(
  context: ProfileContext,
  written: NonNullable<WrittenFilter["caution"]>,
  display: { step: number; countsMax: number },
  base: Path,
): CautionProfile {
  const { complaints } = context;
  const levelCounts = countsOf(context, written.level, display.step, [...base, "level"]);
  if (levelCounts < 1) {
    complaints.field([...base, "level"], `must be at least one display step, ${display.step}`);
  }
  const hysteresisPath = [...base, "hysteresis"];
  const hysteresis = countsOf(context, written.hysteresis, display.step, hysteresisPath);
  if (levelCounts > display.countsMax) {
    const top = plain(display.countsMax * display.step);
    complaints.field(
      [...base, "level"],
      `must not be above the top of the display (${top}), found ${plain(written.level)}`,
    );
  }
  if (hysteresis >= levelCounts) {
    complaints.field(
      hysteresisPath,
      `must be < the caution level ${plain(written.level)}, found ${plain(written.hysteresis)}`,
    );
  }
  const wait = written["procedure wait"];
  return {
    levelCounts,
    hysteresisCounts: hysteresis,
    onDelaySteps: stepsOf(context, written["on-delay"], [...base, "on-delay"]),
    offDelaySteps: stepsOf(context, written["off-delay"], [...base, "off-delay"]),
    delayRunsUnderInhibit: written["delay under inhibit"] === "runs",
    whenInvalid: written["when invalid"],
    ...(wait !== undefined && { procedureWaitS: wait }),
  };
}

function buildSource(
  context: ProfileContext,
  written: NonNullable<WrittenFilter["display"]>,
  base: Path,
): DisplayProfile["source"] {
  const greatest = written["greatest of"];
  const { substitute } = written;
  if (greatest !== undefined && substitute !== undefined) {
    context.complaints.field(
      [...base, "substitute"],
      `contradicts "greatest of": a display takes one or the other`,
    );
  }
  if (greatest !== undefined) {
    const filters = greatest.map((name, row) =>
      indexOf(context, "filter", name, [...base, "greatest of", row]),
    );
    return { kind: "greatest", filters: [...new Set(filters)].toSorted((a, b) => a - b) };
  }
  if (substitute === undefined) return { kind: "own" };
  const filter = indexOf(context, "filter", substitute, [...base, "substitute"]);
  if (base[1] === substitute) {
    context.complaints.field([...base, "substitute"], "must be another filter than this one");
  }
  return { kind: "substitute", filter };
}

function buildDisplay(context: ProfileContext, name: string): DisplayProfile {
  const filter = context.written.filters[name]!;
  const written = filter.display;
  const base: Path = ["filters", name, "display"];
  const step = written?.step ?? 0.1;
  const countsMax = countsOf(context, written?.top ?? 10, step, [...base, "top"]);
  if (countsMax > COUNTS_MAX || countsMax < 1) {
    context.complaints.field([...base, "top"], `must be 1 to ${COUNTS_MAX} display steps`);
  }
  needRange(context, 1 / step, FACTOR_MIN, FACTOR_MAX, [...base, "step"]);
  const scale = written?.scale ?? [{ speedRevPerS: 0, factor: 1 }];
  for (const [row, { speedRevPerS }] of scale.entries()) {
    needRange(context, speedRevPerS, 0, SPEED_MAX_REV_PER_S, [...base, "scale", row]);
  }
  for (let row = 1; row < scale.length; row += 1) {
    if (ascends(scale[row - 1]!.speedRevPerS, scale[row]!.speedRevPerS)) continue;
    const path = [...base, "scale", row];
    context.complaints.field(path, "must have a speed above the row before");
  }
  const display: DisplayProfile = {
    source: written === undefined ? { kind: "own" } : buildSource(context, written, base),
    scale,
    smoothingS: written?.smoothing ?? 0,
    step,
    countsMax,
    holdSteps: written === undefined ? 0 : stepsOf(context, written.hold, [...base, "hold"]),
  };
  const smoothing = smoothingShare(display, context.displayPeriodS);
  needRange(context, smoothing, SHARE_MIN, 1, [...base, "smoothing"]);
  for (const [row, { factor }] of scale.entries()) {
    needRange(context, factor, 0, FACTOR_MAX, [...base, "scale", row, "factor"]);
  }
  if (written?.word !== undefined) {
    display.word = written.word;
    const inverse = 1 / written.word.resolution;
    needRange(context, inverse, FACTOR_MIN, FACTOR_MAX, [...base, "word", "resolution"]);
  }
  if (filter.caution !== undefined) {
    const path = ["filters", name, "caution"];
    display.caution = buildCaution(context, filter.caution, { step, countsMax }, path);
  }
  return display;
}

function checkQuantity(
  context: ProfileContext,
  channel: ChannelProfile,
  quantity: Quantity,
  path: Path,
): void {
  if (channel.quantity === quantity) return;
  const { complaints } = context;
  if (channel.quantity === "unstated" || quantity === "unstated") {
    complaints.field(
      path,
      `must be "units" with a detector exactly where the channel's quantity is unstated ` +
        `("${channel.name}" measures ${channel.quantity})`,
    );
  } else if (DERIVATIVES[channel.quantity] < DERIVATIVES[quantity]) {
    complaints.field(
      path,
      `is ${quantity}, which a ${channel.quantity} channel ("${channel.name}") cannot give: ` +
        `a filter integrates, it does not differentiate`,
    );
  }
}

/** An order at the highest speed must lie under half the sample rate. */
export function checkNyquist(
  context: ProfileContext,
  order: number,
  shaft: ShaftProfile,
  path: Path,
): void {
  const frequencyHz = Math.fround(order * Math.fround(shaft.speedMaxRevPerS));
  if (frequencyHz < Math.fround(context.sampleRateHz / 2)) return;
  const most = context.sampleRateHz / 2 / order;
  context.complaints.field(
    path,
    `${order} at the highest speed ${speedText(context, shaft.speedMaxRevPerS)} of ` +
      `"${shaft.name}" is not below half the sample rate; the highest speed must be < ` +
      speedText(context, most),
  );
}

/** The tone of a channel's functional test, also where none is written: order 1 of shaft 0. */
export function checkTestTones(
  context: ProfileContext,
  channels: readonly ChannelProfile[],
  shafts: readonly ShaftProfile[],
): void {
  for (const { name, test } of channels) {
    const shaft = shafts[test.shaft];
    if (shaft === undefined) continue;
    checkNyquist(context, test.order, shaft, ["channels", name, "functional test", "order"]);
  }
}

/** The shortest cycle must move the poles: T/τ, with what f32 may take off. */
function checkCycleShare(
  context: ProfileContext,
  bandwidth: FilterProfile["bandwidth"],
  shaft: ShaftProfile,
  path: Path,
): void {
  const pole = filterPole(bandwidth);
  const share = bandwidth.kind === "fixed" ? 1 / (shaft.speedMaxRevPerS * pole) : pole;
  const least = (SHARE_MIN * (1 + 1e-6)) / shaft.revolutions;
  if (share >= least) return;
  context.complaints.field(
    path,
    `is too narrow for the highest speed of "${shaft.name}": must be at least ` +
      `${plain((least / share) * 1.00001)} times as wide`,
  );
}

/** A channel's delay in revolutions of the order: f32 must still tell their fraction. */
function checkDelay(
  context: ProfileContext,
  channel: ChannelProfile,
  order: number,
  shaft: ShaftProfile,
): void {
  if (channel.response.kind === "none") return;
  const most = DELAY_TURNS_MAX / (order * shaft.speedMaxRevPerS);
  if (Math.abs(channel.response.delayS) <= most * (1 - 1e-6)) return;
  context.complaints.field(
    ["channels", channel.name, "response", "delay"],
    `is more than ${DELAY_TURNS_MAX} revolutions of order ${order} at the highest speed of ` +
      `"${shaft.name}": at most ${plain(most)} in SI, found ${plain(channel.response.delayS)}`,
  );
}

export function buildFilter(
  context: ProfileContext,
  name: string,
  channels: readonly ChannelProfile[],
  shafts: readonly ShaftProfile[],
): FilterProfile {
  const written = context.written.filters[name]!;
  const base: Path = ["filters", name];
  const channel = indexOf(context, "channel", written.channel, [...base, "channel"]);
  const shaft = indexOf(context, "shaft", written.shaft, [...base, "shaft"]);
  const source = channels[channel];
  const level = written.level ?? parseLevelUnit(LEVEL_OF[source?.quantity ?? "velocity"]);
  if (typeof level === "string") throw new Error(level);
  if (source !== undefined) checkQuantity(context, source, level.quantity, [...base, "level"]);
  const turns = shafts[shaft];
  if (turns !== undefined) checkNyquist(context, written.order, turns, [...base, "order"]);
  const isSampled = context.timeUnit === "sample";
  const width = written.bandwidth;
  if (width !== undefined) {
    needRange(context, filterPole(width), POLE_MIN, POLE_MAX, [...base, "bandwidth"]);
  }
  const bandwidth: FilterProfile["bandwidth"] =
    written.bandwidth ??
    (isSampled
      ? { kind: "proportional", fullWidthRatio: BANDWIDTH_RATIO }
      : { kind: "fixed", fullWidthHz: BANDWIDTH_HZ });
  if (turns !== undefined) checkCycleShare(context, bandwidth, turns, [...base, "bandwidth"]);
  if (turns !== undefined && source !== undefined) {
    checkDelay(context, source, written.order, turns);
  }
  return {
    name,
    channel,
    shaft,
    order: written.order,
    quantity: level.quantity,
    detector: level.detector,
    unit: level.unit,
    levelFactor: level.factor,
    bandwidth,
    display: buildDisplay(context, name),
  };
}

/** A display of several filters needs levels in one unit and detector. */
export function checkDisplaySources(
  context: ProfileContext,
  filters: readonly FilterProfile[],
): void {
  for (const filter of filters) {
    const { source } = filter.display;
    const others = source.kind === "greatest" ? source.filters : [];
    const named = source.kind === "substitute" ? [source.filter] : others;
    for (const index of named) {
      const other = filters[index];
      if (other === undefined || other.levelFactor === filter.levelFactor) continue;
      const key = source.kind === "substitute" ? "substitute" : "greatest of";
      context.complaints.field(
        ["filters", filter.name, "display", key],
        `takes "${other.name}" in ${other.unit} ${other.detector}, but this level is in ` +
          `${filter.unit} ${filter.detector}`,
      );
    }
  }
}
