// SPDX-License-Identifier: GPL-3.0-or-later
// Requirements of all results, each once.
#include "cli/compare_requirements.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "format/mend.h"

static const cavum_verdict *verdict_of(const cavum_stored_origin *origin, const char *key) {
  for (int i = 0; i < origin->num_requirements; i++) {
    const cavum_stored_requirement *of = &origin->requirements[i];
    if (strcmp(of->requirement.key, key) == 0) return &of->verdict;
  }
  return NULL;
}

static cavum_status add_row(cavum_compare_table *table, const cavum_stored_origin *const *origins,
                            int count, const char *key, cavum_error *error) {
  cavum_compare_cell *row = NULL;
  cavum_status status = cavum_compare_table_add(&row, table, error);
  if (status != CAVUM_OK) return status;
  snprintf(row[0], sizeof row[0], "%s", key);
  for (int m = 0; m < count; m++) {
    const cavum_verdict *v = verdict_of(origins[m], key);
    char by[CAVUM_MEND_SIZE] = "";
    if (v) cavum_margin_write(by, v);
    snprintf(row[1 + m], sizeof row[0], "%s%s%.32s", v ? cavum_verdict_word(v->kind) : "-",
             by[0] ? " " : "", by);
  }
  return CAVUM_OK;
}

cavum_status cavum_compare_add_requirements(cavum_compare_table *table,
                                            const cavum_stored_origin *const *origins, int count,
                                            cavum_error *error) {
  for (int k = 0; k < count; k++) {
    for (int i = 0; i < origins[k]->num_requirements; i++) {
      const char *key = origins[k]->requirements[i].requirement.key;
      bool told = false;
      for (int m = 0; m < k; m++) told = told || verdict_of(origins[m], key) != NULL;
      if (told) continue;
      cavum_status status = add_row(table, origins, count, key, error);
      if (status != CAVUM_OK) return status;
    }
  }
  return CAVUM_OK;
}
