// One case from scene to verdict. Everything streams: memory does not grow with the flight.
import type { ConfigurationRefused } from "../../host/core.ts";
import { InputError } from "../../host/input-error.ts";
import type { Complaint } from "../../host/input-error.ts";
import { refusedProfile } from "../../host/profile/refusal.ts";
import type { Counters } from "../../host/record-types.ts";
import { messageOf } from "../../host/error-message.ts";
import type { Verdict } from "../judge/types.ts";
import { caseIdentity } from "../results/identity.ts";
import { playedRows } from "../results/played.ts";
import { settingsRows } from "../results/settings.ts";
import { RESULTS_VERSION, type CaseResult } from "../results/types.ts";
import type { Scene } from "../scene/scene.ts";
import { BatchError } from "../target/block-cutter.ts";
import type { BlockBatch, Capabilities, Target } from "../target/target.ts";
import type { SceneTruth } from "../truth/types.ts";
import type { WaveformSource } from "../waveform/types.ts";

/** Samples a batch: what crosses an await at once. */
const BATCH_SAMPLES = 65_536;

/** What a case is made of; the worker passes the real ones. */
export interface CaseParts {
  configurationBytes(profile: Scene["profile"]): Uint8Array;
  makeWaveform(scene: Scene): WaveformSource;
  makeTruth(scene: Scene): SceneTruth;
  makeJudge(scene: Scene, truth: SceneTruth): Judge;
}

/** Takes the records as they come. */
export interface Judge {
  take(records: Uint8Array): void;
  finish(counters: Counters): Verdict;
}

/** Sees what goes by: what is fed, before it is, and what comes back. */
export interface CaseWatch {
  batch?(batch: BlockBatch): void;
  records?(records: Uint8Array): void;
}

/** The target broke off, refused what it was given, or answered what it was not asked. */
export class TargetFailure extends Error {}

async function asked<T>(what: string, answer: Promise<T>): Promise<T> {
  try {
    return await answer;
  } catch (error) {
    if (error instanceof Error && error.name === "AbortError") throw error;
    // What the target refuses because the profile is wrong is no failure of the target.
    if (error instanceof InputError) throw error;
    const said = messageOf(error);
    // Nor what no cutting makes into blocks: the scene is.
    if (error instanceof BatchError) throw new InputError(whole(`the scene gives ${said}`));
    throw new TargetFailure(`the target failed at ${what}: ${said}`, { cause: error });
  }
}

/** Told by its name: an adapter's class may be another copy of ours. */
function isRefused(error: unknown): error is ConfigurationRefused {
  return error instanceof Error && error.name === "ConfigurationRefused";
}

/** A complaint about all of the scene. */
function whole(message: string): Complaint {
  return { file: "scenario", line: 0, column: 0, message };
}

function isEqual(a: Uint8Array, b: Uint8Array): boolean {
  return a.byteLength === b.byteLength && a.every((byte, i) => byte === b[i]);
}

/**
 * Plays the scene's waveform to the target and judges what comes back.
 *
 * Effect    opens, resets by configuring, and closes the target; hands the records to `watch`
 * Errors    TargetFailure; AbortError where the signal came
 */
export async function runCase(
  scene: Scene,
  target: Target,
  signal: AbortSignal,
  parts: CaseParts,
  watch: CaseWatch = {},
): Promise<CaseResult> {
  const capabilities = await asked("open", target.open(signal));
  try {
    const configuration = parts.configurationBytes(scene.profile);
    const configured = target.configure(configuration).catch((error: unknown) => {
      if (isRefused(error)) throw refusedProfile(error, scene.profile);
      throw error;
    });
    const echo = await asked("configure", configured);
    if (!isEqual(echo.bytes, configuration)) {
      throw new TargetFailure("the target's echo of its configuration differs from what was sent");
    }
    const judge = parts.makeJudge(scene, parts.makeTruth(scene));
    const waveform = parts.makeWaveform(scene);
    for (;;) {
      signal.throwIfAborted();
      const batch = waveform.next(BATCH_SAMPLES);
      if (batch === undefined) break;
      watch.batch?.(batch);
      const records = await asked(`sample ${batch.firstSample}`, target.feed(batch));
      watch.records?.(records);
      judge.take(records);
    }
    const last = await asked("finish", target.finish());
    watch.records?.(last.records);
    judge.take(last.records);
    const verdict = judge.finish(last.counters);
    return caseResult(scene, capabilities, verdict, last.counters);
  } finally {
    await target.close();
  }
}

function caseResult(
  scene: Scene,
  target: Capabilities,
  verdict: Verdict,
  counters: Counters,
): CaseResult {
  return {
    resultsVersion: RESULTS_VERSION,
    id: caseIdentity(scene, target),
    name: scene.name,
    question: scene.question,
    ...(scene.see === undefined ? {} : { see: scene.see }),
    requirements: scene.requirements,
    seed: scene.seed,
    target: {
      kind: target.kind,
      identity: target.identity,
      numericsVersion: target.numericsVersion,
    },
    durationS: scene.durationS,
    sampleRateHz: scene.profile.sampleRateHz,
    timeUnit: scene.profile.timeUnit,
    profileName: scene.profile.name,
    played: playedRows(scene),
    settings: settingsRows(scene.profile),
    verdict,
    counters,
  };
}
