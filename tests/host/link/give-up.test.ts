import { describe, expect, it } from "vitest";
import { LinkClient } from "../../../host/link/client.ts";
import { VirtualClock } from "../../../host/link/clock.ts";
import { memoryLine } from "../../../host/link/memory-port.ts";

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
    [300, 300, /asked 1 times in 0\.3 s/],
    [5000, 5000, /asked 3 times in 5 s/],
  ])("[LINK-074] is given up after the %i ms that the user allows", async (giveUpMs, ms, words) => {
    const waited = await waitedMs(giveUpMs);
    expect(waited.ms).toBe(ms);
    expect(waited.said).toMatch(words);
  });

  it("[LINK-074] is given up after six waits where the user allows more", async () => {
    expect(await waitedMs(3600e3)).toEqual(await waitedMs());
  });
});
