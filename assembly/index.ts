// What the firmware offers to whoever carries it: numbers only, no imports.
import { LAYOUT_VERSION, NUMERICS_VERSION } from "../shared/layout.ts";
import { CONFIGURATION, COUNTERS, INPUT, RECORDS, REFUSAL } from "./memory.ts";

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
