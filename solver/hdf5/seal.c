// SPDX-License-Identifier: GPL-3.0-or-later
// Seals.
#include "hdf5/seal.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/base.h"
#include "base/open_file.h"
#include "base/sha256.h"

static void print_seal(char text[CAVUM_SEAL_SIZE], const cavum_seal *seal) {
  char line[CAVUM_SEAL_SIZE + 1];
  memset(text, ' ', CAVUM_SEAL_SIZE);
  int length = snprintf(line, sizeof line, "\ncavum seal 1 %s sha256 %s size %lld", seal->kind,
                        seal->digest, (long long)seal->size);
  CAVUM_ASSERT(length > 0 && length < CAVUM_SEAL_SIZE);
  memcpy(text, line, (size_t)length);
  text[CAVUM_SEAL_SIZE - 1] = '\n';
}

void cavum_seal_make(char text[CAVUM_SEAL_SIZE], const char *kind, const void *data, size_t size) {
  cavum_seal seal = {.size = (int64_t)size};
  CAVUM_ASSERT(strlen(kind) < sizeof seal.kind);
  memcpy(seal.kind, kind, strlen(kind));
  cavum_sha256(seal.digest, data, size);
  print_seal(text, &seal);
}

// Digest of the first bytes of a file, from where the descriptor stands; false when it is shorter.
static bool digest_file(char digest[65], int descriptor, int64_t size) {
  cavum_sha256_state state;
  cavum_sha256_begin(&state);
  bool whole = cavum_sha256_add_open_file(&state, descriptor, size) == size;
  cavum_sha256_end(digest, &state);
  return whole;
}

cavum_status cavum_seal_append(const char *path, const char *kind, cavum_error *error) {
  char text[CAVUM_SEAL_SIZE];
  struct stat info;
  cavum_seal seal = {.kind = ""};
  int reason = 0, descriptor = open(path, O_RDWR | O_CLOEXEC);
  CAVUM_ASSERT(strlen(kind) < sizeof seal.kind);
  memcpy(seal.kind, kind, strlen(kind));
  if (descriptor < 0) {
    return cavum_fail_to_open(error, path);
  }
  bool good = fstat(descriptor, &info) == 0 && digest_file(seal.digest, descriptor, info.st_size);
  if (good) {
    seal.size = info.st_size;
    print_seal(text, &seal);
    errno = ENOSPC;  // where less than all is written
    good = write(descriptor, text, sizeof text) == (ssize_t)sizeof text;
  }
  if (!good) reason = errno;
  if (close(descriptor) != 0 && good) reason = errno;
  if (reason == 0) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_FILE, "%s: cannot be written: %s", path, strerror(reason));
}

// Takes a seal apart; what it says is made again and must be the same to the byte.
static bool read_seal(cavum_seal *seal, const char text[CAVUM_SEAL_SIZE]) {
  char line[CAVUM_SEAL_SIZE + 1], again[CAVUM_SEAL_SIZE];
  int length = 0;
  memcpy(line, text, CAVUM_SEAL_SIZE);
  line[CAVUM_SEAL_SIZE] = '\0';
  if (sscanf(line, "\ncavum seal 1 %11s sha256 %64s size %n", seal->kind, seal->digest, &length) !=
          2 ||
      length == 0) {
    return false;
  }
  seal->size = strtoll(line + length, NULL, 10);
  if (strlen(seal->digest) != 64 || seal->size < 0) return false;
  print_seal(again, seal);
  return memcmp(again, text, CAVUM_SEAL_SIZE) == 0;
}

// Finds the seal of an open file.
static bool find_seal(cavum_seal *seal, int descriptor) {
  char text[CAVUM_SEAL_SIZE];
  struct stat info;
  if (fstat(descriptor, &info) != 0 || info.st_size < CAVUM_SEAL_SIZE) return false;
  return pread(descriptor, text, sizeof text, info.st_size - CAVUM_SEAL_SIZE) ==
             (ssize_t)sizeof text &&
         read_seal(seal, text) && seal->size == info.st_size - CAVUM_SEAL_SIZE;
}

bool cavum_seal_find(cavum_seal *seal, const char *path) {
  cavum_seal found = {.kind = ""};
  int descriptor = open(path, O_RDONLY | O_CLOEXEC);
  bool has = descriptor >= 0 && find_seal(&found, descriptor);
  if (descriptor >= 0) close(descriptor);
  if (has) *seal = found;
  return has;
}

cavum_status cavum_seal_check(const char *path, cavum_error *error) {
  cavum_seal seal = {.kind = ""};
  char digest[65];
  int descriptor = open(path, O_RDONLY | O_CLOEXEC);
  if (descriptor < 0) {
    return cavum_fail_to_open(error, path);
  }
  bool good = !find_seal(&seal, descriptor) ||
              (digest_file(digest, descriptor, seal.size) && strcmp(digest, seal.digest) == 0);
  close(descriptor);
  if (good) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_INPUT,
                    "%s: damaged: its bytes are not those that were written (SHA-256)", path);
}
