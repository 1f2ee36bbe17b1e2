// Progress on a terminal; nothing in a pipe or a file.
import { Presets, SingleBar } from "cli-progress";

export interface Progress {
  show(done: number, total: number, name: string): void;
  /** How far a long one has come: beside the bar, or a line of its own where there is none. */
  tell(words: string): void;
  stop(): void;
}

/** A bar on the error stream, where that is a terminal. */
export function makeProgress(
  total: number,
  isQuiet: boolean,
  stream: NodeJS.WriteStream = process.stderr,
): Progress {
  if (isQuiet) return { show: () => {}, tell: () => {}, stop: () => {} };
  if (!stream.isTTY) {
    return { show: () => {}, tell: (words) => void stream.write(`${words}\n`), stop: () => {} };
  }
  const bar = new SingleBar(
    {
      format: " {bar} {value}/{total} {name}",
      barsize: 24,
      stream,
      clearOnComplete: true,
      hideCursor: true,
    },
    Presets.rect,
  );
  bar.start(total, 0, { name: "" });
  return {
    show: (done, _total, name) => bar.update(done, { name: name.slice(0, 40) }),
    tell: (words) => bar.update({ name: words }),
    stop: () => bar.stop(),
  };
}
