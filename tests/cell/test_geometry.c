// SPDX-License-Identifier: GPL-3.0-or-later
// Figures of the shape: closed forms of pillbox and sphere, polygons of many points, derivatives
// against differences, scaling, what a cell does not have.
#include <check.h>
#include <string.h>

#include "base/base.h"
#include "cavum/cell_text.h"
#include "cavum/geometry.h"
#include "support.h"
#include "test_cell.h"

static cavum_cell read_cell(const char *text) {
  cavum_cell cell;
  cavum_error error = {0};
  cavum_cell_set_defaults(&cell);
  cavum_status status = cavum_cell_read_text(&cell, text, strlen(text), "test.yaml", &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return cell;
}

static cavum_geometry *measure(const cavum_cell *cell) {
  cavum_geometry *geometry = NULL;
  cavum_error error = {0};
  cavum_status status = cavum_geometry_measure(&geometry, cell, true, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return geometry;
}

// Of the figure in SI, per metre.
static double slope_by(const cavum_geometry *geometry, cavum_geometry_id id, const char *key) {
  for (int i = 0; i < geometry->num_dimensions; i++) {
    if (strcmp(geometry->dimensions[i].key, key) == 0)
      return geometry->slope[i * CAVUM_GEOMETRY_ROOM + id];
  }
  ck_abort_msg("no dimension %s", key);
}

#define METAL ", boundary: metal}\n"
#define PILLBOX                                                                             \
  "contour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n  path:\n"                          \
  "    - {line_to: {z_mm: 100, r_mm: 0}, boundary: axis}\n"                                 \
  "    - {line_to: {z_mm: 100, r_mm: 90}" METAL "    - {line_to: {z_mm: 0, r_mm: 90}" METAL \
  "    - {line_to: {z_mm: 0, r_mm: 0}" METAL

// Rounding of a few dozen terms.
static const double EXACT = 1e-13;

START_TEST(a_pillbox_has_closed_forms) {
  const double R = 0.09, L = 0.1, pi = CAVUM_PI;
  cavum_cell cell = read_cell(PILLBOX);
  cavum_geometry *s = measure(&cell);
  CAVUM_CHECK_RELATIVE(s->value[CAVUM_GEOMETRY_VOLUME], pi * R * R * L, EXACT);
  CAVUM_CHECK_RELATIVE(s->value[CAVUM_GEOMETRY_WALL_AREA], 2.0 * pi * R * (L + R), EXACT);
  CAVUM_CHECK_RELATIVE(s->value[CAVUM_GEOMETRY_TOTAL_LENGTH], L, EXACT);
  ck_assert(isnan(s->value[CAVUM_GEOMETRY_WALL_ANGLE]));
  ck_assert(isnan(s->value[CAVUM_GEOMETRY_APERTURE_RADIUS]));
  // The radius is that of both ends of the side wall; the right end plate is at three z.
  double by_r[2] = {0.0, 0.0}, by_z[2] = {0.0, 0.0};
  static const cavum_geometry_id ids[2] = {CAVUM_GEOMETRY_VOLUME, CAVUM_GEOMETRY_WALL_AREA};
  for (int k = 0; k < 2; k++) {
    by_r[k] =
        slope_by(s, ids[k], "path[2].line_to.r_mm") + slope_by(s, ids[k], "path[3].line_to.r_mm");
    by_z[k] =
        slope_by(s, ids[k], "path[1].line_to.z_mm") + slope_by(s, ids[k], "path[2].line_to.z_mm");
  }
  CAVUM_CHECK_RELATIVE(by_r[0], 2.0 * pi * R * L, EXACT);
  CAVUM_CHECK_RELATIVE(by_r[1], 2.0 * pi * (L + 2.0 * R), EXACT);
  CAVUM_CHECK_RELATIVE(by_z[0], pi * R * R, EXACT);
  CAVUM_CHECK_RELATIVE(by_z[1], 2.0 * pi * R, EXACT);
  // One of the two ends of a plate alone makes it longer, or does nothing.
  ck_assert(isnan(slope_by(s, CAVUM_GEOMETRY_TOTAL_LENGTH, "path[2].line_to.z_mm")));
  cavum_geometry_destroy(&s);
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(a_sphere_has_closed_forms) {
  const double R = 0.05, pi = CAVUM_PI;
  cavum_cell cell = read_cell(
      "contour:\n  kind: path\n  start: {z_mm: -50, r_mm: 0}\n  path:\n"
      "    - {line_to: {z_mm: 50, r_mm: 0}, boundary: axis}\n"
      "    - {arc_to: {z_mm: -50, r_mm: 0}, centre: {z_mm: 0, r_mm: 0}, turn: left" METAL);
  cavum_geometry *s = measure(&cell);
  CAVUM_CHECK_RELATIVE(s->value[CAVUM_GEOMETRY_VOLUME], 4.0 / 3.0 * pi * R * R * R, EXACT);
  CAVUM_CHECK_RELATIVE(s->value[CAVUM_GEOMETRY_WALL_AREA], 4.0 * pi * R * R, EXACT);
  CAVUM_CHECK_RELATIVE(s->value[CAVUM_GEOMETRY_TOTAL_LENGTH], 2.0 * R, EXACT);
  // Both ends outward by one: the radius by one.
  double volume = slope_by(s, CAVUM_GEOMETRY_VOLUME, "path[1].line_to.z_mm") -
                  slope_by(s, CAVUM_GEOMETRY_VOLUME, "start.z_mm");
  double area = slope_by(s, CAVUM_GEOMETRY_WALL_AREA, "path[1].line_to.z_mm") -
                slope_by(s, CAVUM_GEOMETRY_WALL_AREA, "start.z_mm");
  double length = slope_by(s, CAVUM_GEOMETRY_TOTAL_LENGTH, "path[1].line_to.z_mm") -
                  slope_by(s, CAVUM_GEOMETRY_TOTAL_LENGTH, "start.z_mm");
  CAVUM_CHECK_RELATIVE(volume, 4.0 * pi * R * R, EXACT);
  CAVUM_CHECK_RELATIVE(area, 8.0 * pi * R, EXACT);
  CAVUM_CHECK_RELATIVE(length, 2.0, EXACT);
  cavum_geometry_destroy(&s);
  cavum_cell_clear(&cell);
}
END_TEST

#define PLANES "ends:\n  left: {kind: magnetic}\n  right: {kind: magnetic}\n"
#define TUBES                                                                    \
  "ends:\n  left: {kind: tube, radius_mm: 39, length_mm: 80, close: electric}\n" \
  "  right: {kind: tube, length_mm: 60, close: electric}\n"
// Both walls lean; both past the vertical; unequal halves with a step at one tube.
static const char *const cells[] = {
    TEST_CELL,
    "contour:\n  kind: two-ellipse\n  half_length_mm: 50\n  iris_radius_mm: 30\n"
    "  equator_radius_mm: 100\n  equator_ellipse: {axial_mm: 45, radial_mm: 31}\n"
    "  iris_ellipse: {axial_mm: 7, radial_mm: 11}\n" PLANES,
    "contour:\n  kind: two-ellipse\n  equator_radius_mm: 103.3\n"
    "  left: {half_length_mm: 57.7, iris_radius_mm: 35, equator_ellipse: {axial_mm: 42, radial_mm: "
    "42}, iris_ellipse: {axial_mm: 12, radial_mm: 19}}\n"
    "  right: {half_length_mm: 56, iris_radius_mm: 41, equator_ellipse: {axial_mm: 40, radial_mm: "
    "43}, iris_ellipse: {axial_mm: 10, radial_mm: 13}}\n" TUBES};
enum { NUM_CELLS = sizeof cells / sizeof *cells };

// A polygon of n points along each curve has errors of 1 / n^2; the rest of a step of 2 in n is
// taken out.
static void polygon(double *volume, double *area, const cavum_contour *contour, int n) {
  *volume = *area = 0.0;
  for (cavum_index i = 0; i < contour->num_curves; i++) {
    cavum_point before = contour->curves[i].start;
    for (int k = 1; k <= n; k++) {
      cavum_point at = cavum_curve_point(&contour->curves[i], (double)k / n);
      double r = 0.5 * (before.r_m + at.r_m), dz = at.z_m - before.z_m;
      *volume -=
          CAVUM_PI / 3.0 * dz * (before.r_m * before.r_m + before.r_m * at.r_m + at.r_m * at.r_m);
      if (contour->curves[i].boundary == CAVUM_BOUNDARY_METAL) {
        *area += 2.0 * CAVUM_PI * r * hypot(dz, at.r_m - before.r_m);
      }
      before = at;
    }
  }
}

START_TEST(a_polygon_agrees) {
  cavum_cell cell = read_cell(cells[_i]);
  cavum_contour contour = {0};
  cavum_geometry *s = measure(&cell);
  double v[2], a[2];
  ck_assert_int_eq(cavum_cell_make_contour(&contour, &cell, CAVUM_PART_WHOLE, NULL), CAVUM_OK);
  polygon(&v[0], &a[0], &contour, 500);
  polygon(&v[1], &a[1], &contour, 1000);
  // Errors of 1 / n^4 are left: 1e-12 with some factor of the arcs.
  CAVUM_CHECK_RELATIVE(s->value[CAVUM_GEOMETRY_VOLUME], (4.0 * v[1] - v[0]) / 3.0, 1e-10);
  CAVUM_CHECK_RELATIVE(s->value[CAVUM_GEOMETRY_WALL_AREA], (4.0 * a[1] - a[0]) / 3.0, 1e-10);
  cavum_geometry_destroy(&s);
  cavum_contour_clear(&contour);
  cavum_cell_clear(&cell);
}
END_TEST

// What a cell has with one dimension at another value.
static void measure_at(double *value, const cavum_cell *cell, const cavum_dimension *dimension,
                       double change_si) {
  cavum_cell moved = *cell;
  cavum_geometry *s = NULL;
  double to = (dimension->value_si + change_si) / dimension->unit_si;
  ck_assert_int_eq(cavum_cell_set(&moved, dimension->key, to, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_geometry_measure(&s, &moved, false, NULL), CAVUM_OK);
  memcpy(value, s->value, sizeof s->value);
  cavum_geometry_destroy(&s);
}

// Central differences with steps h and h / 2: errors of h^4, here (1e-3)^4 of the figure with the
// factor of the fourth derivative, and rounding 1e-12 over 1e-3.
START_TEST(derivatives_agree_with_differences) {
  const double size[CAVUM_NUM_GEOMETRY_FIGURES] = {1.0, 0.01, 0.1, 0.04, 0.1, 1e-3, 0.1};
  cavum_cell cell = read_cell(cells[_i]);
  cavum_geometry *s = measure(&cell);
  int compared = 0;
  for (int i = 0; i < s->num_dimensions; i++) {
    const cavum_dimension *d = &s->dimensions[i];
    if (d->unit_si == 1.0) continue;  // beta is no dimension of the shape
    double value[4][CAVUM_GEOMETRY_ROOM], h = 1e-3 * d->value_si;
    const double steps[4] = {h, -h, 0.5 * h, -0.5 * h};
    for (int k = 0; k < 4; k++) measure_at(value[k], &cell, d, steps[k]);
    for (int id = 0; id < CAVUM_NUM_GEOMETRY_FIGURES; id++) {
      double wide = (value[0][id] - value[1][id]) / (2.0 * h);
      double narrow = (value[2][id] - value[3][id]) / h,
             slope = s->slope[i * CAVUM_GEOMETRY_ROOM + id];
      double expected = (4.0 * narrow - wide) / 3.0, unit = size[id] / d->value_si;
      bool agrees = fabs(slope - expected) < 1e-7 * unit;
      ck_assert_msg(agrees, "%s by %s: %.12g, differences %.12g",
                    cavum_geometry_describe((cavum_geometry_id)id).key, d->key, slope, expected);
      compared++;
    }
  }
  printf("%d derivatives\n", compared);
  ck_assert_int_ge(compared, 7 * 7);
  cavum_geometry_destroy(&s);
  cavum_cell_clear(&cell);
}
END_TEST

// All lengths times x: angles stay, lengths go with x, areas with x^2, volumes with x^3.
START_TEST(shapes_scale) {
  static const double powers[CAVUM_NUM_GEOMETRY_FIGURES] = {0.0, 1.0, 1.0, 1.0, 1.0, 3.0, 2.0};
  cavum_cell cell = read_cell(cells[_i]);
  cavum_geometry *s = measure(&cell);
  for (int id = 0; id < CAVUM_NUM_GEOMETRY_FIGURES; id++) {
    double sum = 0.0;
    for (int i = 0; i < s->num_dimensions; i++) {
      if (s->dimensions[i].unit_si == 1.0) continue;  // beta
      sum += s->dimensions[i].value_si * s->slope[i * CAVUM_GEOMETRY_ROOM + id];
    }
    CAVUM_CHECK_NEAR(sum, powers[id] * s->value[id],
                     1e-11 * fmax(fabs(s->value[id]), id == CAVUM_GEOMETRY_WALL_ANGLE ? 1.0 : 0.0));
  }
  cavum_geometry_destroy(&s);
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(a_round_iris_has_its_curvature_everywhere) {
  cavum_cell cell = read_cell(
      "contour:\n  kind: two-ellipse\n  half_length_mm: 57.7\n  iris_radius_mm: 35\n"
      "  equator_radius_mm: 103.3\n  equator_ellipse: {axial_mm: 42, radial_mm: 42}\n"
      "  iris_ellipse: {axial_mm: 12, radial_mm: 12}\n" PLANES);
  cavum_geometry *s = measure(&cell);
  CAVUM_CHECK_RELATIVE(s->value[CAVUM_GEOMETRY_IRIS_CURVATURE], 0.012, EXACT);
  ck_assert(isnan(slope_by(s, CAVUM_GEOMETRY_IRIS_CURVATURE, "iris_ellipse.axial_mm")));
  CAVUM_CHECK_NEAR(slope_by(s, CAVUM_GEOMETRY_IRIS_CURVATURE, "iris_radius_mm"), 0.0, 1e-12);
  cavum_geometry_destroy(&s);
  cavum_cell_clear(&cell);
}
END_TEST

// Where an arc goes over into a wall along its tangent, the joint may move along both: nothing
// changes to first order, but the terms of the two cancel to rounding alone, of which the
// derivative is uncertain. It was 1e-19 with an uncertainty of 1e-31.
START_TEST(derivatives_that_cancel_are_as_uncertain_as_their_terms) {
  static const char *const keys[] = {"path[2].arc_to.z_mm", "path[3].line_to.z_mm"};
  static const cavum_geometry_id ids[2] = {CAVUM_GEOMETRY_VOLUME, CAVUM_GEOMETRY_WALL_AREA};
  const double R = 0.0783, terms[2] = {CAVUM_PI * R * R, 2.0 * CAVUM_PI * R};
  int rounded = 0;
  cavum_cell cell = read_cell(
      "contour:\n  kind: path\n  start: {z_mm: -103.4, r_mm: 0}\n  path:\n"
      "    - {line_to: {z_mm: 103.4, r_mm: 0}, boundary: axis}\n"
      "    - {arc_to: {z_mm: 25.1, r_mm: 78.3}, centre: {z_mm: 25.1, r_mm: 0}, turn: left" METAL
      "    - {line_to: {z_mm: -25.1, r_mm: 78.3}" METAL
      "    - {arc_to: {z_mm: -103.4, r_mm: 0}, centre: {z_mm: -25.1, r_mm: 0}, turn: left" METAL);
  cavum_geometry *s = measure(&cell);
  for (int i = 0; i < s->num_dimensions; i++) {
    bool moves =
        strcmp(s->dimensions[i].key, keys[0]) == 0 || strcmp(s->dimensions[i].key, keys[1]) == 0;
    for (int k = 0; k < 2 && moves; k++) {
      double slope = s->slope[i * CAVUM_GEOMETRY_ROOM + ids[k]];
      double uncertainty = s->slope_uncertainty[i * CAVUM_GEOMETRY_ROOM + ids[k]];
      CAVUM_CHECK_NEAR(slope, 0.0, uncertainty);
      rounded += slope != 0.0;
      ck_assert(uncertainty < 1e-10 * terms[k]);
    }
  }
  ck_assert_int_gt(rounded, 0);
  cavum_geometry_destroy(&s);
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(wrong_calls_are_refused) {
  cavum_cell cell = read_cell(TEST_CELL);
  cavum_geometry *s = NULL;
  ck_assert_int_eq(cavum_geometry_measure(&s, NULL, false, NULL), CAVUM_ERR_USAGE);
  ck_assert_int_eq(cavum_geometry_measure(NULL, &cell, false, NULL), CAVUM_ERR_USAGE);
  cell.left.iris_axial_m = 0.09;  // longer than there is room for
  ck_assert_int_ne(cavum_geometry_measure(&s, &cell, true, NULL), CAVUM_OK);
  ck_assert_ptr_null(s);
  cavum_geometry_destroy(NULL);
  ck_assert_str_eq(cavum_geometry_describe(CAVUM_GEOMETRY_VOLUME).file_unit, "m3");
  ck_assert_str_eq(cavum_geometry_describe(CAVUM_GEOMETRY_WALL_ANGLE).file_unit, "degree");
  ck_assert_str_eq(cavum_geometry_describe((cavum_geometry_id)-1).key, "unknown");
  cavum_cell_clear(&cell);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, a_pillbox_has_closed_forms);
  tcase_add_test(tests, a_sphere_has_closed_forms);
  tcase_add_loop_test(tests, a_polygon_agrees, 0, NUM_CELLS);
  tcase_add_loop_test(tests, derivatives_agree_with_differences, 0, NUM_CELLS);
  tcase_add_loop_test(tests, shapes_scale, 0, NUM_CELLS);
  tcase_add_test(tests, a_round_iris_has_its_curvature_everywhere);
  tcase_add_test(tests, derivatives_that_cancel_are_as_uncertain_as_their_terms);
  tcase_add_test(tests, wrong_calls_are_refused);
}

CAVUM_TEST_MAIN("geometry", add)
