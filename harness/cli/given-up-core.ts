// A core of the user's own that was given up: which option gives it more time.
import { CALL_MS_MAX, CUT_OFF_WORDS } from "../../host/call-limit.ts";
import { messageOf } from "../../host/error-message.ts";
import { TargetFailure } from "../run/run-case.ts";

/** For the help of every command that has --core. */
export const CORE_HELP =
  `A --core or FILE.wasm that does not come back from a call within ${CALL_MS_MAX / 1000} s, loading\n` +
  "included, is given up; --time-out states another time.";

/** Told where a core was given up. */
export const MORE_TIME = "--time-out gives it another time";

export const isGivenUp = (message: string): boolean => message.includes(CUT_OFF_WORDS);

/** What was thrown, with the option where it is of a core that was given up. */
export function withMoreTime(error: unknown): unknown {
  const said = messageOf(error);
  if (!isGivenUp(said)) return error;
  return new TargetFailure(`${said} (${MORE_TIME})`, { cause: error });
}
