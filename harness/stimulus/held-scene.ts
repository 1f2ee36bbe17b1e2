// A scene with its first moment held before it and its last moment after it: the same shafts and the
// same vibration, standing, so that a device can find its references and settle before the scenario's
// time 0. While all ramps up from silence no tachometer pulse is played: a device then starts on
// vibration that stands, and what it must show is the truth of this scene.
import type {
  ChannelFault,
  ChannelSignal,
  Component,
  Envelope,
  InputRow,
  Scene,
  ShaftMotion,
  TachFault,
} from "../scene/scene.ts";

const TURN_RAD = 2 * Math.PI;

export interface HeldTimes {
  /** No pulse is played for so long. */
  rampUpS: number;
  /** The first moment stands for so long, from where the pulses begin. */
  holdS: number;
  /** The last moment stands for so long. */
  tailS: number;
}

type EnvelopeRow = { timeS: number; amplitudePk: number; phaseLagRad: number };

/** An envelope that begins later, and has stood as it does there since time 0. */
function heldEnvelope(envelope: Envelope, laterS: number, laterRad: number): Envelope {
  if (envelope.kind !== "steps" && envelope.kind !== "lines") {
    return { ...envelope, phaseLagRad: envelope.phaseLagRad + laterRad };
  }
  const rows = envelope.rows.map((row): EnvelopeRow => ({
    ...row,
    timeS: row.timeS + laterS,
    phaseLagRad: row.phaseLagRad + laterRad,
  }));
  return { kind: envelope.kind, rows: [{ ...rows[0]!, timeS: 0 }, ...rows] };
}

function heldComponent(component: Component, laterS: number, addedRev: number[]): Component {
  switch (component.kind) {
    case "order": {
      const laterRad = TURN_RAD * ((component.order * addedRev[component.shaft]!) % 1);
      return { ...component, envelope: heldEnvelope(component.envelope, laterS, laterRad) };
    }
    case "tone": {
      const laterRad = TURN_RAD * ((component.frequencyHz * laterS) % 1);
      return { ...component, phaseLagRad: component.phaseLagRad + laterRad };
    }
    case "rotor": {
      const [first, ...rest] = component.unbalance;
      const later = rest.map((row) => ({ ...row, timeS: row.timeS + laterS }));
      return { ...component, unbalance: [first!, ...later] };
    }
    case "noise":
      return component;
  }
}

/** What stands at the scenario's first moment has stood before; what stands at its last goes on. */
function heldFault<T extends ChannelFault | TachFault>(
  fault: T,
  durationS: number,
  { rampUpS, holdS, tailS }: HeldTimes,
): T {
  const laterS = rampUpS + holdS;
  if (!("fromS" in fault)) return { ...fault, atS: fault.atS + laterS };
  const fromS = fault.fromS <= 0 ? 0 : fault.fromS + laterS;
  return {
    ...fault,
    fromS,
    untilS: fault.untilS + laterS + (fault.untilS >= durationS ? tailS : 0),
  };
}

/** The speed that stands at time 0, of rows of which several may be at it. */
export function firstSpeed({ speed }: ShaftMotion): number {
  return speed.findLast(({ timeS }) => timeS <= 0)!.revPerS;
}

/** Whole cycles of the wheel that are added to a shaft's angle, so that it starts at 0 or above. */
function addedRevOf(shaft: ShaftMotion, laterS: number): number {
  const { revolutions } = shaft.wheel;
  return revolutions * Math.ceil((firstSpeed(shaft) * laterS) / revolutions);
}

function heldShaft(shaft: ShaftMotion, durationS: number, times: HeldTimes): ShaftMotion {
  const laterS = times.rampUpS + times.holdS;
  const revPerS = firstSpeed(shaft);
  const later = shaft.speed
    .filter(({ timeS }) => timeS > 0)
    .map((row) => ({ ...row, timeS: row.timeS + laterS }));
  const held = [{ timeS: 0, revPerS }];
  const noPulses: TachFault = { kind: "drop-out", fromS: 0, untilS: times.rampUpS };
  const faults = shaft.faults.map((fault) => heldFault(fault, durationS, times));
  return {
    ...shaft,
    speed: later.length === 0 ? held : [...held, { timeS: laterS, revPerS }, ...later],
    startAngleRev: shaft.startAngleRev - revPerS * laterS + addedRevOf(shaft, laterS),
    // A shaft that rests has no pulses to keep back.
    faults: revPerS > 0 ? [noPulses, ...faults] : faults,
  };
}

/** States are held; what is a moment (an acknowledgement, a test) comes at the scenario's own time. */
function heldInputs(inputs: readonly InputRow[], laterS: number): InputRow[] {
  const rest = { timeS: 0, inhibit: 0, running: 0 };
  const first = inputs.findLast(({ timeS }) => timeS <= 0) ?? rest;
  return [
    { ...first, timeS: 0, acknowledge: 0, test: false },
    ...inputs.map((row) => ({ ...row, timeS: row.timeS + laterS })),
  ];
}

/**
 * The scene, later by ramp and hold, longer by the tail.
 *
 * Effect    another stretch of the same noise and jitter is drawn: the held part has them, too.
 *           What the scenario's author expects belongs to a device that starts at its time 0, and
 *           is left out.
 */
export function heldScene(scene: Scene, times: HeldTimes): Scene {
  const laterS = times.rampUpS + times.holdS;
  const { durationS } = scene;
  const addedRev = scene.shafts.map((shaft) => addedRevOf(shaft, laterS));
  return {
    ...scene,
    durationS: laterS + durationS + times.tailS,
    shafts: scene.shafts.map((shaft) => heldShaft(shaft, durationS, times)),
    channels: scene.channels.map((signal): ChannelSignal => ({
      ...signal,
      components: signal.components.map((one) => heldComponent(one, laterS, addedRev)),
      faults: signal.faults.map((fault) => heldFault(fault, durationS, times)),
    })),
    inputs: heldInputs(scene.inputs, laterS),
    expectation: { eitherShare: 1 },
  };
}
