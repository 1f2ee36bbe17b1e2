// From reset to main on an emulated Cortex-M4F. The unit for floats is switched on first: any code
// behind it may hold a float in a register.
#include <stdint.h>

#include "../fault.h"
#include "link-numbers.h"

extern uint32_t link_stack_end[], link_data_from[], link_data_start[], link_data_end[];
extern uint32_t link_bss_start[], link_bss_end[];

int main(void);
void board_receive(void);


__attribute__((used)) static void start(void) {
  uint32_t *from = link_data_from;
  for (uint32_t *to = link_data_start; to < link_data_end; to += 1) *to = *from++;
  for (uint32_t *to = link_bss_start; to < link_bss_end; to += 1) *to = 0;
  main();
  for (;;) {
  }
}

/** CPACR: full access to coprocessors 10 and 11, the unit for floats (ARMv7-M manual, B3.2.20). */
__attribute__((naked)) void reset(void) {
  __asm__ volatile(
      "ldr r0, =0xe000ed88\n"
      "ldr r1, [r0]\n"
      "orr r1, r1, #0xf00000\n"
      "str r1, [r0]\n"
      "dsb\n"
      "isb\n"
      "b start\n");
}

/** Every exception but the receiver's: the processor itself has stopped the firmware. */
static void fault(void) {
  fault_stop(FAULT_REASON_PROCESSOR);
}

typedef void (*vector)(void);

/** Exceptions 1 to 15, then interrupt 0: a byte came in on the first serial port. */
__attribute__((section(".vectors"), used)) static const vector vectors[17] = {
    (vector)link_stack_end, reset, fault, fault, fault, fault, fault, 0, 0, 0, 0,
    fault, fault, 0, fault, fault, board_receive,
};
