import { existsSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { EmulatorError, startBoard } from "../../../host/board/emulator.ts";
import { systemCommand } from "../../kit/system-package.ts";
import { ROOT } from "../../repo/source-files.ts";

const isThere = systemCommand("qemu-system-arm", "qemu-system-arm") !== undefined;

describe.skipIf(!isThere)("the emulator", () => {
  it("[BOARD-040] a program that is not there ends it with its own words", async () => {
    const programPath = join(ROOT, "build", "no-such.elf");
    expect(existsSync(programPath)).toBe(false);
    const started = startBoard({ programPath });
    await expect(started).rejects.toThrow(EmulatorError);
    await expect(started).rejects.toThrow(/no-such\.elf/);
  });
});
