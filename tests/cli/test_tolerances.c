// SPDX-License-Identifier: GPL-3.0-or-later
// cavum tolerances: table, JSON, exit statuses.
#include <check.h>
#include <jansson.h>
#include <math.h>
#include <string.h>

#include "program.h"
#include "support.h"
#include "temporary_folder.h"
#include "test_cell.h"

static char folder[128];

static void set_up(void) {
  temporary_folder_make(folder);
  program_write_text(folder, "bare.yaml", TEST_CELL);
  program_write_text(folder, "cell.yaml",
                     TEST_CELL
                     "tolerances:\n  equator_radius_mm: {normal: 0.05}\n"
                     "  iris_radius_mm: {uniform: 0.1}\n");
  program_write_text(folder, "shop.yaml", "tolerances: {iris_radius_mm: {normal: 0.02}}\n");
}

static void tear_down(void) { temporary_folder_delete(folder); }

#define run(...) program_run(folder, __VA_ARGS__)

static const char *read_text(const char *name) {
  const char *text = program_read_text(folder, name);
  fputs(text, stdout);
  return text;
}

START_TEST(a_table_is_printed) {
  ck_assert_int_eq(run("$CAVUM tolerances cell.yaml --samples 0 --band frequency_MHz=0.5"), 0);
  const char *table = read_text("out");
  ck_assert_ptr_nonnull(strstr(table, "Standard deviation of the figures"));
  ck_assert_ptr_nonnull(strstr(table, "Part in the variance"));
  ck_assert_ptr_nonnull(strstr(table, "frequency within +- 0.5 MHz"));
  ck_assert_ptr_nonnull(strstr(table, "to either side, uniform"));
  ck_assert_ptr_nonnull(strstr(table, "The random shapes are solved with polynomials of degree"));
  ck_assert_ptr_nonnull(strstr(table, "changes the spread of no figure by more than"));
  ck_assert_ptr_null(strstr(table, "is known to about"));  // no samples
}
END_TEST

// A part that is rounded to nothing has no sign.
START_TEST(parts_of_nothing_have_no_sign) {
  program_write_text(folder, "nothing.yaml",
                     TEST_CELL
                     "tolerances:\n  equator_radius_mm: {normal: 0.05}\n"
                     "  iris_radius_mm: {uniform: 0.1}\n  left.half_length_mm: {normal: 0.1}\n");
  ck_assert_int_eq(run("$CAVUM tolerances -q nothing.yaml --samples 200 -o nothing.hdf && "
                       "$CAVUM report nothing.hdf -o nothing.html"),
                   0);
  const char *page = read_text("nothing.html");
  ck_assert_ptr_nonnull(strstr(page, ">0.0</td>"));
  ck_assert_ptr_null(strstr(page,
                            ">\xe2\x88\x92"
                            "0.0</td>"));
}
END_TEST

// 2 mm of 12 mm, far beyond what is linear: the reason stands beside, in the report too. 50 samples
// give a deviation to 1 / sqrt(100) of itself [JCGM100] E.4.3.
START_TEST(what_is_not_linear_says_how_much) {
  program_write_text(folder, "wide.yaml", "tolerances: {iris_ellipse.axial_mm: {normal: 2}}\n");
  ck_assert_int_eq(run("$CAVUM tolerances bare.yaml --from wide.yaml --samples 50 -o wide.hdf"), 0);
  const char *table = read_text("out"), *why = "LINEAR DOES NOT HOLD: the nonlinear part is ";
  const char *found = strstr(table, why);
  double percent = 0.0;
  ck_assert_ptr_nonnull(found);
  ck_assert_int_eq(sscanf(found + strlen(why), "%lf", &percent), 1);
  ck_assert(percent >= 10.0);
  ck_assert_ptr_nonnull(strstr(table, "deviation of 50 shapes is known to about 10 % of itself"));
  ck_assert_int_eq(run("$CAVUM report wide.hdf -o wide.html && $CAVUM draw wide.hdf -o wide.svg"),
                   0);
  const char *page = read_text("wide.html");
  ck_assert_ptr_nonnull(strstr(page, "linear does not hold: the nonlinear part is "));
  ck_assert_ptr_nonnull(strstr(page, "is known to about 10"));
  // In a line of its own: behind the number it would not fit into a panel.
  const char *picture = read_text("wide.svg");
  ck_assert_ptr_nonnull(strstr(picture, "sampled"));
  ck_assert_ptr_null(strstr(picture, ", sampled"));
}
END_TEST

// Correlations stand in table, JSON and page; widths from a linear spread that does not hold say
// so.
START_TEST(what_must_be_known_is_said) {
  program_write_text(
      folder, "weld.yaml",
      "tolerances:\n  left.half_length_mm: {normal: 0.2}\n"
      "  right.half_length_mm: {normal: 0.2}\n  correlations:\n"
      "    - {of: [left.half_length_mm, right.half_length_mm], coefficient: -0.5}\n");
  ck_assert_int_eq(run("$CAVUM tolerances bare.yaml --from weld.yaml --samples 50 -o weld.hdf "
                       "--json weld.json --band epk_over_eacc=0.05,frequency_MHz=1 && "
                       "$CAVUM report weld.hdf -o weld.html"),
                   0);
  static const char *const words[] = {
      "Each correlated dimension has its part of what they do together",
      "These come from the linear spread, WHICH DOES NOT HOLD. The random shapes spread ",
      "Equal shares count correlations that widen the spread"};
  ck_assert_ptr_nonnull(
      strstr(read_text("out"), "left.half_length_mm and right.half_length_mm -0.5"));
  ck_assert_ptr_nonnull(strstr(read_text("weld.html"), "Correlated dimensions"));
  ck_assert_ptr_nonnull(strstr(read_text("weld.html"),
                               ">\xe2\x88\x92"
                               "0.5</td>"));
  for (size_t i = 0; i < sizeof words / sizeof *words; i++) {
    ck_assert_ptr_nonnull(strstr(read_text("out"), words[i]));
    ck_assert_ptr_nonnull(strstr(read_text("weld.html"), words[i]));
  }
  json_t *root = json_loads(read_text("weld.json"), 0, NULL);
  const char *one = NULL, *other = NULL;
  double coefficient = 0.0;
  int e_holds = 1, f_holds = 0, missing = -1;
  ck_assert_int_eq(
      json_unpack(root, "{s:[{s:[s, s], s:F}], s:{s:{s:b}, s:{s:b}}, s:{s:{s:{s:i}}}}",
                  "correlations", "of", &one, &other, "coefficient", &coefficient, "bands",
                  "epk_over_eacc", "linear_holds", &e_holds, "frequency_Hz", "linear_holds",
                  &f_holds, "figures", "epk_over_eacc", "sampled", "missing", &missing),
      0);
  ck_assert_str_eq(one, "left.half_length_mm");
  ck_assert_str_eq(other, "right.half_length_mm");
  CAVUM_CHECK_RELATIVE(coefficient, -0.5, 1e-15);
  ck_assert(!e_holds && f_holds);
  ck_assert_int_eq(missing, 0);
  json_decref(root);
  // Where there is nothing to say, nothing is said.
  ck_assert_int_eq(run("$CAVUM tolerances cell.yaml --samples 0 --band frequency_MHz=0.5"), 0);
  ck_assert_ptr_null(strstr(read_text("out"), "orrelat"));
  ck_assert_ptr_null(strstr(read_text("out"), "These come from"));
}
END_TEST

START_TEST(json_has_what_the_readme_says) {
  ck_assert_int_eq(run("$CAVUM tolerances bare.yaml --from shop.yaml --samples 20 --json -"), 0);
  json_error_t error;
  json_t *root = json_loads(read_text("out"), 0, &error);
  ck_assert_msg(root != NULL, "%s", error.text);
  double width = 0.0, value = 0.0, deviation = 0.0, share = 0.0, sampled = 0.0;
  int samples = 0, degree = 0;
  double left_out = 1.0;
  ck_assert_int_eq(
      json_unpack(root, "{s:i, s:{s:{s:F}}, s:{s:{s:F, s:F, s:{s:F}, s:{s:F}}}}", "samples",
                  &samples, "tolerances", "iris_radius_mm", "width", &width, "figures",
                  "frequency_Hz", "value", &value, "deviation", &deviation, "shares",
                  "iris_radius_mm", &share, "sampled", "deviation", &sampled),
      0);
  ck_assert_int_eq(samples, 20);
  ck_assert_int_eq(
      json_unpack(root, "{s:i, s:F}", "samples_degree", &degree, "samples_error", &left_out), 0);
  ck_assert_int_ge(degree, 4);
  ck_assert(left_out >= 0.0 && left_out <= 0.03);
  CAVUM_CHECK_NEAR(width, 0.02, 0.0);
  CAVUM_CHECK_NEAR(share, 1.0, 1e-12);
  // 4.283 MHz/mm by spectral elements (tests/solve/test_derivatives.c).
  CAVUM_CHECK_RELATIVE(deviation, 0.02 * 4283330.0, 1e-4);
  CAVUM_CHECK_RELATIVE(sampled, deviation, 0.8);  // 20 samples: four deviations of s are 0.65
  json_decref(root);
}
END_TEST

// The seed says which shapes are drawn: the same ones again, or others.
START_TEST(a_seed_draws_the_same_shapes_again) {
  ck_assert_int_eq(run("for s in 5 6; do $CAVUM tolerances cell.yaml --samples 20 --seed $s --json "
                       "$s.json -q || exit 1; done; $CAVUM tolerances cell.yaml --samples 20 "
                       "--seed 5 --json again.json -q; cmp 5.json again.json"),
                   0);
  ck_assert_int_eq(run("cmp 5.json 6.json"), 1);
  ck_assert_int_eq(run("$CAVUM tolerances cell.yaml --seed -1"), 2);
  ck_assert_ptr_nonnull(strstr(read_text("err"), "--seed"));
}
END_TEST

// Everything goes into a file, of which picture and report are made.
START_TEST(a_file_is_drawn_and_reported) {
  ck_assert_int_eq(run("$CAVUM tolerances cell.yaml --samples 20 --band frequency_MHz=0.5 -o s.hdf "
                       "--json s.json -q"),
                   0);
  ck_assert_str_eq(read_text("out"), "");
  json_t *root = json_loads(read_text("s.json"), 0, NULL);
  double width = 0.0, alone = 0.0, deviation = 0.0, share = 0.0;
  ck_assert_int_eq(
      json_unpack(root, "{s:{s:{s:F, s:{s:F}}}, s:{s:{s:F, s:{s:F}}}}", "bands", "frequency_Hz",
                  "width", &width, "alone", "equator_radius_mm", &alone, "figures", "frequency_Hz",
                  "deviation", &deviation, "shares", "equator_radius_mm", &share),
      0);
  CAVUM_CHECK_NEAR(width, 0.5e6, 1e-6);
  // The part of this dimension alone is its share: it takes half of the band for one deviation.
  CAVUM_CHECK_RELATIVE(alone, 0.5 * width * 0.05 / (deviation * sqrt(share)), 1e-12);
  json_decref(root);
  ck_assert_int_eq(run("$CAVUM draw s.hdf -o s.svg"), 0);
  const char *picture = read_text("s.svg");
  ck_assert_ptr_nonnull(strstr(picture, "equator radius"));
  ck_assert_ptr_nonnull(strstr(picture, "iris radius"));
  // The first panel is the frequency, with its standard deviation to three digits, in one unit.
  const char *sign = strstr(picture, ">\xc2\xb1 ");
  double shown = 0.0;
  char unit[8] = "";
  ck_assert_ptr_nonnull(sign);
  ck_assert_int_eq(sscanf(sign, ">\xc2\xb1 %lf %7[a-zA-Z]", &shown, unit), 2);
  double one = strcmp(unit, "MHz") == 0 ? 1e6 : strcmp(unit, "kHz") == 0 ? 1e3 : 0.0;
  CAVUM_CHECK_RELATIVE(one * shown, deviation, 6e-3);
  ck_assert_ptr_nonnull(strstr(picture, "\xce\xa9</text>"));
  ck_assert_ptr_null(strstr(picture, "ohm</text>"));
  ck_assert_int_eq(run("$CAVUM report s.hdf -o s.html"), 0);
  const char *page = read_text("s.html");
  ck_assert_ptr_nonnull(strstr(page, "id=\"parts\""));
  ck_assert_ptr_nonnull(strstr(page, "id=\"bands\""));
  ck_assert_ptr_nonnull(strstr(page, "equator radius"));
  ck_assert_ptr_nonnull(strstr(page, "random shapes. 20 were solved for the sampled one."));
  ck_assert_ptr_nonnull(strstr(page, " above</th>"));
  ck_assert_ptr_null(strstr(page, "had no shape"));
  // Without samples they have no columns.
  ck_assert_int_eq(run("$CAVUM tolerances cell.yaml --samples 0 -q -o n.hdf && "
                       "$CAVUM report n.hdf -o n.html"),
                   0);
  page = read_text("n.html");
  ck_assert_ptr_nonnull(strstr(page, "was checked with 32 random shapes.</p>"));
  ck_assert_ptr_nonnull(strstr(page, ">standard deviation, linear</th>"));
  ck_assert_ptr_null(strstr(page, ">standard deviation, sampled</th>"));
  ck_assert_ptr_null(strstr(page, " above</th>"));
  ck_assert_int_eq(run("$CAVUM draw s.hdf -o v.svg --view axis"), 2);
  ck_assert_ptr_nonnull(strstr(read_text("err"), "views of a spread by tolerances: sheet alone"));
  // Another kind of file of ours is not taken for it, and it is not replaced.
  ck_assert_int_eq(run("$CAVUM solve cell.yaml -o s.hdf"), 2);
  ck_assert_ptr_nonnull(strstr(read_text("err"), "--overwrite"));
  ck_assert_int_eq(run("$CAVUM compare s.hdf s.hdf"), 2);
  ck_assert_ptr_nonnull(strstr(read_text("err"), "result of cavum tolerances"));
}
END_TEST

static const struct {
  const char *command, *words;
} refused[] = {
    {"$CAVUM tolerances", "a cell file"},
    {"$CAVUM tolerances bare.yaml", "bare.yaml:1:1: expected a section 'tolerances'"},
    {"$CAVUM tolerances cell.yaml --from none.yaml", "none.yaml: cannot be opened"},
    {"$CAVUM tolerances cell.yaml --band frequency_MHz=0", "FIGURE=WIDTH"},
    {"$CAVUM tolerances cell.yaml --band frequncy_MHz=1", "did you mean"},
    {"$CAVUM tolerances cell.yaml --band wall_angle_deg=1", "is a figure of the shape"},
    {"$CAVUM tolerances cell.yaml --samples -3", "whole number"},
    {"$CAVUM tolerances cell.yaml --mode 2", "spread of mode 2: "},
    {"$CAVUM tolerances cell.yaml -q", "--quiet"},
    {"$CAVUM tolerances bare.yaml --from shop.yaml --json shop.yaml", "which this command reads"},
    {"cp cell.yaml other.json; $CAVUM tolerances cell.yaml --json other.json", "--overwrite"},
};

START_TEST(what_makes_no_sense_is_refused) {
  ck_assert_int_eq(run("%s", refused[_i].command), 2);
  ck_assert_ptr_nonnull(strstr(read_text("err"), refused[_i].words));
}
END_TEST

static void add(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_test(tests, a_table_is_printed);
  tcase_add_test(tests, what_is_not_linear_says_how_much);
  tcase_add_test(tests, parts_of_nothing_have_no_sign);
  tcase_add_test(tests, what_must_be_known_is_said);
  tcase_add_test(tests, json_has_what_the_readme_says);
  tcase_add_test(tests, a_seed_draws_the_same_shapes_again);
  tcase_add_test(tests, a_file_is_drawn_and_reported);
  tcase_add_loop_test(tests, what_makes_no_sense_is_refused, 0, sizeof refused / sizeof *refused);
}

CAVUM_TEST_MAIN("tolerances", add)
