// A device on a pseudo-terminal, in a process of its own: the suite's bytes, and the plug.
import { realClock } from "../../host/link/clock.ts";
import { KeptPort } from "../../host/link/kept-port.ts";
import { SerialBytePort } from "../../host/link/serial-port.ts";
import { LinkTarget } from "../../harness/target/link-target.ts";
import { ptyDevice } from "../kit/pty-device.ts";
import { isPtyHere } from "../kit/pty-here.ts";
import { loadCore, playScene, playTarget } from "../kit/play-scene.ts";
import { suiteCases, suiteFiles } from "../kit/regression-suite.ts";
import { scene } from "../kit/scene-builder.ts";
import { startedTarget } from "../kit/started-target.ts";
import type { Figure, Measured } from "./figure.ts";

/** The whole suite is played only where this is set; it takes an hour on a slow machine. */
const IS_WHOLE = process.env["AMBERLINE_ALL_TESTS"] === "1";
/** Else one case of every so many files. */
const FILES_APART = 6;
const PLUGS = 40;
const PLUG_S_MAX = 3;

const SKIPPED: Measured = { text: "skipped: no pseudo-terminal here", isOk: true };

function targetAt(port: SerialBytePort | KeptPort, session: number): LinkTarget {
  return new LinkTarget({ kind: "serial", port, clock: realClock, session, firstSequence: 7 });
}

async function suite(): Promise<Measured> {
  if (!(await isPtyHere())) return SKIPPED;
  const all = suiteFiles();
  const files = IS_WHOLE ? all : all.filter((_, at) => at % FILES_APART === 0);
  const device = await startedTarget(["--json"]);
  const port = new KeptPort(new SerialBytePort(device.path));
  const direct = loadCore();
  let [cases, different, bytes, ms] = [0, 0, 0, 0];
  let where = "";
  for (const file of files) {
    const made = IS_WHOLE ? suiteCases(file) : suiteCases(file).slice(0, 1);
    for (const one of made) {
      const expected = await playScene(one, { core: direct });
      const startedMs = performance.now();
      cases += 1;
      const { records, counters } = await playTarget(targetAt(port, cases), one);
      ms += performance.now() - startedMs;
      bytes += records.byteLength;
      const isEqual =
        Buffer.compare(records, expected.records) === 0 &&
        JSON.stringify(counters) === JSON.stringify(expected.counters);
      if (isEqual) continue;
      different += 1;
      where ||= `; first ${file}`;
    }
  }
  await port.end();
  await device.end();
  return {
    text:
      `${IS_WHOLE ? "whole suite" : `one case of every ${FILES_APART}th file`}: ` +
      `${files.length} of ${all.length} files, ${cases} cases, ${(bytes / 1e6).toFixed(1)} MB of ` +
      `records in ${(ms / 1000).toFixed(0)} s, ${different} differ${where}`,
    isOk: cases > 10 && different === 0,
  };
}

async function plug(): Promise<Measured> {
  if (!(await isPtyHere())) return SKIPPED;
  let [worstMs, untold] = [0, 0];
  for (let time = 0; time < PLUGS; time += 1) {
    let frames = 0;
    let pulledMs = 0;
    const device = await ptyDevice({
      onAnswer: () => {
        frames += 1;
        if (frames < 3 + time || pulledMs > 0) return;
        pulledMs = performance.now();
        void device.unplug();
      },
    });
    const target = targetAt(new SerialBytePort(device.path), time + 1);
    const said = await playTarget(target, scene({ durationS: 3 })).catch((error: unknown) => error);
    const waitedMs = performance.now() - pulledMs;
    await target.close();
    if (!(said instanceof Error) || !said.message.includes("was unplugged")) untold += 1;
    worstMs = Math.max(worstMs, waitedMs);
  }
  return {
    text: `${PLUGS} plugs pulled after frame 3 to ${2 + PLUGS}: told after ${(worstMs / 1000).toFixed(2)} s at most, ${untold} not told`,
    isOk: untold === 0 && worstMs < 1000 * PLUG_S_MAX,
  };
}

export const LINE_FIGURES: Figure[] = [
  {
    id: "LINK-PTY",
    what: "scenarios over a pseudo-terminal and a serial port: records and counters against direct calls",
    required: "the same bytes",
    measure: suite,
  },
  {
    id: "LINK-PLUG",
    what: "the plug of a pseudo-terminal pulled in the middle of a run",
    required: `told within ${PLUG_S_MAX} s`,
    isOfMachine: true,
    measure: plug,
  },
];
