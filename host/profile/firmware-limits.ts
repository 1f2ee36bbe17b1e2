// Ranges that the firmware refuses to leave (assembly/config.ts). Tested here first, so that a
// person reads a sentence with file and line and not a byte offset; a test holds the two together.

export const TICKS_PER_SAMPLE_MAX = 262_144;
export const CLOCK_HZ_MAX = 2 ** 31 - 1;
export const TIMEOUT_TICKS_MAX = 2 ** 31 - 1;
export const DISPLAY_SAMPLES_MIN = 8;
export const DISPLAY_SAMPLES_MAX = 2 ** 24;
export const LOCK_REVOLUTIONS_MAX = 64;
export const STEPS_MAX = 2 ** 24;
/** Whole in f32, with the half that rounding adds. */
export const COUNTS_MAX = 2 ** 22;
export const SPEED_MIN_REV_PER_S = 1e-5;
export const SPEED_MAX_REV_PER_S = 1e4;
/** Values of vibration, factors, steps: no product of them may leave f32. */
export const FACTOR_MIN = 1e-12;
export const FACTOR_MAX = 1e12;
export const FREQUENCY_MIN_HZ = 1e-6;
export const FREQUENCY_MAX_HZ = 1e7;
export const DELAY_S_MAX = 1e4;
/** Revolutions of an order in a channel's delay. */
export const DELAY_TURNS_MAX = 1000;
export const POLE_MIN = 1e-6;
export const POLE_MAX = 1e7;
/** Share of what is new in one step of a pole or of the smoothing: f32 adds no less. */
export const SHARE_MIN = 1e-4;
/** Edges in one sample: half of what a block holds. */
export const EDGES_PER_SAMPLE_MAX = 32;
/** Knots of the angle model in one sample. */
export const KNOTS_PER_SAMPLE_MAX = 8;
