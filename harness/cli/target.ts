// `amberline target`: the signal path as a device on a pseudo-terminal.
import type { Command } from "@commander-js/extra-typings";
import { PROTOCOL_VERSION } from "../../shared/link.ts";
import { builtInCore } from "../../host/built-in-core.ts";
import { CALL_MS_MAX, CallLimit } from "../../host/call-limit.ts";
import { Core } from "../../host/core.ts";
import { LinkDevice } from "../../host/link/device.ts";
import { PtyPort } from "../../host/link/pty-pair.ts";
import { messageOf } from "../../host/error-message.ts";
import { TargetFailure } from "../run/run-case.ts";
import { CallError, EXIT_INTERRUPTED, EXIT_RIGHT, helpTail } from "./command-errors.ts";
import { commandStart } from "./command-start.ts";
import { checkCoreFile } from "./core-file.ts";
import { CORE_HELP, withMoreTime } from "./given-up-core.ts";
import { parseTimeOut } from "./target-wish.ts";

const EXIT_HELP =
  "Runs until it is interrupted (Ctrl-C), which is its normal end: code 0. Else\n" +
  "ends with 2 where the call is wrong, 3 where this system has no pseudo-terminal\n" +
  "or the firmware stopped, 130 interrupted before the device was there.\n\n" +
  CORE_HELP;

/** The device, and what ends it. */
interface Offered {
  port: PtyPort;
  core: Core;
  answers: () => number;
  /** Fails where the firmware stops. */
  stopped: Promise<never>;
}

const isInterrupt = (error: unknown): boolean =>
  error instanceof Error && error.name === "AbortError";

function loadCore(path: string | undefined, limit: CallLimit | undefined): Core {
  if (path === undefined) return builtInCore();
  try {
    return limit === undefined ? Core.fromFile(path) : limit.run(() => Core.fromFile(path));
  } catch (error) {
    if (isInterrupt(error)) throw error;
    const said = messageOf(error);
    throw new TargetFailure(`${path}: ${said}`, { cause: error });
  }
}

/** `limit` bounds a core that is not our own. */
async function offer(corePath: string | undefined, limit: CallLimit | undefined): Promise<Offered> {
  const core = loadCore(corePath, limit);
  const port = new PtyPort();
  let answers = 0;
  let fail: (error: unknown) => void = () => {};
  const stopped = new Promise<never>((_, reject) => {
    fail = reject;
  });
  stopped.catch(() => {});
  const device = new LinkDevice(core, port, {
    limit,
    onAnswer: () => (answers += 1),
    onFault: (error) => {
      const said = messageOf(error);
      fail(new TargetFailure(`the firmware stopped: ${said}`, { cause: error }));
    },
  });
  try {
    await device.start();
  } catch (error) {
    if (isInterrupt(error)) throw error;
    const said = messageOf(error);
    throw new TargetFailure(said, { cause: error });
  }
  return { port, core, answers: () => answers, stopped };
}

function tellStart({ port, core }: Offered, isJson: boolean): void {
  const { path } = port;
  const { identity, layoutVersion, numericsVersion } = core;
  if (isJson) {
    const said = { path, identity, protocolVersion: PROTOCOL_VERSION, layoutVersion };
    process.stdout.write(`${JSON.stringify({ ...said, numericsVersion })}\n`);
    return;
  }
  process.stdout.write(
    `A device is at ${path}: core ${identity},\n` +
      `protocol ${PROTOCOL_VERSION}, layout ${layoutVersion}, numerics ${numericsVersion}.\n` +
      "From another terminal:\n" +
      `  ${commandStart()} run FILES --target serial:${path}\n` +
      "Interrupt it (Ctrl-C) to end it.\n",
  );
}

/** Resolves at the first interrupt. */
function interrupted(): { come: Promise<void>; forget: () => void } {
  let onSignal = (): void => {};
  const come = new Promise<void>((resolve) => {
    onSignal = resolve;
  });
  process.once("SIGINT", onSignal).once("SIGTERM", onSignal);
  return { come, forget: () => process.off("SIGINT", onSignal).off("SIGTERM", onSignal) };
}

interface Wish {
  core?: string;
  timeOut?: number;
  json?: true;
}

/** `limit` bounds a core that is not our own. */
async function serve(wish: Wish, limit: CallLimit | undefined): Promise<void> {
  const end = interrupted();
  try {
    const offered = await offer(wish.core, limit);
    try {
      tellStart(offered, wish.json === true);
      await Promise.race([end.come, offered.stopped]);
    } finally {
      await offered.port.close();
    }
    if (wish.json !== true) process.stdout.write(`${offered.answers()} packets were answered.\n`);
    process.exitCode = EXIT_RIGHT;
  } catch (error) {
    if (!isInterrupt(error)) throw withMoreTime(error);
    process.stderr.write("Interrupted; no device was offered.\n");
    process.exitCode = EXIT_INTERRUPTED;
  } finally {
    end.forget();
  }
}

/** Adds the command `target`. */
export function registerTarget(program: Command): void {
  program
    .command("target")
    .description("offer the signal path as a device on a pseudo-terminal and print its path")
    .option("--core <file.wasm>", "a firmware other than the built-in one")
    .option(
      "--time-out <time>",
      "give such a firmware up where it does not come back",
      parseTimeOut,
    )
    .option("--json", "print path and versions as JSON")
    .option("--debug", "print the stack where something fails")
    .addHelpText("after", helpTail("amberline target", EXIT_HELP))
    .action(async (options) => {
      const { core, timeOut } = options;
      if (core === undefined && timeOut !== undefined) {
        throw new CallError("--time-out goes with --core: the built-in core ends");
      }
      if (core !== undefined) checkCoreFile(core);
      const giveUpMs = timeOut === undefined ? CALL_MS_MAX : timeOut * 1000;
      await serve(options, core === undefined ? undefined : new CallLimit(giveUpMs));
    });
}
