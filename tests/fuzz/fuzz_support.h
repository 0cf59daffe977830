// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file fuzz_support.h
 * What fuzz targets share: bytes as a file, and folders with the files that an input names.
 */
#ifndef CAVUM_FUZZ_SUPPORT_H
#define CAVUM_FUZZ_SUPPORT_H

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#include "cavum/status.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);
int LLVMFuzzerInitialize(int *count, char ***arguments);

/** Stops the run as a finding when a condition does not hold. */
#define fuzz_check(condition)                                                        \
  do {                                                                               \
    if (!(condition)) {                                                              \
      fprintf(stderr, "%s:%d: does not hold: %s\n", __FILE__, __LINE__, #condition); \
      abort();                                                                       \
    }                                                                                \
  } while (0)

/** Every refusal is one line of text. */
static inline void fuzz_check_refusal(cavum_status status, const cavum_error *error) {
  if (error->status == status && error->message[0] && !strchr(error->message, '\n')) return;
  fprintf(stderr, "status %d, error %d: '%s'\n", (int)status, (int)error->status, error->message);
  abort();
}

/** Puts bytes into the one file of the process, which is in memory, and returns its path. */
static inline const char *fuzz_fill_file(const void *data, size_t size) {
  static int descriptor = -1;
  static char path[64];
  if (descriptor < 0) descriptor = memfd_create("fuzz", MFD_CLOEXEC);
  snprintf(path, sizeof path, "/proc/self/fd/%d", descriptor);
  fuzz_check(descriptor >= 0 && ftruncate(descriptor, 0) == 0);
  fuzz_check(pwrite(descriptor, data, size, 0) == (ssize_t)size);
  return path;
}

/** Writes a file of a folder. */
static inline void fuzz_write_file(const char *folder, const char *name, const void *data,
                                   size_t size) {
  char path[256];
  snprintf(path, sizeof path, "%s/%s", folder, name);
  FILE *file = fopen(path, "wb");
  fuzz_check(file && fwrite(data, 1, size, file) == size);
  fuzz_check(fclose(file) == 0);
}

/** A new folder that is left behind, as libFuzzer ends without a word. */
static inline const char *fuzz_make_folder(void) {
  static char folder[] = "/tmp/cavum-fuzz-XXXXXX";
  fuzz_check(mkdtemp(folder) != NULL);
  return folder;
}

#endif
