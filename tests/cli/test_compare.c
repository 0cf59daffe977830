// SPDX-License-Identifier: GPL-3.0-or-later
// Results side by side: every input that differs, of any section of a cell file, and differences of
// figures where they are larger than the uncertainties.
#include <check.h>
#include <string.h>

#include "program.h"
#include "support.h"
#include "temporary_folder.h"

static char folder[128];

static void set_up(void) { temporary_folder_make(folder); }
static void tear_down(void) { temporary_folder_delete(folder); }

#define run(...) program_run(folder, __VA_ARGS__)

// A result of the mid-cell, changed by a sed script.
static void solve(const char *name, const char *script) {
  ck_assert_int_eq(
      run("sed '%s' $CELLS/mid-cell.yaml >%s.yaml && $CAVUM solve -q %s.yaml -o %s.hdf", script,
          name, name, name),
      0);
}

// Rows of the screen have runs of spaces.
static const char *squeeze(void) {
  ck_assert_int_eq(run("tr -s ' ' <table"), 0);
  return program_read_text(folder, "out");
}

static void must_contain(const char *text, const char *part) {
  ck_assert_msg(strstr(text, part) != NULL, "no '%s' in: %s", part, text);
}

static const struct {
  const char *script, *row;
} changes[] = {
    {"s/^contour:/beta: 0.9\\ncontour:/", "\n beta 1 0.9\n"},
    {"s/residual_nohm: 5.0/residual_nohm: 8.0/", "\n wall.residual_nohm 5 8\n"},
    {"s/^wall:.*/wall: {kind: metal, conductivity_S_per_m: 5.8e7}/",
     "\n wall.kind niobium metal\n"},
    {"s/right: {kind: magnetic}/right: {kind: tube, length_mm: 90.0, close: electric}/",
     "\n ends.right.kind magnetic tube\n"},
    {"s/^  iris_radius_mm: 35.0/  iris_radius_mm: 36.0/",
     "\n iris_radius_mm 35 36\n"},  // of both halves, once
    {"s/^ends:/  right: {iris_radius_mm: 36.0}\\nends:/", "\n right.iris_radius_mm 35 36\n"},
    {"s/^contour:/accelerating_length_mm: 110\\ncontour:/", "\n accelerating_length_mm - 110\n"},
    {"s/^wall:/accuracy: {frequency: 1.0e-7}\\nwall:/", "\n accuracy.frequency"},
};

START_TEST(every_input_that_differs_is_listed) {
  solve("a", "");
  solve("b", changes[_i].script);
  ck_assert_int_eq(run("$CAVUM compare a.hdf b.hdf >table"), 0);
  const char *text = squeeze();
  must_contain(text, "Inputs that differ A B\n");
  must_contain(text, changes[_i].row);
  ck_assert_ptr_null(strstr(text, "equator_ellipse"));
  ck_assert_ptr_null(strstr(text, "left.iris_radius_mm"));
}
END_TEST

// The same shape solved at two accuracies has no difference in any figure; another shape has.
START_TEST(differences_stand_where_they_are_significant) {
  solve("a", "");
  solve("b", "s/^wall:/accuracy: {frequency: 1.0e-4, other_figures: 1.0e-2}\\nwall:/");
  solve("c", "s/^  iris_radius_mm: 35.0/  iris_radius_mm: 36.0/");
  ck_assert_int_eq(run("$CAVUM compare a.hdf b.hdf >table"), 0);
  const char *text = strstr(squeeze(), "Differences from A");
  ck_assert_ptr_null(strstr(text, "frequency"));
  ck_assert_int_eq(run("$CAVUM compare a.hdf b.hdf c.hdf >table"), 0);
  text = squeeze();
  must_contain(text, "Inputs that differ A B C\n");
  must_contain(text, "\n iris_radius_mm 35 35 36\n");
  must_contain(strstr(text, "Differences from A"), "\n frequency none ");
  ck_assert_int_eq(run("$CAVUM compare a.hdf a.hdf >table"), 0);
  text = squeeze();
  must_contain(text, " none: all are alike\n");
  must_contain(text, " same MHz\n");
  ck_assert_int_eq(run("$CAVUM compare a.hdf b.hdf c.hdf -o x.png >table"), 0);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_loop_test(tests, every_input_that_differs_is_listed, 0,
                      (int)(sizeof changes / sizeof *changes));
  tcase_add_test(tests, differences_stand_where_they_are_significant);
}

CAVUM_TEST_MAIN("compare", add_tests)
