// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file format/json_text.h
 * Text of a JSON tree with the shortest numbers that read back the same.
 */
#ifndef CAVUM_FORMAT_JSON_TEXT_H
#define CAVUM_FORMAT_JSON_TEXT_H

#include <jansson.h>

/**
 * JSON text of a tree, indented, innermost objects and arrays on one line, final newline.
 *
 * jansson writes every number with the same count of digits; here 0.1 is 0.1 and every number still
 * reads back exactly. Keys come in the order in which they were set.
 *
 * @return New text to be released with free(), or NULL when there is no memory.
 */
char *cavum_store_json_text(const json_t *root);

#endif
