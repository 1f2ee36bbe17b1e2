// Nanoseconds to read a sample of four bytes once from memory beyond the caches: the floor for anything
// that reads samples. memory-rate MEGABYTES ROUNDS: one a line.
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

static double seconds(void) {
  struct timespec now;
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
  return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

int main(int argc, char **argv) {
  if (argc != 3) return 2;
  const size_t count = (size_t)atoi(argv[1]) * 1000000 / 4;
  unsigned *words = malloc(count * 4);
  if (words == NULL) return 2;
  for (size_t i = 0; i < count; i += 1) words[i] = (unsigned)i * 2654435761u;
  unsigned all = 0;
  for (int round = atoi(argv[2]); round > 0; round -= 1) {
    const double before = seconds();
    unsigned sum = 0;
    for (size_t i = 0; i < count; i += 1) sum += words[i];
    all ^= sum;
    printf("%.4f\n", (seconds() - before) / (double)count * 1e9);
  }
  fprintf(stderr, "%u\n", all);
  return 0;
}
