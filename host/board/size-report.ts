// How much room a board's firmware takes, read from the linker's map.
import { DATA_BYTES_MAX } from "../../shared/capacity.ts";

export const FLASH_BYTES_MAX = 32 * 1024;
/** Beside the firmware's own memory: its variables, the receive ring, the stack. */
export const OTHER_RAM_BYTES_MAX = 12 * 1024;

export interface BoardSize {
  /** Program, constants and the first values of variables. */
  flashBytes: number;
  /** The firmware's memory: all static data, no page. */
  memoryBytes: number;
  /** Variables of the C: the instance's, the receive ring. */
  variableBytes: number;
  stackBytes: number;
}

/** Sizes of the output sections of a map. */
function sectionBytes(map: string): Map<string, number> {
  const sizes = new Map<string, number>();
  const layout = map.slice(map.indexOf("Linker script and memory map"));
  for (const [, name, size] of layout.matchAll(
    /^(\.[\w.]+)\s+0x[0-9a-f]+\s+0x([0-9a-f]+)(?:\s+load address.*)?$/gm,
  )) {
    sizes.set(name!, parseInt(size!, 16));
  }
  return sizes;
}

/**
 * Reads a map.
 *
 * Errors    throws where a section that every build has is missing
 */
export function boardSize(map: string): BoardSize {
  const sizes = sectionBytes(map);
  const of = (name: string): number => {
    const bytes = sizes.get(name);
    if (bytes === undefined) throw new Error(`the linker's map has no section ${name}`);
    return bytes;
  };
  return {
    flashBytes: of(".text") + of(".ARM.exidx") + of(".data"),
    memoryBytes: of(".memory"),
    variableBytes: of(".data") + of(".bss"),
    stackBytes: of(".stack"),
  };
}

/** What of a size is over its limit, a sentence each. */
export function sizeComplaints(size: BoardSize): string[] {
  const other = size.variableBytes + size.stackBytes;
  const rows: [string, number, number][] = [
    ["flash", size.flashBytes, FLASH_BYTES_MAX],
    ["memory of the firmware", size.memoryBytes, DATA_BYTES_MAX],
    ["variables and stack", other, OTHER_RAM_BYTES_MAX],
  ];
  return rows
    .filter(([, bytes, limit]) => bytes > limit)
    .map(([what, bytes, limit]) => `${what}: ${bytes} bytes, at most ${limit}`);
}

/** One line: `flash 28344 of 32768; RAM 37312 of 40960 data, 9620 of 12288 beside`. */
export function sizeText(size: BoardSize): string {
  const { flashBytes, memoryBytes, variableBytes, stackBytes } = size;
  return (
    `flash ${flashBytes} of ${FLASH_BYTES_MAX} bytes; RAM: firmware's memory ${memoryBytes} of ` +
    `${DATA_BYTES_MAX}, beside it ${variableBytes + stackBytes} of ${OTHER_RAM_BYTES_MAX} ` +
    `(variables and receive ring ${variableBytes}, stack ${stackBytes})`
  );
}
