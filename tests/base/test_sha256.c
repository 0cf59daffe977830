// SPDX-License-Identifier: GPL-3.0-or-later
// Fingerprints, of memory and of files.
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "base/sha256.h"
#include "support.h"
#include "temporary_folder.h"

// The one-block example of FIPS 180-4's published test vectors, "abc".
static const char of_abc[] = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
// A million times "a": the long one of the same vectors.
static const char of_million[] = "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0";

START_TEST(known_texts) {
  char text[65];
  cavum_sha256(text, "abc", 3);
  ck_assert_str_eq(text, of_abc);
}
END_TEST

// The zero counts, so that two texts are not one.
START_TEST(texts_have_an_end) {
  char text[65], same[65];
  cavum_sha256_state state;
  cavum_sha256_begin(&state);
  cavum_sha256_add_text(&state, "ab");
  cavum_sha256_add_text(&state, NULL);
  cavum_sha256_end(text, &state);
  cavum_sha256(same, "ab\0", 4);
  ck_assert_str_eq(text, same);
}
END_TEST

static void write_million(const char *path) {
  FILE *file = fopen(path, "wb");
  ck_assert_ptr_nonnull(file);
  for (int i = 0; i < 1000000; i++) putc('a', file);
  ck_assert_int_eq(fclose(file), 0);
}

START_TEST(files_whole_and_in_part) {
  char folder[128], path[192], text[65], same[65];
  cavum_sha256_state state;
  cavum_error error = {0};
  temporary_folder_make(folder);
  snprintf(path, sizeof path, "%s/million", folder);
  write_million(path);
  cavum_sha256_begin(&state);
  ck_assert_int_eq(cavum_sha256_add_file(&state, path, &error), CAVUM_OK);
  cavum_sha256_end(text, &state);
  ck_assert_str_eq(text, of_million);

  int descriptor = open(path, O_RDONLY);
  ck_assert_int_ge(descriptor, 0);
  cavum_sha256_begin(&state);
  ck_assert_int_eq(cavum_sha256_add_open_file(&state, descriptor, 3), 3);
  cavum_sha256_end(text, &state);
  cavum_sha256(same, "aaa", 3);
  ck_assert_str_eq(text, same);
  ck_assert_int_eq(cavum_sha256_add_open_file(&state, descriptor, 2000000), 999997);
  close(descriptor);
  temporary_folder_delete(folder);
}
END_TEST

START_TEST(what_cannot_be_read) {
  cavum_sha256_state state;
  cavum_error error = {0};
  cavum_sha256_begin(&state);
  ck_assert_int_eq(cavum_sha256_add_file(&state, "no/such/file", &error), CAVUM_ERR_FILE);
  ck_assert_ptr_nonnull(strstr(error.message, "no/such/file: cannot be read: No such file"));
  ck_assert_int_eq(cavum_sha256_add_file(&state, "/", &error), CAVUM_ERR_FILE);
  ck_assert_ptr_nonnull(strstr(error.message, "/: is a folder, expected a file"));
  ck_assert_int_eq(cavum_sha256_add_open_file(&state, -1, 1), -1);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, known_texts);
  tcase_add_test(tests, texts_have_an_end);
  tcase_add_test(tests, files_whole_and_in_part);
  tcase_add_test(tests, what_cannot_be_read);
}

CAVUM_TEST_MAIN("sha256", add_tests)
