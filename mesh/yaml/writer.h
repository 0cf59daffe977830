// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file yaml/writer.h
 * YAML text piece by piece, by libyaml's emitter, with numbers that read back to the bit.
 */
#ifndef CAVUM_YAML_WRITER_H
#define CAVUM_YAML_WRITER_H

#include "base/units.h"
#include "cavum/status.h"

/** Text that is being written. What fails is remembered and told by cavum_writer_finish(). */
typedef struct cavum_writer cavum_writer;

/** A new text; NULL when there is no memory. */
cavum_writer *cavum_writer_create(void);

/** Frees a writer and sets the pointer to NULL; NULL is accepted. */
void cavum_writer_destroy(cavum_writer **writer);

/** A key or a word without quotes. */
void cavum_writer_word(cavum_writer *writer, const char *word);

/** Any text, in quotes. */
void cavum_writer_text(cavum_writer *writer, const char *text);

/** A key, and words between single spaces, with about 80 characters in a line. */
void cavum_writer_words(cavum_writer *writer, const char *key, const char *text);

/** Key and number in the unit of the file, with the fewest digits that read back to the bit. */
void cavum_writer_number(cavum_writer *writer, const char *key, double value_si, cavum_unit unit);

/** Opens a mapping {...} on one line, or one with a line for each key. */
void cavum_writer_open_mapping(cavum_writer *writer, bool one_line);

/** Closes it. */
void cavum_writer_close_mapping(cavum_writer *writer);

/** Opens a list with a line for each entry. */
void cavum_writer_open_list(cavum_writer *writer);

/** Closes it. */
void cavum_writer_close_list(cavum_writer *writer);

/**
 * Ends the text.
 * @param[out] text    Owned by the caller, free(); untouched unless CAVUM_OK.
 * @param[in]  writer  Is of no further use.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_INPUT   a text that is no UTF-8.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_writer_finish(char **text, cavum_writer *writer, cavum_error *error);

/** Longest text of a number with its final zero. */
enum { CAVUM_WRITER_NUMBER_SIZE = 48 };

/**
 * The shortest decimal that the reader of cell files turns into this very number.
 *
 * Some numbers are no multiple of any double in the unit of the file: about one in forty, since
 * a thousandth takes more digits than it gives. Those take more than 17 digits, which the reader
 * does not round before it converts them.
 */
void cavum_writer_number_text(char text[CAVUM_WRITER_NUMBER_SIZE], double value_si,
                              cavum_unit unit);

#endif
