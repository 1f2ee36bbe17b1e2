// Read by both compilers: annotated constants only, no functions. PROTOCOL.md draws the boxes.
// All fields little-endian. Offsets in bytes. u32 unless the comment says otherwise.

/** Version of configuration, block, record and counters. Host and device must agree. */
export const LAYOUT_VERSION: i32 = 1;
/** Version of the arithmetic: moves when any bit of the golden set moves. */
export const NUMERICS_VERSION: i32 = 1;

// --- configuration: global 64, channels 4 × 192, shafts 2 × 64, filters 8 × 32, displays 8 × 96
export const CONFIG_MAGIC: u32 = 0x52424d41; // "AMBR"
export const CONFIG_BYTES: i32 = 1984;
export const CONFIG_GLOBAL: i32 = 0;
export const CONFIG_CHANNELS: i32 = 64;
export const CONFIG_SHAFTS: i32 = 832;
export const CONFIG_FILTERS: i32 = 960;
export const CONFIG_DISPLAYS: i32 = 1216;

export const GLOBAL_MAGIC: i32 = 0;
export const GLOBAL_LAYOUT: i32 = 4;
export const GLOBAL_LENGTH: i32 = 8; // CONFIG_BYTES
export const GLOBAL_CHECK: i32 = 12; // CRC-32 over bytes 16 … CONFIG_BYTES
export const GLOBAL_CLOCK_HZ: i32 = 16;
export const GLOBAL_TICKS_PER_SAMPLE: i32 = 20; // clock / sample rate, exact
export const GLOBAL_DISPLAY_SAMPLES: i32 = 24; // samples in one display period
export const GLOBAL_CHANNEL_COUNT: i32 = 28;
export const GLOBAL_SHAFT_COUNT: i32 = 32;
export const GLOBAL_FILTER_COUNT: i32 = 36;

export const CHANNEL_BYTES: i32 = 192;
export const CHANNEL_KIND: i32 = 0; // KIND_…
export const CHANNEL_COUNT_STEP: i32 = 4; // f32, SI per count of an i16 sample
export const CHANNEL_RANGE: i32 = 8; // f32, SI: |sample| at or above it is clipped
export const CHANNEL_RESPONSE: i32 = 12; // RESPONSE_…
export const CHANNEL_HIGH_PASS_ORDER: i32 = 16; // 0 … RESPONSE_ORDER_MAX, Butterworth
export const CHANNEL_HIGH_PASS_HZ: i32 = 20; // f32, −3 dB
export const CHANNEL_LOW_PASS_ORDER: i32 = 24; // 0 … RESPONSE_ORDER_MAX, Butterworth
export const CHANNEL_LOW_PASS_HZ: i32 = 28; // f32, −3 dB
export const CHANNEL_DELAY_S: i32 = 32; // f32
export const CHANNEL_TABLE_COUNT: i32 = 36; // rows used
export const CHANNEL_HEALTH_MASK: i32 = 40; // bits 1 << HEALTH_…
export const CHANNEL_BIAS_LOW: i32 = 44; // f32, SI: mean of a display period
export const CHANNEL_BIAS_HIGH: i32 = 48; // f32, SI
export const CHANNEL_CLIP_SAMPLES: i32 = 52; // clipped samples in a display period that are a fault
export const CHANNEL_FLAT_PKPK: i32 = 56; // f32, SI pk-pk in a display period
export const CHANNEL_NOISE_RMS: i32 = 60; // f32, SI rms of first differences / √2
export const CHANNEL_BURST_RMS: i32 = 64; // f32, SI rms of the means of 8 slices of the period
export const CHANNEL_PHYSICAL_PK: i32 = 68; // f32, SI pk
// f32, tracked rms may not exceed ratio × broadband rms
export const CHANNEL_BROADBAND_RATIO: i32 = 72;
export const CHANNEL_HEALTH_STEPS: i32 = 76; // display steps a check must hold, both ways, ≥ 1
export const CHANNEL_TEST_PK: i32 = 80; // f32, SI pk of the functional test's tone
export const CHANNEL_TEST_SHAFT: i32 = 84;
export const CHANNEL_TEST_ORDER: i32 = 88;
export const CHANNEL_TABLE: i32 = 96; // rows of 12: frequency Hz f32, gain f32, phase lag rad f32
export const RESPONSE_POINT_BYTES: i32 = 12;

export const SHAFT_BYTES: i32 = 64;
export const SHAFT_POSITIONS: i32 = 0; // in one cycle, a missing tooth counted
export const SHAFT_INDEX: i32 = 4; // INDEX_…
export const SHAFT_REVOLUTIONS: i32 = 8; // of the shaft in one cycle; over 1: geared, no phase
export const SHAFT_SPEED_MIN: i32 = 12; // f32, rev/s
export const SHAFT_SPEED_MAX: i32 = 16; // f32, rev/s
export const SHAFT_ACCELERATION_MAX: i32 = 20; // f32, rev/s²
export const SHAFT_TIMEOUT_TICKS: i32 = 24;
export const SHAFT_LOCK_REVOLUTIONS: i32 = 28; // consistent cycles before the reference counts, ≥ 1
export const SHAFT_EDGE_TOLERANCE: i32 = 32; // f32, pitches: jitter and wheel error, < 0.45
export const SHAFT_VALID_SPEED: i32 = 36; // f32, rev/s: below it a number is not computed
export const SHAFT_VALID_HYSTERESIS: i32 = 40; // f32, rev/s: valid again at speed + hysteresis
export const SHAFT_VALID_STEPS: i32 = 44; // display steps below before it counts
export const SHAFT_EVIDENCE: i32 = 48; // EVIDENCE_… bits: what else shows that the shaft turns
export const EVIDENCE_INPUT: i32 = 1; // the running input of the shaft
export const EVIDENCE_OTHER_SHAFT: i32 = 2; // the other shaft has its reference

export const FILTER_BYTES: i32 = 32;
export const FILTER_CHANNEL: i32 = 0;
export const FILTER_SHAFT: i32 = 4;
export const FILTER_ORDER: i32 = 8; // of the shaft, 1 … ORDER_MAX
export const FILTER_INTEGRATIONS: i32 = 12; // 0, 1, 2
export const FILTER_BANDWIDTH: i32 = 16; // BANDWIDTH_…
export const FILTER_POLE: i32 = 20; // f32: fixed τ in s; proportional T/τ of one shaft revolution
export const FILTER_LEVEL_FACTOR: i32 = 24; // f32: level = factor × pk in SI (detector and unit)

export const DISPLAY_BYTES: i32 = 96;
export const DISPLAY_SOURCE: i32 = 0; // SOURCE_…
export const DISPLAY_SOURCES: i32 = 4; // greatest: bits of filters; substitute: filter index
export const DISPLAY_SCALE_COUNT: i32 = 8; // 1 … SCALE_POINTS_MAX
export const DISPLAY_SMOOTHING: i32 = 12; // f32, share of the new value a step, (0, 1]
export const DISPLAY_STEP_INVERSE: i32 = 16; // f32, counts per display unit
export const DISPLAY_COUNTS_MAX: i32 = 20; // i32, top of the scale: shown counts stop there
export const DISPLAY_FLAGS: i32 = 24; // DISPLAY_FLAG_…
export const DISPLAY_CAUTION_COUNTS: i32 = 28; // i32
export const DISPLAY_HYSTERESIS_COUNTS: i32 = 32; // i32, < caution
export const DISPLAY_ON_STEPS: i32 = 36; // on-delay in display steps, 0 = at once
export const DISPLAY_OFF_STEPS: i32 = 40; // off-delay in display steps, 0 = at once
export const DISPLAY_HOLD_STEPS: i32 = 44; // steps that an invalid number is held before it blanks
export const DISPLAY_WORD_LABEL: i32 = 48; // 0 … 255
export const DISPLAY_WORD_SDI: i32 = 52; // 0 … 3
export const DISPLAY_WORD_BITS: i32 = 56; // 0 = no word; data bits without sign, 1 … 18
export const DISPLAY_WORD_INVERSE: i32 = 60; // f32, word counts per display unit
// rows of 8: speed rev/s f32, display units per level unit f32
export const DISPLAY_SCALE: i32 = 64;
export const SCALE_POINT_BYTES: i32 = 8;
export const DISPLAY_FLAG_CAUTION: i32 = 1; // a caution is configured
export const DISPLAY_FLAG_DELAY_UNDER_INHIBIT: i32 = 2; // the on-delay runs while inhibited
// when invalid: caution stays while the number is held
export const DISPLAY_FLAG_HOLD_CAUTION: i32 = 4;

// --- block: header 64, then samples channel by channel, then edges shaft by shaft, each packed;
//     an i16 run of odd length is padded to four bytes
export const BLOCK_HEADER_BYTES: i32 = 64;
export const BLOCK_LAYOUT: i32 = 0;
export const BLOCK_FORMAT: i32 = 4; // FORMAT_…
export const BLOCK_FIRST_LOW: i32 = 8; // index of the first sample
export const BLOCK_FIRST_HIGH: i32 = 12;
export const BLOCK_SAMPLE_COUNT: i32 = 16; // per channel, 1 … BLOCK_SAMPLES_MAX
export const BLOCK_EDGE_COUNTS: i32 = 20; // two u32, per shaft, 0 … BLOCK_EDGES_MAX
export const BLOCK_INPUTS: i32 = 28; // INPUT_… bits, as they stand for the whole block
export const BLOCK_BYTES_MAX: i32 = 2624;
export const INPUT_INHIBIT: i32 = 0; // bits 0 … 7, per display
export const INPUT_ACKNOWLEDGE: i32 = 8; // bits 8 … 15, per display, a rising bit acknowledges
export const INPUT_RUNNING: i32 = 16; // bits 16, 17, per shaft: other evidence of turning
export const INPUT_TEST: i32 = 18; // functional test

// --- record and event, 64 bytes
export const RECORD_BYTES: i32 = 64;
export const RECORD_KIND: i32 = 0; // u8: RECORD_LEVEL, RECORD_EVENT, RECORD_EXCEEDANCE
export const RECORD_SOURCE: i32 = 1; // u8: filter, shaft or channel
export const RECORD_FLAGS: i32 = 2; // u16: FLAG_… of a level record; EVENT_… code of an event
export const RECORD_SEQUENCE: i32 = 4;
export const RECORD_TICK_LOW: i32 = 8; // the display step, or the event's own time
export const RECORD_TICK_HIGH: i32 = 12;
export const RECORD_AGE: i32 = 16; // ticks since the newest revolution counted closed
export const RECORD_REVOLUTION: i32 = 20; // whole cycles closed since the reference was found
export const RECORD_SPEED: i32 = 24; // f32 rev/s, through the filter's poles
export const RECORD_RE: i32 = 28; // f32 SI pk
export const RECORD_IM: i32 = 32; // f32 SI pk
export const RECORD_LEVEL_VALUE: i32 = 36; // f32, in the filter's unit and detector
export const RECORD_SHOWN: i32 = 40; // i32, display steps
export const RECORD_STATUS: i32 = 44; // u8 × 4: validity, cause, caution state, STATUS_… bits
export const RECORD_WORD: i32 = 48;
export const RECORD_DETAIL: i32 = 52; // i32, events: see EVENT_…
export const RECORD_SPEED_NOW: i32 = 56; // f32 rev/s, of the newest revolution
// f32: level records: distance of the integration from the true one
export const RECORD_VALUE: i32 = 60;

export const RECORD_LEVEL: i32 = 1;
export const RECORD_EVENT: i32 = 2;
export const RECORD_EXCEEDANCE: i32 = 3;

// exceedance: tick = end; revolution, speed at peak; level = peak level; shown = peak shown;
// age = steps above; detail = onset low, value word = onset high (u32)
export const EXCEEDANCE_ONSET_LOW: i32 = 52;
export const EXCEEDANCE_ONSET_HIGH: i32 = 60;
export const EXCEEDANCE_PEAK_STEP: i32 = 48; // display steps from onset to peak

export const STATUS_AT_LEVEL: i32 = 1; // the number stands at or above the level now
export const STATUS_CAUTION: i32 = 2; // the caution is on
export const STATUS_HELD: i32 = 4; // the number is an old one, held
export const STATUS_BLANK: i32 = 8; // no number
export const STATUS_SUBSTITUTE: i32 = 16; // a substitute serves
export const STATUS_ACKNOWLEDGED: i32 = 32; // this occurrence was acknowledged
export const STATUS_INHIBITED: i32 = 64; // the inhibit input stands

export const FLAG_BRIDGED: i32 = 1; // a missed edge was bridged within the filter's memory
export const FLAG_PHASE_RELATIVE: i32 = 2; // no index: phase is relative
export const FLAG_INTEGRATION: i32 = 4; // integration is over 0.05 % from the true one
export const FLAG_COMPUTED: i32 = 8; // level, re, im, speed stand for a computed revolution
export const FLAG_SETTLED: i32 = 16; // 6.64 τ have passed since acquisition

// --- counters: u32 each, in this order; shafts and channels side by side
export const COUNTERS_BYTES: i32 = 192;
export const COUNTER_BLOCKS: i32 = 0;
export const COUNTER_SAMPLES_LOW: i32 = 4;
export const COUNTER_SAMPLES_HIGH: i32 = 8;
export const COUNTER_REFUSED_BLOCKS: i32 = 12;
export const COUNTER_RECORDS_LOST: i32 = 16;
export const COUNTER_EDGES: i32 = 20; // × 2, accepted
export const COUNTER_EDGES_EARLY: i32 = 28; // × 2, dropped as glitches
export const COUNTER_EDGES_MISSED: i32 = 36; // × 2, bridged
// × 2, neither early nor near a whole number of pitches
export const COUNTER_EDGES_IRREGULAR: i32 = 44;
export const COUNTER_REFERENCE_LOST: i32 = 52; // × 2
export const COUNTER_INDEX_CONTRADICTIONS: i32 = 60; // × 2
export const COUNTER_SAMPLES_NOT_FINITE: i32 = 68; // × 4
export const COUNTER_SAMPLES_CLIPPED: i32 = 84; // × 4
export const COUNTER_HEALTH: i32 = 100; // × 7, display steps on which a check held, all channels
export const COUNTER_REVOLUTIONS: i32 = 128; // × 2, whole cycles closed
// × 2, knot intervals dropped because samples were gone
export const COUNTER_SAMPLES_LATE: i32 = 136;

// --- the answer to a refused configuration: rule (status), field offset, found, limit (both f32)
export const REFUSAL_BYTES: i32 = 16;
export const REFUSAL_RULE: i32 = 0;
export const REFUSAL_OFFSET: i32 = 4;
export const REFUSAL_FOUND: i32 = 8;
export const REFUSAL_LIMIT: i32 = 12;
