// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan/expression.h
 * Arithmetic in the names of a study; expression.c is the only file that sees muParser.
 */
#ifndef CAVUM_SCAN_EXPRESSION_H
#define CAVUM_SCAN_EXPRESSION_H

#include "cavum/status.h"

/** Opaque: an expression that was checked. */
typedef struct cavum_expression cavum_expression;

/** What a name stands for: an entry of the values, or a constant when index is negative. */
typedef struct cavum_expression_name {
  int index;
  double constant;
} cavum_expression_name;

/**
 * Looks up a name.
 * @return CAVUM_OK, or CAVUM_ERR_INPUT with a message when there is no such name.
 */
typedef cavum_status cavum_expression_lookup(cavum_expression_name *found, const char *name,
                                             const void *data, cavum_error *error);

/**
 * Reads an expression: numbers, names, + - * / ^, brackets, comparisons, `a ? b : c`, and the usual
 * functions (sin, exp, sqrt, min, max, ...).
 *
 * @param[out] expression  Owned by the caller (cavum_expression_destroy()).
 * @param[in]  text        Zero-terminated.
 * @param[in]  lookup      Called for each name in it.
 * @param[in]  data        For lookup.
 * @param[out] error       May be NULL; tells the character where reading stopped.
 * @retval CAVUM_ERR_INPUT   no expression, an unknown name, or cavum_expression_check_text().
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_expression_create(cavum_expression **expression, const char *text,
                                     cavum_expression_lookup *lookup, const void *data,
                                     cavum_error *error);

/** Frees an expression and sets the pointer to NULL; NULL is accepted. */
void cavum_expression_destroy(cavum_expression **expression);

/** Its text as it was read; borrowed. */
const char *cavum_expression_text(const cavum_expression *expression);

/** Different names in it. */
int cavum_expression_num_names(const cavum_expression *expression);

/** What its name `index` stands for. */
cavum_expression_name cavum_expression_name_at(const cavum_expression *expression, int index);

/** Value; NAN when it has none. `values` is what the indices of lookup refer to. */
double cavum_expression_evaluate(const cavum_expression *expression, const double *values);

#endif
