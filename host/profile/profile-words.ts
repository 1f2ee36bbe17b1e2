// What each field of a profile is, as an editor shows it. Unit, range and default follow by
// themselves, from the field.

export const FILTER_SIDE_WORDS = {
  order: "Order of a Butterworth filter.",
  corner: "Frequency at which it passes 3 dB less.",
};

export const RESPONSE_ROW_WORDS = {
  frequency: "Frequency of this row; each above the row before.",
  gain: "What passes at it, over what comes in.",
  "phase lag": "How far the output comes late at it. Left out: 0.",
};

export const RESPONSE_WORDS = {
  "high pass": "What takes away slow signals.",
  "low pass": "What takes away fast signals.",
  table:
    "Rows of frequency, gain and phase lag in place of filters; straight between rows, held at " +
    "the ends.",
  delay: "How much later everything comes, whatever its frequency. Left out: 0.",
};

export const BIAS_WORDS = {
  low: "Least mean of a healthy transducer.",
  high: "Greatest mean of a healthy transducer.",
};

export const HEALTH_WORDS = {
  persistence:
    "How long a check must hold before the transducer counts as failed, and must not before it " +
    "counts as healthy; whole display periods. Left out: one.",
  bias: "Where the mean of a powered transducer may lie.",
  "clipped samples":
    "So many samples at the range, within a display period, are a fault. Left out: 4.",
  "flat below": "A signal that moves less within a display period is a fault.",
  "noise floor": "A charge transducer whose signal is less has an open lead.",
  "bursts above":
    "Slow bursts above it are a loose connector; of charge and powered transducers only.",
  "physical limit": "No real vibration is above it.",
  "tracked to broadband": "A tracked level over so many times the broadband one is a fault.",
};

export const TEST_WORDS = {
  amplitude: "Amplitude of the tone.",
  shaft: "Name of the shaft whose speed the tone follows; the first where left out.",
  order: "Multiple of the speed at which the tone stands.",
};

export const CHANNEL_WORDS = {
  transducer:
    "Kind of transducer: its health is judged by it. Left out: charge for acceleration, coil for " +
    "velocity, else powered.",
  measures: "What a sample is.",
  range:
    "At or above it a sample counts as clipped. Left out: 100 g, 100 in/s, 100 mil or 10 units.",
  "count step": "What one count of a 16-bit converter is. Left out: the range over 32768.",
  response: "The known response of transducer and conditioning; it is divided out.",
  health: "What shows that the transducer has failed.",
  "functional test": "The tone that stands in place of the signal during a functional test.",
};

export const SHAFT_WORDS = {
  positions:
    "Edges of the tachometer in one revolution, in one cycle where geared; a missing tooth " +
    "counts.",
  "per revolutions":
    "Revolutions of the shaft for so many positions; above 1 for a tachometer on a gear.",
  index: "What marks one place of the revolution: phase refers to it.",
  "wheel error":
    "Greatest error of a position, peak; it enters the tolerance alone. Left out: none.",
  "lowest speed": "Below it there is no reference, and no number. Left out: 600 r/min.",
  "highest speed":
    "Above it there is no reference, and no number. Left out: 24000 r/min, or what the sample " +
    "rate carries.",
  "greatest acceleration": "A faster change of speed loses the reference. Left out: 30 rev/s².",
  "time-out":
    "Without an edge for so long the reference is lost. Left out: the least that serves the " +
    "lowest speed.",
  "lock revolutions": "Revolutions that must agree before the reference is found.",
  "edge tolerance":
    "How far from its place an edge may stand, as a share of a position. Left out: 20 %.",
  "valid from": "Below this speed the number is no computed data. Left out: the lowest speed.",
  "valid hysteresis": "So much above it the number counts again. Left out: nothing.",
  "invalid after":
    "How long the speed must stay below before the number goes; whole display periods. Left " +
    "out: at once.",
  "evidence of turning":
    "What tells a failed tachometer from a shaft at rest: running input, other shaft. Left out: " +
    "none.",
};

export const SCALE_ROW_WORDS = {
  speed: "Speed of this row; each above the row before.",
  factor: "Display units for each unit of the level, at that speed.",
};

export const WORD_WORDS = {
  label: "Label of the word: three octal digits in quotes.",
  sdi: "Source/destination bits.",
  bits: "Bits of the number.",
  resolution: "What the last bit is, in display units.",
};

export const DISPLAY_WORDS = {
  scale:
    "Display units for each unit of the level: one number, or rows of speed and factor, straight " +
    "between them. Left out: 1.",
  smoothing: "Time constant of the number. Left out: none.",
  step: "The shown number is a whole count of this, in display units.",
  top: "Greatest number that is shown, in display units.",
  hold:
    "How long a number that is no longer valid stays before it blanks; whole display periods. " +
    "Left out: not at all.",
  "greatest of": "Names of the filters of which the display shows the greatest.",
  substitute: "Name of the filter that is shown while this one is not valid.",
  word: "The output word that carries the number; for bench work.",
};

export const CAUTION_WORDS = {
  level: "On at or above it, in display units; a whole count of the display step.",
  hysteresis: "Off below the level minus this, in display units; a whole count of the step.",
  "on-delay": "How long the number must stay at the level; whole display periods. Left out: 0.",
  "off-delay": "How long it must stay below; whole display periods. Left out: 0.",
  "delay under inhibit":
    "Whether the on-delay starts anew when an inhibit ends, or runs under the inhibit.",
  "when invalid": "Whether a caution ends with the valid number, or is held.",
  "procedure wait":
    "The wait that your procedure allows; `check` warns where the caution clears later.",
};

export const FILTER_WORDS = {
  channel: "Name of the channel that it tracks; may be left out where there is one.",
  shaft: "Name of the shaft that it follows; may be left out where there is one.",
  order: "Multiple of the speed that it tracks.",
  bandwidth:
    "Full width between the -3 dB points, fixed or as a share of the speed. Left out: 1 Hz.",
  level: "Left out: g pk, in/s pk, mil pk-pk or units pk, as the channel measures.",
  display: "How the level becomes a number.",
  caution: "When the number turns amber; without it never.",
};

export const CLOCK_WORDS = { "ticks per sample": "Ticks of the edge clock in a sample." };

export const PROFILE_WORDS = {
  monitor: "Name of the indication, up to 80 characters.",
  note: "Anything worth saying, up to 4000 characters.",
  time: "Samples where the sample rate is not known: times then count samples.",
  "sample rate": "Samples a second of every channel. Left out: 12.8 kHz.",
  "edge clock":
    "Clock by which the edges are timed; a whole multiple of the sample rate. Left out: the " +
    "multiple nearest to 80 MHz.",
  "display period": "One number and one decision of each caution; whole samples. Left out: 250 ms.",
  channels: "Transducers by name.",
  shafts: "Shafts with a tachometer, by name.",
  filters: "What is tracked and shown, by name.",
};
