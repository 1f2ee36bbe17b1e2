// What a board is built and run with, for tests that need it.
import { ARM_COMPILER, EMULATOR, HOST_COMPILER, WASM_TO_C } from "../../host/board/tools.ts";
import { systemCommand } from "./system-package.ts";

const areThere = (tools: readonly { command: string; packages: readonly string[] }[]): boolean =>
  tools.every(({ command, packages }) => systemCommand(command, packages.join(" ")) !== undefined);

/**
 * Whether the C can be built and run on this machine; what is missing is told.
 *
 * Errors    throws where something is missing and AMBERLINE_ALL_TESTS=1
 */
export const isPosixBoardHere = (): boolean => areThere([WASM_TO_C, HOST_COMPILER]);

/** The same for the emulated board. */
export const isEmulatedBoardHere = (): boolean => areThere([WASM_TO_C, ARM_COMPILER, EMULATOR]);
