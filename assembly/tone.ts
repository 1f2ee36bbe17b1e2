// The functional test: while its input stands, each channel's samples are replaced by a tone at an
// order of a shaft, from the converter on. It proves neither transducer nor cable.
import { CHANNELS_MAX } from "../shared/capacity.ts";
import * as L from "../shared/layout.ts";
import { phaseOf, phasorRe, phasorSet } from "./math/phasor.ts";
import { configChannel, configGlobal } from "./memory.ts";
import { poolAddress } from "./pool.ts";
import { tachSpeedNow } from "./tach.ts";

/** Phase of each channel's tone, u32. */
const PHASES: usize = memory.data(4 * CHANNELS_MAX, 4);

let isOn: bool = false;
/** Samples before this one are done with. */
let done: u64 = 0;

export function toneReset(): void {
  isOn = false;
  memory.fill(PHASES, 0, 4 * CHANNELS_MAX);
}

/** Says whether the test's input stands from `sample` on. */
export function toneSet(isTest: bool, sample: u64): void {
  if (isTest && !isOn) memory.fill(PHASES, 0, 4 * CHANNELS_MAX);
  isOn = isTest;
  done = sample;
}

export function toneIsOn(): bool {
  return isOn;
}

/**
 * Replaces the samples up to `samplesEnd`, at the speed that the shafts have now. Called before
 * each edge, so that a sample's tone depends on the edges before it and on nothing else.
 */
export function toneProcess(samplesEnd: u64): void {
  if (!isOn || samplesEnd <= done) return;
  const count = <i32>(samplesEnd - done);
  const rateHz: f32 = <f32>load<u32>(configGlobal() + L.GLOBAL_CLOCK_HZ) /
    <f32>load<u32>(configGlobal() + L.GLOBAL_TICKS_PER_SAMPLE);
  const channels = load<i32>(configGlobal() + L.GLOBAL_CHANNEL_COUNT);
  for (let channel: i32 = 0; channel < channels; channel++) {
    const config = configChannel(channel);
    const speed = tachSpeedNow(load<i32>(config + L.CHANNEL_TEST_SHAFT));
    const step = phaseOf(<f32>load<i32>(config + L.CHANNEL_TEST_ORDER) * speed / rateHz);
    // Without a reference there is no order to sound.
    const amplitude: f32 = speed > 0 ? load<f32>(config + L.CHANNEL_TEST_PK) : 0;
    const at = poolAddress(channel, done);
    let phase = load<u32>(PHASES + 4 * channel);
    for (let i: i32 = 0; i < count; i++) {
      phasorSet(phase);
      store<f32>(at + 4 * i, amplitude * phasorRe);
      phase += step;
    }
    store<u32>(PHASES + 4 * channel, phase);
  }
  done = samplesEnd;
}
