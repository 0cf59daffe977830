// SPDX-License-Identifier: GPL-3.0-or-later
// Tables of the shapes that no other shape beats.
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "cavum/scan_store.h"
#include "report/report_private.h"
#include "store/scan_read.h"

// Rows of a table, and its columns: the shape, figures or aims, dimensions.
enum { MOST_ROWS = 200, MOST_COLUMNS = 1 + CAVUM_SUMMARY_MOST_AIMS + CAVUM_HTML_DIMENSIONS };

int cavum_report_find_inputs(int inputs[CAVUM_HTML_DIMENSIONS], const cavum_stored_scan *scan) {
  int count = 0;
  for (int i = 0; i < cavum_stored_scan_num_columns(scan) && count < CAVUM_HTML_DIMENSIONS; i++) {
    if (cavum_stored_scan_is_input(scan, i)) inputs[count++] = i;
  }
  return count;
}

// Columns of a table that fits across a page of A4; shapes with more numbers stand side by side.
enum { MOST_ACROSS = 8, MOST_ABREAST = 6 };

// A table of shapes before it is written: a name and a number in the cells of each row.
typedef struct shapes_table {
  char names[MOST_COLUMNS][256];
  char (*cells)[MOST_COLUMNS][48];
  int num_columns, num_rows;
} shapes_table;

static void name_column(shapes_table *t, const char *name, const char *more) {
  snprintf(t->names[t->num_columns++], sizeof t->names[0], "%.200s%s", name, more);
}

static void write_number(char *cell, size_t size, double value) {
  char number[24];
  snprintf(number, sizeof number, "%.6g", value);
  cavum_html_beautify(cell, size, number);
}

// The dimensions of a shape, behind its first `at` cells.
static cavum_status fill_inputs(shapes_table *t, int row, int at, const cavum_stored_scan *scan,
                                int64_t shape, int num_inputs, const int *inputs,
                                cavum_error *error) {
  for (int k = 0; k < num_inputs; k++) {
    double value = NAN;
    cavum_status status = cavum_stored_scan_read(&value, scan, inputs[k], shape, 1, error);
    if (status != CAVUM_OK) return status;
    write_number(t->cells[row][at + k], sizeof t->cells[0][0], value);
  }
  return CAVUM_OK;
}

static void write_rows(cavum_html *html, const char *caption, const shapes_table *t) {
  char headings[MOST_COLUMNS][258];
  const char *columns[MOST_COLUMNS], *row[MOST_COLUMNS];
  for (int k = 0; k < t->num_columns; k++) {
    snprintf(headings[k], sizeof headings[0], "%s%s", k > 0 ? "#" : "", t->names[k]);
    columns[k] = headings[k];
  }
  cavum_html_begin_table(html, caption, t->num_columns, columns);
  for (int i = 0; i < t->num_rows; i++) {
    for (int k = 0; k < t->num_columns; k++) row[k] = t->cells[i][k];
    cavum_html_row(html, t->num_columns, row, columns);
  }
  cavum_html_end_table(html);
}

// A column for each shape and a row for each of its numbers: some shapes side by side, then the
// next.
static void write_abreast(cavum_html *html, const char *caption, const shapes_table *t) {
  for (int from = 0; from < t->num_rows; from += MOST_ABREAST) {
    int count = t->num_rows - from < MOST_ABREAST ? t->num_rows - from : MOST_ABREAST;
    char headings[MOST_ABREAST][56], text[320];
    const char *columns[1 + MOST_ABREAST] = {"shape"}, *row[1 + MOST_ABREAST];
    for (int i = 0; i < count; i++) {
      snprintf(headings[i], sizeof headings[0], "#%s", t->cells[from + i][0]);
      columns[i + 1] = headings[i];
    }
    snprintf(text, sizeof text, "%s%s", caption, from > 0 ? ", continued" : "");
    cavum_html_begin_table(html, text, count + 1, columns);
    for (int k = 1; k < t->num_columns; k++) {
      row[0] = t->names[k];
      for (int i = 0; i < count; i++) row[i + 1] = t->cells[from + i][k];
      cavum_html_row(html, count + 1, row, columns);
    }
    cavum_html_end_table(html);
  }
}

static void write_shapes(cavum_html *html, const char *caption, const shapes_table *t) {
  (t->num_columns > MOST_ACROSS ? write_abreast : write_rows)(html, caption, t);
}

static cavum_status write_plotted_front(cavum_html *html, const cavum_scan_view *view,
                                        cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int inputs[CAVUM_HTML_DIMENSIONS], num_inputs = cavum_report_find_inputs(inputs, view->scan);
  shapes_table t = {.num_rows = view->num_front < MOST_ROWS ? view->num_front : MOST_ROWS};
  if (view->num_front == 0) return CAVUM_OK;
  t.cells = cavum_alloc(t.num_rows, sizeof *t.cells);
  if (!t.cells) return cavum_fail_memory(error);
  name_column(&t, "shape", "");
  for (int k = 0; k < 3; k++) name_column(&t, view->axis[k].label, "");
  for (int k = 0; k < num_inputs; k++) {
    char words[CAVUM_REPORT_NAME_SIZE];
    cavum_report_name_dimension(words, cavum_stored_scan_key(view->scan, inputs[k]), true);
    name_column(&t, words, "");
  }
  for (int i = 0; i < t.num_rows; i++) {
    int point = view->front[i];
    int64_t shape = (int64_t)view->shape[point];
    snprintf(t.cells[i][0], sizeof t.cells[0][0], "%lld", (long long)shape);
    for (int k = 0; k < 3; k++) {
      write_number(t.cells[i][k + 1], sizeof t.cells[0][0], view->value[k][point]);
    }
    CAVUM_TRY(fill_inputs(&t, i, 4, view->scan, shape, num_inputs, inputs, error));
  }
  write_shapes(html,
               view->in_three ? "Non-dominated shapes in all three figures of the plot"
                              : "Non-dominated shapes in the two figures of the plot",
               &t);
done:
  free(t.cells);
  return status;
}

static cavum_status fill_aims(shapes_table *t, const cavum_stored_scan *scan,
                              const cavum_scan_aims *aims, const cavum_scan_summary *summary,
                              cavum_error *error) {
  int inputs[CAVUM_HTML_DIMENSIONS], num_inputs = cavum_report_find_inputs(inputs, scan);
  name_column(t, "shape", "");
  for (int k = 0; k < aims->count; k++) {
    name_column(t, cavum_stored_scan_key(scan, aims->columns[k]),
                aims->smaller[k] ? ", smaller" : ", larger");
  }
  for (int k = 0; k < num_inputs; k++) {
    char words[CAVUM_REPORT_NAME_SIZE];
    cavum_report_name_dimension(words, cavum_stored_scan_key(scan, inputs[k]), true);
    name_column(t, words, "");
  }
  for (int i = 0; i < t->num_rows; i++) {
    const cavum_scan_point *point = &summary->front[i];
    snprintf(t->cells[i][0], sizeof t->cells[0][0], "%lld", (long long)point->shape);
    for (int k = 0; k < aims->count; k++) {
      write_number(t->cells[i][k + 1], sizeof t->cells[0][0], point->values[k]);
    }
    cavum_status status =
        fill_inputs(t, i, 1 + aims->count, scan, point->shape, num_inputs, inputs, error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

// The front in all aims of a study that states more than those of the plot.
static cavum_status write_aims_front(cavum_html *html, const cavum_scan_view *view,
                                     cavum_error *error) {
  const cavum_stored_scan *scan = view->scan;
  cavum_status status = CAVUM_OK;
  cavum_scan_summary summary = {0};
  cavum_scan_aims aims = cavum_scan_aims_default();
  shapes_table t = {.cells = NULL};
  char caption[160];
  CAVUM_TRY(cavum_stored_scan_aims(&aims, scan, error));
  if (aims.count <= (view->in_three ? 3 : 2)) return CAVUM_OK;
  CAVUM_TRY(cavum_scan_summarise(&summary, scan, &aims, error));
  t.num_rows = summary.num_front < MOST_ROWS ? (int)summary.num_front : MOST_ROWS;
  t.cells = cavum_alloc(t.num_rows + 1, sizeof *t.cells);
  if (!t.cells) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(fill_aims(&t, scan, &aims, &summary, error));
  snprintf(caption, sizeof caption, "Non-dominated shapes in all %d aims of the study: %lld%s",
           aims.count, (long long)summary.num_front,
           summary.num_front > MOST_ROWS ? ", the first 200 of them" : "");
  write_shapes(html, caption, &t);
done:
  free(t.cells);
  cavum_scan_summary_clear(&summary);
  return status;
}

cavum_status cavum_report_write_fronts(cavum_html *html, const cavum_scan_view *view,
                                       cavum_error *error) {
  cavum_html_heading(html, 2, "front", "Non-dominated shapes");
  cavum_html_paragraph(html, "",
                       "Shapes have numbers: cavum scan --shape N RESULT.hdf -o CELL.yaml writes "
                       "the cell file of shape N.");
  char *note = NULL;
  cavum_status status = cavum_stored_scan_front_note(&note, view->scan, error);
  if (status == CAVUM_OK && note[0]) cavum_html_paragraph(html, "", note);
  free(note);
  if (status == CAVUM_OK) status = write_plotted_front(html, view, error);
  return status == CAVUM_OK ? write_aims_front(html, view, error) : status;
}
