// Low-pass and tracking filter (F), windows and transforms (W), orders (O), tachometer (T).
import { DEFINITION, inPart, notYet, tested } from "./row.ts";
import type { Row } from "./row.ts";

const POLES = "3 and 4 equal poles: the tracking filter has 2, and 1 on the way to them";
const RECURSION =
  "no recursion by the bilinear transform in the product: its filter takes one vector a revolution";
const BUTTER = "SciPy, scipy.signal.butter";
const IN_TIME = "a Butterworth response stands in the product as a steady state only, not in time";

export const FILTER_ROWS: Row[] = [
  tested("F-01", "computed", "step of one pole", DEFINITION),
  inPart(POLES, "F-02", "computed", "-3 dB point of equal poles", DEFINITION),
  inPart(POLES, "F-03", "computed", "equal poles settle to 1 %", DEFINITION),
  inPart(POLES, "F-04", "computed", "equal poles settle to 10 % and 5 %", DEFINITION),
  inPart(POLES, "F-05", "computed", "noise bandwidth of equal poles", DEFINITION),
  inPart(POLES, "F-06", "computed", "noise bandwidth against -3 dB", DEFINITION),
  tested("F-07", "seen", "noise bandwidth of Butterworth filters", "Winder, Filter Design"),
  tested("F-08", "computed", "rise of one pole", DEFINITION),
  notYet(IN_TIME, "F-09", "computed", "Butterworth step overshoot", DEFINITION),
  notYet(IN_TIME, "F-10", "computed", "Butterworth step settling", "SciPy"),
  notYet(RECURSION, "F-11", "computed", "butter(1, 1 Hz)", BUTTER),
  notYet(RECURSION, "F-12", "computed", "butter(2, 1 Hz)", BUTTER),
  notYet(RECURSION, "F-13", "computed", "butter(2, 2 Hz)", BUTTER),
  notYet(RECURSION, "F-14", "computed", "butter(2, 5 Hz)", BUTTER),
  notYet(RECURSION, "F-15", "computed", "butter(4, 2 Hz)", BUTTER),
  notYet(RECURSION, "F-16", "computed", "closed form of order 2", DEFINITION),
  inPart(
    "the digital filters' delays: no such recursion in the product",
    "F-17",
    "computed",
    "group delay at 0 Hz",
    DEFINITION,
  ),
  tested("F-18", "computed", "exponential smoother", "Roberts 1959"),
  tested("F-19", "computed", "mean over whole revolutions", DEFINITION),
  tested("F-20", "computed", "rejection of a tone beside the order", DEFINITION),
  notYet(
    "no pole follows a product with the reference: the firmware integrates over whole " +
      "revolutions, and the Vold-Kalman filter's thinning is a windowed sinc",
    "F-21",
    "computed",
    "2f ripple of I/Q demodulation",
    DEFINITION,
  ),
  // One pole of 0.5 Hz is not in the product: two equal poles with its noise bandwidth are.
  tested("F-22", "computed", "noise through the filter", "Rice 1944-45"),
  tested("F-23", "computed", "lag on a ramp of amplitude", DEFINITION),
  tested("F-24", "computed", "bandwidth in proportion to speed", DEFINITION),
  tested("F-25", "computed", "fixed against proportional bandwidth", DEFINITION),
  // The value as collected, 2.289281465, is 5.0e-8 too high: (1 + x)·e^(−x) = 1/3 at 2.289281415.
  tested("F-26", "computed", "time to cross the caution level", DEFINITION),
];

const WINDOW =
  "the second opinions have rectangle, triangle, Hann, Blackman-Harris and one flat top";

export const WINDOW_ROWS: Row[] = [
  tested("W-01", "seen", "rectangle", "Harris 1978, Table I"),
  tested("W-02", "seen", "Hann", "Harris 1978, Table I"),
  notYet(`${WINDOW}; no Hamming`, "W-03", "seen", "Hamming", "Harris 1978"),
  tested("W-04", "computed", "Blackman-Harris", "Harris 1978"),
  tested("W-05", "computed", "flat top", "ISO 18431-2 (from memory)"),
  notYet(`${WINDOW}, that of ISO 18431-2 (W-05)`, "W-06", "computed", "flat top of SciPy", "SciPy"),
  notYet(
    `${WINDOW}, that of ISO 18431-2 (W-05)`,
    "W-07",
    "computed",
    "HFT70, HFT90D",
    "Heinzel, Ruediger, Schilling 2002, appendix C (from memory)",
  ),
  tested("W-08", "computed", "transform of 1 to 4", DEFINITION),
  tested("W-09", "computed", "transform of 0 to 7", DEFINITION),
  tested("W-10", "computed", "transform of a tone", DEFINITION),
  notYet(
    "no Goertzel recursion in the product: single lines come from the whole transform or a plain sum",
    "W-11",
    "computed",
    "Goertzel",
    "Goertzel 1958",
  ),
];

export const ORDER_ROWS: Row[] = [
  notYet(
    "resampling takes as many points as the samples ask for, a power of two: never 60 or 90 a turn",
    "O-01",
    "computed",
    "highest order of P samples",
    DEFINITION,
  ),
  tested("O-02", "computed", "order resolution", DEFINITION),
  notYet(
    "values between samples are made of 32 samples by a windowed sinc, none by a straight line",
    "O-03",
    "computed",
    "error of linear resampling",
    "Fyfe and Munck, MSSP 11(2), 1997",
  ),
  tested("O-04", "computed", "angle between pulses on a ramp", DEFINITION),
  notYet(
    "the angle between edges averages their jitter: less is lost than by the row; needs a row of its own",
    "O-05",
    "computed",
    "loss by jitter of the reference",
    DEFINITION,
  ),
  tested("O-06", "computed", "sinusoidal error of the reference", "AMS55 Bessel functions"),
  tested("O-07", "computed", "detuning", DEFINITION),
  tested(
    "O-08",
    "computed",
    "Vold-Kalman weighting",
    "Tuma 2005, ICSV (from memory); Feldbauer and Hoeldrich, DAFx-2000",
  ),
  tested("O-09", "computed", "Vold-Kalman asymptotes", "Tuma 2005, ICSV (from memory)"),
  tested("O-10", "computed", "cancellation in cosine sums", DEFINITION),
  notYet(
    "a paper trail: no figure to run",
    "O-11",
    "seen",
    "computed order tracking",
    "Potter and Gribler, SAE 891131",
  ),
];

export const TACHOMETER_ROWS: Row[] = [
  tested("T-01", "computed", "resolution of the period method", DEFINITION),
  tested("T-02", "computed", "resolution on wheels and clocks", DEFINITION),
  tested(
    "T-03",
    "seen",
    "input capture, 100 pulses a revolution",
    "Embedded.com, timer-based measurement, 2003",
  ),
  notYet(
    "captures have 32 bits; needs a device whose timer has 16",
    "T-04",
    "computed",
    "16-bit rollover",
    DEFINITION,
  ),
  inPart(
    "the millisecond counter: the product has none",
    "T-05",
    "computed",
    "32-bit rollover",
    DEFINITION,
  ),
  inPart("16 bits: captures have 32", "T-06", "computed", "difference over a wrap", DEFINITION),
  tested("T-07", "computed", "time of an edge as phase", DEFINITION),
  notYet("speed is by periods, not by gates", "T-08", "computed", "gate count", DEFINITION),
  notYet(
    "the converter's own clock has no jitter in the product",
    "T-09",
    "computed",
    "jitter of the sample clock",
    DEFINITION,
  ),
  tested("T-10", "computed", "missing tooth", DEFINITION),
  tested("T-11", "computed", "speed and once per revolution", DEFINITION),
];
