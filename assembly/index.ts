// What the firmware offers to whoever carries it: numbers only, no imports.
import { CONFIG_BYTES, LAYOUT_VERSION, NUMERICS_VERSION } from "../shared/layout.ts";
import { OK } from "../shared/status.ts";
import { configCheck } from "./config.ts";
import { answerGive, answerIsOnItsWay } from "./link/answer.ts";
import { dispatchReset, dispatchTake } from "./link/dispatch.ts";
import { frameTake } from "./link/frame.ts";
import {
  CONFIGURATION, COUNTERS, INPUT, LINK_COUNTERS, PORT, RECORDS, REFUSAL,
} from "./memory.ts";
import { pipelineConfigure, pipelineProcess, pipelineReset, pipelineShown } from "./pipeline.ts";
import { recordsClear as recordsForget, recordsCount } from "./records.ts";

/** Where the host writes a configuration before `configure`; the same place as a block's. */
export function addressConfiguration(): usize {
  return INPUT;
}
/** The configuration in force. */
export function addressActiveConfiguration(): usize {
  return CONFIGURATION;
}
/** Where the host writes a block before `process`. */
export function addressBlock(): usize {
  return INPUT;
}
export function addressRecords(): usize {
  return RECORDS;
}
export function addressCounters(): usize {
  return COUNTERS;
}
export function addressRefusal(): usize {
  return REFUSAL;
}
/** The end of static data: what a build that allocates its memory must allocate. */
export function addressDataEnd(): usize {
  return __heap_base;
}
export function layoutVersion(): i32 {
  return LAYOUT_VERSION;
}
export function numericsVersion(): i32 {
  return NUMERICS_VERSION;
}

/**
 * Checks the configuration at `addressConfiguration` whole, then takes it; every state starts anew.
 *
 * Errors    ERR_CONFIG_…, told in full at `addressRefusal`; what was active goes on unharmed
 */
export function configure(): i32 {
  const status = configCheck();
  if (status != OK) return status;
  memory.copy(CONFIGURATION, INPUT, CONFIG_BYTES);
  pipelineConfigure();
  return OK;
}

/**
 * Takes the block at `addressBlock`.
 *
 * Errors    ERR_NOT_CONFIGURED, ERR_BLOCK_…, ERR_EDGE_…: nothing of the block was used
 */
export function process(): i32 {
  return pipelineProcess();
}

/**
 * Takes a recorded number into the caution stage of one display, in place of samples and edges.
 *
 * Errors    ERR_NOT_CONFIGURED, ERR_CONFIG_REFERENCE
 */
export function takeShown(display: i32, counts: i32, tickLow: u32, tickHigh: u32): i32 {
  return pipelineShown(display, counts, <u64>tickLow | <u64>tickHigh << 32);
}

/** Records that wait at `addressRecords`. */
export function recordCount(): i32 {
  return recordsCount();
}
/** Says that the host has taken them. */
export function recordsClear(): void {
  recordsForget();
}
/** Back to the state just after configure. */
export function reset(): void {
  pipelineReset();
}

// --- the device's side of a serial link: bytes in, bytes out

/** Where the port says what it is before `linkStart`: PORT_… */
export function addressPort(): usize {
  return PORT;
}
/** The link's own counters, LINK_COUNTER_…; the port adds its ticks there. */
export function addressLinkCounters(): usize {
  return LINK_COUNTERS;
}
/** The line is quiet and no session stands, as after power-up. */
export function linkStart(): void {
  dispatchReset();
}
/**
 * Takes one byte from the line; a whole packet is done at its last byte, within this call.
 *
 * Errors    traps while an answer is on its way: the port sends it first, with `linkGive`
 */
export function linkTake(byte: i32): void {
  assert(!answerIsOnItsWay());
  if (frameTake(<u32>byte & 0xff)) dispatchTake();
}
/** The next byte of an answer for the line, or −1 where there is none. */
export function linkGive(): i32 {
  return answerGive();
}
