// The validities and causes that are right for one filter at one display step, in the order of
// precedence; where a change may fall either side, both are.
import {
  CAUSE_BELOW_MINIMUM_SPEED,
  CAUSE_FUNCTIONAL_TEST,
  CAUSE_NONE,
  CAUSE_NO_REFERENCE,
  CAUSE_REFERENCE_LOST,
  CAUSE_RESPONSE,
  CAUSE_SETTLING,
  CAUSE_STOPPED,
  CAUSE_TRANSDUCER,
  FAILURE,
  FUNCTIONAL_TEST,
  NO_COMPUTED_DATA,
  VALID,
} from "../../shared/units.ts";
import type { Certainty } from "./reference.ts";

export interface ValidityFacts {
  test: Certainty;
  transducer: Certainty;
  reference: Certainty;
  hasBeenFound: Certainty;
  evidence: Certainty;
  belowMinimum: Certainty;
  responseLow: Certainty;
  settled: Certainty;
}

export interface Allowed {
  validity: number;
  cause: number;
}

function inverse(one: Certainty): Certainty {
  return one === "maybe" ? "maybe" : one === "yes" ? "no" : "yes";
}

/** What is right with these facts. */
export function allowedOf(facts: ValidityFacts): Allowed[] {
  const allowed: Allowed[] = [];
  const put = (validity: number, cause: number): void => {
    allowed.push({ validity, cause });
  };
  /** True where the matter is settled by this row. */
  const row = (holds: Certainty, validity: number, cause: number): boolean => {
    if (holds !== "no") put(validity, cause);
    return holds === "yes";
  };
  if (row(facts.test, FUNCTIONAL_TEST, CAUSE_FUNCTIONAL_TEST)) return allowed;
  if (row(facts.transducer, FAILURE, CAUSE_TRANSDUCER)) return allowed;
  if (facts.reference !== "yes") {
    if (facts.evidence !== "no") put(FAILURE, CAUSE_REFERENCE_LOST);
    if (facts.evidence !== "yes") {
      if (facts.hasBeenFound !== "no") put(NO_COMPUTED_DATA, CAUSE_STOPPED);
      if (facts.hasBeenFound !== "yes") put(NO_COMPUTED_DATA, CAUSE_NO_REFERENCE);
    }
    if (facts.reference === "no") return allowed;
  }
  if (row(facts.belowMinimum, NO_COMPUTED_DATA, CAUSE_BELOW_MINIMUM_SPEED)) return allowed;
  if (row(facts.responseLow, NO_COMPUTED_DATA, CAUSE_RESPONSE)) return allowed;
  if (row(inverse(facts.settled), NO_COMPUTED_DATA, CAUSE_SETTLING)) return allowed;
  put(VALID, CAUSE_NONE);
  return allowed;
}

/** Whether VALID is among them, and whether it is alone. */
export function validCertainty(allowed: Allowed[]): Certainty {
  if (!allowed.some((one) => one.validity === VALID)) return "no";
  return allowed.length === 1 ? "yes" : "maybe";
}
