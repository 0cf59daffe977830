// SPDX-License-Identifier: GPL-3.0-or-later
// The summary of a scan on the screen: dimensions of the best shapes, and nothing about how well or
// how figures were computed.
#include <check.h>
#include <string.h>

#include "program.h"
#include "support.h"
#include "temporary_folder.h"

static char folder[128];

static void set_up(void) { temporary_folder_make(folder); }
static void tear_down(void) { temporary_folder_delete(folder); }

#define run(...) program_run(folder, __VA_ARGS__)

static const char study[] =
    "title: Three irises\ncell: mid-cell.yaml\n"
    "vary:\n  iris_radius_mm: [34.0, 35.0, 60.0]\n"  // no shape has the last
    "linked: [iris_ellipse.axial_mm = iris_radius_mm / 3]\n"
    "figures: [epk_over_eacc, geometry_factor_ohm]\n";

START_TEST(best_shapes_have_their_dimensions) {
  program_write_text(folder, "study.yaml", study);
  ck_assert_int_eq(run("cp $CELLS/mid-cell.yaml . && $CAVUM scan -q study.yaml -o s.hdf"), 0);
  ck_assert_int_eq(run("$CAVUM scan --summary s.hdf --aims epk_over_eacc"), 0);
  const char *text = program_read_text(folder, "out");
  fputs(text, stdout);
  const char *parts[] = {
      "Three irises\n3 shapes: 2 done, 1 no-shape\n",
      "Shapes without figures",
      "Ranges of the shapes that are done",
      "\n  iris_radius_mm                                 34             35  mm\n",
      "\nSmallest epk_over_eacc\n  shape  ",
      "Non-dominated: 1 shape,",
      "Cell file of a shape: cavum scan --shape "};
  for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
    ck_assert_msg(strstr(text, parts[i]) != NULL, "no '%s'", parts[i]);
  }
  const char *best = strstr(text, "\nSmallest epk_over_eacc\n");
  ck_assert_ptr_nonnull(strstr(best, "\n  iris_radius_mm "));
  ck_assert_ptr_nonnull(strstr(best, "\n  iris_ellipse.axial_mm "));
  static const char *const absent[] = {"_uncertainty", "status",  "solves",  "degree ",
                                       "unknowns",     "_at_z_m", "contour."};
  for (size_t i = 0; i < sizeof absent / sizeof *absent; i++) {
    ck_assert_msg(strstr(text, absent[i]) == NULL, "'%s' is there", absent[i]);
  }
}
END_TEST

START_TEST(mistyped_aims_get_the_nearest_column) {
  program_write_text(folder, "study.yaml", study);
  ck_assert_int_eq(run("cp $CELLS/mid-cell.yaml . && $CAVUM scan -q study.yaml -o s.hdf"), 0);
  ck_assert_int_eq(run("$CAVUM scan --summary s.hdf --aims epk_over_eac"), 2);
  ck_assert_ptr_nonnull(strstr(program_read_text(folder, "err"), "did you mean epk_over_eacc?"));
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_test(tests, best_shapes_have_their_dimensions);
  tcase_add_test(tests, mistyped_aims_get_the_nearest_column);
}

CAVUM_TEST_MAIN("scan_summary", add_tests)
