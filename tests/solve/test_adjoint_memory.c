// SPDX-License-Identifier: GPL-3.0-or-later
// Where the adjoint vectors of a cell begin from those of the cells before: on vectors that are a
// straight line in a number of the shape, and in a solver against cells that are solved alone.
#include "cavum/cavum.h"
#include "solve/adjoint_memory.h"
#include "support.h"

enum { SIZE = 40 };
static const bool ROWS[CAVUM_BORDERED_MOST] = {[1] = true, [4] = true};
static const cavum_adjoint_key KEY = {.topology = 3, .degree = 7, .mode = 0, .num_unknowns = SIZE};

// Entry i of row j at a place s of the line; the mode is row -1.
static double on_line(int j, int i, double s) {
  return cos(0.7 * i + 2.0 * j) + s * sin(1.3 * i * i + j);
}

static void fill_mode(double mode[SIZE], double s, double sign) {
  for (int i = 0; i < SIZE; i++) mode[i] = sign * (2.0 + on_line(-1, i, s));
}

static void add_cell(cavum_adjoint_memory *memory, double s, double sign) {
  double mode[SIZE];
  ck_assert_int_eq(cavum_adjoint_memory_begin(memory, &KEY, NULL), CAVUM_OK);
  fill_mode(mode, s, sign);
  for (int j = 0; j < CAVUM_BORDERED_MOST; j++) {
    double *z = cavum_adjoint_memory_row(memory, &memory->next, j, false);
    double *product = cavum_adjoint_memory_row(memory, &memory->next, j, true);
    for (int i = 0; ROWS[j] && i < SIZE; i++) {
      z[i] = sign * on_line(j, i, s);
      product[i] = sign * on_line(j + 20, i, s);
    }
  }
  // What the solver does: those before get the sign of the present one.
  (void)cavum_adjoint_memory_start(memory, ROWS, mode);
  cavum_adjoint_memory_end(memory, ROWS, mode, 0.5, false);
}

// The largest difference of what a cell begins from and the place s of the line.
static double difference(cavum_adjoint_memory *memory, const double *mode, double s, double sign) {
  const cavum_adjoint_cell *from = cavum_adjoint_memory_start(memory, ROWS, mode);
  double most = 0.0;
  ck_assert_ptr_nonnull(from);
  for (int j = 0; j < CAVUM_BORDERED_MOST; j++) {
    if (!ROWS[j]) continue;
    const double *z = cavum_adjoint_memory_row(memory, from, j, false);
    const double *product = cavum_adjoint_memory_row(memory, from, j, true);
    for (int i = 0; i < SIZE; i++) {
      most = fmax(most, fabs(z[i] - sign * on_line(j, i, s)));
      most = fmax(most, fabs(product[i] - sign * on_line(j + 20, i, s)));
    }
  }
  return most;
}

// Equal steps, shorter and longer ones, backwards, and modes that come with the other sign. Entries
// are of order one: 1e-13 is some hundred roundings.
START_TEST(steps_that_repeat_are_followed) {
  static const double places[] = {0.02, 0.015, 0.029, 0.01, 0.0, -0.009};
  for (size_t i = 0; i < sizeof places / sizeof *places; i++) {
    cavum_adjoint_memory memory = {0};
    double mode[SIZE], sign = i % 2 ? -1.0 : 1.0;
    add_cell(&memory, 0.0, 1.0);
    add_cell(&memory, 0.01, -1.0);
    fill_mode(mode, places[i], sign);
    double off = difference(&memory, mode, places[i], sign);
    printf("from 0 and 0.01 to %.3f: off by %.1e\n", places[i], off);
    ck_assert_double_le(off, 1e-13);
    cavum_adjoint_memory_clear(&memory);
  }
}
END_TEST

// Far beyond the last cell, and where the mode has gone another way, the last cell is the start.
START_TEST(other_steps_begin_from_the_last_cell) {
  cavum_adjoint_memory memory = {0};
  double mode[SIZE];
  add_cell(&memory, 0.0, 1.0);
  add_cell(&memory, 0.01, 1.0);
  fill_mode(mode, 0.05, 1.0);
  ck_assert_double_le(difference(&memory, mode, 0.01, 1.0), 0.0);
  fill_mode(mode, 0.02, 1.0);
  for (int i = 0; i < SIZE; i++) mode[i] += 0.03 * cos(5.0 * i);
  ck_assert_double_le(difference(&memory, mode, 0.01, 1.0), 0.0);
  // One cell alone is no line.
  cavum_adjoint_memory_clear(&memory);
  add_cell(&memory, 0.0, 1.0);
  fill_mode(mode, 0.01, 1.0);
  ck_assert_double_le(difference(&memory, mode, 0.0, 1.0), 0.0);
  cavum_adjoint_memory_clear(&memory);
}
END_TEST

// A start that serves again stays what it is: the last cell, or the place on the line.
START_TEST(starts_that_serve_again_are_kept) {
  cavum_adjoint_memory memory = {0};
  double mode[SIZE];
  add_cell(&memory, 0.0, 1.0);
  fill_mode(mode, 0.01, 1.0);
  cavum_adjoint_memory_keep(&memory, cavum_adjoint_memory_start(&memory, ROWS, mode), ROWS, mode);
  fill_mode(mode, 0.02, 1.0);
  ck_assert_double_le(difference(&memory, mode, 0.0, 1.0), 0.0);
  cavum_adjoint_memory_clear(&memory);
  // From 0 and 0.01 to 0.02, which is kept; from 0.01 and 0.02 on to 0.035.
  add_cell(&memory, 0.0, 1.0);
  add_cell(&memory, 0.01, 1.0);
  fill_mode(mode, 0.02, 1.0);
  cavum_adjoint_memory_keep(&memory, cavum_adjoint_memory_start(&memory, ROWS, mode), ROWS, mode);
  fill_mode(mode, 0.035, 1.0);
  ck_assert_double_le(difference(&memory, mode, 0.035, 1.0), 1e-13);
  cavum_adjoint_memory_clear(&memory);
  // They are counted as others are.
  int uses = 0;
  add_cell(&memory, 0.0, 1.0);
  for (; uses < 100; uses++) {
    const cavum_adjoint_cell *from = cavum_adjoint_memory_start(&memory, ROWS, mode);
    if (!from) break;
    cavum_adjoint_memory_keep(&memory, from, ROWS, mode);
  }
  ck_assert_int_gt(uses, 1);
  ck_assert_int_lt(uses, 100);
  cavum_adjoint_memory_clear(&memory);
}
END_TEST

START_TEST(what_does_not_serve_is_not_used) {
  const bool more[CAVUM_BORDERED_MOST] = {[1] = true, [2] = true, [4] = true};
  cavum_adjoint_memory memory = {0};
  double mode[SIZE];
  fill_mode(mode, 0.01, 1.0);
  ck_assert_ptr_null(cavum_adjoint_memory_start(&memory, ROWS, mode));
  add_cell(&memory, 0.0, 1.0);
  ck_assert_ptr_null(cavum_adjoint_memory_start(&memory, more, mode));
  // A cell of another mesh drops what is kept.
  cavum_adjoint_key other = KEY;
  other.topology++;
  ck_assert_int_eq(cavum_adjoint_memory_begin(&memory, &other, NULL), CAVUM_OK);
  ck_assert_ptr_null(cavum_adjoint_memory_start(&memory, ROWS, mode));
  cavum_adjoint_memory_clear(&memory);
  // After some cells in turn one begins from nothing.
  int uses = 0;
  add_cell(&memory, 0.0, 1.0);
  for (; uses < 100 && cavum_adjoint_memory_start(&memory, ROWS, mode); uses++) {
    ck_assert_int_eq(cavum_adjoint_memory_begin(&memory, &KEY, NULL), CAVUM_OK);
    cavum_adjoint_memory_end(&memory, ROWS, mode, 0.5, true);
  }
  ck_assert_int_gt(uses, 1);
  ck_assert_int_lt(uses, 100);
  cavum_adjoint_memory_clear(&memory);
}
END_TEST

// What a step may leave: both derivatives are as uncertain as they say, and beside that the adjoint
// vectors of both were solved for to a hundredth of the accuracy.
static double largest_difference(const cavum_mode_result *a, const cavum_mode_result *b,
                                 int count) {
  double most = 0.0;
  for (int i = 0; i < count; i++) {
    for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
      const cavum_derivative *one = &a->derivatives[(int64_t)i * CAVUM_FIGURES_ROOM + id];
      const cavum_derivative *other = &b->derivatives[(int64_t)i * CAVUM_FIGURES_ROOM + id];
      double both = one->uncertainty + other->uncertainty;
      if (one->reason || other->reason || !(both > 0.0)) continue;
      most = fmax(most, fabs(one->value - other->value) / both);
    }
  }
  return most;
}

// Steps that repeat and one back, of a cell solved by one solver in turn and alone.
START_TEST(derivatives_are_those_of_the_cell_alone) {
  static const double steps[] = {1e-5, 1e-4, 1e-3};
  cavum_cell cell;
  cavum_solve_options options = cavum_solve_options_default();
  options.derivatives = true;
  cavum_cell_set_defaults(&cell);
  ck_assert_int_eq(cavum_cell_read_file(&cell, CAVUM_CELLS_FOLDER "/injector-cell.yaml", NULL),
                   CAVUM_OK);
  cell.num_modes = 1;
  double radius_m = cell.left.equator_radius_m;
  for (size_t s = 0; s < sizeof steps / sizeof *steps; s++) {
    cavum_solver *solver = NULL;
    double most = 0.0;
    ck_assert_int_eq(cavum_solver_create(&solver, &options, NULL), CAVUM_OK);
    for (int i = 0; i < 6; i++) {
      cavum_result *warm = NULL, *alone = NULL;
      int at = i < 5 ? i : 0;
      cell.left.equator_radius_m = cell.right.equator_radius_m = radius_m * (1.0 + at * steps[s]);
      ck_assert_int_eq(cavum_solver_solve(&warm, solver, &cell, NULL), CAVUM_OK);
      ck_assert_int_eq(cavum_solve(&alone, &cell, &options, NULL), CAVUM_OK);
      most =
          fmax(most, largest_difference(&warm->modes[0], &alone->modes[0], warm->num_dimensions));
      cavum_result_destroy(&warm);
      cavum_result_destroy(&alone);
    }
    printf("steps of %.0e: at most %.4f of both uncertainties apart\n", steps[s], most);
    ck_assert_double_le(most, 1.0);
    cavum_solver_destroy(&solver);
  }
  cavum_cell_clear(&cell);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, steps_that_repeat_are_followed);
  tcase_add_test(tests, other_steps_begin_from_the_last_cell);
  tcase_add_test(tests, starts_that_serve_again_are_kept);
  tcase_add_test(tests, what_does_not_serve_is_not_used);
  tcase_add_test(tests, derivatives_are_those_of_the_cell_alone);
}

CAVUM_TEST_MAIN("adjoint_memory", add_tests)
