// SPDX-License-Identifier: GPL-3.0-or-later
// Numbers and words from MSH data in memory. The data may be anything: no read passes its end, and
// the place of an error is worked out only when there is one.
#include "msh/cursor.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

enum { LONGEST_NUMBER = 64 };

void cavum_msh_error_write(const cavum_msh_cursor *cursor, size_t at, const char *format, ...) {
  char text[CAVUM_MESSAGE_SIZE];
  va_list arguments;
  va_start(arguments, format);
  vsnprintf(text, sizeof text, format, arguments);
  va_end(arguments);
  if (cursor->binary) {
    cavum_error_write(cursor->error, CAVUM_ERR_INPUT, "%s: byte %zu: %s", cursor->name, at, text);
    return;
  }
  size_t line = 1, start = 0;
  for (size_t i = 0; i < at && i < cursor->size; i++) {
    if (cursor->data[i] == '\n') {
      line++;
      start = i + 1;
    }
  }
  cavum_error_write(cursor->error, CAVUM_ERR_INPUT, "%s:%zu:%zu: %s", cursor->name, line,
                    at - start + 1, text);
}

static bool is_blank(char c) { return c == ' ' || (c >= '\t' && c <= '\r'); }

void cavum_msh_skip_blanks(cavum_msh_cursor *cursor) {
  while (cursor->at < cursor->size && is_blank(cursor->data[cursor->at])) cursor->at++;
}

void cavum_msh_skip_line(cavum_msh_cursor *cursor) {
  const char *end = memchr(cursor->data + cursor->at, '\n', cursor->size - cursor->at);
  cursor->at = end ? (size_t)(end - cursor->data) + 1 : cursor->size;
}

size_t cavum_msh_peek_token(cavum_msh_cursor *cursor, const char **token) {
  cavum_msh_skip_blanks(cursor);
  size_t end = cursor->at;
  while (end < cursor->size && !is_blank(cursor->data[end])) end++;
  *token = cursor->data + cursor->at;
  return end - cursor->at;
}

// What stands at the current place, for messages: printable and short.
enum { LONGEST_SHOWN = 24, EXCERPT_SIZE = 32 };
static void describe_token(cavum_msh_cursor *cursor, char text[EXCERPT_SIZE]) {
  const char *token;
  size_t length = cavum_msh_peek_token(cursor, &token);
  if (length == 0) {
    snprintf(text, EXCERPT_SIZE, "the end of the file");
    return;
  }
  size_t shown = length < LONGEST_SHOWN ? length : LONGEST_SHOWN;
  text[0] = '\'';
  for (size_t i = 0; i < shown; i++) {
    text[i + 1] = token[i] >= ' ' && token[i] <= '~' ? token[i] : '?';
  }
  text[shown + 1] = '\'';
  text[shown + 2] = '\0';
}

static cavum_status fail_token(cavum_msh_cursor *cursor, const char *expected) {
  char found[EXCERPT_SIZE];
  describe_token(cursor, found);
  return cavum_msh_fail(cursor, cursor->at, "expected %s, found %s", expected, found);
}

cavum_status cavum_msh_text_integer(cavum_msh_cursor *cursor, int64_t *value, const char *what) {
  const char *token;
  size_t length = cavum_msh_peek_token(cursor, &token), i = 0;
  bool negative = length > 0 && token[0] == '-';
  if (length > 0 && (token[0] == '-' || token[0] == '+')) i = 1;
  int64_t number = 0;
  bool good = i < length;
  for (; good && i < length; i++) {
    good = token[i] >= '0' && token[i] <= '9' && !__builtin_mul_overflow(number, 10, &number) &&
           !__builtin_add_overflow(number, token[i] - '0', &number);
  }
  if (!good) return fail_token(cursor, what);
  *value = negative ? -number : number;
  cursor->last = cursor->at;
  cursor->at += length;
  return CAVUM_OK;
}

cavum_status cavum_msh_text_real(cavum_msh_cursor *cursor, double *value, const char *what) {
  const char *token;
  size_t length = cavum_msh_peek_token(cursor, &token);
  char text[LONGEST_NUMBER], *end;
  if (length == 0 || length >= sizeof text) return fail_token(cursor, what);
  memcpy(text, token, length);
  text[length] = 0;
  double number = strtod_l(text, &end, cursor->c_locale);
  if (end != text + length) return fail_token(cursor, what);
  if (!isfinite(number)) {
    return cavum_msh_fail(cursor, cursor->at, "%s is not a finite number: %s", what, text);
  }
  *value = number;
  cursor->last = cursor->at;
  cursor->at += length;
  return CAVUM_OK;
}

static cavum_status read_word(cavum_msh_cursor *cursor, void *word, size_t bytes,
                              const char *what) {
  if (cursor->size - cursor->at < bytes) {
    return cavum_msh_fail(cursor, cursor->at, "the file ends where %s was expected", what);
  }
  memcpy(word, cursor->data + cursor->at, bytes);
  cursor->last = cursor->at;
  cursor->at += bytes;
  return CAVUM_OK;
}

cavum_status cavum_msh_read_int(cavum_msh_cursor *cursor, int64_t *value, const char *what) {
  if (cursor->binary) {
    uint32_t word = 0;
    cavum_status status = read_word(cursor, &word, sizeof word, what);
    if (status == CAVUM_OK) *value = (int32_t)(cursor->swap ? __builtin_bswap32(word) : word);
    return status;
  }
  int64_t number;
  cavum_status status = cavum_msh_text_integer(cursor, &number, what);
  if (status != CAVUM_OK) return status;
  if (number < INT32_MIN || number > INT32_MAX) {
    return cavum_msh_fail(cursor, cursor->last, "%s does not fit 32 bits", what);
  }
  *value = number;
  return CAVUM_OK;
}

cavum_status cavum_msh_read_size(cavum_msh_cursor *cursor, int64_t *value, const char *what) {
  cavum_status status;
  int64_t number = 0;
  if (cursor->binary) {
    uint64_t word = 0;
    status = read_word(cursor, &word, sizeof word, what);
    number = (int64_t)(cursor->swap ? __builtin_bswap64(word) : word);
  } else {
    status = cavum_msh_text_integer(cursor, &number, what);
  }
  if (status != CAVUM_OK) return status;
  if (number < 0) return cavum_msh_fail(cursor, cursor->last, "%s is negative or too large", what);
  *value = number;
  return CAVUM_OK;
}

cavum_status cavum_msh_read_real(cavum_msh_cursor *cursor, double *value, const char *what) {
  if (!cursor->binary) return cavum_msh_text_real(cursor, value, what);
  uint64_t word = 0;
  cavum_status status = read_word(cursor, &word, sizeof word, what);
  if (status != CAVUM_OK) return status;
  if (cursor->swap) word = __builtin_bswap64(word);
  double number;
  memcpy(&number, &word, sizeof number);
  if (!isfinite(number))
    return cavum_msh_fail(cursor, cursor->last, "%s is not a finite number", what);
  *value = number;
  return CAVUM_OK;
}

cavum_status cavum_msh_check_count(const cavum_msh_cursor *cursor, int64_t count, int64_t ints,
                                   int64_t sizes, int64_t reals, const char *what) {
  // As text a word takes a digit and a blank; the very last blank may be missing.
  int64_t bytes = cursor->binary ? 4 * ints + 8 * (sizes + reals) : 2 * (ints + sizes + reals);
  int64_t left = (int64_t)(cursor->size - cursor->at) + 1;
  if (count >= 0 && count <= left / bytes) return CAVUM_OK;
  return cavum_msh_fail(cursor, cursor->last,
                        "%lld %s cannot be in the %lld bytes left of the file", (long long)count,
                        what, (long long)left - 1);
}

cavum_status cavum_msh_expect_word(cavum_msh_cursor *cursor, const char *word) {
  const char *token;
  size_t length = cavum_msh_peek_token(cursor, &token);
  if (length != strlen(word) || memcmp(token, word, length) != 0) return fail_token(cursor, word);
  cursor->at += length;
  return CAVUM_OK;
}
