// Which validities are right for a display, from what is right for each of its sources.
import {
  CAUSE_FUNCTIONAL_TEST,
  CAUSE_NO_SOURCE,
  FAILURE,
  FUNCTIONAL_TEST,
  NO_COMPUTED_DATA,
  VALID,
} from "../../shared/units.ts";
import type { DisplayProfile } from "../scene/scene.ts";
import type { StepTruth } from "../truth/types.ts";

export type Allowed = StepTruth["allowed"];

export function mayBe(allowed: Allowed, validity: number): boolean {
  return allowed.some((one) => one.validity === validity);
}

export function mustBe(allowed: Allowed, validity: number): boolean {
  return allowed.length > 0 && allowed.every((one) => one.validity === validity);
}

/** Validities and causes that are right for the display of filter `own` at one step. */
export function displayAllowed(
  source: DisplayProfile["source"],
  own: number,
  truths: StepTruth[],
): Allowed {
  const ownAllowed = truths[own]!.allowed;
  if (source.kind === "own") return ownAllowed;
  if (source.kind === "substitute") return substituteAllowed(ownAllowed, truths[source.filter]!);
  return greatestAllowed(source.filters.map((filter) => truths[filter]!.allowed));
}

function substituteAllowed(own: Allowed, substitute: StepTruth): Allowed {
  if (mustBe(own, VALID)) return own;
  const invalid = own.filter((one) => one.validity !== VALID);
  const valid = { validity: VALID, cause: 0 };
  if (mustBe(substitute.allowed, VALID)) return [valid];
  const mayServe = mayBe(own, VALID) || mayBe(substitute.allowed, VALID);
  return mayServe ? [valid, ...invalid] : invalid;
}

function greatestAllowed(sources: Allowed[]): Allowed {
  const allowed: Allowed = [];
  if (sources.some((one) => mayBe(one, VALID))) allowed.push({ validity: VALID, cause: 0 });
  if (sources.some((one) => mustBe(one, VALID))) return allowed;
  // A functional test is a state of the whole device, and is told as such.
  if (sources.some((one) => mayBe(one, FUNCTIONAL_TEST))) {
    allowed.push({ validity: FUNCTIONAL_TEST, cause: CAUSE_FUNCTIONAL_TEST });
  }
  if (sources.some((one) => mustBe(one, FUNCTIONAL_TEST))) return allowed;
  if (sources.every((one) => mayBe(one, FAILURE))) {
    allowed.push({ validity: FAILURE, cause: CAUSE_NO_SOURCE });
  }
  if (!sources.every((one) => mustBe(one, FAILURE))) {
    allowed.push({ validity: NO_COMPUTED_DATA, cause: CAUSE_NO_SOURCE });
  }
  return allowed;
}
