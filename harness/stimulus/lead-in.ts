// What is played before a scenario: the same shafts and the same vibration, standing as they stand at
// the scenario's first moment, so that a box can lock before anything is asked of it. The scenario
// itself is not touched: its samples are those that a run plays.
import type { ChannelSignal, Component, Envelope, Scene, ShaftMotion } from "../scene/scene.ts";

const TURN_RAD = 2 * Math.PI;

/** An envelope as it stands at time 0, held. */
function held(envelope: Envelope, lateRad: number): Envelope {
  switch (envelope.kind) {
    case "steps":
    case "lines": {
      const [first] = envelope.rows;
      const { amplitudePk, phaseLagRad } = first!;
      return { kind: "constant", amplitudePk, phaseLagRad: phaseLagRad + lateRad };
    }
    default:
      return { ...envelope, phaseLagRad: envelope.phaseLagRad + lateRad };
  }
}

/**
 * The same component earlier: at the lead-in's end it goes over into the scenario's. Noise is left
 * out, since another stretch of it would be another noise.
 */
function leading(
  component: Component,
  leadS: number,
  addedTo: (shaft: number) => number,
): Component[] {
  switch (component.kind) {
    case "order": {
      const lateRad = TURN_RAD * ((component.order * addedTo(component.shaft)) % 1);
      return [{ ...component, envelope: held(component.envelope, lateRad) }];
    }
    case "tone": {
      const lateRad = TURN_RAD * ((component.frequencyHz * leadS) % 1);
      return [{ ...component, phaseLagRad: component.phaseLagRad + lateRad }];
    }
    case "rotor": {
      const unbalance = [{ ...component.unbalance[0]!, timeS: 0 }];
      return [{ ...component, unbalance }];
    }
    case "noise":
      return [];
  }
}

/** Whole cycles that are added to a shaft's angle, so that it starts at 0 or above. */
function addedRev(shaft: ShaftMotion, leadS: number): number {
  const { revolutions } = shaft.wheel;
  const turned = shaft.speed[0]!.revPerS * leadS;
  return revolutions * Math.ceil(turned / revolutions);
}

function leadingShaft(shaft: ShaftMotion, leadS: number): ShaftMotion {
  const { revPerS } = shaft.speed[0]!;
  return {
    ...shaft,
    speed: [{ timeS: 0, revPerS }],
    startAngleRev: shaft.startAngleRev - revPerS * leadS + addedRev(shaft, leadS),
    wheel: { ...shaft.wheel, jitterS: 0 },
    faults: [],
  };
}

/** The scene that leads into another one, `leadS` long: its first moment, standing. */
export function leadInScene(scene: Scene, leadS: number): Scene {
  const added = scene.shafts.map((shaft) => addedRev(shaft, leadS));
  const leadingChannel = (signal: ChannelSignal): ChannelSignal => ({
    ...signal,
    components: signal.components.flatMap((one) => leading(one, leadS, (i) => added[i]!)),
    faults: [],
  });
  return {
    ...scene,
    durationS: leadS,
    shafts: scene.shafts.map((shaft) => leadingShaft(shaft, leadS)),
    channels: scene.channels.map(leadingChannel),
    inputs: [{ timeS: 0, inhibit: 0, acknowledge: 0, running: 0, test: false }],
  };
}
