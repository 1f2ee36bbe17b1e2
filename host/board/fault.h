// The firmware has stopped: the host is told once, and nothing is computed any more.
#ifndef FAULT_H
#define FAULT_H

/** Sends a fault frame with a FAULT_REASON_… and stops. Safe from any state, an exception included. */
_Noreturn void fault_stop(unsigned reason);

#endif
