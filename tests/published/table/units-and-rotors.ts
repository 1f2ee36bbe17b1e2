// Units and conversions (U), unbalance (B), rotating-unbalance response (R), passage (S).
import { DEFINITION, inPart, notYet, tested } from "./row.ts";
import type { Row } from "./row.ts";

const NASA = "NASA GSFC FEMCI note on double amplitude, 2002";

export const UNIT_ROWS: Row[] = [
  tested("U-01", "seen", "standard gravity", "CGPM 1901; ISO 80000-3; AMS55 Table 2.4"),
  tested("U-02", "seen", "standard gravity in inches", "ASA terms 2.55"),
  tested("U-03", "seen", "inch and mil", "AMS55 Table 2.5"),
  tested("U-04", "computed", "g pk to in/s pk", DEFINITION),
  tested("U-05", "seen", "in pk-pk to g pk", NASA),
  tested("U-06", "computed", "g pk to in pk-pk", DEFINITION),
  tested("U-07", "computed", "g pk to in pk", DEFINITION),
  tested("U-08", "computed", "in/s pk to g pk", DEFINITION),
  tested("U-09", "computed", "g rms to in/s pk", DEFINITION),
  tested("U-10", "computed", "g rms to mils pk-pk", DEFINITION),
  tested("U-11", "computed", "in/s pk to mils pk-pk", DEFINITION),
  tested("U-12", "computed", "whole chain at 80 Hz", DEFINITION),
  tested("U-13", "computed", "whole chain at 60 Hz", DEFINITION),
  tested("U-14", "computed", "chain in reverse at 4800 r/min", DEFINITION),
  tested("U-15", "computed", "mm/s rms to in/s pk", DEFINITION),
  tested("U-16", "computed", "where 1 g pk is 1 in/s pk", DEFINITION),
  tested("U-17", "computed", "calibrator at 1000 rad/s", "ISO 16063-44 (from memory)"),
  tested("U-18", "computed", "detectors of a sine", DEFINITION),
  tested("U-19", "computed", "phase of an integration", DEFINITION),
  tested("U-20", "seen", "m pk-pk to m/s² pk", NASA),
  tested("U-21", "computed", "levels in dB", "ISO 1683 (from memory)"),
];

const GRADE = "no balance quality grade in the product; needs the balancing of a rotor";
const TRIM = "no influence coefficient in the product; needs trim balance";

export const BALANCE_ROWS: Row[] = [
  notYet(GRADE, "B-01", "computed", "grade G 6.3 as specific unbalance", "ISO 21940-11"),
  notYet(GRADE, "B-02", "computed", "grade G 2.5 as specific unbalance", "ISO 21940-11"),
  notYet(GRADE, "B-03", "computed", "grade G 16 as specific unbalance", "ISO 21940-11"),
  notYet(GRADE, "B-04", "seen", "permissible unbalance of 2 kg at G 6.3", "ISO 1940-1"),
  notYet(GRADE, "B-05", "computed", "permissible unbalance of a fan's mass", "ISO 21940-11"),
  notYet(GRADE, "B-06", "seen", "series of grades", "ISO 1940-1, Table 1"),
  tested("B-07", "computed", "force of 10 g at 100 mm, 3000 r/min", DEFINITION),
  tested("B-08", "computed", "force of 10 g at 100 mm, 6000 r/min", DEFINITION),
  // The value as collected has 252.66187267288756, 2.0e-11 too high: one digit misprinted.
  tested("B-09", "computed", "force of 1000 g mm, 4800 r/min", DEFINITION),
  tested("B-10", "computed", "force of 1 oz in, in pounds", DEFINITION),
  tested("B-11", "computed", "1 oz in as g mm", "AMS55 Table 2.5, ounce"),
  tested("B-12", "computed", "sum of vectors", DEFINITION),
  notYet(TRIM, "B-13", "computed", "single-plane correction, 7 mils", DEFINITION),
  notYet(
    TRIM,
    "B-14",
    "computed",
    "single-plane correction, 4 mils",
    "Rao, Mechanical Vibrations, balancing (from memory)",
  ),
  notYet(TRIM, "B-15", "computed", "single-plane correction, 0.2 mm", DEFINITION),
  notYet(
    "one unbalance vector a rotor; needs a set of blades",
    "B-16",
    "computed",
    "random set of blades",
    "Rayleigh 1880, random walk",
  ),
];

const THOMSON = "Thomson, Theory of Vibration with Applications, eqs (3.2-4), (3.2-5)";
const HALF_POWER = "Thomson, Theory of Vibration with Applications, eqs (3.10-1) to (3.10-4)";

export const RESPONSE_ROWS: Row[] = [
  tested(
    "R-01",
    "seen",
    "damping from two amplitudes",
    "Thomson, Theory of Vibration with Applications, Example 3.2-1",
  ),
  tested("R-02", "computed", "response and lag, damping ratio 0.02", THOMSON),
  tested("R-03", "computed", "response and lag, damping ratio 0.05", THOMSON),
  tested("R-04", "computed", "response and lag, damping ratio 0.1", THOMSON),
  tested("R-05", "computed", "response and lag, damping ratio 0.2", THOMSON),
  tested("R-06", "computed", "place and height of the peak", THOMSON),
  tested("R-07", "computed", "half-power points of displacement", HALF_POWER),
  tested("R-08", "computed", "quality factor from the half-power width", HALF_POWER),
  tested("R-09", "computed", "half-power points of velocity", DEFINITION),
  tested("R-10", "computed", "whirl of a rotor of 60 kg", DEFINITION),
  inPart(
    "the fit that finds the resonance from the set: the product fits none",
    "R-11",
    "computed",
    "data set of a resonance",
    THOMSON,
  ),
  tested(
    "R-12",
    "computed",
    "rules of phase",
    "Thomson, Theory of Vibration with Applications, Fig 3.2-2",
  ),
  tested("R-13", "computed", "logarithmic decrement", DEFINITION),
];

const RULE = "no limit of the sweep rate in the product; needs `check` to rate a ramp";
const LIMIT = "ISO 7626-2, sweep clause (from memory); Ewins, Modal Testing (from memory)";

export const PASSAGE_ROWS: Row[] = [
  notYet(RULE, "S-01", "computed", "linear sweep limit", LIMIT),
  notYet(RULE, "S-02", "computed", "logarithmic sweep limit", LIMIT),
  notYet(RULE, "S-03", "computed", "the two limits against each other", DEFINITION),
  tested("S-04", "computed", "peak at the linear sweep limit", DEFINITION),
  tested(
    "S-05",
    "computed",
    "peak and its lag against sweep rate",
    "Reed and Kabe, Mathematica Journal 2019; Hok 1948",
  ),
  tested("S-06", "computed", "undamped passage, height", "Lewis 1932 (from memory)"),
  tested("S-07", "computed", "undamped passage, place", "Lewis 1932 (from memory)"),
  tested("S-08", "computed", "whole equation, undamped, constant force", DEFINITION),
  tested("S-09", "computed", "whole equation, damped, constant force", DEFINITION),
  // The first figure, 20.2795, is suspected to be 8e-4 low (why: beside the rows of the kit). It is
  // held within 1e-3, the others within 5e-4.
  tested("S-10", "computed", "whole equation, unbalance", DEFINITION),
  tested("S-11", "computed", "run-up late, coast-down early", "Baker 1939"),
];
