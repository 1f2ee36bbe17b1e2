// What a tracking filter's truth holds after a revolution.
import type { IntegrationParts } from "./integration-distance.ts";

/** The filter after one revolution has closed. */
export interface FilterState {
  /** Boundary that closed it, and when. */
  closing: number;
  closingS: number;
  re: number;
  im: number;
  speed: number;
  speedNow: number;
  /** T/τ of the newest revolution. */
  h: number;
  /** False: the response refused this revolution, nothing is computed until one is accepted. */
  isComputed: boolean;
  /** What the integration's distance is made of; absent where it is not followed. */
  integration?: IntegrationParts;
}
