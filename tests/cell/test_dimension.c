// SPDX-License-Identifier: GPL-3.0-or-later
// How contours move with the dimensions of their cells: against differences of contours.
#include <string.h>

#include "base/base.h"
#include "cavum/cell.h"
#include "cavum/cell_text.h"
#include "cell/cell.h"
#include "cell/dimension.h"
#include "support.h"

// Two splines one behind the other, between a plane and an arc; one of two points, one of three.
// Directions are stated at no end, at one, and at both.
static const char SPLINES[] =
    "accelerating_length_mm: 100\ncontour:\n  kind: path\n  start: {z_mm: -50, r_mm: 0}\n  path:\n"
    "    - {line_to: {z_mm: 50, r_mm: 0}, boundary: axis}\n"
    "    - {line_to: {z_mm: 50, r_mm: 30}, boundary: magnetic}\n"
    "    - spline_through:\n        - {z_mm: 45, r_mm: 40}\n        - {z_mm: 41, r_mm: 61}\n"
    "        - {z_mm: 33, r_mm: 80}\n        - {z_mm: 20, r_mm: 92}\n"
    "        - {z_mm: 8, r_mm: 99}\n      boundary: metal\n      direction_at_start_deg: 120\n"
    "    - spline_through:\n        - {z_mm: -4, r_mm: 101}\n        - {z_mm: -15, r_mm: 100}\n"
    "      boundary: metal\n"
    "    - {arc_to: {z_mm: -45, r_mm: 70}, centre: {z_mm: -15, r_mm: 70}, turn: left, boundary: "
    "metal}\n"
    "    - spline_through:\n        - {z_mm: -47, r_mm: 50}\n      boundary: metal\n"
    "    - spline_through:\n        - {z_mm: -49, r_mm: 44}\n        - {z_mm: -48, r_mm: 37}\n"
    "        - {z_mm: -50, r_mm: 30}\n      boundary: metal\n"
    "      direction_at_start_deg: 255\n      direction_at_end_deg: 260\n"
    "    - {line_to: {z_mm: -50, r_mm: 0}, boundary: magnetic}\n";

static cavum_cell read_cell(const char *text) {
  cavum_cell cell;
  cavum_error error = {0};
  cavum_status status = cavum_cell_read_text(&cell, text, strlen(text), "test.yaml", &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return cell;
}

static cavum_contour contour_with(const char *key, double value) {
  cavum_cell changed = read_cell(SPLINES);
  cavum_contour contour = {0};
  cavum_error error = {0};
  ck_assert_msg(cavum_cell_set(&changed, key, value, &error) == CAVUM_OK, "%s", error.message);
  ck_assert_int_eq(cavum_cell_make_contour(&contour, &changed, CAVUM_PART_WHOLE, &error), CAVUM_OK);
  cavum_cell_clear(&changed);
  return contour;
}

enum { PLACES = 5 };

// Points by steps of 1 and 2 times h, extrapolated: what is left is h^4 and rounding over h.
static void check_dimension(const cavum_cell *cell, const cavum_contour *contour,
                            const cavum_cell_dimension *dimension) {
  const double h = 1e-5;
  double at = dimension->value;
  cavum_error error = {0};
  cavum_cell_rate other;
  bool smooth = false;
  cavum_curve_rate *rates = calloc((size_t)contour->num_curves, sizeof *rates);
  cavum_contour moved[4];
  static const double steps[4] = {1.0, -1.0, 2.0, -2.0};
  ck_assert_ptr_nonnull(rates);
  ck_assert_int_eq(cavum_cell_dimension_rate(rates, &other, &smooth, contour, cell,
                                             CAVUM_PART_WHOLE, dimension, &error),
                   CAVUM_OK);
  ck_assert(smooth);
  for (int k = 0; k < 4; k++) {
    moved[k] = contour_with(dimension->key, cavum_in_unit(at + steps[k] * h, dimension->unit));
  }
  double worst = 0.0, largest = 0.0;
  for (cavum_index i = 0; i < contour->num_curves; i++) {
    for (int p = 0; p < PLACES; p++) {
      // Ends of arcs are stored as in the file, so not these.
      double t = (p + 0.5) / PLACES, expected[2];
      cavum_point point, slope, on[4];
      for (int k = 0; k < 4; k++) on[k] = cavum_curve_point(&moved[k].curves[i], t);
      expected[0] = (8.0 * (on[0].z_m - on[1].z_m) - (on[2].z_m - on[3].z_m)) / (12.0 * h);
      expected[1] = (8.0 * (on[0].r_m - on[1].r_m) - (on[2].r_m - on[3].r_m)) / (12.0 * h);
      cavum_curve_rate_at(&point, &slope, &contour->curves[i], &rates[i], t);
      worst = cavum_max(worst, hypot(point.z_m - expected[0], point.r_m - expected[1]));
      largest = cavum_max(largest, hypot(expected[0], expected[1]));
    }
  }
  printf("%s: largest rate %.6g, worst difference %.2g\n", dimension->key, largest, worst);
  ck_assert(largest > 0.1);
  ck_assert(worst < 1e-9);
  for (int k = 0; k < 4; k++) cavum_contour_clear(&moved[k]);
  free(rates);
}

START_TEST(points_of_splines_move_their_curves) {
  cavum_cell cell = read_cell(SPLINES);
  cell.accuracy_frequency *= 0.1;  // no longer the cell of the text, but its path is
  cavum_contour contour = {0};
  cavum_cell_dimensions dimensions = {0};
  cavum_error error = {0};
  int splines = 0, arcs = 0;
  ck_assert_int_eq(cavum_cell_make_contour(&contour, &cell, CAVUM_PART_WHOLE, &error), CAVUM_OK);
  ck_assert_int_eq(cavum_cell_dimensions_list(&dimensions, &cell, &error), CAVUM_OK);
  for (int i = 0; i < dimensions.count; i++) {
    const cavum_cell_dimension *d = &dimensions.list[i];
    // The last point of a file is the start, and stands there as well.
    if (!d->of_path || strncmp(d->key, "start", 5) == 0) continue;
    splines += strstr(d->key, "spline_through") != NULL;
    // A centre that is that far off the ends of its arc is taken for a mistake.
    if (strncmp(d->key, "path[5].centre", 14) == 0) continue;
    arcs += strncmp(d->key, "path[5].arc_to", 14) == 0;
    check_dimension(&cell, &contour, d);
  }
  // Eleven points, none on the axis or the start.
  ck_assert_int_eq(splines, 22);
  ck_assert_int_eq(arcs, 2);
  cavum_cell_dimensions_clear(&dimensions);
  cavum_contour_clear(&contour);
  cavum_cell_clear(&cell);
}
END_TEST

// Points of splines are there to be set also when other numbers of the cell were changed in memory,
// and these stay: the same cell as in the other order.
START_TEST(points_of_splines_are_set) {
  static const char key[] = "contour.path[3].spline_through[2].r_mm";
  cavum_cell cell = read_cell(SPLINES), other = read_cell(SPLINES);
  cavum_error error = {0};
  double value = 0.0;
  cell.accuracy_frequency *= 0.1;
  other.accuracy_frequency *= 0.1;
  ck_assert_int_eq(cavum_cell_set(&cell, "beta", 0.9, NULL), CAVUM_OK);
  for (int i = 0; i < 2; i++) {  // the second time on what the first made
    ck_assert_msg(cavum_cell_set(&cell, key, 61.5 + i, &error) == CAVUM_OK, "%s", error.message);
    ck_assert_int_eq(cavum_cell_get(&value, &cell, key, NULL), CAVUM_OK);
    CAVUM_CHECK_NEAR(value, 61.5 + i, 0.0);
  }
  ck_assert_int_eq(cavum_cell_set(&other, key, 62.5, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_cell_set(&other, "beta", 0.9, NULL), CAVUM_OK);
  CAVUM_CHECK_NEAR(cell.beta, 0.9, 0.0);
  ck_assert(cavum_cell_digest(&cell) == cavum_cell_digest(&other));
  cavum_cell_clear(&cell);
  cavum_cell_clear(&other);
}
END_TEST

// A path with everything that is written anew: lines on and off the axis, a circle, half axes that
// differ, a start off the axis and a point at z = 0.
static const char ARCS[] =
    "accelerating_length_mm: 100\ncontour:\n  kind: path\n  start: {z_mm: -50, r_mm: 30}\n  path:\n"
    "    - {line_to: {z_mm: -50, r_mm: 0}, boundary: magnetic}\n"
    "    - {line_to: {z_mm: 50, r_mm: 0}, boundary: axis}\n"
    "    - {line_to: {z_mm: 50, r_mm: 70}, boundary: magnetic}\n"
    "    - {arc_to: {z_mm: 20, r_mm: 100}, centre: {z_mm: 20, r_mm: 70}, turn: left, boundary: "
    "metal}\n"
    "    - {line_to: {z_mm: 0, r_mm: 100}, boundary: metal}\n"
    "    - {ellipse_to: {z_mm: -50, r_mm: 30}, centre: {z_mm: 0, r_mm: 30}, axial_mm: 50, "
    "radial_mm: 70, turn: left, boundary: metal}\n";

static void stretch(cavum_point *point, double along, double across) {
  point->z_m *= along;
  point->r_m *= across;
}

// All lengths along z and along r by a factor each, which have digits to the last bit.
static void stretch_path(cavum_cell *cell) {
  const double along = 1.0 + 1.0 / 7.0, across = 1.0 - 1.0 / 11.0;
  for (cavum_index i = 0; i < cell->path.num_curves; i++) {
    cavum_curve *curve = &cell->path.curves[i];
    stretch(&curve->start, along, across);
    stretch(&curve->end, along, across);
    stretch(&curve->centre, along, across);
    curve->axial_m *= along;
    curve->radial_m *= across;
    for (int k = 0; k < 4; k++) stretch(&curve->cubic[k], along, across);
  }
}

static void check_same(const cavum_cell_dimension *a, const cavum_cell_dimension *b) {
  ck_assert_str_eq(a->key, b->key);
  CAVUM_CHECK_NEAR(a->value, b->value, 0.0);  // what is written reads back to the bit
  ck_assert_int_eq(a->unit, b->unit);
  ck_assert(a->of_left == b->of_left && a->of_right == b->of_right);
  ck_assert(a->offset == b->offset && a->of_cell == b->of_cell && a->of_path == b->of_path);
  ck_assert(a->curve == b->curve);
  for (int k = 0; k < 2; k++) {
    ck_assert(a->is_circle[k] == b->is_circle[k]);
    ck_assert(a->first[k] == b->first[k] && a->count[k] == b->count[k]);
  }
}

// A path that was changed in memory, with the old text or none, has the dimensions that its own
// text has when that is written and read.
static void check_like_written(const char *text, bool keep_text, int expected) {
  cavum_cell cell = read_cell(text), written;
  cavum_cell_dimensions of_memory = {0}, of_text = {0};
  char *own = NULL;
  cavum_error error = {0};
  stretch_path(&cell);
  if (!keep_text) {
    free(cell.text);
    cell.text = NULL;
  }
  ck_assert_msg(cavum_cell_to_text(&own, &cell, &error) == CAVUM_OK, "%s", error.message);
  written = read_cell(own);
  ck_assert_int_eq(cavum_cell_dimensions_list(&of_memory, &cell, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_cell_dimensions_list(&of_text, &written, NULL), CAVUM_OK);
  printf("%d dimensions in memory, %d of the text, expected %d\n", of_memory.count, of_text.count,
         expected);
  ck_assert_int_eq(of_memory.count, expected);
  ck_assert_int_eq(of_text.count, expected);
  for (int i = 0; i < expected; i++) check_same(&of_memory.list[i], &of_text.list[i]);
  free(own);
  cavum_cell_dimensions_clear(&of_memory);
  cavum_cell_dimensions_clear(&of_text);
  cavum_cell_clear(&cell);
  cavum_cell_clear(&written);
}

START_TEST(changed_paths_have_the_dimensions_of_their_text) {
  // Two of the start, 1 + 1 + 2 + 2 + 2 of the ends of the others but the last (their r on the axis
  // does not count), 4 of each arc, beta, the accelerating length.
  const int of_arcs = 2 + (1 + 1 + 2 + 2 + 2) + 2 * 4 + 2;
  check_like_written(ARCS, true, of_arcs);
  check_like_written(ARCS, false, of_arcs);
  // Splines are lost: beta and the accelerating length are left.
  check_like_written(SPLINES, true, 2);
  check_like_written(SPLINES, false, 2);
}
END_TEST

// Dimensions of a cell whose text may be known are those of the same cell alone.
static void check_known(const cavum_cell *cell, cavum_text_path *known) {
  cavum_cell_dimensions alone = {0}, after = {0};
  ck_assert_int_eq(cavum_cell_dimensions_list(&alone, cell, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_cell_dimensions_list_known(&after, cell, known, NULL), CAVUM_OK);
  printf("%d dimensions of a known text, %d alone\n", after.count, alone.count);
  ck_assert_int_eq(after.count, alone.count);
  for (int i = 0; i < alone.count; i++) check_same(&after.list[i], &alone.list[i]);
  cavum_cell_dimensions_clear(&alone);
  cavum_cell_dimensions_clear(&after);
}

// What a solver keeps of one cell must not be taken for the next: of the same text with its path
// and with another one, of other texts, of none, of a cell without a path.
START_TEST(known_texts_list_the_same_dimensions) {
  static const char HALF[] =
      "contour:\n  kind: two-ellipse\n  half_length_mm: 57.7\n  iris_radius_mm: 35\n"
      "  equator_radius_mm: 103.3\n  equator_ellipse: {axial_mm: 42, radial_mm: 42}\n"
      "  iris_ellipse: {axial_mm: 12, radial_mm: 19}\n"
      "ends: {left: {kind: magnetic}, right: {kind: magnetic}}\n";
  const char *const texts[] = {SPLINES, SPLINES, ARCS, SPLINES, HALF, ARCS};
  cavum_text_path known = {0};
  for (int i = 0; i < 6; i++) {
    cavum_cell cell = read_cell(texts[i]);
    check_known(&cell, &known);
    if (texts[i] == HALF) {
      cavum_cell_clear(&cell);
      continue;
    }
    ck_assert(known.text && strcmp(known.text, texts[i]) == 0);
    stretch_path(&cell);
    check_known(&cell, &known);
    free(cell.text);
    cell.text = NULL;
    check_known(&cell, &known);
    cavum_cell_clear(&cell);
  }
  cavum_text_path_clear(&known);
  ck_assert_ptr_null(known.text);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, known_texts_list_the_same_dimensions);
  tcase_add_test(tests, points_of_splines_move_their_curves);
  tcase_add_test(tests, points_of_splines_are_set);
  tcase_add_test(tests, changed_paths_have_the_dimensions_of_their_text);
}

CAVUM_TEST_MAIN("dimension", add)
