// What can go wrong between host and device, each with a sentence that says what to do.
import {
  FAULT_REASON_ARITHMETIC,
  FAULT_REASON_ASSERTION,
  FAULT_REASON_BOUNDS,
  FAULT_REASON_PROCESSOR,
} from "../../shared/link.ts";

export type LinkErrorKind =
  | "no-answer"
  | "garbage"
  | "version"
  | "capability"
  | "echo"
  | "restarted"
  | "refused"
  | "fault"
  | "closed"
  | "log";

/** The link gave up. */
export class LinkError extends Error {
  readonly kind: LinkErrorKind;
  /** First sample of the first block that is not known to be taken, where blocks were on their way. */
  readonly firstSample: number | undefined;

  constructor(kind: LinkErrorKind, sentence: string, firstSample?: number) {
    super(sentence);
    this.name = "LinkError";
    this.kind = kind;
    this.firstSample = firstSample;
  }

  /** The same, told of the first block that was lost by it. */
  withSample(firstSample: number): LinkError {
    const where = `${this.message} (the first block not known to be taken begins at sample`;
    return new LinkError(this.kind, `${where} ${firstSample})`, firstSample);
  }
}

const seconds = (ms: number): string => `${(ms / 1000).toFixed(ms < 1000 ? 1 : 0)} s`;

export function noAnswer(waitedMs: number, tries: number): LinkError {
  const often = tries === 1 ? "once" : `${tries} times`;
  return new LinkError(
    "no-answer",
    `the device does not answer (asked ${often} in ${seconds(waitedMs)}): see that it is ` +
      "powered, that this is its port, and that no other program has it open",
  );
}

export function echoed(): LinkError {
  return new LinkError(
    "no-answer",
    "what is sent comes back, and no answer with it: both data wires are joined, or an adapter " +
      "repeats what it is given; see that this is the device's port, and how it is wired",
  );
}

export function garbage(bytes: number): LinkError {
  return new LinkError(
    "garbage",
    `${bytes} bytes came, and no packet among them: set the same baud rate at both ends, ` +
      "8 data bits, no parity, 1 stop bit, and see that this is the device's port",
  );
}

export function otherVersion(
  theirs: { protocol: number; layout: number },
  ours: { protocol: number; layout: number },
): LinkError {
  return new LinkError(
    "version",
    `the device speaks protocol ${theirs.protocol} and layout ${theirs.layout}, this host ` +
      `${ours.protocol} and ${ours.layout}: use firmware and host of one version`,
  );
}

export function unreadable(said: string): LinkError {
  return new LinkError(
    "version",
    `the device's answer cannot be read (${said}): use firmware and host of one version`,
  );
}

export function missingCapability(what: string): LinkError {
  return new LinkError(
    "capability",
    `the device cannot do what is asked: ${what}; use a device or a profile that fits`,
  );
}

export function echoDiffers(at: number): LinkError {
  return new LinkError(
    "echo",
    `the device holds another configuration than was sent, from byte ${at} on: start it anew and ` +
      "try again; where it stays, its memory or its firmware is at fault",
  );
}

export function restarted(): LinkError {
  return new LinkError(
    "restarted",
    "the device started anew in the middle and knows nothing of this run: look at its supply and " +
      "its reset line, then run the case again",
  );
}

export function packetRefused(status: string): LinkError {
  return new LinkError(
    "refused",
    `the device refuses a packet that this host is right to send (${status}): use firmware and ` +
      "host of one version",
  );
}

const REASONS = new Map([
  [FAULT_REASON_ASSERTION, "one of its own assertions failed"],
  [FAULT_REASON_BOUNDS, "an address outside its memory"],
  [FAULT_REASON_ARITHMETIC, "a division by zero, or a number that fits no integer"],
  [FAULT_REASON_PROCESSOR, "an exception of the processor"],
]);

export function noProgress(refusals: number): LinkError {
  return new LinkError(
    "refused",
    `the device answers, and takes nothing (${refusals} refusals in a row): start it anew; where it ` +
      "stays, use firmware and host of one version",
  );
}

export function deviceFault(reason: number | undefined): LinkError {
  const why = REASONS.get(reason ?? -1) ?? "for a reason that it does not name";
  return new LinkError(
    "fault",
    `the device's firmware has stopped (${why}): start it anew, and keep the case that led there`,
  );
}

export function portClosed(reason: string): LinkError {
  return new LinkError("closed", `the port closed (${reason}): connect it again and start anew`);
}

// --- a traffic log

export function logUnwritable(path: string, reason: string): LinkError {
  return new LinkError("log", `${path}: the traffic log cannot be written (${reason})`);
}

export function logHasNot(path: string, label: string): LinkError {
  return new LinkError(
    "log",
    `${path}: this traffic log holds nothing of ${label}: play back the run that it was recorded from`,
  );
}

const WHERE_FROM = "play back the same scenarios, seed and version that it was recorded with";

export function logDiffers(path: string, label: string, packet: number, byte: number): LinkError {
  return new LinkError(
    "log",
    `${path}: packet ${packet} of ${label} is another than the log holds, from byte ${byte} of ` +
      `what is sent on: ${WHERE_FROM}`,
  );
}

export function logHasNoMore(path: string, label: string, packet: number, byte: number): LinkError {
  return new LinkError(
    "log",
    `${path}: packet ${packet} of ${label} is not in the log, which ends after ${byte} bytes of ` +
      `what is sent, as that of an interrupted run does: ${WHERE_FROM}`,
  );
}

export function logCutShort(path: string, byte: number): LinkError {
  return new LinkError(
    "log",
    `${path}: the traffic log was cut short: it ends at byte ${byte}, in the middle of a session`,
  );
}

export function logLineWrong(path: string, line: number): LinkError {
  return new LinkError("log", `${path}:${line}: this is no line of a traffic log`);
}
