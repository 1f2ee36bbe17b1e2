// What a case played, in words: speed, vibration, noise, faults, front end, inputs. The results carry
// it, so that a report can show what was asked without the scenario's file.
import type {
  ChannelFault,
  Component,
  Envelope,
  Scene,
  ShaftMotion,
  TachFault,
} from "../scene/scene.ts";
import { canonicalJson } from "./canonical-json.ts";
import { SceneWords, counted, degrees, figure, listed } from "./scene-words.ts";

/** One line of what was played. */
export interface PlayedRow {
  /** "shaft N1", "channel frame", "inputs". */
  of: string;
  what: string;
  value: string;
}

type Put = (what: string, value: string) => void;

/** "4400 r/min, held to 24 s; to 1700 r/min at 30 s, held". */
function speedWords(words: SceneWords, rows: ShaftMotion["speed"], durationS: number): string {
  const pieces: string[] = [];
  let held = "";
  for (const [i, row] of rows.entries()) {
    const before = rows[i - 1];
    if (before !== undefined && before.timeS >= durationS) break;
    if (before === undefined) pieces.push(words.speed(row.revPerS));
    else if (row.revPerS === before.revPerS) held = `, held to ${words.time(row.timeS)}`;
    else {
      pieces[pieces.length - 1] += held;
      held = "";
      const isStep = row.timeS === before.timeS;
      pieces.push(
        `${isStep ? "at once " : ""}to ${words.speed(row.revPerS)} at ${words.time(row.timeS)}`,
      );
    }
  }
  const last = rows[rows.length - 1]!;
  const isHeld = held !== "" || last.timeS < durationS;
  pieces[pieces.length - 1] += isHeld ? ", held" : "";
  return listed(pieces);
}

function wheelWords(words: SceneWords, { wheel }: ShaftMotion, shaft: number): string {
  const assumed = words.profile.shafts[shaft]!;
  const told = (positions: number, revolutions: number, index: string): string => {
    const per = revolutions === 1 ? "" : ` in ${revolutions} revolutions`;
    return `${counted(positions, "position")}${per}, ${index === "none" ? "no index" : index.replace("-", " ")}`;
  };
  const fitted = told(wheel.positions, wheel.revolutions, wheel.index);
  const said = told(assumed.positions, assumed.revolutions, assumed.index);
  const parts = [fitted === said ? fitted : `${fitted} (the profile says ${said})`];
  if (wheel.eccentricityRev !== 0)
    parts.push(`eccentric by ${figure(wheel.eccentricityRev)} rev pk`);
  if (wheel.badTooth !== undefined) {
    const { position, offsetRev } = wheel.badTooth;
    parts.push(`position ${position} off by ${figure(offsetRev)} rev`);
  }
  if (wheel.jitterS > 0) parts.push(`jitter ${words.shortTime(wheel.jitterS)} rms`);
  return parts.join("; ");
}

function tachFaultWords(words: SceneWords, fault: TachFault): string {
  const beside = "position" in fault ? ` beside position ${fault.position}` : "";
  switch (fault.kind) {
    case "glitch":
    case "glitch-position": {
      const after = `${figure(fault.fraction)} of a pitch after an edge`;
      return `an extra edge${beside} at ${words.time(fault.atS)}, ${after}`;
    }
    case "missed":
    case "missed-position":
      return `${counted(fault.count, "edge")} missing${beside} at ${words.time(fault.atS)}`;
    case "drop-out":
      return `no edges ${words.span(fault)}`;
    case "index-lost":
      return `no index ${words.span(fault)}`;
  }
}

function shaftRows(words: SceneWords, scene: Scene, shaft: number, put: Put): void {
  const motion = scene.shafts[shaft]!;
  put("speed", speedWords(words, motion.speed, scene.durationS));
  if (motion.startAngleRev !== 0) put("start angle", `${figure(motion.startAngleRev)} rev`);
  put("tachometer", wheelWords(words, motion, shaft));
  for (const { order, amplitudeRev } of motion.ripple) {
    put("torsional ripple", `order ${order}, ${figure(amplitudeRev)} rev pk`);
  }
  const faults = motion.faults.map((fault) => tachFaultWords(words, fault));
  if (faults.length > 0) put("tachometer fault", listed(faults));
}

const GROWTH: Readonly<Record<number, string>> = {
  0: "at any speed",
  1: "growing with the speed",
  2: "growing with the square of the speed",
};

function envelopeWords(
  words: SceneWords,
  envelope: Envelope,
  amplitude: (valuePk: number) => string,
): string {
  const vector = (row: { amplitudePk: number; phaseLagRad: number }): string =>
    `${amplitude(row.amplitudePk)}, phase lag ${degrees(row.phaseLagRad)}`;
  if (envelope.kind === "constant") return vector(envelope);
  if (envelope.kind === "speed-power") {
    const { amplitudePk, phaseLagRad, power, referenceRevPerS } = envelope;
    const growth = GROWTH[power] ?? `growing with power ${power} of the speed`;
    const at = `${amplitude(amplitudePk)} at ${words.speed(referenceRevPerS)}`;
    return `${at}, ${growth}, phase lag ${degrees(phaseLagRad)}`;
  }
  const isSteps = envelope.kind === "steps";
  const rows = envelope.rows.map((row) => {
    return `${isSteps ? "from" : "at"} ${words.time(row.timeS)} ${vector(row)}`;
  });
  return isSteps ? listed(rows) : `straight between: ${listed(rows)}`;
}

function componentRow(words: SceneWords, one: Component, channel: number, put: Put): void {
  const shafts = words.profile.shafts;
  switch (one.kind) {
    case "order": {
      const amplitude = (pk: number): string => words.amplitude(channel, one.quantity, pk);
      const what = `order ${one.order} of ${shafts[one.shaft]!.name}`;
      put(what, envelopeWords(words, one.envelope, amplitude));
      break;
    }
    case "tone": {
      const amplitude = words.amplitude(channel, one.quantity, one.amplitudePk);
      const lag = `phase lag ${degrees(one.phaseLagRad)}`;
      put(`tone of ${words.frequency(one.frequencyHz)}`, `${amplitude}, ${lag}`);
      break;
    }
    case "rotor": {
      const unbalance = one.unbalance.map(
        ({ timeS, kgM, angleRad }) =>
          `${figure(kgM * 1e6)} g mm at ${degrees(angleRad)} from ${words.time(timeS)}`,
      );
      const mode =
        `${figure(one.modalMassKg)} kg on a mode at ${words.frequency(one.naturalHz)} ` +
        `(${words.speed(one.naturalHz)}), damping ratio ${figure(one.dampingRatio * 100)} %`;
      put(`rotor on ${shafts[one.shaft]!.name}`, `${mode}; unbalance ${listed(unbalance)}`);
      break;
    }
    case "noise":
      put("noise", `white, ${words.value(channel, one.rms, "rms")}`);
      break;
  }
}

function channelFaultWords(words: SceneWords, fault: ChannelFault, channel: number): string {
  const own = (value: number, what = ""): string => words.value(channel, value, what);
  const times = (samples: number): string => counted(samples, "sample");
  switch (fault.kind) {
    case "clip":
      return `clipped at ${own(fault.level)} ${words.span(fault)}`;
    case "flat":
      return `flat at ${own(fault.value)} ${words.span(fault)}`;
    case "bias":
      return `mean moved by ${own(fault.value)} ${words.span(fault)}`;
    case "open":
      return `open lead, ${figure(fault.share * 100)} % left ${words.span(fault)}`;
    case "loose": {
      const rate = `${figure(fault.burstsPerS)} a ${words.profile.timeUnit === "s" ? "second" : "sample"}`;
      const bursts = `bursts of ${own(fault.burstPk, "pk")}, ${rate}, ${words.time(fault.lengthS)} long`;
      return `loose connector: ${bursts}, ${words.span(fault)}`;
    }
    case "gain":
      return `sensitivity × ${figure(fault.factor)} ${words.span(fault)}`;
    case "spike":
      return `spike of ${own(fault.value)} at ${words.time(fault.atS)}, ${times(fault.samples)}`;
    case "not-finite":
      return `no numbers at ${words.time(fault.atS)}, ${times(fault.samples)}`;
  }
}

function channelRows(words: SceneWords, scene: Scene, channel: number, put: Put): void {
  const signal = scene.channels[channel]!;
  const assumed = words.profile.channels[channel]!;
  if (signal.components.length === 0) put("vibration", "none");
  for (const one of signal.components) componentRow(words, one, channel, put);
  if (signal.mean !== 0) put("mean", words.value(channel, signal.mean));
  const faults = signal.faults.map((fault) => channelFaultWords(words, fault, channel));
  if (faults.length > 0) put("fault", listed(faults));
  const real = words.response(signal.frontEnd);
  // Told by what they hold: two long tables may differ where the words leave off.
  const isSame = canonicalJson(signal.frontEnd) === canonicalJson(assumed.response);
  const said = isSame
    ? ", as the profile says"
    : ` (the profile says ${words.response(assumed.response)})`;
  put("front end", `${real}${said}`);
  if (signal.converter.format === "i16") {
    put("converter", `16 bits in steps of ${words.value(channel, signal.converter.step)}`);
  }
}

function inputRows(words: SceneWords, scene: Scene, put: Put): void {
  const names = (bits: number, all: readonly { name: string }[]): string[] =>
    all.filter((_, i) => (bits & (1 << i)) !== 0).map(({ name }) => name);
  const rows = scene.inputs.map(({ timeS, inhibit, acknowledge, running, test }) => {
    const { filters, shafts } = words.profile;
    const parts = [
      ...names(inhibit, filters).map((name) => `inhibit of ${name}`),
      ...names(acknowledge, filters).map((name) => `acknowledgement of ${name}`),
      ...names(running, shafts).map((name) => `${name} said to run`),
      ...(test ? ["functional test"] : []),
    ];
    const said = parts.length === 0 ? "nothing" : parts.join(", ");
    return `from ${words.time(timeS)} ${said}`;
  });
  if (rows.length > 1 || !rows.every((row) => row.endsWith("nothing"))) {
    put("as they stand", listed(rows));
  }
}

/** Everything that a scene plays, line by line: shafts, channels, inputs, what a canary plants. */
export function playedRows(scene: Scene): PlayedRow[] {
  const rows: PlayedRow[] = [];
  const putter =
    (of: string): Put =>
    (what, value) =>
      void rows.push({ of, what, value });
  const words = new SceneWords(scene.profile);
  const { shafts, channels } = scene.profile;
  shafts.forEach(({ name }, i) => shaftRows(words, scene, i, putter(`shaft ${name}`)));
  channels.forEach(({ name }, i) => channelRows(words, scene, i, putter(`channel ${name}`)));
  inputRows(words, scene, putter("inputs"));
  const { plant } = scene.expectation;
  if (plant !== undefined) {
    putter("records")("planted error", `"${plant.alteration}" by ${figure(plant.amount)}`);
  }
  return rows;
}
