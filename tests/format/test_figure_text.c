// SPDX-License-Identifier: GPL-3.0-or-later
// Figures as one text, by the rules of the number and of the unit that have tests of their own.
#include <string.h>

#include "cavum/figure_text.h"
#include "support.h"

static void check_text(cavum_figure figure, cavum_figure_id id, const char *expected) {
  char text[CAVUM_FIGURE_TEXT_SIZE];
  memset(text, 'x', sizeof text);
  cavum_figure_to_text(text, &figure, id);
  printf("%s\n", text);
  ck_assert_str_eq(text, expected);
}

START_TEST(figures) {
  cavum_figure figure = {
      .state = CAVUM_FIGURE_PRESENT, .value = 1288125670.0, .uncertainty = 309.5};
  // 0.0003095 MHz is three parts of the fourth digit behind the point, rounded up.
  check_text(figure, CAVUM_FIGURE_FREQUENCY, "1288.1257(4) MHz");
  figure.uncertainty = 1.55;
  check_text(figure, CAVUM_FIGURE_FREQUENCY, "1288.1256700(16) MHz");
  figure = (cavum_figure){.state = CAVUM_FIGURE_PRESENT, .value = 1.7649, .uncertainty = 0.0};
  check_text(figure, CAVUM_FIGURE_EPK_OVER_EACC, "1.7649");
  figure =
      (cavum_figure){.state = CAVUM_FIGURE_PRESENT, .value = 0.02, .basis = CAVUM_BASIS_STATED};
  check_text(figure, CAVUM_FIGURE_SURFACE_RESISTANCE, "20 mohm (stated)");
  figure = (cavum_figure){.state = CAVUM_FIGURE_PRESENT,
                          .value = 13.4e-9,
                          .uncertainty = 2.18e-9,
                          .basis = CAVUM_BASIS_FIT};
  check_text(figure, CAVUM_FIGURE_SURFACE_RESISTANCE, "13.4(22) nohm (fit, about 16 %)");
  figure = (cavum_figure){
      .state = CAVUM_FIGURE_PRESENT, .value = 1.0, .basis = CAVUM_BASIS_END_OF_RANGE};
  check_text(figure, CAVUM_FIGURE_BETA_OPTIMUM, "1 (at the end of the range)");
  figure.state = CAVUM_FIGURE_UNBOUNDED;
  check_text(figure, CAVUM_FIGURE_EPK_OVER_EACC, "unbounded");
  figure.state = CAVUM_FIGURE_ABSENT;
  check_text(figure, CAVUM_FIGURE_EPK_OVER_EACC, "absent");
}
END_TEST

static void check_in(cavum_figure figure, cavum_figure_id id, double unit_si, const char *unit,
                     const char *expected) {
  char text[CAVUM_FIGURE_TEXT_SIZE];
  memset(text, 'x', sizeof text);
  cavum_figure_to_text_in(text, &figure, id, unit_si, unit);
  printf("%s\n", text);
  ck_assert_str_eq(text, expected);
}

START_TEST(figures_in_a_unit_that_is_asked_for) {
  cavum_figure figure = {
      .state = CAVUM_FIGURE_PRESENT, .value = 1288125670.0, .uncertainty = 309.5};
  check_in(figure, CAVUM_FIGURE_FREQUENCY, 1e9, "GHz", "1.2881257(4) GHz");
  check_in(figure, CAVUM_FIGURE_FREQUENCY, 1e3, "kHz", "1288125.7(4) kHz");
  check_in(figure, CAVUM_FIGURE_FREQUENCY, 1.0, "Hz", "1.2881257(4)e9 Hz");
  figure = (cavum_figure){.state = CAVUM_FIGURE_PRESENT, .value = 1.7649};
  check_in(figure, CAVUM_FIGURE_EPK_OVER_EACC, 1.0, "1", "1.7649");
  check_in(figure, CAVUM_FIGURE_EPK_OVER_EACC, 1.0, NULL, "1.7649");
  figure = (cavum_figure){.state = CAVUM_FIGURE_PRESENT,
                          .value = 13.4e-9,
                          .uncertainty = 2.18e-9,
                          .basis = CAVUM_BASIS_FIT};
  check_in(figure, CAVUM_FIGURE_SURFACE_RESISTANCE, 1.0, "ohm",
           "1.34(22)e-8 ohm (fit, about 16 %)");
  figure.state = CAVUM_FIGURE_UNBOUNDED;
  check_in(figure, CAVUM_FIGURE_EPK_OVER_EACC, 1.0, "1", "unbounded");
  figure.state = CAVUM_FIGURE_ABSENT;
  check_in(figure, CAVUM_FIGURE_FREQUENCY, 1e9, "GHz", "absent");
}
END_TEST

START_TEST(what_is_not_there) {
  char text[CAVUM_FIGURE_TEXT_SIZE];
  cavum_figure figure = {.state = CAVUM_FIGURE_PRESENT, .value = 1.0};
  cavum_figure_to_text(text, NULL, CAVUM_FIGURE_FREQUENCY);
  ck_assert_str_eq(text, "absent");
  cavum_figure_to_text(text, &figure, (cavum_figure_id)99);
  ck_assert_str_eq(text, "absent");
  cavum_figure_to_text(NULL, &figure, CAVUM_FIGURE_FREQUENCY);
  cavum_figure_to_text_in(text, NULL, CAVUM_FIGURE_FREQUENCY, 1e9, "GHz");
  ck_assert_str_eq(text, "absent");
  cavum_figure_to_text_in(NULL, &figure, CAVUM_FIGURE_FREQUENCY, 1e9, "GHz");
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, figures);
  tcase_add_test(tests, figures_in_a_unit_that_is_asked_for);
  tcase_add_test(tests, what_is_not_there);
}

CAVUM_TEST_MAIN("format.figure_text", add_tests)
