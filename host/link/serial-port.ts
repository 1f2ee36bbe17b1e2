// A serial port, of any system and of any path, as a port of bytes: 8 data bits, no parity, 1 stop
// bit, locked against other programs.
import { fstatSync, readFileSync, statSync } from "node:fs";
import { type Load, SERIAL_PACKAGE, loadHere, loadOptional } from "./optional-package.ts";
import { type BytePort, PortError } from "./port.ts";

export const BAUD_DEFAULT = 115_200;
export const BAUD_MIN = 300;
export const BAUD_MAX = 12_000_000;
/** A port that closes has closed by then, or never says so. */
const CLOSE_MS_MAX = 1000;

/** How often it is looked whether the port is still there. */
const WATCH_MS = 500;

/** What a system says of a write to a port that is not there any more. */
const GONE_WORDS = /\b(EIO|ENXIO|ENODEV|EBADF)\b|device (has been|was) (removed|disconnected)/i;

/** What is used of the package. */
interface Stream {
  readonly isOpen: boolean;
  readonly port?: { readonly fd?: number | null };
  open(done: (error: Error | null) => void): void;
  close(done: (error: Error | null) => void): void;
  write(bytes: Uint8Array): boolean;
  on(event: "data", take: (bytes: Buffer) => void): void;
  on(event: "error", take: (error: Error) => void): void;
  on(event: "close", take: (error?: Error & { disconnected?: boolean }) => void): void;
}

interface Package {
  SerialPort: {
    new (options: object): Stream;
    list(): Promise<{ path: string }[]>;
  };
}

export interface SerialBytePortOptions {
  baud?: number;
  /** Gives the package; tests give another. */
  load?: Load;
}

/** The system's name of a file's group, its number where it has none. */
function groupOf(path: string): string {
  const { gid } = statSync(path);
  const line = readFileSync("/etc/group", "utf8")
    .split("\n")
    .find((one) => one.split(":")[2] === String(gid));
  return line?.split(":")[0] ?? String(gid);
}

/** Whom to ask for the right to open a port. */
function rightHint(path: string, platform: NodeJS.Platform): string {
  if (platform !== "linux") return "see that this user may open it";
  try {
    const group = groupOf(path);
    return `it belongs to the group ${group}: sudo usermod -aG ${group} "$USER", then log in again`;
  } catch {
    return 'such ports belong to the group dialout: sudo usermod -aG dialout "$USER", then log in again';
  }
}

/** The sentence for what the system said at opening. */
export function openComplaint(
  path: string,
  said: string,
  ports: readonly string[] | undefined,
  platform: NodeJS.Platform = process.platform,
): string {
  if (/no such file|file not found|cannot find/i.test(said)) {
    const others =
      ports === undefined
        ? "the system does not list its ports"
        : ports.length === 0
          ? "the system lists none"
          : `the system lists ${ports.join(", ")}`;
    return `${path}: there is no such port (${others}); see that it is plugged in`;
  }
  if (/permission denied|operation not permitted/i.test(said)) {
    return `${path}: this user may not open the port; ${rightHint(path, platform)}`;
  }
  if (/cannot lock|unavailable|busy|access (is )?denied/i.test(said)) {
    return `${path}: the port is busy; close the other program that has it open`;
  }
  if (/ioctl|is a directory|not a (tty|typewriter)|invalid argument/i.test(said)) {
    return `${path}: is no serial port, or one that cannot do this baud rate (${said})`;
  }
  return `${path}: the port cannot be opened (${said})`;
}

export class SerialBytePort implements BytePort {
  readonly path: string;
  readonly #options: SerialBytePortOptions;
  #stream: Stream | undefined;
  #watch: NodeJS.Timeout | undefined;
  #take: (bytes: Uint8Array) => void = () => {};
  #closed: (reason: string) => void = () => {};

  constructor(path: string, options: SerialBytePortOptions = {}) {
    this.path = path;
    this.#options = options;
  }

  /** Errors: MissingPackage; PortError. */
  async open(): Promise<void> {
    const { load = loadHere, baud = BAUD_DEFAULT } = this.#options;
    const found = loadOptional(SERIAL_PACKAGE, () => load(SERIAL_PACKAGE.name)) as Package;
    const stream = new found.SerialPort({
      path: this.path,
      baudRate: baud,
      dataBits: 8,
      parity: "none",
      stopBits: 1,
      lock: true,
      autoOpen: false,
    });
    const error = await new Promise<Error | null>((resolve) => stream.open(resolve));
    if (error !== null && error !== undefined) {
      const ports = await listed(found);
      throw new PortError(openComplaint(this.path, error.message, ports), { cause: error });
    }
    this.#stream = stream;
    this.#watch = setInterval(() => {
      if (isGone(stream)) this.#lost(stream, `${this.path} was unplugged`);
    }, WATCH_MS);
    stream.on("data", (bytes) => this.#take(bytes));
    stream.on("error", ({ message }) => {
      const isPulled = GONE_WORDS.test(message) || isGone(stream);
      this.#lost(stream, this.path + (isPulled ? " was unplugged" : `: ${message}`));
    });
    stream.on("close", (why) => {
      const reason = why?.disconnected === true ? "was unplugged" : "was closed by the system";
      this.#lost(stream, `${this.path} ${reason}`);
    });
  }

  write(bytes: Uint8Array): void {
    if (this.#stream?.isOpen === true) this.#stream.write(bytes);
  }

  onBytes(take: (bytes: Uint8Array) => void): void {
    this.#take = take;
  }

  onClosed(take: (reason: string) => void): void {
    this.#closed = take;
  }

  async close(): Promise<void> {
    const stream = this.#stream;
    this.#stream = undefined;
    clearInterval(this.#watch);
    if (stream?.isOpen === true) await closed(stream);
  }

  /** Told once; not at all where this side closed it. */
  #lost(stream: Stream, reason: string): void {
    if (this.#stream !== stream) return;
    this.#stream = undefined;
    clearInterval(this.#watch);
    if (stream.isOpen) void closed(stream);
    this.#closed(reason);
  }
}

/**
 * Whether the system has taken the port's file away. A read of such a port gives no bytes and no
 * error, and the package asks again for ever.
 */
function isGone(stream: Stream): boolean {
  const fd = stream.port?.fd;
  if (typeof fd !== "number" || fd < 0) return false;
  try {
    return fstatSync(fd).nlink === 0;
  } catch {
    return true;
  }
}

function closed(stream: Stream): Promise<void> {
  return new Promise((resolve) => {
    const timer = setTimeout(resolve, CLOSE_MS_MAX);
    stream.close(() => {
      clearTimeout(timer);
      resolve();
    });
  });
}

/** Paths of the system's ports; undefined where it has no way to list them. */
async function listed(found: Package): Promise<string[] | undefined> {
  try {
    return (await found.SerialPort.list()).map(({ path }) => path);
  } catch {
    return undefined;
  }
}
