// The firmware as C on this machine, timed: blocks from a file, as often as asked, in one process.
// core-bench CONFIGURATION BLOCKS RECORDS ROUNDS: prints the seconds of each round, one a line, and
// writes the records of the first round.
#include "firmware.h"
#include "port.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

static unsigned char *read_whole(const char *path, size_t *size) {
  FILE *file = fopen(path, "rb");
  if (file == NULL) exit(2);
  fseek(file, 0, SEEK_END);
  *size = (size_t)ftell(file);
  rewind(file);
  unsigned char *bytes = malloc(*size);
  if (bytes == NULL || fread(bytes, 1, *size, file) != *size) exit(2);
  fclose(file);
  return bytes;
}

static double seconds(void) {
  struct timespec now;
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
  return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

int main(int argc, char **argv) {
  if (argc != 5) return 2;
  size_t configuration_size, blocks_size;
  unsigned char *configuration = read_whole(argv[1], &configuration_size);
  unsigned char *blocks = read_whole(argv[2], &blocks_size);
  FILE *told = fopen(argv[3], "wb");
  if (told == NULL) return 2;
  FIRMWARE_START(&firmware);
  unsigned char *memory = firmware_memory;
  const size_t record_bytes = RECORD_BYTES;
  memcpy(memory + FIRMWARE_(addressConfiguration)(&firmware), configuration, configuration_size);
  if (FIRMWARE_(configure)(&firmware) != 0) return 3;
  unsigned char *input = memory + FIRMWARE_(addressBlock)(&firmware);
  unsigned char *records = memory + FIRMWARE_(addressRecords)(&firmware);
  const int rounds = atoi(argv[4]);
  for (int round = 0; round < rounds; round += 1) {
    FIRMWARE_(reset)(&firmware);
    const double before = seconds();
    for (size_t at = 0; at < blocks_size;) {
      unsigned size;
      memcpy(&size, blocks + at, 4);
      memcpy(input, blocks + at + 4, size);
      at += 4 + size;
      if (FIRMWARE_(process)(&firmware) != 0) return 3;
      const unsigned count = FIRMWARE_(recordCount)(&firmware);
      if (count == 0) continue;
      if (round == 0) fwrite(records, record_bytes, count, told);
      FIRMWARE_(recordsClear)(&firmware);
    }
    printf("%.9f\n", seconds() - before);
  }
  fclose(told);
  return 0;
}
