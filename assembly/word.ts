// The output word: ARINC 429, binary number (BNR). Source of the layout: ARINC 429 part 1, read
// from public descriptions; check values D-20 to D-31 in tests/assembly/word.test.ts.
//
//   32 | 31 30 | 29   | 28 ........ 11 | 10 9 | 8 ...... 1
//   P  | SSM   | sign | data, MSB first | SDI | label, bits reversed     bit 1 = least significant
import {
  DISPLAY_STEP_INVERSE,
  DISPLAY_WORD_BITS,
  DISPLAY_WORD_INVERSE,
  DISPLAY_WORD_LABEL,
  DISPLAY_WORD_SDI,
} from "../shared/layout.ts";
import { FUNCTIONAL_TEST, NO_COMPUTED_DATA, VALID } from "../shared/units.ts";

const DATA_BITS_MAX: i32 = 18;
const DATA_SHIFT_SIGN: i32 = 28; // bit 29
const SSM_SHIFT: i32 = 29;

// Sign/status matrix of a BNR word; a discrete word's differs.
const SSM_FAILURE: u32 = 0;
const SSM_NO_COMPUTED_DATA: u32 = 1;
const SSM_FUNCTIONAL_TEST: u32 = 2;
const SSM_NORMAL: u32 = 3;

/** The label's eight bits in the order in which they stand in the word. */
export function labelReversed(label: u32): u32 {
  let bits = label & 0xff;
  bits = ((bits & 0x0f) << 4) | (bits >> 4);
  bits = ((bits & 0x33) << 2) | ((bits >> 2) & 0x33);
  return ((bits & 0x55) << 1) | ((bits >> 1) & 0x55);
}

/** Sign/status matrix of a validity; what is not known reads failure. */
export function signStatusMatrix(validity: i32): u32 {
  if (validity == VALID) return SSM_NORMAL;
  if (validity == NO_COMPUTED_DATA) return SSM_NO_COMPUTED_DATA;
  if (validity == FUNCTIONAL_TEST) return SSM_FUNCTIONAL_TEST;
  return SSM_FAILURE;
}

/** A whole number of words' steps, held inside what `bits` data bits and a sign can say. */
export function wordCountsLimited(counts: i32, bits: i32): i32 {
  const top: i32 = (1 << bits) - 1;
  if (counts > top) return top;
  if (counts < -top - 1) return -top - 1;
  return counts;
}

/**
 * Counts of the word for a shown number: nearest, halves upward.
 *
 * Range     shown 0 … countsMax; limited to 0 … 2^bits − 1
 */
export function wordCounts(shown: i32, stepInverse: f32, wordInverse: f32, bits: i32): i32 {
  const counts: f32 = Mathf.floor((<f32>shown / stepInverse) * wordInverse + <f32>0.5);
  const top: f32 = <f32>((1 << bits) - 1);
  if (!(counts > 0)) return 0;
  return <i32>min<f32>(counts, top);
}

/**
 * Composes the word; bit 32 makes the number of ones odd.
 *
 * Range     label 0 … 255; sdi 0 … 3; bits 1 … 18; counts is limited to what the bits can say
 */
export function wordCompose(label: u32, sdi: u32, bits: i32, counts: i32, validity: i32): u32 {
  assert(bits >= 1 && bits <= DATA_BITS_MAX);
  const field: u32 = <u32>wordCountsLimited(counts, bits) & ((<u32>2 << bits) - 1);
  let word: u32 = labelReversed(label) | ((sdi & 3) << 8);
  word |= field << (DATA_SHIFT_SIGN - bits);
  word |= signStatusMatrix(validity) << SSM_SHIFT;
  const isEven: u32 = (popcnt<u32>(word) & 1) ^ 1;
  return word | (isEven << 31);
}

/** The word of a display for its shown number; 0 where none is configured. */
export function wordProcess(display: usize, shown: i32, validity: i32): u32 {
  const bits: i32 = load<i32>(display, DISPLAY_WORD_BITS);
  if (bits == 0) return 0;
  const counts: i32 = wordCounts(
    shown,
    load<f32>(display, DISPLAY_STEP_INVERSE),
    load<f32>(display, DISPLAY_WORD_INVERSE),
    bits,
  );
  const label: u32 = load<u32>(display, DISPLAY_WORD_LABEL);
  return wordCompose(label, load<u32>(display, DISPLAY_WORD_SDI), bits, counts, validity);
}
