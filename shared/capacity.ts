// Read by both compilers: annotated constants only, no functions. See PROTOCOL.md.
// Every loop of the firmware is bounded by one of these.

/** Transducer channels that one device carries. */
export const CHANNELS_MAX: i32 = 4;
/** Shafts, each with its own tachometer input. */
export const SHAFTS_MAX: i32 = 2;
/** Tracking filters; each has a display and a caution of the same index. */
export const FILTERS_MAX: i32 = 8;

/** Samples per channel in one block. */
export const BLOCK_SAMPLES_MAX: i32 = 128;
/** Edges per shaft in one block. */
export const BLOCK_EDGES_MAX: i32 = 64;
/** Knots of the angle model that may wait for their samples, per shaft. */
export const KNOTS_MAX: i32 = 64;
/** Knots a revolution below which every edge is a knot. */
export const KNOTS_PER_REVOLUTION_MIN: i32 = 12;
/** Samples that are rotated with one linear phase. */
export const SEGMENT_SAMPLES_MAX: i32 = 64;
/** Lanes of the summation order: part of the numerics, not a tuning knob. */
export const LANES: i32 = 8;

/** Samples, over all configured channels, that may wait for the knot that closes them. */
export const POOL_SAMPLES: i32 = 5120;
/** Samples that the pool keeps free beyond the time-out: one block and the ends' four. */
export const POOL_MARGIN_SAMPLES: i32 = 132;

/** Positions of a tachometer wheel, a missing tooth counted. */
export const POSITIONS_MAX: i32 = 255;
/** Shaft revolutions in one cycle of a geared tachometer. */
export const GEAR_REVOLUTIONS_MAX: i32 = 32;
/** Highest order tracked. */
export const ORDER_MAX: i32 = 64;
/** Whole pitches that one bridged interval may span. */
export const BRIDGE_POSITIONS_MAX: i32 = 8;
/** Rows of a channel's table of gain and phase. */
export const RESPONSE_POINTS_MAX: i32 = 8;
/** Rows of a display's table of scale over speed. */
export const SCALE_POINTS_MAX: i32 = 4;
/** Poles of a channel's high-pass or low-pass response. */
export const RESPONSE_ORDER_MAX: i32 = 4;

/** Records that wait to be read. */
export const RECORDS_MAX: i32 = 64;
/** Display steps in one block, so that records and events fit their ring. */
export const BLOCK_STEPS_MAX: i32 = 4;

/** The end of static data, in every build; the C build allocates exactly this. */
export const DATA_BYTES_MAX: i32 = 40960;
