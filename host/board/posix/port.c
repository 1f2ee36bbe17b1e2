// This machine as a board: bytes come in on standard input and go out on standard output. Ends with
// its input; a fault ends it with code 3.
#include "../port.h"

#include <stdlib.h>
#include <time.h>
#include <unistd.h>

#define FAULT_EXIT_CODE 3

const char port_identity[] = "posix";
/** A pipe holds a sender back: nothing is ever lost, and any credit is true. */
const uint32_t port_credit_bytes = 65536;
const uint32_t port_clock_hz = 1000000;

static uint8_t in[4096];
static size_t in_at, in_end;
static uint8_t out[4096];
static size_t out_end;

void port_start(void) {}

int port_get(void) {
  return in_at < in_end ? in[in_at++] : -1;
}

void port_put(uint8_t byte) {
  if (out_end == sizeof out) port_flush();
  out[out_end++] = byte;
}

void port_flush(void) {
  for (size_t at = 0; at < out_end;) {
    ssize_t written = write(STDOUT_FILENO, out + at, out_end - at);
    if (written <= 0) exit(EXIT_FAILURE); // whoever read is gone
    at += (size_t)written;
  }
  out_end = 0;
}

void port_idle(void) {
  ssize_t got = read(STDIN_FILENO, in, sizeof in);
  if (got <= 0) exit(EXIT_SUCCESS);
  in_at = 0;
  in_end = (size_t)got;
}

uint32_t port_ticks(void) {
  struct timespec now;
  clock_gettime(CLOCK_MONOTONIC, &now);
  return (uint32_t)((uint64_t)now.tv_sec * 1000000u + (uint64_t)now.tv_nsec / 1000u);
}

_Noreturn void port_halt(void) {
  exit(FAULT_EXIT_CODE);
}
