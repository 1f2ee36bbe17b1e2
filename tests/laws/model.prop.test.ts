// The display step against a model of its own over a million steps, every byte of every record.
import { readFileSync } from "node:fs";
import { beforeAll, expect, test } from "vitest";
import * as L from "../../shared/layout.ts";
import { decodeRecords } from "../../host/records.ts";
import { openStep, type StepStage } from "../assembly/kit/step-stage.ts";
import { TEST_SEED } from "../kit/seed.ts";
import { DeviceModel } from "./model.ts";
import type { Wanted } from "./model-types.ts";
import { deviceRules, Draw, RandomFacts } from "./random-device.ts";
import { configureStep, putWanted, takeStep } from "./step-device.ts";

const DEVICES = 2000;
const STEPS = 500; // a million display steps in all, three displays each
const RECORDS_OF_STEP_MAX = 64;
/** Half a minute of work; a machine that does much else may take its time. */
const TIME_OUT_MS = 900_000;

let stage: StepStage;
beforeAll(async () => {
  stage = await openStep("release");
});

const wantedBytes = new Uint8Array(RECORDS_OF_STEP_MAX * L.RECORD_BYTES);
const wantedView = new DataView(wantedBytes.buffer);

/** How often what was told came, by kind, code, cause, state and bit. */
class Seen {
  readonly counts = new Map<string, number>();
  #add(what: string): void {
    this.counts.set(what, (this.counts.get(what) ?? 0) + 1);
  }
  take(one: Wanted): void {
    if (one.kind === L.RECORD_EVENT) this.#add(`event ${one.code}`);
    if (one.kind === L.RECORD_EXCEEDANCE) this.#add("exceedance");
    if (one.status === undefined) return;
    const [validity, cause, state, bits] = one.status;
    this.#add(`validity ${validity}`);
    this.#add(`cause ${cause}`);
    this.#add(`state ${state}`);
    for (let bit = 1; bit < 128; bit *= 2) if ((bits! & bit) !== 0) this.#add(`bit ${bit}`);
  }
}

function compareStep(wanted: Wanted[], sequence: number, tick: number, where: string): void {
  const at = stage.run.addressRecords();
  const length = stage.run.recordsCount() * L.RECORD_BYTES;
  wanted.forEach((one, i) => putWanted(wantedView, i * L.RECORD_BYTES, one, sequence + i, tick));
  const found = Buffer.from(stage.view.buffer, at, length);
  const bytes = wantedBytes.subarray(0, wanted.length * L.RECORD_BYTES);
  stage.run.recordsClear();
  if (found.equals(bytes)) return;
  expect(decodeRecords(Uint8Array.from(found)), where).toEqual(decodeRecords(bytes.slice()));
  expect.fail(`${where}: other bytes in fields that no reader decodes`);
}

test(
  "[LAW-001] a million steps tell what the model tells, to the byte",
  { timeout: TIME_OUT_MS },
  () => {
    const seen = new Seen();
    const draw = new Draw(TEST_SEED);
    for (let device = 0; device < DEVICES; device += 1) {
      const rules = deviceRules(draw);
      const model = new DeviceModel(rules);
      const facts = new RandomFacts(rules, draw);
      configureStep(stage, rules);
      let sequence = 0;
      for (let step = 1; step <= STEPS; step += 1) {
        const now = facts.next();
        takeStep(stage, now, facts.inputs, facts.spikes);
        const wanted = model.step(step, now);
        compareStep(wanted, sequence, now.tick, `device ${device}, step ${step}`);
        sequence += wanted.length;
        wanted.forEach((one) => seen.take(one));
      }
    }
    // All that can be told was told, often: an empty comparison would pass over it.
    const codes = [10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20, 21, 22, 23].map((n) => `event ${n}`);
    const causes = [0, 1, 2, 3, 4, 5, 6, 7, 8, 9].map((n) => `cause ${n}`);
    const states = [0, 1, 2, 3, 4, 5].map((n) => `state ${n}`);
    const bits = [1, 2, 4, 8, 16, 32, 64].map((n) => `bit ${n}`);
    const validities = [0, 1, 2, 3].map((n) => `validity ${n}`);
    for (const what of [...codes, ...causes, ...states, ...bits, ...validities, "exceedance"]) {
      expect(seen.counts.get(what) ?? 0, what).toBeGreaterThan(1000);
    }
  },
);

test("[LAW-002] the model shares no code with what it is held against", () => {
  const allowed = /^(\.\.\/\.\.\/shared\/(layout|units)\.ts|\.\/[a-z-]*model[a-z-]*\.ts)$/;
  for (const name of ["model", "validity-model", "caution-model", "model-types"]) {
    const text = readFileSync(new URL(`${name}.ts`, import.meta.url), "utf8");
    const from = [...text.matchAll(/from\s+"([^"]+)"|import\(/g)].map((one) => one[1] ?? "any");
    expect(
      from.filter((one) => !allowed.test(one)),
      name,
    ).toEqual([]);
  }
});
