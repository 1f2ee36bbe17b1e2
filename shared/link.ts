// Read by both compilers: annotated constants only, no functions. See PROTOCOL.md.

/** Version of the frames on a serial link. Host and device must agree. */
export const PROTOCOL_VERSION: i32 = 1;

// Framing by RFC 1055: END stands at both ends of a packet.
export const SLIP_END: i32 = 0xc0;
export const SLIP_ESC: i32 = 0xdb;
export const SLIP_ESC_END: i32 = 0xdc;
export const SLIP_ESC_ESC: i32 = 0xdd;

// CRC-32/ISO-HDLC, least significant byte first at the end of a packet.
export const CRC_POLYNOMIAL_REFLECTED: u32 = 0xedb88320;
export const CRC_RESIDUE: u32 = 0x2144df1c; // over a packet and its own check value

// --- packet before framing: head, body, check
//
//  0      1    2          4        6              8 …          8 + length
// +------+----+----------+--------+--------------+------------+--------+
// | type | 0  | sequence | length | acknowledged | body       | CRC-32 |
// +------+----+----------+--------+--------------+------------+--------+
export const PACKET_HEAD_BYTES: i32 = 8;
export const PACKET_TYPE: i32 = 0; // u8
export const PACKET_SEQUENCE: i32 = 2; // u16: of the request, and of its answer
export const PACKET_LENGTH: i32 = 4; // u16: bytes of the body
// u16: in a request, one more than the sequence of the last record that the host holds; in an
// answer, the sequence of the request that the device expects next.
export const PACKET_ACKNOWLEDGED: i32 = 6;
export const PACKET_CHECK_BYTES: i32 = 4;
export const PACKET_BODY_MAX: i32 = 2624;

// Packet types; an answer is the request's number with the top bit set.
export const PACKET_HELLO: i32 = 1;
export const PACKET_CONFIGURE: i32 = 2;
export const PACKET_FEED: i32 = 3;
export const PACKET_RECORDS: i32 = 4;
export const PACKET_COUNTERS: i32 = 5;
export const PACKET_TEST: i32 = 6;
export const PACKET_RESET: i32 = 7;
export const PACKET_FAULT: i32 = 8; // from the device alone, unasked: its firmware has stopped
export const PACKET_ANSWER: i32 = 0x80;

// --- hello
export const HELLO_BYTES: i32 = 12;
export const HELLO_PROTOCOL: i32 = 0;
export const HELLO_LAYOUT: i32 = 4;
export const HELLO_SESSION: i32 = 8; // a number of the host's, another one for each session

export const HELLO_ANSWER_BYTES: i32 = 72;
export const HELLO_ANSWER_STATUS: i32 = 0;
export const HELLO_ANSWER_PROTOCOL: i32 = 4;
export const HELLO_ANSWER_LAYOUT: i32 = 8;
export const HELLO_ANSWER_NUMERICS: i32 = 12;
export const HELLO_ANSWER_SESSION: i32 = 16;
export const HELLO_ANSWER_CHANNELS: i32 = 20; // u8, and so the next three
export const HELLO_ANSWER_SHAFTS: i32 = 21;
export const HELLO_ANSWER_FILTERS: i32 = 22;
export const HELLO_ANSWER_FORMATS: i32 = 23; // bit n: sample format n
export const HELLO_ANSWER_SAMPLES: i32 = 24; // u16: samples a block
export const HELLO_ANSWER_EDGES: i32 = 26; // u16: edges a block and shaft
export const HELLO_ANSWER_BODY: i32 = 28; // u16: bytes of a body
export const HELLO_ANSWER_ZERO: i32 = 30; // u16
export const HELLO_ANSWER_PORT: i32 = 32; // what the port says of itself, PORT_…

// --- what a port says of itself before the first byte
export const PORT_BYTES: i32 = 40;
export const PORT_CREDIT: i32 = 0; // u32: framed bytes that may be on their way unanswered
export const PORT_CLOCK_HZ: i32 = 4; // u32: of LINK_COUNTER_TICKS, 0 where there is no clock
export const PORT_IDENTITY: i32 = 8; // ASCII, zeros after it
export const IDENTITY_BYTES: i32 = 32;

// --- configure: status, offset, found, limit as in a refusal; then the echo where it was taken
export const CONFIGURE_ANSWER_BYTES: i32 = 16;

// --- feed and records: then the records, oldest first
export const FEED_ANSWER_BYTES: i32 = 16;
export const FEED_ANSWER_STATUS: i32 = 0;
export const FEED_ANSWER_WAITING: i32 = 4; // u32: records that wait, with those of this answer
export const FEED_ANSWER_NEXT_LOW: i32 = 8; // the sample that the device expects next
export const FEED_ANSWER_NEXT_HIGH: i32 = 12;
/** Records in one answer. */
export const ANSWER_RECORDS_MAX: i32 = 40;

// --- counters: status, the link's own, then the signal path's
export const LINK_COUNTERS_BYTES: i32 = 32;
export const COUNTERS_ANSWER_BYTES: i32 = 36;
export const LINK_COUNTER_PACKETS: i32 = 0; // whole packets, repeated ones among them
export const LINK_COUNTER_BAD_FORM: i32 = 4; // a wrong escape, or an end too early
export const LINK_COUNTER_TOO_LONG: i32 = 8;
export const LINK_COUNTER_BAD_CHECK: i32 = 12;
export const LINK_COUNTER_REPEATED: i32 = 16; // asked again, answered again, not done again
export const LINK_COUNTER_AHEAD: i32 = 20; // one before it is missing
export const LINK_COUNTER_REFUSED: i32 = 24; // no session, unknown type, wrong length, records wait
export const LINK_COUNTER_TICKS: i32 = 28; // spent on packets, by the port's clock; the port adds

/** Bytes of the longest answer's part that is not sent from where it lies. */
export const ANSWER_HEAD_BYTES_MAX: i32 = 80;

// --- fault: why the firmware has stopped, u32, the whole body
export const FAULT_BODY_BYTES: i32 = 4;
export const FAULT_REASON_OTHER: i32 = 0;
export const FAULT_REASON_ASSERTION: i32 = 1; // a promise of the firmware's own was broken
export const FAULT_REASON_BOUNDS: i32 = 2; // an address outside its memory
export const FAULT_REASON_ARITHMETIC: i32 = 3; // a division by zero, a number out of range
export const FAULT_REASON_PROCESSOR: i32 = 4; // an exception of the processor
