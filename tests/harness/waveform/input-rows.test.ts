import { describe, expect, it } from "vitest";
import { InputCursor } from "../../../harness/waveform/input-rows.ts";
import { scene } from "../../kit/scene-builder.ts";
import { drawn } from "./batches.ts";

const none = { inhibit: 0, acknowledge: 0, running: 0, test: false };

describe("inputs", () => {
  it("[WAVE-062] each row stands from the first sample at or after its time", () => {
    const inputs = [
      { ...none, timeS: 0.3, inhibit: 0b101, running: 0b10 },
      { ...none, timeS: 0.30001, acknowledge: 0x80 },
      { ...none, timeS: 0.4, test: true },
    ];
    const { inputs: bits } = drawn(scene({ durationS: 0.5, inputs }), [1000, 13]);
    expect(bits[3839]).toBe(0);
    expect(bits[3840]).toBe(0b101 | (0b10 << 16));
    expect(bits[3841]).toBe(0x80 << 8);
    expect(bits[5119]).toBe(0x80 << 8);
    expect(bits[5120]).toBe(1 << 18);
    expect(bits.length).toBe(6400);
  });

  it("[WAVE-063] rows that do not ascend are refused", () => {
    const rows = [
      { ...none, timeS: 2 },
      { ...none, timeS: 1 },
    ];
    expect(() => new InputCursor(rows, 100)).toThrow("ascend");
  });
});
