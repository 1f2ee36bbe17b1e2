// Plays a scene to the built-in core and gives all that comes back.
import { join } from "node:path";
import { Core } from "../../host/core.ts";
import { configurationBytes } from "../../host/profile/configuration.ts";
import type { Counters, LevelRecord } from "../../host/record-types.ts";
import { decodeRecords } from "../../host/records.ts";
import type { Scene } from "../../harness/scene/scene.ts";
import { CoreTarget } from "../../harness/target/core-target.ts";
import type { Target } from "../../harness/target/target.ts";
import { makeWaveform } from "../../harness/waveform/waveform.ts";
import { ROOT } from "../repo/source-files.ts";

export type Build = "release" | "simd" | "debug";

export function loadCore(build: Build = "release"): Core {
  return Core.fromFile(join(ROOT, "build", "core", `${build}.wasm`));
}

export interface Played {
  records: Uint8Array;
  counters: Counters;
}

/** All records of a scene; `blockSamplesMax` splits the input otherwise. */
export async function playScene(
  scene: Scene,
  options: { build?: Build; core?: Core; blockSamplesMax?: number; batchSamples?: number } = {},
): Promise<Played> {
  const core = options.core ?? loadCore(options.build);
  return playTarget(new CoreTarget(core, options.blockSamplesMax), scene, options.batchSamples);
}

/** All records of a scene from any target; it is opened here and stays open. */
export async function playTarget(
  target: Target,
  scene: Scene,
  batchSamples = 65_536,
): Promise<Played> {
  await target.open(new AbortController().signal);
  await target.configure(configurationBytes(scene.profile));
  const waveform = makeWaveform(scene);
  const parts: Uint8Array[] = [];
  for (;;) {
    const batch = waveform.next(batchSamples);
    if (batch === undefined) break;
    parts.push(await target.feed(batch));
  }
  const { records, counters } = await target.finish();
  parts.push(records);
  const all = new Uint8Array(parts.reduce((sum, part) => sum + part.byteLength, 0));
  let at = 0;
  for (const part of parts) {
    all.set(part, at);
    at += part.byteLength;
  }
  return { records: all, counters };
}

/** The level records of one filter. */
export function levelsOf(played: Played, filter = 0): LevelRecord[] {
  return decodeRecords(played.records).filter(
    (record): record is LevelRecord => record.kind === "level" && record.filter === filter,
  );
}
