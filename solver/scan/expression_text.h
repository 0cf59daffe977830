// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan/expression_text.h
 * What the parser of expressions takes without a word, and hardly anybody means.
 */
#ifndef CAVUM_SCAN_EXPRESSION_TEXT_H
#define CAVUM_SCAN_EXPRESSION_TEXT_H

#include "cavum/status.h"

/**
 * Refuses a comma outside the brackets of a function (the parser drops what is before it, so that a
 * decimal comma changes the number), a chain of comparisons `a < b < c` (the truth of the first
 * would be compared with c), and a single `=` (the parser would assign).
 * @param[in]  text   Zero-terminated.
 * @param[out] error  May be NULL; tells the character.
 * @retval CAVUM_ERR_INPUT
 */
cavum_status cavum_expression_check_text(const char *text, cavum_error *error);

/** Longest name in quotes, in bytes. */
enum { CAVUM_EXPRESSION_LONGEST_NAME = 256 };

/**
 * The text with a mark, which is a name to the parser, in place of each name in quotes: names of
 * regions may have spaces or signs in them. free() it; NULL without memory.
 * @param[in] text  Checked.
 */
char *cavum_expression_mark_quoted(const char *text);

/** The name that a mark stands for, written to `name`; any other name itself. */
const char *cavum_expression_name_of(char name[CAVUM_EXPRESSION_LONGEST_NAME + 1],
                                     const char *marked, const char *text);

#endif
