import { describe, expect, it } from "vitest";
import { ChildPort } from "../../../host/link/child-port.ts";

const node = process.execPath;

async function started(
  script: string,
): Promise<{ port: ChildPort; got: number[]; lost: string[] }> {
  const port = new ChildPort(node, ["-e", script]);
  const [got, lost]: [number[], string[]] = [[], []];
  port.onBytes((bytes) => got.push(...bytes));
  port.onClosed((reason) => lost.push(reason));
  await port.open();
  return { port, got, lost };
}

describe("a program as a line", () => {
  it("[LINK-130] takes bytes on its input and gives them on its output", async () => {
    const { port, got, lost } = await started("process.stdin.pipe(process.stdout)");
    const all = Uint8Array.from({ length: 256 }, (_, i) => i);
    port.write(all);
    await expect.poll(() => got.length, { timeout: 10_000 }).toBe(256);
    expect(got).toEqual([...all]);
    await port.close();
    expect(lost).toEqual([]);
  });

  it("[LINK-131] its end is told with its code and its last words", async () => {
    const { port, lost } = await started('console.error("no power"); process.exit(7)');
    await expect.poll(() => lost.length, { timeout: 10_000 }).toBe(1);
    expect(lost[0]).toMatch(/^the program .* ended with code 7: no power$/);
    port.write(Uint8Array.of(1));
    await port.close();
  });

  it("[LINK-131] one that cannot be started is told; one that will not end is ended", async () => {
    const missing = new ChildPort("no-such-program-anywhere");
    await expect(missing.open()).rejects.toThrow(
      "no-such-program-anywhere: cannot be started (there is no such program)",
    );
    const { port, lost } = await started("setInterval(() => {}, 1000)");
    await port.close();
    expect(lost).toEqual([]);
  });
});
