// A profile and a scenario to alter, one line at a time.
import { InputError } from "../../../host/input-error.ts";
import { parseScenario } from "../../../harness/scenario/scenario-reader.ts";
import type { Scene } from "../../../harness/scene/scene.ts";

export const PROFILE = `profile:
  monitor: test
  channels: { frame: { measures: velocity, range: 50 in/s pk } }
  shafts: { N1: { lowest speed: 300 r/min, positions: 60, index: missing tooth } }
  filters: { fan: { caution: { level: 4 } } }
`;

/** A scenario of one dwell, with lines put in its place or added. */
export function scenarioText(lines: { [key: string]: string } = {}): string {
  const all: { [key: string]: string } = {
    question: "question: Does it read?",
    profile: PROFILE.trimEnd(),
    duration: "duration: 30 s",
    speed: "speed: 4800 r/min",
    vibration: "vibration: [ { order: 1, amplitude: 1 in/s pk } ]",
    ...lines,
  };
  return `${Object.values(all)
    .filter((line) => line !== "")
    .join("\n")}\n`;
}

export function scenes(lines: { [key: string]: string } = {}, seed?: number): Scene[] {
  return parseScenario(
    "case.scenario.yaml",
    scenarioText(lines),
    seed === undefined ? {} : { seed },
  );
}

export function scene(lines: { [key: string]: string } = {}): Scene {
  return scenes(lines)[0]!;
}

/** What is refused, all complaints joined by line breaks; empty where nothing is. */
export function complaints(lines: { [key: string]: string }): string {
  try {
    scenes(lines);
  } catch (error) {
    if (error instanceof InputError) return error.message;
    throw error;
  }
  return "";
}
