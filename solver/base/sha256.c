// SPDX-License-Identifier: GPL-3.0-or-later
// SHA-256 by nettle.
#include "base/sha256.h"

#include <assert.h>
#include <errno.h>
#include <fcntl.h>
#include <nettle/sha2.h>
#include <string.h>
#include <unistd.h>

#include "base/base.h"
#include "base/open_file.h"

enum { READ_BYTES = 1 << 17 };

static_assert(sizeof(struct sha256_ctx) <= sizeof(cavum_sha256_state), "room for the library's");

static struct sha256_ctx *context_of(cavum_sha256_state *state) {
  return (struct sha256_ctx *)(void *)state;
}

void cavum_sha256_begin(cavum_sha256_state *state) { sha256_init(context_of(state)); }

void cavum_sha256_add(cavum_sha256_state *state, const void *data, size_t size) {
  sha256_update(context_of(state), size, data);
}

void cavum_sha256_add_text(cavum_sha256_state *state, const char *text) {
  cavum_sha256_add(state, text ? text : "", text ? strlen(text) + 1 : 1);
}

// With read(), not mapped: a file that shrinks meanwhile is an error, no signal.
int64_t cavum_sha256_add_open_file(cavum_sha256_state *state, int descriptor, int64_t most) {
  int64_t taken = 0;
  unsigned char *buffer = cavum_alloc_aligned(READ_BYTES, 1);
  if (!buffer) {
    errno = ENOMEM;
    return -1;
  }
  while (taken >= 0 && taken < most) {
    int64_t left = most - taken;
    ssize_t got = read(descriptor, buffer, left < READ_BYTES ? (size_t)left : READ_BYTES);
    if (got < 0 && errno == EINTR) continue;
    if (got == 0) break;
    if (got > 0) cavum_sha256_add(state, buffer, (size_t)got);
    taken = got < 0 ? -1 : taken + got;
  }
  int reason = errno;
  free(buffer);
  errno = reason;
  return taken;
}

cavum_status cavum_sha256_add_file(cavum_sha256_state *state, const char *path,
                                   cavum_error *error) {
  int descriptor = open(path, O_RDONLY | O_CLOEXEC);
  bool read = descriptor >= 0 && cavum_sha256_add_open_file(state, descriptor, INT64_MAX) >= 0;
  int reason = errno;
  if (descriptor >= 0) close(descriptor);
  if (read) return CAVUM_OK;
  if (reason == ENOMEM) return cavum_fail_memory(error);
  errno = reason;
  return cavum_fail_to_read(error, path);
}

void cavum_sha256_end(char text[65], cavum_sha256_state *state) {
  static const char digits[] = "0123456789abcdef";
  uint8_t digest[SHA256_DIGEST_SIZE];
  sha256_digest(context_of(state), sizeof digest, digest);
  for (int i = 0; i < SHA256_DIGEST_SIZE; i++) {
    text[2 * i] = digits[digest[i] >> 4];
    text[2 * i + 1] = digits[digest[i] & 15];
  }
  text[64] = '\0';
}

void cavum_sha256(char text[65], const void *data, size_t size) {
  cavum_sha256_state state;
  cavum_sha256_begin(&state);
  cavum_sha256_add(&state, data, size);
  cavum_sha256_end(text, &state);
}
