// SPDX-License-Identifier: GPL-3.0-or-later
// The comparison of results as JSON.
#include "cli/compare_json.h"

#include <stdlib.h>

#include "base/base.h"
#include "cavum/store.h"

cavum_status cavum_compare_write_json(const char *path, const cavum_compared_results *all,
                                      const cavum_compare_table *inputs, cavum_error *error) {
  int rows = inputs->num_rows, count = all->count, width = inputs->num_values + 2;
  const char **names = cavum_alloc(rows + 1, sizeof *names);
  const char **values = cavum_alloc((int64_t)rows * count + 1, sizeof *values);
  char *text = NULL;
  cavum_status status = names && values ? CAVUM_OK : cavum_fail_memory(error);
  for (int i = 0; i < rows && status == CAVUM_OK; i++) {
    names[i] = inputs->cells[i * width];
    for (int k = 0; k < count; k++) values[i * count + k] = inputs->cells[i * width + 1 + k];
  }
  cavum_compared_results complete = *all;
  complete.num_inputs = rows;
  complete.input_names = names;
  complete.input_values = values;
  if (status == CAVUM_OK) status = cavum_compared_json_write(&text, &complete, error);
  if (status == CAVUM_OK) status = cavum_store_write_text(path, text, error);
  free(text);
  free(values);
  free(names);
  return status;
}
