// SPDX-License-Identifier: GPL-3.0-or-later
// Rows of a gathered scan by a condition in the keys of its columns.
#include "store/scan_filter.h"

#include <string.h>

#include "base/base.h"
#include "cavum/requirement.h"
#include "figures/label.h"
#include "hdf5/hdf5_columns.h"
#include "scan/condition.h"
#include "store/scan_nearest.h"

enum { MOST_COLUMNS = 64, BLOCK = CAVUM_HDF5_COLUMN_BLOCK };

struct cavum_scan_filter {
  cavum_expression *condition;  // owned
  int num_columns;
  int columns[MOST_COLUMNS];  // of the file, in the order of the condition's indices
  double *values;             // owned, shape [num_columns, BLOCK]
};

/** A filter while its condition is read. */
typedef struct filter_reader {
  cavum_scan_filter *filter;
  const cavum_stored_scan *scan;
} filter_reader;

// "met" and its like; 0: no verdict has this word.
static int verdict_code(const char *word) {
  for (int code = CAVUM_VERDICT_MET; code < CAVUM_NUM_VERDICTS; code++) {
    if (strcmp(word, cavum_verdict_word((cavum_verdict_kind)code)) == 0) return code;
  }
  return 0;
}

static cavum_status look_up(cavum_expression_name *found, const char *name, const void *data,
                            cavum_error *error) {
  const filter_reader *reader = data;
  cavum_scan_filter *filter = reader->filter;
  int column = cavum_stored_scan_find(reader->scan, name), label = cavum_label_code(name);
  int verdict = verdict_code(name);
  if (column < 0 && (label > 0 || verdict > 0)) {
    *found = (cavum_expression_name){.index = -1, .constant = label > 0 ? label : verdict};
    return CAVUM_OK;
  }
  if (column < 0) {
    char hint[CAVUM_NEAREST_SIZE];
    return cavum_fail(error, CAVUM_ERR_INPUT, "%s: no column of this result%s", name,
                      cavum_stored_scan_nearest(hint, reader->scan, name));
  }
  if (filter->num_columns == MOST_COLUMNS) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "more than %d names in one condition", MOST_COLUMNS);
  }
  *found = (cavum_expression_name){.index = filter->num_columns};
  filter->columns[filter->num_columns++] = column;
  return CAVUM_OK;
}

cavum_status cavum_scan_filter_create(cavum_scan_filter **filter, const cavum_stored_scan *scan,
                                      const char *condition, cavum_error *error) {
  if (!filter || !scan || !condition) return cavum_fail_null(error, __func__);
  cavum_status status = CAVUM_OK;
  cavum_scan_filter *made = cavum_alloc(1, sizeof *made);
  filter_reader reader = {made, scan};
  if (!made) return cavum_fail_memory(error);
  CAVUM_TRY(cavum_condition_create(&made->condition, condition, look_up, &reader, error));
  made->values = cavum_alloc((int64_t)BLOCK * cavum_expression_num_names(made->condition) + 1,
                             sizeof *made->values);
  if (!made->values) CAVUM_TRY(cavum_fail_memory(error));
  *filter = made;
  made = NULL;
done:
  cavum_scan_filter_destroy(&made);
  return status;
}

void cavum_scan_filter_destroy(cavum_scan_filter **filter) {
  if (!filter || !*filter) return;
  cavum_expression_destroy(&(*filter)->condition);
  free((*filter)->values);
  free(*filter);
  *filter = NULL;
}

cavum_status cavum_scan_filter_mark(bool *wanted, const cavum_scan_filter *filter,
                                    const cavum_stored_scan *scan, int64_t first, int64_t count,
                                    cavum_error *error) {
  double row[MOST_COLUMNS];
  for (int i = 0; filter && i < filter->num_columns; i++) {
    cavum_status status = cavum_stored_scan_read(filter->values + (int64_t)i * BLOCK, scan,
                                                 filter->columns[i], first, count, error);
    if (status != CAVUM_OK) return status;
  }
  for (int64_t k = 0; k < count; k++) {
    for (int i = 0; filter && i < filter->num_columns; i++) {
      row[i] = filter->values[(int64_t)i * BLOCK + k];
    }
    wanted[k] = !filter || cavum_condition_holds(filter->condition, row);
  }
  return CAVUM_OK;
}
