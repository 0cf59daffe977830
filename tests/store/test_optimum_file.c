// SPDX-License-Identifier: GPL-3.0-or-later
// A search for the best shape in the file of that shape: written, read back, damaged.
#include "cavum/optimum.h"
#include "cavum/store.h"
#include "hdf5/hdf5_file.h"
#include "solving.h"
#include "store/optimum_file.h"
#include "temporary_folder.h"

static char folder[128], path[192];

static void set_up(void) {
  temporary_folder_make(folder);
  snprintf(path, sizeof path, "%s/best.hdf", folder);
}

static void tear_down(void) { temporary_folder_delete(folder); }

#define PILLBOX                                                    \
  "contour:\n"                                                     \
  "  kind: path\n"                                                 \
  "  start: {z_mm: -40.0, r_mm: 0.0}\n"                            \
  "  path:\n"                                                      \
  "    - {line_to: {z_mm: 40.0, r_mm: 0.0}, boundary: axis}\n"     \
  "    - {line_to: {z_mm: 40.0, r_mm: 100.0}, boundary: metal}\n"  \
  "    - {line_to: {z_mm: -40.0, r_mm: 100.0}, boundary: metal}\n" \
  "    - {line_to: {z_mm: -40.0, r_mm: 0.0}, boundary: metal}\n"   \
  "modes: {count: 1}\n"

#define GOAL                                               \
  "title: Gap\n"                                           \
  "vary: {\"path[2].line_to.z_mm\": {from: 20, to: 90}}\n" \
  "linked:\n"                                              \
  "  - path[1].line_to.z_mm = path[2].line_to.z_mm\n"      \
  "  - path[3].line_to.z_mm = -path[2].line_to.z_mm\n"     \
  "  - start.z_mm = -path[2].line_to.z_mm\n"               \
  "  - path[4].line_to.z_mm = -path[2].line_to.z_mm\n"     \
  "maximise: r_over_q_linac_ohm\n"                         \
  "limits: {geometry_factor_ohm: {least: 240}, frequency_MHz: {least: 1000}}\n"

static cavum_optimum *search(cavum_goal **goal) {
  cavum_cell cell = solving_read(PILLBOX);
  cavum_optimum *optimum = NULL;
  ck_assert_int_eq(cavum_goal_open_text(goal, GOAL, strlen(GOAL), NULL, &cell, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_optimise(&optimum, *goal, NULL, NULL), CAVUM_OK);
  optimum->num_left_out = 7;  // so that it is one of its own in the file
  cavum_cell_clear(&cell);
  return optimum;
}

static void write_file(const cavum_optimum *optimum, const cavum_goal *goal) {
  cavum_cell cell = solving_read(optimum->cell_text);
  cavum_result *result = solving_solve(&cell, NULL);
  ck_assert_int_eq(cavum_store_write_optimum(path, optimum, goal, result, &cell, NULL, NULL),
                   CAVUM_OK);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}

// Numbers that are not known stay so.
static void check_same(double a, double b) { ck_assert(a == b || (isnan(a) && isnan(b))); }

static void check_requirement(const cavum_requirement *a, const cavum_requirement *b) {
  ck_assert_str_eq(a->key, b->key);
  ck_assert_int_eq(a->kind, b->kind);
  ck_assert_int_eq(a->figure, b->figure);
  check_same(a->unit_si, b->unit_si);
}

static void check_rows(const cavum_optimum *a, const cavum_optimum *b) {
  for (int j = 0; j < a->num_variables; j++) {
    const cavum_optimum_variable *u = &a->variables[j], *v = &b->variables[j];
    ck_assert_str_eq(u->key, v->key);
    ck_assert_str_eq(u->unit, v->unit);
    check_same(u->value, v->value);
    check_same(u->before, v->before);
    check_same(u->multiplier, v->multiplier);
    ck_assert(u->at_bound == v->at_bound && u->is_held == v->is_held);
  }
  for (int i = 0; i < a->num_limits; i++) {
    const cavum_optimum_limit *u = &a->limits[i], *v = &b->limits[i];
    check_requirement(&u->what, &v->what);
    check_same(u->what.least, v->what.least);
    check_same(u->what.most, v->what.most);
    check_same(u->value, v->value);
    check_same(u->uncertainty, v->uncertainty);
    check_same(u->multiplier, v->multiplier);
    check_same(u->margin, v->margin);
    ck_assert_int_eq(u->active, v->active);
  }
  for (int i = 0; i < a->num_terms; i++) {
    check_requirement(&a->terms[i].what, &b->terms[i].what);
    check_same(a->terms[i].weight, b->terms[i].weight);
    check_same(a->terms[i].before, b->terms[i].before);
    check_same(a->terms[i].value, b->terms[i].value);
    check_same(a->terms[i].uncertainty, b->terms[i].uncertainty);
  }
}

static void check_paths(const cavum_optimum *a, const cavum_optimum *b) {
  for (int i = 0; i < a->num_starts; i++) {
    const cavum_optimum_start *u = &a->starts[i], *v = &b->starts[i];
    ck_assert(u->end == v->end && u->num_solves == v->num_solves && u->is_best == v->is_best);
    check_same(u->objective, v->objective);
    check_same(u->residual, v->residual);
    check_same(u->first[0], v->first[0]);
    check_same(u->last[0], v->last[0]);
  }
  for (int k = 0; k < a->num_steps; k++) {
    check_same(a->steps[k].objective, b->steps[k].objective);
    check_same(a->steps[k].violation, b->steps[k].violation);
    check_same(a->steps[k].residual, b->steps[k].residual);
    check_same(a->steps[k].radius, b->steps[k].radius);
    check_same(a->steps[k].values[0], b->steps[k].values[0]);
    ck_assert(a->steps[k].accepted == b->steps[k].accepted);
  }
}

START_TEST(what_is_written_is_read) {
  cavum_goal *goal = NULL;
  cavum_optimum *a = search(&goal), *b = NULL;
  char *title = NULL;
  a->vanishing = (cavum_optimum_piece){.key = "path[5]",
                                       .in_right_half = true,
                                       .z_m = 0.018,
                                       .r_m = 0.021,
                                       .length_m = 3.1e-5,
                                       .least_m = 3e-5};
  write_file(a, goal);
  ck_assert_int_eq(cavum_store_read_optimum(&b, &title, path, NULL), CAVUM_OK);
  ck_assert_str_eq(title, "Gap");
  ck_assert(a->met == b->met && a->mode == b->mode && a->num_variables == b->num_variables);
  ck_assert(a->num_limits == b->num_limits && a->num_terms == b->num_terms);
  ck_assert(a->num_starts == b->num_starts && a->num_steps == b->num_steps);
  ck_assert(a->num_solves == b->num_solves && a->num_optima == b->num_optima);
  ck_assert_int_eq(a->num_left_out, b->num_left_out);
  ck_assert_str_eq(b->vanishing.key, "path[5]");
  ck_assert(b->vanishing.in_right_half && b->vanishing.cell == 0);
  check_same(b->vanishing.z_m, 0.018);
  check_same(b->vanishing.r_m, 0.021);
  check_same(b->vanishing.length_m, 3.1e-5);
  check_same(b->vanishing.least_m, 3e-5);
  ck_assert(a->num_limits == 2 && a->num_steps > 1 && a->num_starts > 1);
  check_same(a->objective, b->objective);
  check_same(a->residual, b->residual);
  check_rows(a, b);
  check_paths(a, b);
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    cavum_figure u = cavum_mode_figure(&a->before->modes[0], (cavum_figure_id)id);
    cavum_figure v = cavum_mode_figure(&b->before->modes[0], (cavum_figure_id)id);
    if (u.state != CAVUM_FIGURE_PRESENT) continue;
    ck_assert_int_eq(v.state, CAVUM_FIGURE_PRESENT);
    check_same(u.value, v.value);
    check_same(u.uncertainty, v.uncertainty);
  }
  check_same(b->result->modes[0].figures[CAVUM_FIGURE_R_OVER_Q_LINAC].value,
             a->result->modes[0].figures[CAVUM_FIGURE_R_OVER_Q_LINAC].value);
  cavum_free(title);
  cavum_optimum_destroy(&a);
  cavum_optimum_destroy(&b);
  cavum_goal_close(&goal);
}
END_TEST

static void save(cavum_hdf5_file *file) {
  ck_assert_int_eq(cavum_hdf5_save(file, path, "result", NULL), CAVUM_OK);
  cavum_hdf5_destroy(&file);
}

// What does not agree is said, and nothing is handed out.
START_TEST(damage_is_said) {
  static const char *const facts[] = {"met",
                                      "within_limits",
                                      "not_rounded",
                                      "rounding_violation",
                                      "end",
                                      "mode",
                                      "solves",
                                      "optima",
                                      "log_objective",
                                      "log_objective_exact",
                                      "residual",
                                      "violation",
                                      "log_objective_uncertainty",
                                      "robust/kind",
                                      "robust/deviations",
                                      "robust/log_objective_nominal",
                                      "robust/log_objective_nominal_worst",
                                      "robust/violation_nominal",
                                      "robust/passes",
                                      "robust/solves",
                                      "robust/whole_peaks",
                                      "robust/left_out",
                                      "free_wall/points",
                                      "free_wall/log_objective_two_ellipse",
                                      "free_wall/log_objective_start",
                                      "free_wall/solves_two_ellipse",
                                      "free_wall/taken",
                                      "free_wall/end",
                                      "free_wall/log_objective",
                                      "free_wall/residual",
                                      "free_wall/violation",
                                      "free_wall/solves"};
  cavum_hdf5_file *file = NULL;
  cavum_optimum *optimum = NULL;
  cavum_error error = {0};
  const char *title = "x", *key = "contour.iris_radius_mm";
  ck_assert_int_eq(cavum_hdf5_create(&file, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_hdf5_write_texts(file, "/optimum/title", 0, &title, NULL, NULL), CAVUM_OK);
  for (size_t i = 0; i < sizeof facts / sizeof *facts; i++) {
    char name[80];
    double number = 1.0;
    snprintf(name, sizeof name, "/optimum/%s", facts[i]);
    const cavum_hdf5_array array = {.path = name, .data = &number};
    ck_assert_int_eq(cavum_hdf5_write_array(file, &array, NULL), CAVUM_OK);
  }
  ck_assert_int_eq(cavum_hdf5_write_texts(file, "/optimum/dimensions/key", 1, &key, NULL, NULL),
                   CAVUM_OK);
  // Two lower bounds of one dimension.
  const double numbers[2] = {1.0, 2.0};
  const cavum_hdf5_array two = {
      .path = "/optimum/dimensions/low", .rank = 1, .extent = {2}, .data = numbers};
  ck_assert_int_eq(cavum_hdf5_write_array(file, &two, NULL), CAVUM_OK);
  save(file);
  ck_assert_int_eq(cavum_hdf5_open(&file, path, NULL), CAVUM_OK);
  ck_assert(cavum_optimum_is_in(file));
  ck_assert_int_eq(cavum_optimum_read(&optimum, NULL, file, &error), CAVUM_ERR_INPUT);
  printf("%s\n", error.message);
  ck_assert_ptr_nonnull(strstr(error.message, "/optimum/dimensions/low"));
  ck_assert_ptr_null(optimum);
  cavum_hdf5_destroy(&file);
}
END_TEST

START_TEST(a_result_without_a_search_is_said) {
  cavum_cell cell = solving_read(PILLBOX);
  cavum_result *result = solving_solve(&cell, NULL);
  cavum_optimum *optimum = NULL;
  cavum_error error = {0};
  ck_assert_int_eq(cavum_store_write_result(path, result, &cell, NULL, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_store_read_optimum(&optimum, NULL, path, &error), CAVUM_ERR_INPUT);
  ck_assert_ptr_nonnull(strstr(error.message, "no search"));
  ck_assert_int_eq(cavum_store_read_optimum(NULL, NULL, path, NULL), CAVUM_ERR_USAGE);
  ck_assert_int_eq(cavum_store_write_optimum(path, NULL, NULL, result, &cell, NULL, NULL),
                   CAVUM_ERR_USAGE);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_test(tests, what_is_written_is_read);
  tcase_add_test(tests, damage_is_said);
  tcase_add_test(tests, a_result_without_a_search_is_said);
}

CAVUM_TEST_MAIN("optimum_file", add)
