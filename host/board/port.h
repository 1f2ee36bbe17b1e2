// What a board gives to the firmware. Fill in these functions and facts for a board of your own;
// everything else in this folder stays as it is. PORTING.md goes through them one by one.
#ifndef PORT_H
#define PORT_H

#include <stdint.h>

// --- facts, known at compile time

/**
 * Who answers: at most 15 ASCII characters. The host is told 32 in all, a space and the 16 hex digits
 * of the module's hash behind these; what is longer cuts the hash, and two builds look alike.
 */
extern const char port_identity[];
/**
 * Bytes that may be on their way to the board while it computes or answers: what the receive ring
 * holds. The host never has more unanswered, since a serial line cannot hold a sender back.
 */
extern const uint32_t port_credit_bytes;
/** Rate of port_ticks, 0 where the board has no clock. */
extern const uint32_t port_clock_hz;

// --- functions

/** Clocks, serial port and counter on; called once, before anything else of this list. */
void port_start(void);
/** The next byte that came in, or -1 where there is none yet. Never waits. */
int port_get(void);
/** Sends a byte; waits while there is no room. Must work with interrupts off, too. */
void port_put(uint8_t byte);
/** What was put leaves; called where an answer ends. Nothing to do where a byte leaves by itself. */
void port_flush(void);
/** Nothing came in: may wait for an interrupt, or return at once. */
void port_idle(void);
/** A counter that runs up by itself and wraps at 2^32. */
uint32_t port_ticks(void);
/** The firmware has stopped and the host was told; what was put must still leave. */
_Noreturn void port_halt(void);

#endif
