// SPDX-License-Identifier: GPL-3.0-or-later
// The tables of a result made by hand: what must be in it, and what must not.
#include <check.h>
#include <string.h>

#include "cli/table.h"
#include "fake_result.h"
#include "support.h"

static const cavum_table_choice SHORT = {0};
static const cavum_table_choice EVERYTHING = {.all = true, .all_digits = true, .definitions = true};

static char *print_fake(const cavum_result *result, cavum_table_choice choice) {
  char *text = NULL;
  size_t size = 0;
  FILE *out = open_memstream(&text, &size);
  cavum_cell cell = fake_cell();
  cavum_table_print(out, result, &cell, &choice);
  fclose(out);
  fputs(text, stdout);
  return text;
}

static void must_contain(const char *text, const char *part) {
  ck_assert_msg(strstr(text, part) != NULL, "no '%s' in the table", part);
}

START_TEST(figures_have_units_uncertainties_and_positions) {
  cavum_result *result = fake_result_create();
  char *text = print_fake(result, EVERYTHING);
  must_contain(text, "1288.1256744(4)    MHz");  // 0.31 Hz is 3.1 in the last digit
  must_contain(text, "117.570123(14)     ohm");
  must_contain(text, "at z = 57.700 mm, r = 35.000 mm");
  must_contain(text, "unbounded          ");
  must_contain(text, "at z = 10.000 mm, r = 87.500 mm");
  must_contain(text, "0.23789000(3)      V/pC");
  // 2.2 of 15.012 nohm, and the rounding of the value on top of it.
  must_contain(text, "15.0(23)           nohm      fit, about 15 %\n");
  // 15 % of the fit are in it.
  must_contain(text, "1.81(27)e10                  with R_s of the fit\n");
  must_contain(text, "1                            at the end of the range\n");
  must_contain(text, "1.8765400(20)      %");  // k_cc in percent
  must_contain(text, "Cell-to-cell coupling of the inner cell, without tubes\n");
  must_contain(text, "1275.000000(12)    MHz");
  must_contain(text, "1299.000000(14)    MHz");
  free(text);
  fake_result_destroy(result);
}
END_TEST

// One line a mode with the digits that the cell asks for: 1e-6 of f, 1e-4 of the others.
START_TEST(a_mode_is_a_line) {
  cavum_result *result = fake_result_create();
  char *text = print_fake(result, SHORT), *line = NULL, *rest = NULL;
  must_contain(text, "mode ");
  must_contain(text, "1288.126(1)");  // .1256744 with its rounding
  must_contain(text, "mT/(MV/m)\n");
  must_contain(text, "unbounded");
  ck_assert_ptr_null(strstr(text, "circuit"));
  ck_assert_ptr_null(strstr(text, "k_loss"));
  ck_assert_ptr_null(strchr(text, '\033'));  // no terminal, no colours
  for (line = strtok_r(text, "\n", &rest); line; line = strtok_r(NULL, "\n", &rest)) {
    ck_assert_msg(strlen(line) <= 80, "%zu columns: %s", strlen(line), line);
    ck_assert_msg(line[strlen(line) - 1] != ' ', "ends in a space: '%s'", line);
  }
  free(text);
  fake_result_destroy(result);
}
END_TEST

// Transit-time factors that are one number stand once; those that differ, twice.
START_TEST(rows_that_repeat_stand_once) {
  cavum_result *result = fake_result_create();
  cavum_figure *figures = result->modes[0].figures;
  figures[CAVUM_FIGURE_TRANSIT_TIME_FACTOR] =
      (cavum_figure){.state = CAVUM_FIGURE_PRESENT, .value = 0.7657, .uncertainty = 1e-6};
  figures[CAVUM_FIGURE_TRANSIT_TIME_FACTOR_ABS] = figures[CAVUM_FIGURE_TRANSIT_TIME_FACTOR];
  result->modes[1].figures[CAVUM_FIGURE_TRANSIT_TIME_FACTOR_ABS].state = CAVUM_FIGURE_ABSENT;
  char *text = print_fake(result, (cavum_table_choice){.all = true});
  must_contain(text, "V / |int E_z dz|");
  ck_assert_ptr_null(strstr(text, "V / int |E_z| dz"));
  free(text);
  figures[CAVUM_FIGURE_TRANSIT_TIME_FACTOR_ABS].value = 0.7;
  text = print_fake(result, (cavum_table_choice){.all = true});
  must_contain(text, "V / int |E_z| dz");
  free(text);
  fake_result_destroy(result);
}
END_TEST

// The usual conventions, one by one; a memory stream is no terminal.
START_TEST(colours_follow_the_conventions) {
  cavum_result *result = fake_result_create();
  unsetenv("NO_COLOR");
  setenv("CLICOLOR_FORCE", "1", 1);
  char *text = print_fake(result, EVERYTHING);
  must_contain(text, "\033[1m");
  free(text);
  setenv("NO_COLOR", "1", 1);
  text = print_fake(result, EVERYTHING);
  ck_assert_ptr_null(strchr(text, '\033'));
  free(text);
  unsetenv("NO_COLOR");
  setenv("CLICOLOR_FORCE", "0", 1);
  text = print_fake(result, EVERYTHING);
  ck_assert_ptr_null(strchr(text, '\033'));
  free(text);
  fake_result_destroy(result);
}
END_TEST

// Per mm and in percent of the figure, the dimension that moves f most first.
START_TEST(derivatives_are_sorted_and_per_unit_of_the_dimension) {
  cavum_result *result = fake_result_create();
  cavum_dimension dimensions[2] = {
      {.key = "iris_radius_mm", .unit = "mm", .value_si = 0.035, .unit_si = 1e-3},
      {.key = "equator_radius_mm", .unit = "mm", .value_si = 0.1033, .unit_si = 1e-3}};
  cavum_derivative *list = calloc((size_t)2 * CAVUM_FIGURES_ROOM, sizeof *list);
  cavum_mode_result *mode = &result->modes[0];
  double r_over_q = mode->figures[CAVUM_FIGURE_R_OVER_Q_LINAC].value;
  ck_assert_ptr_nonnull(list);
  list[CAVUM_FIGURE_FREQUENCY] =
      (cavum_derivative){.state = CAVUM_FIGURE_PRESENT, .value = 2.5e9, .uncertainty = 4e4};
  list[CAVUM_FIGURE_R_OVER_Q_LINAC] = (cavum_derivative){
      .state = CAVUM_FIGURE_PRESENT, .value = 20.0 * r_over_q, .uncertainty = 0.03 * r_over_q};
  list[CAVUM_FIGURES_ROOM + CAVUM_FIGURE_FREQUENCY] =
      (cavum_derivative){.state = CAVUM_FIGURE_PRESENT, .value = -13e9, .uncertainty = 5e4};
  list[CAVUM_FIGURES_ROOM + CAVUM_FIGURE_R_OVER_Q_LINAC] =
      (cavum_derivative){.reason = "the peak stands at two places"};
  result->num_dimensions = 2;
  result->dimensions = dimensions;
  mode->derivatives = list;
  char *text = print_fake(result, SHORT);
  must_contain(text, "Change of mode 1 per unit of a dimension, the others fixed\n");
  must_contain(text, "E_pk/E_acc");
  must_contain(text, " 2.5000(1) ");
  must_contain(text, " 2.000(3)");
  must_contain(text, " -13.000(1) ");
  must_contain(text, "  -: the peak stands at two places\n");
  ck_assert(strstr(text, "equator_radius_mm") < strstr(text, "iris_radius_mm"));
  ck_assert_ptr_null(strstr(text, "Change of mode 2"));
  free(text);
  free(list);
  mode->derivatives = NULL;
  result->num_dimensions = 0;
  result->dimensions = NULL;
  fake_result_destroy(result);
}
END_TEST

START_TEST(head_says_what_was_solved) {
  cavum_result *result = fake_result_create();
  char *text = print_fake(result, SHORT);
  must_contain(text, "L_acc        115.4 mm (2 x half_length)\n");
  must_contain(text, "accuracy     reached: 1e-06 of f, 0.0001 of other figures\n");
  must_contain(text, "modes        no mode missed below 2900 MHz (counted)\n");
  must_contain(text, "kink of 3 degrees");
  ck_assert_ptr_null(strstr(text, "Definitions"));
  ck_assert_ptr_null(strstr(text, "convergence"));
  free(text);
  text = print_fake(result, (cavum_table_choice){.all = true});
  must_contain(text, "2 elements, degree 8, 3900 unknowns, half the cell");
  must_contain(text, "degree 6 to 8 on 2 elements\n");
  must_contain(text, "last step changed f by 3.0e-10, other figures by 2.0e-07");
  must_contain(text, "Mode 1: TM010, E_z even");
  must_contain(text, "Mode 2, E_z odd");
  ck_assert_ptr_null(strstr(text, "Definitions"));
  free(text);
  fake_result_destroy(result);
}
END_TEST

// A cell without a title begins with what was solved.
START_TEST(no_title_has_no_line) {
  cavum_result *result = fake_result_create();
  result->title[0] = '\0';
  char *text = print_fake(result, SHORT);
  ck_assert_int_eq(strncmp(text, "beta ", 5), 0);
  ck_assert_ptr_null(strstr(text, "no title"));
  free(text);
  fake_result_destroy(result);
}
END_TEST

START_TEST(both_conventions_of_r_over_q_are_defined) {
  cavum_result *result = fake_result_create();
  char *text = print_fake(result, EVERYTHING);
  must_contain(text, "V^2 / (omega U)\n");
  must_contain(text, "V^2 / (2 omega U)\n");
  must_contain(text, "2 (f_pi - f_0) / (f_pi + f_0)");
  ck_assert_ptr_null(strstr(text, "shunt"));  // absent in both modes: neither row nor definition
  free(text);
  fake_result_destroy(result);
}
END_TEST

START_TEST(a_missed_accuracy_is_labelled) {
  cavum_result *result = fake_result_create();
  result->accuracy_reached = false;
  result->modes[1].accuracy_reached = false;
  char *text = print_fake(result, SHORT);
  must_contain(text, "NOT REACHED: 1e-06 of f");
  must_contain(text, "  ACCURACY NOT REACHED\n");
  free(text);
  text = print_fake(result, EVERYTHING);
  must_contain(text, "Mode 2, E_z odd about the mirror plane (ACCURACY NOT REACHED)");
  free(text);
  fake_result_destroy(result);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, figures_have_units_uncertainties_and_positions);
  tcase_add_test(tests, a_mode_is_a_line);
  tcase_add_test(tests, rows_that_repeat_stand_once);
  tcase_add_test(tests, colours_follow_the_conventions);
  tcase_add_test(tests, derivatives_are_sorted_and_per_unit_of_the_dimension);
  tcase_add_test(tests, head_says_what_was_solved);
  tcase_add_test(tests, no_title_has_no_line);
  tcase_add_test(tests, both_conventions_of_r_over_q_are_defined);
  tcase_add_test(tests, a_missed_accuracy_is_labelled);
}

CAVUM_TEST_MAIN("table", add_tests)
