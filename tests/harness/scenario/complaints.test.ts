import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { readDeviceFile } from "../../../harness/box/device-file.ts";
import { complaints, PROFILE, scene, scenes } from "./scenario-kit.ts";

describe("what samples can carry", () => {
  it("[SCEN-025] an order is held against the speed that is reached, not that which would be", () => {
    const speed = "speed: [ { start: 80 rev/s }, { to: 90 rev/s, over: 300 s } ]";
    // 30 s of 300: 81 rev/s, and 79 of them lie under 6400 Hz.
    const lines = { speed, vibration: "vibration: [ { order: 79, amplitude: 1 m/s pk } ]" };
    expect(complaints(lines)).toBe("");
    expect(complaints({ ...lines, duration: "duration: 60 s" })).toContain("found 6478 Hz");
  });
});

describe("unknown keys", () => {
  const vibration = (entry: string): { vibration: string } => ({
    vibration: `vibration: [ ${entry} ]`,
  });

  it.each<[string, { [key: string]: string }, string]>([
    [
      "a word of a key",
      vibration("{ order: 1, amplitude: 1 m/s pk, power: 2 }"),
      '"power" (did you mean "power of speed"?)',
    ],
    [
      "a word of two keys",
      vibration("{ order: 1, amplitude: 1 m/s pk, speed: 2 rev/s }"),
      '"speed" (did you mean "power of speed" or "at speed"?)',
    ],
    [
      "what stands around it",
      vibration("{ order: 1, amplitude: 1 m/s pk, channel: frame }"),
      '"channel" (it stands around the vibration: channels: { NAME: { vibration: [ … ] } })',
    ],
    [
      "a noise's channel",
      vibration("{ noise: 1 m/s rms, channel: frame }"),
      '"channel" (it stands around the vibration: channels: { NAME: { vibration: [ … ] } })',
    ],
    [
      "nothing near",
      vibration("{ tone: 9 Hz, amplitude: 1 m/s pk, colour: 1 }"),
      '"colour" (allowed: tone, amplitude, phase lag)',
    ],
    [
      "a key of the profile",
      { profile: PROFILE.trimEnd().replace("positions: 60", "edge limit: 1") },
      '"edge limit" (did you mean "edge tolerance"?)',
    ],
  ])("[SCEN-046] says what may stand there: %s", (_name, lines, words) => {
    expect(complaints(lines)).toContain(`unknown key ${words}`);
  });

  it("[SCEN-046] says it of a device file too", () => {
    const folder = mkdtempSync(join(tmpdir(), "amberline-device-"));
    const path = join(folder, "a.device.yaml");
    writeFileSync(path, "device: x\nrate: 4 Hz\n");
    expect(() => readDeviceFile(path)).toThrow(
      /:2:1: unknown key "rate" \(did you mean "update rate"\?\)/,
    );
    rmSync(folder, { recursive: true });
  });
});

describe("complaints of a scenario", () => {
  it.each<[string, { [key: string]: string }, RegExp]>([
    [
      "a negative speed",
      { speed: "speed: -5 r/min" },
      /^case\.scenario\.yaml:8:8: speed must be >= 0 r\/min, found "-5 r\/min"$/,
    ],
    [
      "a bare number",
      { speed: "speed: 4800" },
      /:8:8: speed needs a unit \(r\/min, rev\/s\), found 4800$/,
    ],
    [
      "an unknown key",
      { duration: "duration: 30 s\nquestoin: x" },
      /:8:1: unknown key "questoin" \(did you mean "question"\?\)$/,
    ],
    [
      "an unknown component",
      { vibration: "vibration: [ { ordre: 1 } ]" },
      /:9:14: row 1 of vibration must hold one of order, tone, rotor, noise \(did you mean "order"\?\)$/,
    ],
    [
      "two components in one",
      { vibration: "vibration: [ { order: 1, noise: 1 m/s rms } ]" },
      /may hold only one of order, tone, rotor, noise; found|may hold only one of order/,
    ],
    [
      "an amplitude given twice",
      {
        vibration:
          "vibration: [ { order: 1, amplitude: 1 m/s pk, steps: [ { at: 0 s, amplitude: 1 m/s pk } ] } ]",
      },
      /must hold one of amplitude, steps, lines; found amplitude and steps$/,
    ],
    [
      "rows out of order",
      {
        vibration:
          "vibration: [ { order: 1, lines: [ { at: 0 s, amplitude: 1 m/s pk }, { at: 0 s, amplitude: 1 m/s pk } ] } ]",
      },
      /at must be later than the row before$/,
    ],
    [
      "a derivative that the channel cannot see",
      { vibration: "vibration: [ { order: 1, amplitude: 1 g pk } ]" },
      /amplitude is acceleration, but "frame" measures velocity/,
    ],
    [
      "a converter whose step the target does not know",
      {
        vibration: "",
        channels: "channels: { frame: { converter: { format: i16, step: 0.01 m/s } } }",
      },
      /step must be the profile's count step, by which the target reads the counts/,
    ],
    [
      "a count that is not finite",
      {
        vibration: "",
        channels:
          "channels: { frame: { converter: { format: i16 }, faults: [ { fault: not finite, at: 1 s } ] } }",
      },
      /fault cannot be "not finite" where the converter gives counts$/,
    ],
    [
      "a speed held at the lowest speed of the reference",
      { speed: "speed: 300 r/min" },
      /:8:8: speed is held at 300 r\/min, so near the lowest speed of shaft "N1" \(300 r\/min\) that/,
    ],
    [
      "a speed that comes to rest on the highest speed of the reference",
      { speed: "speed: [ { start: 4800 r/min }, { to: 23999 r/min, over: 10 s } ]" },
      /:8:33: row 2 of speed is held at 23999 r\/min, so near the highest .* keep 0\.1 % away from it$/,
    ],
    [
      "a speed held in the band of a wheel's jitter",
      {
        speed: "",
        shafts: "shafts: { N1: { speed: 23800 r/min, wheel: { jitter: 0.1 us } } }",
      },
      /:9:24: speed is held at 23800 .* the reference, as its wheel is stated, may .* keep 1\.5 % away/,
    ],
    [
      "a speed held in the band of a bad tooth",
      {
        speed: "",
        shafts:
          "shafts: { N1: { speed: 23900 r/min, wheel: { bad tooth: { position: 3, offset: 0.1 deg } } } }",
      },
      /keep 0\.85 % away from it$/,
    ],
    [
      "a speed held in the band of a ripple",
      {
        speed: "",
        shafts:
          "shafts: { N1: { speed: 23900 r/min, torsional ripple: [ { order: 2, amplitude: 0.2 deg } ] } }",
      },
      /keep 0\.72 % away from it$/,
    ],
    [
      "noise in another quantity",
      { vibration: "vibration: [ { noise: 1 g rms } ]" },
      /noise must be in the channel's own quantity, velocity$/,
    ],
    [
      "a rotor with two frequencies",
      {
        vibration:
          "vibration: [ { rotor: { modal mass: 1 kg, natural frequency: 1 Hz, critical speed: 60 r/min, damping ratio: 3 %, unbalance: { amount: 1 g mm } } } ]",
      },
      /rotor must hold either natural frequency or critical speed$/,
    ],
    [
      "a growth without its speed",
      { vibration: "vibration: [ { order: 1, amplitude: 1 m/s pk, power of speed: 2 } ]" },
      /row 1 of vibration has power of speed without at speed; they go together$/,
    ],
    [
      "a speed without its growth",
      { vibration: "vibration: [ { order: 1, amplitude: 1 m/s pk, at speed: 80 rev/s } ]" },
      /row 1 of vibration has at speed without power of speed; they go together$/,
    ],
    [
      "a ramp without a length",
      { speed: "speed: [ { start: 4800 r/min }, { to: 5000 r/min } ]" },
      /:8:33: row 2 of speed needs how long it takes \(over\), or how fast it goes \(rate\)$/,
    ],
    [
      "a ramp with two lengths",
      { speed: "speed: [ { start: 80 rev/s }, { to: 90 rev/s, over: 9 s, rate: 1 rev/s² } ]" },
      /row 2 of speed may hold only one of over and rate$/,
    ],
    [
      "a rate of change without its time",
      { speed: "speed: [ { start: 80 rev/s }, { to: 90 rev/s, rate: 50 r/min } ]" },
      /rate must be in rev\/s², r\/min\/s; "50 r\/min" is a speed; write "r\/min\/s"$/,
    ],
    [
      "a decimal comma within braces",
      { vibration: "vibration: [ { tone: 400 Hz, amplitude: 0,1 in/s pk } ]" },
      /unknown key "1 in\/s pk" \(a comma parts entries; decimals have a point\)$/,
    ],
    [
      "a tone from half the sample rate on",
      { vibration: "vibration: [ { tone: 6.4 kHz, amplitude: 1 m/s pk } ]" },
      /:9:22: tone must stay below half the sample rate, 6400 Hz; found 6400 Hz, which samples do not/,
    ],
    [
      "an order that comes to half the sample rate",
      {
        speed: "speed: [ { start: 80 rev/s }, { to: 81 rev/s, over: 9 s } ]",
        vibration: "vibration: [ { order: 79.5, amplitude: 1 m/s pk } ]",
      },
      /:9:23: order must stay below half the sample rate, 6400 Hz; found 6439\.5 Hz at the highest speed/,
    ],
    [
      "a speed that does not start",
      { speed: "speed: [ { hold: 5 s } ]" },
      /row 1 of speed must be a start/,
    ],
    [
      "a shaft that is not there",
      { speed: "", shafts: "shafts: { N1: { speed: 1 rev/s }, N2: { speed: 1 rev/s } }" },
      /the profile has no shaft "N2"$/,
    ],
    ["no speed at all", { speed: "" }, /speed of shaft "N1" is missing$/],
    ["a speed twice", { shafts: "shafts: { N1: { speed: 1 rev/s } }" }, /speed contradicts shafts/],
    [
      "a channel that is not there",
      { channels: "channels: { fram: {} }" },
      /the profile has no channel "fram"/,
    ],
    [
      "a fault without a kind",
      { vibration: "", channels: "channels: { frame: { faults: [ { level: 1 m/s } ] } }" },
      /fault is missing \(clip, flat, bias/,
    ],
    [
      "a fault of an unknown kind",
      { vibration: "", channels: "channels: { frame: { faults: [ { fault: clipp } ] } }" },
      /fault is not known: found "clipp" \(did you mean "clip"\?\)$/,
    ],
    [
      "a fault after the end",
      {
        speed: "",
        shafts: "shafts: { N1: { speed: 1 rev/s, faults: [ { fault: glitch, at: 31 s } ] } }",
      },
      /at must be before the end of the scenario$/,
    ],
    [
      "a position off the wheel",
      {
        speed: "",
        shafts:
          "shafts: { N1: { speed: 1 rev/s, faults: [ { fault: glitch, at: 1 s, position: 60 } ] } }",
      },
      /position must be a position of the wheel, 0 to 59, found 60$/,
    ],
    [
      "a span that ends before it starts",
      { expect: "expect: { caution on: [ { from: 8 s, until: 5 s } ] }" },
      /from must be before until$/,
    ],
    [
      "a plant without a canary",
      { expect: "expect: { plant: { alteration: level, amount: 2 } }" },
      /plant needs a canary/,
    ],
    [
      "a counter without a limit",
      { expect: "expect: { counters: [ { counter: edges } ] }" },
      /needs at least or at most$/,
    ],
    [
      "a source of the whole device",
      { expect: "expect: { events: [ { event: test-on, of: fan } ] }" },
      /of must be left out: the whole device$/,
    ],
    [
      "no profile",
      { profile: "" },
      /^case\.scenario\.yaml:1:1: profile must be a file name or a whole profile$/,
    ],
    [
      "a profile that is not there",
      { profile: "profile: missing.monitor.yaml" },
      /^case\.scenario\.yaml:2:10: profile "missing\.monitor\.yaml" does not exist$/,
    ],
    [
      "a mistake inside the profile",
      { profile: PROFILE.trimEnd().replace("60,", "0,") },
      /:5:55: positions must be >= 1, found 0$/,
    ],
    [
      "a mistake in a change to the profile",
      { changes: "profile changes: { shafts: { N1: { positions: 3 } } }" },
      /:\d+:\d+: index missing tooth needs 4 positions, found 3$/,
    ],
    [
      "a time in samples",
      { duration: "duration: 400 samples" },
      /duration must be in s, ms, us, min, h; "400 samples" is a time in samples$/,
    ],
    [
      "a scenario too short to judge",
      { duration: "duration: 250 ms" },
      /duration must be longer than the display period, 0\.25 s; found 0\.\d+ s$/,
    ],
    [
      "a unit of angle for a share",
      { expect: "expect: { undecided share: 3 deg }" },
      /undecided share must be in %; "3 deg" is a angle$|undecided share must be in %/,
    ],
  ])("[SCEN-020] %s", (_name, lines, sentence) => {
    expect(complaints(lines)).toMatch(sentence);
  });

  it("[SCEN-021] a profile with two shafts asks for each speed by name", () => {
    const two = PROFILE.trimEnd().replace("missing tooth }", "missing tooth }, N2: {}");
    const withShaft = two.replace("filters: { fan: {", "filters: { fan: { shaft: N1,");
    expect(complaints({ profile: withShaft })).toMatch(
      /speed is for a profile with one shaft; use shafts \(N1, N2\)/,
    );
    expect(
      complaints({
        profile: withShaft,
        speed: "",
        shafts: "shafts: { N1: { speed: 1 rev/s }, N2: { speed: 2 rev/s } }",
      }),
    ).toMatch(/row 1 of vibration|shaft is missing \(N1, N2\)/);
  });

  it("[SCEN-022] the same case has the same scene, whatever else is in the file", () => {
    expect(scenes({}, 7)).toEqual(scenes({}, 7));
    expect(scene().seed).not.toBe(scenes({}, 7)[0]!.seed);
  });
});
