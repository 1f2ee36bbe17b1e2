// A small profile and scenarios as files, for tests that run the command.
import { writeFileSync } from "node:fs";
import { join } from "node:path";

export const SMALL_PROFILE = `
monitor: small
sample rate: 12.8 kHz
display period: 100 ms
channels:
  frame: { measures: velocity, range: 50 in/s pk }
shafts:
  N1: { positions: 1, lowest speed: 1200 r/min, highest speed: 7200 r/min }
filters:
  fan:
    order: 1
    bandwidth: 2 Hz
    level: in/s pk
    display: { scale: 2.5, step: 0.1, top: 10 }
    caution: { level: 5.0, hysteresis: 0.4, on-delay: 0.5 s, off-delay: 0.5 s }
`;

export interface ScenarioText {
  amplitude?: string;
  duration?: string;
  /** More lines at the end. */
  more?: string;
}

/** A held speed with one component. */
export function scenarioText({
  amplitude = "1 in/s pk",
  duration = "4 s",
  more = "",
}: ScenarioText = {}): string {
  return `
question: Does the number read the amplitude that was given?
profile: small.monitor.yaml
duration: ${duration}
speed: 4800 r/min
vibration:
  - { order: 1, amplitude: ${amplitude} }
${more}`;
}

/** Writes the profile and the scenarios, by name without ending. */
export function writeScenarios(folder: string, scenarios: Record<string, string>): void {
  writeFileSync(join(folder, "small.monitor.yaml"), SMALL_PROFILE);
  for (const [name, text] of Object.entries(scenarios)) {
    writeFileSync(join(folder, `${name}.scenario.yaml`), text);
  }
}
