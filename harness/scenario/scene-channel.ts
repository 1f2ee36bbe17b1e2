// Channels of a scene: components, the true front end, faults, the converter.
import type { Amount } from "../../host/quantity.ts";
import { buildResponse, inQuantity } from "../../host/profile/profile-channel.ts";
import type { Path } from "../../host/profile/yaml-tree.ts";
import type { ChannelFault, ChannelProfile, ChannelSignal } from "../scene/scene.ts";
import { buildComponent } from "./scene-component.ts";
import type { SceneContext } from "./scene-names.ts";
import { momentOf, spanOf } from "./scene-names.ts";
import type { WrittenChannelSignal } from "./scenario-schema.ts";

/** Two spellings of one step may differ by roundings. */
const COUNT_STEP_SLACK = 1e-9;

function buildFault(
  context: SceneContext,
  channel: ChannelProfile,
  fault: WrittenChannelSignal["faults"][number],
  path: Path,
): ChannelFault {
  const own = (amount: Amount, key: string): number =>
    inQuantity(context.complaints, amount, channel.quantity, [...path, key]);
  if (fault.fault === "spike") {
    const atS = momentOf(context, fault.at, [...path, "at"]);
    return { kind: "spike", atS, value: own(fault.value, "value"), samples: fault.samples };
  }
  if (fault.fault === "not finite") {
    const atS = momentOf(context, fault.at, [...path, "at"]);
    return { kind: "not-finite", atS, samples: fault.samples };
  }
  const span = spanOf(context, fault, path);
  switch (fault.fault) {
    case "clip":
      return { kind: "clip", ...span, level: own(fault.level, "level") };
    case "flat": {
      const value = fault.value === undefined ? 0 : own(fault.value, "value");
      return { kind: "flat", ...span, value };
    }
    case "bias":
      return { kind: "bias", ...span, value: own(fault.value, "value") };
    case "open lead":
      return { kind: "open", ...span, share: fault.share };
    case "gain":
      return { kind: "gain", ...span, factor: fault.factor };
    case "loose connector":
      return {
        kind: "loose",
        ...span,
        burstPk: own(fault.bursts, "bursts"),
        burstsPerS: fault["per second"],
        lengthS: fault.length,
      };
  }
}

/** What a converter to counts cannot do, or would do to the level without saying so. */
function checkConverter(
  context: SceneContext,
  channel: ChannelProfile,
  written: WrittenChannelSignal,
  base: Path,
): void {
  const { converter } = written;
  if (converter?.format !== "i16") return;
  if (converter.step !== undefined) {
    const path = [...base, "converter", "step"];
    const step = inQuantity(context.complaints, converter.step, channel.quantity, path);
    if (Math.abs(step - channel.countStep) > COUNT_STEP_SLACK * channel.countStep) {
      context.complaints.field(
        path,
        `must be the profile's count step, by which the target reads the counts; state a ` +
          `sensitivity that is off as a fault "gain"`,
      );
    }
  }
  for (const [row, fault] of written.faults.entries()) {
    if (fault.fault !== "not finite") continue;
    const path = [...base, "faults", row, "fault"];
    context.complaints.field(path, `cannot be "not finite" where the converter gives counts`);
  }
}

export function buildChannelSignal(
  context: SceneContext,
  channel: ChannelProfile,
  written: WrittenChannelSignal | undefined,
  base: Path,
  vibrationPath: Path,
): ChannelSignal {
  if (written === undefined) {
    return {
      components: [],
      mean: 0,
      frontEnd: channel.response,
      faults: [],
      converter: { format: "f32", step: channel.countStep },
    };
  }
  const own = (amount: Amount, ...keys: string[]): number =>
    inQuantity(context.complaints, amount, channel.quantity, [...base, ...keys]);
  checkConverter(context, channel, written, base);
  const front = written["front end"];
  const frontPath = [...base, "front end"];
  const step = written.converter?.step;
  return {
    components: written.vibration.map((component, row) =>
      buildComponent(context, channel, component, [...vibrationPath, row]),
    ),
    mean: written.mean === undefined ? 0 : own(written.mean, "mean"),
    frontEnd:
      front === undefined
        ? channel.response
        : front === "none"
          ? { kind: "none" }
          : buildResponse(front, context.complaints, frontPath),
    faults: written.faults.map((fault, row) =>
      buildFault(context, channel, fault, [...base, "faults", row]),
    ),
    converter: {
      format: written.converter?.format ?? "f32",
      step: step === undefined ? channel.countStep : own(step, "converter", "step"),
    },
  };
}
