// SPDX-License-Identifier: GPL-3.0-or-later
// Tables of the shapes that no other shape beats.
#include <string.h>

#include "base/base.h"
#include "cavum/scan_store.h"
#include "report/report_private.h"

// Rows of a table, and its columns: the shape, figures or aims, dimensions.
enum { MOST_ROWS = 200, MOST_COLUMNS = 1 + CAVUM_SUMMARY_MOST_AIMS + CAVUM_HTML_DIMENSIONS };

// Columns of inputs: those whose names have a section in front, as in the cell file. Figures of
// other modes have their mode there.
int cavum_report_find_inputs(int inputs[CAVUM_HTML_DIMENSIONS], const cavum_stored_scan *scan) {
  int count = 0;
  for (int i = 0; i < cavum_stored_scan_num_columns(scan) && count < CAVUM_HTML_DIMENSIONS; i++) {
    const char *key = cavum_stored_scan_key(scan, i);
    if (strchr(key, '.') && strncmp(key, "modes[", strlen("modes[")) != 0) inputs[count++] = i;
  }
  return count;
}

static cavum_status write_front_row(cavum_html *html, const cavum_scan_view *view, int point,
                                    int num_inputs, const int *inputs, const char *const *columns,
                                    cavum_error *error) {
  char cells[MOST_COLUMNS][24];
  const char *row[MOST_COLUMNS];
  snprintf(cells[0], 24, "%.0f", view->shape[point]);
  for (int k = 0; k < 3; k++) snprintf(cells[k + 1], 24, "%.6g", view->value[k][point]);
  for (int k = 0; k < num_inputs; k++) {
    double value = NAN;
    cavum_status status = cavum_stored_scan_read(&value, view->scan, inputs[k],
                                                 (int64_t)view->shape[point], 1, error);
    if (status != CAVUM_OK) return status;
    snprintf(cells[k + 4], 24, "%.6g", value);
  }
  for (int k = 0; k < num_inputs + 4; k++) row[k] = cells[k];
  cavum_html_row(html, num_inputs + 4, row, columns);
  return CAVUM_OK;
}

static cavum_status write_plotted_front(cavum_html *html, const cavum_scan_view *view,
                                        cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int inputs[CAVUM_HTML_DIMENSIONS], num_inputs = cavum_report_find_inputs(inputs, view->scan);
  char names[MOST_COLUMNS][256];
  const char *columns[MOST_COLUMNS];
  if (view->num_front == 0) return CAVUM_OK;
  snprintf(names[0], sizeof names[0], "shape");
  for (int k = 0; k < 3; k++) snprintf(names[k + 1], sizeof names[0], "#%s", view->axis[k].label);
  for (int k = 0; k < num_inputs; k++) {
    snprintf(names[k + 4], sizeof names[0], "#%.200s",
             cavum_stored_scan_key(view->scan, inputs[k]));
  }
  for (int k = 0; k < num_inputs + 4; k++) columns[k] = names[k];
  cavum_html_begin_table(html, "Non-dominated shapes in the two figures of the plot",
                         num_inputs + 4, columns);
  for (int k = 0; k < view->num_front && k < MOST_ROWS; k++) {
    CAVUM_TRY(write_front_row(html, view, view->front[k], num_inputs, inputs, columns, error));
  }
  cavum_html_end_table(html);
done:
  return status;
}

static cavum_status write_point_row(cavum_html *html, const cavum_stored_scan *scan,
                                    const cavum_scan_point *point, int num_aims, int num_inputs,
                                    const int *inputs, const char *const *columns,
                                    cavum_error *error) {
  char cells[MOST_COLUMNS][24];
  const char *row[MOST_COLUMNS];
  int n = 0;
  snprintf(cells[n++], 24, "%lld", (long long)point->shape);
  for (int k = 0; k < num_aims; k++) snprintf(cells[n++], 24, "%.6g", point->values[k]);
  for (int k = 0; k < num_inputs; k++) {
    double value = NAN;
    cavum_status status = cavum_stored_scan_read(&value, scan, inputs[k], point->shape, 1, error);
    if (status != CAVUM_OK) return status;
    snprintf(cells[n++], 24, "%.6g", value);
  }
  for (int k = 0; k < n; k++) row[k] = cells[k];
  cavum_html_row(html, n, row, columns);
  return CAVUM_OK;
}

// The front in all aims of a study that states more than the two of the plot.
static cavum_status write_aims_front(cavum_html *html, const cavum_stored_scan *scan,
                                     cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_scan_summary summary = {0};
  cavum_scan_aims aims = {.count = 0};
  int inputs[CAVUM_HTML_DIMENSIONS], num_inputs = cavum_report_find_inputs(inputs, scan), n = 0;
  char names[MOST_COLUMNS][256], caption[160];
  const char *columns[MOST_COLUMNS];
  CAVUM_TRY(cavum_stored_scan_aims(&aims, scan, error));
  if (aims.count <= 2) return CAVUM_OK;
  CAVUM_TRY(cavum_scan_summarise(&summary, scan, &aims, error));
  snprintf(names[n++], sizeof names[0], "shape");
  for (int k = 0; k < aims.count; k++) {
    snprintf(names[n++], sizeof names[0], "#%.200s, %s",
             cavum_stored_scan_key(scan, aims.columns[k]), aims.smaller[k] ? "smaller" : "larger");
  }
  for (int k = 0; k < num_inputs; k++) {
    snprintf(names[n++], sizeof names[0], "#%.200s", cavum_stored_scan_key(scan, inputs[k]));
  }
  for (int k = 0; k < n; k++) columns[k] = names[k];
  snprintf(caption, sizeof caption, "Non-dominated shapes in all %d aims of the study: %lld%s",
           aims.count, (long long)summary.num_front,
           summary.num_front > MOST_ROWS ? ", the first 200 of them" : "");
  cavum_html_begin_table(html, caption, n, columns);
  for (int64_t k = 0; k < summary.num_front && k < MOST_ROWS; k++) {
    CAVUM_TRY(write_point_row(html, scan, &summary.front[k], aims.count, num_inputs, inputs,
                              columns, error));
  }
  cavum_html_end_table(html);
done:
  cavum_scan_summary_clear(&summary);
  return status;
}

cavum_status cavum_report_write_fronts(cavum_html *html, const cavum_scan_view *view,
                                       cavum_error *error) {
  cavum_html_heading(html, 2, "front", "Non-dominated shapes");
  cavum_html_paragraph(html, "",
                       "Shapes have numbers: cavum scan --shape N RESULT.hdf -o CELL.yaml writes "
                       "the cell file of shape N.");
  cavum_status status = write_plotted_front(html, view, error);
  return status == CAVUM_OK ? write_aims_front(html, view->scan, error) : status;
}
