// The emulated board mps2-an386: first serial port of the kind "CMSDK APB UART", counter of the board's
// input and output block. Addresses and bits: ARM application note 386 and the Cortex-M System Design
// Kit's manual, chapters on the APB UART and on FPGA system control.
#include "../port.h"

#define REGISTER(address) (*(volatile uint32_t *)(address))
#define UART_DATA REGISTER(0x40004000u)
#define UART_STATE REGISTER(0x40004004u)
#define UART_CONTROL REGISTER(0x40004008u)
#define UART_INTERRUPT REGISTER(0x4000400cu)
#define UART_DIVIDER REGISTER(0x40004010u)
#define STATE_SEND_FULL 1u
#define STATE_RECEIVED 2u
#define CONTROL_SEND 1u
#define CONTROL_RECEIVE 2u
#define CONTROL_RECEIVE_INTERRUPT 8u
#define INTERRUPT_RECEIVE 2u
/** 25 MHz / 217 = 115,207 Bd, 0.006 % from 115,200; the emulator does not model it. */
#define DIVIDER 217u
#define INTERRUPTS_ON REGISTER(0xe000e100u)
#define SYSTEM_TICK_CONTROL REGISTER(0xe000e010u)
#define SYSTEM_TICK_RELOAD REGISTER(0xe000e014u)
#define SYSTEM_TICK_ON 5u // by the processor's clock, without an interrupt
/** 10 ms at 25 MHz. */
#define SYSTEM_TICK_COUNTS 250000u
#define COUNTER REGISTER(0x40028018u)

/** Two of the longest packets, or the longest one with every byte escaped. */
#define RING_BYTES 6144u

const char port_identity[] = "mps2-an386";
const uint32_t port_credit_bytes = RING_BYTES - 1;
const uint32_t port_clock_hz = 25000000;

static uint8_t ring[RING_BYTES];
static volatile uint32_t ring_in; // moved by the interrupt alone
static volatile uint32_t ring_out;

static uint32_t after(uint32_t at) {
  return at + 1 == RING_BYTES ? 0 : at + 1;
}

/** Interrupt: a byte came in. One that finds no room is lost, and its frame's check tells. */
void board_receive(void) {
  // Cleared before the look: a byte that comes in after it asks again, and none is left lying.
  UART_INTERRUPT = INTERRUPT_RECEIVE;
  while ((UART_STATE & STATE_RECEIVED) != 0) {
    uint8_t byte = (uint8_t)UART_DATA;
    uint32_t next = after(ring_in);
    if (next == ring_out) continue;
    ring[ring_in] = byte;
    ring_in = next;
  }
}

void port_start(void) {
  UART_DIVIDER = DIVIDER;
  UART_CONTROL = CONTROL_SEND | CONTROL_RECEIVE | CONTROL_RECEIVE_INTERRUPT;
  INTERRUPTS_ON = 1;
  // For the emulator alone: what came in before the receiver was on it looks at again only when one
  // of its own timers fires, and without this one none does. The processor is not asked.
  SYSTEM_TICK_RELOAD = SYSTEM_TICK_COUNTS - 1;
  SYSTEM_TICK_CONTROL = SYSTEM_TICK_ON;
}

int port_get(void) {
  if (ring_out == ring_in) return -1;
  int byte = ring[ring_out];
  ring_out = after(ring_out);
  return byte;
}

void port_put(uint8_t byte) {
  while ((UART_STATE & STATE_SEND_FULL) != 0) {
  }
  UART_DATA = byte;
}

void port_flush(void) {}

void port_idle(void) {
  // Interrupts off between the look and the wait, or a byte in between would be slept over; a
  // waiting interrupt ends the wait even so.
  __asm__ volatile("cpsid i" ::: "memory");
  if (ring_out == ring_in) __asm__ volatile("wfi");
  __asm__ volatile("cpsie i" ::: "memory");
}

uint32_t port_ticks(void) {
  return COUNTER;
}

_Noreturn void port_halt(void) {
  __asm__ volatile("cpsid i");
  for (;;) __asm__ volatile("wfi");
}
