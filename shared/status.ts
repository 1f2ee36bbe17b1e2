// Read by both compilers: annotated constants only, no functions. See PROTOCOL.md.
// A number is never reused.

export const OK: i32 = 0;

// --- a configuration is refused (the rule is the status; offset, found and limit stand beside it)
export const ERR_CONFIG_MAGIC: i32 = -1;
export const ERR_CONFIG_LAYOUT: i32 = -2;
export const ERR_CONFIG_LENGTH: i32 = -3;
export const ERR_CONFIG_CHECK: i32 = -4;
export const ERR_CONFIG_CLOCK: i32 = -5;
export const ERR_CONFIG_COUNT: i32 = -6;
export const ERR_CONFIG_KIND: i32 = -7;
export const ERR_CONFIG_RANGE: i32 = -8;
export const ERR_CONFIG_NOT_FINITE: i32 = -9;
export const ERR_CONFIG_REFERENCE: i32 = -10;
export const ERR_CONFIG_POOL: i32 = -11;
export const ERR_CONFIG_TIMEOUT: i32 = -12;
export const ERR_CONFIG_INDEX: i32 = -13;
export const ERR_CONFIG_NYQUIST: i32 = -14;
export const ERR_CONFIG_TABLE: i32 = -15;
export const ERR_CONFIG_HYSTERESIS: i32 = -16;

// --- a block is refused, whole: nothing of it was used
export const ERR_NOT_CONFIGURED: i32 = -32;
export const ERR_BLOCK_LAYOUT: i32 = -33;
export const ERR_BLOCK_FORMAT: i32 = -34;
export const ERR_BLOCK_SAMPLES: i32 = -35;
export const ERR_BLOCK_EDGES: i32 = -36;
export const ERR_BLOCK_GAP: i32 = -37;
export const ERR_EDGE_ORDER: i32 = -38;
export const ERR_EDGE_OUTSIDE: i32 = -39;
export const ERR_BLOCK_STEPS: i32 = -40;
export const ERR_STREAM_KIND: i32 = -41;

// --- a packet is refused by the link, whole: it changed nothing
export const ERR_LINK_VERSION: i32 = -64;
export const ERR_LINK_SESSION: i32 = -65;
export const ERR_LINK_AHEAD: i32 = -66;
export const ERR_LINK_TYPE: i32 = -67;
export const ERR_LINK_LENGTH: i32 = -68;
export const ERR_LINK_RECORDS: i32 = -69;
