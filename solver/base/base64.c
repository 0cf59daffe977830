// SPDX-License-Identifier: GPL-3.0-or-later
// Base64 by nettle.
#include "base/base64.h"

#include <nettle/base64.h>
#include <string.h>

#include "base/base.h"

// 76 digits in a word, as in a line of mail.
enum { WORD_BYTES = 57 };

char *cavum_base64_encode(const void *data, size_t size) {
  const uint8_t *bytes = data;
  size_t words = size / WORD_BYTES + 1;
  char *text = cavum_alloc((int64_t)(BASE64_ENCODE_RAW_LENGTH(size) + words + 1), 1);
  char *end = text;
  for (size_t at = 0; text && at < size; at += WORD_BYTES) {
    size_t count = size - at < WORD_BYTES ? size - at : WORD_BYTES;
    base64_encode_raw(end, count, bytes + at);
    end += BASE64_ENCODE_RAW_LENGTH(count);
    *end++ = at + count < size ? ' ' : '\0';
  }
  return text;
}

cavum_status cavum_base64_decode(char **data, size_t *size, const char *text, cavum_error *error) {
  struct base64_decode_ctx context;
  size_t length = strlen(text), found = 0;
  char *bytes = cavum_alloc((int64_t)(BASE64_DECODE_LENGTH(length) + 1), 1);
  if (!bytes) return cavum_fail_memory(error);
  base64_decode_init(&context);
  if (!base64_decode_update(&context, &found, (uint8_t *)bytes, length, text) ||
      !base64_decode_final(&context)) {
    free(bytes);
    return cavum_fail(error, CAVUM_ERR_INPUT, "is not base64, or only the start of it");
  }
  *data = bytes;
  *size = found;
  return CAVUM_OK;
}
