// SPDX-License-Identifier: GPL-3.0-or-later
// Reading a gathered scan.
#include "store/scan_read.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "cavum/scan_store.h"
#include "figures/figure_key.h"
#include "hdf5/hdf5_columns.h"
#include "scan/layout.h"

enum { MOST_COLUMNS = 1024 };

static const char LABEL_KEY[] = "mode_label";

/** Description of one column. */
typedef struct stored_column {
  char key[CAVUM_COLUMN_KEY_SIZE], unit[32];
  bool is_input;
} stored_column;

struct cavum_stored_scan {
  char *path;             // owned
  cavum_hdf5_file *file;  // owned
  char fingerprint[80], title[256];
  int64_t num_rows;
  int num_columns;
  stored_column *columns;  // owned, shape [MOST_COLUMNS]
};

static const char *path_of(char path[CAVUM_COLUMN_KEY_SIZE + 16], const char *key) {
  snprintf(path, CAVUM_COLUMN_KEY_SIZE + 16, "/columns/%s", key);
  return path;
}

static bool take_key(const char *name, void *data) {
  cavum_stored_scan *scan = data;
  if (scan->num_columns == MOST_COLUMNS || strlen(name) >= CAVUM_COLUMN_KEY_SIZE) return false;
  snprintf(scan->columns[scan->num_columns++].key, CAVUM_COLUMN_KEY_SIZE, "%s", name);
  return true;
}

// The long name of an input is its key with its role (scan/layout.c); no other column's is.
static cavum_status find_role(stored_column *column, const cavum_hdf5_file *file, const char *path,
                              cavum_error *error) {
  char long_name[256];
  size_t length = strlen(column->key);
  if (!cavum_hdf5_has_attribute(file, path, "long_name")) return CAVUM_OK;
  cavum_status status =
      cavum_hdf5_read_text(long_name, sizeof long_name, file, path, "long_name", error);
  if (status != CAVUM_OK) return status;
  column->is_input =
      strncmp(long_name, column->key, length) == 0 && strncmp(long_name + length, ", ", 2) == 0;
  return CAVUM_OK;
}

static cavum_status read_columns(cavum_stored_scan *scan, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char path[CAVUM_COLUMN_KEY_SIZE + 16];
  CAVUM_TRY(cavum_hdf5_visit(scan->file, "/columns", take_key, scan, error));
  scan->num_rows = cavum_hdf5_column_rows(scan->file, "/columns/shape");
  for (int i = 0; i < scan->num_columns; i++) {
    stored_column *column = &scan->columns[i];
    CAVUM_TRY(cavum_hdf5_read_text(column->unit, sizeof column->unit, scan->file,
                                   path_of(path, column->key), "units", error));
    CAVUM_TRY(find_role(column, scan->file, path, error));
    if (cavum_hdf5_column_rows(scan->file, path) != scan->num_rows || scan->num_rows < 1) {
      CAVUM_TRY(cavum_fail(error, CAVUM_ERR_INPUT, "%s: columns of different lengths", scan->path));
    }
  }
  if (cavum_stored_scan_find(scan, "status") < 0 || cavum_stored_scan_find(scan, "shape") < 0) {
    CAVUM_TRY(
        cavum_fail(error, CAVUM_ERR_INPUT, "%s: has no columns shape and status", scan->path));
  }
done:
  return status;
}

cavum_status cavum_stored_scan_open(cavum_stored_scan **scan, const char *path,
                                    cavum_error *error) {
  if (!scan || !path) return cavum_fail_null(error, __func__);
  cavum_status status = CAVUM_OK;
  cavum_stored_scan *opened = cavum_alloc(1, sizeof *opened);
  if (!opened) return cavum_fail_memory(error);
  opened->path = cavum_copy_text(path);
  opened->columns = cavum_alloc(MOST_COLUMNS, sizeof *opened->columns);
  if (!opened->path || !opened->columns) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(cavum_hdf5_open(&opened->file, path, error));
  CAVUM_TRY(cavum_hdf5_read_text(opened->fingerprint, sizeof opened->fingerprint, opened->file,
                                 "/input/fingerprint", NULL, error));
  CAVUM_TRY(cavum_hdf5_read_text(opened->title, sizeof opened->title, opened->file, "/input/title",
                                 NULL, error));
  CAVUM_TRY(read_columns(opened, error));
  *scan = opened;
  opened = NULL;
done:
  cavum_stored_scan_close(&opened);
  return status;
}

void cavum_stored_scan_close(cavum_stored_scan **scan) {
  if (!scan || !*scan) return;
  cavum_hdf5_destroy(&(*scan)->file);
  free((*scan)->columns);
  free((*scan)->path);
  free(*scan);
  *scan = NULL;
}

const cavum_hdf5_file *cavum_stored_scan_file(const cavum_stored_scan *scan) { return scan->file; }

const char *cavum_stored_scan_path(const cavum_stored_scan *scan) { return scan->path; }

bool cavum_stored_scan_is_input(const cavum_stored_scan *scan, int column) {
  return column >= 0 && column < scan->num_columns && scan->columns[column].is_input;
}

bool cavum_stored_scan_is_label(const cavum_stored_scan *scan, int column) {
  int mode;
  const char *key = cavum_key_behind_mode(&mode, cavum_stored_scan_key(scan, column));
  return key && strcmp(key, LABEL_KEY) == 0;
}

cavum_status cavum_stored_scan_read_text(char **text, const cavum_stored_scan *scan,
                                         const char *path, cavum_error *error) {
  char **texts = NULL;
  int count = 0;
  cavum_status status = cavum_hdf5_read_texts(&texts, &count, scan->file, path, error);
  if (status != CAVUM_OK) return status;
  if (count == 1) {
    *text = texts[0];
    free(texts);
    return CAVUM_OK;
  }
  cavum_hdf5_free_texts(texts, count);
  return cavum_fail(error, CAVUM_ERR_INPUT, "%s: %s is not text", scan->path, path);
}

const char *cavum_stored_scan_fingerprint(const cavum_stored_scan *scan) {
  return scan ? scan->fingerprint : "";
}

const char *cavum_stored_scan_title(const cavum_stored_scan *scan) {
  return scan ? scan->title : "";
}

int64_t cavum_stored_scan_num_rows(const cavum_stored_scan *scan) {
  return scan ? scan->num_rows : 0;
}

int cavum_stored_scan_num_columns(const cavum_stored_scan *scan) {
  return scan ? scan->num_columns : 0;
}

const char *cavum_stored_scan_key(const cavum_stored_scan *scan, int column) {
  return scan && column >= 0 && column < scan->num_columns ? scan->columns[column].key : "";
}

const char *cavum_stored_scan_unit(const cavum_stored_scan *scan, int column) {
  return scan && column >= 0 && column < scan->num_columns ? scan->columns[column].unit : "";
}

static int find_exactly(const cavum_stored_scan *scan, const char *key) {
  for (int i = 0; i < scan->num_columns; i++) {
    if (strcmp(scan->columns[i].key, key) == 0) return i;
  }
  return -1;
}

// The study's own mode is the one of which there is no column `modes[N].KEY`: the first such
// number, where there are other modes at all.
static const char *without_mode(const cavum_stored_scan *scan, const char *key) {
  int mode = -1, own = 0;
  char column[CAVUM_COLUMN_KEY_SIZE];
  const char *name = cavum_key_behind_mode(&mode, key);
  if (!name || mode < 0) return NULL;
  bool is_figure = cavum_figure_of_key(NULL, name) != CAVUM_NUM_FIGURES;
  if (!is_figure && strcmp(name, LABEL_KEY) != 0) return NULL;
  do {
    snprintf(column, sizeof column, "modes[%d].%s", own, name);
  } while (find_exactly(scan, column) >= 0 && own++ < CAVUM_STUDY_MOST_MODES);
  snprintf(column, sizeof column, "modes[%d].%s", own == 0 ? 1 : 0, name);
  return own == mode && find_exactly(scan, column) >= 0 ? name : NULL;
}

// Columns of files of earlier versions had other names; both are understood in both.
int cavum_stored_scan_find(const cavum_stored_scan *scan, const char *key) {
  static const char *const names[][2] = {
      {"k_cc", "coupling"},
      {"k_cc_uncertainty", "coupling_uncertainty"},
      {"zero_mode_frequency_Hz", "zero_mode_Hz"},
      {"pi_mode_frequency_Hz", "pi_mode_Hz"},
      {"held_slope_Hz_per_mm", "held_slope_Hz"},
  };
  if (!scan || !key) return -1;
  int found = find_exactly(scan, key);
  const char *of_own_mode = found < 0 ? without_mode(scan, key) : NULL;
  if (of_own_mode) found = find_exactly(scan, of_own_mode);
  for (size_t i = 0; found < 0 && i < sizeof names / sizeof names[0]; i++) {
    if (strcmp(key, names[i][0]) == 0) found = find_exactly(scan, names[i][1]);
    if (strcmp(key, names[i][1]) == 0) found = find_exactly(scan, names[i][0]);
  }
  char full[CAVUM_COLUMN_KEY_SIZE];  // `contour.` may be left out, as in study files
  int length = snprintf(full, sizeof full, "contour.%s", key);
  return found < 0 && length < (int)sizeof full ? find_exactly(scan, full) : found;
}

cavum_status cavum_stored_scan_read(double *values, const cavum_stored_scan *scan, int column,
                                    int64_t first, int64_t count, cavum_error *error) {
  if (!values || !scan) return cavum_fail_null(error, __func__);
  if (column < 0 || column >= scan->num_columns) {
    return cavum_fail(error, CAVUM_ERR_RANGE, "column %d of a file with %d", column,
                      scan->num_columns);
  }
  char path[CAVUM_COLUMN_KEY_SIZE + 16];
  return cavum_hdf5_read_column(values, scan->file, path_of(path, scan->columns[column].key), first,
                                count, error);
}
