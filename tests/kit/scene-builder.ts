// Scenes in code, for tests and figures that sweep what a file would have to repeat.
import type {
  ChannelProfile,
  FilterProfile,
  MonitorProfile,
  Quantity,
  ShaftProfile,
} from "../../host/profile/types.ts";
import type {
  ChannelSignal,
  Component,
  Envelope,
  Scene,
  ShaftMotion,
} from "../../harness/scene/scene.ts";

/** Level factor from SI pk to in/s pk: 1 in = 25.4 mm exactly (AMS55 Table 2.5). */
export const IN_PER_S_PK = 1 / 0.0254;

export function channelProfile(over: Partial<ChannelProfile> = {}): ChannelProfile {
  return {
    name: "fan",
    kind: "charge",
    quantity: "acceleration",
    countStep: 0.05,
    range: 2000,
    response: { kind: "none" },
    health: { steps: 1 },
    test: { amplitudePk: 10, shaft: 0, order: 1 },
    ...over,
  };
}

export function shaftProfile(over: Partial<ShaftProfile> = {}): ShaftProfile {
  return {
    name: "fan",
    positions: 1,
    revolutions: 1,
    index: "none",
    wheelErrorRev: 0,
    speedMinRevPerS: 8,
    speedMaxRevPerS: 420,
    accelerationMaxRevPerS2: 50,
    timeoutS: 0.35,
    lockRevolutions: 3,
    edgeTolerancePitches: 0.15,
    validSpeedRevPerS: 8,
    validHysteresisRevPerS: 0.5,
    validDelaySteps: 0,
    evidence: { input: false, otherShaft: false },
    ...over,
  };
}

export function filterProfile(over: Partial<FilterProfile> = {}): FilterProfile {
  return {
    name: "fan order 1",
    channel: 0,
    shaft: 0,
    order: 1,
    quantity: "velocity",
    detector: "pk",
    unit: "in/s",
    levelFactor: IN_PER_S_PK,
    bandwidth: { kind: "fixed", fullWidthHz: 1 },
    display: {
      source: { kind: "own" },
      scale: [{ speedRevPerS: 0, factor: 1 }],
      smoothingS: 0,
      step: 0.1,
      countsMax: 100,
      holdSteps: 10,
    },
    ...over,
  };
}

export function monitorProfile(over: Partial<MonitorProfile> = {}): MonitorProfile {
  return {
    name: "test monitor",
    note: "",
    clockHz: 80_000_000,
    sampleRateHz: 12_800,
    displayPeriodS: 0.1,
    timeUnit: "s",
    channels: [channelProfile()],
    shafts: [shaftProfile()],
    filters: [filterProfile()],
    ...over,
  };
}

/** The wheel that is really fitted, without error. */
export function fittedWheel(over: Partial<ShaftMotion["wheel"]> = {}): ShaftMotion["wheel"] {
  const error = { eccentricityRev: 0, jitterS: 0 };
  return { positions: 1, revolutions: 1, index: "none", ...error, ...over };
}

export function shaftMotion(over: Partial<ShaftMotion> = {}): ShaftMotion {
  return {
    speed: [{ timeS: 0, revPerS: 80 }],
    startAngleRev: 0.123,
    ripple: [],
    wheel: fittedWheel(),
    faults: [],
    ...over,
  };
}

export function channelSignal(
  components: Component[],
  over: Partial<ChannelSignal> = {},
): ChannelSignal {
  return {
    components,
    mean: 0,
    frontEnd: { kind: "none" },
    faults: [],
    converter: { format: "f32", step: 0 },
    ...over,
  };
}

/** A component at an order, with any course of its amplitude. */
export function orderWith(
  envelope: Envelope,
  over: { order?: number; shaft?: number; quantity?: Quantity } = {},
): Extract<Component, { kind: "order" }> {
  return { kind: "order", shaft: 0, order: 1, quantity: "acceleration", ...over, envelope };
}

/** A component of constant amplitude at an order of shaft 0. */
export function orderComponent(
  order: number,
  amplitudePk: number,
  phaseLagDeg = 0,
  quantity: "acceleration" | "velocity" = "acceleration",
): Component {
  const phaseLagRad = (phaseLagDeg * Math.PI) / 180;
  return orderWith({ kind: "constant", amplitudePk, phaseLagRad }, { order, quantity });
}

/** A whole scene; the wheel fitted follows the profile's unless a motion is given. */
export function scene(over: Partial<Scene> & { profile?: MonitorProfile } = {}): Scene {
  const profile = over.profile ?? monitorProfile();
  const shafts = profile.shafts.map(({ positions, revolutions, index }) =>
    shaftMotion({ wheel: fittedWheel({ positions, revolutions, index }) }),
  );
  return {
    name: "test",
    question: "does it read what it was given?",
    requirements: [],
    durationS: 10,
    seed: 1,
    shafts,
    channels: profile.channels.map(() => channelSignal([orderComponent(1, 10, 30)])),
    inputs: [],
    expectation: { eitherShare: 0.02 },
    ...over,
    profile,
  };
}

/** One shaft on an even course of speed, and one channel with these components. */
export function oneShaftScene(given: {
  profile: MonitorProfile;
  durationS: number;
  /** Rows of time and speed, as a shaft's motion has them. */
  speed: ShaftMotion["speed"];
  components: Component[];
  wheel?: Partial<ShaftMotion["wheel"]>;
  converter?: ChannelSignal["converter"];
  startAngleRev?: number;
  seed?: number;
}): Scene {
  const { profile, durationS, speed, components, converter, startAngleRev, seed } = given;
  const { positions, index } = profile.shafts[0]!;
  const motion = { speed, wheel: fittedWheel({ positions, index, ...given.wheel }) };
  return scene({
    profile,
    durationS,
    shafts: [shaftMotion({ ...motion, ...(startAngleRev !== undefined && { startAngleRev }) })],
    channels: [channelSignal(components, converter && { converter })],
    ...(seed !== undefined && { seed }),
  });
}
