// What is generated for a build of the firmware in C: numbers of the link as a header, wasm2c's
// names as a header, and wasm2c's output bound to one instance at fixed addresses.
import * as LINK from "../../shared/link.ts";

/** Name that wasm2c is asked to use; exports become `Z_firmwareZ_NAME`. */
export const MODULE_NAME = "firmware";

/** `link-numbers.h`: every number of shared/link.ts. */
export function linkNumbers(): string {
  const lines = Object.entries(LINK).map(([name, value]) => {
    const text = value > 0x7fffffff ? `0x${value.toString(16)}u` : String(value);
    return `#define ${name} ${text}`;
  });
  return `// Generated from shared/link.ts.\n#pragma once\n${lines.join("\n")}\n`;
}

/** `firmware.h`: what the hand-written C uses of the generated. */
export function firmwareHeader(dataBytes: number, identity: string): string {
  return `// Generated: the firmware's names, and how much memory it takes.
#pragma once
#include "firmware-wasm2c.h"
typedef Z_${MODULE_NAME}_instance_t FIRMWARE;
#define FIRMWARE_(name) Z_${MODULE_NAME}Z_##name
#define FIRMWARE_START(instance) \\
  (Z_${MODULE_NAME}_init_module(), Z_${MODULE_NAME}_instantiate(instance))
/** Where the firmware's static data ends; all of its memory. */
#define FIRMWARE_DATA_BYTES ${dataBytes}u
/** First 16 hex digits of SHA-256 over the module. */
#define FIRMWARE_IDENTITY "${identity}"
extern uint8_t firmware_memory[FIRMWARE_DATA_BYTES];
extern FIRMWARE firmware;
`;
}

/** The instance itself; and no types of functions, since nothing is called by table. */
const INCLUDES = `#include "firmware.h"
#define wasm_rt_register_func_type(...) 0
FIRMWARE firmware;`;

/**
 * A value where it lies: all of the firmware's stand on whole words, 64-bit ones, too. The sum is
 * of integers, which the compiler may turn as it likes; that of a pointer it may not.
 */
const HELD =
  "typedef t1 held_t __attribute__((may_alias, aligned(sizeof(t1) < 4 ? sizeof(t1) : 4))); " +
  "held_t *held = (held_t *)((uintptr_t)firmware_memory + (u32)addr);";

interface Edit {
  find: string;
  put: string;
}

const STORE_HEAD = "static inline void name(wasm_rt_memory_t* mem, u64 addr, t2 value) {";

/**
 * One instance at a fixed address, one memory at a fixed address and of a known size: the compiler
 * then knows addresses, and that memory and variables are apart. What is computed stays the same.
 */
const BINDING: Edit[] = [
  // wasm2c keeps loads alive for a handler of address faults that this build does not have.
  { find: "#define wasm_asm __asm__", put: "#define wasm_asm(...)" },
  {
    find: "wasm_rt_memcpy(&result, &mem->data[addr], sizeof(t1));",
    put: `${HELD} result = *held;`,
  },
  {
    find: "wasm_rt_memcpy(&mem->data[addr], &wrapped, sizeof(t1));",
    put: `${HELD} *held = wrapped;`,
  },
  // Loads and stores as instructions, not calls, checked or not.
  { find: "static inline t3 name(", put: "__attribute__((always_inline)) static inline t3 name(" },
  { find: STORE_HEAD, put: `__attribute__((always_inline)) ${STORE_HEAD}` },
  {
    find: "#define MEMCHECK(mem, a, t) RANGE_CHECK(mem, a, sizeof(t))",
    put: "#define MEMCHECK(mem, a, t) if (UNLIKELY(a > FIRMWARE_DATA_BYTES - sizeof(t))) TRAP(OOB);",
  },
  {
    find: "if (UNLIKELY(offset + (uint64_t)len > mem->size))",
    put: "if (UNLIKELY(offset + (uint64_t)len > FIRMWARE_DATA_BYTES))",
  },
  // The same by one instruction each: of a NaN no bits count but that it is one.
  { find: "float wasm_sqrtf(float x) {", put: "float wasm_sqrtf(float x) {\n  return sqrtf(x);" },
  { find: "float wasm_fabsf(float x) {", put: "float wasm_fabsf(float x) {\n  return fabsf(x);" },
  { find: "instance->w2c_", put: "firmware.w2c_" },
  { find: '#include "firmware-wasm2c.h"', put: INCLUDES },
];

/** Loops over samples, kept apart: inlined they lose their registers to what stands around them. */
const LOOPS = ["health_sumRun", "segment_segmentTake"];
/** Small functions that every edge or segment calls: their calls cost more than they do. */
const INLINED = [
  "tach_predict_advancePitches",
  "tach_predict_intervalTake",
  "tach_state_positionWrap",
  "memory_counterAdd",
  "pool_poolAddress",
  "angle_endSet",
  "angle_knotPush",
];

/** Gives functions of the firmware an attribute. Errors: throws where one is not there. */
function withAttribute(text: string, names: readonly string[], attribute: string): string {
  let made = text;
  for (const name of names) {
    const head = new RegExp(`^static (?=\\w+ w2c_assembly_${name}\\()`, "gm");
    if (!head.test(made)) throw new Error(`the firmware has no function ${name} of its own`);
    made = made.replace(head, `${attribute} static `);
  }
  return made;
}

/**
 * Binds wasm2c's output to one instance.
 *
 * Errors    throws where the text is not as wasm2c 1.0.32 writes it
 */
export function boundFirmware(text: string): string {
  let bound = text;
  for (const { find, put } of BINDING) {
    if (!bound.includes(find)) throw new Error(`wasm2c wrote no "${find}": made for wabt 1.0.32`);
    bound = bound.replaceAll(find, put);
  }
  bound = withAttribute(bound, LOOPS, "__attribute__((noinline))");
  return withAttribute(bound, INLINED, "__attribute__((always_inline)) inline");
}
