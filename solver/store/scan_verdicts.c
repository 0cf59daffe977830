// SPDX-License-Identifier: GPL-3.0-or-later
// Verdicts of requirements in the rows of a scan.
#include <string.h>

#include "base/base.h"
#include "cavum/requirement.h"
#include "cavum/scan_store.h"
#include "hdf5/hdf5_columns.h"
#include "store/scan_filter.h"

enum { BLOCK = CAVUM_HDF5_COLUMN_BLOCK };

const char *cavum_stored_scan_requirement(const cavum_stored_scan *scan, int column) {
  static const char prefix[] = "verdict_";
  const char *key = scan ? cavum_stored_scan_key(scan, column) : NULL;
  bool is_verdict = key && strncmp(key, prefix, sizeof prefix - 1) == 0;
  return is_verdict ? key + sizeof prefix - 1 : NULL;
}

/** Rows on their way into counts; all owned, shape [BLOCK]. */
typedef struct verdict_block {
  double *code, *status;
  bool *wanted;
} verdict_block;

static void count_block(int64_t found[CAVUM_NUM_VERDICTS], const verdict_block *block,
                        int64_t count) {
  for (int64_t row = 0; row < count; row++) {
    if (!block->wanted[row] || block->status[row] != (double)CAVUM_SHAPE_DONE) continue;
    int code = cavum_whole_int(block->code[row], -1);
    found[code >= 0 && code < CAVUM_NUM_VERDICTS ? code : CAVUM_VERDICT_ABSENT]++;
  }
}

cavum_status cavum_stored_scan_count_verdicts(int64_t counts[CAVUM_NUM_VERDICTS],
                                              const cavum_stored_scan *scan, int column,
                                              const cavum_scan_filter *filter, cavum_error *error) {
  if (!counts || !scan) return cavum_fail_null(error, __func__);
  if (!cavum_stored_scan_requirement(scan, column)) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "column %d is not that of a requirement", column);
  }
  cavum_status status = CAVUM_OK;
  int64_t found[CAVUM_NUM_VERDICTS] = {0}, num_rows = cavum_stored_scan_num_rows(scan);
  int status_column = cavum_stored_scan_find(scan, "status");
  verdict_block block = {.code = cavum_alloc(BLOCK, sizeof *block.code),
                         .status = cavum_alloc(BLOCK, sizeof *block.status),
                         .wanted = cavum_alloc(BLOCK, sizeof *block.wanted)};
  if (!block.code || !block.status || !block.wanted) CAVUM_TRY(cavum_fail_memory(error));
  for (int64_t first = 0; first < num_rows; first += BLOCK) {
    int64_t count = num_rows - first < BLOCK ? num_rows - first : BLOCK;
    CAVUM_TRY(cavum_stored_scan_read(block.code, scan, column, first, count, error));
    CAVUM_TRY(cavum_stored_scan_read(block.status, scan, status_column, first, count, error));
    CAVUM_TRY(cavum_scan_filter_mark(block.wanted, filter, scan, first, count, error));
    count_block(found, &block, count);
  }
  memcpy(counts, found, sizeof found);
done:
  free(block.code);
  free(block.status);
  free(block.wanted);
  return status;
}
