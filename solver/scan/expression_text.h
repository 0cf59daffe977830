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

#endif
