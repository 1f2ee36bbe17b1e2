// A scene through a board's link: all its records, and what its counters say.
import { configurationBytes } from "../../../host/profile/configuration.ts";
import { realClock } from "../../../host/link/clock.ts";
import type { BytePort } from "../../../host/link/port.ts";
import type { Scene } from "../../../harness/scene/scene.ts";
import { LinkTarget } from "../../../harness/target/link-target.ts";
import { makeWaveform } from "../../../harness/waveform/waveform.ts";
import type { Played } from "../../kit/play-scene.ts";

export interface BoardPlayed extends Played {
  identity: string;
}

export function boardTarget(port: BytePort): LinkTarget {
  const session = Math.floor(Math.random() * 2 ** 32);
  return new LinkTarget({ kind: "board", port, clock: realClock, session, firstSequence: 1 });
}

/** Plays a scene to a board that is there. */
export async function playOnBoard(scene: Scene, port: BytePort): Promise<BoardPlayed> {
  const target = boardTarget(port);
  try {
    const { identity } = await target.open(new AbortController().signal);
    await target.configure(configurationBytes(scene.profile));
    const waveform = makeWaveform(scene);
    const parts: Uint8Array[] = [];
    for (let batch = waveform.next(4096); batch !== undefined; batch = waveform.next(4096)) {
      parts.push(await target.feed(batch));
    }
    const { records, counters } = await target.finish();
    return { identity, counters, records: Buffer.concat([...parts, records]) };
  } finally {
    await target.close();
  }
}
