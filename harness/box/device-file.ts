// A device's own specification from YAML: what a box that is not our algorithm promises, what is not
// known of it, how sure the stimulus is, and by which rule it is decided.
import { z } from "zod";
import { Complaints, parseLocated } from "../../host/profile/located-parse.ts";
import { choose, quantity, real, record, share } from "../../host/profile/fields.ts";
import { type Container, parseYaml, readSmallFile } from "../../host/profile/yaml-tree.ts";

/** JCGM 106:2012: 8.2 simple acceptance (the consumer shares the risk), 8.3 guarded acceptance. */
export const DECISION_RULES = ["guarded acceptance", "simple acceptance"] as const;
export type DecisionRule = (typeof DECISION_RULES)[number];

/** All in SI or display units as named. */
export interface DeviceSpecification {
  name: string;
  note: string;
  /** Undefined: not known. */
  filter: { kind: "two equal poles"; fullWidthHz: number } | undefined;
  /** Greatest error of the number: a share of what it should show, and so many display units. */
  accuracy: { share: number; units: number };
  displayStep: number;
  /** The number stands still here where it would be greater, display units; absent: the profile's. */
  displayTop?: number;
  updateRateHz: number;
  /** From the input to the number shown, beside the filter. */
  latency: { fromS: number; toS: number };
  /** Until a step has arrived within the accuracy. */
  settlingS: number;
  /** Share of the speed; absent: not stated. */
  speedShare?: number;
  /**
   * Expanded uncertainty of what is played, as a share, and of when it is played against the
   * times of readings; their coverage factor.
   */
  stimulus: { share: number; timeS: number; coverageFactor: number };
  decision: { rule: DecisionRule; guardFactor: number };
}

const time = (example: string) =>
  quantity({ dimensions: ["time"], timeUnit: "s", example, least: 0 });
const hertz = (example: string) =>
  quantity({ dimensions: ["frequency"], timeUnit: "s", example, above: 0 });

const KNOWN_FILTER = record(
  { kind: z.literal("two equal poles"), bandwidth: hertz("1 Hz") },
  {
    kind: "Two equal poles behind one another; others are unknown to the truth.",
    bandwidth: "Full width between the −3 dB points.",
  },
);

const UNKNOWN = z.literal("unknown");
type WrittenFilter = z.output<typeof UNKNOWN> | z.output<typeof KNOWN_FILTER>;

export function deviceSchema() {
  return record(
    {
      device: z.string().min(1),
      note: z.string().default(""),
      filter: choose<WrittenFilter>([UNKNOWN, KNOWN_FILTER], (value) =>
        typeof value === "string" ? UNKNOWN : KNOWN_FILTER,
      ),
      accuracy: record(
        { "of reading": share({ example: "5 %", most: 1 }), plus: real().min(0).default(0) },
        {
          "of reading": "Greatest error as a share of what the number should show.",
          plus: "And so many display units on top. Left out: 0.",
        },
      ),
      "display step": real().positive(),
      "display top": real().positive().optional(),
      "update rate": hertz("4 Hz"),
      latency: record(
        { from: time("0 s"), to: time("500 ms") },
        { from: "Earliest that the number follows its input.", to: "Latest." },
      ),
      settling: time("3 s"),
      "speed accuracy": share({ example: "0.5 %", most: 1 }).optional(),
      stimulus: record(
        {
          uncertainty: share({ example: "0.6 %", most: 1 }),
          "time uncertainty": time("10 ms").default(0),
          "coverage factor": real().positive().default(2),
        },
        {
          uncertainty: "Expanded uncertainty of what is played, as a share of it.",
          "time uncertainty":
            "Expanded uncertainty of a reading's time against what is played, beside what the " +
            "bursts tell. Left out: 0.",
          "coverage factor": "k of both uncertainties. Left out: 2.",
        },
      ),
      decision: record(
        {
          rule: z.enum(DECISION_RULES).default("guarded acceptance"),
          "guard factor": real().min(0).default(1),
        },
        {
          rule:
            "guarded acceptance: what lies within the guard band does not count as inside; simple " +
            "acceptance: the uncertainty is not weighed. Left out: guarded acceptance.",
          "guard factor": "Guard band over the expanded uncertainty of a reading. Left out: 1.",
        },
      ).default({ rule: "guarded acceptance", "guard factor": 1 }),
    },
    {
      device: "What the box is called.",
      note: "Anything worth knowing; shown in reports.",
      filter: "What is known of its filter; unknown: only settled stretches and steps are judged.",
      accuracy: "Greatest error of the number that it shows.",
      "display step": "The number moves by this, display units.",
      "display top": "The number ends here, display units. Left out: the profile's top.",
      "update rate": "How often the number is renewed.",
      latency: "How long after its input the number follows, beside the filter.",
      settling: "How long until a step has arrived within the accuracy.",
      "speed accuracy": "Greatest error of its speed, as a share. Left out: not judged.",
      stimulus: "How sure it is what the box is really played.",
      decision: "How it is decided near a limit (JCGM 106:2012).",
    },
  );
}

function build(root: { [key: string]: unknown }): DeviceSpecification {
  const written = parseLocated(deviceSchema(), root as Container);
  const complaints = new Complaints(root as Container);
  const { from, to } = written.latency;
  if (from > to) complaints.field(["latency", "from"], "must not be above to");
  const { "of reading": ofReading, plus } = written.accuracy;
  if (ofReading === 0 && plus === 0) complaints.field(["accuracy"], "must allow some error");
  complaints.finish();
  const { filter, decision, stimulus } = written;
  const speedShare = written["speed accuracy"];
  const displayTop = written["display top"];
  return {
    name: written.device,
    note: written.note,
    filter: filter === "unknown" ? undefined : { kind: filter.kind, fullWidthHz: filter.bandwidth },
    accuracy: { share: ofReading, units: plus },
    displayStep: written["display step"],
    ...(displayTop === undefined ? {} : { displayTop }),
    updateRateHz: written["update rate"],
    latency: { fromS: from, toS: to },
    settlingS: written.settling,
    ...(speedShare === undefined ? {} : { speedShare }),
    stimulus: {
      share: stimulus.uncertainty,
      timeS: stimulus["time uncertainty"],
      coverageFactor: stimulus["coverage factor"],
    },
    decision: { rule: decision.rule, guardFactor: decision["guard factor"] },
  };
}

/** From values that were read already. Errors: InputError with every complaint at its place. */
export function deviceOfTree(root: { [key: string]: unknown }): DeviceSpecification {
  return build(root);
}

/** From a file. Errors: InputError with every complaint, each with file, line and column. */
export function readDeviceFile(path: string): DeviceSpecification {
  return build(parseYaml(path, readSmallFile(path)));
}
