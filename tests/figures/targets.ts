// Every build of the firmware against the release in this process: the same bytes on the whole suite,
// and on the emulated board on what was made small enough for its line.
import { BoardPort } from "../../host/board/board-port.ts";
import type { BoardName } from "../../host/board/compile.ts";
import { realClock } from "../../host/link/clock.ts";
import { KeptPort } from "../../host/link/kept-port.ts";
import type { Scene } from "../../harness/scene/scene.ts";
import { CoreTarget } from "../../harness/target/core-target.ts";
import { LinkTarget } from "../../harness/target/link-target.ts";
import type { Target } from "../../harness/target/target.ts";
import { loadCore, playScene, playTarget } from "../kit/play-scene.ts";
import { suiteCases, suiteFiles } from "../kit/regression-suite.ts";
import type { Figure, Measured } from "./figure.ts";

const BOARD_FILES_MIN = 30;
const BOARD_RATE_HZ = 3200;
const BOARD_S_MAX = 6;

/** Plays cases to a target each, and holds records and counters against the release's. */
async function compared(
  files: readonly string[],
  targetOf: (session: number) => Target,
): Promise<{ text: string; cases: number; isEqual: boolean }> {
  const direct = loadCore();
  let [cases, different, bytes] = [0, 0, 0];
  let where = "";
  for (const file of files) {
    for (const made of suiteCases(file)) {
      cases += 1;
      const expected = await playScene(made, { core: direct });
      const target = targetOf(cases);
      const { records, counters } = await playTarget(target, made);
      await target.close();
      bytes += records.byteLength;
      const isEqual =
        Buffer.compare(records, expected.records) === 0 &&
        JSON.stringify(counters) === JSON.stringify(expected.counters);
      if (isEqual) continue;
      different += 1;
      where ||= `; first ${file}`;
    }
  }
  const text =
    `${files.length} files, ${cases} cases, ${(bytes / 1e6).toFixed(1)} MB of records, ` +
    `${different} differ${where}`;
  return { text, cases, isEqual: different === 0 };
}

async function debug(): Promise<Measured> {
  const core = loadCore("debug");
  const { text, cases, isEqual } = await compared(suiteFiles(), () => new CoreTarget(core));
  return { text, isOk: isEqual && cases > 300 };
}

async function onBoard(board: BoardName, files: readonly string[], casesMin: number) {
  const port = new KeptPort(new BoardPort(board));
  try {
    const { text, cases, isEqual } = await compared(
      files,
      (session) =>
        new LinkTarget({ kind: "board", port, clock: realClock, session, firstSequence: session }),
    );
    return { text, isOk: isEqual && cases >= casesMin };
  } finally {
    await port.end();
  }
}

/** What makes a scene small enough for the emulated board's line. */
function isSmall({ profile, durationS, channels }: Scene): boolean {
  const isCounts = channels.every(({ converter }) => converter.format === "i16");
  return profile.sampleRateHz === BOARD_RATE_HZ && durationS <= BOARD_S_MAX && isCounts;
}

async function emulated(): Promise<Measured> {
  const files = suiteFiles().filter((file) => file.startsWith("board/"));
  const large = files.filter((file) => !suiteCases(file).every(isSmall));
  const measured = await onBoard("mps2-an386", files, BOARD_FILES_MIN);
  const told = large.length === 0 ? "" : `; not small: ${large.join(", ")}`;
  return { text: `${measured.text}${told}`, isOk: measured.isOk && large.length === 0 };
}

export const TARGET_FIGURES: Figure[] = [
  {
    id: "TARGET-DEBUG",
    what: "the whole suite on the debug build: records and counters against the release",
    required: "the same bytes",
    measure: debug,
  },
  {
    id: "TARGET-C",
    what: "the whole suite on the firmware as C on this machine, over its link",
    required: "the same bytes",
    measure: () => onBoard("posix", suiteFiles(), 300),
  },
  {
    id: "TARGET-BOARD",
    what: `scenarios at ${BOARD_RATE_HZ / 1000} kHz in counts, at most ${BOARD_S_MAX} s each, on the emulated Cortex-M4F`,
    required: `the same bytes, ${BOARD_FILES_MIN} scenarios at least`,
    measure: emulated,
  },
];
