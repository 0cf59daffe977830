// SPDX-License-Identifier: GPL-3.0-or-later
// Errors, allocation, temporary names.
#include <check.h>
#include <limits.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/base.h"
#include "base/file.h"
#include "base/utf8.h"
#include "support.h"

START_TEST(messages_are_one_line) {
  cavum_error error = {0};
  ck_assert_int_eq(cavum_fail(&error, CAVUM_ERR_INPUT, "column '%s'", "a\nb\r\x7f"),
                   CAVUM_ERR_INPUT);
  ck_assert_str_eq(error.message, "column 'a b  '");
}
END_TEST

START_TEST(status_has_text_and_exit) {
  ck_assert_int_eq(cavum_status_exit(CAVUM_OK), 0);
  ck_assert_int_eq(cavum_status_exit(CAVUM_ERR_INPUT), 2);
  ck_assert_int_eq(cavum_status_exit(CAVUM_ERR_NOT_CONVERGED), 1);
  ck_assert_str_eq(cavum_status_text(CAVUM_ERR_MEMORY), "out of memory");
}
END_TEST

START_TEST(fail_sets_message_and_accepts_null) {
  cavum_error error = {0};
  ck_assert_int_eq(cavum_fail(&error, CAVUM_ERR_INPUT, "%d of %d", 1, 2), CAVUM_ERR_INPUT);
  ck_assert_str_eq(error.message, "1 of 2");
  ck_assert_int_eq(cavum_fail(NULL, CAVUM_ERR_FILE, "x"), CAVUM_ERR_FILE);
}
END_TEST

// A number out of range is input to who reads a file, no shape to who searches: the error says so
// too.
START_TEST(a_status_means_another_one_to_who_called) {
  cavum_error error = {0};
  cavum_status status = cavum_fail(&error, CAVUM_ERR_INPUT, "out of range");
  status = cavum_status_as(status, CAVUM_ERR_INPUT, CAVUM_ERR_GEOMETRY, &error);
  ck_assert_int_eq(status, CAVUM_ERR_GEOMETRY);
  ck_assert_int_eq(error.status, CAVUM_ERR_GEOMETRY);
  ck_assert_str_eq(error.message, "out of range");
  status = cavum_fail(&error, CAVUM_ERR_MEMORY, "out of memory");
  status = cavum_status_as(status, CAVUM_ERR_INPUT, CAVUM_ERR_GEOMETRY, &error);
  ck_assert(status == CAVUM_ERR_MEMORY && error.status == CAVUM_ERR_MEMORY);
  ck_assert_int_eq(cavum_status_as(CAVUM_ERR_INPUT, CAVUM_ERR_INPUT, CAVUM_ERR_RANGE, NULL),
                   CAVUM_ERR_RANGE);
}
END_TEST

START_TEST(allocation_refuses_nonsense) {
  ck_assert_ptr_null(cavum_alloc(-1, 8));
  ck_assert_ptr_null(cavum_alloc(INT64_MAX, 8));
  void *empty = cavum_alloc(0, 8);
  ck_assert_ptr_nonnull(empty);
  free(empty);
}
END_TEST

START_TEST(temporary_name_stays_in_the_folder) {
  char *name = cavum_temporary_name("some/folder/result.hdf");
  ck_assert_int_eq(strncmp(name, "some/folder/.result.hdf.", 24), 0);
  free(name);
}
END_TEST

// What a link points to is written, whether it exists yet or not, and the link stays a link.
START_TEST(links_are_written_through) {
  static const char *const names[] = {"there", "missing"};
  char folder[] = "/tmp/cavum-base-XXXXXX";
  char link[64], file[64], text[8] = "";
  struct stat found;
  ck_assert_ptr_nonnull(mkdtemp(folder));
  snprintf(file, sizeof file, "%s/sub", folder);
  ck_assert_int_eq(mkdir(file, 0700), 0);
  for (int i = 0; i < 2; i++) {
    snprintf(file, sizeof file, "sub/%s", names[i]);
    snprintf(link, sizeof link, "%s/link-%d", folder, i);
    ck_assert_int_eq(symlink(file, link), 0);
    snprintf(file, sizeof file, "%s/sub/%s", folder, names[i]);
    if (i == 0) fclose(fopen(file, "w"));
    char *temporary = cavum_temporary_name(link);
    ck_assert_ptr_nonnull(strstr(temporary, "/sub/."));
    FILE *made = fopen(temporary, "w");
    ck_assert_ptr_nonnull(made);
    ck_assert_int_eq(fputs("new", made) >= 0 && fclose(made) == 0, 1);
    ck_assert_int_eq(cavum_commit_file(temporary, link, NULL), CAVUM_OK);
    free(temporary);
    ck_assert(lstat(link, &found) == 0 && S_ISLNK(found.st_mode));
    ck_assert(lstat(file, &found) == 0 && S_ISREG(found.st_mode));
    made = fopen(link, "r");
    ck_assert_ptr_nonnull(fgets(text, sizeof text, made));
    fclose(made);
    ck_assert_str_eq(text, "new");
    unlink(link);
    unlink(file);
  }
  snprintf(file, sizeof file, "%s/sub", folder);
  ck_assert_int_eq(rmdir(file) == 0 && rmdir(folder) == 0, 1);
}
END_TEST

START_TEST(links_in_a_circle_are_refused) {
  char folder[] = "/tmp/cavum-base-XXXXXX";
  char link[64];
  struct stat found;
  ck_assert_ptr_nonnull(mkdtemp(folder));
  snprintf(link, sizeof link, "%s/circle", folder);
  ck_assert_int_eq(symlink("circle", link), 0);
  char *temporary = cavum_temporary_name(link);
  fclose(fopen(temporary, "w"));
  ck_assert_int_eq(cavum_commit_file(temporary, link, NULL), CAVUM_ERR_FILE);
  ck_assert_int_ne(stat(temporary, &found), 0);  // removed
  ck_assert(lstat(link, &found) == 0 && S_ISLNK(found.st_mode));
  free(temporary);
  unlink(link);
  ck_assert_int_eq(rmdir(folder), 0);
}
END_TEST

START_TEST(devices_are_not_replaced) {
  char temporary[] = "/tmp/cavum-base-XXXXXX";
  struct stat found;
  int descriptor = mkstemp(temporary);
  ck_assert_int_ge(descriptor, 0);
  close(descriptor);
  ck_assert_int_eq(cavum_commit_file(temporary, "/dev/null", NULL), CAVUM_ERR_FILE);
  ck_assert_int_ne(stat(temporary, &found), 0);  // removed
  ck_assert_int_eq(stat("/dev/null", &found), 0);
  ck_assert(S_ISCHR(found.st_mode));
}
END_TEST

// Names that do not fit end with dots, and not within a letter.
START_TEST(texts_are_cut_between_letters) {
  char cut[12];
  cavum_utf8_cut(cut, sizeof cut, "eleven left");
  ck_assert_str_eq(cut, "eleven left");
  cavum_utf8_cut(cut, sizeof cut, "twelve bytes");
  ck_assert_str_eq(cut, "twelve b...");
  cavum_utf8_cut(cut, sizeof cut, "\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4");
  ck_assert_str_eq(cut, "\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4...");
  cavum_utf8_cut(cut, sizeof cut, "x\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4");
  ck_assert_str_eq(cut, "x\xc3\xa4\xc3\xa4\xc3\xa4...");
  cavum_utf8_cut(cut, sizeof cut, "");
  ck_assert_str_eq(cut, "");
}
END_TEST

START_TEST(whole_numbers_of_doubles_that_may_hold_anything) {
  ck_assert_int_eq(cavum_whole(7.0, -1), 7);
  ck_assert_int_eq(cavum_whole(-0.0, -1), 0);
  ck_assert_int_eq(cavum_whole(0x1p53, -1), INT64_C(1) << 53);
  ck_assert_int_eq(cavum_whole(0x1p54, -1), -1);
  ck_assert_int_eq(cavum_whole(1e300, -1), -1);
  ck_assert_int_eq(cavum_whole(2.5, -1), -1);
  ck_assert_int_eq(cavum_whole((double)NAN, -1), -1);
  ck_assert_int_eq(cavum_whole(-(double)INFINITY, -1), -1);
  ck_assert_int_eq(cavum_whole_int(-2147483648.0, 5), INT_MIN);
  ck_assert_int_eq(cavum_whole_int(2147483648.0, 5), 5);
  ck_assert_int_eq(cavum_whole_int((double)NAN, 5), 5);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, messages_are_one_line);
  tcase_add_test(tests, texts_are_cut_between_letters);
  tcase_add_test(tests, a_status_means_another_one_to_who_called);
  tcase_add_test(tests, status_has_text_and_exit);
  tcase_add_test(tests, fail_sets_message_and_accepts_null);
  tcase_add_test(tests, allocation_refuses_nonsense);
  tcase_add_test(tests, devices_are_not_replaced);
  tcase_add_test(tests, links_are_written_through);
  tcase_add_test(tests, links_in_a_circle_are_refused);
  tcase_add_test(tests, whole_numbers_of_doubles_that_may_hold_anything);
  tcase_add_test(tests, temporary_name_stays_in_the_folder);
}

CAVUM_TEST_MAIN("base", add_tests)
