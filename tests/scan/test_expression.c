// SPDX-License-Identifier: GPL-3.0-or-later
// Expressions: what they come to, and what is refused because the parser would take it for
// something else without a word.
#include <string.h>

#include "base/base.h"
#include "scan/expression.h"
#include "support.h"

static cavum_status look_up_x(cavum_expression_name *found, const char *name, const void *data,
                              cavum_error *error) {
  if (strcmp(name, "x") != 0) return cavum_fail(error, CAVUM_ERR_INPUT, "no '%s'", name);
  *found = (cavum_expression_name){.index = -1, .constant = *(const double *)data};
  return CAVUM_OK;
}

START_TEST(values) {
  static const double x = 3.0;
  static const struct {
    const char *text;
    double value;
  } cases[] = {{"x + 2.5", 5.5},          {"max(1, min(x, 2)) * 2", 4.0},
               {"2 < x && x < 4", 1.0},   {"(2 < x) == (x < 4)", 1.0},
               {"x < 2 || x > 2.5", 1.0}, {"x <= 3 ? 7 : x >= 4 ? 8 : 9", 7.0},
               {"x != 3", 0.0},           {"(x < 2) + (x < 4)", 1.0},
               {"'x' + 2 * \"x\"", 9.0},  {"max('x', 4) == \"x\" + 1", 1.0}};
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    cavum_error error = {0};
    cavum_expression *expression = NULL;
    cavum_status status =
        cavum_expression_create(&expression, cases[i].text, look_up_x, &x, &error);
    ck_assert_msg(status == CAVUM_OK, "%s: %s", cases[i].text, error.message);
    CAVUM_CHECK_NEAR(cavum_expression_evaluate(expression, NULL), cases[i].value, 1e-15);
    cavum_expression_destroy(&expression);
  }
}
END_TEST

START_TEST(what_nobody_means_is_refused) {
  static const double x = 3.0;
  static const struct {
    const char *text, *message;
  } cases[] = {
      {"x + 2,5",
       "'x + 2,5': a comma outside a function; a decimal number has a point (character 6)"},
      {"x < 2,5", "a comma outside a function"},
      {"2 * \"a (b, 1 < 2\" > 1", "no 'a (b, 1 < 2'"},
      {"x + \"x\" +* 3", "(character 11)"},
      {"x + 'x", "'x + 'x': a quote that is not closed (character 5)"},
      {"2 * (x + 1,8)", "a comma outside a function"},
      {"max(x, (1,8))", "a comma outside a function"},
      {"2.2 < x < 2.3",
       "two comparisons in a row; join them with &&, as in 2 < x && x < 3 (character 9)"},
      {"x == 3 == 1", "two comparisons in a row"},
      {"max(1 < x < 2, 3)", "two comparisons in a row"},
      {"(1 < x) < 2 < 3", "two comparisons in a row"},
      {"x = 3", "equality is written == (character 3)"},
      {"(x", "is not a valid expression"},
      {"x)", "is not a valid expression"},
      {"x +", "'x +' is not a valid expression (character 4): Unexpected end of expression"},
      {"y", "no 'y'"}};
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    cavum_error error = {0};
    cavum_expression *expression = NULL;
    ck_assert_int_eq(cavum_expression_create(&expression, cases[i].text, look_up_x, &x, &error),
                     CAVUM_ERR_INPUT);
    ck_assert_ptr_null(expression);
    ck_assert_msg(strstr(error.message, cases[i].message) != NULL, "%s: %s", cases[i].text,
                  error.message);
  }
}
END_TEST

START_TEST(brackets_have_a_limit) {
  static const double x = 3.0;
  char text[256] = "";
  cavum_error error = {0};
  cavum_expression *expression = NULL;
  for (int i = 0; i < 65; i++) strcat(text, "(");
  strcat(text, "x");
  for (int i = 0; i < 65; i++) strcat(text, ")");
  ck_assert_int_eq(cavum_expression_create(&expression, text, look_up_x, &x, &error),
                   CAVUM_ERR_INPUT);
  ck_assert_ptr_nonnull(strstr(error.message, "too many brackets (character 65)"));
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, values);
  tcase_add_test(tests, what_nobody_means_is_refused);
  tcase_add_test(tests, brackets_have_a_limit);
}

CAVUM_TEST_MAIN("scan.expression", add_tests)
