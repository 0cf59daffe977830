// SPDX-License-Identifier: GPL-3.0-or-later
// What the SHA-256 under each result file costs, of the processor time of `cavum solve -o` as a
// whole. Nettle uses the instructions for it where the processor has them; where it has none, the
// share is some ten times larger.
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include "base/base.h"
#include "base/sha256.h"

enum { RUNS = 40, DIGESTS = 200 };

static double processor_seconds(int who) {
  struct rusage usage;
  getrusage(who, &usage);
  return (double)(usage.ru_utime.tv_sec + usage.ru_stime.tv_sec) +
         1e-6 * (double)(usage.ru_utime.tv_usec + usage.ru_stime.tv_usec);
}

static void solve_once(const char *cell, const char *output) {
  int state = 0;
  pid_t process = fork();
  if (process == 0) {
    execl(CAVUM_PROGRAM, CAVUM_PROGRAM, "solve", "-q", cell, "-o", output, NULL);
    _exit(127);
  }
  if (waitpid(process, &state, 0) != process || state != 0) {
    fprintf(stderr, "bench_seal: cavum solve failed\n");
    exit(EXIT_FAILURE);
  }
}

static char *read_whole(size_t *size, const char *path) {
  FILE *file = fopen(path, "rb");
  if (!file || fseek(file, 0, SEEK_END) != 0) exit(EXIT_FAILURE);
  *size = (size_t)ftell(file);
  rewind(file);
  char *bytes = malloc(*size + 1);
  if (!bytes || fread(bytes, 1, *size, file) != *size) exit(EXIT_FAILURE);
  fclose(file);
  bytes[*size] = '\0';
  return bytes;
}

// The demo cell, with so many modes.
static void write_cell(const char *path, int modes) {
  size_t size = 0;
  char *text = read_whole(&size, CAVUM_CELLS_FOLDER "/mid-cell.yaml");
  static const char count[] = "count: 1";
  char *place = strstr(text, count);
  if (!place) exit(EXIT_FAILURE);
  place[strlen(count) - 1] = (char)('0' + modes);
  FILE *file = fopen(path, "w");
  if (!file || fwrite(text, 1, size, file) != size || fclose(file) != 0) exit(EXIT_FAILURE);
  free(text);
}

static void time_file(int modes) {
  char folder[] = "/tmp/cavum-bench-XXXXXX", cell[64], output[64], digest[65];
  size_t size = 0;
  if (!mkdtemp(folder)) exit(EXIT_FAILURE);
  snprintf(cell, sizeof cell, "%s/cell.yaml", folder);
  write_cell(cell, modes);
  snprintf(output, sizeof output, "%s/cell.hdf", folder);
  double before = processor_seconds(RUSAGE_CHILDREN);
  for (int i = 0; i < RUNS; i++) solve_once(cell, output);
  double whole = (processor_seconds(RUSAGE_CHILDREN) - before) / RUNS;
  char *bytes = read_whole(&size, output);
  before = processor_seconds(RUSAGE_SELF);
  for (int i = 0; i < DIGESTS; i++) cavum_sha256(digest, bytes, size);
  double seal = (processor_seconds(RUSAGE_SELF) - before) / DIGESTS;
  printf(
      "digest of %4zu kB, modes: %d     %6.2f ms of %6.2f ms of processor: %.1f %%"
      "   [3 %% or less]\n",
      size / 1000, modes, 1e3 * seal, 1e3 * whole, 100.0 * seal / whole);
  free(bytes);
  unlink(output);
  unlink(cell);
  rmdir(folder);
}

int main(void) {
  time_file(1);
  time_file(5);
  return EXIT_SUCCESS;
}
