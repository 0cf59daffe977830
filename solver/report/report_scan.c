// SPDX-License-Identifier: GPL-3.0-or-later
// The report of a scan: how many shapes, the cloud of two figures, the shapes that no other beats.
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "canvas/colour.h"
#include "canvas/ticks.h"
#include "cavum/requirement.h"
#include "picture/scan_draw.h"
#include "report/html.h"
#include "report/report_private.h"
#include "store/coldtest_load.h"
#include "store/scan_mode.h"

static void write_statuses(cavum_html *html, const cavum_scan_view *view) {
  static const char *const columns[] = {"status", "#shapes", "meaning"};
  cavum_html_heading(html, 2, "shapes", "Shapes");
  cavum_html_begin_table(html, "Status of the shapes", 3, columns);
  for (int i = 0; i < CAVUM_NUM_SHAPE_STATUSES; i++) {
    char count[32];
    if (view->by_status[i] == 0) continue;
    snprintf(count, sizeof count, "%lld", (long long)view->by_status[i]);
    const char *row[] = {cavum_shape_status_word((cavum_shape_status)i), count,
                         cavum_shape_status_text((cavum_shape_status)i)};
    cavum_html_row(html, 3, row, columns);
  }
  cavum_html_end_table(html);
}

static void begin_requirements(cavum_html *html, const cavum_stored_scan *scan,
                               const char *const columns[5]) {
  char caption[CAVUM_SCAN_MODE_TEXT_SIZE + 96], mode[CAVUM_SCAN_MODE_TEXT_SIZE];
  snprintf(caption, sizeof caption,
           "How many of the shapes that are done meet what the base cell requires%s",
           cavum_stored_scan_mode_text(mode, scan, ", by the figures of "));
  cavum_html_begin_table(html, caption, 5, columns);
}

// As a requirement of its cell is named; that of a figure of the shape goes by its key.
static void name_key(char name[CAVUM_REPORT_NAME_SIZE], const char *key) {
  cavum_requirement r = {.kind = CAVUM_REQUIRE_WALL_ANGLE};
  snprintf(r.key, sizeof r.key, "%s", key);
  if (strcmp(key, "k_cc") == 0) r.kind = CAVUM_REQUIRE_K_CC;
  if (cavum_figure_find(&r.figure, &r.unit_si, key, NULL) == CAVUM_OK) {
    r.kind = CAVUM_REQUIRE_FIGURE;
  }
  cavum_report_name_requirement(name, &r);
}

// How many of the shapes that are done meet what the base cell requires.
static cavum_status write_requirements(cavum_html *html, const cavum_stored_scan *scan,
                                       cavum_error *error) {
  static const char *const columns[] = {"requirement", "#met", "#missed", "#undecided",
                                        "#not known"};
  static const cavum_verdict_kind kinds[] = {CAVUM_VERDICT_MET, CAVUM_VERDICT_MISSED,
                                             CAVUM_VERDICT_UNDECIDED, CAVUM_VERDICT_ABSENT};
  bool begun = false;
  for (int i = 0; i < cavum_stored_scan_num_columns(scan); i++) {
    int64_t counts[CAVUM_NUM_VERDICTS];
    char text[CAVUM_NUM_VERDICTS][32];
    const char *key = cavum_stored_scan_requirement(scan, i);
    if (!key) continue;
    cavum_status status = cavum_stored_scan_count_verdicts(counts, scan, i, NULL, error);
    if (status != CAVUM_OK) return status;
    if (!begun) {
      cavum_html_heading(html, 2, "requirements", "Requirements");
      begin_requirements(html, scan, columns);
    }
    begun = true;
    char name[CAVUM_REPORT_NAME_SIZE];
    name_key(name, key);
    const char *row[5] = {name};
    for (int k = 0; k < CAVUM_NUM_VERDICTS; k++) {
      snprintf(text[k], sizeof text[k], "%lld", (long long)counts[kinds[k]]);
      row[1 + k] = text[k];
    }
    cavum_html_row(html, 5, row, columns);
  }
  if (begun) cavum_html_end_table(html);
  return CAVUM_OK;
}

// Indices of the points by rising x.
typedef struct ordered_point {
  double x;
  int point;
} ordered_point;

static int compare_x(const void *left, const void *right) {
  const ordered_point *a = left, *b = right;
  if (a->x != b->x) return a->x < b->x ? -1 : 1;
  return (a->point > b->point) - (a->point < b->point);
}

// Colours of points on light and on dark pages: the part of a palette that stands out from the
// page.
typedef struct page_colours {
  uint32_t palette[2][256];
} page_colours;

static void choose_colours(page_colours *colours, const uint32_t *palette) {
  for (int dark = 0; dark < 2; dark++) {
    cavum_scan_view_stand_out(colours->palette[dark], palette, dark != 0);
  }
}

// What a cloud is made from, by rising x.
typedef struct cloud_data {
  ordered_point *order;   // Owned, shape [count].
  double *sorted;         // Owned, shape [4, count]: x, y, colour, number of the shape.
  unsigned char *marked;  // Owned, shape [count].
  double *dimensions;     // Owned, shape [num_dimensions, count].
  double *column;         // Owned, shape [num_rows]: one column of the file.
  int inputs[CAVUM_HTML_DIMENSIONS], num_inputs;
} cloud_data;

static void clear_cloud(cloud_data *cloud) {
  free(cloud->order);
  free(cloud->sorted);
  free(cloud->marked);
  free(cloud->dimensions);
  free(cloud->column);
}

static void order_points(cloud_data *cloud, const cavum_scan_view *view) {
  int n = view->num_points;
  unsigned char *flags = cloud->marked;
  for (int i = 0; i < n; i++) cloud->order[i] = (ordered_point){view->value[0][i], i};
  qsort(cloud->order, (size_t)n, sizeof *cloud->order, compare_x);
  for (int i = 0; i < n; i++) {
    int point = cloud->order[i].point;
    for (int k = 0; k < 3; k++) {
      cloud->sorted[(size_t)k * (size_t)n + (size_t)i] = view->value[k][point];
    }
    cloud->sorted[3 * (size_t)n + (size_t)i] = view->shape[point];
    for (int k = 0; k < view->num_front; k++) flags[i] |= view->front[k] == point;
  }
}

static cavum_status read_dimensions(cloud_data *cloud, const cavum_scan_view *view,
                                    cavum_error *error) {
  size_t n = (size_t)view->num_points;
  for (int k = 0; k < cloud->num_inputs; k++) {
    cavum_status status = cavum_stored_scan_read(cloud->column, view->scan, cloud->inputs[k], 0,
                                                 view->num_rows, error);
    if (status != CAVUM_OK) return status;
    for (size_t i = 0; i < n; i++) {
      size_t row = (size_t)cloud->sorted[3 * n + i];
      cloud->dimensions[(size_t)k * n + i] = cloud->column[row];
    }
  }
  return CAVUM_OK;
}

static cavum_status collect_cloud(cloud_data *cloud, const cavum_scan_view *view,
                                  cavum_error *error) {
  int n = view->num_points;
  cloud->num_inputs = cavum_report_find_inputs(cloud->inputs, view->scan);
  cloud->order = cavum_alloc(n, sizeof *cloud->order);
  cloud->sorted = cavum_alloc(n, 4 * sizeof *cloud->sorted);
  cloud->marked = cavum_alloc(n, 1);
  cloud->dimensions = cavum_alloc((int64_t)n * cloud->num_inputs, sizeof *cloud->dimensions);
  cloud->column = cavum_alloc(view->num_rows, sizeof *cloud->column);
  if (!cloud->order || !cloud->sorted || !cloud->marked || !cloud->dimensions || !cloud->column) {
    return cavum_fail_memory(error);
  }
  order_points(cloud, view);
  return read_dimensions(cloud, view, error);
}

static cavum_status write_cloud(cavum_html *html, const cavum_scan_view *view, const char *still,
                                const page_colours *colours, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cloud_data data = {0};
  size_t n = (size_t)view->num_points;
  char caption[480];
  CAVUM_TRY(collect_cloud(&data, view, error));
  const char *better[3];
  for (int k = 0; k < 3; k++) better[k] = view->axis[k].smaller ? "smaller" : "larger";
  if (view->in_three) {
    snprintf(caption, sizeof caption,
             "All shapes that are done. Rings: no other shape is better in all three (%s is better "
             "in x, %s in y, %s in colour).",
             better[0], better[1], better[2]);
  } else {
    snprintf(caption, sizeof caption,
             "All shapes that are done. Rings, joined by a line: no other shape is better in both "
             "(%s is better in x, %s in y).",
             better[0], better[1]);
  }
  char beyond[CAVUM_SCAN_BEYOND_SIZE];
  cavum_scan_view_write_beyond(beyond, view);
  if (beyond[0]) {
    size_t used = strlen(caption);
    snprintf(caption + used, sizeof caption - used, " %s.", beyond);
  }
  const cavum_html_plot plot = {.x_label = view->axis[0].label,
                                .x_name = view->axis[0].name,
                                .x_unit = view->axis[0].unit,
                                .y_label = view->axis[1].label,
                                .still = still,
                                .caption = caption};
  cavum_html_cloud cloud = {.count = view->num_points,
                            .x = data.sorted,
                            .y = data.sorted + n,
                            .colour = data.sorted + 2 * n,
                            .shape = data.sorted + 3 * n,
                            .marked = data.marked,
                            .steps_before = !view->axis[0].smaller,
                            .no_steps = view->in_three,
                            .num_dimensions = data.num_inputs,
                            .colour_name = view->axis[2].name,
                            .colour_unit = view->axis[2].unit,
                            .y_name = view->axis[1].name,
                            .y_unit = view->axis[1].unit,
                            .low = view->axis[2].low,
                            .high = view->axis[2].high,
                            .palettes = {colours->palette[0], colours->palette[1]}};
  for (int k = 0; k < data.num_inputs; k++) {
    cloud.dimension_key[k] = cavum_stored_scan_key(view->scan, data.inputs[k]);
    cloud.dimension[k] = data.dimensions + (size_t)k * n;
  }
  cavum_html_write_cloud(html, &plot, &cloud);
done:
  clear_cloud(&data);
  return status;
}

static cavum_status write_text(cavum_html *html, const char *path, const char *object,
                               const char *id, const char *heading, cavum_error *error) {
  char *text = NULL;
  cavum_status status = cavum_stored_read_text(&text, path, object, error);
  if (status == CAVUM_OK && text[0]) {
    cavum_html_heading(html, 3, id, heading);
    cavum_html_code(html, text);
  }
  free(text);
  return status;
}

static cavum_status write_foot(cavum_html *html, const char *path, const cavum_stored_scan *scan,
                               bool is_front, cavum_error *error) {
  static const char *const columns[] = {"what", "value"};
  cavum_status status = CAVUM_OK;
  char *version = NULL;
  cavum_html_heading(html, 2, "input", "Input");
  CAVUM_TRY(write_text(
      html, path, "/input/study_file", "study",
      is_front ? "The points as a study, which the search wrote from the goal" : "The study file",
      error));
  CAVUM_TRY(write_text(html, path, "/input/cell_file", "cell", "The base cell", error));
  CAVUM_TRY(cavum_stored_read_text(&version, path, "/input/cavum_version", error));
  cavum_html_heading(html, 2, "provenance", "Provenance");
  cavum_html_begin_table(html, "Where this comes from", 2, columns);
  const char *rows[][2] = {{"computed with cavum", version},
                           {"reported with cavum", cavum_version()},
                           {"fingerprint of the study", cavum_stored_scan_fingerprint(scan)}};
  for (int i = 0; i < 3; i++) cavum_html_row(html, 2, rows[i], columns);
  cavum_html_end_table(html);
done:
  free(version);
  return status;
}

// Whether the shapes are the best ones of a search, one for each limit.
static cavum_status find_front(bool *is_front, const cavum_stored_scan *scan, cavum_error *error) {
  char *note = NULL;
  cavum_status status = cavum_stored_scan_front_note(&note, scan, error);
  *is_front = status == CAVUM_OK && note[0] != '\0';
  free(note);
  return status;
}

static bool has_requirements(const cavum_stored_scan *scan) {
  for (int i = 0; i < cavum_stored_scan_num_columns(scan); i++) {
    if (cavum_stored_scan_requirement(scan, i)) return true;
  }
  return false;
}

static void write_head(cavum_html *html, const cavum_scan_view *view, bool is_front) {
  const char *title = cavum_stored_scan_title(view->scan);
  char mode[CAVUM_SCAN_MODE_TEXT_SIZE];
  fputs("<header><h1>", html->out);
  cavum_markup_write(html->out, title[0] ? title : "Scan");
  fprintf(
      html->out,
      "</h1>\n<p class=\"lead\">%s%lld %s%s.</p>\n<nav aria-label=\"Contents\"><ul>"
      "<li><a href=\"#cloud\">Figures</a></li><li><a href=\"#shapes\">Shapes</a></li>%s"
      "<li><a href=\"#front\">Non-dominated</a></li><li><a href=\"#input\">Input</a></li>"
      "<li><a href=\"#provenance\">Provenance</a></li></ul></nav></header>\n",
      is_front ? "Front of best shapes, each the best within its limit: " : "Scan of ",
      (long long)view->num_rows,
      is_front ? view->num_rows == 1 ? "point" : "points" : "cell shapes",
      cavum_stored_scan_mode_text(mode, view->scan, ": figures are those of "),
      has_requirements(view->scan) ? "<li><a href=\"#requirements\">Requirements</a></li>" : "");
}

cavum_status cavum_report_scan_file(char **bytes, size_t *size, const char *path,
                                    cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_stored_scan *scan = NULL;
  cavum_scan_view view = {0};
  cavum_html html = {0};
  char *still = NULL;
  size_t still_size = 0;
  bool is_front = false;
  const cavum_draw_request request = {.view = CAVUM_VIEW_SCATTER,
                                      .kind = CAVUM_CANVAS_SVG_FRAGMENT,
                                      .size = CAVUM_SIZE_TWO_COLUMNS,
                                      .section_height = CAVUM_REPORT_SECTION_HEIGHT,
                                      .image_scale = 2.0,
                                      .no_heading = true,
                                      .prefix = "cloud"};
  CAVUM_TRY(cavum_stored_scan_open(&scan, path, error));
  CAVUM_TRY(cavum_scan_view_create(&view, scan, NULL, error));
  CAVUM_TRY(find_front(&is_front, scan, error));
  page_colours colours;
  choose_colours(&colours, view.palette);
  memcpy(view.palette, colours.palette[0], sizeof view.palette);  // Paper is light.
  CAVUM_TRY(cavum_scan_view_draw(&still, &still_size, &view, &request, error));
  const char *title = cavum_stored_scan_title(scan);
  CAVUM_TRY(cavum_html_create(&html, title[0] ? title : "Scan", error));
  write_head(&html, &view, is_front);
  cavum_html_heading(&html, 2, "cloud", "Two figures, coloured by a third");
  CAVUM_TRY(write_cloud(&html, &view, still, &colours, error));
  write_statuses(&html, &view);
  CAVUM_TRY(write_requirements(&html, scan, error));
  CAVUM_TRY(cavum_report_write_fronts(&html, &view, error));
  CAVUM_TRY(write_foot(&html, path, scan, is_front, error));
  CAVUM_TRY(cavum_html_finish(bytes, size, &html, error));
done:
  free(still);
  cavum_html_clear(&html);
  cavum_scan_view_clear(&view);
  cavum_stored_scan_close(&scan);
  return status;
}
