// SPDX-License-Identifier: GPL-3.0-or-later
// SHA-256 by nettle, the only file that sees that library.
#include "base/sha256.h"

#include <nettle/sha2.h>
#include <stdio.h>

void cavum_sha256(char text[65], const void *data, size_t size) {
  struct sha256_ctx context;
  uint8_t digest[SHA256_DIGEST_SIZE];
  sha256_init(&context);
  sha256_update(&context, size, data);
  sha256_digest(&context, sizeof digest, digest);
  for (int i = 0; i < SHA256_DIGEST_SIZE; i++) {
    snprintf(text + 2 * i, 3, "%02x", digest[i]);
  }
}
