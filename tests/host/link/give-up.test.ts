import { describe, expect, it } from "vitest";
import { PACKET_ANSWER } from "../../../shared/link.ts";
import { ERR_LINK_AHEAD } from "../../../shared/status.ts";
import { LinkClient } from "../../../host/link/client.ts";
import { VirtualClock } from "../../../host/link/clock.ts";
import { Deframer } from "../../../host/link/deframer.ts";
import { memoryLine } from "../../../host/link/memory-port.ts";
import { decodeHead, encodePacket } from "../../../host/link/packet.ts";
import type { BytePort } from "../../../host/link/port.ts";
import { slipEncode } from "../../../host/link/slip.ts";

const clientOf = (port: BytePort, clock: VirtualClock): LinkClient =>
  new LinkClient({ port, clock, session: 1, firstSequence: 1 });

/** Says of each packet that one before it is missing. */
async function refusingDevice(port: BytePort): Promise<void> {
  const deframer = new Deframer();
  const body = new Uint8Array(4);
  new DataView(body.buffer).setInt32(0, ERR_LINK_AHEAD, true);
  port.onBytes((bytes) => {
    deframer.push(bytes);
    for (let verdict = deframer.pull(); verdict !== "needs more"; verdict = deframer.pull()) {
      const { type, sequence } = decodeHead(deframer.packet());
      const head = { type: type | PACKET_ANSWER, sequence, acknowledged: 0 };
      port.write(slipEncode(encodePacket(head, body)));
    }
  });
  await port.open();
}

async function waitedMs(giveUpMs?: number): Promise<{ ms: number; said: string }> {
  const clock = new VirtualClock();
  const { host } = memoryLine({ clock });
  const client = new LinkClient({ port: host, clock, session: 1, firstSequence: 1, giveUpMs });
  const work = client.open(new AbortController().signal).then(
    () => "",
    (error: unknown) => (error as Error).message,
  );
  const said = await clock.run(work, 1e6);
  return { ms: clock.now(), said };
}

describe("a device that does not answer", () => {
  it.each([
    [300, 300, /asked once in 0\.3 s/],
    [5000, 5000, /asked 3 times in 5 s/],
  ])("[LINK-074] is given up after the %i ms that the user allows", async (giveUpMs, ms, words) => {
    const waited = await waitedMs(giveUpMs);
    expect(waited.ms).toBe(ms);
    expect(waited.said).toMatch(words);
  });

  it("[LINK-076] leaves no wait behind, whatever ended the link", async () => {
    const clock = new VirtualClock();
    const { host, device } = memoryLine({ clock });
    const open = (one: LinkClient): Promise<unknown> =>
      clock.run(
        one.open(new AbortController().signal).catch(({ message }: Error) => message),
        1e6,
      );
    expect(await open(clientOf(host, clock))).toMatch(/does not answer/);
    expect(clock.waitCount).toBe(0);
    // A device that refuses whatever is asked: the link ends by the number of refusals.
    await refusingDevice(device);
    expect(await open(clientOf(host, clock))).toMatch(/takes nothing \(200 refusals/);
    expect(clock.waitCount).toBe(0);
  });

  it("[LINK-077] is told from a line that gives back what is sent", async () => {
    const clock = new VirtualClock();
    const { host, device } = memoryLine({ clock });
    device.onBytes((bytes) => device.write(bytes));
    await device.open();
    const opened = clientOf(host, clock).open(new AbortController().signal);
    const said = clock.run(
      opened.catch(({ message }: Error) => message),
      1e6,
    );
    expect(await said).toMatch(/what is sent comes back, .* how it is wired/);
  });

  it("[LINK-074] is given up after six waits where the user allows more", async () => {
    expect(await waitedMs(3600e3)).toEqual(await waitedMs());
  });
});
