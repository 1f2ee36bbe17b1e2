// f32 to 64-bit integers, in place of the compiler library's, which go by way of doubles: 2 KB of
// program and hundreds of instructions a call on a processor whose floats are single. Names and calls:
// ARM's run-time ABI for the ARM architecture (IHI 0043), section 4.1.2; arguments in core registers.
#include <stdint.h>
#include <string.h>

#ifdef __ARM_EABI__

#define CORE_REGISTERS __attribute__((pcs("aapcs"), used))

/** Truncates |x| < 2^64; the firmware has looked at the range before. */
__attribute__((always_inline)) static inline uint64_t magnitude_truncated(uint32_t bits) {
  int exponent = (int)(bits >> 23 & 0xff) - 127;
  uint32_t digits = (bits & 0x7fffff) | 0x800000;
  if (exponent < 0) return 0;
  if (exponent <= 23) return digits >> (23 - exponent);
  return (uint64_t)digits << (exponent - 23);
}

static inline uint32_t bits_of(float x) {
  uint32_t bits;
  memcpy(&bits, &x, 4);
  return bits;
}

CORE_REGISTERS int64_t __aeabi_f2lz(float x) {
  uint32_t bits = bits_of(x);
  uint64_t magnitude = magnitude_truncated(bits);
  return (int64_t)(bits >> 31 != 0 ? -magnitude : magnitude);
}

CORE_REGISTERS uint64_t __aeabi_f2ulz(float x) {
  return magnitude_truncated(bits_of(x));
}

#endif
