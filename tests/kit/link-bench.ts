// A device behind a line in memory, in virtual time.
import { type Clock, VirtualClock } from "../../host/link/clock.ts";
import { type DeviceOptions, LinkDevice } from "../../host/link/device.ts";
import {
  type MemoryLine,
  type MemoryLineOptions,
  memoryLine,
} from "../../host/link/memory-port.ts";
import type { BytePort } from "../../host/link/port.ts";
import type { Core } from "../../host/core.ts";
import { LinkTarget } from "../../harness/target/link-target.ts";
import { loadCore } from "./play-scene.ts";

/** Longest virtual time that a test may take: an hour and more of line. */
const TIME_MS_MAX = 4e6;

export interface LinkBenchOptions {
  core?: Core;
  line?: Partial<MemoryLineOptions>;
  device?: DeviceOptions;
  session?: number;
  firstSequence?: number;
  blockSamplesMax?: number;
  /** Stands between the client and the line. */
  port?: (port: BytePort, clock: Clock) => BytePort;
  timeMsMax?: number;
}

export interface LinkBench {
  clock: VirtualClock;
  line: MemoryLine;
  device: LinkDevice;
  target: LinkTarget;
  /** Lets virtual time go on until the work is done. */
  run: <T>(work: Promise<T>) => Promise<T>;
}

export async function linkBench(options: LinkBenchOptions = {}): Promise<LinkBench> {
  const clock = new VirtualClock();
  const line = memoryLine({ clock, ...options.line });
  const device = new LinkDevice(options.core ?? loadCore(), line.device, options.device);
  await device.start();
  const target = new LinkTarget({
    kind: "link",
    port: options.port?.(line.host, clock) ?? line.host,
    clock,
    session: options.session ?? 0x5e551013,
    firstSequence: options.firstSequence ?? 65_500,
    blockSamplesMax: options.blockSamplesMax,
  });
  const run = <T>(work: Promise<T>): Promise<T> =>
    clock.run(work, options.timeMsMax ?? TIME_MS_MAX);
  return { clock, line, device, target, run };
}
