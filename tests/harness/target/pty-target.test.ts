import { afterEach, describe, it } from "vitest";
import { realClock } from "../../../host/link/clock.ts";
import { SerialBytePort } from "../../../host/link/serial-port.ts";
import { LinkTarget } from "../../../harness/target/link-target.ts";
import { isPtyHere } from "../../kit/pty-here.ts";
import { ptyDevice } from "../../kit/pty-device.ts";
import { targetSuite } from "../../suites/target.suite.ts";

const opened: { close: () => Promise<void> }[] = [];
afterEach(async () => {
  for (const one of opened.splice(0)) await one.close();
});

if (await isPtyHere()) {
  targetSuite({
    name: "a device on a pseudo-terminal",
    make: async ({ blockSamplesMax }) => {
      const device = await ptyDevice();
      const target = new LinkTarget({
        kind: "serial",
        port: new SerialBytePort(device.path),
        clock: realClock,
        session: 0x5e551013,
        firstSequence: 65_500,
        blockSamplesMax,
      });
      opened.push(target, { close: device.unplug });
      return { target, run: (work) => work };
    },
  });
} else {
  describe("a device on a pseudo-terminal", () => {
    it.skip("[LINK-090] needs a pseudo-terminal and a serial port", () => {});
  });
}
