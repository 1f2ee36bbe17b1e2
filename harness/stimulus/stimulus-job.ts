// A scenario written as a stimulus: measured first, refused where a limit would be passed, and only then
// written.
import { existsSync, rmSync } from "node:fs";
import { dirname } from "node:path";
import { setImmediate } from "node:timers/promises";
import { makeFolder, unwritable } from "../results/output-folder.ts";
import type { Scene } from "../scene/scene.ts";
import { type Expected, type Judged, type TruthRow, expectedOf } from "./expected.ts";
import { type FrameFormat, FrameWriter } from "./frame-writer.ts";
import { type Measured, Measuring } from "./measuring.ts";
import { type RampHealth, rampHealth } from "./ramp-health.ts";
import type { SideFacts } from "./side-facts.ts";
import { SideFile } from "./side-file.ts";
import { factsOf } from "./stimulus-facts.ts";
import { type StimulusPlan, planOf } from "./stimulus-plan.ts";
import { publish, refuseExisting } from "./whole-file.ts";

export { TIMES_MAX } from "./stimulus-plan.ts";

export interface StimulusJob {
  scene: Scene;
  /** The stimulus; its side file stands beside it. */
  path: string;
  format: FrameFormat;
  /** Samples for each of the scenario's. */
  times: number;
  /** Up before the hold, and down after the scenario. */
  rampS: number;
  /** Absent: as long as the profile needs to settle. */
  holdS?: number;
  fullScaleV: number;
  limits: { inputV: number; pulseV: number };
  voltsPerUnit: number[];
  /** What one volt stands for, as written. */
  oneVoltIs: string[];
  pulseV: number;
  pulseWidthS: number;
  signal: AbortSignal;
}

export interface StimulusDone {
  path: string;
  sidePath: string;
  facts: SideFacts;
  truthRows: number;
  eventCount: number;
  isCoreRight: boolean;
}

/** Where the side file of a stimulus stands. */
export const sidePathOf = (path: string): string => `${path}.json`;

/** Writes the frames that were measured; gives their SHA-256. Errors: AbortError. */
async function writeFrames(job: StimulusJob, measured: Measured, path: string): Promise<string> {
  const writer = new FrameWriter(path, job.format, measured.layout);
  try {
    for (const frames of measured.written()) {
      // An interrupt is only heard when the process takes a breath.
      await setImmediate();
      job.signal.throwIfAborted();
      writer.write(frames.firstSample, frames.sampleCount, frames.volts);
    }
    return writer.end();
  } catch (error) {
    writer.abandon();
    throw error;
  }
}

/** The events of the truth, and what a device tells of the ramp. */
function withRamp(expected: Expected, { truthFromS, events }: RampHealth): Expected {
  const disturbed = new Set(events.map(({ event, of }) => `${event} ${of}`));
  const own = expected.events.map((one) =>
    disturbed.has(`${one.event} ${one.of}`) && one.fromS < truthFromS
      ? { ...one, untilS: Math.max(one.untilS, truthFromS) }
      : one,
  );
  return { ...expected, events: [...events, ...own] };
}

async function writeSide(
  job: StimulusJob,
  plan: StimulusPlan,
  health: RampHealth,
  facts: SideFacts,
  path: string,
): Promise<{ expected: Expected; truthRows: number }> {
  const side = new SideFile(path, facts);
  let truthRows = 0;
  const takeRow = (row: TruthRow): void => {
    truthRows += 1;
    side.row(row);
  };
  const judged: Judged = {
    scene: plan.judged,
    laterS: plan.rampUpS + plan.holdS,
    fromS: health.truthFromS,
  };
  try {
    const found = await expectedOf(judged, job.signal, takeRow);
    const expected = withRamp(found, health);
    side.end(expected);
    return { expected, truthRows };
  } catch (error) {
    side.abandon();
    throw error;
  }
}

/** Runs the work, and takes away what it has made where it does not come to its end. */
async function orNothing<T>(paths: readonly string[], work: () => Promise<T>): Promise<T> {
  // What is there already is somebody's, and none of ours to take away.
  refuseExisting(paths);
  try {
    return await work();
  } catch (error) {
    for (const path of paths) if (existsSync(path)) rmSync(path);
    throw error;
  }
}

/** Gives the stimulus its name; its side file does not stay where that fails. */
function publishBeside(sidePath: string, part: string, path: string): void {
  try {
    publish(part, path);
  } catch (error) {
    rmSync(sidePath);
    throw error;
  }
}

/**
 * Writes the stimulus and its side file.
 *
 * Effect    nothing is written where it is refused, nothing of it is left where it is interrupted
 * Errors    InputError, ResultsError, TargetFailure, AbortError
 */
export async function writeStimulus(job: StimulusJob): Promise<StimulusDone> {
  const { path, scene } = job;
  const sidePath = sidePathOf(path);
  const parts = [path, sidePath].map((one) => `${one}.part`) as [string, string];
  refuseExisting([path, sidePath]);
  const plan = planOf(job);
  const measured = await new Measuring(job, plan).measure();
  const health = rampHealth(scene, plan, measured.leadPeaks);
  try {
    makeFolder(dirname(path));
    return await orNothing(parts, async () => {
      const sha256 = await writeFrames(job, measured, parts[0]);
      const facts = factsOf(job, plan, measured, { sha256, truthFromS: health.truthFromS });
      const { expected, truthRows } = await writeSide(job, plan, health, facts, parts[1]);
      publish(parts[1], sidePath);
      publishBeside(sidePath, parts[0], path);
      const eventCount = expected.events.filter(({ isOptional }) => !isOptional).length;
      const isCoreRight = expected.core.isRight;
      return { path, sidePath, facts, truthRows, eventCount, isCoreRight };
    });
  } catch (error) {
    // The file system tells its reason by a word, an interrupt by a number.
    const { code } = error as NodeJS.ErrnoException;
    throw typeof code === "string" ? unwritable(dirname(path), error) : error;
  }
}
