// What each field of a scenario is, as an editor shows it. Unit, range and default follow by
// themselves, from the field.

const FROM = "When it begins. Left out: the start.";
const UNTIL = "When it ends. Left out: the end of the scenario.";
const SPAN = { from: FROM, until: UNTIL };
const FILTER = "Name of the filter; may be left out where there is one.";
const SHAFT = "Name of the shaft; may be left out where there is one.";
const LAG = "How far the peak comes after the index. Left out: 0.";

export const START_WORDS = { start: "Speed at the start." };
export const HOLD_WORDS = { hold: "For how long the speed stays as it is." };
export const OVER_WORDS = { to: "Speed at the end of the ramp.", over: "How long the ramp takes." };
export const RATE_WORDS = { to: OVER_WORDS.to, rate: "How fast the speed changes in the ramp." };
export const AT_WORDS = {
  at: "Time of this row; 0 s in the first. Between rows the speed runs straight.",
  speed: "Speed at that time.",
};

export const ROW_WORDS = {
  at: "Time of this row; 0 s in the first.",
  amplitude: "Amplitude from then on (steps), or at that time (lines).",
  "phase lag": LAG,
};

export const ORDER_WORDS = {
  order: "Multiple of the shaft's speed; 1 is once per revolution.",
  shaft: SHAFT,
  amplitude: "Amplitude throughout; with power of speed and at speed: at that speed.",
  "phase lag": LAG,
  "power of speed":
    "How the amplitude grows with speed: 1 with it, 2 with its square as from an unbalance. " +
    "Needs at speed.",
  "at speed": "Speed at which the amplitude is as stated. Needs power of speed.",
  steps: "Amplitude and phase lag that step at times, in place of one amplitude.",
  lines: "Amplitude and phase lag that run straight from row to row, in place of one amplitude.",
};

export const TONE_WORDS = {
  tone: "Frequency that does not follow a shaft: a hum, another machine.",
  amplitude: "Amplitude of the tone.",
  "phase lag": "How far the tone's peak comes after the start. Left out: 0.",
};

export const NOISE_WORDS = { noise: "White noise, in the channel's own quantity." };

export const UNBALANCE_WORDS = {
  amount: "Unbalance: mass times distance from the axis.",
  angle: "Angle by which it lags the index. Left out: 0.",
};
export const UNBALANCE_ROW_WORDS = {
  at: "Time from which it is so; 0 s in the first row.",
  ...UNBALANCE_WORDS,
};

export const ROTOR_WORDS = {
  shaft: SHAFT,
  "modal mass": "Mass of the mode.",
  "natural frequency": "Natural frequency of the mode; this or critical speed.",
  "critical speed": "Speed at which the mode resonates; this or natural frequency.",
  "damping ratio": "Share of the critical damping.",
  unbalance: "One unbalance, or rows of it that step at times.",
};
export const ROTOR_COMPONENT_WORDS = { rotor: "A rotor on one mode, driven by its unbalance." };

export const CLIP_WORDS = {
  fault: "The signal is cut off at a level:",
  level: "Level, in the channel's own quantity.",
  ...SPAN,
};
export const FLAT_WORDS = {
  fault: "The signal stands still:",
  value: "Where it stands, in the channel's own quantity. Left out: 0.",
  ...SPAN,
};
export const BIAS_FAULT_WORDS = {
  fault: "The mean moves:",
  value: "By how much, in the channel's own quantity.",
  ...SPAN,
};
export const OPEN_LEAD_WORDS = {
  fault: "Signal and noise fade:",
  share: "What is left of them. Left out: nothing.",
  ...SPAN,
};
export const LOOSE_WORDS = {
  fault: "Random slow bursts, each a half-sine that decays:",
  bursts: "Peak of a burst.",
  "per second": "Bursts a second, on average.",
  length: "Length of a burst. Left out: 200 ms.",
  ...SPAN,
};
export const GAIN_WORDS = {
  fault: "The sensitivity is off:",
  factor: "What the signal is multiplied by.",
  ...SPAN,
};
export const SPIKE_WORDS = {
  fault: "A spike on top of the signal:",
  value: "Its height, in the channel's own quantity.",
  at: "Time of its first sample.",
  samples: "Samples that it lasts.",
};
export const NOT_FINITE_WORDS = {
  fault: "Samples that are no numbers:",
  at: "Time of the first of them.",
  samples: "How many in a row.",
};

const POSITION =
  "The first edge at or after the time that stands at this position of the wheel. Left out: any.";
export const GLITCH_WORDS = {
  fault: "An edge too many:",
  at: "It follows the first edge at or after this time.",
  fraction: "Where between that edge and the next, as a share of the way. Left out: 30 %.",
  position: POSITION,
};
export const MISSED_WORDS = {
  fault: "Edges that do not come:",
  at: "The first edge at or after this time is the first of them.",
  count: "How many in a row.",
  position: POSITION,
};
export const DROP_OUT_WORDS = { fault: "No edge comes:", ...SPAN };
export const INDEX_LOST_WORDS = { fault: "The index does not come:", ...SPAN };

export const RIPPLE_WORDS = {
  order: "Times a revolution.",
  amplitude: "Peak of the angle that is added.",
};
export const BAD_TOOTH_WORDS = {
  position: "Position of the tooth, counted from the index.",
  offset: "How far it stands after its place.",
};
export const WHEEL_WORDS = {
  positions: "Positions that are really there. Left out: as in the profile.",
  "per revolutions": "Revolutions for so many positions. Left out: as in the profile.",
  index: "What really marks the index. Left out: as in the profile.",
  eccentricity: "Peak of the angle by which positions are out, once per revolution. Left out: 0.",
  "bad tooth": "One tooth out of its place.",
  jitter: "Random error of every edge, rms. Left out: none.",
};
export const SHAFT_MOTION_WORDS = {
  speed: "A speed, or a list of pieces: start, hold, to … over or rate, or rows of at and speed.",
  "start angle": "Angle after the index at the start. Left out: 0.",
  "torsional ripple": "What is added to the angle, so many times a revolution.",
  wheel: "The wheel as it really is, where it is not as in the profile.",
  faults: "Faults of the tachometer.",
};

export const CONVERTER_WORDS = {
  format: "f32: samples as computed; i16: counts, rounded and cut off at the ends.",
  step: "What one count is, in the channel's own quantity. Left out: as in the profile.",
};
export const CHANNEL_SIGNAL_WORDS = {
  vibration: "What the channel sees, added up.",
  mean: "A constant on top, in the channel's own quantity. Left out: 0.",
  "front end":
    'The response that is really there; "none", or "as in the profile", which also stands where ' +
    "it is left out.",
  faults: "Faults of the transducer, its cable or its converter.",
  converter: "How samples are handed over.",
};

export const INPUT_WORDS = {
  at: "From when it is so; each later than the row before.",
  inhibit: "Names of filters whose caution is inhibited. Left out: as before.",
  acknowledge: "Names of filters whose caution is acknowledged, until the next row.",
  running: "Names of shafts that are said to turn. Left out: as before.",
  "functional test": "Whether the functional test stands. Left out: as before.",
};

export const CAUTION_SPAN_WORDS = { filter: FILTER, ...SPAN };
export const EVENT_WORDS = {
  event: "Name of the event.",
  of: "Name of the filter, shaft or channel that it is of; left out for the whole device.",
  ...SPAN,
};
export const COUNTER_WORDS = {
  counter: "Name of the counter.",
  of: "Name of the shaft, channel or health check that it is of; left out for the whole device.",
  "at least": "Least count at the end; this or at most, or both.",
  "at most": "Greatest count at the end; this or at least, or both.",
};
export const PLANT_WORDS = {
  alteration: "Name of one of the judge's alterations.",
  amount: "How much of it.",
};
export const EXPECT_WORDS = {
  "caution never": "Names of filters whose caution must not come on.",
  "caution on": "The caution must be on at some moment of each span.",
  "caution off": "The caution must be off at some moment of each span.",
  events: "Events that must come within their spans.",
  "events never": "Names of events that must not come at all.",
  counters: "Counters at the end.",
  "undecided share":
    "Share of the display periods in which noise may leave the caution open. Left out: 2 %.",
  "tolerance reason": "Why a tolerance may be over 1 % of the level (5 % in noise).",
  canary: "The check that must find this scenario wrong: a test of the judge.",
  plant: "What is planted in the records before they are judged; for canaries.",
};

export const SCENARIO_WORDS = {
  question: "The question that the scenario answers, up to 300 characters.",
  see: "What a reader sees in the result, in one sentence of up to 300 characters.",
  note: "Anything worth saying, up to 4000 characters.",
  requirements: "Ids of requirements that it proves.",
  profile: "A profile's file, from this file's folder; or a profile written out.",
  "profile changes": "Fields of the profile that are other here; null takes one away.",
  duration: "How long the waveform is.",
  seed: "Seed of all random numbers. Left out: that of the call.",
  speed: SHAFT_MOTION_WORDS.speed,
  vibration: "What the channel sees, added up; for a profile with one channel.",
  shafts: "Shafts by name, where there are several or where more than the speed is stated.",
  channels: "Channels by name, where there are several or where more than vibration is stated.",
  inputs: "Inhibits, acknowledgements, running inputs and functional tests over time.",
  expect: "What is expected beside the computed answer.",
};
