// SPDX-License-Identifier: GPL-3.0-or-later
// cavum as-built: table, JSON, HDF5, picture, report, exit statuses.
#include <jansson.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "hdf5/hdf5_file.h"
#include "program.h"
#include "store/as_built_file.h"
#include "support.h"
#include "temporary_folder.h"

static char folder[128];

#define run(...) program_run(folder, __VA_ARGS__)

// A pillbox of radius 88 mm whose side was made 20 um too large.
static void set_up(void) {
  char path[192];
  temporary_folder_make(folder);
  program_write_text(folder, "drawing.yaml",
                     "accelerating_length_mm: 100\n"
                     "contour:\n  kind: path\n  start: {z_mm: -50, r_mm: 0}\n  path:\n"
                     "    - {line_to: {z_mm: 50, r_mm: 0}, boundary: axis}\n"
                     "    - {line_to: {z_mm: 50, r_mm: 88}, boundary: electric}\n"
                     "    - {line_to: {z_mm: -50, r_mm: 88}, boundary: metal}\n"
                     "    - {line_to: {z_mm: -50, r_mm: 0}, boundary: electric}\n");
  program_write_text(folder, "built.yaml",
                     "title: 'Pillbox & 3'\naccelerating_length_mm: 100\n"
                     "contour: {kind: measured, file: points.csv, drawing: drawing.yaml, "
                     "scatter_um: 2, probe_uncertainty_um: 3, best_fit: none}\n");
  snprintf(path, sizeof path, "%s/points.csv", folder);
  FILE *file = fopen(path, "w");
  ck_assert_ptr_nonnull(file);
  fputs("z_mm,r_mm\n", file);
  for (int i = 0; i < 200; i++) fprintf(file, "%g,88.02\n", 0.5 * i - 49.75);
  fclose(file);
}

static void tear_down(void) { temporary_folder_delete(folder); }

static const char *read_text(const char *name) {
  const char *text = program_read_text(folder, name);
  fputs(text, stdout);
  return text;
}

// The class of the last line or mark that is drawn before a text.
static void ink_before(char ink[16], const char *svg, const char *text) {
  const char *at = strstr(svg, text), *last = NULL;
  ck_assert_msg(at != NULL, "%s", text);
  for (const char *tag = strstr(svg, "<path "); tag && tag < at; tag = strstr(tag + 1, "<path ")) {
    last = tag;
  }
  ck_assert_ptr_nonnull(last);
  ck_assert_int_eq(sscanf(strstr(last, "class=\""), "class=\"%15[^\"]", ink), 1);
}

// The two curves of the change are told apart by their ink, and frames say what they are drawn in.
START_TEST(curves_have_their_units_and_their_ink) {
  char deviation[16], slope[16], change[16];
  ck_assert_int_eq(run("$CAVUM as-built built.yaml -q -o built.hdf && $CAVUM draw built.hdf -o "
                       "built.svg"),
                   0);
  const char *svg = program_read_text(folder, "built.svg");
  const char *of_slope = strstr(svg, ">kHz per mm and \xc2\xb5m<");
  const char *of_change = strstr(svg, ">change in kHz per mm<");
  ck_assert(of_slope && of_change);
  ink_before(deviation, svg, ">deviation outwards: metal that is missing<");
  ink_before(slope, svg, ">change of the frequency for a wall that is");
  ink_before(change, svg, ">change of the frequency by the deviation, per mm of wall<");
  ck_assert(strcmp(slope, change) != 0 && strcmp(slope, deviation) != 0);
  // A label is followed by the curve of its frame.
  char of_slopes[32], of_changes[32];
  snprintf(of_slopes, sizeof of_slopes, "class=\"%s\"", slope);
  snprintf(of_changes, sizeof of_changes, "class=\"%s\"", change);
  const char *curve = strstr(of_slope, of_slopes), *other = strstr(of_slope, of_changes);
  ck_assert(curve && other && curve < other);
  curve = strstr(of_change, of_changes), other = strstr(of_change, of_slopes);
  ck_assert(curve && other && curve < other);
}
END_TEST

// The wall of the drawing gives Q0, with as many digits as it has; what R_s is off is said to be
// left out. 15 nohm: Q0 = G / R_s is some 10^10.
START_TEST(large_numbers_have_an_exponent) {
  char *drawing = strdup(program_read_text(folder, "drawing.yaml"));
  char text[2048];
  snprintf(text, sizeof text, "wall: {kind: resistance, surface_resistance_nohm: 15}\n%s", drawing);
  free(drawing);
  program_write_text(folder, "drawing.yaml", text);
  ck_assert_int_eq(run("$CAVUM as-built built.yaml"), 0);
  const char *row = strstr(read_text("out"), "unloaded quality factor Q0");
  double drawn = 0.0, built = 0.0;
  ck_assert_ptr_nonnull(row);
  ck_assert_int_eq(sscanf(row, "unloaded quality factor Q0 %lf %lf", &drawn, &built), 2);
  ck_assert(drawn > 1e10 && fabs(built / drawn - 1.0) < 1e-3);
  ck_assert(strstr(row, "e+10") && strcspn(row, "\n") < 130);
  ck_assert_ptr_nonnull(strstr(row, "whose own error is not in u\n"));
  ck_assert_int_eq(run("$CAVUM as-built built.yaml -q -o large.hdf && "
                       "$CAVUM report large.hdf -o large.html"),
                   0);
  const char *cell = strstr(program_read_text(folder, "large.html"), "unloaded quality factor");
  ck_assert_ptr_nonnull(cell);
  cell = strstr(cell, "<td");
  const char *power = strstr(cell,
                             "\xc3\x97"
                             "10\xc2\xb9\xe2\x81\xb0"),
             *end = strstr(cell, "</td>");
  ck_assert_msg(power && power < end, "%.80s", cell);
}
END_TEST

// A probe that is off by a third of a millimetre leaves the frequency uncertain by megahertz: the
// picture says so in plain digits.
START_TEST(a_large_uncertainty_has_no_exponent) {
  program_write_text(folder, "rough.yaml",
                     "accelerating_length_mm: 100\n"
                     "contour: {kind: measured, file: points.csv, drawing: drawing.yaml, "
                     "scatter_um: 2, probe_uncertainty_um: 300, best_fit: none}\n");
  ck_assert_int_eq(run("$CAVUM as-built rough.yaml -q --json rough.json -o rough.hdf"), 0);
  json_t *root = json_loads(program_read_text(folder, "rough.json"), 0, NULL);
  const json_t *f = json_object_get(json_object_get(root, "figures"), "frequency_Hz");
  double uncertainty = json_number_value(json_object_get(f, "uncertainty"));
  ck_assert_double_gt(uncertainty, 1e6);
  ck_assert_int_eq(run("$CAVUM draw rough.hdf -o rough.svg"), 0);
  char text[64];
  snprintf(text, sizeof text, "standard uncertainty %.0f kHz", 1e-3 * uncertainty);
  ck_assert_ptr_nonnull(strstr(program_read_text(folder, "rough.svg"), text));
  json_decref(root);
}
END_TEST

START_TEST(what_is_printed_is_stored_drawn_and_reported) {
  ck_assert_int_eq(run("$CAVUM as-built built.yaml --json built.json -o built.hdf --section 10"),
                   0);
  const char *table = read_text("out");
  ck_assert_ptr_nonnull(strstr(table, "Pillbox & 3"));
  ck_assert_ptr_nonnull(strstr(table, "points       200, used 200"));
  ck_assert_ptr_nonnull(strstr(table, "common to all points, by the probe, 3 um"));
  ck_assert_ptr_nonnull(strstr(table, "best fit     points as they were measured\n"));
  ck_assert_ptr_nonnull(strstr(table, "deviation/um change/kHz"));
  json_error_t error;
  json_t *root = json_loads(program_read_text(folder, "built.json"), 0, &error);
  ck_assert_msg(root != NULL, "%s", error.text);
  const json_t *f = json_object_get(json_object_get(root, "figures"), "frequency_Hz");
  double value = 0.0, drawing = 0.0, probe = 0.0, uncertainty = 0.0;
  ck_assert_int_eq(json_unpack((json_t *)f, "{s:F, s:F, s:F, s:F}", "value", &value, "drawing",
                               &drawing, "by_probe", &probe, "uncertainty", &uncertainty),
                   0);
  CAVUM_CHECK_NEAR(value - drawing, -drawing * 20e-6 / 88.02e-3, 100.0);  // -d / (R + d)
  CAVUM_CHECK_RELATIVE(probe, -value * 3e-6 / 88.02e-3, 1e-5);
  ck_assert_int_eq(json_array_size(json_object_get(root, "sections")), 10);
  char path[192];
  cavum_error failure = {0};
  cavum_as_built *stored = NULL;
  snprintf(path, sizeof path, "%s/built.hdf", folder);
  ck_assert_int_eq(cavum_stored_as_built_read(&stored, path, &failure), CAVUM_OK);
  CAVUM_CHECK_NEAR(stored->figures[CAVUM_FIGURE_FREQUENCY].uncertainty, uncertainty, 0.0);
  ck_assert_str_eq(stored->title, "Pillbox & 3");
  ck_assert_int_eq(stored->num_sections, 10);
  ck_assert_int_eq(stored->num_points, 200);
  CAVUM_CHECK_NEAR(stored->probe_uncertainty_m, 3e-6, 1e-18);
  const json_t *third = json_array_get(json_object_get(root, "sections"), 2);
  CAVUM_CHECK_NEAR(stored->sections[2].change_hz,
                   json_number_value(json_object_get(third, "change_Hz")), 0.0);
  const json_t *slopes = json_object_get(json_object_get(root, "wall"), "slope_Hz_per_m2");
  ck_assert_int_eq(json_array_size(slopes), (size_t)stored->num_places);
  CAVUM_CHECK_NEAR(stored->slope_hz_per_m2[1], json_number_value(json_array_get(slopes, 1)), 0.0);
  cavum_as_built_destroy(&stored);
  json_decref(root);
  ck_assert_int_eq(run("$CAVUM draw built.hdf -o built.svg && $CAVUM report built.hdf -o b.html"),
                   0);
  ck_assert_ptr_nonnull(strstr(program_read_text(folder, "built.svg"), "Pillbox &amp; 3"));
  ck_assert_ptr_nonnull(strstr(program_read_text(folder, "built.svg"), "The wall begins at z = "));
  ck_assert_ptr_nonnull(strstr(program_read_text(folder, "built.svg"), "standard uncertainty"));
  ck_assert_ptr_nonnull(strstr(program_read_text(folder, "b.html"), "Pieces of the wall"));
  ck_assert_ptr_nonnull(
      strstr(program_read_text(folder, "b.html"), "200 points, 200 of them used"));
  ck_assert_ptr_nonnull(strstr(program_read_text(folder, "b.html"), "<p>Mode 1, TM010.</p>"));
  ck_assert_ptr_nonnull(strstr(program_read_text(folder, "b.html"), "Accuracy reached: "));
  ck_assert_ptr_nonnull(strstr(program_read_text(folder, "b.html"), "No point was left out"));
  ck_assert_ptr_nonnull(
      strstr(program_read_text(folder, "b.html"), "the points do not tell where the wall is"));
  // Its own files are replaced, others are not.
  ck_assert_int_eq(run("$CAVUM as-built built.yaml -q --json built.json -o built.hdf"), 0);
  ck_assert_int_eq(run("$CAVUM as-built built.yaml -q --json drawing.yaml"), 2);
  ck_assert_int_eq(run("$CAVUM as-built built.yaml --json -"), 0);
  ck_assert_int_eq(program_read_text(folder, "out")[0], '{');
}
END_TEST

// A point that is 0.3 mm off and alone, and an accuracy that rounding does not allow: the table
// names the one, and is labelled, written and drawn for all the other.
START_TEST(outliers_are_listed_and_the_best_is_written) {
  char path[192];
  snprintf(path, sizeof path, "%s/points.csv", folder);
  FILE *file = fopen(path, "a");
  ck_assert_ptr_nonnull(file);
  fputs("10.1,88.32\n", file);
  fclose(file);
  program_write_text(folder, "sharp.yaml",
                     "accelerating_length_mm: 100\ncontour: {kind: measured, file: points.csv, "
                     "drawing: drawing.yaml, scatter_um: 2}\naccuracy: {frequency: 1.0e-13}\n");
  ck_assert_int_eq(run("$CAVUM as-built sharp.yaml --mode 1 --json built.json -o built.hdf"), 1);
  ck_assert_ptr_nonnull(strstr(program_read_text(folder, "err"), "accuracy asked for was not"));
  const char *table = read_text("out");
  ck_assert_ptr_nonnull(strstr(table, "(ACCURACY NOT REACHED)"));
  ck_assert_ptr_nonnull(strstr(table, "accuracy     NOT REACHED: in one of the two solves"));
  ck_assert_ptr_nonnull(strstr(table, "points       201, used 200, outliers 1\n"));
  ck_assert_ptr_nonnull(
      strstr(table, "outlier      z = 10.100 mm, r = 88.320 mm: +320.0 um from the drawing\n"));
  ck_assert_ptr_null(strstr(table, "ANOTHER LENGTH"));  // a side that is straight does not tell
  json_t *root = json_loads(program_read_text(folder, "built.json"), 0, NULL);
  ck_assert_ptr_nonnull(root);
  ck_assert(json_is_false(json_object_get(root, "accuracy_reached")));
  const json_t *places = json_object_get(json_object_get(root, "points"), "outlier_places");
  ck_assert_int_eq(json_array_size(places), 1);
  double distance_m = json_number_value(json_object_get(json_array_get(places, 0), "distance_m"));
  CAVUM_CHECK_NEAR(distance_m, 320e-6, 1e-12);
  ck_assert_int_eq(json_object_size(json_object_get(root, "planes")), 0);
  cavum_error failure = {0};
  cavum_as_built *stored = NULL;
  snprintf(path, sizeof path, "%s/built.hdf", folder);
  ck_assert_int_eq(cavum_stored_as_built_read(&stored, path, &failure), CAVUM_OK);
  ck_assert(!stored->accuracy_reached);
  ck_assert_int_eq(stored->num_outliers, 1);
  CAVUM_CHECK_NEAR(stored->outliers[0].distance_m, distance_m, 0.0);
  CAVUM_CHECK_NEAR(stored->outliers[0].z_m, 10.1e-3, 1e-12);
  cavum_as_built_destroy(&stored);
  json_decref(root);
  // Drawn in the class of its ink, CAVUM_INK_FOURTH: in the panel and twice in the key.
  ck_assert_int_eq(run("$CAVUM draw built.hdf -o built.svg --overwrite"), 0);
  const char *svg = program_read_text(folder, "built.svg");
  ck_assert_ptr_nonnull(strstr(svg, "point left out"));
  int marks = 0;
  for (const char *at = strstr(svg, "class=\"f15\""); at; at = strstr(at + 1, "class=\"f15\"")) {
    marks++;
  }
  ck_assert_int_eq(marks, 3);
  ck_assert_int_eq(run("$CAVUM report built.hdf -o b.html --overwrite"), 0);
  const char *html = program_read_text(folder, "b.html");
  ck_assert_ptr_nonnull(strstr(html, "ACCURACY NOT REACHED: in one of the two solves"));
  ck_assert_ptr_nonnull(strstr(html, "201 points, 200 of them used (1 too far off"));
  const char *left_out = strstr(html, "Outliers that were left out");
  ck_assert_ptr_nonnull(left_out);
  const char *at_z = strstr(left_out, ">10.100<"), *at_r = strstr(left_out, ">88.320<");
  ck_assert(at_z && at_r && at_z < at_r);
  ck_assert_ptr_nonnull(strstr(at_r, "320.0<"));
  ck_assert_int_eq(run("$CAVUM as-built built.yaml --mode 2"), 2);
  ck_assert_ptr_nonnull(strstr(program_read_text(folder, "err"), "mode 2: the cell asks for 1"));
}
END_TEST

START_TEST(a_seed_draws_the_same_walls_again) {
  ck_assert_int_eq(run("for s in 1 2; do $CAVUM as-built built.yaml --draws 5 --seed $s --json "
                       "$s.json -q || exit 1; done; $CAVUM as-built built.yaml --draws 5 --json "
                       "again.json -q; cmp 1.json again.json"),
                   0);
  ck_assert_int_eq(run("cmp 1.json 2.json"), 1);
  ck_assert_int_eq(run("$CAVUM as-built built.yaml --draws 5 --seed x"), 2);
}
END_TEST

// The number in the n-th cell behind the name of a row of a table.
static double cell_of(const char *table, const char *row, int n) {
  const char *at = strstr(table, row);
  ck_assert_ptr_nonnull(at);
  for (int i = 0; i < n; i++) {
    at = strstr(at + 1, "<td");
    ck_assert_ptr_nonnull(at);
  }
  return strtod(strchr(at, '>') + 1, NULL);
}

// Mean and deviation of the drawn walls stand beside what the derivatives say, in the report and in
// the file; both say of which mode and of how many walls.
START_TEST(draws_stand_beside_the_linear_uncertainty) {
  program_write_text(folder, "two.yaml",
                     "accelerating_length_mm: 100\ncontour: {kind: measured, file: points.csv, "
                     "drawing: drawing.yaml, scatter_um: 2, probe_uncertainty_um: 3, best_fit: "
                     "none}\nmodes: {count: 2}\n");
  ck_assert_int_eq(
      run("$CAVUM as-built two.yaml --mode 2 --draws 12 -q -o two.hdf && $CAVUM report two.hdf -o "
          "two.html"),
      0);
  char path[192], caption[64];
  cavum_error failure = {0};
  cavum_as_built *stored = NULL;
  snprintf(path, sizeof path, "%s/two.hdf", folder);
  ck_assert_int_eq(cavum_stored_as_built_read(&stored, path, &failure), CAVUM_OK);
  ck_assert_int_eq(stored->mode, 1);
  ck_assert_int_eq(stored->num_draws, 12);
  const cavum_as_built_figure *f = &stored->figures[CAVUM_FIGURE_FREQUENCY];
  double linear_hz = hypot(f->by_noise, f->by_probe);
  const char *page = program_read_text(folder, "two.html");
  ck_assert_ptr_nonnull(strstr(page, "<p>Mode 2, "));
  snprintf(caption, sizeof caption, "%d random walls solved", stored->num_draws);
  const char *table = strstr(page, caption);
  ck_assert_ptr_nonnull(table);
  static const char row[] = "frequency in\xc2\xa0MHz";
  // As printed: means to a tenth of what they scatter, deviations to three digits.
  CAVUM_CHECK_NEAR(cell_of(table, row, 2), 1e-6 * (f->value + f->sampled_shift),
                   1e-6 * 0.1 * f->sampled);
  CAVUM_CHECK_RELATIVE(cell_of(table, row, 3), 1e-6 * f->sampled, 5.1e-3);
  CAVUM_CHECK_RELATIVE(cell_of(table, row, 4), 1e-6 * linear_hz, 5.1e-3);
  CAVUM_CHECK_NEAR(cell_of(table, row, 5), f->sampled / linear_hz, 5.1e-3);
  // Of a dozen walls the deviation is known to a fifth: both are alike to three of these.
  CAVUM_CHECK_NEAR(f->sampled / linear_hz, 1.0, 3.0 / sqrt(2.0 * 11));
  cavum_hdf5_file *file = NULL;
  double mean_hz = 0.0, stored_linear_hz = 0.0;
  static const char group[] = "/figures/frequency_Hz";
  ck_assert_int_eq(cavum_hdf5_open(&file, path, &failure), CAVUM_OK);
  snprintf(path, sizeof path, "%s/sampled_mean", group);
  ck_assert_int_eq(cavum_hdf5_read_number(&mean_hz, file, path, &failure), CAVUM_OK);
  snprintf(path, sizeof path, "%s/linear_uncertainty", group);
  ck_assert_int_eq(cavum_hdf5_read_number(&stored_linear_hz, file, path, &failure), CAVUM_OK);
  CAVUM_CHECK_RELATIVE(mean_hz, f->value + f->sampled_shift, 1e-15);
  CAVUM_CHECK_RELATIVE(stored_linear_hz, linear_hz, 1e-15);
  cavum_hdf5_destroy(&file);
  cavum_as_built_destroy(&stored);
  // Without draws there is no such table.
  ck_assert_int_eq(run("$CAVUM as-built built.yaml -q -o built.hdf && $CAVUM report built.hdf -o "
                       "b.html"),
                   0);
  ck_assert_ptr_null(strstr(program_read_text(folder, "b.html"), "random walls solved"));
}
END_TEST

// Points that scatter by 2 um, against 10 um, 2 um and 0.5 um that are stated.
START_TEST(what_scatter_is_stated_is_judged) {
  static const char less[] = "less scatter than stated: uncertainties are too large";
  static const char more[] = "MORE SCATTER than stated, by more than chance explains";
  static const double stated_um[] = {10.0, 2.0, 0.5};
  char path[192], text[256];
  uint64_t state = 20250611;
  snprintf(path, sizeof path, "%s/points.csv", folder);
  FILE *file = fopen(path, "w");
  ck_assert_ptr_nonnull(file);
  fputs("z_mm,r_mm\n", file);
  for (int i = 0; i < 400; i++) {
    // Twelve uniform numbers less six: a standard deviation of one.
    double normal = -6.0;
    for (int k = 0; k < 12; k++) {
      state = state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
      normal += (double)(state >> 11) * 0x1p-53;
    }
    fprintf(file, "%g,%.7f\n", 0.25 * i - 49.875, 88.02 + 2e-3 * normal);
  }
  fclose(file);
  for (int k = 0; k < 3; k++) {
    snprintf(text, sizeof text,
             "accelerating_length_mm: 100\ncontour: {kind: measured, file: points.csv, "
             "drawing: drawing.yaml, scatter_um: %g, best_fit: none}\n",
             stated_um[k]);
    program_write_text(folder, "scatter.yaml", text);
    ck_assert_int_eq(run("$CAVUM as-built scatter.yaml -o scatter.hdf --overwrite && $CAVUM report "
                         "scatter.hdf -o scatter.html --overwrite"),
                     0);
    const char *table = read_text("out");
    ck_assert_int_eq(strstr(table, less) != NULL, k == 0);
    ck_assert_int_eq(strstr(table, more) != NULL, k == 2);
    const char *page = program_read_text(folder, "scatter.html");
    ck_assert_int_eq(strstr(page, &less[1]) != NULL, k == 0);
    ck_assert_int_eq(strstr(page, more) != NULL, k == 2);
  }
}
END_TEST

START_TEST(bad_usage_is_one_line_and_exit_2) {
  static const char *const arguments[] = {"",
                                          "built.yaml -q",
                                          "built.yaml --section 0",
                                          "built.yaml --section ten",
                                          "built.yaml --draws 1",
                                          "built.yaml --mode 2",
                                          "drawing.yaml",
                                          "none.yaml"};
  for (size_t i = 0; i < sizeof arguments / sizeof *arguments; i++) {
    ck_assert_int_eq(run("$CAVUM as-built %s", arguments[i]), 2);
  }
  ck_assert_int_eq(run("$CAVUM as-built built.yaml -q -o built.hdf"), 0);
  ck_assert_int_eq(run("$CAVUM solve built.hdf"), 2);
  ck_assert_ptr_nonnull(strstr(program_read_text(folder, "err"), "a result of cavum as-built"));
}
END_TEST

static void add(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_test(tests, what_is_printed_is_stored_drawn_and_reported);
  tcase_add_test(tests, curves_have_their_units_and_their_ink);
  tcase_add_test(tests, large_numbers_have_an_exponent);
  tcase_add_test(tests, a_large_uncertainty_has_no_exponent);
  tcase_add_test(tests, outliers_are_listed_and_the_best_is_written);
  tcase_add_test(tests, a_seed_draws_the_same_walls_again);
  tcase_add_test(tests, draws_stand_beside_the_linear_uncertainty);
  tcase_add_test(tests, what_scatter_is_stated_is_judged);
  tcase_add_test(tests, bad_usage_is_one_line_and_exit_2);
}

CAVUM_TEST_MAIN("as_built", add)
