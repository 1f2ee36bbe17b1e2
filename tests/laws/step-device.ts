// Puts rules and facts into the firmware's display step, and what is wanted of it into bytes.
import * as L from "../../shared/layout.ts";
import { BANDWIDTH_FIXED, BANDWIDTH_PROPORTIONAL } from "../../shared/units.ts";
import { SOURCE_GREATEST, SOURCE_OWN, SOURCE_SUBSTITUTE } from "../../shared/units.ts";
import type { Field } from "../assembly/kit/stage.ts";
import type { StepStage } from "../assembly/kit/step-stage.ts";
import { CHANNELS } from "./random-device.ts";
import type { DeviceRules, DisplayRules, FilterRules, StepFacts, Wanted } from "./model-types.ts";

const CLOCK_HZ = 80_000_000;
const TICKS_PER_SAMPLE = 6250;
const DISPLAY_SAMPLES = 8;
const SETTLING_TAUS = 6.64;
/** Samples of a display period; the second holds what no transducer can say. */
const QUIET = Float32Array.of(0, 0, 0, 0, 0, 0, 0, 0);
const SPIKED = Float32Array.of(0, 0, 0, 500, 0, 0, 0, 0);

function sourceFields(source: DisplayRules["source"]): [number, number] {
  if (source.kind === "own") return [SOURCE_OWN, 0];
  if (source.kind === "substitute") return [SOURCE_SUBSTITUTE, source.filter];
  return [SOURCE_GREATEST, source.filters.reduce((bits, one) => bits | (1 << one), 0)];
}

function displayFields(at: number, rules: DisplayRules): Field[] {
  const [source, sources] = sourceFields(rules.source);
  const { caution } = rules;
  const flags =
    (caution === undefined ? 0 : L.DISPLAY_FLAG_CAUTION) |
    (caution?.runsUnderInhibit ? L.DISPLAY_FLAG_DELAY_UNDER_INHIBIT : 0) |
    (caution?.staysWhileHeld ? L.DISPLAY_FLAG_HOLD_CAUTION : 0);
  return [
    [at + L.DISPLAY_SOURCE, "u32", source],
    [at + L.DISPLAY_SOURCES, "u32", sources],
    [at + L.DISPLAY_SCALE_COUNT, "u32", rules.scale.length],
    ...rules.scale.flatMap(({ speed, factor }, i): Field[] => [
      [at + L.DISPLAY_SCALE + i * L.SCALE_POINT_BYTES, "f32", speed],
      [at + L.DISPLAY_SCALE + i * L.SCALE_POINT_BYTES + 4, "f32", factor],
    ]),
    [at + L.DISPLAY_SMOOTHING, "f32", rules.smoothing],
    [at + L.DISPLAY_STEP_INVERSE, "f32", rules.countsPerUnit],
    [at + L.DISPLAY_COUNTS_MAX, "i32", rules.countsMax],
    [at + L.DISPLAY_HOLD_STEPS, "u32", rules.holdSteps],
    [at + L.DISPLAY_FLAGS, "u32", flags],
    [at + L.DISPLAY_CAUTION_COUNTS, "i32", caution?.level ?? 0],
    [at + L.DISPLAY_HYSTERESIS_COUNTS, "i32", caution?.hysteresis ?? 0],
    [at + L.DISPLAY_ON_STEPS, "u32", caution?.onSteps ?? 0],
    [at + L.DISPLAY_OFF_STEPS, "u32", caution?.offSteps ?? 0],
  ];
}

function filterFields(rules: FilterRules): Field[] {
  const at = L.CONFIG_FILTERS + rules.index * L.FILTER_BYTES;
  const { isPerCycle, count } = rules.settling;
  // Half a step or cycle short of the whole, so that the next whole one is meant.
  const periodS = (DISPLAY_SAMPLES * TICKS_PER_SAMPLE) / CLOCK_HZ;
  const pole = isPerCycle
    ? SETTLING_TAUS / (count - 0.5)
    : ((count - 0.5) * periodS) / SETTLING_TAUS;
  return [
    [at + L.FILTER_CHANNEL, "u32", rules.channel],
    [at + L.FILTER_SHAFT, "u32", rules.shaft],
    [at + L.FILTER_BANDWIDTH, "u32", isPerCycle ? BANDWIDTH_PROPORTIONAL : BANDWIDTH_FIXED],
    [at + L.FILTER_POLE, "f32", pole],
    [at + L.FILTER_LEVEL_FACTOR, "f32", rules.levelFactor],
    ...displayFields(L.CONFIG_DISPLAYS + rules.index * L.DISPLAY_BYTES, rules.display),
  ];
}

export function configureStep(stage: StepStage, rules: DeviceRules): void {
  stage.configure([
    [L.GLOBAL_CLOCK_HZ, "u32", CLOCK_HZ],
    [L.GLOBAL_TICKS_PER_SAMPLE, "u32", TICKS_PER_SAMPLE],
    [L.GLOBAL_DISPLAY_SAMPLES, "u32", DISPLAY_SAMPLES],
    ...rules.shafts.flatMap((shaft, i): Field[] => {
      const at = L.CONFIG_SHAFTS + i * L.SHAFT_BYTES;
      const { input, otherShaft } = shaft.evidence;
      const evidence = (input ? L.EVIDENCE_INPUT : 0) | (otherShaft ? L.EVIDENCE_OTHER_SHAFT : 0);
      return [
        [at + L.SHAFT_REVOLUTIONS, "u32", 1],
        [at + L.SHAFT_VALID_SPEED, "f32", shaft.minimumSpeed],
        [at + L.SHAFT_VALID_HYSTERESIS, "f32", shaft.hysteresis],
        [at + L.SHAFT_VALID_STEPS, "u32", shaft.delaySteps],
        [at + L.SHAFT_EVIDENCE, "u32", evidence],
      ];
    }),
    ...rules.filters.flatMap(filterFields),
  ]);
  // The first sample of a stream lies before its first period.
  const samples = stage.run.addressSamples();
  stage.floats[samples >> 2] = 0;
  for (let c = 0; c < CHANNELS; c += 1) stage.run.healthIntake(c, samples, 1, false);
}

/** Hands a step's facts to the stand-ins of tachometer and tracker, and takes the step. */
export function takeStep(
  stage: StepStage,
  facts: StepFacts,
  inputs: number[],
  spikes: boolean[],
): void {
  const { view, run } = stage;
  facts.shafts.forEach((shaft, i) => {
    const at = run.tachAddress(i);
    view.setUint32(at, Number(shaft.isLocked), true);
    view.setUint32(at + 4, Number(shaft.hasBeenLocked), true);
  });
  facts.filters.forEach((own, i) => {
    const at = run.trackerAddress(i);
    view.setUint32(at, Number(own.isComputed), true);
    view.setUint32(at + 4, Number(own.isSettled), true);
    view.setFloat32(at + 8, own.re, true);
    view.setFloat32(at + 12, own.im, true);
    view.setFloat32(at + 16, own.levelPk, true);
    view.setFloat32(at + 20, own.speed, true);
    view.setFloat32(at + 24, own.speedNow, true);
    view.setUint32(at + 28, own.revolution, true);
    view.setUint32(at + 32, own.closingTick, true);
    view.setUint32(at + 36, own.flags, true);
    view.setFloat32(at + 40, own.integrationDistance, true);
    view.setUint32(at + 44, Number(own.isResponseLow), true);
    view.setUint32(at + 52, own.acquisition, true);
  });
  const samples = run.addressSamples();
  spikes.forEach((isSpiked, channel) => {
    stage.floats.set(isSpiked ? SPIKED : QUIET, samples >> 2);
    run.healthIntake(channel, samples, DISPLAY_SAMPLES, false);
  });
  for (const bits of inputs) run.inputsSet(bits);
  run.step(facts.tick % 2 ** 32, Math.floor(facts.tick / 2 ** 32));
}

/** The 64 bytes of a record that is wanted; every field that is not named is zero. */
export function putWanted(
  view: DataView,
  at: number,
  one: Wanted,
  seq: number,
  tick: number,
): void {
  for (let i = 0; i < L.RECORD_BYTES; i += 4) view.setUint32(at + i, 0, true);
  view.setUint8(at + L.RECORD_KIND, one.kind);
  view.setUint8(at + L.RECORD_SOURCE, one.source);
  view.setUint16(at + L.RECORD_FLAGS, one.code ?? 0, true);
  view.setUint32(at + L.RECORD_SEQUENCE, seq, true);
  view.setUint32(at + L.RECORD_TICK_LOW, tick % 2 ** 32, true);
  view.setUint32(at + L.RECORD_TICK_HIGH, Math.floor(tick / 2 ** 32), true);
  view.setUint32(at + L.RECORD_AGE, one.age ?? 0, true);
  view.setUint32(at + L.RECORD_REVOLUTION, one.revolution ?? 0, true);
  view.setFloat32(at + L.RECORD_SPEED, one.speed ?? 0, true);
  view.setFloat32(at + L.RECORD_RE, one.re ?? 0, true);
  view.setFloat32(at + L.RECORD_IM, one.im ?? 0, true);
  view.setFloat32(at + L.RECORD_LEVEL_VALUE, one.level ?? 0, true);
  view.setInt32(at + L.RECORD_SHOWN, one.shown ?? 0, true);
  (one.status ?? []).forEach((value, i) => view.setUint8(at + L.RECORD_STATUS + i, value));
  view.setUint32(at + L.RECORD_WORD, one.word ?? 0, true);
  view.setInt32(at + L.RECORD_DETAIL, one.detail ?? 0, true);
  view.setFloat32(at + L.RECORD_SPEED_NOW, one.speedNow ?? 0, true);
  view.setFloat32(at + L.RECORD_VALUE, one.value ?? 0, true);
  if (one.onsetTick === undefined) return;
  view.setUint32(at + L.EXCEEDANCE_ONSET_LOW, one.onsetTick % 2 ** 32, true);
  view.setUint32(at + L.EXCEEDANCE_ONSET_HIGH, Math.floor(one.onsetTick / 2 ** 32), true);
}
