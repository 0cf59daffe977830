// SPDX-License-Identifier: GPL-3.0-or-later
// Rows of a gathered scan as CSV.
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdio_ext.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/base.h"
#include "base/file.h"
#include "base/stop.h"
#include "cavum/requirement.h"
#include "cavum/scan_store.h"
#include "figures/label.h"
#include "format/number.h"
#include "hdf5/hdf5_columns.h"
#include "store/scan_filter.h"
#include "store/scan_read.h"
#include "store/scan_reasons.h"

// Rows are read in blocks of whole chunks of the columns, so that each chunk is unpacked once.
enum { CSV_BLOCK = CAVUM_HDF5_COLUMN_BLOCK };

// Writes a whole number of fewer than 16 digits so that it stops before `end`.
static char *write_whole(char *end, double value) {
  uint64_t rest = (uint64_t)fabs(value);
  do {
    *--end = (char)('0' + rest % 10);
    rest /= 10;
  } while (rest > 0);
  if (signbit(value)) *--end = '-';
  return end;
}

// Writes one number of a row; an empty field where the row has no value.
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

/** What the codes of a column are the words of. */
typedef enum csv_word { CSV_NUMBER, CSV_STATUS, CSV_LABEL, CSV_VERDICT } csv_word;

/** Rows on their way to CSV. */
typedef struct csv_state {
  int num_columns;
  csv_word *word;  // owned, shape [num_columns]
  double *block;   // owned, shape [num_columns, CSV_BLOCK]
  char *line;      // owned, shape [num_columns, CAVUM_STORE_NUMBER_SIZE + 1]
} csv_state;

// Writes the word that a code stands for.
static size_t write_word(char *text, const char *word) {
  size_t length = strnlen(word, CAVUM_STORE_NUMBER_SIZE);
  memcpy(text, word, length);
  return length;
}

static size_t write_label(char *text, double code) {
  char label[16];
  cavum_label_of_code(label, cavum_whole_int(code, 0));
  return write_word(text, label);
}

static size_t write_status(char *text, double code) {
  int status = cavum_whole_int(code, CAVUM_NUM_SHAPE_STATUSES);
  return write_word(text, cavum_shape_status_word((cavum_shape_status)status));
}

static size_t write_verdict(char *text, double code) {
  int kind = cavum_whole_int(code, CAVUM_VERDICT_ABSENT);
  return write_word(text, cavum_verdict_word((cavum_verdict_kind)kind));
}

static size_t write_field(char *text, csv_word word, double value) {
  switch (word) {
    case CSV_STATUS:
      return write_status(text, value);
    case CSV_LABEL:
      return write_label(text, value);
    case CSV_VERDICT:
      return write_verdict(text, value);
    case CSV_NUMBER:
      break;
  }
  return write_value(text, value);
}

static csv_word word_of(const cavum_stored_scan *scan, int column) {
  if (column == cavum_stored_scan_find(scan, "status")) return CSV_STATUS;
  if (cavum_stored_scan_is_label(scan, column)) return CSV_LABEL;
  return cavum_stored_scan_requirement(scan, column) ? CSV_VERDICT : CSV_NUMBER;
}

static void print_row(FILE *out, const csv_state *csv, int64_t row) {
  char *end = csv->line;
  for (int i = 0; i < csv->num_columns; i++) {
    double value = csv->block[(int64_t)i * CSV_BLOCK + row];
    if (i > 0) *end++ = ',';
    end += write_field(end, csv->word[i], value);
  }
  fwrite(csv->line, 1, (size_t)(end - csv->line), out);
}

/** Where the list of reasons is; those of rows that were passed are behind it. */
typedef struct reason_place {
  cavum_scan_reasons list;
  int64_t shape;
  const char *text;
} reason_place;

// Writes a text in quotation marks; quotation marks inside it are doubled.
static void print_quoted(FILE *out, const char *text) {
  fputc('"', out);
  for (const char *c = text; *c; c++) fputs(*c == '"' ? "\"\"" : (char[]){*c, 0}, out);
  fputc('"', out);
}

// The reason of a shape in quotation marks, or an empty field.
static cavum_status print_reason(FILE *out, reason_place *place, int64_t shape,
                                 cavum_error *error) {
  while (place->shape >= 0 && place->shape < shape) {
    cavum_status status = cavum_scan_reasons_next(&place->list, &place->shape, &place->text, error);
    if (status != CAVUM_OK) return status;
  }
  fputc(',', out);
  if (place->shape == shape) print_quoted(out, place->text);
  fputc('\n', out);
  return CAVUM_OK;
}

// The name of a region may hold any characters, also commas and quotation marks.
static void print_heading(FILE *out, const cavum_stored_scan *scan) {
  for (int i = 0; i < cavum_stored_scan_num_columns(scan); i++) {
    const char *key = cavum_stored_scan_key(scan, i);
    if (i > 0) fputc(',', out);
    if (strpbrk(key, ",\"\r\n")) {
      print_quoted(out, key);
    } else {
      fputs(key, out);
    }
  }
  fputs(",reason\n", out);
}

static cavum_status print_rows(FILE *out, const cavum_stored_scan *scan,
                               const cavum_scan_filter *filter, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int shape_column = cavum_stored_scan_find(scan, "shape");
  int num_columns = cavum_stored_scan_num_columns(scan);
  int64_t num_rows = cavum_stored_scan_num_rows(scan);
  bool *wanted = cavum_alloc(CSV_BLOCK, sizeof *wanted);
  reason_place reasons = {.shape = 0, .text = ""};
  csv_state csv = {.num_columns = num_columns,
                   .word = cavum_alloc(num_columns, sizeof *csv.word),
                   .block = cavum_alloc((int64_t)num_columns * CSV_BLOCK, sizeof(double)),
                   .line = cavum_alloc(num_columns, CAVUM_STORE_NUMBER_SIZE + 1)};
  if (!wanted || !csv.word || !csv.block || !csv.line) CAVUM_TRY(cavum_fail_memory(error));
  for (int i = 0; i < num_columns; i++) csv.word[i] = word_of(scan, i);
  print_heading(out, scan);
  cavum_scan_reasons_open(&reasons.list, cavum_stored_scan_file(scan));
  CAVUM_TRY(cavum_scan_reasons_next(&reasons.list, &reasons.shape, &reasons.text, error));
  for (int64_t first = 0; first < num_rows; first += CSV_BLOCK) {
    CAVUM_TRY(cavum_stop_check(error));
    int64_t left = num_rows - first;
    int64_t count = left < CSV_BLOCK ? left : CSV_BLOCK;
    for (int i = 0; i < num_columns; i++) {
      CAVUM_TRY(
          cavum_stored_scan_read(csv.block + (int64_t)i * CSV_BLOCK, scan, i, first, count, error));
    }
    CAVUM_TRY(cavum_scan_filter_mark(wanted, filter, scan, first, count, error));
    const double *shapes = csv.block + (int64_t)shape_column * CSV_BLOCK;
    for (int64_t row = 0; row < count; row++) {
      if (!wanted[row]) continue;
      print_row(out, &csv, row);
      CAVUM_TRY(print_reason(out, &reasons, cavum_whole(shapes[row], -1), error));
    }
  }
done:
  cavum_scan_reasons_close(&reasons.list);
  free(wanted);
  free(csv.word);
  free(csv.block);
  free(csv.line);
  return status;
}

static cavum_status fail_to_write(const char *path, cavum_error *error) {
  int reason = errno;
  bool on_screen = strcmp(path, "-") == 0;
  // The error is reported here; a program that checks its standard output at its end should not
  // report it a second time.
  if (on_screen) {
    __fpurge(stdout);
    clearerr(stdout);
  }
  return cavum_fail(error, CAVUM_ERR_FILE, "%s: cannot be written: %s",
                    on_screen ? "standard output" : path, strerror(reason));
}

// `path` is the name in messages, since nobody knows that of the temporary file, which is renamed
// to it.
static cavum_status print_in_place(const char *file, const char *path,
                                   const cavum_stored_scan *scan, const cavum_scan_filter *filter,
                                   cavum_error *error) {
  bool on_screen = strcmp(file, "-") == 0;
  FILE *out = on_screen ? stdout : fopen(file, "w");
  if (!out) return fail_to_write(path, error);
  cavum_status status = print_rows(out, scan, filter, error);
  bool written = fflush(out) == 0 && !ferror(out);
  if (!on_screen && fclose(out) != 0) written = false;
  return status == CAVUM_OK && !written ? fail_to_write(path, error) : status;
}

cavum_status cavum_store_write_scan_csv_where(const char *path, const cavum_stored_scan *scan,
                                              const cavum_scan_filter *filter, cavum_error *error) {
  if (!path || !scan) return cavum_fail_null(error, __func__);
  struct stat found;
  if (strcmp(path, "-") == 0 || (stat(path, &found) == 0 && !S_ISREG(found.st_mode))) {
    return print_in_place(path, path, scan, filter, error);
  }
  char *temporary = cavum_temporary_name(path);
  if (!temporary) return cavum_fail_memory(error);
  cavum_status status = print_in_place(temporary, path, scan, filter, error);
  if (status == CAVUM_OK) {
    status = cavum_commit_file(temporary, path, error);
  } else {
    unlink(temporary);
  }
  free(temporary);
  return status;
}

cavum_status cavum_store_write_scan_csv(const char *path, const cavum_stored_scan *scan,
                                        cavum_error *error) {
  return cavum_store_write_scan_csv_where(path, scan, NULL, error);
}
