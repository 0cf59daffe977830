// SPDX-License-Identifier: GPL-3.0-or-later
// SHA-256 by nettle.
#include "base/sha256.h"

#include <assert.h>
#include <nettle/sha2.h>

static_assert(sizeof(struct sha256_ctx) <= sizeof(cavum_sha256_state), "room for the library's");

static struct sha256_ctx *context_of(cavum_sha256_state *state) {
  return (struct sha256_ctx *)(void *)state;
}

void cavum_sha256_begin(cavum_sha256_state *state) { sha256_init(context_of(state)); }

void cavum_sha256_add(cavum_sha256_state *state, const void *data, size_t size) {
  sha256_update(context_of(state), size, data);
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
