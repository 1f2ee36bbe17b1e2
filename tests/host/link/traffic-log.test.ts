import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { InputError } from "../../../host/input-error.ts";
import { realClock } from "../../../host/link/clock.ts";
import { LinkError } from "../../../host/link/link-error.ts";
import {
  LoggedPort,
  type SessionMark,
  TRAFFIC_HEAD,
  TrafficLog,
  isTrafficLog,
} from "../../../host/link/traffic-log.ts";
import { TrafficArchive } from "../../../host/link/traffic-playback.ts";
import { LinkTarget } from "../../../harness/target/link-target.ts";
import { linkBench } from "../../kit/link-bench.ts";
import { playTarget } from "../../kit/play-scene.ts";
import { scene, shaftMotion } from "../../kit/scene-builder.ts";

const folder = mkdtempSync(join(tmpdir(), "amberline log "));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const path = (name: string): string => join(folder, name);

const MARK: SessionMark = { label: 'case "ä →\n', session: 4_000_000_000, firstSequence: 65_530 };
const MADE = scene({ durationS: 2 });

/** Plays a scene over a line in memory, logged, with faults where they are asked for. */
async function recorded(name: string, faults: Parameters<typeof linkBench>[0] = {}) {
  const log = new TrafficLog(path(name));
  const { session, firstSequence } = MARK;
  const bench = await linkBench({
    session,
    firstSequence,
    ...faults,
    port: (port, clock) => new LoggedPort(port, log, MARK, clock),
  });
  const played = await bench.run(playTarget(bench.target, MADE)).catch((error: unknown) => error);
  await bench.run(bench.target.close());
  log.end();
  return played as Awaited<ReturnType<typeof playTarget>>;
}

function targetOf(name: string, made = MADE) {
  const archive = new TrafficArchive(path(name));
  const { session, firstSequence } = archive.mark(MARK.label);
  const port = archive.port(MARK.label);
  const target = new LinkTarget({ kind: "log", port, clock: realClock, session, firstSequence });
  return playTarget(target, made).catch((error: unknown) => error as LinkError);
}

describe("a traffic log", () => {
  it("[LINK-140] is text in lines that are bounded, with direction, time and bytes", async () => {
    await recorded("text");
    const lines = readFileSync(path("text"), "utf8").trimEnd().split("\n");
    expect(lines.slice(0, 2)).toEqual([
      TRAFFIC_HEAD,
      `open 4000000000 65530 ${JSON.stringify(MARK.label)}`,
    ]);
    expect(lines.at(-1)).toBe("close");
    expect(lines[2]).toMatch(/^0\.000 > c001/);
    for (const line of lines.slice(2, -1))
      expect(line).toMatch(/^\d+\.\d{3} [<>] [0-9a-f]{2,512}$/);
    expect(lines.some((line) => line.includes(" < "))).toBe(true);
  });

  it("[LINK-141] is played back without the device, to the same records and counters", async () => {
    const live = await recorded("whole");
    expect(live.records.byteLength).toBeGreaterThan(0);
    expect(await targetOf("whole")).toEqual(live);
  });

  it("[LINK-141] lost and repeated packets are played back as they went", async () => {
    const fault = { name: "loss", rate: 0.02 } as const;
    const directions = ["to device", "to host"] as const;
    const faults = directions.map((direction) => ({ ...fault, direction }));
    const live = await recorded("lossy", { line: { seed: 3, faults } });
    expect(live.records.byteLength).toBeGreaterThan(0);
    expect(await targetOf("lossy")).toEqual(live);
  });

  it("[LINK-142] a port that was lost is lost again, with the reason", async () => {
    const fault = { name: "cut", direction: "to device", rate: 1, fromFrame: 9 } as const;
    const live: unknown = await recorded("lost", { line: { faults: [fault] } });
    const again = await targetOf("lost");
    expect(again).toBeInstanceOf(LinkError);
    expect((again as LinkError).message).toBe((live as LinkError).message);
  });

  it("[LINK-143] what is asked otherwise is told with its packet and byte", async () => {
    await recorded("other");
    const slower = { speed: [{ timeS: 0, revPerS: 70 }] };
    const other = scene({ durationS: 2, shafts: [shaftMotion(slower)] });
    const longer = await targetOf("other", other);
    expect((longer as LinkError).message).toMatch(
      /other: packet \d+ of .* is another than the log holds, from byte \d+ of what is sent on/s,
    );
    const more = await targetOf("other", scene({ durationS: 3 }));
    expect((more as LinkError).message).toMatch(/packet \d+ of .* is (not in the log|another)/s);
  });

  it("[LINK-144] a log cut short anywhere is told with its byte, never waited for", async () => {
    await recorded("cut whole");
    const whole = readFileSync(path("cut whole"));
    const begins = TRAFFIC_HEAD.length + 60;
    for (const share of [0, 0.1, 0.37, 0.5, 0.93]) {
      const at = Math.floor(begins + share * (whole.length - begins - 20));
      writeFileSync(path("cut"), whole.subarray(0, at));
      const said = await targetOf("cut");
      expect((said as LinkError).message).toContain(`cut short: it ends at byte ${at},`);
    }
  });

  it("[LINK-145] another file, a strange line and an unknown session are each a sentence", async () => {
    writeFileSync(path("none"), "time,level\n0,1\n");
    expect(() => new TrafficArchive(path("none"))).toThrow(
      /none: is no traffic log: its first line/,
    );
    writeFileSync(path("endless"), `${TRAFFIC_HEAD}\n${"0".repeat(200_000)}`);
    expect(() => new TrafficArchive(path("endless"))).toThrow(InputError);
    expect(() => new TrafficArchive(path("missing"))).toThrow(/cannot be read \(there is no such/);
    writeFileSync(path("strange"), `${TRAFFIC_HEAD}\nopen 1 2 "x"\nnonsense\n`);
    const archive = new TrafficArchive(path("strange"));
    expect(() => archive.mark("y")).toThrow(/strange: this traffic log holds nothing of y/);
    const port = archive.port("x");
    const reasons: unknown[] = [];
    port.onClosed((reason) => reasons.push(reason));
    await port.open();
    await expect.poll(() => reasons.length).toBe(1);
    expect((reasons[0] as Error).message).toContain("strange:3: this is no line of a traffic log");
  });

  it("[LINK-146] one that cannot be written ends the run, and no other file is written over", async () => {
    expect(() => new TrafficLog(path(join("no", "log")))).toThrow(
      /cannot be written \(there is no/,
    );
    const log = new TrafficLog(path("full"));
    const bench = await linkBench({
      port: (port, clock) => {
        const logged = new LoggedPort(port, log, MARK, clock);
        log.add = () => {
          throw Object.assign(new Error("full"), { code: "ENOSPC" });
        };
        return logged;
      },
    });
    const opened = bench.run(bench.target.open(new AbortController().signal));
    await expect(opened).rejects.toThrow(/cannot be written \(no space is left on the disk\)$/);
    writeFileSync(path("mine.csv"), "time,level\n0,1\n");
    writeFileSync(path("empty"), "");
    const may = ["mine.csv", "empty", "full", "not there"].map((name) => isTrafficLog(path(name)));
    expect(may).toEqual([false, true, true, true]);
  });
});
