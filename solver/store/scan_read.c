// SPDX-License-Identifier: GPL-3.0-or-later
// Reading a gathered scan, and its rows as CSV.
#include "store/scan_read.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/base.h"
#include "base/file.h"
#include "cavum/scan_store.h"
#include "format/number.h"
#include "hdf5/hdf5_columns.h"
#include "store/scan_reasons.h"

// CSV takes whole chunks of the columns, so that each is unpacked once.
enum { MOST_COLUMNS = 256, CSV_BLOCK = CAVUM_HDF5_COLUMN_BLOCK };

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

bool cavum_stored_scan_is_input(const cavum_stored_scan *scan, int column) {
  return column >= 0 && column < scan->num_columns && scan->columns[column].is_input;
}

cavum_status cavum_stored_scan_read_text(char **text, const cavum_stored_scan *scan,
                                         const char *path, cavum_error *error) {
  char **texts = NULL;
  int count = 0;
  cavum_status status = cavum_hdf5_read_texts(&texts, &count, scan->file, path, error);
  if (status != CAVUM_OK) return status;
  if (count == 1) *text = texts[0];
  for (int i = count == 1 ? 1 : 0; i < count; i++) free(texts[i]);
  free(texts);
  if (count == 1) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_INPUT, "%s: %s is no text", scan->path, path);
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
  for (size_t i = 0; found < 0 && i < sizeof names / sizeof names[0]; i++) {
    if (strcmp(key, names[i][0]) == 0) found = find_exactly(scan, names[i][1]);
    if (strcmp(key, names[i][1]) == 0) found = find_exactly(scan, names[i][0]);
  }
  return found;
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

// A whole number of fewer than 16 digits as it is, in front of `end`.
static char *write_whole(char *end, double value) {
  uint64_t rest = (uint64_t)fabs(value);
  do {
    *--end = (char)('0' + rest % 10);
    rest /= 10;
  } while (rest > 0);
  if (signbit(value)) *--end = '-';
  return end;
}

// One number of a row; nothing for what the row does not have.
static size_t write_value(char *text, double value) {
  if (isnan(value)) return 0;
  if (isinf(value)) {
    memcpy(text, "inf", sizeof "inf");
    return 3;
  }
  if (value == floor(value) && fabs(value) < 1e15) {
    char digits[CAVUM_STORE_NUMBER_SIZE], *end = digits + sizeof digits;
    char *start = write_whole(end, value);
    memcpy(text, start, (size_t)(end - start));
    return (size_t)(end - start);
  }
  cavum_store_format_number(text, value);
  return strlen(text);
}

/** Rows on their way to CSV. */
typedef struct csv_state {
  const cavum_stored_scan *scan;
  int status_column;
  double *block;  // owned, shape [num_columns, CSV_BLOCK]
  char *line;     // owned, shape [num_columns, CAVUM_STORE_NUMBER_SIZE + 1]
} csv_state;

static void print_row(FILE *out, const csv_state *csv, int64_t row) {
  char *end = csv->line;
  for (int i = 0; i < csv->scan->num_columns; i++) {
    double value = csv->block[(int64_t)i * CSV_BLOCK + row];
    if (i > 0) *end++ = ',';
    if (i == csv->status_column) {
      const char *word = cavum_shape_status_word((cavum_shape_status)(int)value);
      size_t length = strnlen(word, CAVUM_STORE_NUMBER_SIZE);
      memcpy(end, word, length);
      end += length;
    } else {
      end += write_value(end, value);
    }
  }
  fwrite(csv->line, 1, (size_t)(end - csv->line), out);
}

/** Where the list of reasons is; those of rows that were passed are behind it. */
typedef struct reason_place {
  cavum_scan_reasons list;
  int64_t shape;
  const char *text;
} reason_place;

// The reason of a shape in quotation marks, or an empty field.
static cavum_status print_reason(FILE *out, reason_place *place, int64_t shape,
                                 cavum_error *error) {
  while (place->shape >= 0 && place->shape < shape) {
    cavum_status status = cavum_scan_reasons_next(&place->list, &place->shape, &place->text, error);
    if (status != CAVUM_OK) return status;
  }
  fputc(',', out);
  if (place->shape == shape) {
    fputc('"', out);
    for (const char *c = place->text; *c; c++) fputs(*c == '"' ? "\"\"" : (char[]){*c, 0}, out);
    fputc('"', out);
  }
  fputc('\n', out);
  return CAVUM_OK;
}

static void print_heading(FILE *out, const cavum_stored_scan *scan) {
  for (int i = 0; i < scan->num_columns; i++) {
    fprintf(out, "%s%s", i ? "," : "", scan->columns[i].key);
  }
  fputs(",reason\n", out);
}

static cavum_status print_rows(FILE *out, const cavum_stored_scan *scan, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int shape_column = cavum_stored_scan_find(scan, "shape");
  reason_place reasons = {.shape = 0, .text = ""};
  csv_state csv = {.scan = scan,
                   .status_column = cavum_stored_scan_find(scan, "status"),
                   .block = cavum_alloc((int64_t)scan->num_columns * CSV_BLOCK, sizeof(double)),
                   .line = cavum_alloc(scan->num_columns, CAVUM_STORE_NUMBER_SIZE + 1)};
  if (!csv.block || !csv.line) CAVUM_TRY(cavum_fail_memory(error));
  print_heading(out, scan);
  cavum_scan_reasons_open(&reasons.list, scan->file);
  CAVUM_TRY(cavum_scan_reasons_next(&reasons.list, &reasons.shape, &reasons.text, error));
  for (int64_t first = 0; first < scan->num_rows; first += CSV_BLOCK) {
    int64_t left = scan->num_rows - first;
    int64_t count = left < CSV_BLOCK ? left : CSV_BLOCK;
    for (int i = 0; i < scan->num_columns; i++) {
      CAVUM_TRY(
          cavum_stored_scan_read(csv.block + (int64_t)i * CSV_BLOCK, scan, i, first, count, error));
    }
    const double *shapes = csv.block + (int64_t)shape_column * CSV_BLOCK;
    for (int64_t row = 0; row < count; row++) {
      print_row(out, &csv, row);
      CAVUM_TRY(print_reason(out, &reasons, (int64_t)shapes[row], error));
    }
  }
done:
  cavum_scan_reasons_close(&reasons.list);
  free(csv.block);
  free(csv.line);
  return status;
}

static cavum_status fail_to_write(const char *path, cavum_error *error) {
  return cavum_fail(error, CAVUM_ERR_FILE, "%s: cannot be written: %s", path, strerror(errno));
}

static cavum_status print_in_place(const char *path, const cavum_stored_scan *scan,
                                   cavum_error *error) {
  bool on_screen = strcmp(path, "-") == 0;
  FILE *out = on_screen ? stdout : fopen(path, "w");
  if (!out) return fail_to_write(path, error);
  cavum_status status = print_rows(out, scan, error);
  bool written = fflush(out) == 0 && !ferror(out);
  if (!on_screen && fclose(out) != 0) written = false;
  return status == CAVUM_OK && !written ? fail_to_write(path, error) : status;
}

cavum_status cavum_store_write_scan_csv(const char *path, const cavum_stored_scan *scan,
                                        cavum_error *error) {
  if (!path || !scan) return cavum_fail_null(error, __func__);
  struct stat found;
  if (strcmp(path, "-") == 0 || (stat(path, &found) == 0 && !S_ISREG(found.st_mode))) {
    return print_in_place(path, scan, error);
  }
  char *temporary = cavum_temporary_name(path);
  if (!temporary) return cavum_fail_memory(error);
  cavum_status status = print_in_place(temporary, scan, error);
  if (status == CAVUM_OK) {
    status = cavum_commit_file(temporary, path, error);
  } else {
    unlink(temporary);
  }
  free(temporary);
  return status;
}
