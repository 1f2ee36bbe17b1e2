// What the generated C asks of its surroundings, in place of wasm2c's own runtime, which needs an
// operating system. One instance, one memory, of exactly the bytes that the firmware's static data
// takes: the page that the module asks for is not there, and nothing of it is used.
#include "firmware.h"

#include "fault.h"
#include "link-numbers.h"

__attribute__((aligned(16), section(".memory"))) uint8_t firmware_memory[FIRMWARE_DATA_BYTES];

WASM_RT_NO_RETURN void wasm_rt_trap(wasm_rt_trap_t trap) {
  switch (trap) {
    case WASM_RT_TRAP_UNREACHABLE:
      fault_stop(FAULT_REASON_ASSERTION);
    case WASM_RT_TRAP_OOB:
      fault_stop(FAULT_REASON_BOUNDS);
    case WASM_RT_TRAP_INT_OVERFLOW:
    case WASM_RT_TRAP_DIV_BY_ZERO:
    case WASM_RT_TRAP_INVALID_CONVERSION:
      fault_stop(FAULT_REASON_ARITHMETIC);
    default:
      fault_stop(FAULT_REASON_OTHER);
  }
}

bool wasm_rt_is_initialized(void) {
  return true;
}

void wasm_rt_allocate_memory(wasm_rt_memory_t *memory, uint32_t pages, uint32_t max_pages) {
  memory->data = firmware_memory;
  memory->pages = pages;
  memory->max_pages = max_pages;
  memory->size = FIRMWARE_DATA_BYTES;
}

void wasm_rt_free_memory(wasm_rt_memory_t *memory) {
  (void)memory;
}
