import { describe, expect, it } from "vitest";
import type { Complaint } from "../../../host/input-error.ts";
import { complaintText } from "../../../host/input-error.ts";
import { parseScenario } from "../../../harness/scenario/scenario-reader.ts";
import { complaints, scenarioText } from "./scenario-kit.ts";

/** What `check` warns of: allowed, and seldom meant. */
function warnings(lines: { [key: string]: string }): string[] {
  const found: string[] = [];
  const onWarning = (one: Complaint): void => void found.push(complaintText(one));
  parseScenario("case.scenario.yaml", scenarioText(lines), { onWarning });
  return found;
}

describe("a speed against the range of the profile", () => {
  const RANGE = 'shaft "N1" has a reference from 300 r/min to 24000 r/min in the profile';
  it.each<[string, { [key: string]: string }, string[]]>([
    [
      "is held above it",
      { speed: "speed: 30000 r/min" },
      [`:8:8: speed is never below 30000 r/min; ${RANGE}: there is no number at any time`],
    ],
    [
      "is held below it",
      { speed: "speed: 100 r/min" },
      [`:8:8: speed is never above 100 r/min; ${RANGE}: there is no number at any time`],
    ],
    [
      "is passed by a ramp",
      { speed: "speed: [ { start: 4800 r/min }, { to: 30000 r/min, over: 20 s } ]" },
      [
        ':8:33: row 2 of speed goes up to 30000 r/min; the highest speed of shaft "N1" in the ' +
          "profile is 24000 r/min: there is no number above it",
      ],
    ],
    [
      "is passed by a row of a table",
      {
        speed:
          "speed: [ { at: 0 s, speed: 4800 r/min }, { at: 15 s, speed: 25000 r/min }, " +
          "{ at: 29 s, speed: 4800 r/min } ]",
      },
      [":8:42: row 2 of speed goes up to 25000 r/min; the highest"],
    ],
    [
      "is passed by a cell",
      { speed: "speed: $n", cases: "cases: [ [ case, n ], [ fast, 25000 r/min ] ]" },
      [":10:31: speed is never below 25000 r/min"],
    ],
    [
      "changes faster than the profile's shaft may",
      { speed: "speed: [ { start: 4800 r/min }, { to: 9600 r/min, over: 2 s } ]" },
      [
        ':8:33: row 2 of speed changes by 40 rev/s²; the greatest acceleration of shaft "N1" in ' +
          "the profile is 30 rev/s²: the reference may be lost, and the number with it",
      ],
    ],
    [
      "changes as fast as it may",
      { speed: "speed: [ { start: 4800 r/min }, { to: 8400 r/min, over: 2 s } ]" },
      [],
    ],
    [
      "is started from below",
      { speed: "speed: [ { start: 0 r/min }, { to: 4800 r/min, over: 9 s } ]" },
      [],
    ],
    ["is not asked for: at rest", { speed: "speed: 0 r/min" }, []],
    [
      "would be passed after the end",
      { speed: "speed: [ { start: 4800 r/min }, { to: 30000 r/min, over: 90 s } ]" },
      [":8:1: speed goes on to 90 s; the scenario ends at 30 s"],
    ],
    [
      "is read otherwise by the wrong wheel",
      { speed: "", shafts: "shafts: { N1: { speed: 30000 r/min, wheel: { positions: 30 } } }" },
      [],
    ],
  ])("[SCEN-023] %s", (_name, lines, starts) => {
    const found = warnings(lines);
    expect(found).toHaveLength(starts.length);
    for (const [i, start] of starts.entries()) {
      expect(found[i]).toContain(`case.scenario.yaml${start}`);
    }
  });
});

describe("what does not fit the scenario or its channel", () => {
  it.each<[string, { [key: string]: string }, string[]]>([
    [
      "a window that goes on after the end",
      { expect: "expect: { caution on: [ { from: 1 s, until: 40 s } ] }" },
      ["until lies after the end of the scenario"],
    ],
    ["a window without an end", { expect: "expect: { caution on: [ { from: 1 s } ] }" }, []],
    [
      "an amplitude over the range",
      { vibration: "vibration: [ { order: 1, amplitude: 300 in/s pk } ]" },
      ['amplitude reaches the range of channel "'],
    ],
    [
      "a step over the range",
      {
        vibration:
          "vibration: [ { order: 1, steps: [ { at: 0 s, amplitude: 1 in/s pk }, " +
          "{ at: 1 s, amplitude: 300 in/s pk } ] } ]",
      },
      ['amplitude reaches the range of channel "'],
    ],
  ])("[SCEN-026] %s is warned of with its place", (_name, lines, said) => {
    const found = warnings(lines);
    expect(found).toHaveLength(said.length);
    said.forEach((text, i) => {
      expect(found[i]).toMatch(/^case\.scenario\.yaml:\d+:\d+: /);
      expect(found[i]).toContain(text);
    });
  });

  it("[SCEN-027] a window that begins after the end can never be right", () => {
    const lines = { expect: "expect: { caution on: [ { from: 31 s, until: 40 s } ] }" };
    expect(complaints(lines)).toContain("from must be before the end of the scenario");
  });
});
