// SPDX-License-Identifier: GPL-3.0-or-later
// Numbers changed in the text of a cell file: nothing else in it changes, and the text reads back
// as the cell with that number.
#include <string.h>

#include "cell/cell_edit.h"
#include "solving.h"

#define HEAD                                                                            \
  "# a comment with: a colon\ntitle: \"\xc3\xa4\xc3\xb6, iris_radius_mm: 35\"  # odd\n" \
  "contour:\n  kind: two-ellipse\n\n"
#define BODY                                                    \
  "  half_length_mm:   57.7   # kept\n  iris_radius_mm: 35.0\n" \
  "  equator_radius_mm: 103.3 # and this\n"                     \
  "  equator_ellipse: {axial_mm: 42.0,   radial_mm: 42.0}\n"    \
  "  iris_ellipse:\n    axial_mm: 12.0\n    radial_mm: 19.0\n"
#define ENDS "ends: {left: {kind: tube, length_mm: 90, close: electric}, right: {kind: magnetic}}\n"
#define CELL HEAD BODY ENDS

static char *edit_as(const char *text, const char *key, const char *number, cavum_status expected) {
  cavum_cell cell = solving_read(text);
  cavum_error error = {0};
  char *edited = NULL;
  cavum_status status = cavum_cell_edit_number(&edited, &cell, text, key, number, &error);
  ck_assert_msg(status == expected, "%s: %s", key, error.message);
  cavum_cell_clear(&cell);
  return edited;
}

// The text with `from`, which is there once, as `to`.
static char *replaced(const char *text, const char *from, const char *to) {
  const char *at = strstr(text, from);
  ck_assert_ptr_nonnull(at);
  ck_assert_ptr_null(strstr(at + 1, from));
  return cavum_format_text("%.*s%s%s", (int)(at - text), text, to, at + strlen(from));
}

static const struct {
  const char *text, *key, *number, *from, *to;
} cases[] = {
    {CELL, "contour.equator_radius_mm", "102.5", "103.3", "102.5"},
    {CELL, "contour.half_length_mm", "1e2", "57.7", "1e2"},
    {CELL, "contour.iris_radius_mm", "36", "35.0", "36"},
    {CELL, "contour.equator_ellipse.radial_mm", "41.25", "radial_mm: 42.0", "radial_mm: 41.25"},
    {CELL, "contour.iris_ellipse.axial_mm", "12.5", "12.0", "12.5"},
    {CELL, "ends.left.length_mm", "91", "90", "91"},
    {CELL, "ends.left.radius_mm", "34", "left: {kind", "left: {radius_mm: 34, kind"},
    {CELL, "beta", "0.9", "title:", "beta: 0.9\ntitle:"},
    {CELL, "contour.left.iris_ellipse.axial_mm", "13", "  kind: two",
     "  left: {iris_ellipse: {axial_mm: 13}}\n  kind: two"},
    // A half states it itself, too.
    {HEAD BODY "  left: {half_length_mm: 58}\n" ENDS, "contour.left.half_length_mm", "59", ": 58}",
     ": 59}"},
    {HEAD BODY "  left: {half_length_mm: 58}\n" ENDS, "contour.left.iris_radius_mm", "34",
     "left: {half", "left: {iris_radius_mm: 34, half"},
    {HEAD BODY "  right:\n    half_length_mm: 58\n" ENDS, "contour.right.iris_radius_mm", "34",
     "    half", "    iris_radius_mm: 34\n    half"},
};

START_TEST(one_number_changes) {
  const char *text = cases[_i].text;
  double wanted = strtod(cases[_i].number, NULL), found = 0.0;
  char *edited = edit_as(text, cases[_i].key, cases[_i].number, CAVUM_OK);
  char *expected = replaced(text, cases[_i].from, cases[_i].to);
  ck_assert_str_eq(edited, expected);
  cavum_cell cell = solving_read(edited);
  ck_assert_int_eq(cavum_cell_get(&found, &cell, cases[_i].key, NULL), CAVUM_OK);
  CAVUM_CHECK_RELATIVE(found, wanted, 1e-15);  // rounding
  cavum_cell_clear(&cell);
  free(expected);
  free(edited);
}
END_TEST

// Both halves and a tube that is as wide as its iris.
START_TEST(what_follows_changes_too) {
  static const char both[] = HEAD BODY
      "  left: {iris_radius_mm: 35.0}\n"
      "ends: {left: {kind: tube, length_mm: 90, radius_mm: 35, close: electric}, right: {kind: "
      "magnetic}}\n";
  double found = 0.0;
  char *edited = edit_as(both, "contour.iris_radius_mm", "36.5", CAVUM_OK);
  cavum_cell cell = solving_read(edited);
  ck_assert_int_eq(cavum_cell_get(&found, &cell, "iris_radius_mm", NULL), CAVUM_OK);
  CAVUM_CHECK_NEAR(found, 36.5, 1e-13);
  ck_assert_int_eq(cavum_cell_get(&found, &cell, "ends.left.radius_mm", NULL), CAVUM_OK);
  CAVUM_CHECK_NEAR(found, 36.5, 1e-13);
  cavum_cell_clear(&cell);
  free(edited);
}
END_TEST

START_TEST(the_end_of_a_path_is_its_start) {
  static const char path[] =
      "contour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n  path:\n"
      "    - {line_to: {z_mm: 100, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: 100, r_mm: 90}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0, r_mm: 90}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: metal}\n";
  char *edited = edit_as(path, "contour.start.z_mm", "1.5", CAVUM_OK);
  cavum_cell cell = solving_read(edited);  // which is refused when it does not close
  cavum_cell_clear(&cell);
  free(edited);
  edited = edit_as(path, "contour.path[3].line_to.r_mm", "91", CAVUM_OK);
  ck_assert_ptr_nonnull(strstr(edited, "{z_mm: 0, r_mm: 91}"));
  free(edited);
  edited = edit_as(path, "contour.path[4].line_to.z_mm", "-1", CAVUM_OK);
  ck_assert_ptr_nonnull(strstr(edited, "start: {z_mm: -1, r_mm: 0}"));
  cell = solving_read(edited);
  cavum_cell_clear(&cell);
  free(edited);
  ck_assert_ptr_null(edit_as(path, "contour.path[9].line_to.r_mm", "91", CAVUM_ERR_INPUT));
  ck_assert_ptr_null(edit_as(path, "contour.path", "91", CAVUM_ERR_INPUT));
}
END_TEST

// Ends of lines as another system writes them, and its mark at the front.
#define SPLINE_AT_END                                                                       \
  "contour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n  path:\n"                          \
  "    - {line_to: {z_mm: 100, r_mm: 0}, boundary: axis}\n"                                 \
  "    - {line_to: {z_mm: 100, r_mm: 90}, boundary: metal}\n"                               \
  "    - {spline_through: [{z_mm: 50, r_mm: 95}, {z_mm: 0, r_mm: 60}, {z_mm: 0, r_mm: 0}]," \
  " boundary: metal}\n"

// A number of the start or of the last point is one of both, in edited texts and where it is set in
// a cell; both numbers that are stated stay as they are stated.
START_TEST(the_end_of_a_spline_is_the_start) {
  static const char *const keys[] = {"contour.start.z_mm",
                                     "contour.path[3].spline_through[3].z_mm"};
  cavum_error error = {0};
  for (int i = 0; i < 2; i++) {
    char *edited = edit_as(SPLINE_AT_END, keys[i], "-2.5", CAVUM_OK);
    cavum_cell cell = solving_read(edited), set = solving_read(SPLINE_AT_END);
    cavum_status status = cavum_cell_set(&set, keys[i], -2.5, &error);
    ck_assert_msg(status == CAVUM_OK, "%s", error.message);
    ck_assert_int_eq(set.path.num_curves, cell.path.num_curves);
    ck_assert(set.path.curves[0].start.z_m == cell.path.curves[0].start.z_m);
    CAVUM_CHECK_NEAR(set.path.curves[0].start.z_m, -2.5e-3, 1e-18);
    CAVUM_CHECK_NEAR(set.path.curves[set.path.num_curves - 1].end.z_m, -2.5e-3, 1e-18);
    cavum_cell_clear(&set);
    cavum_cell_clear(&cell);
    free(edited);
  }
}
END_TEST

START_TEST(other_ends_of_lines_stay) {
  static const char text[] =
      "\xef\xbb\xbf"
      "contour:\r\n  kind: two-ellipse\r\n  half_length_mm: 57.7\r\n  iris_radius_mm: 35\r\n"
      "  equator_radius_mm: 103.3\r\n  equator_ellipse: {axial_mm: 42, radial_mm: 42}\r\n"
      "  iris_ellipse: {axial_mm: 12, radial_mm: 19}\r\n"
      "ends: {left: {kind: magnetic}, right: {kind: magnetic}}\r\n";
  char *edited = edit_as(text, "beta", "0.9", CAVUM_OK);
  ck_assert_ptr_nonnull(strstr(edited,
                               "\xef\xbb\xbf"
                               "beta: 0.9\r\ncontour:"));
  free(edited);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_loop_test(tests, one_number_changes, 0, sizeof cases / sizeof *cases);
  tcase_add_test(tests, what_follows_changes_too);
  tcase_add_test(tests, the_end_of_a_path_is_its_start);
  tcase_add_test(tests, the_end_of_a_spline_is_the_start);
  tcase_add_test(tests, other_ends_of_lines_stay);
}

CAVUM_TEST_MAIN("cell edit", add)
