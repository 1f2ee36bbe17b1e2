// How each number and its caution are set, in words, for whoever reads the results without the profile.
import type { DisplayProfile, FilterProfile, MonitorProfile } from "../scene/scene.ts";
import { SceneWords, figure, listed } from "./scene-words.ts";

/** The settings of one number. */
export interface SettingsRow {
  number: string;
  tracks: string;
  display: string;
  caution: string;
}

function tracksWords(words: SceneWords, filter: FilterProfile): string {
  const { shafts, channels } = words.profile;
  const shaft = shafts[filter.shaft]!;
  const { bandwidth } = filter;
  const width =
    bandwidth.kind === "fixed"
      ? words.frequency(bandwidth.fullWidthHz)
      : `${figure(bandwidth.fullWidthRatio * 100)} % of the speed`;
  return (
    `order ${filter.order} of ${shaft.name} in ${channels[filter.channel]!.name}, ${width} wide ` +
    `at −3 dB; level in ${filter.unit} ${filter.detector}; ` +
    `valid from ${words.speed(shaft.validSpeedRevPerS)}`
  );
}

function scaleWords(words: SceneWords, scale: DisplayProfile["scale"]): string {
  const [first, ...others] = scale;
  if (others.length === 0) return `× ${figure(first!.factor)}`;
  return listed(
    scale.map(({ speedRevPerS, factor }) => `× ${figure(factor)} at ${words.speed(speedRevPerS)}`),
    ", ",
  );
}

function displayWords(words: SceneWords, { display, unit, detector }: FilterProfile): string {
  const { filters, displayPeriodS } = words.profile;
  const { source, step } = display;
  const parts = [`${scaleWords(words, display.scale)} per ${unit} ${detector}`];
  if (source.kind === "greatest") {
    parts.push(`greatest of ${source.filters.map((one) => filters[one]!.name).join(", ")}`);
  }
  if (source.kind === "substitute") {
    parts.push(`${filters[source.filter]!.name} serves where it is not valid`);
  }
  if (display.smoothingS > 0) parts.push(`smoothed over ${words.time(display.smoothingS)}`);
  parts.push(`step ${figure(step)}, top ${figure(display.countsMax * step)}`);
  parts.push(`every ${words.time(displayPeriodS)}`);
  if (display.holdSteps > 0) {
    parts.push(`held ${words.time(display.holdSteps * displayPeriodS)} when not valid`);
  }
  return parts.join("; ");
}

function cautionWords(words: SceneWords, { caution, step }: DisplayProfile): string {
  if (caution === undefined) return "none";
  const after = (steps: number): string =>
    steps === 0 ? "at once" : `after ${words.time(steps * words.profile.displayPeriodS)}`;
  const end = (caution.levelCounts - caution.hysteresisCounts) * step;
  const parts = [
    `from ${figure(caution.levelCounts * step)} up, ends below ${figure(end)}`,
    `on ${after(caution.onDelaySteps)}, off ${after(caution.offDelaySteps)}`,
    caution.whenInvalid === "end" ? "ends when not valid" : "kept while the number is held",
  ];
  if (caution.delayRunsUnderInhibit) parts.push("the on-delay runs under an inhibit");
  return parts.join("; ");
}

/** One row for each number of the profile. */
export function settingsRows(profile: MonitorProfile): SettingsRow[] {
  const words = new SceneWords(profile);
  return profile.filters.map((filter) => ({
    number: filter.name,
    tracks: tracksWords(words, filter),
    display: displayWords(words, filter),
    caution: cautionWords(words, filter.display),
  }));
}
