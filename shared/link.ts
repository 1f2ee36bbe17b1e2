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

/** Bytes of a packet before framing: type, sequence, length; then the body; then the check. */
export const PACKET_HEADER_BYTES: i32 = 8;
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
export const PACKET_ANSWER: i32 = 0x80;
