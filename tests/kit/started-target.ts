// `amberline target` in a process of its own, up to its first line.
import { tmpdir } from "node:os";
import { type Ended, amberline } from "./amberline-command.ts";

export interface StartedTarget {
  path: string;
  firstLine: string;
  /** Interrupts it. */
  end: (signal?: NodeJS.Signals) => Promise<Ended>;
}

export async function startedTarget(args: string[]): Promise<StartedTarget> {
  let kill: (signal: NodeJS.Signals) => void = () => {};
  let said = "";
  let ended: Promise<Ended> = Promise.reject(new Error("not started"));
  ended.catch(() => {});
  const firstLine = await new Promise<string>((resolve, reject) => {
    ended = amberline(["target", ...args], {
      cwd: tmpdir(),
      onStart: (signal) => {
        kill = signal;
      },
      onOutput: (text) => {
        said += text;
        if (said.includes("\n")) resolve(said.split("\n")[0]!);
      },
    });
    ended.then(({ stderr }) => reject(new Error(stderr)), reject);
  });
  const path = /\/dev\/[\w/.]+/.exec(firstLine)?.[0] ?? "";
  const end = (signal: NodeJS.Signals = "SIGINT"): Promise<Ended> => {
    kill(signal);
    return ended;
  };
  return { path, firstLine, end };
}
