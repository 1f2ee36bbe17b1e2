import { existsSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, afterEach, describe, expect, it } from "vitest";
import { realClock } from "../../../host/link/clock.ts";
import { LinkClient } from "../../../host/link/client.ts";
import { PtyPort } from "../../../host/link/pty-pair.ts";
import { SerialBytePort, openComplaint } from "../../../host/link/serial-port.ts";
import { isPtyHere } from "../../kit/pty-here.ts";

const isHere = await isPtyHere();
const folder = mkdtempSync(join(tmpdir(), "amberline port "));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const opened: { close: () => Promise<void> }[] = [];
afterEach(async () => {
  for (const one of opened.splice(0)) await one.close();
});

async function pty(): Promise<PtyPort> {
  const port = new PtyPort();
  opened.push(port);
  await port.open();
  return port;
}

function serial(path: string): SerialBytePort {
  const port = new SerialBytePort(path);
  opened.unshift(port);
  return port;
}

const complaintOf = (work: Promise<unknown>): Promise<string> =>
  work.then(
    () => "",
    (error: unknown) => (error as Error).message,
  );

describe.skipIf(!isHere)("a serial port", () => {
  it("[LINK-120] passes bytes of every value, both ways", async () => {
    const device = await pty();
    const host = serial(device.path);
    const [atHost, atDevice]: [number[], number[]] = [[], []];
    host.onBytes((bytes) => atHost.push(...bytes));
    device.onBytes((bytes) => atDevice.push(...bytes));
    await host.open();
    const all = Uint8Array.from({ length: 1024 }, (_, i) => i & 0xff);
    host.write(all);
    device.write(all);
    await expect.poll(() => [atHost.length, atDevice.length]).toEqual([1024, 1024]);
    expect(atHost).toEqual([...all]);
    expect(atDevice).toEqual([...all]);
  });

  it("[LINK-121] no such port, a busy one, a file and a folder are each a sentence", async () => {
    const missing = await complaintOf(serial(join(folder, "none")).open());
    expect(missing).toMatch(/none: there is no such port \(.*\); see that it is plugged in$/);
    const { path } = await pty();
    await serial(path).open();
    expect(await complaintOf(serial(path).open())).toBe(
      `${path}: the port is busy; close the other program that has it open`,
    );
    writeFileSync(join(folder, "file"), "");
    for (const name of [join(folder, "file"), folder]) {
      expect(await complaintOf(serial(name).open())).toContain(`${name}: is no serial port`);
    }
  });

  it("[LINK-123] a pulled plug is told once, within 3 s, and not where this side closed", async () => {
    const device = await pty();
    const host = serial(device.path);
    const reasons: string[] = [];
    host.onClosed((reason) => reasons.push(reason));
    await host.open();
    await device.close();
    await expect.poll(() => reasons, { timeout: 3000 }).toEqual([`${device.path} was unplugged`]);
    host.write(Uint8Array.of(1));
    const other = await pty();
    const closed = serial(other.path);
    closed.onClosed((reason) => reasons.push(reason));
    await closed.open();
    await closed.close();
    await other.close();
    expect(reasons.length).toBe(1);
  });

  it("[LINK-123] a plug that is pulled while bytes are written is told as such", async () => {
    for (let bytes = 0; bytes < 12; bytes += 1) {
      const device = await pty();
      const host = serial(device.path);
      const reasons: unknown[] = [];
      host.onClosed((reason) => reasons.push(reason));
      await host.open();
      const gone = device.close();
      host.write(new Uint8Array(1 + 300 * bytes));
      await gone;
      await expect.poll(() => reasons, { timeout: 3000 }).toEqual([`${device.path} was unplugged`]);
    }
  });

  it("[LINK-124] bytes that are no packets point to the baud rate", async () => {
    const device = await pty();
    device.onBytes(() => device.write(Uint8Array.of(0xf8, 0x00, 0x7e, 0xc0, 0x1c, 0xe0)));
    const options = { clock: realClock, session: 7, firstSequence: 1, giveUpMs: 300 };
    const client = new LinkClient({ port: serial(device.path), ...options });
    const said = await complaintOf(client.open(new AbortController().signal));
    expect(said).toContain("no packet among them: set the same baud rate at both ends");
  });
});

describe("a serial port that cannot be opened", () => {
  it("[LINK-122] without the right the sentence names the port's group on Linux", async () => {
    const said = "Error: Permission denied, cannot open /dev/ttyX";
    const unknown = openComplaint("/dev/nowhere-at-all", said, [], "linux");
    expect(unknown).toContain("may not open the port; such ports belong to the group dialout");
    expect(openComplaint("/dev/cu.x", said, [], "darwin")).toMatch(
      /see that this user may open it$/,
    );
    if (existsSync("/dev/null") && existsSync("/etc/group")) {
      const root = openComplaint("/dev/null", said, [], "linux");
      expect(root).toContain("it belongs to the group root: sudo usermod -aG root");
    }
  });

  it("[LINK-121] what other systems say is told alike", () => {
    const missing = openComplaint("COM9", "Opening COM9: File not found", ["COM3"], "win32");
    expect(missing).toContain("there is no such port (the system lists COM3)");
    expect(openComplaint("COM3", "Opening COM3: Access denied", [], "win32")).toContain("is busy");
    expect(openComplaint("COM3", "odd", [], "win32")).toBe("COM3: the port cannot be opened (odd)");
  });

  it("[LINK-125] a missing package is told with the command and the line that installs it", async () => {
    const load = (): never => {
      throw new Error("Cannot find module 'serialport'");
    };
    const said = await complaintOf(new SerialBytePort("/dev/x", { load }).open());
    expect(said).toContain('"amberline run --target serial:PATH" needs the package serialport');
    expect(said).toContain("npm install serialport@13.0.0");
  });

  it("[LINK-126] a list of ports that cannot be had does no harm", async () => {
    class SerialPort {
      static list = (): Promise<never> => Promise.reject(new Error("spawn udevadm ENOENT"));
      open = (done: (error: Error) => void): void => done(new Error("No such file or directory"));
    }
    const port = new SerialBytePort("/dev/x", { load: () => ({ SerialPort }) });
    expect(await complaintOf(port.open())).toContain("the system does not list its ports");
  });
});
