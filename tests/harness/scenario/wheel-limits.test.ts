import { describe, expect, it } from "vitest";
import { complaints, scene } from "./scenario-kit.ts";

const shafts = (fields: string): { [key: string]: string } => ({
  speed: "",
  shafts: `shafts: { N1: { speed: 4800 r/min, ${fields} } }`,
});

describe("a shaft that cannot be made", () => {
  it.each<[string, { [key: string]: string }, RegExp]>([
    [
      "a tooth past the next",
      shafts("wheel: { bad tooth: { position: 20, offset: 6.1 deg } }"),
      /^case\.scenario\.yaml:9:\d+: offset puts a tooth past the next one: a pitch of this wheel is 6 deg$/,
    ],
    [
      "a wheel out of centre by more than it may be",
      shafts("wheel: { eccentricity: 60 deg }"),
      /^case\.scenario\.yaml:9:\d+: eccentricity puts a tooth past the next one/,
    ],
    [
      "ripple that runs backwards",
      shafts("torsional ripple: [ { order: 10, amplitude: 6 deg } ]"),
      /^case\.scenario\.yaml:9:\d+: torsional ripple turns the shaft backwards: .* 1\.05 of the speed/,
    ],
    [
      "more edges in a sample than a block holds",
      { speed: "speed: 1000000 r/min" },
      /^case\.scenario\.yaml:8:8: speed gives up to 81 edges within one sample .* a block holds 64$/,
    ],
  ])("[SCEN-024] %s is refused where it is written", (_what, lines, expected) => {
    expect(complaints(lines)).toMatch(expected);
  });

  it("[SCEN-024] what is just possible is taken", () => {
    expect(scene(shafts("wheel: { bad tooth: { position: 20, offset: 0.5 deg } }")).name).toBe(
      "case",
    );
    expect(scene(shafts("torsional ripple: [ { order: 3, amplitude: 1 deg } ]")).name).toBe("case");
  });
});
