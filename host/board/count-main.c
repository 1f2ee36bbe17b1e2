// Counts, in place of a link: calls the firmware's exports on blocks that lie ready in memory, and
// tells what each call took by the port's clock. The firmware's own code is that of the link build.
#include "firmware.h"
#include "link-numbers.h"
#include "port.h"

// Steps lie at COUNT_STEPS as {kind, bytes} u32 each, then the bytes, padded to four.
#define STEP_END 0u
#define STEP_CONFIGURE 1u

static void put_word(uint32_t word) {
  for (int i = 0; i < 4; i += 1) port_put((uint8_t)(word >> (8 * i)));
}

__attribute__((noinline)) static uint32_t nothing(FIRMWARE *instance) {
  (void)instance;
  return 0;
}

/** Ticks of one call and of two looks at the clock. */
static uint32_t ticks_of(uint32_t (*call)(FIRMWARE *), uint32_t *status) {
  uint32_t before = port_ticks();
  *status = call(&firmware);
  return port_ticks() - before;
}

int main(void) {
  port_start();
  FIRMWARE_START(&firmware);
  uint8_t *input = &firmware_memory[FIRMWARE_(addressBlock)(&firmware)];
  const uint8_t *records = &firmware_memory[FIRMWARE_(addressRecords)(&firmware)];
  uint32_t status;
  put_word(ticks_of(nothing, &status));
  const uint32_t *at = (const uint32_t *)COUNT_STEPS;
  for (; at[0] != STEP_END; at += 2 + (at[1] + 3) / 4) {
    memcpy(input, at + 2, at[1]);
    uint32_t ticks = ticks_of(
        at[0] == STEP_CONFIGURE ? FIRMWARE_(configure) : FIRMWARE_(process), &status);
    uint32_t count = FIRMWARE_(recordCount)(&firmware);
    put_word(status);
    put_word(ticks);
    put_word(count);
    for (uint32_t i = 0; i < count * COUNT_RECORD_BYTES; i += 1) port_put(records[i]);
    FIRMWARE_(recordsClear)(&firmware);
  }
  port_flush();
  port_halt();
}
