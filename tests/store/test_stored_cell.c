// SPDX-License-Identifier: GPL-3.0-or-later
// A result file holds the cell that was solved: its text solves to the same bits, also when the
// cell was changed after it was read or never had a text.
#include <stdlib.h>
#include <string.h>

#include "cavum/cavum.h"
#include "solving.h"
#include "support.h"
#include "temporary_folder.h"
#include "test_cell.h"

// Stores a result, reads its text back, solves that and compares the figures.
static void check_stored(const cavum_cell *cell, const char *expected_text) {
  char folder[128], path[160];
  cavum_error error = {0};
  cavum_stored_origin origin = {0};
  cavum_result *result = solving_solve(cell, NULL), *read = NULL;
  temporary_folder_make(folder);
  snprintf(path, sizeof path, "%s/result.hdf", folder);
  cavum_status status = cavum_store_write_result(path, result, cell, NULL, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  status = cavum_store_read_result(&read, &origin, path, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  if (expected_text) ck_assert_str_eq(origin.cell_text, expected_text);
  cavum_cell again = solving_read(origin.cell_text);
  cavum_result *repeated = solving_solve(&again, NULL);
  double first = solving_value(&result->modes[0], CAVUM_FIGURE_FREQUENCY);
  double second = solving_value(&repeated->modes[0], CAVUM_FIGURE_FREQUENCY);
  printf("%.17g Hz solved, %.17g Hz from the stored text\n", first, second);
  ck_assert_mem_eq(result->modes[0].figures, repeated->modes[0].figures,
                   sizeof result->modes[0].figures);
  cavum_result_destroy(&repeated);
  cavum_result_destroy(&read);
  cavum_result_destroy(&result);
  cavum_stored_origin_clear(&origin);
  cavum_cell_clear(&again);
  temporary_folder_delete(folder);
}

START_TEST(an_unchanged_cell_keeps_its_text) {
  cavum_cell cell = solving_read("# as it was written\n" TEST_CELL);
  check_stored(&cell, "# as it was written\n" TEST_CELL);
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(a_changed_cell) {
  cavum_cell cell = solving_read(TEST_CELL);
  cell.left.iris_radius_m = cell.right.iris_radius_m = 0.030;
  check_stored(&cell, NULL);
  cell.left.equator_radius_m = cell.right.equator_radius_m = 0.31 / 3.0;
  check_stored(&cell, NULL);
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(a_cell_without_text) {
  cavum_cell cell, model = solving_read(TEST_CELL);
  cavum_cell_set_defaults(&cell);
  cell.kind = CAVUM_CONTOUR_TWO_ELLIPSE;
  cell.left = cell.right = model.left;
  cell.left_end.kind = cell.right_end.kind = CAVUM_END_ELECTRIC;
  check_stored(&cell, NULL);
  cavum_cell_clear(&cell);
  cavum_cell_clear(&model);
}
END_TEST

START_TEST(another_cell_than_was_solved) {
  cavum_error error = {0};
  cavum_cell cell = solving_read(TEST_CELL);
  cavum_result *result = solving_solve(&cell, NULL);
  cell.left.iris_radius_m = cell.right.iris_radius_m = 0.030;
  ck_assert_int_eq(cavum_store_write_result("/nowhere/result.hdf", result, &cell, NULL, &error),
                   CAVUM_ERR_USAGE);
  printf("%s\n", error.message);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, an_unchanged_cell_keeps_its_text);
  tcase_add_test(tests, a_changed_cell);
  tcase_add_test(tests, a_cell_without_text);
  tcase_add_test(tests, another_cell_than_was_solved);
}

CAVUM_TEST_MAIN("store.stored_cell", add_tests)
