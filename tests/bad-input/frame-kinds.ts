// Frames of the link as a traffic log holds them, harmed one by one, to `run --target log:`.
import { type Content, fileName, type Kind, OUT } from "./kind.ts";

/** Lines of the log from a direction: ">" to the device, "<" from it. */
function linesOf(lines: string[], direction: "<" | ">"): number[] {
  return lines.flatMap((line, i) => (line.includes(` ${direction} `) ? [i] : []));
}

/** The log with one line of a direction as given. */
function withLine(
  log: string,
  direction: "<" | ">",
  which: number,
  change: (line: string) => string | undefined,
): string {
  const lines = log.split("\n");
  const at = linesOf(lines, direction).at(which)!;
  const to = change(lines[at]!);
  lines.splice(at, 1, ...(to === undefined ? [] : [to]));
  return lines.join("\n");
}

/** One digit of the frame's bytes turned, well inside of it. */
function turned(line: string): string {
  const at = line.lastIndexOf(" ") + 13;
  return `${line.slice(0, at)}${line[at] === "0" ? "1" : "0"}${line.slice(at + 1)}`;
}

const cut = (line: string): string => line.slice(0, line.lastIndexOf(" ") + 11);
const gone = (): undefined => undefined;

type Row = [what: string, content: (log: string) => Content, told: string, code: 2 | 3];

const ROWS: Row[] = [
  ["an empty log", () => "", "is no traffic log", 2],
  ["another first line", (log) => log.replace("log 1", "log 9"), "is no traffic log", 2],
  ["no sessions", (log) => log.split("\n")[0]! + "\n", "holds nothing of", 3],
  ["a case that is another", (log) => log.replace("good", "gold"), "holds nothing of case", 3],
  ["a line without end", (log) => log + "0".repeat(70_000), "a line is longer than any", 2],
  ["a log cut short", (log) => log.slice(0, log.length - 900), "was cut short", 3],
  [
    "an answer with a bit turned",
    (log) => withLine(log, "<", 1, turned),
    "the target failed at open",
    3,
  ],
  [
    "an answer cut in the middle",
    (log) => withLine(log, "<", 1, cut),
    "the target failed at open",
    3,
  ],
  ["an answer that is gone", (log) => withLine(log, "<", 1, gone), "the target failed at open", 3],
  [
    "a last answer that is gone",
    (log) => withLine(log, "<", -1, gone),
    "is not in the log, which ends",
    3,
  ],
  ["another question", (log) => withLine(log, ">", 1, turned), "is another than the log", 3],
  [
    "a frame in no digits",
    (log) => withLine(log, "<", 1, () => "1.000 < xyz"),
    "this is no line of a traffic log",
    3,
  ],
];

export function frameKinds(goodLog: string, scenario: string): Kind[] {
  return ROWS.map(([what, content, told, code]) => {
    const file = fileName(what, ".log");
    const files = { "good.scenario.yaml": scenario, [file]: content(goodLog) };
    const target = ["--target", `log:…/${file}`, "--time-out", "300 ms"];
    const args = ["run", "…/good.scenario.yaml", ...target, ...OUT];
    return { group: "frames", what, files, args, told: [told], code };
  });
}
