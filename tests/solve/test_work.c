// SPDX-License-Identifier: GPL-3.0-or-later
// The limit of work: refused before it is begun, ended with the best result so far, the same bits
// where it does not matter.
#include <math.h>
#include <string.h>
#include <sys/resource.h>

#include "base/threads.h"
#include "solve/solution.h"
#include "solve/work.h"
#include "solving.h"

#define CELL                                                                       \
  "contour:\n  kind: two-ellipse\n  half_length_mm: 57.7\n  iris_radius_mm: 35\n"  \
  "  equator_radius_mm: 103.3\n  equator_ellipse: {axial_mm: 42, radial_mm: 42}\n" \
  "  iris_ellipse: {axial_mm: 12, radial_mm: 19}\n"                                \
  "ends: {left: {kind: magnetic}, right: {kind: magnetic}}\n"

static cavum_status solve(cavum_result **result, const char *more, double limit_s,
                          cavum_error *error) {
  char text[1024];
  snprintf(text, sizeof text, CELL "%s", more);
  cavum_cell cell = solving_read(text);
  cavum_solve_options options = cavum_solve_options_default();
  options.work_limit_s = limit_s;
  *error = (cavum_error){0};
  cavum_status status = cavum_solve(result, &cell, &options, error);
  printf("limit %g s: %s\n", limit_s, status == CAVUM_OK ? "done" : error->message);
  cavum_cell_clear(&cell);
  return status;
}

// A thousand modes need some 30,000 unknowns at least, whose work is far beyond a minute.
START_TEST(what_cannot_be_done_is_refused) {
  cavum_error error;
  cavum_result *result = NULL;
  ck_assert_int_eq(solve(&result, "modes: {count: 1000}\n", 0.0, &error), CAVUM_ERR_RANGE);
  ck_assert_ptr_nonnull(strstr(error.message, "1000 modes"));
  // How many would do is said, too.
  const char *at = strstr(error.message, "(some ");
  int most = 0;
  ck_assert(at && sscanf(at, "(some %d at most)", &most) == 1);
  ck_assert(most > 50 && most < 1000);
  ck_assert_int_eq(solve(&result, "", 1e-5, &error), CAVUM_ERR_RANGE);
  ck_assert_ptr_nonnull(strstr(error.message, "1 mode of this cell needs about"));
  ck_assert_ptr_null(result);
}
END_TEST

// 1e-9 of peak fields takes several solutions; the first is within a hundredth of a second of work.
START_TEST(the_best_so_far_is_given_and_labelled) {
  const char *tight = "accuracy: {frequency: 1.0e-12, other_figures: 1.0e-9}\n";
  cavum_error error;
  cavum_result *all = NULL, *some = NULL;
  (void)solve(&all, tight, 0.0, &error);
  ck_assert_ptr_nonnull(all);
  ck_assert_int_eq(solve(&some, tight, 0.03, &error), CAVUM_ERR_NOT_CONVERGED);
  ck_assert_ptr_nonnull(strstr(error.message, "the limit of work was reached"));
  ck_assert_ptr_nonnull(some);
  ck_assert(!some->accuracy_reached && some->num_steps < all->num_steps);
  bool is_said = false;
  for (int i = 0; i < some->num_warnings; i++) {
    is_said = is_said || strstr(some->warnings[i], "limit of work of 0.03 s");
  }
  ck_assert(is_said);
  // What there is holds: the better run lies inside.
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    const cavum_figure *a = &some->modes[0].figures[id], *b = &all->modes[0].figures[id];
    if (a->state != CAVUM_FIGURE_PRESENT) continue;
    ck_assert(isfinite(a->uncertainty));
    ck_assert(fabs(a->value - b->value) <= a->uncertainty + b->uncertainty);
  }
  cavum_result_destroy(&all);
  cavum_result_destroy(&some);
}
END_TEST

// Work bounds memory: N^1.5 / 3.2e7 s for one mode are 1.5 million unknowns in a minute. Solutions
// at degrees 5 to 11 of a mesh of 11,000 elements take 0.8 to 1.0 kB for each, so a solve some 2 GB
// at most. A small one has the work space of libraries beside that, some 50 MB, hence twice as
// much.
#ifdef CAVUM_SANITIZED
static const double BYTES_OF_UNKNOWN = INFINITY;  // Sanitizers keep what was freed.
#else
static const double BYTES_OF_UNKNOWN = 2200.0;
#endif
START_TEST(a_limit_of_work_is_one_of_memory) {
  const double limit_s = 0.5;
  cavum_error error;
  cavum_result *result = NULL;
  struct rusage before, after;
  ck_assert_int_eq(solve(&result, "", 0.0, &error),
                   CAVUM_OK);  // libraries are loaded at first need
  cavum_result_destroy(&result);
  getrusage(RUSAGE_SELF, &before);
  (void)solve(&result, "accuracy: {frequency: 1.0e-13, other_figures: 1.0e-12}\n", limit_s, &error);
  ck_assert_ptr_nonnull(result);
  getrusage(RUSAGE_SELF, &after);
  double most = cbrt(pow(limit_s * 3.2e7, 2.0)),
         grown = 1024.0 * (double)(after.ru_maxrss - before.ru_maxrss);
  printf("%d unknowns, %.0f are allowed; %.3g MB more\n", (int)result->num_unknowns, most,
         1e-6 * grown);
  ck_assert_double_le((double)result->num_unknowns, most);
  ck_assert_double_le(grown, BYTES_OF_UNKNOWN * most);
  cavum_result_destroy(&result);
}
END_TEST

// A cell squeezed to a slit: half of it has a mirror plane as long as all of it, whose unknowns are
// one dense matrix. With 0.2 mm of half length that took gigabytes and minutes.
START_TEST(flat_cells_are_solved_whole) {
  cavum_error error;
  cavum_result *result = NULL;
  const char *slit =
      "contour:\n  kind: path\n  start: {z_mm: -%g, r_mm: 0}\n  path:\n"
      "    - {line_to: {z_mm: %g, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: %g, r_mm: 100}, boundary: metal}\n"
      "    - {line_to: {z_mm: -%g, r_mm: 100}, boundary: metal}\n"
      "    - {line_to: {z_mm: -%g, r_mm: 0}, boundary: metal}\naccelerating_length_mm: 10\n";
  ck_assert_int_eq(solve(&result, "", 0.0, &error), CAVUM_OK);
  ck_assert(result->half_model);
  cavum_result_destroy(&result);
  const double half_mm[] = {5.1, 4.9, 0.01};
  for (int i = 0; i < 3; i++) {
    char text[1024];
    double h = half_mm[i];
    snprintf(text, sizeof text, slit, h, h, h, h, h);
    cavum_cell cell = solving_read(text);
    cavum_solve_options options = cavum_solve_options_default();
    ck_assert_int_eq(cavum_solve(&result, &cell, &options, &error), CAVUM_OK);
    ck_assert_int_eq(result->half_model, i == 0);
    // TM010 does not know how long the cell is: x01 c / (2 pi R) [Olver2010].
    CAVUM_CHECK_RELATIVE(result->modes[0].figures[CAVUM_FIGURE_FREQUENCY].value,
                         2.404825557695773 * 299792458.0 / (0.2 * CAVUM_PI), 1e-6);
    cavum_result_destroy(&result);
    cavum_cell_clear(&cell);
  }
}
END_TEST

START_TEST(a_limit_that_is_not_reached_changes_nothing) {
  cavum_error error;
  cavum_result *a = NULL, *b = NULL;
  ck_assert_int_eq(solve(&a, "", 0.0, &error), CAVUM_OK);
  ck_assert_int_eq(solve(&b, "", 1e6, &error), CAVUM_OK);
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    ck_assert(a->modes[0].figures[id].value == b->modes[0].figures[id].value);
    ck_assert(a->modes[0].figures[id].uncertainty == b->modes[0].figures[id].uncertainty);
  }
  ck_assert_int_eq(a->num_steps, b->num_steps);
  cavum_result_destroy(&a);
  cavum_result_destroy(&b);
}
END_TEST

START_TEST(limits_that_are_none_are_refused) {
  cavum_error error;
  cavum_result *result = NULL;
  ck_assert_int_eq(solve(&result, "", -1.0, &error), CAVUM_ERR_USAGE);
  ck_assert_int_eq(solve(&result, "", NAN, &error), CAVUM_ERR_USAGE);
  ck_assert_ptr_null(result);
}
END_TEST

// By the formula of its docstring; what does not fit is noted, and nothing is spent for it.
START_TEST(work_is_counted) {
  CAVUM_CHECK_RELATIVE(cavum_work_of_solution(10000, 4), 1e6 * (1.0 + 1.0 + 0.04) / 4e7, 1e-14);
  CAVUM_CHECK_RELATIVE(cavum_work_of_modes(4), cavum_work_of_solution(120, 4), 1e-14);
  cavum_work work = {.limit_s = 2.0, .spent_s = 1.5};
  ck_assert(cavum_work_allows(&work, 0.5) && !work.ended);
  ck_assert(!cavum_work_allows(&work, 0.6) && work.ended);
  ck_assert(work.spent_s == 1.5);
}
END_TEST

static cavum_status solve_in(cavum_result **result, const char *more, double limit_bytes,
                             cavum_error *error) {
  char text[1024];
  snprintf(text, sizeof text, CELL "%s", more);
  cavum_cell cell = solving_read(text);
  cavum_solve_options options = cavum_solve_options_default();
  options.memory_limit_bytes = limit_bytes;
  options.work_limit_s = 1e6;
  *error = (cavum_error){0};
  cavum_status status = cavum_solve(result, &cell, &options, error);
  printf("limit %g bytes: %s\n", limit_bytes, status == CAVUM_OK ? "done" : error->message);
  cavum_cell_clear(&cell);
  return status;
}

// A thousand modes of a hundred unknowns each fill gigabytes. Said are the estimate, the limit, and
// how many fit; these do, and one more does not.
START_TEST(memory_that_is_not_there_is_refused) {
  cavum_error error;
  cavum_result *result = NULL;
  int most = 0;
  ck_assert_int_eq(solve_in(&result, "modes: {count: 1000}\n", 2e8, &error), CAVUM_ERR_RANGE);
  ck_assert_ptr_null(result);
  ck_assert_ptr_nonnull(strstr(error.message, "GB for 1000 modes"));
  ck_assert_ptr_nonnull(strstr(error.message, "0.2 GB are allowed"));
  const char *at = strstr(error.message, "at most ");
  ck_assert(at && sscanf(at, "at most %d modes", &most) == 1);
  ck_assert_int_gt(most, 50);
  ck_assert_int_lt(most, 1000);
  ck_assert_int_eq(solve_in(&result, "", 1e6, &error), CAVUM_ERR_RANGE);
  ck_assert_ptr_null(strstr(error.message, "at most"));
  ck_assert_int_eq(solve_in(&result, "", -1.0, &error), CAVUM_ERR_USAGE);
  ck_assert_int_eq(solve_in(&result, "", NAN, &error), CAVUM_ERR_USAGE);
}
END_TEST

START_TEST(a_later_step_that_does_not_fit_ends_the_solve) {
  cavum_error error;
  cavum_result *result = NULL;
  const char *tight = "accuracy: {frequency: 1.0e-12, other_figures: 1.0e-9}\n";
  // Above the estimate of the first solution of this cell and below that of its last one.
  ck_assert_int_eq(solve_in(&result, tight, 2.5e7, &error), CAVUM_ERR_NOT_CONVERGED);
  ck_assert_ptr_nonnull(strstr(error.message, "the limit of memory was reached"));
  ck_assert_ptr_nonnull(result);
  bool is_said = false;
  for (int i = 0; i < result->num_warnings; i++) {
    is_said = is_said || strstr(result->warnings[i], "limit of memory of 0.025 GB");
  }
  ck_assert(is_said);
  cavum_result_destroy(&result);
}
END_TEST

// Fewer modes have longer waves and need fewer unknowns: more of them fit than on the same mesh.
START_TEST(the_most_modes_are_the_last_that_fit) {
  cavum_memory_case need = {.num_unknowns = 1e5, .degree = 10, .num_modes = 800};
  for (int scales = 0; scales < 2; scales++) {
    int most = cavum_memory_most_modes(&need, scales, 1e9);
    cavum_memory_case fits = need, more = need;
    fits.num_modes = most;
    more.num_modes = most + 1;
    if (scales) fits.num_unknowns *= most / 800.0;
    if (scales) more.num_unknowns *= (most + 1) / 800.0;
    printf("%d modes fit\n", most);
    ck_assert_double_le(cavum_memory_estimate_bytes(&fits), 1e9);
    ck_assert_double_gt(cavum_memory_estimate_bytes(&more), 1e9);
  }
  ck_assert_int_eq(cavum_memory_most_modes(&need, false, 1e6), 0);
  ck_assert_double_gt(cavum_memory_limit_bytes(), 1e8);
}
END_TEST

// Measured on one cell, refined, and on mesh files of straight and of curved quadrilaterals and of
// curved triangles, with one thread: peaks of the resident memory, MB. Estimates of large meshes
// are good to a factor of 1.2 on both sides (memory_need.h).
START_TEST(large_estimates_are_close) {
  static const struct {
    double num_unknowns;
    int degree, num_modes;
    bool from_file, triangles;
    double peak_mb;
  } measured[] = {{163209, 4, 3, false, false, 172},   {163601, 8, 1, false, false, 186},
                  {163601, 8, 3, false, false, 178},   {163601, 8, 10, false, false, 264},
                  {247313, 8, 20, false, false, 544},  {308870, 11, 3, false, false, 404},
                  {651153, 8, 1, false, false, 758},   {651153, 8, 3, false, false, 695},
                  {651153, 8, 10, false, false, 1143}, {1002001, 4, 3, true, false, 878},
                  {1002001, 4, 3, true, false, 1035},  {1002001, 4, 1, true, false, 1278},
                  {252539, 4, 1, true, true, 397},     {252539, 4, 3, true, true, 336},
                  {252539, 4, 10, true, true, 454},    {1010352, 4, 3, true, true, 1160},
                  {1008389, 8, 3, true, true, 1061}};
  for (size_t i = 0; i < sizeof measured / sizeof *measured; i++) {
    cavum_memory_case need = {.num_unknowns = measured[i].num_unknowns,
                              .degree = measured[i].degree,
                              .num_modes = measured[i].num_modes,
                              .triangles = measured[i].triangles,
                              .from_file = measured[i].from_file};
    double estimate_mb = cavum_memory_estimate_bytes(&need) / 1e6;
    printf("%.0f unknowns, degree %d, %d modes: %.0f MB, estimated %.0f MB\n", need.num_unknowns,
           need.degree, need.num_modes, measured[i].peak_mb, estimate_mb);
    ck_assert_double_lt(fabs(log(estimate_mb / measured[i].peak_mb)), log(1.2));
  }
}
END_TEST

// A solve now needs what its estimate says, on both sides: the largest resident memory of a process
// of its own, which a test of the same room may be in already.
START_TEST(a_large_solve_needs_its_estimate) {
  cavum_cell cell = solving_read(CELL "modes: {count: 3}\n");
  cavum_solve_options options = cavum_solve_options_default();
  cavum_result *result = NULL;
  cavum_error error;
  struct rusage usage;
  options.refinement = 13.0;
  options.degree = 8;
  options.work_limit_s = 1e6;
  ck_assert_msg(cavum_solve(&result, &cell, &options, &error) == CAVUM_OK, "%s", error.message);
  ck_assert_int_eq(getrusage(RUSAGE_SELF, &usage), 0);
  cavum_memory_case need = {
      .num_unknowns = result->num_unknowns, .degree = result->degree, .num_modes = 3};
  double estimate_mb = cavum_memory_estimate_bytes(&need) / 1e6;
  double peak_mb = (double)usage.ru_maxrss / 1000.0;
  printf("%.0f unknowns: %.0f MB, estimated %.0f MB\n", need.num_unknowns, peak_mb, estimate_mb);
  ck_assert_int_gt(result->num_unknowns, CAVUM_LARGE_FROM);
#ifndef CAVUM_SANITIZED
  ck_assert_double_lt(fabs(log(estimate_mb / peak_mb)), log(1.2));
#endif
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

// Measured with 1, 2, 8 and 32 threads on a refined cell of 247,313 unknowns at degree 8, and with
// 1, 2 and 8 on one of 985,617, when factors were in double precision: peaks of the resident
// memory, MB. What more threads add is not underestimated.
START_TEST(threads_need_memory) {
  static const struct {
    double num_unknowns;
    int num_threads;
    double peak_mb;
  } measured[] = {{247313, 1, 317},  {247313, 2, 322},  {247313, 8, 342}, {247313, 32, 369},
                  {985617, 1, 1273}, {985617, 2, 1282}, {985617, 8, 1339}};
  double alone = 0.0, alone_mb = 0.0;
  for (size_t i = 0; i < sizeof measured / sizeof *measured; i++) {
    cavum_memory_case need = {.num_unknowns = measured[i].num_unknowns,
                              .degree = 8,
                              .num_modes = 3,
                              .num_threads = measured[i].num_threads};
    double estimate_mb = cavum_memory_estimate_bytes(&need) / 1e6;
    if (need.num_threads == 1) {
      alone = estimate_mb;
      alone_mb = measured[i].peak_mb;
    }
    printf("%d threads: %.0f MB, estimated %.0f MB\n", need.num_threads, measured[i].peak_mb,
           estimate_mb);
    ck_assert_double_ge(estimate_mb - alone, measured[i].peak_mb - alone_mb);
  }
}
END_TEST

// The case of a mesh takes the threads of the computation along.
START_TEST(threads_of_a_computation_count) {
  cavum_mesh mesh = {0};
  int before = cavum_threads_set(3);
  ck_assert_int_eq(cavum_memory_case_of(&mesh, 8, 1).num_threads, 3);
  cavum_threads_set(before);
  ck_assert_int_eq(cavum_memory_case_of(&mesh, 8, 1).num_threads, 1);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, large_estimates_are_close);
  tcase_add_test(tests, a_large_solve_needs_its_estimate);
  tcase_add_test(tests, threads_need_memory);
  tcase_add_test(tests, threads_of_a_computation_count);
  tcase_add_test(tests, memory_that_is_not_there_is_refused);
  tcase_add_test(tests, a_later_step_that_does_not_fit_ends_the_solve);
  tcase_add_test(tests, the_most_modes_are_the_last_that_fit);
  tcase_add_test(tests, what_cannot_be_done_is_refused);
  tcase_add_test(tests, the_best_so_far_is_given_and_labelled);
  tcase_add_test(tests, a_limit_of_work_is_one_of_memory);
  tcase_add_test(tests, flat_cells_are_solved_whole);
  tcase_add_test(tests, a_limit_that_is_not_reached_changes_nothing);
  tcase_add_test(tests, limits_that_are_none_are_refused);
  tcase_add_test(tests, work_is_counted);
}

CAVUM_TEST_MAIN("work", add_tests)
