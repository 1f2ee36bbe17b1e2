// A case result made up by hand, for tests of results and report: a level that rises over the caution
// level, is lost for a while, and falls.
import * as U from "../../shared/units.ts";
import type { CheckResult, FilterResult, Trace } from "../../harness/judge/types.ts";
import { RESULTS_VERSION, type CaseResult } from "../../harness/results/types.ts";
import { cleanCounters } from "./clean-counters.ts";

const STEPS = 1600;
const PERIOD_S = 0.05;
const CAUTION = 5;
const CAUTION_END = 4.6;

function sampleTrace(): Trace {
  const trace: Trace = {
    timeS: [],
    level: [],
    truth: [],
    tolerance: [],
    shown: [],
    speedRevPerS: [],
    phaseLagDeg: [],
    cautionState: [],
    cautionAllowed: [],
    validity: [],
  };
  for (let i = 1; i <= STEPS; i += 1) {
    const t = i * PERIOD_S;
    const level = 0.4 + 1.3 * Math.exp(-(((t - 38) / 11) ** 2)) + 0.05 * Math.sin(t);
    const isLost = t < 4 || (t > 52 && t < 58);
    const shown = Math.round(level * 40) / 10;
    const isOn = !isLost && t > 33.4 && t < 52;
    trace.timeS.push(t);
    trace.truth.push(isLost ? 0 : level);
    trace.tolerance.push(isLost ? -1 : 0.012 + 0.01 * level);
    trace.level.push(isLost ? 0 : level + 0.008 * Math.sin(7 * t) + (t > 60 ? 0.016 : 0));
    trace.shown.push(isLost ? -1 : shown);
    trace.speedRevPerS.push(20 + Math.min(70, t * 1.5));
    trace.phaseLagDeg.push((t * 3) % 360);
    trace.cautionAllowed.push(Math.abs(t - 33.4) < 0.8 ? 2 : isOn ? 1 : 0);
    let state = U.CAUTION_OFF;
    if (t > 30.4 && t <= 33.4) state = U.CAUTION_TIMING_ON;
    if (isOn) state = t > 47 ? (t > 49 ? U.CAUTION_TIMING_OFF : U.CAUTION_HELD) : U.CAUTION_ON;
    trace.cautionState.push(state);
    trace.validity.push(t < 4 ? U.NO_COMPUTED_DATA : isLost ? U.FAILURE : U.VALID);
  }
  return trace;
}

/** A check that is right by a wide margin. */
export function sampleCheck(changes: Partial<CheckResult> = {}): CheckResult {
  return {
    check: "level",
    source: 0,
    isRight: true,
    judgedCount: 1400,
    wrongCount: 0,
    worstRatio: 0.82,
    worstError: 0.0241,
    worstTolerance: 0.0294,
    worstTimeS: 61.25,
    unit: "in/s pk",
    smallestCaught: 0.0309,
    why: "Every level lies within its tolerance.",
    ...changes,
  };
}

function sampleFilter(): FilterResult {
  return {
    filter: 0,
    name: "fan, front",
    unit: "in/s pk",
    trace: sampleTrace(),
    nearest: {
      step: 1225,
      timeS: 61.25,
      error: 0.018532,
      tolerance: 0.0226,
      terms: [
        { name: "white noise", value: 0.0121 },
        { name: "wheel error", value: 0.0094 },
        { name: "edge clock", value: 0.0011 },
      ],
    },
    shownRange: { least: 1.4, most: 7 },
    cautionLevel: CAUTION,
    cautionEnd: CAUTION_END,
    displayStep: 0.1,
    eitherShare: 0.02,
    toleranceShare: 0.017,
  };
}

/** How the made-up case is run again. */
export const SAMPLE_REPEAT = "npx amberline demo --only 'a blade binds at start' --seed 1";

/** The made-up case; `changes` replace whole fields. */
export function sampleCase(changes: Partial<CaseResult> = {}): CaseResult {
  return {
    resultsVersion: RESULTS_VERSION,
    id: "0123456789abcdef",
    name: "a blade binds at start",
    question: "Does the caution come within its interval when the unbalance steps up in the climb?",
    requirements: ["LEVEL-003", "CAUT-001"],
    seed: 1234567,
    target: { kind: "core", identity: "fedcba9876543210", numericsVersion: 1 },
    durationS: STEPS * PERIOD_S,
    sampleRateHz: 12800,
    timeUnit: "s",
    profileName: "survey twin, fan",
    played: [
      { of: "shaft N1", what: "speed", value: "1200 r/min, to 5400 r/min at 46 s, held" },
      { of: "channel front", what: "noise", value: "white, 0.04 g rms" },
    ],
    settings: [
      {
        number: "fan, front",
        tracks: "order 1 of N1 in front, 1 Hz wide",
        display: "× 4 per in/s pk; step 0.1, top 10",
        caution: "from 5 up, ends below 4.6; on after 3 s, off after 5 s",
      },
    ],
    verdict: {
      isRight: true,
      isCanary: false,
      checks: [
        sampleCheck(),
        sampleCheck({ check: "phase", unit: "°", worstError: 0.4, worstTolerance: 1.1 }),
        sampleCheck({ check: "caution", unit: "s", worstTolerance: 0, smallestCaught: 0.05 }),
      ],
      filters: [sampleFilter()],
      events: [
        sampleEvent("reference-found", 1.8),
        sampleEvent("caution-on", 33.4),
        sampleEvent("caution-ended-invalid", 52.05),
      ],
      exceedances: [
        {
          filter: 0,
          onsetS: 30.4,
          endS: 47,
          peakS: 38.1,
          peakLevel: 1.74,
          peakShown: 7,
          speedAtPeakRevPerS: 77.2,
          timeAboveS: 16.6,
        },
      ],
    },
    counters: cleanCounters({
      blocks: 8000,
      samples: 1_024_000,
      edges: [200_000, 0],
      revolutions: [4000, 0],
    }),
    ...changes,
  };
}

function sampleEvent(name: string, timeS: number) {
  const isOfShaft = name.startsWith("reference");
  const of = isOfShaft ? "shaft N1" : "fan, front";
  const what = { name, source: 0, of, timeS, detail: 0, detailText: "" };
  return { ...what, speedRevPerS: 70, level: 1.3, isExpected: true };
}
