// Where figures in print disagree, or lead astray: one negative test each, which fails where the
// product falls in.

export interface Trap {
  /** The row beside which it lies. */
  row: string;
  what: string;
  /** Why the product has nothing that could fall in, and what would bring it. */
  noCode?: string;
}

const TREND = "no trend over flights in the product; needs the trend record";

export const TRAPS: readonly Trap[] = [
  { row: "U-04", what: "hand-outs print 61.4, 61.44, 61.45 and 61.48 for 61.447906" },
  { row: "U-09", what: "g rms in and in/s pk out: √2 is lost between detectors" },
  { row: "U-19", what: "tables differ in the sign of the phase of an integration" },
  { row: "S-04", what: "at the sweep limit the peak is 5.5 % low and late" },
  { row: "S-08", what: "the rule 3.67·√q is an asymptote, 2.1 % high from rest at q = 160" },
  { row: "F-02", what: "the −3 dB point of equal poles is not a pole's own frequency" },
  { row: "O-10", what: "cancellation in differences of near equal terms" },
  { row: "T-01", what: "a percent column that is ten times too high" },
  { row: "I-04", what: "Butterworth corners at the ends of the band break the limits there" },
  {
    row: "Q-01",
    what: "the handbook's limits are made with a factor cut to 0.4201",
    noCode: TREND,
  },
  { row: "Q-05", what: "some slides signal at sample 28 in place of 29", noCode: TREND },
  { row: "A-21", what: "the book's row of 1.4 σ prints 0.8586 for 0.8385" },
  { row: "D-01", what: "CRC-16/CCITT names at least five codes" },
  { row: "D-20", what: "00 is failure in a number's matrix and normal in a discrete's" },
  { row: "D-23", what: "label 012 is one of decimal words; its word tests the layout alone" },
  { row: "P-03", what: "the value, or the number as shown, may be what is compared" },
  {
    row: "E-04",
    what: "a table printed for geometric height, read as geopotential",
    noCode: "no atmosphere in the product; needs flight scenes with altitude",
  },
];
