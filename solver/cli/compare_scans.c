// SPDX-License-Identifier: GPL-3.0-or-later
// Studies side by side.
#include "cli/compare_scans.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "base/utf8.h"
#include "cli/compare_inputs.h"
#include "cli/input_kind.h"
#include "cli/outputs.h"
#include "cli/process.h"
#include "cli/scan_summary.h"
#include "report/compared_results.h"
#include "store/coldtest_load.h"
#include "store/scan_json.h"

enum { MOST = CAVUM_COMPARE_TESTS_MOST, NUM_TABLES = 5, LINE_SIZE = 768 };

/** One of the studies. */
typedef struct compared_scan {
  cavum_stored_scan *scan;
  cavum_scan_summary summary;
  cavum_scan_aims aims;
  char *study_text, *cell_text;
  cavum_inputs study, cell;
} compared_scan;

/** Tables in the order in which they are shown. */
typedef struct scan_tables {
  cavum_compare_table all[NUM_TABLES];
} scan_tables;

bool cavum_compare_is_scan(const char *path) {
  cavum_stored_kind kind = CAVUM_STORED_RESULT;
  return cavum_stored_find_kind(&kind, path, NULL) == CAVUM_OK && kind == CAVUM_STORED_SCAN;
}

static cavum_status open_side(compared_scan *side, const char *path, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  side->aims = cavum_scan_aims_default();
  side->aims.num_best = 1;
  status = cavum_stored_scan_open(&side->scan, path, error);
  CAVUM_TRY(cavum_input_explain(status, path, CAVUM_INPUT_SCAN, error));
  CAVUM_TRY(cavum_stored_read_text(&side->study_text, path, "/input/study_file", error));
  CAVUM_TRY(cavum_stored_read_text(&side->cell_text, path, "/input/cell_file", error));
  CAVUM_TRY(cavum_inputs_read(&side->study, NULL, side->study_text, error));
  CAVUM_TRY(cavum_inputs_read(&side->cell, NULL, side->cell_text, error));
  CAVUM_TRY(cavum_stored_scan_aims(&side->aims, side->scan, error));
  cavum_scan_summary_choose_aims(&side->aims, side->scan);
  CAVUM_TRY(cavum_scan_summarise(&side->summary, side->scan, &side->aims, error));
done:
  return status;
}

static void close_side(compared_scan *side) {
  cavum_scan_summary_clear(&side->summary);
  cavum_stored_scan_close(&side->scan);
  cavum_inputs_clear(&side->study);
  cavum_inputs_clear(&side->cell);
  free(side->study_text);
  free(side->cell_text);
}

static cavum_status add_counts(cavum_compare_table *table, const compared_scan *sides,
                               cavum_error *error) {
  for (int code = -1; code < CAVUM_NUM_SHAPE_STATUSES; code++) {
    cavum_compare_cell *row = NULL;
    bool any = code < 0;
    for (int k = 0; k < table->num_values; k++) {
      any = any || sides[k].summary.by_status[code < 0 ? 0 : code] > 0;
    }
    if (!any) continue;
    cavum_status status = cavum_compare_table_add(&row, table, error);
    if (status != CAVUM_OK) return status;
    snprintf(row[0], sizeof row[0], "%s",
             code < 0 ? "shapes" : cavum_shape_status_word((cavum_shape_status)code));
    for (int k = 0; k < table->num_values; k++) {
      const cavum_scan_summary *summary = &sides[k].summary;
      snprintf(row[1 + k], sizeof row[0], "%lld",
               (long long)(code < 0 ? summary->num_rows : summary->by_status[code]));
    }
    cavum_compare_table_join(row, table);
  }
  return CAVUM_OK;
}

// Smallest and largest value of each column of any study.
static cavum_status add_range(cavum_compare_table *table, const compared_scan *sides, int first,
                              int column, cavum_error *error) {
  const char *key = cavum_scan_summary_key(sides[first].scan, column);
  cavum_compare_cell *row = NULL;
  cavum_status status = cavum_compare_table_add(&row, table, error);
  if (status != CAVUM_OK) return status;
  snprintf(row[0], sizeof row[0], "%.90s", key);
  for (int k = 0; k < table->num_values; k++) {
    int at = cavum_stored_scan_find(sides[k].scan, key);
    const cavum_scan_range *range = at < 0 ? NULL : &sides[k].summary.ranges[at];
    snprintf(row[1 + k], sizeof row[0], "-");
    if (!range || range->count == 0) continue;
    snprintf(row[1 + k], sizeof row[0], "%.6g to %.6g", range->low, range->high);
    if (range->low == range->high) snprintf(row[1 + k], sizeof row[0], "%.6g", range->low);
  }
  snprintf(row[1 + table->num_values], sizeof row[0], "%.40s",
           cavum_scan_summary_unit(sides[first].scan, column));
  cavum_compare_table_join(row, table);
  return CAVUM_OK;
}

static bool known_before(const compared_scan *sides, int k, const char *key) {
  for (int i = 0; i < k; i++) {
    if (cavum_stored_scan_find(sides[i].scan, key) >= 0) return true;
  }
  return false;
}

static cavum_status add_ranges(cavum_compare_table *table, const compared_scan *sides,
                               cavum_error *error) {
  for (int k = 0; k < table->num_values; k++) {
    for (int c = 0; c < sides[k].summary.num_columns; c++) {
      const char *key = cavum_scan_summary_key(sides[k].scan, c);
      if (!cavum_scan_summary_is_shown(sides[k].scan, c) || known_before(sides, k, key)) continue;
      if (sides[k].summary.ranges[c].count == 0) continue;
      cavum_status status = add_range(table, sides, k, c, error);
      if (status != CAVUM_OK) return status;
    }
  }
  return CAVUM_OK;
}

// The best value of an aim of a study, with the number of its shape.
static void write_best(cavum_compare_cell cell, const compared_scan *side, const char *key,
                       bool smaller) {
  int column = cavum_stored_scan_find(side->scan, key);
  snprintf(cell, CAVUM_COMPARE_CELL_SIZE, "-");
  for (int a = 0; a < side->aims.count && side->summary.num_best > 0; a++) {
    if (side->aims.columns[a] != column || side->aims.smaller[a] != smaller) continue;
    const cavum_scan_point *best = &side->summary.best[a * side->summary.num_best];
    snprintf(cell, CAVUM_COMPARE_CELL_SIZE, "%.6g (%lld)", best->values[a], (long long)best->shape);
  }
}

static cavum_status add_best(cavum_compare_table *table, const compared_scan *sides,
                             cavum_error *error) {
  for (int k = 0; k < table->num_values; k++) {
    for (int a = 0; a < sides[k].aims.count; a++) {
      const char *key = cavum_scan_summary_key(sides[k].scan, sides[k].aims.columns[a]);
      bool smaller = sides[k].aims.smaller[a], told = false;
      char name[CAVUM_COMPARE_CELL_SIZE];
      snprintf(name, sizeof name, "%s %.80s", smaller ? "smallest" : "largest", key);
      for (int i = 0; i < table->num_rows; i++) {
        told = told || strcmp(table->cells[i * (table->num_values + 2)], name) == 0;
      }
      if (told) continue;
      cavum_compare_cell *row = NULL;
      cavum_status status = cavum_compare_table_add(&row, table, error);
      if (status != CAVUM_OK) return status;
      memcpy(row[0], name, sizeof name);
      for (int m = 0; m < table->num_values; m++) write_best(row[1 + m], &sides[m], key, smaller);
      snprintf(row[1 + table->num_values], sizeof row[0], "%.40s",
               cavum_scan_summary_unit(sides[k].scan, sides[k].aims.columns[a]));
    }
  }
  return CAVUM_OK;
}

// Where all keys agree and the studies do not: a table of shapes or a mesh that they name changed.
static cavum_status add_fingerprint(scan_tables *tables, const compared_scan *sides, int count,
                                    cavum_error *error) {
  enum { DIGITS = 8 };
  bool same = true;
  cavum_compare_cell *row = NULL;
  for (int k = 1; k < count; k++) {
    same = same && strcmp(cavum_stored_scan_fingerprint(sides[k].scan),
                          cavum_stored_scan_fingerprint(sides[0].scan)) == 0;
  }
  if (same || tables->all[0].num_rows > 0 || tables->all[1].num_rows > 0) return CAVUM_OK;
  cavum_status status = cavum_compare_table_add(&row, &tables->all[0], error);
  if (status != CAVUM_OK) return status;
  snprintf(row[0], sizeof row[0], "fingerprint: a file that they name, or the version");
  for (int k = 0; k < count; k++) {
    snprintf(row[1 + k], sizeof row[0], "%.*s", DIGITS,
             cavum_stored_scan_fingerprint(sides[k].scan));
  }
  return CAVUM_OK;
}

static cavum_status fill_tables(scan_tables *tables, const compared_scan *sides, int count,
                                cavum_error *error) {
  static const char *const heads[NUM_TABLES] = {
      "Studies: keys that differ", "Base cells: keys that differ", "Shapes",
      "Ranges of the shapes that are done", "Best value (shape)"};
  cavum_status status = CAVUM_OK;
  cavum_inputs studies[MOST], cells[MOST];
  for (int k = 0; k < count; k++) {
    studies[k] = sides[k].study;
    cells[k] = sides[k].cell;
  }
  for (int i = 0; i < NUM_TABLES; i++) {
    tables->all[i] = (cavum_compare_table){.head = heads[i], .num_values = count};
  }
  CAVUM_TRY(cavum_inputs_add_differences(&tables->all[0], studies, count, error));
  CAVUM_TRY(cavum_inputs_add_differences(&tables->all[1], cells, count, error));
  CAVUM_TRY(add_fingerprint(tables, sides, count, error));
  CAVUM_TRY(add_counts(&tables->all[2], sides, error));
  CAVUM_TRY(add_ranges(&tables->all[3], sides, error));
  CAVUM_TRY(add_best(&tables->all[4], sides, error));
done:
  return status;
}

static void describe(char line[LINE_SIZE], const cavum_compare_scans_arguments *arguments,
                     const compared_scan *sides, int k) {
  char path[304];
  cavum_utf8_cut(path, sizeof path, arguments->paths[k]);
  snprintf(line, LINE_SIZE, "%c  %s: %s", 'A' + k, path, cavum_stored_scan_title(sides[k].scan));
}

static void print_tables(const cavum_compare_scans_arguments *arguments, const compared_scan *sides,
                         const scan_tables *tables) {
  char line[LINE_SIZE];
  for (int k = 0; k < arguments->num_paths; k++) {
    describe(line, arguments, sides, k);
    puts(line);
  }
  for (int i = 0; i < NUM_TABLES; i++) {
    putchar('\n');
    cavum_compare_table_print(stdout, &tables->all[i], "none");
  }
}

static cavum_status write_page(const cavum_compare_scans_arguments *arguments,
                               const compared_scan *sides, const scan_tables *tables,
                               cavum_error *error) {
  static const char *const ids[NUM_TABLES] = {"studies", "cells", "shapes", "ranges", "best"};
  static const char *const captions[NUM_TABLES] = {
      "Keys of the study files", "Keys of the files of the base cells",
      "How many, and their status", "Smallest and largest value",
      "Of the aims of each study, with the number of the shape"};
  static const char *const names[NUM_TABLES] = {"key", "key", "status", "column", "aim"};
  char lines[MOST][LINE_SIZE], *bytes = NULL;
  size_t size = 0;
  cavum_report_results content = {.count = arguments->num_paths, .num_tables = NUM_TABLES};
  for (int k = 0; k < content.count; k++) {
    describe(lines[k], arguments, sides, k);
    content.lines[k] = lines[k];
    content.cell_texts[k] = sides[k].study_text;
  }
  for (int i = 0; i < NUM_TABLES; i++) {
    const cavum_compare_table *table = &tables->all[i];
    content.tables[i] = (cavum_report_table){.id = ids[i],
                                             .head = table->head,
                                             .caption = captions[i],
                                             .names = names[i],
                                             .num_values = table->num_values,
                                             .num_rows = table->num_rows,
                                             .cell_size = CAVUM_COMPARE_CELL_SIZE,
                                             .cells = table->cells ? table->cells[0] : NULL};
  }
  cavum_status status = cavum_report_compared_results(&bytes, &size, &content, error);
  if (status == CAVUM_OK) status = cavum_picture_write(arguments->page_path, bytes, size, error);
  free(bytes);
  return status;
}

// Names and values of the rows of a table; both are released with free().
static cavum_status take_keys(cavum_compared_keys *keys, const cavum_compare_table *table,
                              cavum_error *error) {
  int count = table->num_values, width = count + 2;
  const char **names = cavum_alloc(table->num_rows + 1, sizeof *names);
  const char **values = cavum_alloc((int64_t)table->num_rows * count + 1, sizeof *values);
  *keys = (cavum_compared_keys){table->num_rows, names, values};
  if (!names || !values) return cavum_fail_memory(error);
  for (int i = 0; i < table->num_rows; i++) {
    names[i] = table->cells[i * width];
    for (int k = 0; k < count; k++) values[i * count + k] = table->cells[i * width + 1 + k];
  }
  return CAVUM_OK;
}

static cavum_status write_json(const cavum_compare_scans_arguments *arguments,
                               const compared_scan *sides, const scan_tables *tables,
                               cavum_error *error) {
  const cavum_stored_scan *scans[MOST];
  const cavum_scan_summary *summaries[MOST];
  const cavum_scan_aims *aims[MOST];
  char *text = NULL;
  cavum_status status = CAVUM_OK;
  cavum_compared_scans all = {.count = arguments->num_paths,
                              .paths = arguments->paths,
                              .scans = scans,
                              .summaries = summaries,
                              .aims = aims};
  for (int k = 0; k < all.count; k++) {
    scans[k] = sides[k].scan;
    summaries[k] = &sides[k].summary;
    aims[k] = &sides[k].aims;
  }
  CAVUM_TRY(take_keys(&all.study_keys, &tables->all[0], error));
  CAVUM_TRY(take_keys(&all.cell_keys, &tables->all[1], error));
  CAVUM_TRY(cavum_compared_scans_json_write(&text, &all, error));
  CAVUM_TRY(cavum_store_write_text(arguments->json_path, text, error));
done:
  free(text);
  free((void *)all.study_keys.names);
  free((void *)all.study_keys.values);
  free((void *)all.cell_keys.names);
  free((void *)all.cell_keys.values);
  return status;
}

static cavum_status check_files(const cavum_compare_scans_arguments *arguments,
                                cavum_error *error) {
  cavum_outputs outputs = {.overwrite = arguments->overwrite};
  for (int k = 0; k < arguments->num_paths; k++) cavum_outputs_read(&outputs, arguments->paths[k]);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_REPORT, "-o", arguments->page_path);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_COMPARISON_JSON, "--json", arguments->json_path);
  return cavum_outputs_check(&outputs, error);
}

int cavum_compare_scans(const cavum_compare_scans_arguments *arguments) {
  cavum_error error = {0};
  compared_scan sides[MOST] = {0};
  scan_tables tables = {0};
  int count = arguments->num_paths;
  cavum_status status = check_files(arguments, &error);
  for (int k = 0; k < count && status == CAVUM_OK; k++) {
    status = open_side(&sides[k], arguments->paths[k], &error);
  }
  if (status == CAVUM_OK) status = fill_tables(&tables, sides, count, &error);
  if (status == CAVUM_OK && arguments->page_path) {
    status = write_page(arguments, sides, &tables, &error);
  }
  if (status == CAVUM_OK && arguments->json_path) {
    status = write_json(arguments, sides, &tables, &error);
  }
  bool printed =
      arguments->quiet || (arguments->json_path && strcmp(arguments->json_path, "-") == 0);
  if (status == CAVUM_OK && !printed) print_tables(arguments, sides, &tables);
  for (int i = 0; i < NUM_TABLES; i++) cavum_compare_table_clear(&tables.all[i]);
  for (int k = 0; k < count; k++) close_side(&sides[k]);
  return cavum_process_report(status, &error);
}
