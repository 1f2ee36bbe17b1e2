// What `check` prints of a profile that is right.
import { GRAVITY_M_PER_S2 } from "../../host/quantity.ts";
import type { Implied, ImpliedAtSpeed, ImpliedFilter } from "../../host/profile/implied.ts";
import type { MonitorProfile, Quantity } from "../../host/profile/types.ts";
import { COLUMNS, hanging } from "./wrapped-text.ts";

const figure = (value: number, digits = 3): string =>
  Number.isFinite(value) ? String(Number(value.toPrecision(digits))) : "never";

const NAME_COLUMNS = 28;

/** A row of names and values. */
function row(name: string, value: string): string {
  return hanging(`    ${name}`.padEnd(NAME_COLUMNS), value, NAME_COLUMNS);
}

/** What was checked, and that it is right; with what it is about on the lines below. */
export function rightText(file: string, what: string, about = ""): string {
  const line = `${file}: ${what}`;
  // A path is not broken: what is said of it goes below where it does not fit beside it.
  const head = line.length <= COLUMNS ? line : `${file}:\n${hanging("  ", what, 2)}`;
  return about === "" ? head : `${head}\n${hanging("  ", about, 2)}`;
}

/** A warning below what it is about. */
export function warningLines(warning: string): string {
  return hanging("  warning: ", warning, 4);
}

/** One value per speed, once where they read the same. */
function perSpeed(
  profile: MonitorProfile,
  atSpeeds: readonly ImpliedAtSpeed[],
  read: (at: ImpliedAtSpeed) => number,
  unit: string,
): string {
  const values = atSpeeds.map((at) => figure(read(at)));
  const shown = (value: string): string => (value === "never" ? value : `${value} ${unit}`);
  if (new Set(values).size === 1) return shown(values[0]!);
  const parts = atSpeeds.map(
    (at, index) => `${shown(values[index]!)} at ${speedText(profile, at.speedRevPerS)}`,
  );
  return parts.join(", ");
}

/** A speed as a person reads it. */
export function speedText(profile: MonitorProfile, revPerS: number): string {
  return profile.timeUnit === "s"
    ? `${figure(revPerS * 60, 6)} r/min`
    : `${figure(revPerS, 4)} rev/sample`;
}

const PK_TEXT: Readonly<Record<Quantity, (valuePk: number) => string>> = {
  acceleration: (value) => `${figure(value / GRAVITY_M_PER_S2)} g pk`,
  velocity: (value) => `${figure(value / 0.0254)} in/s pk`,
  displacement: (value) => `${figure((2 * value) / 2.54e-5)} mil pk-pk`,
  unstated: (value) => `${figure(value)} units pk`,
};

function cautionLines(profile: MonitorProfile, filter: ImpliedFilter, unit: string): string[] {
  const { caution } = filter;
  if (caution === undefined) return [];
  const after = (delayS: number): string => `after ${figure(delayS)} ${unit}`;
  const delays = `on ${after(caution.onDelayS)}, off ${after(caution.offDelayS)}`;
  const lines = [
    row(
      "caution",
      `at ${figure(caution.level)} display units, ends below ${figure(caution.endsBelow)}`,
    ),
    row("", delays),
  ];
  if (caution.levelPk !== undefined) {
    const fastest = filter.atSpeeds[filter.atSpeeds.length - 1]!;
    const texts = caution.levelPk.map((level) => PK_TEXT[level.quantity](level.valuePk));
    lines.push(row("", `${texts.join(", ")} at ${speedText(profile, fastest.speedRevPerS)}`));
  }
  lines.push(
    row("from 1.5 × the level to half of it", ""),
    row(
      "  number below level",
      perSpeed(profile, filter.atSpeeds, (at) => at.caution?.numberBelowS ?? NaN, unit),
    ),
    row(
      "  caution off",
      perSpeed(profile, filter.atSpeeds, (at) => at.caution?.clearsS ?? NaN, unit),
    ),
  );
  return lines;
}

/** The lines that say what a profile implies. */
export function impliedText(profile: MonitorProfile, implied: Implied): string {
  const isTimed = profile.timeUnit === "s";
  const unit = isTimed ? "s" : "samples";
  const width = isTimed ? "Hz" : "cycles/sample";
  const lines: string[] = [];
  for (const shaft of implied.shafts) {
    const least = speedText(profile, shaft.speedLeastRevPerS);
    const text =
      `lowest speed ${speedText(profile, shaft.speedMinRevPerS)} ` +
      `(the memory allows ${least}), time-out ${figure(shaft.timeoutS)} ${unit}`;
    lines.push(hanging(`  ${shaft.name}: `, text, 4));
  }
  for (const filter of implied.filters) {
    const at = filter.atSpeeds;
    const per = (read: (one: ImpliedAtSpeed) => number, of = unit): string =>
      perSpeed(profile, at, read, of);
    lines.push(
      hanging(
        `  ${filter.name}: `,
        `order ${filter.order} of ${filter.shaft}, ${filter.channel}, ${filter.level}`,
        4,
      ),
      row(
        "full bandwidth",
        per((one) => one.bandwidthHz, width),
      ),
      row(
        "noise bandwidth",
        per((one) => one.noiseBandwidthHz, width),
      ),
      row(
        "time constant",
        per((one) => one.timeConstantS),
      ),
      row(
        "settles to 1 % in",
        per((one) => one.settlingS),
      ),
      row(
        "latency",
        per((one) => one.latencyS),
      ),
      row(
        "first number within",
        per((one) => one.acquisitionS),
      ),
      ...cautionLines(profile, filter, unit),
    );
  }
  return lines.join("\n");
}
