// SPDX-License-Identifier: GPL-3.0-or-later
// What makes an expression a condition.
#include "scan/condition.h"

#include <math.h>
#include <string.h>

#include "base/base.h"

static bool compares(const char *text) { return strpbrk(text, "<>=") != NULL; }

cavum_status cavum_condition_create(cavum_expression **condition, const char *text,
                                    cavum_expression_lookup *lookup, const void *data,
                                    cavum_error *error) {
  if (!compares(text)) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "'%s' is not a condition: expected a comparison, such as NAME < NUMBER",
                      text);
  }
  return cavum_expression_create(condition, text, lookup, data, error);
}

bool cavum_condition_holds(const cavum_expression *condition, const double *values) {
  for (int i = 0; i < cavum_expression_num_names(condition); i++) {
    cavum_expression_name name = cavum_expression_name_at(condition, i);
    if (isnan(name.index >= 0 ? values[name.index] : name.constant)) return false;
  }
  double value = cavum_expression_evaluate(condition, values);
  return !isnan(value) && value != 0.0;
}
