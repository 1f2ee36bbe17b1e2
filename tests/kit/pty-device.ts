// The core as a device on a pseudo-terminal of this process, with a tap between both.
import { type DeviceOptions, LinkDevice } from "../../host/link/device.ts";
import type { Core } from "../../host/core.ts";
import type { BytePort } from "../../host/link/port.ts";
import { PtyPort } from "../../host/link/pty-pair.ts";
import { type Tap, tapped } from "./link-tap.ts";
import { loadCore } from "./play-scene.ts";

export interface PtyDevice {
  path: string;
  core: Core;
  /** Pulls the plug. */
  unplug: () => Promise<void>;
}

/** In the tap what is sent are the device's answers, and what is answered the host's requests. */
export async function ptyDevice(tap: Tap = {}, options: DeviceOptions = {}): Promise<PtyDevice> {
  const pty = new PtyPort();
  const port: BytePort = tapped(pty, tap);
  const core = loadCore();
  await new LinkDevice(core, port, options).start();
  return { path: pty.path, core, unplug: () => pty.close() };
}

/** A pseudo-terminal that answers anything with the same bytes. */
export async function ptyParrot(words: Uint8Array): Promise<PtyDevice> {
  const pty = new PtyPort();
  pty.onBytes(() => pty.write(words));
  await pty.open();
  return { path: pty.path, core: loadCore(), unplug: () => pty.close() };
}
