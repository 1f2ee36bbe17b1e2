// Whatever carries the signal path, opened: a target for each session on it.
import { randomInt } from "node:crypto";
import { BoardPort } from "../../host/board/board-port.ts";
import { realClock } from "../../host/link/clock.ts";
import { KeptPort } from "../../host/link/kept-port.ts";
import type { BytePort } from "../../host/link/port.ts";
import { SerialBytePort } from "../../host/link/serial-port.ts";
import { LoggedPort, TrafficLog } from "../../host/link/traffic-log.ts";
import { TrafficArchive } from "../../host/link/traffic-playback.ts";
import type { Scene } from "../scene/scene.ts";
import { type LoadedAdapter, loadAdapter } from "../adapter/load-adapter.ts";
import type { BoxUnderTest } from "../box/box-under-test.ts";
import { AdapterTarget, boxName } from "../adapter/adapter-target.ts";
import { AdapterWatch } from "../adapter/adapter-watch.ts";
import { messageOf } from "../../host/error-message.ts";
import { LinkTarget } from "../target/link-target.ts";
import type { Target } from "../target/target.ts";
import { TargetFailure } from "./run-case.ts";
import {
  type BoardSpec,
  type LogSpec,
  type ModuleSpec,
  type SerialSpec,
  type TargetSpec,
  makeTarget,
} from "./target-spec.ts";

/** Label of the session that only asks the device who it is. */
export const HELLO_LABEL = "the first hello";

/** Label of a case's session. */
export const caseLabel = ({ name }: Scene): string => `case ${JSON.stringify(name)}`;

export interface Line {
  /** The box at its end, where it is one that shows levels alone. Errors: InputError; its own. */
  levelBox?(): Promise<BoxUnderTest | undefined>;
  /** A target for one session. Errors: LinkError where a log holds no such session. */
  target(label: string): Target;
  /** Closes the port and the log. */
  end(): Promise<void>;
}

/**
 * Opens what a specification names; `port` stands for a serial port or board in its place.
 *
 * Errors    PortError where the log cannot be written; InputError where one cannot be read; an
 *           Error where a core is none
 */
export function openLine(spec: TargetSpec, port?: BytePort): Line {
  switch (spec.kind) {
    case "core":
      return { target: () => makeTarget(spec), async end() {} };
    case "log":
      return playedLine(spec);
    case "serial":
      return portLine(spec, port ?? new SerialBytePort(spec.path, { baud: spec.baud }));
    case "module":
      return moduleLine(spec);
    case "board":
      return portLine(spec, port ?? new BoardPort(spec.name));
  }
}

function portLine({ kind, giveUpMs, recordPath }: SerialSpec | BoardSpec, port: BytePort): Line {
  const kept = new KeptPort(port);
  const log = recordPath === undefined ? undefined : new TrafficLog(recordPath);
  return {
    target(label) {
      const mark = { label, session: randomInt(2 ** 32), firstSequence: randomInt(2 ** 16) };
      const used = log === undefined ? kept : new LoggedPort(kept, log, mark, realClock);
      return new LinkTarget({ kind, port: used, clock: realClock, giveUpMs, ...mark });
    },
    async end() {
      await kept.end();
      log?.end();
    },
  };
}

function moduleLine({ path, giveUpMs }: ModuleSpec): Line {
  const watch = new AdapterWatch(giveUpMs);
  let loaded: Promise<LoadedAdapter> | undefined;
  // Once for the run: an adapter may have opened what cannot be opened twice.
  const load = (): Promise<LoadedAdapter> => (loaded ??= loadAdapter(path, watch));
  return {
    target: () => new AdapterTarget(path, load, watch),
    async levelBox() {
      const adapter = await load();
      if (adapter.kind === "target") return undefined;
      const { box, facts } = adapter;
      const identity = boxName(facts);
      return { box, facts, kind: "module", identity, watch, file: path };
    },
    async end() {
      const adapter = await loaded?.catch(() => undefined);
      try {
        if (adapter?.kind === "levels" && !watch.isGone) {
          await watch.wait("close()", () => adapter.box.close());
        }
      } catch (error) {
        const said = messageOf(error);
        throw new TargetFailure(
          `the adapter failed at close(): ${said}; what was finished is in the results`,
          { cause: error },
        );
      } finally {
        watch.end();
      }
    },
  };
}

function playedLine({ path, giveUpMs }: LogSpec): Line {
  const archive = new TrafficArchive(path);
  return {
    target(label) {
      const mark = archive.mark(label);
      const port = archive.port(label);
      return new LinkTarget({ kind: "log", port, clock: realClock, giveUpMs, ...mark });
    },
    async end() {},
  };
}
