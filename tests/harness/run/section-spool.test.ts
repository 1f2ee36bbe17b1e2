import { existsSync, mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { SectionSpool } from "../../../harness/run/section-spool.ts";

describe("spool of sections", () => {
  it("[RUN-010] gives sections back in any order, and removes its file", () => {
    const folder = mkdtempSync(join(tmpdir(), "amberline-spool-"));
    const path = join(folder, "report.part");
    const spool = new SectionSpool(path);
    const texts = ["", "short", "äöü €".repeat(50_000), "last"];
    for (const [i, text] of texts.entries()) spool.add(`id${i}`, text);
    for (const i of [3, 0, 2, 1]) expect(spool.read(`id${i}`)).toBe(texts[i]);
    expect(() => spool.read("other")).toThrow("no section for case other");
    spool.remove();
    expect(existsSync(path)).toBe(false);
    rmSync(folder, { recursive: true });
  });
});
