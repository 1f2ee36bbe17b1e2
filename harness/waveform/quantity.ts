// How often a component is differentiated on its way to what the channel measures.
import type { Quantity } from "../scene/scene.ts";

const DERIVATIVES: Record<Exclude<Quantity, "unstated">, number> = {
  displacement: 0,
  velocity: 1,
  acceleration: 2,
};

/** Errors: a component would have to be integrated, or one of the two units is not stated. */
export function derivativeCount(from: Quantity, to: Quantity): number {
  if (from === to) return 0;
  if (from === "unstated" || to === "unstated") {
    throw new Error(`a component in ${from} on a channel in ${to}: state both or neither`);
  }
  const count = DERIVATIVES[to] - DERIVATIVES[from];
  if (count < 0) throw new Error(`a component in ${from} cannot be made for a channel in ${to}`);
  return count;
}
