// SPDX-License-Identifier: GPL-3.0-or-later
// What the tables of cavum optimise say: the objective whatever it is, what is broken, columns that
// stay apart.
#include <check.h>
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "nose_cell.h"
#include "program.h"
#include "support.h"
#include "temporary_folder.h"
#include "test_cell.h"

static char folder[128];

#define run(...) program_run(folder, __VA_ARGS__)
#define read_text(name) program_read_text(folder, name)

static void set_up(void) {
  temporary_folder_make(folder);
  program_write_text(folder, "cell.yaml", TEST_CELL);
}

static void tear_down(void) { temporary_folder_delete(folder); }

#define COUPLED                                             \
  "cell: cell.yaml\n"                                       \
  "vary: {iris_radius_mm: {from: 33, to: 37}}\n"            \
  "hold: {frequency_MHz: 1300, by: equator_radius_mm}\n"    \
  "maximise: k_cc\nlimits: {epk_over_eacc: {most: 2.05}}\n" \
  "starts: 1\n"

// k_cc before and after is that of a solve of either cell, though it is no figure of the mode.
// `true` is what other writers of YAML make of `yes`.
START_TEST(an_objective_that_is_no_figure_of_the_mode) {
  double k[2] = {0.0}, solved[2] = {0.0};
  program_write_text(folder, "goal.yaml", COUPLED "coupling: true\n");
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml --cell best.yaml -o best.hdf"), 0);
  char *table = strdup(read_text("out"));
  const char *row = strstr(table, "\nObjective ");
  ck_assert_ptr_nonnull(row);
  ck_assert_int_eq(sscanf(row, "\nObjective before best k_cc %lf %lf(", &k[0], &k[1]), 2);
  for (int i = 0; i < 2; i++) {
    ck_assert_int_eq(run("$CAVUM solve %s --coupling --all-digits", i ? "best.yaml" : "cell.yaml"),
                     0);
    const char *line = strstr(read_text("out"), "\n  k_cc ");
    ck_assert_ptr_nonnull(line);
    ck_assert_int_eq(sscanf(line, " k_cc %lf", &solved[i]), 1);
    printf("k_cc %.9g, solved %.9g %%\n", k[i], solved[i]);
    // Known to 1e-4 of it.
    ck_assert_double_eq_tol(100.0 * k[i], solved[i], 1e-4 * solved[i]);
  }
  ck_assert(k[1] > k[0]);
  ck_assert_int_eq(run("$CAVUM scan --summary best.hdf"), 0);
  ck_assert_str_eq(read_text("out"), table);
  free(table);
}
END_TEST

// A limit that is broken is told by its own numbers, and once.
START_TEST(what_is_broken_has_one_number) {
  program_write_text(folder, "goal.yaml",
                     "cell: cell.yaml\nvary:\n  iris_ellipse.axial_mm: {from: 10, to: 14}\n"
                     "hold: {frequency_MHz: 800, by: equator_radius_mm, from: 95, to: 104}\n"
                     "minimise: bpk_over_eacc_mT_per_MV_per_m\nstarts: 1\nsolves: 12\n");
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml --cell best.yaml"), 1);
  ck_assert_ptr_nonnull(strstr(read_text("out"), "\nlimits broken: frequency_MHz = "));
  ck_assert_ptr_null(strstr(read_text("out"), "limits broken by"));
  ck_assert_ptr_nonnull(strstr(read_text("out"), "at the upper bound, holds the frequency\n"));
}
END_TEST

// The narrowest column is as wide as its widest number and a blank.
START_TEST(columns_of_a_front_stay_apart) {
  program_write_text(folder, "front.yaml",
                     "cell: cell.yaml\nvary:\n  iris_radius_mm: {from: 33, to: 37}\n"
                     "  iris_ellipse.axial_mm: {from: 10, to: 14}\n"
                     "hold: {frequency_MHz: 1300, by: equator_radius_mm}\ncoupling: yes\n"
                     "minimise: bpk_over_eacc_mT_per_MV_per_m\nstarts: 1\n"
                     "limits: {epk_over_eacc: {most: 2.1}}\n"
                     "front: {k_cc: {from: 0.016, to: 0.018, points: 2}}\n");
  ck_assert_int_eq(run("$CAVUM optimise front.yaml"), 0);
  // What the points are known to as best ones is said beside what their solves are known to.
  const char *known = strstr(read_text("out"), "\nfirst-order conditions met to ");
  double residual = 1.0;
  ck_assert_ptr_nonnull(known);
  ck_assert_int_eq(sscanf(known, "\nfirst-order conditions met to %lf", &residual), 1);
  ck_assert(residual >= 0.0 && residual <= 1e-4);
  const char *row = strstr(read_text("out"), "\n  k_cc at least");
  ck_assert_ptr_nonnull(row);
  for (int i = 0; i < 2; i++) {
    char columns[5][40], word[40];
    row = strchr(row + 1, '\n');
    ck_assert_ptr_nonnull(row);
    int count = sscanf(row, "%39s %39s %39s %39s %39s", columns[0], columns[1], columns[2],
                       columns[3], word);
    ck_assert_int_eq(count, 5);
    ck_assert_ptr_nonnull(strchr(columns[2], '('));
    // A solve count, then what the point is.
    ck_assert_uint_eq(strspn(columns[3], "0123456789"), strlen(columns[3]));
    ck_assert(strcmp(word, "point") == 0 || strcmp(word, "beyond") == 0);
  }
}
END_TEST

// A piece of the wall that vanishes is a limit of the result: in the table, also of the file, in
// the report and as JSON.
START_TEST(a_piece_that_vanishes_is_among_the_limits) {
  double length = 0.0, least = 0.0;
  program_write_text(folder, "nose.yaml", NOSE);
  program_write_text(folder, "goal.yaml", "cell: nose.yaml\n" NOSE_GOAL);
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml -o best.hdf --json best.json"), 1);
  char *table = strdup(read_text("out"));
  const char *row = strstr(table, "\nLimit\n");
  ck_assert_ptr_nonnull(row);
  row = strstr(row, "\n  path[5], length, left half ");
  ck_assert_ptr_nonnull(row);
  ck_assert_int_eq(sscanf(row, "\n  path[5], length, left half %lf at least %lf", &length, &least),
                   2);
  ck_assert_ptr_nonnull(strstr(row, "at its least: it vanishes beyond\n"));
  // The diagonal of the cell is 299.67 mm.
  ck_assert_double_eq_tol(least, 0.029967, 1e-6);
  ck_assert(length >= least && length < 1.5 * least);
  ck_assert_int_eq(run("$CAVUM scan --summary best.hdf"), 0);
  ck_assert_str_eq(read_text("out"), table);
  free(table);
  ck_assert_int_eq(run("$CAVUM report best.hdf -o best.html"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("best.html"), "length of path[5] in the left half in"));
  ck_assert_ptr_nonnull(strstr(read_text("best.html"), "0.0299666"));
  json_t *root = json_loads(read_text("best.json"), 0, NULL);
  const json_t *piece = json_object_get(root, "vanishing_piece");
  ck_assert_str_eq(json_string_value(json_object_get(piece, "piece")), "path[5]");
  ck_assert_str_eq(json_string_value(json_object_get(piece, "half")), "left");
  ck_assert_str_eq(json_string_value(json_object_get(piece, "cell")), "");
  double of_json = json_real_value(json_object_get(piece, "least_length_m"));
  ck_assert_double_eq_tol(1e3 * of_json, least, 1e-6);
  json_decref(root);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_test(tests, an_objective_that_is_no_figure_of_the_mode);
  tcase_add_test(tests, what_is_broken_has_one_number);
  tcase_add_test(tests, columns_of_a_front_stay_apart);
  tcase_add_test(tests, a_piece_that_vanishes_is_among_the_limits);
}

CAVUM_TEST_MAIN("optimise_words", add)
