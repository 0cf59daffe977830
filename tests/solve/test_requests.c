// SPDX-License-Identifier: GPL-3.0-or-later
// Every solve checks what it is asked: a cell filled in memory, the options, NULL. Random values in
// every member give a status or an answer, never a crash and never another cell than was asked for.
#include <string.h>

#include "cavum/cavum.h"
#include "solving.h"
#include "support.h"
#include "test_cell.h"

static cavum_status solve(const cavum_cell *cell, const cavum_solve_options *options) {
  cavum_result *result = NULL;
  cavum_error error = {0};
  cavum_status status = cavum_solve(&result, cell, options, &error);
  if (status == CAVUM_OK) {
    ck_assert_ptr_nonnull(result);
  } else {
    printf("%d: %s\n", (int)status, error.message);
    ck_assert(status == CAVUM_ERR_NOT_CONVERGED || result == NULL);
    ck_assert_int_eq(error.status, status);
    ck_assert(*error.message && !strstr(error.message, "(null)"));
  }
  cavum_result_destroy(&result);
  return status;
}

START_TEST(cells_and_options_are_checked) {
  cavum_cell cell = solving_read(TEST_CELL), bad = cell;
  cavum_solve_options options = cavum_solve_options_default();
  bad.num_modes = -1;
  ck_assert_int_eq(solve(&bad, NULL), CAVUM_ERR_INPUT);
  bad = cell;
  bad.beta = 2.0;
  ck_assert_int_eq(solve(&bad, NULL), CAVUM_ERR_INPUT);
  bad = cell;
  bad.left_end = (cavum_end){0};
  ck_assert_int_eq(solve(&bad, NULL), CAVUM_ERR_INPUT);
  cavum_cell_set_defaults(&bad);
  bad.kind = CAVUM_CONTOUR_MESH_FILE;
  ck_assert_int_eq(solve(&bad, NULL), CAVUM_ERR_INPUT);
  // Too fine a mesh is noticed where one has been made: sanitizers see whether it is freed.
  bad = cell;
  bad.near_hz = 1e15;
  ck_assert_int_eq(solve(&bad, NULL), CAVUM_ERR_RANGE);
  const int bad_orders[] = {-2, 17, 99};
  for (int i = 0; i < 3; i++) {
    options.field_order = bad_orders[i];
    ck_assert_int_eq(solve(&cell, &options), CAVUM_ERR_USAGE);
  }
  options = cavum_solve_options_default();
  const double bad_refinements[] = {NAN, -1.0, INFINITY, 65.0};
  for (int i = 0; i < 4; i++) {
    options.refinement = bad_refinements[i];
    ck_assert_int_eq(solve(&cell, &options), CAVUM_ERR_USAGE);
  }
  options = cavum_solve_options_default();
  options.struct_size = 0;
  ck_assert_int_eq(solve(&cell, &options), CAVUM_ERR_USAGE);
  // Sizes that end in the middle of a member: no version has them, and half a pointer is none.
  for (size_t size = sizeof options - 7; size < sizeof options; size++) {
    options.struct_size = size;
    ck_assert_int_eq(solve(&cell, &options), CAVUM_ERR_USAGE);
  }
  cavum_cell_clear(&cell);
}
END_TEST

static cavum_index elements_of(const cavum_cell *cell, double refinement) {
  cavum_solve_options options = cavum_solve_options_default();
  cavum_result *result = NULL;
  cavum_error error;
  options.refinement = refinement;
  options.degree = 3;
  ck_assert_msg(cavum_solve(&result, cell, &options, &error) == CAVUM_OK, "%s", error.message);
  cavum_index count = result->mesh.num_elements;
  printf("refinement %g: %d elements\n", refinement, (int)count);
  cavum_result_destroy(&result);
  return count;
}

// High modes have a finer mesh than low ones: a refinement divides that, so that it never makes a
// coarser one. It is refused where the two together are more than is made.
START_TEST(refinements_of_fine_meshes_are_finer) {
  cavum_cell cell = solving_read(TEST_CELL);
  cell.num_modes = 1;
  cavum_index low = elements_of(&cell, 0.0);
  cell.near_hz = 3e10;
  cavum_index high = elements_of(&cell, 0.0);
  ck_assert_int_gt(high, 4 * low);
  ck_assert_int_eq(elements_of(&cell, 1.0), high);
  ck_assert_int_gt(elements_of(&cell, 1.5), high);
  ck_assert_int_lt(elements_of(&cell, 0.5), high);
  cavum_solve_options options = cavum_solve_options_default();
  options.refinement = 60.0;
  ck_assert_int_eq(solve(&cell, &options), CAVUM_ERR_USAGE);
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(null_is_a_usage_error) {
  cavum_cell cell = solving_read(TEST_CELL);
  cavum_result *result = NULL;
  cavum_solver *solver = NULL;
  cavum_error error = {0};
  ck_assert_int_eq(cavum_solve(NULL, &cell, NULL, &error), CAVUM_ERR_USAGE);
  ck_assert_int_eq(cavum_solve(&result, NULL, NULL, &error), CAVUM_ERR_USAGE);
  ck_assert_int_eq(cavum_solver_create(NULL, NULL, &error), CAVUM_ERR_USAGE);
  ck_assert_int_eq(cavum_solver_create(&solver, NULL, &error), CAVUM_OK);
  ck_assert_int_eq(cavum_solver_solve(&result, solver, NULL, &error), CAVUM_ERR_USAGE);
  ck_assert_int_eq(cavum_solver_solve(&result, NULL, &cell, &error), CAVUM_ERR_USAGE);
  ck_assert_int_eq(cavum_solver_solve(NULL, solver, &cell, &error), CAVUM_ERR_USAGE);
  cavum_solver_forget(NULL);
  // A refused cell costs the solver nothing of what it knows.
  ck_assert_int_eq(cavum_solver_solve(&result, solver, &cell, &error), CAVUM_OK);
  cavum_result_destroy(&result);
  cavum_solver_destroy(&solver);
  cavum_cell_clear(&cell);
}
END_TEST

// Splitmix64 [Steele2014].
static uint64_t next(uint64_t *state) {
  uint64_t z = (*state += 0x9e3779b97f4a7c15u);
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
  z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
  return z ^ (z >> 31);
}

static double odd_number(uint64_t *state) {
  static const double odd[] = {0.0, -1.0, 1.0, 0.05, 1e-12, 1e300, -1e300, NAN, INFINITY, 0.5};
  return odd[next(state) % (sizeof odd / sizeof *odd)];
}

// Changes one member of a good cell to something odd.
static void spoil(cavum_cell *cell, uint64_t *state) {
  double *numbers[] = {&cell->beta,
                       &cell->accelerating_length_m,
                       &cell->left.half_length_m,
                       &cell->left.iris_radius_m,
                       &cell->right.equator_radius_m,
                       &cell->right.equator_axial_m,
                       &cell->left.iris_radial_m,
                       &cell->left_end.tube_length_m,
                       &cell->right_end.tube_radius_m,
                       &cell->near_hz,
                       &cell->accuracy_frequency,
                       &cell->accuracy_other_figures,
                       &cell->wall.surface_resistance_ohm,
                       &cell->wall.temperature_k};
  enum { NUM_NUMBERS = sizeof numbers / sizeof *numbers };
  uint64_t which = next(state) % (NUM_NUMBERS + 6);
  int odd = (int)(next(state) % 9) - 2;
  if (which < NUM_NUMBERS) {
    *numbers[which] = odd_number(state);
  } else if (which == NUM_NUMBERS) {
    cell->kind = (cavum_contour_kind)odd;
  } else if (which == NUM_NUMBERS + 1) {
    cell->left_end.kind = (cavum_end_kind)odd;
  } else if (which == NUM_NUMBERS + 2) {
    cell->right_end.tube_close = (cavum_boundary)odd;
  } else if (which == NUM_NUMBERS + 3) {
    cell->wall.kind = (cavum_wall_kind)odd;
  } else if (which == NUM_NUMBERS + 4) {
    cell->num_modes = odd;
  } else {
    cell->struct_size = (size_t)odd;
  }
}

START_TEST(random_members) {
  enum { TRIALS = 400 };
  uint64_t state = 14;
  int answers = 0;
  cavum_cell cell = solving_read(TEST_CELL);
  cavum_solve_options options = cavum_solve_options_default();
  options.degree = 4;  // whatever is good enough to be solved is solved quickly
  for (int i = 0; i < TRIALS; i++) {
    cavum_cell bad = cell;
    int changes = 1 + (int)(next(&state) % 3);
    for (int k = 0; k < changes; k++) spoil(&bad, &state);
    cavum_status status = solve(&bad, &options);
    answers += status == CAVUM_OK;
    ck_assert_int_ne(status, CAVUM_ERR_INTERNAL);
    ck_assert(status != CAVUM_OK || cavum_cell_check(&bad, NULL) == CAVUM_OK);
  }
  printf("%d of %d solved\n", answers, TRIALS);
  ck_assert_int_gt(answers, 0);
  cavum_cell_clear(&cell);
}
END_TEST

// A change needs a step before it: absent in the first, a number in all others.
START_TEST(the_first_step_has_no_change) {
  cavum_cell cell = solving_read(TEST_CELL);
  cavum_result *result = NULL;
  ck_assert_int_eq(cavum_solve(&result, &cell, NULL, NULL), CAVUM_OK);
  ck_assert_int_ge(result->num_steps, 2);
  for (int i = 0; i < result->num_steps; i++) {
    const cavum_convergence_step *step = &result->steps[i];
    printf("degree %d: %g, %g\n", step->degree, step->frequency_change, step->figure_change);
    ck_assert_int_eq(isnan(step->frequency_change), i == 0);
    ck_assert_int_eq(isnan(step->figure_change), i == 0);
  }
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, the_first_step_has_no_change);
  tcase_add_test(tests, cells_and_options_are_checked);
  tcase_add_test(tests, refinements_of_fine_meshes_are_finer);
  tcase_add_test(tests, null_is_a_usage_error);
  tcase_add_test(tests, random_members);
}

CAVUM_TEST_MAIN("solve.requests", add_tests)
