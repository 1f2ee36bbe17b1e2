// A configuration that uses everything, for the tests of its rules.
import { ConfigurationRefused, type Core } from "../../../host/core.ts";
import { configurationBytes, sealConfiguration } from "../../../host/profile/configuration.ts";
import type { MonitorProfile } from "../../../host/profile/types.ts";
import {
  channelProfile,
  filterProfile,
  monitorProfile,
  shaftProfile,
} from "../../kit/scene-builder.ts";
import { type Field, writeFields } from "./stage.ts";

/** Two channels and shafts, two filters, a response by filters, a caution and a word. */
export function fullProfile(): MonitorProfile {
  const filter = filterProfile();
  return monitorProfile({
    channels: [
      channelProfile({
        response: {
          kind: "filters",
          highPassOrder: 1,
          highPassHz: 2,
          lowPassOrder: 2,
          lowPassHz: 5000,
          delayS: 1e-4,
        },
        health: { steps: 2, bias: { low: -10, high: 10 } },
      }),
      channelProfile({
        response: {
          kind: "table",
          points: [
            { frequencyHz: 10, gain: 1, phaseLagRad: 0 },
            { frequencyHz: 100, gain: 0.9, phaseLagRad: 0.1 },
          ],
          delayS: 0,
        },
      }),
    ],
    shafts: [
      shaftProfile({ positions: 60, timeoutS: 0.1 }),
      shaftProfile({ positions: 52, index: "missing-tooth", timeoutS: 0.1 }),
    ],
    filters: [
      filterProfile({
        display: {
          ...filter.display,
          scale: [
            { speedRevPerS: 10, factor: 1 },
            { speedRevPerS: 100, factor: 2 },
          ],
          caution: {
            levelCounts: 50,
            hysteresisCounts: 4,
            onDelaySteps: 3,
            offDelaySteps: 5,
            delayRunsUnderInhibit: false,
            whenInvalid: "end",
          },
          word: { label: 0o135, sdi: 1, bits: 12, resolution: 0.01 },
        },
      }),
      filterProfile({ channel: 1, shaft: 1, order: 2 }),
    ],
  });
}

/** The whole profile's bytes with some fields written over. */
export function writtenOver(fields: readonly Field[], isSealed = true): Uint8Array {
  const bytes = configurationBytes(fullProfile());
  writeFields(new DataView(bytes.buffer, bytes.byteOffset), 0, fields);
  if (isSealed) sealConfiguration(bytes);
  return bytes;
}

export function refusalOf(core: Core, bytes: Uint8Array): ConfigurationRefused {
  try {
    core.configure(bytes);
  } catch (error) {
    if (error instanceof ConfigurationRefused) return error;
    throw error;
  }
  throw new Error("the configuration was taken");
}
