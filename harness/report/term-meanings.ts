// What each term of a tolerance means, in one line: a name alone explains nothing to a newcomer.
import type { TermName } from "../truth/types.ts";

/** One line for every term that a tolerance can be made of. */
export const TERM_MEANINGS: Readonly<Record<TermName, string>> = {
  "edge clock": "An edge's time is known to one tick of the edge clock, and the angle with it.",
  "wheel error": "The positions of the tachometer's wheel are not evenly spaced.",
  "torsional ripple": "The shaft swings between two edges, where its angle is only interpolated.",
  "corners of the speed": "Where the acceleration changes, the interpolated angle cuts the corner.",
  "edge jitter to second order":
    "Edges that tremble smear an order and shorten it: what goes with the square of their error.",
  "ends between samples":
    "A revolution ends between two samples; the signal there is interpolated.",
  "acceleration within a segment": "The speed changes within the stretch that is summed as one.",
  "converter step": "The converter rounds every sample to whole steps.",
  "bridged edges": "Where edges did not come, the angle is carried across the gap.",
  "step between samples": "A jump of the signal falls between two samples.",
  "fault of the channel": "What a fault of the transducer leaves behind in the filter.",
  "single precision": "The firmware sums each revolution in 32-bit floating point.",
  "white noise": "Noise that passes the filter, up to what a whole suite may meet by chance.",
  "converter noise": "The converter's rounding where noise makes it random.",
  "edge jitter": "Edges that tremble move other components onto the tracked order, at random.",
  "which revolution counts": "A revolution ends so close to the step that it may count or not.",
  "level as single precision": "The level itself is a 32-bit number.",
};

/** How the terms make the tolerance. */
export const TERMS_RULE =
  "The sizes add up to the tolerance. A bound stands with the most that it can come to. Random " +
  "terms (white noise, converter noise, edge jitter) combine as the root of the sum of their " +
  "squares, times a factor that one suite in 100,000 exceeds; each has its part of that.";
