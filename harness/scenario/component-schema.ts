// Components of a channel's vibration as a person writes them: orders, tones, a rotor, noise.
import { z } from "zod";
import type { Amount } from "../../host/quantity.ts";
import {
  choose,
  chooseByKey,
  quantity,
  real,
  record,
  share,
  vibration,
  whole,
} from "../../host/profile/fields.ts";
import type { TimeUnit } from "../../host/profile/profile-schema.ts";
import { ANGLE, timedFields } from "../../host/profile/profile-schema.ts";
import {
  NOISE_WORDS,
  ORDER_WORDS,
  ROTOR_COMPONENT_WORDS,
  ROTOR_WORDS,
  ROW_WORDS,
  TONE_WORDS,
  UNBALANCE_ROW_WORDS,
  UNBALANCE_WORDS,
} from "./scenario-words.ts";

const PHASE = ANGLE.default(0);

/** What a part of a vibration is of stands around it. */
const ELSEWHERE = {
  channel: "it stands around the vibration: channels: { NAME: { vibration: [ … ] } }",
};

export interface WrittenRow {
  at: number;
  amplitude: Amount;
  "phase lag": number;
}
export interface WrittenOrder {
  order: number;
  shaft?: string | undefined;
  amplitude?: Amount | undefined;
  "phase lag": number;
  "power of speed"?: number | undefined;
  "at speed"?: number | undefined;
  steps?: WrittenRow[] | undefined;
  lines?: WrittenRow[] | undefined;
}
export interface WrittenTone {
  tone: number;
  amplitude: Amount;
  "phase lag": number;
}
export interface WrittenUnbalance {
  at: number;
  amount: number;
  angle: number;
}
export interface WrittenRotor {
  rotor: {
    shaft?: string | undefined;
    "modal mass": number;
    "natural frequency"?: number | undefined;
    "critical speed"?: number | undefined;
    "damping ratio": number;
    unbalance: WrittenUnbalance[];
  };
}
export interface WrittenNoise {
  noise: Amount;
}
export type WrittenComponent = WrittenOrder | WrittenTone | WrittenRotor | WrittenNoise;

function unbalanceField(timeUnit: TimeUnit) {
  const amountField = quantity({ dimensions: ["unbalance"], example: "1000 g mm", least: 0 });
  const one = record({ amount: amountField, angle: ANGLE.default(0) }, UNBALANCE_WORDS).transform(
    (vector) => [{ at: 0, ...vector }],
  );
  const rows = z
    .array(
      record(
        {
          at: timedFields(timeUnit).time("5 s"),
          amount: amountField,
          angle: ANGLE.default(0),
        },
        UNBALANCE_ROW_WORDS,
      ),
    )
    .min(1);
  return choose<WrittenUnbalance[]>([one, rows], (value) => (Array.isArray(value) ? rows : one));
}

export function componentField(timeUnit: TimeUnit): z.ZodType<WrittenComponent> {
  const { time, speed, frequency } = timedFields(timeUnit);
  const rows = () =>
    z
      .array(
        record(
          { at: time("0 s"), amplitude: vibration("1.2 in/s pk"), "phase lag": PHASE },
          ROW_WORDS,
        ),
      )
      .min(1);
  const rotor = record(
    {
      shaft: z.string().optional(),
      "modal mass": quantity({ dimensions: ["mass"], example: "150 kg", above: 0 }),
      "natural frequency": frequency("66 Hz").optional(),
      "critical speed": speed({ above: 0 }).optional(),
      "damping ratio": share({ above: 0, most: 0.999, example: "3 %" }),
      unbalance: unbalanceField(timeUnit),
    },
    ROTOR_WORDS,
  );
  return chooseByKey<WrittenComponent>({
    order: record(
      {
        order: real().positive().max(1000),
        shaft: z.string().optional(),
        amplitude: vibration("1.2 in/s pk").optional(),
        "phase lag": PHASE,
        "power of speed": whole(0, 2).optional(),
        "at speed": speed({ above: 0 }).optional(),
        steps: rows().optional(),
        lines: rows().optional(),
      },
      ORDER_WORDS,
      ELSEWHERE,
    ),
    tone: record(
      {
        tone: frequency("120 Hz"),
        amplitude: vibration("0.05 in/s pk"),
        "phase lag": PHASE,
      },
      TONE_WORDS,
      ELSEWHERE,
    ),
    rotor: record({ rotor }, ROTOR_COMPONENT_WORDS, ELSEWHERE),
    noise: record({ noise: vibration("0.02 in/s rms", ["rms"]) }, NOISE_WORDS, ELSEWHERE),
  });
}
