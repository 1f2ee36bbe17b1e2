// A fault frame is built here and not by the firmware, which can no longer be trusted.
#include "fault.h"

#include "link-numbers.h"
#include "port.h"

#define CHECKED_BYTES (PACKET_HEAD_BYTES + FAULT_BODY_BYTES)
#define FAULT_BYTES (CHECKED_BYTES + PACKET_CHECK_BYTES)

static void put_escaped(uint8_t byte) {
  if (byte == SLIP_END || byte == SLIP_ESC) {
    port_put(SLIP_ESC);
    byte = byte == SLIP_END ? SLIP_ESC_END : SLIP_ESC_ESC;
  }
  port_put(byte);
}

_Noreturn void fault_stop(unsigned reason) {
  uint8_t packet[FAULT_BYTES] = {0};
  packet[PACKET_TYPE] = PACKET_FAULT | PACKET_ANSWER;
  packet[PACKET_LENGTH] = FAULT_BODY_BYTES;
  packet[PACKET_HEAD_BYTES] = (uint8_t)reason;
  uint32_t remainder = 0xffffffffu;
  for (unsigned i = 0; i < CHECKED_BYTES; i += 1) {
    remainder ^= packet[i];
    for (int bit = 0; bit < 8; bit += 1) {
      remainder = remainder >> 1 ^ ((remainder & 1) != 0 ? CRC_POLYNOMIAL_REFLECTED : 0);
    }
  }
  for (unsigned i = 0; i < PACKET_CHECK_BYTES; i += 1) {
    packet[CHECKED_BYTES + i] = (uint8_t)(~remainder >> (8 * i));
  }
  // The END in front closes whatever frame was on its way.
  port_put(SLIP_END);
  for (unsigned i = 0; i < FAULT_BYTES; i += 1) put_escaped(packet[i]);
  port_put(SLIP_END);
  port_flush();
  port_halt();
}
