// A box that takes analog signals and shows a number: a stimulus goes out as voltages, numbers are read
// back. Here a small simulated box stands for it, with an algorithm, a latency and a clock of its own:
//
//   npx amberline run my-engine --target module:harness/adapter/examples/analog-levels.mjs \
//       --device harness/adapter/examples/analog-box.device.yaml
//
// For a real one put your generator and your read-back in place of `SimulatedBox`; ADAPTERS.md says what
// to look at before anything is connected.

/** Volts for the channel's range: what the generator is set to, and the box's input bears. */
const FULL_SCALE_V = 5;
const PULSE_V = 2;
const PIECE_SAMPLES = 4096;

/** What the simulated box is, so that one that is wrong can be tried, too. */
const BOX = {
  /** Full width between the −3 dB points, Hz. */
  bandwidthHz: 1,
  /** Its number follows so much later, s. */
  latencyS: 0.12,
  updateRateHz: 8,
  displayStep: 0.1,
  gain: 1,
  /** Its clock runs so much faster than the generator's, and began so much earlier. */
  drift: 80e-6,
  offsetS: 0.35,
  /** Whose clock stamps its readings: "own", or "host" where drift and offset are those of the host. */
  clock: "own",
};

/** Of two equal poles that pass 3 dB less together at half of the full width. */
const timeConstantS = (widthHz) => Math.sqrt(Math.SQRT2 - 1) / (Math.PI * widthHz);

/**
 * One channel, one shaft: turns the voltage with the angle between pulses, lets both parts through
 * two poles, sample by sample. Not how our firmware does it.
 */
class SimulatedBox {
  #facts;
  #settings;
  #edges = [];
  #edgeCount = 0;
  #poles = new Float64Array(4);
  #wasLow = true;
  #before = 0;
  #shown = [];
  #nextS = 0;
  #sample = 0;

  /** facts: volts of the range, positions of the wheel, display units a volt at a speed. */
  constructor(facts, settings) {
    this.#facts = facts;
    this.#settings = settings;
  }

  /** One sample of both inputs, volts. */
  take(signalV, pulseV, sampleRateHz) {
    const timeS = this.#sample / sampleRateHz;
    if (this.#wasLow && pulseV >= PULSE_V / 2) {
      const share = (PULSE_V / 2 - this.#before) / (pulseV - this.#before);
      this.#edge(timeS - (1 - share) / sampleRateHz);
    }
    this.#wasLow = pulseV < PULSE_V / 2;
    this.#before = pulseV;
    this.#demodulate(signalV, timeS, sampleRateHz);
    while (timeS >= this.#nextS) this.#update(this.#nextS);
    this.#sample += 1;
  }

  #edge(timeS) {
    this.#edges.push(timeS);
    if (this.#edges.length > this.#facts.positions + 1) this.#edges.shift();
    this.#edgeCount += 1;
  }

  get #pitchS() {
    const count = this.#edges.length - 1;
    return count < 1 ? Infinity : (this.#edges[count] - this.#edges[0]) / count;
  }

  #demodulate(signalV, timeS, sampleRateHz) {
    if (this.#edges.length < 2) return;
    const since = (timeS - this.#edges.at(-1)) / this.#pitchS;
    const turn = (2 * Math.PI * (this.#edgeCount + since)) / this.#facts.positions;
    const share = 1 - Math.exp(-1 / (sampleRateHz * timeConstantS(this.#settings.bandwidthHz)));
    const parts = [2 * signalV * Math.cos(turn), -2 * signalV * Math.sin(turn)];
    parts.forEach((value, i) => {
      this.#poles[i] += share * (value - this.#poles[i]);
      this.#poles[i + 2] += share * (this.#poles[i] - this.#poles[i + 2]);
    });
  }

  /** Renews the number; what is shown was computed a latency ago. */
  #update(timeS) {
    const { updateRateHz, displayStep, gain, drift, offsetS, latencyS } = this.#settings;
    const volts = Math.hypot(this.#poles[2], this.#poles[3]);
    const speed = 1 / (this.#pitchS * this.#facts.positions);
    const number = gain * volts * this.#facts.unitsPerVolt(speed);
    const late = timeS + latencyS;
    this.#shown.push({
      timeS: offsetS + (1 + drift) * late,
      filter: this.#facts.filter,
      shown: displayStep * Math.round(number / displayStep),
      isValid: Number.isFinite(speed) && this.#edges.length > this.#facts.positions,
      speedRevPerS: speed,
    });
    this.#nextS += 1 / updateRateHz;
  }

  readBack() {
    return this.#shown;
  }
}

/** Edges as a voltage of narrow pulses: two samples long, their rise straight over one sample. */
class PulseShaper {
  #edges = [];

  add(times) {
    this.#edges.push(...times);
  }

  at(timeS, sampleRateHz) {
    const widthS = 2 / sampleRateHz;
    while (this.#edges.length > 0 && this.#edges[0] + widthS < timeS) this.#edges.shift();
    const edge = this.#edges[0];
    if (edge === undefined) return 0;
    return PULSE_V * Math.min(1, Math.max(0, 0.5 + (timeS - edge) * sampleRateHz));
  }
}

class AnalogAdapter {
  #settings;

  constructor(settings) {
    this.#settings = settings;
  }

  async facts() {
    return { name: "Simulated analog box", identity: "no. 1", clock: this.#settings.clock };
  }

  async play(stimulus, signal) {
    const { profile, sampleRateHz } = stimulus;
    const filter = profile.filters[0];
    const channel = profile.channels[filter.channel];
    const shaft = profile.shafts[filter.shaft];
    if (shaft.index !== "none" || filter.order !== 1 || filter.quantity !== channel.quantity) {
      throw new Error("this box tracks order 1 in the channel's own quantity, by a plain wheel");
    }
    const voltsPerUnit = FULL_SCALE_V / channel.range;
    const box = new SimulatedBox(
      {
        filter: filter.name,
        positions: shaft.positions / shaft.revolutions,
        // The box is set to the display scale of the profile, at its first speed.
        unitsPerVolt: () => (filter.levelFactor * filter.display.scale[0].factor) / voltsPerUnit,
      },
      this.#settings,
    );
    const pulses = new PulseShaper();
    for (;;) {
      signal.throwIfAborted();
      const piece = stimulus.next(PIECE_SAMPLES);
      if (piece === undefined) break;
      pulses.add(piece.edges[filter.shaft]);
      const samples = piece.samples[filter.channel];
      for (let i = 0; i < samples.length; i += 1) {
        const timeS = (piece.firstSample + i) / sampleRateHz;
        box.take(samples[i] * voltsPerUnit, pulses.at(timeS, sampleRateHz), sampleRateHz);
      }
    }
    return box.readBack();
  }

  async close() {}
}

/** A box with other settings, as tests make wrong ones. */
export const boxWith = (settings) => new AnalogAdapter({ ...BOX, ...settings });
export const makeLevelBox = () => boxWith({});
