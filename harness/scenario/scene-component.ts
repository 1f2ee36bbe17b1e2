// Components of a channel's vibration: orders, tones, a rotor, noise.
import type { Amount } from "../../host/quantity.ts";
import { amountPk, DERIVATIVES } from "../../host/quantity.ts";
import type { Path } from "../../host/profile/yaml-tree.ts";
import type { ChannelProfile, Component, Envelope, Quantity } from "../scene/scene.ts";
import type { SceneContext } from "./scene-names.ts";
import { nameIndex } from "./scene-names.ts";
import type {
  WrittenComponent,
  WrittenOrder,
  WrittenRotor,
  WrittenRow,
} from "./component-schema.ts";

/** The channel sees a component's time derivative, so a component may not be a higher one. */
function componentQuantity(
  context: SceneContext,
  channel: ChannelProfile,
  amount: Amount,
  path: Path,
): Quantity {
  const quantity = amount.dimension as Quantity;
  if (quantity === channel.quantity) return quantity;
  if (quantity === "unstated" || channel.quantity === "unstated") {
    context.complaints.field(
      path,
      `must be in "units" exactly where the channel's quantity is unstated ` +
        `("${channel.name}" measures ${channel.quantity})`,
    );
  } else if (DERIVATIVES[quantity] > DERIVATIVES[channel.quantity]) {
    context.complaints.field(
      path,
      `is ${quantity}, but "${channel.name}" measures ${channel.quantity}: state it as ` +
        `${channel.quantity} or displacement`,
    );
  }
  return quantity;
}

/** An amplitude over the channel's range is allowed, and clips. */
function warnRange(
  context: SceneContext,
  channel: ChannelProfile,
  amount: Amount,
  path: Path,
): void {
  if (amount.dimension !== channel.quantity || amountPk(amount) < channel.range) return;
  context.warnings.field(
    path,
    `reaches the range of channel "${channel.name}": its samples count as clipped`,
  );
}

/** From half the sample rate on, samples do not tell a frequency from a lower one. */
function refuseAlias(context: SceneContext, frequencyHz: number, path: Path, at: string): void {
  const { sampleRateHz, timeUnit } = context.profile;
  if (frequencyHz < sampleRateHz / 2) return;
  const text = (hertz: number): string =>
    `${Number(hertz.toPrecision(6))} ${timeUnit === "s" ? "Hz" : "cycles/sample"}`;
  context.complaints.field(
    path,
    `must stay below half the sample rate, ${text(sampleRateHz / 2)}; found ` +
      `${text(frequencyHz)}${at}, which samples do not tell from a lower frequency`,
  );
}

function rowsOf(
  context: SceneContext,
  channel: ChannelProfile,
  rows: WrittenRow[],
  path: Path,
): { quantity: Quantity; rows: { timeS: number; amplitudePk: number; phaseLagRad: number }[] } {
  const first = rows[0]!.amplitude;
  for (const [index, row] of rows.entries()) {
    const here = [...path, index];
    componentQuantity(context, channel, row.amplitude, [...here, "amplitude"]);
    warnRange(context, channel, row.amplitude, [...here, "amplitude"]);
    if (row.amplitude.dimension !== first.dimension) {
      const what = `must be ${first.dimension} like the first row`;
      context.complaints.field([...here, "amplitude"], what);
    }
    if (index === 0 && row.at !== 0) {
      context.complaints.field([...here, "at"], "must be 0 s in the first row");
    } else if (index > 0 && row.at <= rows[index - 1]!.at) {
      context.complaints.field([...here, "at"], "must be later than the row before");
    }
  }
  return {
    quantity: first.dimension as Quantity,
    rows: rows.map((row) => ({
      timeS: row.at,
      amplitudePk: amountPk(row.amplitude),
      phaseLagRad: row["phase lag"],
    })),
  };
}

function buildOrder(
  context: SceneContext,
  channel: ChannelProfile,
  written: WrittenOrder,
  path: Path,
): Component {
  const { complaints } = context;
  const shaft = nameIndex(context, "shaft", written.shaft, [...path, "shaft"]);
  const ways = (["amplitude", "steps", "lines"] as const).filter(
    (way) => written[way] !== undefined,
  );
  if (ways.length !== 1) {
    const found = ways.length === 0 ? "none" : ways.join(" and ");
    complaints.field(path, `must hold one of amplitude, steps, lines; found ${found}`);
  }
  const most = context.speedMostRevPerS[shaft] ?? 0;
  refuseAlias(context, written.order * most, [...path, "order"], " at the highest speed here");
  const make = (quantity: Quantity, envelope: Envelope): Component => ({
    kind: "order",
    shaft,
    order: written.order,
    quantity,
    envelope,
  });
  const power = written["power of speed"];
  const reference = written["at speed"];
  for (const kind of ["steps", "lines"] as const) {
    const rows = written[kind];
    if (rows === undefined) continue;
    if (power !== undefined || reference !== undefined) {
      complaints.field(path, `power of speed goes with amplitude, not with ${kind}`);
    }
    if (written["phase lag"] !== 0) {
      complaints.field([...path, "phase lag"], `stands in each row of ${kind}`);
    }
    const built = rowsOf(context, channel, rows, [...path, kind]);
    return make(built.quantity, { kind, rows: built.rows });
  }
  if (written.amplitude === undefined) return make(channel.quantity, NO_ENVELOPE);
  const quantity = componentQuantity(context, channel, written.amplitude, [...path, "amplitude"]);
  if (power === undefined) {
    warnRange(context, channel, written.amplitude, [...path, "amplitude"]);
  }
  const amplitudePk = amountPk(written.amplitude);
  const phaseLagRad = written["phase lag"];
  if ((power === undefined) !== (reference === undefined)) {
    const [has, lacks] =
      power === undefined ? ["at speed", "power of speed"] : ["power of speed", "at speed"];
    complaints.field(path, `has ${has} without ${lacks}; they go together`);
  }
  if (power === undefined || reference === undefined) {
    return make(quantity, { kind: "constant", amplitudePk, phaseLagRad });
  }
  const grows = { amplitudePk, phaseLagRad, referenceRevPerS: reference, power };
  return make(quantity, { kind: "speed-power", ...grows });
}

const NO_ENVELOPE: Envelope = { kind: "constant", amplitudePk: 0, phaseLagRad: 0 };

function buildRotor(
  context: SceneContext,
  channel: ChannelProfile,
  written: WrittenRotor["rotor"],
  path: Path,
): Component {
  const { complaints } = context;
  if (channel.quantity === "unstated") {
    complaints.field(path, "needs a channel whose quantity is stated");
  }
  const natural = written["natural frequency"];
  const critical = written["critical speed"];
  if ((natural === undefined) === (critical === undefined)) {
    complaints.field(path, "must hold either natural frequency or critical speed");
  }
  const rows = written.unbalance;
  for (const [index, row] of rows.entries()) {
    const at = [...path, "unbalance", index, "at"];
    if (index === 0 && row.at !== 0) complaints.field(at, "must be 0 s in the first row");
    if (index > 0 && row.at <= rows[index - 1]!.at) {
      complaints.field(at, "must be later than the row before");
    }
  }
  return {
    kind: "rotor",
    shaft: nameIndex(context, "shaft", written.shaft, [...path, "shaft"]),
    modalMassKg: written["modal mass"],
    naturalHz: natural ?? critical ?? 0,
    dampingRatio: written["damping ratio"],
    unbalance: rows.map((row) => ({ timeS: row.at, kgM: row.amount, angleRad: row.angle })),
  };
}

export function buildComponent(
  context: SceneContext,
  channel: ChannelProfile,
  written: WrittenComponent,
  path: Path,
): Component {
  if ("order" in written) return buildOrder(context, channel, written, path);
  if ("rotor" in written) return buildRotor(context, channel, written.rotor, [...path, "rotor"]);
  if ("noise" in written) {
    if (written.noise.dimension !== channel.quantity) {
      const what = `must be in the channel's own quantity, ${channel.quantity}`;
      context.complaints.field([...path, "noise"], what);
    }
    return { kind: "noise", rms: written.noise.value };
  }
  refuseAlias(context, written.tone, [...path, "tone"], "");
  return {
    kind: "tone",
    frequencyHz: written.tone,
    quantity: componentQuantity(context, channel, written.amplitude, [...path, "amplitude"]),
    amplitudePk: amountPk(written.amplitude),
    phaseLagRad: written["phase lag"],
  };
}
