// SPDX-License-Identifier: GPL-3.0-or-later
// The order of the rows of two scans that become one.
#include "store/scan_merge_rows.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "store/scan_read.h"
#include "store/scan_reasons.h"

const char *cavum_merge_column_path(char path[CAVUM_COLUMN_KEY_SIZE + 16], const char *key) {
  snprintf(path, CAVUM_COLUMN_KEY_SIZE + 16, "/columns/%s", key);
  return path;
}

cavum_status cavum_merge_rows_read(double *values, const cavum_merge_rows *rows, int column,
                                   cavum_error *error) {
  int64_t first = cavum_stored_scan_num_rows(rows->scans[0]);
  cavum_status status = cavum_stored_scan_read(values, rows->scans[0], column, 0, first, error);
  if (status != CAVUM_OK) return status;
  return cavum_stored_scan_read(values + first, rows->scans[1], column, 0, rows->num_rows - first,
                                error);
}

// The long name of an input tells its role (scan/layout.c).
static bool is_varied(const cavum_stored_scan *scan, int column) {
  char path[CAVUM_COLUMN_KEY_SIZE + 16], long_name[256];
  const char *const ending = ", varied";
  if (!cavum_stored_scan_is_input(scan, column)) return false;
  const char *place = cavum_merge_column_path(path, cavum_stored_scan_key(scan, column));
  cavum_status status = cavum_hdf5_read_text(
      long_name, sizeof long_name, cavum_stored_scan_file(scan), place, "long_name", NULL);
  size_t length = status == CAVUM_OK ? strlen(long_name) : 0;
  return length > strlen(ending) && strcmp(long_name + length - strlen(ending), ending) == 0;
}

// One step of FNV-1a for eight bytes at once, with the high bits brought down.
static uint64_t mix(uint64_t digest, uint64_t bits) {
  digest = (digest ^ bits) * UINT64_C(1099511628211);
  return digest ^ digest >> 29;
}

static uint64_t bits_of(double value) {
  uint64_t bits;
  memcpy(&bits, &value, sizeof bits);
  return bits;
}

static cavum_status take_columns(cavum_merge_rows *rows, double *column, cavum_error *error) {
  const cavum_stored_scan *scan = rows->scans[0];
  int shape_column = cavum_stored_scan_find(scan, "shape");
  int status_column = cavum_stored_scan_find(scan, "status"), key = 0;
  for (int i = 0; i < cavum_stored_scan_num_columns(scan); i++) {
    if (i == shape_column) continue;
    bool varied = is_varied(scan, i);
    cavum_status status = cavum_merge_rows_read(column, rows, i, error);
    if (status != CAVUM_OK) return status;
    for (int64_t row = 0; row < rows->num_rows; row++) {
      rows->digests[row] = mix(rows->digests[row], bits_of(column[row]));
      if (varied) rows->keys[row * rows->num_keys + key] = column[row];
      if (i == status_column) rows->status[row] = column[row];
    }
    key += varied;
  }
  return CAVUM_OK;
}

// Reasons count, too: rows that are equal but for them are told apart.
static cavum_status take_reasons(cavum_merge_rows *rows, int which, cavum_error *error) {
  int64_t offset = which == 0 ? 0 : cavum_stored_scan_num_rows(rows->scans[0]), shape = 0;
  int64_t count = cavum_stored_scan_num_rows(rows->scans[which]);
  const char *text = "";
  cavum_scan_reasons list = {0};
  cavum_status status = CAVUM_OK;
  cavum_scan_reasons_open(&list, cavum_stored_scan_file(rows->scans[which]));
  while (status == CAVUM_OK && shape >= 0) {
    status = cavum_scan_reasons_next(&list, &shape, &text, error);
    for (const char *c = text; status == CAVUM_OK && shape >= 0 && shape < count && *c; c++) {
      rows->digests[offset + shape] = mix(rows->digests[offset + shape], (unsigned char)*c);
    }
  }
  cavum_scan_reasons_close(&list);
  return status;
}

static int compare_shapes(const cavum_merge_rows *rows, int64_t a, int64_t b) {
  for (int i = 0; i < rows->num_keys; i++) {
    double left = rows->keys[a * rows->num_keys + i], right = rows->keys[b * rows->num_keys + i];
    if (left != right) return left < right ? -1 : 1;
  }
  return 0;
}

// By shape; of equal ones those with figures first.
static int compare_rows(const void *left, const void *right, void *data) {
  const cavum_merge_rows *rows = data;
  int64_t a = *(const int64_t *)left, b = *(const int64_t *)right;
  int order = compare_shapes(rows, a, b);
  if (order != 0) return order;
  if (rows->status[a] != rows->status[b]) return rows->status[a] < rows->status[b] ? -1 : 1;
  if (rows->digests[a] != rows->digests[b]) return rows->digests[a] < rows->digests[b] ? -1 : 1;
  return (a > b) - (a < b);  // the same rows
}

static void keep(cavum_merge_rows *rows) {
  for (int64_t i = 0; i < rows->num_rows; i++) rows->kept[i] = i;
  qsort_r(rows->kept, (size_t)rows->num_rows, sizeof *rows->kept, compare_rows, rows);
  for (int64_t i = 0; i < rows->num_rows; i++) {
    int64_t row = rows->kept[i];
    bool known =
        rows->num_kept > 0 && compare_shapes(rows, rows->kept[rows->num_kept - 1], row) == 0;
    if (!known) rows->kept[rows->num_kept++] = row;
  }
}

cavum_status cavum_merge_rows_sort(cavum_merge_rows *rows, const cavum_stored_scan *const scans[2],
                                   cavum_error *error) {
  cavum_status status = CAVUM_OK;
  *rows = (cavum_merge_rows){.scans = {scans[0], scans[1]}};
  rows->num_rows = cavum_stored_scan_num_rows(scans[0]) + cavum_stored_scan_num_rows(scans[1]);
  for (int i = 0; i < cavum_stored_scan_num_columns(scans[0]); i++) {
    rows->num_keys += is_varied(scans[0], i);
  }
  if (rows->num_keys == 0) return cavum_fail(error, CAVUM_ERR_INPUT, "no column that was varied");
  double *column = cavum_alloc(rows->num_rows, sizeof *column);
  rows->keys = cavum_alloc(rows->num_rows * rows->num_keys, sizeof *rows->keys);
  rows->status = cavum_alloc(rows->num_rows, sizeof *rows->status);
  rows->digests = cavum_alloc(rows->num_rows, sizeof *rows->digests);
  rows->kept = cavum_alloc(rows->num_rows, sizeof *rows->kept);
  if (!column || !rows->keys || !rows->status || !rows->digests || !rows->kept) {
    CAVUM_TRY(cavum_fail_memory(error));
  }
  CAVUM_TRY(take_columns(rows, column, error));
  for (int i = 0; i < 2; i++) CAVUM_TRY(take_reasons(rows, i, error));
  keep(rows);
done:
  free(column);
  return status;
}

void cavum_merge_rows_clear(cavum_merge_rows *rows) {
  free(rows->keys);
  free(rows->status);
  free(rows->digests);
  free(rows->kept);
  *rows = (cavum_merge_rows){0};
}
