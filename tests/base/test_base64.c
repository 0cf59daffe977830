// SPDX-License-Identifier: GPL-3.0-or-later
// Base64: the examples of RFC 4648, bytes of any value and length there and back, broken texts.
#include <stdlib.h>
#include <string.h>

#include "base/base64.h"
#include "support.h"

START_TEST(published_examples) {
  // RFC 4648, section 10.
  static const char *const pairs[][2] = {{"f", "Zg=="},         {"fo", "Zm8="},
                                         {"foo", "Zm9v"},       {"foob", "Zm9vYg=="},
                                         {"fooba", "Zm9vYmE="}, {"foobar", "Zm9vYmFy"}};
  for (int i = 0; i < 6; i++) {
    char *text = cavum_base64_encode(pairs[i][0], strlen(pairs[i][0]));
    ck_assert_str_eq(text, pairs[i][1]);
    free(text);
  }
}
END_TEST

START_TEST(there_and_back) {
  unsigned char bytes[300];
  for (int i = 0; i < 300; i++) bytes[i] = (unsigned char)(i * 37);
  for (size_t size = 0; size <= sizeof bytes; size++) {
    char *data = NULL;
    size_t found = 999;
    char *text = cavum_base64_encode(bytes, size);
    for (const char *word = text; *word; word += strcspn(word, " "), word += *word == ' ') {
      ck_assert_uint_le(strcspn(word, " "), 76);
    }
    ck_assert_int_eq(cavum_base64_decode(&data, &found, text, NULL), CAVUM_OK);
    ck_assert_uint_eq(found, size);
    if (size > 0) ck_assert_mem_eq(data, bytes, size);
    free(data);
    free(text);
  }
}
END_TEST

START_TEST(broken_texts) {
  static const char *const texts[] = {"Zg=", "Zm9", "Z", "Zm9v!", "Zg==Zg", "\xc3\xa9"};
  for (int i = 0; i < 6; i++) {
    char *data = NULL;
    size_t size = 7;
    cavum_error error = {0};
    ck_assert_int_eq(cavum_base64_decode(&data, &size, texts[i], &error), CAVUM_ERR_INPUT);
    ck_assert_str_ne(error.message, "");
    ck_assert_ptr_null(data);
    ck_assert_uint_eq(size, 7);
  }
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, published_examples);
  tcase_add_test(tests, there_and_back);
  tcase_add_test(tests, broken_texts);
}

CAVUM_TEST_MAIN("base.base64", add_tests)
