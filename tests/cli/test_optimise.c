// SPDX-License-Identifier: GPL-3.0-or-later
// cavum optimise: its files, exit statuses, what is left alone.
#include <check.h>
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "program.h"
#include "support.h"
#include "temporary_folder.h"
#include "test_cell.h"

static char folder[128];

#define run(...) program_run(folder, __VA_ARGS__)
#define read_text(name) program_read_text(folder, name)

#define GOAL                                             \
  "cell: cell.yaml\n"                                    \
  "vary:\n  iris_ellipse.axial_mm: {from: 10, to: 14}\n" \
  "hold: {frequency_MHz: 1300, by: equator_radius_mm}\n" \
  "minimise: bpk_over_eacc_mT_per_MV_per_m\nlimits: {wall_angle_deg: {least: 5}}\nstarts: 1\n"

static void set_up(void) {
  temporary_folder_make(folder);
  program_write_text(folder, "cell.yaml", TEST_CELL);
  program_write_text(folder, "goal.yaml", GOAL "steps: {iris_ellipse.axial_mm: 0.1}\n");
}

static void tear_down(void) { temporary_folder_delete(folder); }

// What a cell has to tell is said once, as by the other commands.
START_TEST(notes_of_the_cell_are_said) {
  program_write_text(folder, "former.yaml", TEST_CELL "accuracy: {peak_field: 1e-3}\n");
  program_write_text(folder, "former_goal.yaml",
                     "cell: former.yaml\nvary:\n  iris_ellipse.axial_mm: {from: 10, to: 14}\n"
                     "minimise: bpk_over_eacc_mT_per_MV_per_m\nstarts: 1\n");
  ck_assert_int_eq(run("$CAVUM optimise former_goal.yaml"), 0);
  const char *said = strstr(read_text("err"), "cavum: note: ");
  ck_assert_ptr_nonnull(said);
  ck_assert_ptr_nonnull(strstr(said, "peak_field"));
  ck_assert_ptr_null(strstr(said + 1, "cavum: note: "));
}
END_TEST

// A product has no unit: its starts have how much worse they are than the best, whether the product
// is to be small or large.
START_TEST(a_product_says_what_is_worse) {
  program_write_text(folder, "product.yaml",
                     "cell: cell.yaml\nvary:\n  iris_ellipse.axial_mm: {from: 10, to: 14}\n"
                     "minimise: {epk_over_eacc: 1, bpk_over_eacc_mT_per_MV_per_m: 1}\nstarts: 1\n");
  ck_assert_int_eq(run("$CAVUM optimise product.yaml --cell product_best.yaml"), 0);
  const char *table = read_text("out"), *starts = strstr(table, "\nStart");
  double of_start = 0.0;
  ck_assert_ptr_nonnull(starts);
  ck_assert_int_eq(sscanf(starts, "\nStart%*[^\n] %% worse 1 %*d %lf", &of_start), 1);
  CAVUM_CHECK_NEAR(of_start, 0.0, 1e-8);
  ck_assert_ptr_nonnull(strstr(table, "\n  iris_ellipse.axial_mm "));
  ck_assert_ptr_null(strstr(table, "contour."));
}
END_TEST

static double logarithm_of(const char *file, const char *key) {
  json_t *root = json_loads(read_text(file), 0, NULL);
  double value = json_number_value(json_object_get(root, key));
  json_decref(root);
  return value;
}

// What rounding costs of a product that is to be large: how much less of it there is, which the
// figures of both shapes tell as well.
START_TEST(rounding_costs) {
  static const char goal[] =
      "cell: cell.yaml\nvary:\n  iris_ellipse.axial_mm: {from: 10, to: 14}\n"
      "  iris_ellipse.radial_mm: {from: 12, to: 26}\n"
      "hold: {frequency_MHz: 1300, by: equator_radius_mm}\n"
      "maximise: {geometry_factor_ohm: 1, r_over_q_linac_ohm: 1}\n"
      "limits: {epk_over_eacc: {most: 2.0}}\nstarts: 2\n";
  program_write_text(folder, "exact.yaml", goal);
  char rounded[600];
  snprintf(rounded, sizeof rounded, "%ssteps: {iris_ellipse.axial_mm: 0.7}\n", goal);
  program_write_text(folder, "rounded.yaml", rounded);
  ck_assert_int_eq(run("$CAVUM optimise exact.yaml --json exact.json"), 0);
  const char *starts = strstr(read_text("out"), "\nStart");
  double worse[2];
  ck_assert_ptr_nonnull(starts);
  ck_assert_int_eq(
      sscanf(starts, "\nStart%*[^\n] %% worse 1 %*d %lf %*[^\n] 2 %*d %lf", &worse[0], &worse[1]),
      2);
  printf("starts worse by %g and %g %%\n", worse[0], worse[1]);
  ck_assert(fmin(worse[0], worse[1]) < 1e-3 && fmin(worse[0], worse[1]) > -1e-3);
  ck_assert(fmax(worse[0], worse[1]) > -1e-3);
  ck_assert_int_eq(run("$CAVUM optimise rounded.yaml --json rounded.json"), 0);
  const char *cost = strstr(read_text("out"), "\nrounding costs ");
  double percent;
  ck_assert_ptr_nonnull(cost);
  ck_assert_int_eq(sscanf(cost, "\nrounding costs %lf %% of the objective\n", &percent), 1);
  double logs =
      logarithm_of("rounded.json", "log_objective") - logarithm_of("exact.json", "log_objective");
  // Both searches end at the same shape but for what the objective is known to; three digits.
  printf("rounding costs %g %%, logarithms %g\n", percent, logs);
  ck_assert(percent > 0.0);
  CAVUM_CHECK_NEAR(percent, 100.0 * expm1(logs), 0.006 * percent + 1e-4);
}
END_TEST

START_TEST(files_are_written) {
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml --cell best.yaml -o best.hdf --json best.json"),
                   0);
  ck_assert_ptr_nonnull(strstr(read_text("out"), "holds the frequency"));
  ck_assert_ptr_nonnull(strstr(read_text("out"), "minimised: bpk_over_eacc_mT_per_MV_per_m\n"));
  const char *starts = strstr(read_text("out"), "\nStart");
  double of_start = 0.0;
  ck_assert_ptr_nonnull(starts);
  ck_assert_int_eq(sscanf(starts, "\nStart%*[^\n] mT/(MV/m) 1 %*d %lf", &of_start), 1);
  json_t *root = json_loads(read_text("best.json"), 0, NULL);
  ck_assert_ptr_nonnull(root);
  const json_t *dimension =
      json_object_get(json_object_get(root, "dimensions"), "contour.iris_ellipse.axial_mm");
  double tenths = 10.0 * json_real_value(json_object_get(dimension, "value"));
  printf("iris ellipse %.17g tenths\n", tenths);
  // A multiple of the step, as a decimal.
  ck_assert_double_eq_tol(tenths, (double)(long)(tenths + 0.5), 1e-12);
  ck_assert(json_is_true(json_object_get(root, "first_order_conditions_met")));
  ck_assert(json_array_size(json_object_get(root, "path")) > 1);
  json_decref(root);
  ck_assert_int_eq(run("$CAVUM solve best.yaml --json -"), 0);
  root = json_loads(read_text("out"), 0, NULL);
  const json_t *mode = json_array_get(json_object_get(root, "modes"), 0);
  const json_t *f = json_object_get(mode, "frequency_Hz");
  ck_assert_double_eq_tol(json_number_value(json_object_get(f, "value")), 1.3e9, 1.3e3);
  const json_t *peak = json_object_get(mode, "bpk_over_eacc_mT_per_MV_per_m");
  // Rounding an axis by at most 0.05 mm changes it by less than a percent.
  double best = json_number_value(json_object_get(peak, "value"));
  CAVUM_CHECK_RELATIVE(of_start, best, 0.01);
  json_decref(root);
  // Its own results are replaced, a cell file never.
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml -o best.hdf --json best.json -q"), 0);
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml --cell best.yaml"), 2);
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml --cell cell.yaml --overwrite"), 2);
}
END_TEST

// The page says what was sought, with the numbers of the JSON.
static void check_objective(const char *page, json_t *objective) {
  const char *key = NULL, *table = strstr(page, "Objective");
  json_t *term = NULL;
  ck_assert_ptr_nonnull(table);
  ck_assert_int_eq(json_object_size(objective), 1);
  json_object_foreach(objective, key, term) {
    const char *row = strstr(table, "<tbody>");  // of one figure
    ck_assert_ptr_nonnull(row);
    const char *before = strstr(row, "data-label=\"before\">"),
               *best = strstr(row, "data-label=\"best\">");
    double value = json_number_value(json_object_get(term, "value"));
    double old = json_number_value(json_object_get(term, "before"));
    CAVUM_CHECK_NEAR(strtod(strchr(before, '>') + 1, NULL), old, 1e-6 * old);
    // As many digits as the uncertainty leaves.
    CAVUM_CHECK_NEAR(strtod(strchr(best, '>') + 1, NULL), value,
                     json_number_value(json_object_get(term, "uncertainty")));
    const char *word =
        json_number_value(json_object_get(term, "power")) > 0.0 ? "least<" : "largest<";
    const char *aim = strstr(row, "data-label=\"aim\">");
    ck_assert_int_eq(strncmp(strchr(aim, '>') + 1, word, strlen(word)), 0);
  }
}

// The file of the best cell tells the search as the command did, draws its path and reports it.
START_TEST(the_file_tells_the_search) {
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml -o best.hdf"), 0);
  char *told = strdup(read_text("out"));
  ck_assert_int_eq(run("$CAVUM scan --summary best.hdf"), 0);
  ck_assert_str_eq(read_text("out"), told);
  free(told);
  ck_assert_int_eq(run("$CAVUM scan --summary --json - best.hdf"), 0);
  json_t *root = json_loads(read_text("out"), 0, NULL);
  ck_assert_ptr_nonnull(root);
  ck_assert(json_array_size(json_object_get(root, "path")) > 1);
  ck_assert_int_eq(run("$CAVUM scan --summary best.hdf --csv x.csv"), 2);
  ck_assert_int_eq(run("$CAVUM draw best.hdf -o path.svg --view search"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("path.svg"), "residual of the first-order conditions"));
  ck_assert_int_eq(run("$CAVUM report best.hdf -o best.html"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("best.html"), "id=\"search\""));
  ck_assert_ptr_nonnull(strstr(read_text("best.html"), "holds the frequency"));
  check_objective(read_text("best.html"), json_object_get(root, "objective"));
  json_decref(root);
  // A result that no search led to has no path.
  ck_assert_int_eq(run("$CAVUM solve cell.yaml -q -o cell.hdf"), 0);
  ck_assert_int_eq(run("$CAVUM draw cell.hdf -o path.svg --overwrite --view search"), 2);
  ck_assert_ptr_nonnull(strstr(read_text("err"), "no search"));
  ck_assert_int_eq(run("$CAVUM scan --summary cell.hdf"), 2);
}
END_TEST

// A free wall is told with what it brings; both cells are files that solve takes.
START_TEST(a_free_wall_is_compared) {
  program_write_text(folder, "free.yaml",
                     "cell: cell.yaml\n"
                     "vary:\n  iris_ellipse.axial_mm: {from: 10, to: 14}\n"
                     "hold: {frequency_MHz: 1300, by: equator_radius_mm}\n"
                     "maximise: r_over_q_linac_ohm\nstarts: 1\n"
                     "free_wall: {points: 6, within_mm: 3, iris_side_radius_mm: 6}\n");
  ck_assert_int_eq(run("$CAVUM optimise free.yaml --cell free-cell.yaml -o free.hdf"), 0);
  char *told = strdup(read_text("out"));
  const char *lines = strstr(told, "best two ellipses"), *gain = strstr(told, "gain of the");
  double two = 0.0, spline = 0.0, best = 0.0, percent = 0.0;
  ck_assert_ptr_nonnull(lines);
  ck_assert_ptr_nonnull(gain);
  ck_assert_int_eq(sscanf(lines,
                          "best two ellipses %lf ohm spline through points of it %lf ohm best free "
                          "wall %lf ohm gain of the free wall %lf",
                          &two, &spline, &best, &percent),
                   4);
  CAVUM_CHECK_NEAR(percent, 100.0 * (1.0 - two / best), 0.01);
  ck_assert(best > two);
  ck_assert_int_eq(run("$CAVUM solve free-cell.yaml --json -"), 0);
  json_t *root = json_loads(read_text("out"), 0, NULL);
  const json_t *mode = json_array_get(json_object_get(root, "modes"), 0);
  const json_t *ohm = json_object_get(mode, "r_over_q_linac_ohm");
  CAVUM_CHECK_RELATIVE(json_number_value(json_object_get(ohm, "value")), best, 1e-4);
  json_decref(root);
  ck_assert_int_eq(run("$CAVUM solve free-cell-two-ellipse.yaml -q -o two.hdf"), 0);
  // Figures are solved once more for the file, with derivatives, that is without the mirror plane:
  // their uncertainties are others, what was searched for is the same.
  ck_assert_int_eq(run("$CAVUM scan --summary free.hdf"), 0);
  const char *again = strstr(read_text("out"), "Free wall");
  lines = strstr(told, "Free wall");
  ck_assert_ptr_nonnull(again);
  ck_assert(strncmp(again, lines, (size_t)(strstr(lines, "\nFigure") - lines)) == 0);
  ck_assert_int_eq(run("$CAVUM report free.hdf -o free.html"), 0);
  free(told);
  // Neither of the two is replaced.
  ck_assert_int_eq(run("rm free-cell.yaml; $CAVUM optimise free.yaml --cell free-cell.yaml"), 2);
}
END_TEST

#define WALL                                             \
  "cell: cell.yaml\n"                                    \
  "vary:\n  iris_ellipse.axial_mm: {from: 10, to: 14}\n" \
  "hold: {frequency_MHz: 1300, by: equator_radius_mm}\n" \
  "maximise: r_over_q_linac_ohm\nstarts: 2\n"

static json_t *read_json(const char *name) {
  json_t *root = json_loads(read_text(name), 0, NULL);
  ck_assert_ptr_nonnull(root);
  return root;
}

static void check_frequency(const char *cell) {
  char command[160];
  snprintf(command, sizeof command, "$CAVUM solve %s --json -", cell);
  ck_assert_int_eq(run("%s", command), 0);
  json_t *root = read_json("out");
  const json_t *mode = json_array_get(json_object_get(root, "modes"), 0);
  const json_t *f = json_object_get(json_object_get(mode, "frequency_Hz"), "value");
  // A millionth is the accuracy asked for of a frequency.
  ck_assert_double_eq_tol(json_number_value(f), 1.3e9, 1.3e3);
  json_decref(root);
}

// No start meets conditions to 1e-14, which is below rounding, but what it came to keeps the
// limits.
START_TEST(not_proven_best_is_written_and_labelled) {
  program_write_text(folder, "goal.yaml", GOAL "tolerance: 1e-14\nsolves: 7\n");
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml --cell best.yaml -o best.hdf --json best.json"),
                   1);
  char *told = strdup(read_text("out"));
  ck_assert_ptr_nonnull(strstr(told, "NOT PROVEN BEST"));
  ck_assert_ptr_nonnull(strstr(told, "out-of-solves, the best"));
  ck_assert_ptr_nonnull(strstr(told, "\nnot proven best: first-order conditions are met to "));
  ck_assert_ptr_nonnull(strstr(told, "(1e-14 is asked for)\n"));
  ck_assert_ptr_nonnull(strstr(read_text("err"), "not proven best"));
  ck_assert_ptr_nonnull(strstr(read_text("err"), "within their accuracy"));
  static const char label[] = "# cavum optimise: NOT PROVEN BEST: out-of-solves";
  ck_assert_int_eq(strncmp(read_text("best.yaml"), label, sizeof label - 1), 0);
  check_frequency("best.yaml");
  json_t *root = read_json("best.json");
  ck_assert(json_is_false(json_object_get(root, "first_order_conditions_met")));
  ck_assert(json_is_true(json_object_get(root, "within_limits")));
  const char *why = json_string_value(json_object_get(root, "unproven"));
  ck_assert_ptr_nonnull(why);
  ck_assert_ptr_nonnull(strstr(told, why));
  ck_assert_str_eq(json_string_value(json_object_get(root, "end")), "out-of-solves");
  json_decref(root);
  ck_assert_int_eq(run("$CAVUM scan --summary best.hdf"), 0);
  ck_assert_str_eq(read_text("out"), told);
  free(told);
  ck_assert_int_eq(run("$CAVUM report best.hdf -o best.html"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("best.html"), "Not proven best"));
  // A search that starts from it and converges has no such label.
  ck_assert_int_eq(run("sed 's/cell: cell/cell: best/; s/1e-14/1e-4/' goal.yaml > again.yaml; "
                       "$CAVUM optimise again.yaml --cell again-best.yaml"),
                   0);
  ck_assert_ptr_null(strstr(read_text("again-best.yaml"), "PROVEN"));
}
END_TEST

// A frequency that is 3 % off takes several steps: a search that may not take them is out of
// solves, not at an end. What it came to is written for another search to go on from.
START_TEST(out_of_solves_before_the_limits_are_met) {
  program_write_text(folder, "goal.yaml", GOAL "solves: 2\n");
  ck_assert_int_eq(run("sed -i 's/1300/1340/' goal.yaml"), 0);
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml --cell best.yaml -o best.hdf --json best.json"),
                   1);
  char *told = strdup(read_text("out"));
  ck_assert_ptr_nonnull(strstr(told, "OUT OF SOLVES before the limits were met"));
  ck_assert_ptr_null(strstr(told, "infeasible"));
  ck_assert_ptr_nonnull(strstr(told, "BROKEN by"));
  ck_assert_ptr_nonnull(strstr(read_text("err"), "out of solves before the limits were met"));
  static const char label[] = "# cavum optimise: NO BEST SHAPE: out of solves, limits broken: ";
  ck_assert_int_eq(strncmp(read_text("best.yaml"), label, sizeof label - 1), 0);
  json_t *root = read_json("best.json");
  ck_assert_str_eq(json_string_value(json_object_get(root, "end")), "out-of-solves");
  ck_assert(json_is_false(json_object_get(root, "within_limits")));
  json_decref(root);
  ck_assert_int_eq(run("$CAVUM scan --summary best.hdf"), 0);
  ck_assert_str_eq(read_text("out"), told);
  free(told);
  ck_assert_int_eq(run("$CAVUM report best.hdf -o best.html"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("best.html"), "Out of solves before the limits"));
  ck_assert_ptr_null(strstr(read_text("best.html"), "keeps every limit"));
  // Another search goes on from it and has no such label.
  ck_assert_int_eq(run("sed 's/cell: cell/cell: best/; s/solves: 2/solves: 30/' goal.yaml > "
                       "again.yaml; $CAVUM optimise again.yaml --cell again-best.yaml"),
                   0);
  ck_assert_ptr_null(strstr(read_text("again-best.yaml"), "NO BEST"));
}
END_TEST

// The search for the free wall runs out of solves: what it came to is written, and the best two
// ellipses with a table of their own.
START_TEST(a_free_wall_that_is_not_proven_best) {
  program_write_text(folder, "free.yaml",
                     WALL
                     "tolerance: 1e-10\nsolves: 8\n"
                     "free_wall: {points: 6, within_mm: 3, iris_side_radius_mm: 6}\n");
  ck_assert_int_eq(run("$CAVUM optimise free.yaml --cell b.yaml -o b.hdf --json b.json"), 1);
  char *told = strdup(read_text("out"));
  ck_assert_ptr_nonnull(strstr(read_text("err"), "free wall: not proven best"));
  ck_assert_ptr_nonnull(strstr(told, "NOT PROVEN BEST"));
  ck_assert_ptr_nonnull(strstr(told, "from 2 starts of two ellipses"));
  const char *own = strstr(told, "\nBest two ellipses");
  ck_assert_ptr_nonnull(own);
  const char *axis = strstr(own, "\n  iris_ellipse.axial_mm");
  double before = 0.0, best = 0.0;
  ck_assert_ptr_nonnull(axis);
  ck_assert_int_eq(sscanf(axis, "%*s %lf %lf", &before, &best), 2);
  ck_assert_double_eq(before, 12.0);
  json_t *root = read_json("b.json");
  const json_t *wall = json_object_get(root, "free_wall");
  const json_t *two = json_object_get(wall, "two_ellipse");
  ck_assert(json_is_true(json_object_get(wall, "taken")));
  ck_assert(json_is_false(json_object_get(root, "first_order_conditions_met")));
  ck_assert(json_is_true(json_object_get(two, "first_order_conditions_met")));
  ck_assert_int_eq((int)json_array_size(json_object_get(two, "starts")), 2);
  const json_t *value = json_object_get(
      json_object_get(json_object_get(two, "dimensions"), "contour.iris_ellipse.axial_mm"),
      "value");
  CAVUM_CHECK_RELATIVE(json_number_value(value), best, 1e-8);  // nine digits
  json_decref(root);
  ck_assert_ptr_nonnull(strstr(read_text("b.yaml"), "NOT PROVEN BEST"));
  ck_assert_ptr_null(strstr(read_text("b-two-ellipse.yaml"), "PROVEN"));
  check_frequency("b.yaml");
  check_frequency("b-two-ellipse.yaml");
  // The file tells both searches; figures of the free wall are solved once more for it.
  ck_assert_int_eq(run("$CAVUM scan --summary b.hdf"), 0);
  const char *again = strstr(read_text("out"), "\nBest two ellipses");
  ck_assert_ptr_nonnull(again);
  ck_assert_str_eq(again, own);
  free(told);
}
END_TEST

static const struct {
  const char *wall, *says;
  int exit_status;
} no_better[] = {
    // Points that may hardly move leave the spline with what it lost against the ellipses.
    {"{points: 6, within_mm: 0.02, iris_side_radius_mm: 4, equator_side_radius_mm: 20}",
     "converged", 0},
    // Two points cannot follow the iris: it is bent more than the ellipse everywhere.
    {"{points: 2, within_mm: 0.01}", "breaks a limit by ", 1}};

START_TEST(a_free_wall_that_is_no_better) {
  char goal[600];
  snprintf(goal, sizeof goal, WALL "free_wall: %s\n", no_better[_i].wall);
  program_write_text(folder, "free.yaml", goal);
  ck_assert_int_eq(run("$CAVUM optimise free.yaml --cell b.yaml -o b.hdf --json b.json"),
                   no_better[_i].exit_status);
  const char *line = strstr(read_text("out"), "NO BETTER WALL");
  ck_assert_ptr_nonnull(line);
  ck_assert_ptr_nonnull(strstr(line, no_better[_i].says));
  ck_assert_ptr_nonnull(strstr(read_text("out"), ": best shape after"));
  if (no_better[_i].exit_status != 0) {
    ck_assert_ptr_nonnull(strstr(read_text("err"), "the result is the best of two ellipses"));
  }
  ck_assert_int_eq(run("cmp b.yaml b-two-ellipse.yaml"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("b.yaml"), "kind: two-ellipse"));
  json_t *root = read_json("b.json");
  ck_assert(json_is_true(json_object_get(root, "first_order_conditions_met")));
  ck_assert(json_is_false(json_object_get(json_object_get(root, "free_wall"), "taken")));
  json_decref(root);
  ck_assert_int_eq(run("$CAVUM scan --summary b.hdf"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("out"), "NO BETTER WALL"));
}
END_TEST

// The cup of the cell at the end of a row, with a tube, shares the dimensions: each has its file.
START_TEST(cells_that_share_dimensions) {
  ck_assert_int_eq(run("sed 's/right: {kind: magnetic}/right: {kind: tube, length_mm: 120, close: "
                       "electric}/' cell.yaml > end.yaml"),
                   0);
  program_write_text(folder, "goal.yaml", "cells: {end: {cell: end.yaml}}\n" GOAL "solves: 20\n");
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml --cell best.yaml -o best.hdf"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("out"), "Figure of end"));
  char *told = strdup(read_text("out"));
  ck_assert_ptr_nonnull(strstr(read_text("best-end.yaml"), "kind: tube"));
  ck_assert_int_eq(run("$CAVUM scan --summary best.hdf"), 0);
  ck_assert_str_eq(read_text("out"), told);
  free(told);
  // Neither cell file is replaced.
  ck_assert_int_eq(run("rm best.yaml; $CAVUM optimise goal.yaml --cell best.yaml"), 2);
  ck_assert_ptr_nonnull(strstr(read_text("err"), "best-end.yaml"));
}
END_TEST

// Tolerances of a file of the workshop: what the worst case costs is told, stored, and told again.
START_TEST(worst_case_within_tolerances) {
  program_write_text(folder, "shop.yaml", "tolerances: {iris_ellipse.axial_mm: {normal: 0.1}}\n");
  program_write_text(folder, "goal.yaml", GOAL "robust: {deviations: 2, tolerances: shop.yaml}\n");
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml -o best.hdf --json best.json"), 0);
  char *told = strdup(read_text("out"));
  ck_assert_ptr_nonnull(strstr(told, "2 standard deviations"));
  ck_assert_ptr_nonnull(strstr(told, "nominal best shape"));
  ck_assert_int_eq(run("$CAVUM scan --summary best.hdf"), 0);
  ck_assert_str_eq(read_text("out"), told);
  free(told);
  json_t *root = json_loads(read_text("best.json"), 0, NULL);
  const json_t *robust = json_object_get(root, "robust");
  ck_assert_double_eq(json_number_value(json_object_get(robust, "deviations")), 2.0);
  ck_assert(json_integer_value(json_object_get(robust, "passes")) > 0);
  const json_t *margin = json_object_get(json_object_get(robust, "margins"), "wall_angle_deg");
  ck_assert_double_gt(json_number_value(margin), 0.0);
  json_decref(root);
}
END_TEST

// Starts are searches without tolerances: they are compared with the best of these, in table and
// report. Against the worst case they seemed better than the best.
START_TEST(starts_are_nominal) {
  double of_start = NAN;
  program_write_text(folder, "shop.yaml",
                     "tolerances: {equator_ellipse.axial_mm: {normal: 0.1}}\n");
  program_write_text(folder, "product.yaml",
                     "cell: cell.yaml\nvary:\n  iris_ellipse.axial_mm: {from: 10, to: 14}\n"
                     "minimise: {epk_over_eacc: 1, bpk_over_eacc_mT_per_MV_per_m: 1}\nstarts: 1\n"
                     "limits: {wall_angle_deg: {least: 5}}\n"
                     "robust: {deviations: 2, tolerances: shop.yaml}\n");
  ck_assert_int_eq(run("$CAVUM optimise product.yaml -o product.hdf"), 0);
  const char *starts = strstr(read_text("out"), "\nStart");
  ck_assert_ptr_nonnull(starts);
  ck_assert_int_eq(sscanf(strstr(starts, "% worse"), "%% worse 1 %*d %lf", &of_start), 1);
  CAVUM_CHECK_NEAR(of_start, 0.0, 1e-8);
  ck_assert_ptr_nonnull(strstr(starts, "without tolerances"));
  ck_assert_int_eq(run("$CAVUM report product.hdf -o product.html"), 0);
  const char *table = strstr(read_text("product.html"), "Starts, without tolerances");
  ck_assert_ptr_nonnull(table);
  const char *row = strstr(table, "converged</td>");
  ck_assert_ptr_nonnull(row);
  const char *cell = strstr(row, "data-label=\"worse by, %\">");
  ck_assert_ptr_nonnull(cell);
  CAVUM_CHECK_NEAR(strtod(strchr(cell, '>') + 1, NULL), 0.0, 1e-8);
}
END_TEST

// Tolerances are taken into account from a nominal best shape on: where the search for that ends
// before, they are left out, which message, table, JSON and report say.
START_TEST(tolerances_left_out_are_said) {
  program_write_text(folder, "shop.yaml", "tolerances: {iris_ellipse.axial_mm: {normal: 0.3}}\n");
  program_write_text(folder, "goal.yaml",
                     GOAL "solves: 2\nrobust: {value: mean, tolerances: shop.yaml}\n");
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml -o best.hdf --json best.json"), 1);
  ck_assert_ptr_nonnull(strstr(read_text("err"), "tolerances are left out"));
  ck_assert_ptr_nonnull(strstr(read_text("out"), "\nTOLERANCES LEFT OUT: "));
  ck_assert_ptr_nonnull(strstr(read_text("best.json"), "\"robust_left_out\": true"));
  ck_assert_int_eq(run("$CAVUM report best.hdf -o best.html"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("best.html"), "TOLERANCES LEFT OUT: "));
}
END_TEST

// The mean likewise: which of both it is, and what it costs.
START_TEST(mean_over_tolerances) {
  program_write_text(folder, "shop.yaml", "tolerances: {iris_ellipse.axial_mm: {normal: 0.3}}\n");
  program_write_text(folder, "goal.yaml", GOAL "robust: {value: mean, tolerances: shop.yaml}\n");
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml -o best.hdf --json best.json"), 0);
  char *told = strdup(read_text("out"));
  ck_assert_ptr_nonnull(strstr(told, "Means over the tolerances (second order)"));
  ck_assert_ptr_nonnull(strstr(told, "tolerances cost"));
  ck_assert_ptr_null(strstr(told, "worst case"));
  ck_assert_int_eq(run("$CAVUM scan --summary best.hdf"), 0);
  ck_assert_str_eq(read_text("out"), told);
  free(told);
  json_t *root = json_loads(read_text("best.json"), 0, NULL);
  const json_t *robust = json_object_get(root, "robust");
  ck_assert_str_eq(json_string_value(json_object_get(robust, "value")), "mean");
  ck_assert(json_is_null(json_object_get(robust, "deviations")));
  ck_assert(json_integer_value(json_object_get(robust, "solves")) > 0);
  const json_t *margin = json_object_get(json_object_get(robust, "margins"), "wall_angle_deg");
  ck_assert_double_ne(json_number_value(margin), 0.0);
  json_decref(root);
  // A mean has no deviations.
  ck_assert_int_eq(run("sed -i 's/value: mean/value: mean, deviations: 2/' goal.yaml; $CAVUM "
                       "optimise goal.yaml"),
                   2);
  ck_assert_ptr_nonnull(strstr(read_text("err"), "robust.deviations: a mean has none"));
}
END_TEST

// A limit that no shape of the ranges meets is said to be broken, and by how much: the frequency is
// held, so that E_pk/E_acc is above 1 in each of them.
START_TEST(a_broken_limit_is_said_to_be_broken) {
  program_write_text(folder, "goal.yaml", GOAL "solves: 60\n");
  ck_assert_int_eq(run("sed -i 's/limits:.*/limits: {epk_over_eacc: {most: 1.5}, wall_angle_deg: "
                       "{least: 1}}/' goal.yaml; $CAVUM optimise goal.yaml --cell b.yaml -o b.hdf "
                       "--json best.json"),
                   1);
  ck_assert_int_eq(run("test -e b.yaml || test -e b.hdf"), 1);
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml"), 1);
  // Which limit, its value, the limit, and the difference. The frequency is kept.
  double told = 0.0, beyond = 0.0, share = 0.0;
  const char *said = strstr(read_text("err"), "epk_over_eacc = ");
  ck_assert_ptr_nonnull(said);
  ck_assert_int_eq(
      sscanf(said, "epk_over_eacc = %lf breaks the limit of at most 1.5 by %lf (%lf %%)", &told,
             &beyond, &share),
      3);
  CAVUM_CHECK_NEAR(told - 1.5, beyond, 0.006 * beyond);         // three digits
  CAVUM_CHECK_NEAR(100.0 * beyond / 1.5, share, 0.06 * share);  // two digits
  ck_assert_ptr_nonnull(strstr(read_text("out"), ": epk_over_eacc = "));
  // Nothing is told of conditions that say nothing where limits are broken, nor of what room
  // brings.
  ck_assert_ptr_null(strstr(read_text("out"), "first-order"));
  ck_assert_ptr_null(strstr(read_text("out"), "relaxed by"));
  const char *limit = strstr(read_text("out"), "\nLimit\n");
  ck_assert_ptr_nonnull(limit);
  double value = 0.0, by = 0.0;
  ck_assert_int_eq(
      sscanf(limit, "\nLimit\n epk_over_eacc %lf at most 1.5 BROKEN by %lf", &value, &by), 2);
  CAVUM_CHECK_NEAR(by, value - 1.5, 5e-3);  // three digits
  ck_assert_ptr_nonnull(strstr(strstr(limit, "wall_angle_deg"), "not active"));
  json_t *root = json_loads(read_text("best.json"), 0, NULL);
  const json_t *limits = json_object_get(root, "limits");
  const json_t *broken = json_object_get(limits, "epk_over_eacc");
  CAVUM_CHECK_NEAR(json_number_value(json_object_get(broken, "broken_by")),
                   json_number_value(json_object_get(broken, "value")) - 1.5, 1e-12);
  const json_t *kept = json_object_get(limits, "wall_angle_deg");
  ck_assert_double_eq(json_number_value(json_object_get(kept, "broken_by")), 0.0);
  json_decref(root);
}
END_TEST

// What relaxing a limit gains stands in report and table alike, in units; the path has a title.
START_TEST(pictures_and_reports_have_units) {
  program_write_text(folder, "goal.yaml", "title: Low peak\n" GOAL);
  ck_assert_int_eq(
      run("sed -i 's/wall_angle_deg: {least: 5}/wall_angle_deg: {least: 5}, "
          "geometry_factor_ohm: {least: 270}/' goal.yaml; $CAVUM optimise goal.yaml -o "
          "best.hdf"),
      0);
  const char *cost = strstr(read_text("out"), "relaxed by 0.1 ohm: gains ");
  ck_assert_ptr_nonnull(cost);
  char told[80];
  ck_assert_int_eq(sscanf(cost, "%79[^\n]", told), 1);
  ck_assert_ptr_nonnull(strstr(told, "mT/(MV/m)"));
  ck_assert_int_eq(run("$CAVUM report best.hdf -o best.html && $CAVUM draw best.hdf --view search "
                       "-o path.svg"),
                   0);
  char shown[96];  // With the letters of a page, which a power of ten has as well.
  const char *digits = told + strlen("relaxed by 0.1 ohm: gains ");
  snprintf(shown, sizeof shown, "relaxed by 0.1 \xce\xa9: gains %.*s",
           (int)strspn(digits, "0123456789."), digits);
  ck_assert_ptr_nonnull(strstr(read_text("best.html"), shown));
  ck_assert_ptr_null(strstr(read_text("best.html"), "0.1 unit more"));
  const char *path = read_text("path.svg");
  ck_assert_ptr_nonnull(strstr(path, ">Low peak</text>"));
  ck_assert_ptr_nonnull(strstr(path, ">How far each solve of the start that led to the best"));
  // The floor of a logarithmic axis is told: 10 to the power of minus 12.
  ck_assert_ptr_nonnull(strstr(path, "Values below 10\xe2\x81\xbb\xc2\xb9\xc2\xb2 are not drawn"));
}
END_TEST

// A study with three aims has a front in three: rings where no shape is better in all, no line, and
// as many of them as the summary counts. A dimension on an axis has its name and unit.
START_TEST(a_front_in_three_is_no_line) {
  program_write_text(folder, "study.yaml",
                     "cell: cell.yaml\nvary:\n  iris_ellipse.axial_mm: {from: 10, to: 14}\n"
                     "  iris_radius_mm: {from: 34, to: 38}\nsampling: {kind: sobol, points: 12}\n"
                     "aims: [epk_over_eacc, bpk_over_eacc_mT_per_MV_per_m, "
                     "geometry_factor_ohm:larger]\n");
  ck_assert_int_eq(run("$CAVUM scan study.yaml -q -o s.hdf && $CAVUM scan --summary s.hdf --json - "
                       ">s.json && $CAVUM draw s.hdf -o s.svg && $CAVUM draw s.hdf -o x.svg --x "
                       "iris_ellipse.axial_mm && $CAVUM report s.hdf -o s.html"),
                   0);
  int rings = 0;
  json_t *root = json_loads(read_text("s.json"), 0, NULL);
  const char *key = strstr(read_text("s.svg"), "better in all three");
  ck_assert_ptr_nonnull(key);
  ck_assert_int_eq(sscanf(strstr(key, "): "), "): %d", &rings), 1);
  size_t summed = json_array_size(json_object_get(root, "non_dominated"));
  printf("%d rings, %zu shapes in the summary\n", rings, summed);
  ck_assert_uint_eq(summed, (size_t)rings);
  json_decref(root);
  ck_assert_ptr_nonnull(strstr(read_text("s.html"), "better in all three"));
  ck_assert_ptr_nonnull(strstr(read_text("s.html"), "\"stepsBefore\":null"));
  ck_assert_ptr_nonnull(strstr(read_text("x.svg"), ">iris ellipse, axial in mm</text>"));
  ck_assert_ptr_null(strstr(read_text("x.svg"), "axial_mm"));
}
END_TEST

// A step of the workshop that the range has no room for is refused by one line, with both numbers.
START_TEST(a_step_beyond_its_range_is_refused) {
  program_write_text(folder, "goal.yaml", GOAL "steps: {iris_ellipse.axial_mm: 5}\n");
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml --cell best.yaml"), 2);
  ck_assert_str_eq(strchr(read_text("err"), '\n'), "\n");
  ck_assert_ptr_nonnull(strstr(read_text("err"),
                               "steps.iris_ellipse.axial_mm: a step of 5 is more "
                               "than its range, 10 to 14"));
  ck_assert_int_eq(run("sed -i 's/axial_mm: 5}/axial_mm: 0}/' goal.yaml; $CAVUM optimise "
                       "goal.yaml"),
                   2);
  ck_assert_ptr_nonnull(strstr(read_text("err"), "expected a step above 0"));
  ck_assert_int_eq(run("test -e best.yaml"), 1);
}
END_TEST

// What the workshop cannot make is written and labelled: the frequency is an equation that the
// rounded dimensions alone would have to meet.
START_TEST(what_cannot_be_rounded_is_labelled) {
  program_write_text(folder, "goal.yaml",
                     "cell: cell.yaml\nvary:\n  iris_ellipse.axial_mm: {from: 10, to: 14}\n"
                     "  equator_radius_mm: {from: 100, to: 106}\n"
                     "minimise: bpk_over_eacc_mT_per_MV_per_m\n"
                     "limits: {frequency_MHz: {is: 1300}}\nstarts: 1\n"
                     "steps: {iris_ellipse.axial_mm: 0.5, equator_radius_mm: 0.5}\n");
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml --cell best.yaml -o best.hdf --json best.json"),
                   1);
  ck_assert_ptr_nonnull(
      strstr(read_text("err"), "not rounded: no way that was tried of rounding to the steps"));
  ck_assert_ptr_nonnull(
      strstr(read_text("out"),
             "NOT ROUNDED: no way that was tried of rounding to the steps keeps the limits"));
  ck_assert_ptr_null(strstr(read_text("out"), "rounded to the steps: dimensions"));
  const char *cell = read_text("best.yaml");
  ck_assert_int_eq(strncmp(cell, "# cavum optimise: NOT ROUNDED: ", 31), 0);
  ck_assert_ptr_null(strstr(strchr(cell, '\n'), "NOT ROUNDED"));
  json_t *root = json_loads(read_text("best.json"), 0, NULL);
  ck_assert(json_is_true(json_object_get(root, "not_rounded")));
  ck_assert_double_gt(json_number_value(json_object_get(root, "rounding_violation")), 1e-6);
  const char *broken = json_string_value(json_object_get(root, "rounding_broken"));
  double f = 0.0, by = 0.0;
  ck_assert_ptr_nonnull(broken);
  ck_assert_int_eq(
      sscanf(broken, "frequency_MHz = %lf MHz breaks the limit of exactly 1300 MHz by %lf MHz", &f,
             &by),
      2);
  CAVUM_CHECK_NEAR(fabs(f - 1300.0), by, 0.006 * by + 0.006);  // six and three digits
  ck_assert_ptr_nonnull(strstr(read_text("out"), broken));
  ck_assert_ptr_nonnull(strstr(read_text("err"), broken));
  ck_assert_ptr_nonnull(strstr(cell = read_text("best.yaml"), broken));
  json_decref(root);
  ck_assert_int_eq(run("$CAVUM scan --summary best.hdf"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("out"), "breaks the limit of exactly 1300 MHz"));
  ck_assert_int_eq(run("$CAVUM report best.hdf -o best.html"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("best.html"), "Not rounded: no way"));
}
END_TEST

// A title of the most bytes, whose letters have two: what the result is called is cut within it.
START_TEST(a_long_title_does_not_lose_the_search) {
  ck_assert_int_eq(
      run("(printf 'title: ' && printf '\xc3\xa9%%.0s' $(seq 100) && echo) >long.yaml && "
          "sed '/^title/d' cell.yaml >>long.yaml"),
      0);
  program_write_text(folder, "goal.yaml",
                     "cell: long.yaml\nvary:\n  iris_ellipse.axial_mm: {from: 11, to: 13}\n"
                     "hold: {frequency_MHz: 1300, by: equator_radius_mm, from: 100, to: 106}\n"
                     "minimise: bpk_over_eacc_mT_per_MV_per_m\nstarts: 1\n");
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml -q -o best.hdf --cell best.yaml && "
                       "$CAVUM solve best.yaml -q -o solved.hdf"),
                   0);
  program_write_text(folder, "steps.yaml",
                     "cell: long.yaml\nsteps: [{name: bulk, remove: {depth_um: 120}}]\n");
  ck_assert_int_eq(run("$CAVUM steps steps.yaml -q --cell shape.yaml && $CAVUM solve shape.yaml"),
                   0);
  const char *title = read_text("out"), *end = strchr(title, '\n');
  ck_assert_ptr_nonnull(end);
  static const char after[] = "..., after step bulk";
  ck_assert_int_le(end - title, 200);
  ck_assert_int_eq(strncmp(end - strlen(after), after, strlen(after)), 0);
}
END_TEST

// 1.3 where MHz are held: no cell of these bounds is at 1.3 MHz.
START_TEST(a_slip_of_units_is_asked_about) {
  program_write_text(folder, "goal.yaml",
                     "cell: cell.yaml\nvary:\n  iris_ellipse.axial_mm: {from: 11, to: 13}\n"
                     "hold: {frequency_MHz: 1.3, by: equator_radius_mm, from: 100, to: 106}\n"
                     "minimise: bpk_over_eacc_mT_per_MV_per_m\n"
                     "limits: {epk_over_eacc: {most: 0.7}}\nstarts: 1\n");
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml"), 1);
  double f = 0.0, by = 0.0, of_peak = 0.0, percent = 0.0;
  char word[16] = "";
  const char *told = strstr(read_text("err"), "frequency_MHz = "), *peak;
  ck_assert_ptr_nonnull(told);
  ck_assert_int_eq(sscanf(told,
                          "frequency_MHz = %lf MHz breaks the limit of exactly 1.3 MHz by %lf MHz "
                          "(a %15s of units?)",
                          &f, &by, word),
                   3);
  ck_assert_str_eq(word, "slip");
  CAVUM_CHECK_NEAR(f - 1.3, by, 0.006 * by);
  // Other limits that are broken by more than themselves have no exponent.
  peak = strstr(told, "epk_over_eacc by ");
  ck_assert_ptr_nonnull(peak);
  ck_assert_int_eq(sscanf(peak, "epk_over_eacc by %lf (%lf %%)", &of_peak, &percent), 2);
  CAVUM_CHECK_NEAR(percent, 100.0 * of_peak / 0.7, 1.0);
  ck_assert_ptr_null(strstr(peak, "e+"));
}
END_TEST

// A front: a column for each limit and figure, and each figure with its uncertainty in parentheses.
START_TEST(a_front_is_a_table) {
  program_write_text(folder, "goal.yaml",
                     GOAL "front: {epk_over_eacc: {from: 2.0, to: 2.4, points: 2}}\n");
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml"), 0);
  const char *heading = strstr(read_text("out"), "\n  epk_over_eacc at most  bpk_over_eacc");
  printf("%s\n", read_text("out"));
  ck_assert_ptr_nonnull(heading);
  double limit = 0.0;
  char objective[40] = "", figure[40] = "";
  ck_assert_int_eq(sscanf(heading, "\n%*[^\n] %lf %39s %39s", &limit, objective, figure), 3);
  ck_assert_double_eq(limit, 2.4);
  for (const char *text = objective; text; text = text == objective ? figure : NULL) {
    double value = 0.0;
    int uncertainty = 0;
    char end = 0;
    ck_assert_int_eq(sscanf(text, "%lf(%d%c", &value, &uncertainty, &end), 3);
    ck_assert_int_eq(end, ')');
    ck_assert_int_lt(uncertainty, 30);  // One digit, or two from 10 to 29.
  }
}
END_TEST

// A narrow limit leaves no corner of the lattice about the best shape, but a point beside them.
START_TEST(a_narrow_limit_leaves_a_point_beside) {
  program_write_text(folder, "goal.yaml",
                     "cell: cell.yaml\nvary:\n  iris_ellipse.axial_mm: {from: 8, to: 14}\n"
                     "  iris_ellipse.radial_mm: {from: 12, to: 24}\n"
                     "hold: {frequency_MHz: 1300, by: equator_radius_mm}\n"
                     "minimise: bpk_over_eacc_mT_per_MV_per_m\nstarts: 1\n"
                     "limits: {wall_angle_deg: {least: 10, most: 10.1}}\n"
                     "steps: {iris_ellipse.axial_mm: 0.5, iris_ellipse.radial_mm: 0.5}\n");
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml --cell best.yaml --json best.json"), 0);
  json_t *root = read_json("best.json");
  for (int i = 0; i < 2; i++) {
    const json_t *d = json_array_get(json_object_get(root, "dimensions"), (size_t)i);
    double steps = 2.0 * json_number_value(json_object_get(d, "value"));
    printf("%g steps\n", steps);
    ck_assert_double_eq(steps, round(steps));
  }
  json_decref(root);
  check_frequency("best.yaml");
  ck_assert_int_eq(run("$CAVUM solve best.yaml --json -"), 0);
  root = read_json("out");
  const json_t *shape = json_object_get(root, "geometry");
  const json_t *angle = json_object_get(shape, "wall_angle_deg");
  double lean = json_number_value(json_is_object(angle) ? json_object_get(angle, "value") : angle);
  // Limits on the shape hold to 1e-8.
  ck_assert(lean >= 10.0 * (1.0 - 1e-7) && lean <= 10.1 * (1.0 + 1e-7));
  json_decref(root);
}
END_TEST

// A point has one value: in the table, in the row of the file, and in the cell file's own solve.
START_TEST(a_point_of_a_front_has_one_value) {
  program_write_text(folder, "goal.yaml",
                     "cell: cell.yaml\nvary:\n  iris_ellipse.axial_mm: {from: 8, to: 14}\n"
                     "  iris_ellipse.radial_mm: {from: 12, to: 24}\n"
                     "hold: {frequency_MHz: 1300, by: equator_radius_mm}\n"
                     "minimise: bpk_over_eacc_mT_per_MV_per_m\nstarts: 1\n"
                     "front: {epk_over_eacc: {from: 1.95, to: 2.15, points: 3}}\n");
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml -o front.hdf"), 0);
  char *table = strdup(read_text("out"));
  ck_assert_int_eq(run("$CAVUM scan --summary front.hdf --csv front.csv"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("out"), "Front of B_pk / E_acc against E_pk / E_acc: "));
  // In the picture, as on its axes.
  ck_assert_int_eq(run("$CAVUM draw front.hdf -o front.svg"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("front.svg"), ">Front of B"));
  ck_assert_ptr_null(strstr(read_text("front.svg"), ">Front of B_pk"));
  const char *line = strstr(table, "\n  epk_over_eacc at most");
  for (int row = 0; row < 3; row++) {
    double figure[2], last[2];
    int digits[2];
    char text[2][40];
    ck_assert_ptr_nonnull(line = strchr(line + 1, '\n'));
    ck_assert_int_eq(sscanf(line, "%*f %39s %39s", text[0], text[1]), 2);
    for (int i = 0; i < 2; i++) {
      const char *dot = strchr(text[i], '.');
      ck_assert_int_eq(sscanf(text[i], "%lf(%d)", &figure[i], &digits[i]), 2);
      last[i] = pow(10.0, -(double)(strchr(text[i], '(') - dot - 1));
    }
    ck_assert_int_eq(run("$CAVUM scan --shape %d front.hdf -o f%d.yaml && "
                         "$CAVUM solve f%d.yaml --json f.json -q",
                         row, row, row),
                     0);
    json_t *root = read_json("f.json");
    const json_t *mode = json_array_get(json_object_get(root, "modes"), 0);
    static const char *const keys[] = {"bpk_over_eacc_mT_per_MV_per_m", "epk_over_eacc"};
    for (int i = 0; i < 2; i++) {
      double own = json_number_value(json_object_get(json_object_get(mode, keys[i]), "value"));
      CAVUM_CHECK_NEAR(figure[i], own, 0.501 * last[i]);  // rounded to what is printed
    }
    json_decref(root);
  }
  free(table);
}
END_TEST

// A result says what it is of.
START_TEST(a_result_is_the_best_shape_of_its_cell) {
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml -q -o best.hdf"), 0);
  ck_assert_int_eq(run("$CAVUM report best.hdf -o best.html"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("best.html"), "<h1>Best shape of Test cell</h1>"));
  ck_assert_int_eq(run("$CAVUM draw best.hdf -o search.svg --view search"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("search.svg"), "Best shape of Test cell"));
}
END_TEST

// In the worst case a straight wall may have a length below 0, of which there is no logarithm: it
// is what breaks its limit.
START_TEST(a_straight_wall_that_tolerances_take_away) {
  program_write_text(folder, "goal.yaml",
                     "cell: cell.yaml\nvary:\n  equator_ellipse.axial_mm: {from: 45.5, to: 45.6}\n"
                     "maximise: straight_length_mm\nstarts: 1\n"
                     "robust: {deviations: 3, tolerances: shop.yaml}\n");
  program_write_text(folder, "shop.yaml", "tolerances: {equator_ellipse.axial_mm: {normal: 3}}\n");
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml --json best.json"), 1);
  printf("%s", read_text("out"));
  ck_assert_ptr_null(strstr(read_text("out"), "nan"));
  double value = 0.0, by = 0.0;
  const char *said = strstr(read_text("err"), "straight_length_mm = ");
  ck_assert_ptr_nonnull(said);
  ck_assert_int_eq(sscanf(said,
                          "straight_length_mm = %lf mm breaks the limit of at least 1 mm by "
                          "%lf mm",
                          &value, &by),
                   2);
  ck_assert_double_lt(value, 0.0);
  CAVUM_CHECK_NEAR(1.0 - value, by, 0.006 * by);
  json_t *root = read_json("best.json");
  ck_assert(json_is_number(json_object_get(root, "log_objective")));
  json_decref(root);
}
END_TEST

// No multiple of 2 mm between 10 and 14 mm has a wall angle within a tenth of a degree about that
// of 11 mm: the best shape is there without rounding, and says so everywhere.
START_TEST(what_cannot_be_rounded_is_kept) {
  program_write_text(folder, "goal.yaml",
                     "cell: cell.yaml\n"
                     "vary:\n  iris_ellipse.axial_mm: {from: 10, to: 14}\n"
                     "minimise: bpk_over_eacc_mT_per_MV_per_m\nstarts: 1\n"
                     "limits: {wall_angle_deg: {least: 15.2, most: 15.4}}\n"
                     "steps: {iris_ellipse.axial_mm: 2}\n");
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml --cell best.yaml -o best.hdf --json best.json"),
                   1);
  char *told = strdup(read_text("out"));
  ck_assert_ptr_nonnull(strstr(told, "best shape, NOT ROUNDED"));
  ck_assert_ptr_nonnull(
      strstr(told, "NOT ROUNDED: no way that was tried of rounding to the steps keeps the limits"));
  ck_assert_ptr_nonnull(strstr(read_text("err"), "not rounded"));
  static const char label[] = "# cavum optimise: NOT ROUNDED";
  ck_assert_int_eq(strncmp(read_text("best.yaml"), label, sizeof label - 1), 0);
  ck_assert_int_eq(run("$CAVUM solve best.yaml -q --json solved.json"), 0);
  json_t *root = read_json("best.json");
  ck_assert(json_is_true(json_object_get(root, "first_order_conditions_met")));
  ck_assert(json_is_true(json_object_get(root, "not_rounded")));
  ck_assert_double_gt(json_number_value(json_object_get(root, "rounding_violation")), 1e-3);
  json_decref(root);
  ck_assert_int_eq(run("$CAVUM scan --summary best.hdf"), 0);
  ck_assert_str_eq(read_text("out"), told);
  free(told);
  ck_assert_int_eq(run("$CAVUM report best.hdf -o best.html"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("best.html"), "Not rounded"));
}
END_TEST

// Parts leave nothing but their folder, and what is gathered is what one run writes.
START_TEST(parts_are_gathered) {
  program_write_text(folder, "goal.yaml", GOAL);
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml -q --json one.json --cell one.yaml"), 0);
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml -o best.hdf --gather"), 1);
  ck_assert_ptr_nonnull(strstr(read_text("err"), "1 of 1 starts are missing"));
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml -q -o best.hdf --part 2/2"), 0);
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml -q -o best.hdf --part 1/2"), 0);
  ck_assert_int_eq(run("test -d best.hdf.parts && ! test -e best.hdf"), 0);
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml -o best.hdf --gather --keep-parts "
                       "--json kept.json && test -d best.hdf.parts && rm best.hdf"),
                   0);
  ck_assert_int_eq(
      run("$CAVUM optimise goal.yaml -o best.hdf --gather --json best.json --cell best.yaml"), 0);
  ck_assert_int_eq(
      run("cmp one.json best.json && cmp one.yaml best.yaml && cmp one.json kept.json && "
          "! test -e best.hdf.parts && $CAVUM scan --summary best.hdf"),
      0);
  // A cell file is not replaced by gathering, either.
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml -o best.hdf --gather --cell cell.yaml"), 2);
  static const char *const bad[] = {"--part 1/2",
                                    "-o x.hdf --part 3/2",
                                    "-o x.hdf --part 1",
                                    "-o x.hdf --part 1/2 --gather",
                                    "--gather",
                                    "-o x.hdf --part 1/2 --cell x.yaml",
                                    "-o x.hdf --part 1/2 --json x.json",
                                    "-o x.hdf --part 1/200000",
                                    "-o x.hdf --keep-parts"};
  for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
    ck_assert_int_eq(run("$CAVUM optimise goal.yaml %s", bad[i]), 2);
  }
  ck_assert_int_eq(run("test -e x.hdf.parts || test -e x.yaml"), 1);
}
END_TEST

// Threads share the starts out: what they find does not depend on how many there are.
START_TEST(workers_find_the_same) {
  program_write_text(folder, "goal.yaml",
                     "cell: cell.yaml\nstarts: 3\n"
                     "vary:\n  iris_ellipse.axial_mm: {from: 10, to: 14}\n"
                     "minimise: bpk_over_eacc_mT_per_MV_per_m\n");
  ck_assert_int_eq(run("for n in 1 2 3; do $CAVUM optimise goal.yaml -q --workers $n "
                       "--json $n.json || exit; done; cmp 1.json 2.json && cmp 1.json 3.json"),
                   0);
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml --workers 0"), 2);
  ck_assert_ptr_nonnull(
      strstr(read_text("err"), "--workers 0: expected a whole number from 1 to 64"));
}
END_TEST

// A gap where two segments meet is marked in the table and in what readers are told.
START_TEST(a_gap_at_a_seam_is_marked) {
  program_write_text(folder, "goal.yaml",
                     GOAL "solves: 8\nfront: {epk_over_eacc: {from: 1.5, to: 2.2, points: 2}}\n");
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml -q -o best.hdf --part 1/2 && "
                       "$CAVUM optimise goal.yaml -q -o best.hdf --part 2/2"),
                   0);
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml -o best.hdf --gather"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("out"), "gap (out-of-solves), at a seam of parts"));
  ck_assert_int_eq(run("! test -e best.hdf.parts && $CAVUM scan --summary best.hdf"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("out"), "gaps at 1.5, 1 of them at a seam of parts"));
}
END_TEST

START_TEST(what_cannot_be_is_said) {
  program_write_text(folder, "goal.yaml", GOAL "solves: 1\n");
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml --cell best.yaml"), 1);
  ck_assert_ptr_nonnull(strstr(read_text("best.yaml"), "# cavum optimise: NO BEST SHAPE: out of"));
  ck_assert_int_eq(run("$CAVUM optimise"), 2);
  program_write_text(folder, "goal.yaml", "cell: cell.yaml\nvary: {}\n");
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml"), 2);
  ck_assert_ptr_nonnull(strstr(read_text("err"), "goal.yaml:"));
  // The other spelling is no study, and a key without its unit is near to one with it.
  program_write_text(folder, "goal.yaml",
                     "cell: cell.yaml\nvary: {iris_ellipse.axial_mm: {from: 10, to: 14}}\n"
                     "minimize: epk_over_eacc\n");
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml"), 2);
  ck_assert_ptr_nonnull(strstr(read_text("err"), "minimise"));
  program_write_text(folder, "goal.yaml",
                     "cell: cell.yaml\nvary: {iris_ellipse.axial_mm: {from: 10, to: 14}}\n"
                     "minimise: epk_over_eacc\nlimits: {wall_angle: {least: 5}}\n");
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml"), 2);
  ck_assert_ptr_nonnull(strstr(read_text("err"), "did you mean 'wall_angle_deg'?"));
}
END_TEST

static void add(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_test(tests, notes_of_the_cell_are_said);
  tcase_add_test(tests, a_product_says_what_is_worse);
  tcase_add_test(tests, rounding_costs);
  tcase_add_test(tests, files_are_written);
  tcase_add_test(tests, the_file_tells_the_search);
  tcase_add_test(tests, a_free_wall_is_compared);
  tcase_add_test(tests, not_proven_best_is_written_and_labelled);
  tcase_add_test(tests, out_of_solves_before_the_limits_are_met);
  tcase_add_test(tests, a_free_wall_that_is_not_proven_best);
  tcase_add_loop_test(tests, a_free_wall_that_is_no_better, 0,
                      sizeof no_better / sizeof *no_better);
  tcase_add_test(tests, cells_that_share_dimensions);
  tcase_add_test(tests, worst_case_within_tolerances);
  tcase_add_test(tests, starts_are_nominal);
  tcase_add_test(tests, tolerances_left_out_are_said);
  tcase_add_test(tests, mean_over_tolerances);
  tcase_add_test(tests, a_broken_limit_is_said_to_be_broken);
  tcase_add_test(tests, pictures_and_reports_have_units);
  tcase_add_test(tests, a_front_in_three_is_no_line);
  tcase_add_test(tests, a_step_beyond_its_range_is_refused);
  tcase_add_test(tests, what_cannot_be_rounded_is_labelled);
  tcase_add_test(tests, a_long_title_does_not_lose_the_search);
  tcase_add_test(tests, a_slip_of_units_is_asked_about);
  tcase_add_test(tests, a_front_is_a_table);
  tcase_add_test(tests, a_narrow_limit_leaves_a_point_beside);
  tcase_add_test(tests, a_point_of_a_front_has_one_value);
  tcase_add_test(tests, a_result_is_the_best_shape_of_its_cell);
  tcase_add_test(tests, a_straight_wall_that_tolerances_take_away);
  tcase_add_test(tests, what_cannot_be_rounded_is_kept);
  tcase_add_test(tests, parts_are_gathered);
  tcase_add_test(tests, workers_find_the_same);
  tcase_add_test(tests, a_gap_at_a_seam_is_marked);
  tcase_add_test(tests, what_cannot_be_is_said);
}

CAVUM_TEST_MAIN("optimise", add)
