// SPDX-License-Identifier: GPL-3.0-or-later
// contour.moved: what it makes of a cell, and what is refused.
#include <string.h>

#include "base/base.h"
#include "cavum/cell.h"
#include "cavum/cell_key.h"
#include "cavum/cell_text.h"
#include "cell/cell_edit.h"
#include "cell/dimension.h"
#include "support.h"

static const char PILLBOX[] =
    "contour:\n  kind: path\n  start: {z_mm: -50, r_mm: 0}\n  path:\n"
    "    - {line_to: {z_mm: 50, r_mm: 0}, boundary: axis}\n"
    "    - {line_to: {z_mm: 50, r_mm: 90}, boundary: metal}\n"
    "    - {line_to: {z_mm: -50, r_mm: 90}, boundary: metal}\n"
    "    - {line_to: {z_mm: -50, r_mm: 0}, boundary: metal}\n  moved: ";

static cavum_status read_moved(cavum_cell *cell, const char *list, cavum_error *error) {
  char text[1024];
  snprintf(text, sizeof text, "%s%s\n", PILLBOX, list);
  return cavum_cell_read_text(cell, text, strlen(text), "box.yaml", error);
}

// Everything moves by the depth, then all of it shrinks, then it is stretched and cut.
START_TEST(a_pillbox_is_moved) {
  cavum_cell cell;
  cavum_error error = {0};
  cavum_status status = read_moved(
      &cell, "[{offset_mm: 1}, {contraction: 0.01}, {longer_mm: 2}, {equator_mm: -0.5}]", &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  const cavum_curve *top = &cell.path.curves[2];
  CAVUM_CHECK_NEAR(top->start.r_m, 0.091 * 0.99, 1e-15);
  double length = 0.0;
  for (int i = 0; i < cell.path.num_curves; i++) {
    if (cell.path.curves[i].boundary != CAVUM_BOUNDARY_AXIS) continue;
    length = cell.path.curves[i].end.z_m - cell.path.curves[i].start.z_m;
  }
  CAVUM_CHECK_NEAR(length, 0.102 * 0.99 + 2e-3 - 1e-3, 1e-15);
  ck_assert_double_eq(cell.accelerating_length_m, 0.0);  // a path states none
  cavum_cell_clear(&cell);
}
END_TEST

// Numbers of the path before and of the list, by closed forms: the radius behind is (R + d) (1 -
// c).
START_TEST(a_pillbox_has_rates) {
  static const struct {
    const char *key;
    double r, z;  // of the upper right corner
  } expected[] = {{"path[2].line_to.r_mm", 0.99 * 101.0 / 100.0, 0.0},
                  // walls lean then, and the corner is one of their parallels
                  {"path[2].line_to.z_mm", 0.0, 0.99 * 91.0 / 90.0},
                  {"moved[1].offset_mm", 0.99, 0.99},
                  {"moved[2].contraction", -0.091, -0.051}};
  cavum_cell cell;
  cavum_cell_dimensions dimensions = {0};
  int found = 0;
  ck_assert_int_eq(read_moved(&cell, "[{offset_mm: 1}, {contraction: 0.01}]", NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_cell_dimensions_list(&dimensions, &cell, NULL), CAVUM_OK);
  cavum_curve_rate rates[16];
  ck_assert_int_le(cell.path.num_curves, 16);
  for (int i = 0; i < dimensions.count; i++) {
    for (size_t k = 0; k < sizeof expected / sizeof *expected; k++) {
      cavum_cell_rate other;
      bool smooth = false;
      if (strcmp(dimensions.list[i].key, expected[k].key) != 0) continue;
      ck_assert_int_eq(cavum_cell_dimension_rate(rates, &other, &smooth, &cell.path, &cell,
                                                 CAVUM_PART_WHOLE, &dimensions.list[i], NULL),
                       CAVUM_OK);
      ck_assert(smooth);
      CAVUM_CHECK_NEAR(rates[1].end.r_m, expected[k].r, 1e-9);
      CAVUM_CHECK_NEAR(rates[1].end.z_m, expected[k].z, 1e-9);
      found++;
    }
  }
  ck_assert_int_eq(found, 4);
  cavum_cell_dimensions_clear(&dimensions);
  cavum_cell_clear(&cell);
}
END_TEST

// Two ellipses that differ, and a path of a circle, an ellipse and splines: before a list of moves
// and behind it.
static const char *const CUPS[][2] = {
    {"contour: {kind: two-ellipse, half_length_mm: 57.7, iris_radius_mm: 35, equator_radius_mm: "
     "103.3, equator_ellipse: {axial_mm: 42, radial_mm: 42}, iris_ellipse: {axial_mm: 12, "
     "radial_mm: 19}, left: {iris_ellipse: {axial_mm: 11}}",
     "}\nends: {left: {kind: tube, "
     "length_mm: 80, close: electric}, right: {kind: magnetic}}\n"},
    {"accelerating_length_mm: 100\ncontour:\n  kind: path\n  start: {z_mm: -50, r_mm: 0}\n  path:\n"
     "    - {line_to: {z_mm: 50, r_mm: 0}, boundary: axis}\n"
     "    - {line_to: {z_mm: 50, r_mm: 30}, boundary: magnetic}\n"
     "    - spline_through:\n        - {z_mm: 45, r_mm: 40}\n        - {z_mm: 41, r_mm: 61}\n"
     "        - {z_mm: 33, r_mm: 80}\n        - {z_mm: 20, r_mm: 92}\n"
     "        - {z_mm: -15, r_mm: 100}\n      boundary: metal\n"
     "    - {arc_to: {z_mm: -45, r_mm: 70}, centre: {z_mm: -15, r_mm: 70}, turn: left, boundary: "
     "metal}\n"
     "    - {ellipse_to: {z_mm: -55, r_mm: 50}, centre: {z_mm: -55, r_mm: 70}, axial_mm: 10,\n"
     "       radial_mm: 20, turn: right, boundary: metal}\n"
     "    - {line_to: {z_mm: -50, r_mm: 0}, boundary: magnetic}\n  ",
     "\n"}};

static cavum_cell read_cup(int which, const char *moved) {
  char text[1280];
  cavum_cell cell;
  cavum_error error = {0};
  snprintf(text, sizeof text, "%s%s%s", CUPS[which][0], moved, CUPS[which][1]);
  cavum_status status = cavum_cell_read_text(&cell, text, strlen(text), "cup.yaml", &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return cell;
}

// A list that changes nothing: the rates by differences are those in closed form.
START_TEST(differences_are_as_good_as_closed_forms) {
  cavum_cell plain = read_cup(_i, "");
  cavum_cell moved = read_cup(_i, &", moved: [{longer_mm: 0}]"[_i == 0 ? 0 : 2]);
  cavum_contour contour = {0};
  cavum_cell_dimensions dimensions[2] = {{0}, {0}};
  enum { MOST = 32 };
  cavum_curve_rate rates[2][MOST];
  double worst = 0.0;
  ck_assert_int_eq(cavum_cell_make_contour(&contour, &plain, CAVUM_PART_WHOLE, NULL), CAVUM_OK);
  ck_assert_int_le(contour.num_curves, MOST);
  ck_assert_int_eq(cavum_cell_dimensions_list(&dimensions[0], &plain, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_cell_dimensions_list(&dimensions[1], &moved, NULL), CAVUM_OK);
  ck_assert_int_eq(dimensions[1].count, dimensions[0].count + 1);
  for (int i = 0; i < dimensions[0].count; i++) {
    cavum_cell_rate others[2];
    ck_assert_str_eq(dimensions[0].list[i].key, dimensions[1].list[i].key);
    for (int k = 0; k < 2; k++) {
      bool smooth = false;
      const cavum_cell *cell = k == 0 ? &plain : &moved;
      ck_assert_int_eq(cavum_cell_dimension_rate(rates[k], &others[k], &smooth, &contour, cell,
                                                 CAVUM_PART_WHOLE, &dimensions[k].list[i], NULL),
                       CAVUM_OK);
      ck_assert(smooth);
    }
    CAVUM_CHECK_NEAR(others[1].accelerating_length_m, others[0].accelerating_length_m, 1e-11);
    for (cavum_index c = 0; c < contour.num_curves; c++) {
      for (int p = 0; p <= 4; p++) {
        cavum_point at[2], slope[2];
        for (int k = 0; k < 2; k++) {
          cavum_curve_rate_at(&at[k], &slope[k], &contour.curves[c], &rates[k][c], 0.25 * p);
        }
        worst = cavum_max(worst, hypot(at[1].z_m - at[0].z_m, at[1].r_m - at[0].r_m));
      }
    }
    printf("%s: %.2g\n", dimensions[0].list[i].key, worst);
  }
  printf("worst difference of a rate %.2g\n", worst);
  ck_assert(worst < 1e-10);  // rates are of the size of 1; three parts in 1e12 were seen
  for (int k = 0; k < 2; k++) cavum_cell_dimensions_clear(&dimensions[k]);
  cavum_contour_clear(&contour);
  cavum_cell_clear(&plain);
  cavum_cell_clear(&moved);
}
END_TEST

static const struct {
  const char *list, *message;
} refused[] = {
    {"3", "contour.moved"},
    {"[{}]", "box.yaml:9:11: contour.moved[1]: expected exactly one of offset_mm, longer_mm"},
    {"[{offset_mm: 1, longer_mm: 1}]", "found 2"},
    {"[{offset_mm: 1, lengthening: 1}]", "lengthening: unknown key"},
    {"[{iris_mm: 1, iris_share: 2}]", "iris_share goes with offset_mm"},
    {"[{longer_mm: 1, axial_contraction: 0.1}]", "axial_contraction goes with contraction"},
    {"[{offset_mm: 1, profile: [{z_mm: 1, share: 1}]}]", "expected 2 to 200 places"},
    {"[{offset_mm: 1, profile: [{z_mm: 1, share: 1}, {z_mm: 0, share: 1}]}]", "z_mm must rise"},
    {"[{contraction: 0.7}]", "contraction"},
    {"[{offset_mm: 1}, {longer_mm: -200}]",
     "contour.moved[2]: squeezed by more than its length, 102 mm"},
    {"[{offset_mm: -60}]", "contour.moved[1]: piece"},
    {"[{iris_mm: -60}]", "more is taken than the length"},
};

START_TEST(lists_that_cannot_be_are_refused) {
  cavum_cell cell;
  cavum_error error = {0};
  ck_assert_int_ne(read_moved(&cell, refused[_i].list, &error), CAVUM_OK);
  ck_assert_msg(strstr(error.message, refused[_i].message), "%s", error.message);
}
END_TEST

START_TEST(titles_are_written_anew) {
  static const struct {
    const char *text, *edited;
  } titles[] = {
      {"title: Old  # note\nbeta: 1\n", "title: \"New \\\"one\\\"\"  # note\nbeta: 1\n"},
      {"title: 'It''s old'\nbeta: 1\n", "title: \"New \\\"one\\\"\"\nbeta: 1\n"},
      {"title: \"An \\\"old\\\" one\"\nbeta: 1\n", "title: \"New \\\"one\\\"\"\nbeta: 1\n"},
      {"beta: 1\n", "title: \"New \\\"one\\\"\"\nbeta: 1\n"}};
  for (size_t i = 0; i < sizeof titles / sizeof *titles; i++) {
    char *edited = NULL;
    ck_assert_int_eq(cavum_cell_edit_title(&edited, titles[i].text, "New \"one\"", NULL), CAVUM_OK);
    ck_assert_str_eq(edited, titles[i].edited);
    free(edited);
  }
}
END_TEST

// Both halves of a wall that was moved by a depth that varies are fits by cubics, whose speeds
// along the curve agree less well than the curves: such cells were solved whole.
static const struct {
  const char *left, *moved;
  bool is_symmetric;
} mirrored[] = {
    {"", "{offset_mm: 0.12, iris_share: 1.5}", true},
    {"", "{offset_mm: -0.1, iris_share: 1.5}, {equator_mm: -0.2}, {contraction: 0.00143}", true},
    {"",
     "{offset_mm: 0.15, profile: [{z_mm: -50, share: 1}, {z_mm: 0, share: 0.4}, "
     "{z_mm: 50, share: 1}]}, {longer_mm: 0.3}",
     true},
    {"", "{offset_mm: 0.12, profile: [{z_mm: -50, share: 1}, {z_mm: 50, share: 0.999999}]}", false},
    {"", "{offset_mm: 0.12, iris_share: 1.5}, {left_iris_mm: 0.00001}", false},
    {"left: {iris_radius_mm: 35.000000004}, ", "{offset_mm: 0.12, iris_share: 1.5}", false},
    {"left: {equator_ellipse: {axial_mm: 42.000001}}, ", "{offset_mm: 0.12, iris_share: 1.5}",
     false}};

START_TEST(halves_of_moved_cells_are_mirrored) {
  char text[1280];
  cavum_cell cell;
  cavum_error error = {0};
  snprintf(text, sizeof text,
           "contour: {kind: two-ellipse, half_length_mm: 57.7, iris_radius_mm: 35, "
           "equator_radius_mm: 103.3, equator_ellipse: {axial_mm: 42, radial_mm: 42}, "
           "iris_ellipse: {axial_mm: 12, radial_mm: 19}, %smoved: [%s]}\n"
           "ends: {left: {kind: magnetic}, right: {kind: magnetic}}\n",
           mirrored[_i].left, mirrored[_i].moved);
  cavum_status status = cavum_cell_read_text(&cell, text, strlen(text), "cup.yaml", &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  ck_assert_int_eq(cavum_cell_is_mirror_symmetric(&cell), mirrored[_i].is_symmetric);
  cavum_cell_clear(&cell);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_loop_test(tests, halves_of_moved_cells_are_mirrored, 0,
                      (int)(sizeof mirrored / sizeof *mirrored));
  tcase_add_test(tests, a_pillbox_is_moved);
  tcase_add_test(tests, a_pillbox_has_rates);
  tcase_add_loop_test(tests, differences_are_as_good_as_closed_forms, 0, 2);
  tcase_add_loop_test(tests, lists_that_cannot_be_are_refused, 0,
                      (int)(sizeof refused / sizeof *refused));
  tcase_add_test(tests, titles_are_written_anew);
}

CAVUM_TEST_MAIN("moved contours", add)
