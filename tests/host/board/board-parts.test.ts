import { describe, expect, it, vi } from "vitest";
import { command } from "../../../host/board/build.ts";
import { boundFirmware, linkNumbers } from "../../../host/board/generate.ts";
import { EmulatorError } from "../../../host/board/emulator.ts";
import { boardSize, sizeComplaints, sizeText } from "../../../host/board/size-report.ts";
import { ARM_COMPILER, ToolMissing, WASM_TO_C, toolPaths } from "../../../host/board/tools.ts";
import * as LINK from "../../../shared/link.ts";

const MAP = `Memory Configuration

Linker script and memory map

LOAD something
.text           0x00000000     0x7000
 .text.small    0x00000010       0x20 a.o
.ARM.exidx      0x00007000        0x8
.stack          0x20000000      0xc00
.data           0x20000c00       0x10 load address 0x00007008
.bss            0x20000c10     0x1990
.memory         0x200025a0     0x9000
`;

describe("a board's parts", () => {
  it("[BOARD-030] every number of the link reaches C as it is", () => {
    const defined = [...linkNumbers().matchAll(/^#define (\w+) (\S+)$/gm)].map(
      ([, name, value]) => [name, Number(value!.replace(/u$/, ""))] as const,
    );
    expect(Object.fromEntries(defined)).toEqual({ ...LINK });
  });

  it("[BOARD-031] text that another wasm2c wrote is refused, not half bound", () => {
    expect(() => boundFirmware("#define wasm_asm __asm__\nint main;")).toThrow(/wabt 1\.0\.32/);
  });

  it("[BOARD-032] sizes are read from the linker's map, output sections only", () => {
    const size = boardSize(MAP);
    expect(size).toEqual({
      flashBytes: 0x7000 + 8 + 0x10,
      memoryBytes: 0x9000,
      variableBytes: 0x10 + 0x1990,
      stackBytes: 0xc00,
    });
    expect(sizeText(size)).toContain("flash 28696 of 32768 bytes");
    expect(() => boardSize(MAP.replace(".stack", ".stick"))).toThrow("no section .stack");
  });

  it("[BOARD-033] what is over its limit is told, and nothing else", () => {
    const size = boardSize(MAP);
    expect(sizeComplaints(size)).toEqual([]);
    const large = { ...size, flashBytes: 32_769, memoryBytes: 40_961, stackBytes: 12_288 };
    expect(sizeComplaints(large).map((one) => one.split(":")[0])).toEqual([
      "flash",
      "memory of the firmware",
      "variables and stack",
    ]);
  });

  it("[BOARD-034] a missing program is named with the packages that bring it", () => {
    const path = process.env["PATH"];
    process.env["PATH"] = "";
    try {
      toolPaths([WASM_TO_C, ARM_COMPILER]);
      expect.unreachable();
    } catch (error) {
      expect(error).toBeInstanceOf(ToolMissing);
      const said = (error as ToolMissing).message;
      expect(said).toContain("wasm2c, arm-none-eabi-gcc");
      expect(said).toContain("wabt gcc-arm-none-eabi libnewlib-arm-none-eabi");
      expect(said).toContain("works without");
    } finally {
      process.env["PATH"] = path;
    }
  });

  it.each([["--bouns"], ["mps2-an386", "--bound"], ["no-board"]])(
    "[BOARD-036] a build that was called by %s builds nothing",
    (...args) => {
      const said = vi.spyOn(process.stderr, "write").mockReturnValue(true);
      expect(command(args)).toBe(2);
      const words = said.mock.calls.join("");
      said.mockRestore();
      expect(words).toMatch(/^no (option --boun\w+|board "no-board") \(there /);
    },
  );

  it("[BOARD-035] what the emulator said is told, without what it always says", () => {
    const noise = "qemu-system-arm: warning: nic lan9118.0 has no peer\n";
    const error = new EmulatorError("ended with 1", `${noise}qemu-system-arm: no such kernel\n`);
    expect(error.message).toBe("the emulator ended with 1\nqemu-system-arm: no such kernel");
  });
});
