// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file msh/cursor.h
 * Reading numbers from a MSH file in memory: text tokens or binary words, every read checked
 * against the end of the data, every error with its place in the file.
 */
#ifndef CAVUM_MSH_CURSOR_H
#define CAVUM_MSH_CURSOR_H

#include <locale.h>

#include "base/base.h"

/** A position in the data of a MSH file. */
typedef struct cavum_msh_cursor {
  const char *name;   /**< File name for messages; borrowed. */
  const char *data;   /**< Borrowed, shape [size]; need not end in a zero. */
  size_t size;        /**< Bytes of data. */
  size_t at;          /**< Next byte to read, <= size. */
  size_t last;        /**< Where the number read last begins. */
  bool binary;        /**< Numbers are binary words. */
  bool swap;          /**< Binary words have the other byte order. */
  locale_t c_locale;  /**< So that the decimal point is a point in every program. */
  cavum_error *error; /**< Where errors go; may be NULL. */
} cavum_msh_cursor;

/**
 * Writes an error at byte `at`: `name:line:column: ...` in text files, `name: byte N: ...` in
 * binary ones.
 */
void cavum_msh_error_write(const cavum_msh_cursor *cursor, size_t at, const char *format, ...)
    __attribute__((cold, format(printf, 3, 4)));

/** The same, with the value CAVUM_ERR_INPUT; a macro for the reason that cavum_fail() is one. */
#define cavum_msh_fail(cursor, at, ...) \
  (cavum_msh_error_write((cursor), (at), __VA_ARGS__), cavum_same_status(CAVUM_ERR_INPUT))

/** Skips blanks and line ends. */
void cavum_msh_skip_blanks(cavum_msh_cursor *cursor);

/** Skips the rest of the line and its end. */
void cavum_msh_skip_line(cavum_msh_cursor *cursor);

/** The next text token, without moving past it; its length is 0 at the end of the data. */
size_t cavum_msh_peek_token(cavum_msh_cursor *cursor, const char **token);

/** Reads a whole number written as text; `what` names it in the error. */
cavum_status cavum_msh_text_integer(cavum_msh_cursor *cursor, int64_t *value, const char *what);

/** Reads a finite number written as text. */
cavum_status cavum_msh_text_real(cavum_msh_cursor *cursor, double *value, const char *what);

/** Reads an `int` of the format: text, or 4 bytes. The value fits an int32_t. */
cavum_status cavum_msh_read_int(cavum_msh_cursor *cursor, int64_t *value, const char *what);

/** Reads a `size_t` of the format: text, or 8 bytes. Negative and oversized values are refused. */
cavum_status cavum_msh_read_size(cavum_msh_cursor *cursor, int64_t *value, const char *what);

/** Reads a `double` of the format: text, or 8 bytes; refuses what is not finite. */
cavum_status cavum_msh_read_real(cavum_msh_cursor *cursor, double *value, const char *what);

/**
 * Refuses a count, the number read last, of things that cannot be in the rest of the file, before
 * memory is taken for them.
 * @param[in] ints, sizes, reals  Words of each kind in one thing: at least 2 bytes each as text.
 */
cavum_status cavum_msh_check_count(const cavum_msh_cursor *cursor, int64_t count, int64_t ints,
                                   int64_t sizes, int64_t reals, const char *what);

/** Expects the text token `word`. */
cavum_status cavum_msh_expect_word(cavum_msh_cursor *cursor, const char *word);

#endif
