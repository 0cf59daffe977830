// SPDX-License-Identifier: GPL-3.0-or-later
// Collects the points of a scan's picture.
#include "picture/scan_view.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "canvas/colour.h"
#include "canvas/ink.h"
#include "canvas/quantile.h"
#include "canvas/ticks.h"
#include "cavum/geometry.h"
#include "figures/figure_key.h"
#include "figures/stored_figure.h"
#include "format/key_words.h"
#include "format/quantity.h"
#include "picture/unit_letters.h"
#include "scan/non_dominated.h"
#include "store/scan_nearest.h"

// Light end of the colours: points must stand out from white paper.
enum { FIRST_COLOUR = 55 };
// Least contrast of what is no text, by the Web Content Accessibility Guidelines 2.2, 1.4.11.
static const double LEAST_CONTRAST = 3.0;

void cavum_scan_view_stand_out(uint32_t chosen[256], const uint32_t palette[256], bool dark) {
  uint32_t page = cavum_ink_colour(CAVUM_INK_PAPER, dark);
  int first = 0, last = 255;
  while (first < last && cavum_colour_contrast(palette[first], page) < LEAST_CONTRAST) first++;
  while (last > first && cavum_colour_contrast(palette[last], page) < LEAST_CONTRAST) last--;
  for (int i = 0; i < 256; i++) chosen[i] = palette[first + (last - first) * i / 255];
}
// What differs by no more is one value, as a frequency that all shapes were tuned to, and has this
// share of it on either side.
static const double SAME_SHARE = 1e-7, CONSTANT_MARGIN = 0.05;
// Columns to choose one of for each of the three.
enum { CHOICES = 4 };
// Share of the shapes at either end that may lie beyond the colour scale.
static const double TAIL_SHARE = 0.005;

// The column for one of the three: the one asked for, an aim of the study, or of a list the one of
// a rank among those that exist; -1: none.
static int choose_column(const cavum_stored_scan *scan, const char *asked, int which,
                         const cavum_scan_aims *aims, int rank) {
  static const char *const wanted[3][CHOICES] = {
      {"epk_over_eacc", "r_over_q_linac_ohm", "frequency_Hz", "shape"},
      {"bpk_over_eacc_mT_per_MV_per_m", "geometry_factor_ohm", "frequency_Hz", "shape"},
      {"g_times_r_over_q_linac_ohm2", "r_over_q_linac_ohm", "geometry_factor_ohm", "frequency_Hz"}};
  if (asked) return rank == 0 ? cavum_stored_scan_find(scan, asked) : -1;
  if (which < aims->count) return rank == 0 ? aims->columns[which] : -1;
  for (int i = 0; i < CHOICES; i++) {
    int found = cavum_stored_scan_find(scan, wanted[which][i]);
    if (found >= 0 && rank-- == 0) return found;
  }
  return -1;
}

static const char PER[] = "_per_";

// A dimension, or a figure of the shape.
static void name_dimension(cavum_scan_axis *axis) {
  cavum_key_words(axis->name, sizeof axis->name, axis->key);
  for (int i = 0; i < CAVUM_NUM_GEOMETRY_FIGURES; i++) {
    cavum_geometry_info d = cavum_geometry_describe((cavum_geometry_id)i);
    if (strcmp(d.key, axis->key) == 0) snprintf(axis->name, sizeof axis->name, "%s", d.long_name);
  }
  if (strcmp(axis->key, "k_cc") == 0) snprintf(axis->name, sizeof axis->name, "k_{cc}");
}

// Names of figures are plain letters: a product gets its sign.
static void write_times(char *to, size_t size, const char *name) {
  const char *times = strstr(name, " x ");
  if (times) {
    snprintf(to, size, "%.*s\xc2\xa0\xc3\x97\xc2\xa0%s", (int)(times - name), name, times + 3);
  } else {
    snprintf(to, size, "%s", name);
  }
}

// From values as they are stored to those of a unit that is shown.
static cavum_unit conversion_of(cavum_figure_id figure, const cavum_quantity_unit *shown) {
  bool as_stored = shown->conversion == cavum_stored_figure_unit(figure);
  return as_stored ? CAVUM_UNIT_SI : shown->conversion;
}

// A derivative, FIGURE_per_NUMBER: keys of figures may have the same word in them.
static bool describe_derivative(cavum_scan_axis *axis) {
  for (const char *per = strstr(axis->key, PER); per; per = strstr(per + 1, PER)) {
    char figure_key[CAVUM_CELL_KEY_SIZE], words[96];
    const char *number = per + strlen(PER);
    snprintf(figure_key, sizeof figure_key, "%.*s", (int)(per - axis->key), axis->key);
    cavum_figure_id id = cavum_figure_of_key(NULL, figure_key);
    if (id == CAVUM_NUM_FIGURES) continue;
    cavum_quantity_unit shown = cavum_quantity_unit_of(id, 1.0);
    cavum_unit by = cavum_unit_of_key(number);
    axis->conversion = conversion_of(id, &shown);
    axis->has_indices = true;
    cavum_key_words(words, sizeof words, number);
    snprintf(axis->name, sizeof axis->name, "%s by %s", cavum_figure_describe(id).long_name, words);
    cavum_unit_letters(axis->unit, shown.name);
    size_t used = strlen(axis->unit);
    if (by != CAVUM_UNIT_SI) {
      snprintf(axis->unit + used, sizeof axis->unit - used, "%s/%s", used > 0 ? "" : "1",
               cavum_unit_symbol(by));
    }
    return true;
  }
  return false;
}

static void describe_axis(cavum_scan_axis *axis, const cavum_stored_scan *scan, int column) {
  int mode = -1;
  axis->key = cavum_stored_scan_key(scan, column);
  axis->conversion = CAVUM_UNIT_SI;
  cavum_figure_id figure = cavum_figure_of_key(&mode, axis->key);
  axis->has_indices = axis->is_figure = axis->has_better = figure != CAVUM_NUM_FIGURES;
  name_dimension(axis);
  cavum_unit_letters(axis->unit, cavum_stored_scan_unit(scan, column));
  if (!axis->is_figure && describe_derivative(axis)) {
    // Named.
  } else if (axis->is_figure) {
    cavum_quantity_unit shown = cavum_quantity_unit_of(figure, 1.0);
    axis->conversion = conversion_of(figure, &shown);
    axis->smaller = cavum_scan_smaller_is_better(axis->key);
    const char *long_name = cavum_figure_describe(figure).long_name;
    write_times(axis->name, sizeof axis->name, long_name);
    if (mode >= 0) {
      size_t used = strlen(axis->name);
      snprintf(axis->name + used, sizeof axis->name - used, " of mode %d", mode + 1);
    }
    cavum_unit_letters(axis->unit, shown.name);
  }
  snprintf(axis->label, sizeof axis->label, "%.150s%s%s", axis->name, axis->unit[0] ? " in " : "",
           axis->unit);
}

// What the study says is better goes before what is better as a rule. An aim need be no figure.
static void take_direction(cavum_scan_axis *axis, const cavum_scan_aims *aims, int column) {
  for (int i = 0; i < aims->count; i++) {
    if (aims->columns[i] != column) continue;
    axis->smaller = aims->smaller[i];
    axis->has_better = true;
  }
}

static cavum_status read_column(double *values, const cavum_stored_scan *scan, int column,
                                cavum_unit conversion, cavum_error *error) {
  int64_t rows = cavum_stored_scan_num_rows(scan);
  cavum_status status = cavum_stored_scan_read(values, scan, column, 0, rows, error);
  for (int64_t i = 0; status == CAVUM_OK && i < rows; i++) {
    values[i] = cavum_in_unit(values[i], conversion);
  }
  return status;
}

// Keeps the rows that are done and have all three values.
static void keep_good_rows(cavum_scan_view *view, const double *statuses) {
  int n = 0;
  for (int64_t i = 0; i < view->num_rows; i++) {
    int code = cavum_whole_int(statuses[i], -1);
    if (code >= 0 && code < CAVUM_NUM_SHAPE_STATUSES) view->by_status[code]++;
    bool good = code == CAVUM_SHAPE_DONE;
    for (int k = 0; k < 3; k++) good = good && isfinite(view->value[k][i]);
    if (!good) continue;
    for (int k = 0; k < 3; k++) view->value[k][n] = view->value[k][i];
    view->shape[n++] = (double)i;
  }
  view->num_points = n;
}

void cavum_scan_axis_open(cavum_scan_axis *axis) {
  if (axis->high - axis->low > SAME_SHARE * fabs(axis->low)) return;
  double middle = 0.5 * (axis->low + axis->high);
  axis->low = axis->high = middle;
  cavum_ticks_widen(&axis->low, &axis->high, CONSTANT_MARGIN);
}

static cavum_status find_ranges(cavum_scan_view *view, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  for (int k = 0; k < 3; k++) {
    // Of few shapes none is rare.
    bool many = view->num_points * TAIL_SHARE >= 1.0;
    double tail = k == 2 && many ? TAIL_SHARE : 0.0;
    cavum_scan_axis *axis = &view->axis[k];
    CAVUM_TRY(cavum_quantile_find(&axis->low, view->value[k], NULL, view->num_points,
                                  cavum_max(tail, 1e-12), error));
    CAVUM_TRY(cavum_quantile_find(&axis->high, view->value[k], NULL, view->num_points, 1.0 - tail,
                                  error));
    cavum_scan_axis_open(axis);
  }
  for (int i = 0; i < view->num_points; i++) {
    double colour = view->value[2][i];
    view->num_beyond += colour < view->axis[2].low || colour > view->axis[2].high;
  }
done:
  return status;
}

void cavum_scan_view_write_beyond(char text[CAVUM_SCAN_BEYOND_SIZE], const cavum_scan_view *view) {
  text[0] = '\0';
  if (view->num_beyond == 0) return;
  snprintf(text, CAVUM_SCAN_BEYOND_SIZE,
           "%d shape%s beyond the ends of the colours %s the colour of that end", view->num_beyond,
           view->num_beyond == 1 ? "" : "s", view->num_beyond == 1 ? "has" : "have");
}

typedef struct front_candidate {
  double x, y;
  int point;
} front_candidate;

static int compare_candidates(const void *left, const void *right) {
  const front_candidate *a = left, *b = right;
  if (a->x != b->x) return a->x < b->x ? -1 : 1;
  return (a->y > b->y) - (a->y < b->y);
}

// Whether the study aims at all that is shown: its best shapes are a front in three then, of which
// two show a cloud.
static bool are_aims(const cavum_scan_aims *aims, const int columns[3]) {
  int found[3] = {-1, -1, -1};
  for (int k = 0; k < 3; k++) {
    for (int i = 0; i < aims->count; i++) {
      if (aims->columns[i] == columns[k]) found[k] = i;
    }
  }
  return found[0] >= 0 && found[1] >= 0 && found[2] >= 0 && found[0] != found[1] &&
         found[0] != found[2] && found[1] != found[2];
}

// Points that no other beats in two or three values, by the first. Signs make the smaller value the
// better one.
static cavum_status find_front(cavum_scan_view *view, cavum_error *error) {
  int n = view->num_points, m = view->in_three ? 3 : 2, num_marked = 0;
  cavum_status status = CAVUM_OK;
  if (!view->axis[0].has_better || !view->axis[1].has_better) return CAVUM_OK;
  front_candidate *sorted = cavum_alloc(n, sizeof *sorted);
  double *values = cavum_alloc((int64_t)n * m, sizeof *values);
  bool *marks = cavum_alloc(n, sizeof *marks);
  view->front = cavum_alloc(n, sizeof *view->front);
  if (!sorted || !values || !marks || !view->front) CAVUM_TRY(cavum_fail_memory(error));
  for (int64_t i = 0; i < n; i++) {
    for (int k = 0; k < m; k++) {
      values[i * m + k] = (view->axis[k].smaller ? 1.0 : -1.0) * view->value[k][i];
    }
  }
  CAVUM_TRY(cavum_non_dominated_mark(marks, values, n, m, error));
  for (int i = 0; i < n; i++) {
    if (!marks[i]) continue;
    sorted[num_marked++] = (front_candidate){values[(int64_t)i * m], values[(int64_t)i * m + 1], i};
  }
  qsort(sorted, (size_t)num_marked, sizeof *sorted, compare_candidates);
  for (int i = 0; i < num_marked; i++) {
    bool same = i > 0 && compare_candidates(&sorted[i - 1], &sorted[i]) == 0;
    // Of shapes that are alike in both one has a ring.
    if (!same || view->in_three) view->front[view->num_front++] = sorted[i].point;
  }
done:
  free(sorted);
  free(values);
  free(marks);
  return status;
}

static cavum_status fail_without_column(const cavum_stored_scan *scan, const char *asked,
                                        cavum_error *error) {
  char hint[CAVUM_NEAREST_SIZE];
  if (!asked) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "the scan has no column of a figure of merit");
  }
  return cavum_fail(error, CAVUM_ERR_INPUT, "the scan has no column %s%s", asked,
                    cavum_stored_scan_nearest(hint, scan, asked));
}

static bool has_value(const cavum_scan_view *view, int k) {
  for (int64_t i = 0; i < view->num_rows; i++) {
    if (isfinite(view->value[k][i])) return true;
  }
  return false;
}

// The first that any shape has a value of, as E_pk of cells with a sharp edge is unbounded in all.
static cavum_status take_column(int *column, cavum_scan_view *view, int k, const char *asked,
                                const cavum_scan_aims *aims, cavum_error *error) {
  int first = choose_column(view->scan, asked, k, aims, 0);
  if (first < 0) return fail_without_column(view->scan, asked, error);
  for (int rank = 0; rank <= CHOICES; rank++) {
    int found = choose_column(view->scan, asked, k, aims, rank);
    *column = found >= 0 ? found : first;
    describe_axis(&view->axis[k], view->scan, *column);
    take_direction(&view->axis[k], aims, *column);
    cavum_status status =
        read_column(view->value[k], view->scan, *column, view->axis[k].conversion, error);
    if (status != CAVUM_OK || found < 0 || has_value(view, k)) return status;
  }
  return CAVUM_OK;
}

static cavum_status collect(cavum_scan_view *view, const cavum_picture_options *options,
                            double *statuses, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_scan_aims aims = cavum_scan_aims_default();
  int columns[3];
  const char *asked[3] = {options ? options->x : NULL, options ? options->y : NULL,
                          options ? options->colour : NULL};
  CAVUM_TRY(cavum_stored_scan_aims(&aims, view->scan, error));
  for (int k = 0; k < 3; k++) {
    CAVUM_TRY(take_column(&columns[k], view, k, asked[k], &aims, error));
  }
  view->in_three = are_aims(&aims, columns);
  CAVUM_TRY(
      read_column(statuses, view->scan, cavum_stored_scan_find(view->scan, "status"), 1.0, error));
  keep_good_rows(view, statuses);
  if (view->num_points == 0) {
    CAVUM_TRY(cavum_fail(error, CAVUM_ERR_INPUT, "no shape of the scan has all of %s, %s and %s",
                         view->axis[0].key, view->axis[1].key, view->axis[2].key));
  }
done:
  return status;
}

cavum_status cavum_scan_view_create(cavum_scan_view *view, const cavum_stored_scan *scan,
                                    const cavum_picture_options *options, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  uint32_t colours[256];
  memset(view, 0, sizeof *view);
  view->scan = scan;
  view->num_rows = cavum_stored_scan_num_rows(scan);
  double *statuses = cavum_alloc(view->num_rows, sizeof *statuses);
  view->shape = cavum_alloc(view->num_rows, sizeof *view->shape);
  bool made = statuses && view->shape;
  for (int k = 0; k < 3; k++) {
    view->value[k] = cavum_alloc(view->num_rows, sizeof *view->value[k]);
    made = made && view->value[k];
  }
  if (!made || view->num_rows > INT32_MAX) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(collect(view, options, statuses, error));
  CAVUM_TRY(find_ranges(view, error));
  CAVUM_TRY(find_front(view, error));
  cavum_colour_fill_palette(colours, CAVUM_COLOUR_LAKE);
  for (int i = 0; i < 256; i++) {
    view->palette[i] = colours[FIRST_COLOUR + (255 - FIRST_COLOUR) * i / 255];
  }
done:
  free(statuses);
  return status;
}

void cavum_scan_view_clear(cavum_scan_view *view) {
  if (!view) return;
  for (int k = 0; k < 3; k++) free(view->value[k]);
  free(view->shape);
  free(view->front);
  memset(view, 0, sizeof *view);
}

int cavum_scan_view_colour(const cavum_scan_view *view, int point) {
  const cavum_scan_axis *axis = &view->axis[2];
  double share = (view->value[2][point] - axis->low) / (axis->high - axis->low);
  return 1 + (int)lround(254.0 * cavum_max(0.0, cavum_min(1.0, share)));
}
