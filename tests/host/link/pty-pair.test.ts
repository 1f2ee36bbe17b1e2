import { describe, expect, it } from "vitest";
import { PtyPort, WAITING_BYTES_MAX } from "../../../host/link/pty-pair.ts";
import { SerialBytePort } from "../../../host/link/serial-port.ts";
import { isPtyHere } from "../../kit/pty-here.ts";

const isHere = await isPtyHere();

const complaintOf = (work: Promise<unknown>): Promise<string> =>
  work.then(
    () => "",
    (error: unknown) => (error as Error).message,
  );

describe.skipIf(!isHere)("a pseudo-terminal", () => {
  it("[LINK-127] carries a quarter of a million bytes each way at once, whole and in order", async () => {
    const count = 1 << 18;
    const device = new PtyPort();
    await device.open();
    const host = new SerialBytePort(device.path);
    const all = Uint8Array.from({ length: count }, (_, i) => (i * 31 + (i >> 8)) & 0xff);
    const got: Record<"host" | "device", Uint8Array[]> = { host: [], device: [] };
    host.onBytes((bytes) => got.host.push(bytes.slice()));
    device.onBytes((bytes) => got.device.push(bytes.slice()));
    await host.open();
    host.write(all);
    device.write(all);
    const bytesOf = (side: "host" | "device"): Buffer => Buffer.concat(got[side]);
    await expect
      .poll(() => [bytesOf("host").length, bytesOf("device").length], { timeout: 60_000 })
      .toEqual([count, count]);
    expect(bytesOf("host").equals(all)).toBe(true);
    expect(bytesOf("device").equals(all)).toBe(true);
    await host.close();
    await device.close();
  });

  it("[LINK-128] stays when its user leaves, and serves the next", async () => {
    const device = new PtyPort();
    await device.open();
    let lost = 0;
    device.onClosed(() => (lost += 1));
    device.onBytes((bytes) => device.write(bytes.slice()));
    for (let time = 0; time < 3; time += 1) {
      const host = new SerialBytePort(device.path);
      const got: number[] = [];
      host.onBytes((bytes) => got.push(...bytes));
      await host.open();
      host.write(Uint8Array.of(time, 0x0a, 0x03, 0x11));
      await expect.poll(() => got).toEqual([time, 0x0a, 0x03, 0x11]);
      await host.close();
    }
    expect(lost).toBe(0);
    await device.close();
  });

  it("[LINK-128] where nobody reads it keeps a bounded heap, and closes all the same", async () => {
    const device = new PtyPort();
    await device.open();
    const piece = new Uint8Array(1 << 16);
    for (let i = 0; i < (4 * WAITING_BYTES_MAX) / piece.length; i += 1) device.write(piece);
    await device.close();
    expect(device.path).toMatch(/^\/dev\//);
    expect(await complaintOf(new SerialBytePort(device.path).open())).not.toBe("");
  });
});

describe("a system without pseudo-terminals", () => {
  it("[LINK-129] says so, and what to do", async () => {
    expect(await complaintOf(new PtyPort({ platform: "win32" }).open())).toContain(
      "this system has no pseudo-terminals: they are offered on Linux and macOS",
    );
    const open = (): never => {
      throw new Error("openpty(3) failed.");
    };
    const none = new PtyPort({ platform: "linux", load: () => ({ open }) });
    expect(await complaintOf(none.open())).toContain(
      "gives no pseudo-terminal (openpty(3) failed.)",
    );
  });

  it("[LINK-125] a missing package is told with the command and the line that installs it", async () => {
    const load = (): never => {
      throw new Error("Cannot find module '@lydell/node-pty'");
    };
    const said = await complaintOf(new PtyPort({ platform: "linux", load }).open());
    expect(said).toContain('"amberline target" needs the package @lydell/node-pty');
    expect(said).toContain("npm install @lydell/node-pty@1.1.0");
  });
});
