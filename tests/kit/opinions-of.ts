// A scene on the built-in core with the second opinions beside it.
import { configurationBytes } from "../../host/profile/configuration.ts";
import type { MethodResults } from "../../harness/method/opinion-types.ts";
import { MethodRecorder } from "../../harness/run/method-recorder.ts";
import type { Scene } from "../../harness/scene/scene.ts";
import { CoreTarget } from "../../harness/target/core-target.ts";
import { makeWaveform } from "../../harness/waveform/waveform.ts";
import { loadCore } from "./play-scene.ts";

/** `alter` changes the records on their way, as a firmware with a fault would give them. */
export async function opinionsOf(
  scene: Scene,
  alter: (records: Uint8Array) => Uint8Array = (records) => records,
): Promise<MethodResults> {
  const target = new CoreTarget(loadCore());
  await target.open(new AbortController().signal);
  await target.configure(configurationBytes(scene.profile));
  const waveform = makeWaveform(scene);
  const recorder = new MethodRecorder(scene.profile);
  for (;;) {
    const batch = waveform.next(65_536);
    if (batch === undefined) break;
    recorder.takeBatch(batch);
    recorder.takeRecords(alter(await target.feed(batch)));
  }
  recorder.takeRecords(alter((await target.finish()).records));
  return recorder.finish();
}
