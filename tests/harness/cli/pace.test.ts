// What a run on a slow line says at its start and on its way.
import { mkdirSync, mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { PassThrough } from "node:stream";
import { describe, expect, it } from "vitest";
import { Pace, expectedWords, lasting } from "../../../harness/cli/pace.ts";
import { makeProgress } from "../../../harness/cli/progress.ts";
import { openLine } from "../../../harness/run/line.ts";
import { LineRunner } from "../../../harness/run/line-runner.ts";
import { releaseCorePath } from "../../../host/package-root.ts";
import { scene as sceneOf } from "../../kit/scene-builder.ts";

describe("pace of a run", () => {
  it("[CLI-220] tells at the start what is simulated, and what the line takes at least", () => {
    const scene = sceneOf({ durationS: 60 });
    const { channels, sampleRateHz } = scene.profile;
    const serial = { kind: "serial", path: "/dev/x", baud: 115_200 } as const;
    // Four bytes a sample, ten bits a byte.
    const minutes = (60 * sampleRateHz * channels.length * 40) / 115_200 / 60;
    const words = expectedWords([scene, scene], serial)!;
    expect(words).toContain("2 min to be simulated in 2 cases.");
    expect(words).toContain("Where the port keeps to 115200 baud the samples alone take ");
    const told = Number(/take ([\d.]+) min/.exec(words)![1]);
    expect(Math.abs(told - 2 * minutes) / minutes).toBeLessThan(0.1);
    const board = expectedWords([scene], { kind: "board", name: "posix" })!;
    expect(board).toBe("60 s to be simulated in 1 case. How fast it goes is told as it goes.");
    expect(expectedWords([scene], { kind: "core", wasmPath: "" })).toBeUndefined();
    expect([5, 99, 120, 7200].map(lasting)).toEqual(["5 s", "99 s", "2 min", "2 h"]);
  });

  it("[CLI-220] tells now and then how far it is, at which rate, and what is left", () => {
    let now = 1000;
    const told: string[] = [];
    const pace = new Pace(
      90,
      (words) => told.push(words),
      () => now,
    );
    pace.take(30, true);
    for (let i = 0; i < 20; i += 1) {
      now += 1000;
      pace.take(0.5, false);
    }
    expect(told).toEqual([
      "5 of 60 s simulated in 10 s: 0.5 s a second, about 1.8 min left",
      "10 of 60 s simulated in 20 s: 0.5 s a second, about 1.7 min left",
    ]);
  });

  it("[CLI-220] is a line of its own in a pipe, and nothing where JSON is asked for", () => {
    const stream = new PassThrough() as unknown as NodeJS.WriteStream;
    makeProgress(1, true, stream).tell("quiet");
    makeProgress(1, false, stream).tell("half way");
    expect(String((stream as unknown as PassThrough).read())).toBe("half way\n");
  });

  it("[CLI-220] counts every sample that a target has taken", async () => {
    const scene = sceneOf({ durationS: 4 });
    const line = openLine({ kind: "core", wasmPath: releaseCorePath() });
    const folder = mkdtempSync(join(tmpdir(), "amberline-pace-"));
    mkdirSync(join(folder, "cases"));
    let count = 0;
    const runner = new LineRunner(line, undefined, (_, samples) => void (count += samples));
    const signal = new AbortController().signal;
    const outcome = await runner.run({ scene, repeat: "again", isSampled: true, folder }, signal);
    rmSync(folder, { recursive: true });
    expect(outcome.kind).toBe("judged");
    expect(count / scene.profile.sampleRateHz).toBeCloseTo(4, 2);
  });
});
