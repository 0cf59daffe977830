// SPDX-License-Identifier: GPL-3.0-or-later
// Lists of files that something was read from.
#include "base/files.h"
#include "support.h"

START_TEST(names_are_added_and_freed) {
  cavum_files files = {0}, others = {0};
  ck_assert_int_eq(cavum_files_add(&files, NULL, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_files_add(&files, "", NULL), CAVUM_OK);
  ck_assert_int_eq(files.num_paths, 0);
  ck_assert_int_eq(cavum_files_add(&files, "cell.yaml", NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_files_add(&others, "a/points.csv", NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_files_add(&others, "drawing.yaml", NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_files_add_all(&files, &others, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_files_add_all(&files, NULL, NULL), CAVUM_OK);
  cavum_files_clear(&others);
  ck_assert_int_eq(others.num_paths, 0);
  ck_assert_ptr_null(others.paths);
  ck_assert_int_eq(files.num_paths, 3);
  ck_assert_str_eq(files.paths[0], "cell.yaml");
  ck_assert_str_eq(files.paths[1], "a/points.csv");
  ck_assert_str_eq(files.paths[2], "drawing.yaml");
  cavum_files_clear(&files);
  cavum_files_clear(&files);
}
END_TEST

static void add_tests(TCase *tests) { tcase_add_test(tests, names_are_added_and_freed); }

CAVUM_TEST_MAIN("files", add_tests)
