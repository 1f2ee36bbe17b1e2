// How long the first moment must be held until a device of the scenario's profile has settled on it.
import { SETTLING_TAU, impliedBy } from "../../host/profile/implied.ts";
import type { ImpliedFilter } from "../../host/profile/implied.ts";
import type { MonitorProfile, Scene } from "../scene/scene.ts";
import { firstSpeed } from "./held-scene.ts";

/** What is left of a start by the end of the hold, as a share of the level. */
export const REST_SHARE = 1e-4;
/** Two equal poles leave (1 + x)·e^(−x) of a step after x time constants: 1e-4 at this x. */
export const REST_TAU = 11.7564;
/** A fault or its end counts only when it holds over a whole period; the one before may be cut. */
const PERIODS_CUT = 2;

/** From the first pulse to a level that has settled, s; 0 for a shaft that turns too slowly for one. */
function levelSettlingS(profile: MonitorProfile, shaft: number, revPerS: number): number {
  const { speedMinRevPerS } = profile.shafts[shaft]!;
  if (!(revPerS > 0) || revPerS < speedMinRevPerS) return 0;
  const settlingS = ({ atSpeeds }: ImpliedFilter): number => {
    const { acquisitionS, timeConstantS } = atSpeeds[0]!;
    return acquisitionS + (REST_TAU - SETTLING_TAU) * timeConstantS;
  };
  const { filters } = impliedBy(profile, revPerS);
  const own = filters.filter((_, i) => profile.filters[i]!.shaft === shaft);
  return Math.max(0, ...own.map(settlingS));
}

/**
 * The hold that lets everything settle: the tachometer's lock and the filters (to 1e-4 of the
 * level), the displays' smoothing (the same), the delays of minimum speed and caution, and the time
 * in which a health check that took the ramp for a fault lets go of it again.
 */
export function settlingHoldS(scene: Scene): number {
  const { profile } = scene;
  const { displayPeriodS, channels, shafts, filters } = profile;
  const healthSteps = Math.max(0, ...channels.map(({ health }) => health.steps));
  const delaySteps = Math.max(0, ...shafts.map(({ validDelaySteps }) => validDelaySteps));
  const cautionSteps = filters.map(({ display: { caution } }) =>
    caution === undefined ? 0 : Math.max(caution.onDelaySteps, caution.offDelaySteps),
  );
  const lockS = scene.shafts.map((motion, i) => {
    const levelS = levelSettlingS(profile, i, firstSpeed(motion));
    return Math.max(levelS, shafts[i]!.timeoutS);
  });
  const smoothingS = Math.max(0, ...filters.map(({ display }) => display.smoothingS));
  const steps = healthSteps + PERIODS_CUT + delaySteps + Math.max(0, ...cautionSteps);
  return Math.max(0, ...lockS) - Math.log(REST_SHARE) * smoothingS + steps * displayPeriodS;
}
