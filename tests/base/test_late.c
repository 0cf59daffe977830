// SPDX-License-Identifier: GPL-3.0-or-later
// Libraries at first need: one that is there, one that is missing, one that lacks a function. The C
// library is there in every process, by its name on Linux.
#include <string.h>

#include "base/late.h"
#include "support.h"

typedef struct places {
  size_t (*length)(const char *text);
  char *(*find)(const char *text, int letter);
} places;

static const char *const good_names[] = {"strlen", "strchr"};
static const char *const bad_names[] = {"strlen", "cavum_no_such_function"};

START_TEST(functions_are_found_once) {
  places found = {NULL, NULL};
  cavum_late late = {"libc.so.6", "this test", 2, good_names, &found, false};
  cavum_error error = {CAVUM_OK, ""};
  ck_assert_int_eq(cavum_late_open(&late, &error), CAVUM_OK);
  ck_assert_uint_eq(found.length("four"), 4);
  ck_assert_str_eq(found.find("four", 'u'), "ur");
  late.file = "it is not opened again";
  ck_assert_int_eq(cavum_late_open(&late, &error), CAVUM_OK);
}
END_TEST

START_TEST(missing_ones_leave_the_places_alone) {
  places found = {NULL, NULL};
  cavum_late no_file = {"libcavum_nowhere.so.9", "this test", 2, good_names, &found, false};
  cavum_late no_function = {"libc.so.6", "this test", 2, bad_names, &found, false};
  cavum_error error = {CAVUM_OK, ""};
  for (int turn = 0; turn < 2; turn++) {  // a failure is none for ever, and is said again
    ck_assert_int_eq(cavum_late_open(&no_file, &error), CAVUM_ERR_LIBRARY);
    ck_assert_ptr_nonnull(strstr(error.message, "libcavum_nowhere.so.9, needed for this test"));
    ck_assert_int_eq(cavum_late_open(&no_function, &error), CAVUM_ERR_LIBRARY);
    ck_assert_ptr_nonnull(strstr(error.message, "cavum_no_such_function"));
    ck_assert_int_eq(cavum_late_open(&no_file, NULL), CAVUM_ERR_LIBRARY);
  }
  ck_assert(found.length == NULL && found.find == NULL);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, functions_are_found_once);
  tcase_add_test(tests, missing_ones_leave_the_places_alone);
}

CAVUM_TEST_MAIN("late", add_tests)
