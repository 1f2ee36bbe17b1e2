// Profiles whose level is what was put in: acceleration, m/s² pk.
import type {
  ChannelProfile,
  FilterProfile,
  MonitorProfile,
  ShaftProfile,
} from "../../../host/profile/types.ts";
import {
  channelProfile,
  filterProfile,
  monitorProfile,
  shaftProfile,
} from "../../kit/scene-builder.ts";
import type { Wheel } from "./core-run.ts";

export function plainFilter(over: Partial<FilterProfile> = {}): FilterProfile {
  return filterProfile({ quantity: "acceleration", unit: "m/s²", levelFactor: 1, ...over });
}

/** One channel, one shaft with this wheel, one plain filter; any part replaced. */
export function profileOf(
  wheel: Wheel,
  over: Partial<MonitorProfile> = {},
  shaft: Partial<ShaftProfile> = {},
  channel: Partial<ChannelProfile> = {},
): MonitorProfile {
  return monitorProfile({
    channels: [channelProfile(channel)],
    shafts: [
      shaftProfile({
        positions: wheel.positions,
        revolutions: wheel.revolutions ?? 1,
        index: wheel.index ?? "none",
        ...shaft,
      }),
    ],
    filters: [plainFilter()],
    ...over,
  });
}
