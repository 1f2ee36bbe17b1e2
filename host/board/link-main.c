// The loop of every board: what is to go goes before the next byte is taken, so that an answer is
// whole before anything changes. Time is never asked for here but to tell what a packet cost.
#include "firmware.h"
#include "link-numbers.h"
#include "port.h"



static uint8_t *text_put(uint8_t *to, const uint8_t *end, const char *text) {
  while (to < end && *text != 0) *to++ = (uint8_t)*text++;
  return to;
}

/** What the port is, and of which firmware: board's name and the module's hash. */
static void port_tell(void) {
  uint8_t *at = &firmware_memory[FIRMWARE_(addressPort)(&firmware)];
  memcpy(at + PORT_CREDIT, &port_credit_bytes, 4);
  memcpy(at + PORT_CLOCK_HZ, &port_clock_hz, 4);
  uint8_t *end = at + PORT_IDENTITY + IDENTITY_BYTES;
  text_put(text_put(at + PORT_IDENTITY, end, port_identity), end, " " FIRMWARE_IDENTITY);
}

#ifdef FAULT_PROVOKED
/** For a test of faults: an answer that stays is a promise broken at the next byte. */
static void answers_give(void) {}
#else
static void answers_give(void) {
  int byte = (int)FIRMWARE_(linkGive)(&firmware);
  if (byte < 0) return;
  for (; byte >= 0; byte = (int)FIRMWARE_(linkGive)(&firmware)) port_put((uint8_t)byte);
  port_flush();
}
#endif

int main(void) {
  port_start();
  FIRMWARE_START(&firmware);
  port_tell();
  FIRMWARE_(linkStart)(&firmware);
  uint32_t *ticks = (uint32_t *)
      &firmware_memory[FIRMWARE_(addressLinkCounters)(&firmware) + LINK_COUNTER_TICKS];
  for (;;) {
    answers_give();
    int byte = port_get();
    if (byte < 0) {
      port_idle();
      continue;
    }
    uint32_t before = port_ticks();
    FIRMWARE_(linkTake)(&firmware, (uint32_t)byte);
    *ticks += port_ticks() - before;
  }
}
