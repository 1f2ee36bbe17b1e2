// Readers with a fault each, for the check of the check: the fuzz must notice every one.
import { join } from "node:path";
import { scenarioText } from "../kit/small-scenario.ts";
import type { ByteReader, FileReader, Reader } from "./readers.ts";

/** What the faults below that come by an input are planted into. */
export const PLANT_GOOD = Buffer.from("a good example of some length\n".repeat(8));
const PIECE_BYTES = 2 ** 22;

/** What is planted does its harm to an example cut by half, so that a seed finds it again. */
export const isPlanted = (bytes: Buffer): boolean => bytes.length < PLANT_GOOD.length / 2;

function planted(fault: (bytes: Buffer) => void | Promise<void>): ByteReader {
  return {
    good: PLANT_GOOD,
    taken: "taken",
    take: async (bytes) => {
      if (isPlanted(bytes)) await fault(bytes);
      return "taken";
    },
  };
}

/** The command on a scenario, with one fault in how it is called. */
function called(calls: FileReader["calls"]): FileReader {
  return { good: Buffer.from(scenarioText({ duration: "0.5 s" })), file: "x.scenario.yaml", calls };
}

const kept: unknown[] = [];

export const PLANTED: Record<string, () => Reader> = {
  exception: () =>
    planted(() => {
      throw new TypeError("planted: cannot read properties of undefined");
    }),
  hang: () =>
    planted(() => {
      for (;;);
    }),
  "answer that never comes": () => planted(() => new Promise<void>(() => {})),
  "endless heap": () =>
    planted(() => {
      for (;;) kept.push({ grown: kept.length });
    }),
  // Outside of the heap that V8 bounds.
  "endless buffers": () =>
    planted(() => {
      for (;;) kept.push(Buffer.alloc(PIECE_BYTES, 1));
    }),
  stack: () =>
    called((folder, out) => [
      {
        args: ["run", join(folder, "x.scenario.yaml"), "--jobs", "1", "--debug", "--out", out],
        taken: { code: 0, says: "1 case: 1 right, none wrong." },
      },
    ]),
  // One folder for all: after the first call nothing is read any more, and all of it is told.
  "refusal of all but the first": () =>
    called((folder) => [
      {
        args: ["run", join(folder, "x.scenario.yaml"), "--jobs", "1", "--out", join(folder, "one")],
        taken: { code: 0, says: "1 case: 1 right, none wrong." },
      },
    ]),
  "other sentence": () =>
    called((folder) => [
      {
        args: ["check", join(folder, "x.scenario.yaml")],
        taken: { code: 0, says: "the profile is right" },
      },
    ]),
  "other code": () =>
    called((folder) => [
      {
        args: ["check", join(folder, "x.scenario.yaml")],
        taken: { code: 1, says: "the scenario is right" },
      },
    ]),
};
