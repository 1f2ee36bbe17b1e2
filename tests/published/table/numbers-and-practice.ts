// Check codes, frames, words, converters, floats (D); instruments (I); atmosphere (E); practice (P).
import { DEFINITION, inPart, notYet, PRACTICE, tested } from "./row.ts";
import type { Row } from "./row.ts";

const OTHER_CODE = "the product has one check code, D-08, which refuses this one's value";

const crc = (name: string): string => `CRC-${name}, registered name and check value`;

const CODE_ROWS: Row[] = [
  notYet(OTHER_CODE, "D-01", "seen", "CRC-16/IBM-3740", crc("16/IBM-3740")),
  notYet(OTHER_CODE, "D-02", "seen", "CRC-16/XMODEM", crc("16/XMODEM")),
  notYet(OTHER_CODE, "D-03", "seen", "CRC-16/KERMIT", crc("16/KERMIT")),
  notYet(OTHER_CODE, "D-04", "seen", "CRC-16/IBM-SDLC", crc("16/IBM-SDLC")),
  notYet(OTHER_CODE, "D-05", "seen", "CRC-16/MODBUS", crc("16/MODBUS")),
  notYet(OTHER_CODE, "D-06", "computed", "CRC-16/ARC", `${crc("16/ARC")} (from memory)`),
  notYet(
    OTHER_CODE,
    "D-07",
    "computed",
    "four more of 16 bits",
    `${crc("16/GENIBUS")} (from memory)`,
  ),
  tested("D-08", "computed", "CRC-32/ISO-HDLC", `${crc("32/ISO-HDLC")}; RFC 1952 section 8`),
  notYet(OTHER_CODE, "D-09", "seen", "CRC-32/ISCSI", crc("32/ISCSI")),
  notYet(
    OTHER_CODE,
    "D-10",
    "computed",
    "two more of 32 bits",
    `${crc("32/MPEG-2")} (from memory)`,
  ),
  notYet(OTHER_CODE, "D-11", "seen", "16 bits, 8005, not reflected", crc("16/8005 init FFFF")),
];

const FRAME_ROWS: Row[] = [
  tested("D-12", "seen", "constants of the frame", "RFC 1055"),
  tested("D-13", "seen", "leading END, empty packets", "RFC 1055"),
  tested("D-14", "seen", "encodes END and ESC", "RFC 1055"),
  tested("D-15", "seen", "joins in mid-stream", "RFC 1055"),
  tested("D-16", "seen", "encodes a leading END", "RFC 1055"),
  tested("D-17", "computed", "encodes nothing, and lone second bytes", "RFC 1055"),
  tested("D-18", "computed", "packet with its check code", "RFC 1055"),
  tested("D-19", "computed", "longest frame", "RFC 1055"),
];

const BNR = "ARINC 429, binary words";
const MEMORY = "ARINC 429, binary words (from memory)";

const WORD_ROWS: Row[] = [
  tested("D-20", "seen", "sign/status matrix of a number", BNR),
  notYet(
    "the product sends no discrete word",
    "D-21",
    "seen",
    "sign/status matrix of a discrete",
    "ARINC 429, discrete words",
  ),
  notYet(
    "the product sends no decimal word",
    "D-22",
    "seen",
    "sign/status matrix of decimal digits",
    "ARINC 429, decimal words",
  ),
  tested("D-23", "seen", "layout of a word", BNR),
  tested("D-24", "seen", "reversal of a label", BNR),
  tested("D-25", "seen", "odd parity", BNR),
  tested("D-26", "computed", "range 8, 10 bits", MEMORY),
  tested("D-27", "computed", "the same under another matrix", MEMORY),
  tested("D-28", "computed", "range 10.24, 10 bits", MEMORY),
  tested("D-29", "computed", "range 131072, 17 bits", MEMORY),
  tested("D-30", "seen", "angle in two's complement", BNR),
  tested("D-31", "seen", "limits of a binary word", BNR),
  inPart(
    "a profile may name any label: those of the profiles that ship are held",
    "D-32",
    "seen",
    "groups of labels",
    "ARINC 429, label groups",
  ),
];

const FLOAT_ROWS: Row[] = [
  inPart("24 bits: the converter has 16", "D-33", "computed", "noise of N bits", DEFINITION),
  tested("D-34", "computed", "step and noise of 12 bits at 3.3 V", DEFINITION),
  tested("D-35", "computed", "noise against full scale", DEFINITION),
  tested("D-36", "seen", "binary32, special values", "IEEE 754"),
  tested("D-37", "computed", "binary32, common values", "IEEE 754"),
  inPart(
    "the last 29 bits: f64 stands in recordings alone, whose samples become f32",
    "D-38",
    "computed",
    "binary64, common values",
    "IEEE 754",
  ),
  tested("D-39", "computed", "comparisons with NaN", "IEEE 754"),
];

export const DIGITAL_ROWS: Row[] = [...CODE_ROWS, ...FRAME_ROWS, ...WORD_ROWS, ...FLOAT_ROWS];

const ZONES = "no severity zones in the product: they are no limits for an aircraft engine";

export const INSTRUMENT_ROWS: Row[] = [
  tested("I-01", "seen", "limits of relative sensitivity", "ISO 2954:1975"),
  notYet(
    "the product measures orders, not broadband severity",
    "I-02",
    "seen",
    "rms velocity, 10 Hz to 1000 Hz",
    "ISO 2954:2012",
  ),
  tested("I-03", "computed", "corners that keep the limits", "ISO 2954:1975"),
  tested("I-04", "computed", "corners at 10 Hz and 1000 Hz", DEFINITION),
  notYet(ZONES, "I-05", "computed", "preferred severity values", DEFINITION),
  notYet(ZONES, "I-06", "computed", "the same in in/s pk", DEFINITION),
  notYet(ZONES, "I-07", "seen", "zone edges", "ISO 2372; VDI 2056"),
  notYet(ZONES, "I-08", "computed", "zones of 3.2 mm/s rms", "ISO 2372; VDI 2056"),
  notYet(ZONES, "I-09", "seen", "scope in speed", "ISO 2372"),
];

const AIR = "no atmosphere in the product; needs flight scenes with altitude";

export const ATMOSPHERE_ROWS: Row[] = [
  notYet(AIR, "E-01", "seen", "sea level", "ISO 2533"),
  notYet(AIR, "E-02", "computed", "25 000 ft", "ISO 2533"),
  notYet(AIR, "E-03", "computed", "27 000 ft", "ISO 2533"),
  notYet(AIR, "E-04", "computed", "30 000 ft", "ISO 2533"),
  notYet(AIR, "E-05", "computed", "35 000 ft", "ISO 2533"),
  notYet(AIR, "E-06", "computed", "tropopause", "ISO 2533"),
];

const CLEARS = "no odds of clearing in the product; needs the caution study";

export const PRACTICE_ROWS: Row[] = [
  tested("P-01", "practice", "ten million revolutions in about 28 h", PRACTICE),
  tested("P-02", "practice", "ten million revolutions at other speeds", PRACTICE),
  tested("P-03", "practice", "one step under the level, and at it", PRACTICE),
  tested("P-04", "practice", "the word never rounds up to the level", PRACTICE),
  tested("P-05", "practice", "revolutions in the wait of 10 s", PRACTICE),
  tested("P-06", "practice", "the filter settles within the wait", PRACTICE),
  notYet(CLEARS, "P-07", "practice", "a cycle clears it half the time", PRACTICE),
  notYet(CLEARS, "P-08", "practice", "trials that show a half", PRACTICE),
  notYet(AIR, "P-09", "practice", "coming down lowers the level", PRACTICE),
  inPart(
    "22 blades at random: one unbalance vector a rotor; needs a set of blades",
    "P-10",
    "practice",
    "2 mm of rocking of a blade",
    PRACTICE,
  ),
];
