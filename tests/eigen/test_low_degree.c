// SPDX-License-Identifier: GPL-3.0-or-later
// Modes of degree 2 as the guesses of degree 4 on a mesh of many elements: one step is enough, and
// it says what it has left; they are the modes of the level of their degree.
#include "eigen/modes_find.h"
#include "eigen/pencil_factorise.h"
#include "eigen/projection.h"
#include "field_problem.h"
#include "linalg/blas_calls.h"

enum { CELLS = 48, LOW = 2, HIGH = 4, WANTED = 3, GUARDS = 2 };

// The box at degree 4 with the two degrees below, and at degree 2 alone.
typedef struct nested {
  field_problem low;
  cavum_reference reference;
  cavum_discretisation discretisation;
  cavum_condensed condensed;
  cavum_pencil pencil;
  cavum_modes found, guess, fresh;
} nested;

static cavum_point box(double s, double t, const void *context) {
  (void)context;
  return (cavum_point){0.12 * s, 0.1 * t};
}

static cavum_mesh make_mesh(void) {
  static double at[CELLS + 1];
  for (int i = 0; i <= CELLS; i++) at[i] = (double)i / CELLS;
  grid_msh grid = {.num_s = CELLS,
                   .num_t = CELLS,
                   .s = at,
                   .t = at,
                   .order = 1,
                   .unit_m = 1.0,
                   .map = box,
                   .region_names = {"vacuum"},
                   .sides = {CAVUM_BOUNDARY_AXIS, CAVUM_BOUNDARY_METAL, CAVUM_BOUNDARY_METAL,
                             CAVUM_BOUNDARY_METAL}};
  return field_problem_grid(&grid, NULL);
}

static void embed(nested *p) {
  cavum_modes_clear(&p->guess);
  ck_assert_int_eq(cavum_modes_embed(&p->guess, &p->discretisation.space, &p->found,
                                     &p->low.discretisation.space, NULL),
                   CAVUM_OK);
}

static void nested_create(nested *p) {
  memset(p, 0, sizeof *p);
  field_problem_create(&p->low, make_mesh(), LOW);
  ck_assert_int_eq(cavum_reference_create(&p->reference, HIGH, 0, false, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_discretisation_create(&p->discretisation, &p->low.mesh, &p->reference,
                                               CAVUM_UNKNOWN_H_OVER_R, NULL),
                   CAVUM_OK);
  p->discretisation.is_large = true;
  ck_assert_int_eq(cavum_condensed_create(&p->condensed, &p->discretisation, 3, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_pencil_create(&p->pencil, &p->discretisation, &p->low.skeleton, 3, NULL),
                   CAVUM_OK);
  ck_assert_int_eq(cavum_modes_find_lowest(&p->found, &p->low.pencil, &p->low.condensed,
                                           WANTED + GUARDS, NULL, 1e-12, NULL),
                   CAVUM_OK);
  ck_assert_int_eq(
      cavum_modes_find_lowest(&p->fresh, &p->pencil, &p->condensed, WANTED, NULL, 1e-13, NULL),
      CAVUM_OK);
  embed(p);
}

static void nested_clear(nested *p) {
  cavum_modes_clear(&p->found);
  cavum_modes_clear(&p->guess);
  cavum_modes_clear(&p->fresh);
  cavum_pencil_clear(&p->pencil);
  cavum_condensed_clear(&p->condensed);
  cavum_discretisation_clear(&p->discretisation);
  cavum_reference_clear(&p->reference);
  field_problem_clear(&p->low);
}

// Relative difference of two vectors in energy, up to their sign.
static double difference(const nested *p, const double *x, const double *y, double k2) {
  cavum_index size = p->discretisation.space.num_unknowns;
  double *d = malloc((size_t)size * sizeof *d), *md = malloc((size_t)size * sizeof *md);
  double *ad = malloc((size_t)size * sizeof *ad);
  double sign = cblas_ddot(size, x, 1, y, 1) < 0.0 ? -1.0 : 1.0;
  for (cavum_index i = 0; i < size; i++) d[i] = x[i] - sign * y[i];
  cavum_pencil_multiply(md, ad, &p->pencil, d, 1);
  double energy =
      cblas_ddot(size, d, 1, ad, 1) + p->pencil.shift_per_m2 * cblas_ddot(size, d, 1, md, 1);
  free(d);
  free(md);
  free(ad);
  return sqrt(fmax(energy, 0.0) / k2);
}

static const double *vector_of(const cavum_modes *modes, int m) {
  return modes->vectors + (size_t)m * (size_t)modes->num_unknowns;
}

static void factorise_amid(nested *p) {
  double shift = 0.5 * (p->found.k2_per_m2[1] + p->found.k2_per_m2[2]);
  ck_assert_int_eq(cavum_pencil_factorise_single(&p->pencil, &p->condensed, shift, NULL), CAVUM_OK);
  ck_assert(p->pencil.is_single);
}

static void improve(nested *p, cavum_modes *improved, double **mx, int guess_degree,
                    double accuracy) {
  bool settled;
  const cavum_block_task task = {.pencil = &p->pencil,
                                 .guess = &p->guess,
                                 .guess_degree = guess_degree,
                                 .wanted = WANTED,
                                 .accuracy = accuracy,
                                 .modes = improved};
  ck_assert_int_eq(cavum_block_modes_improve(&settled, mx, &task, 1, 0, NULL), CAVUM_OK);
  ck_assert(settled);
}

// Any accuracy is enough, so there is one step.
START_TEST(a_step_from_a_low_degree_says_what_it_leaves) {
  nested p;
  double said[2][WANTED];
  nested_create(&p);
  factorise_amid(&p);
  for (int known = 0; known < 2; known++) {
    cavum_modes improved[CAVUM_LEVELS_MOST] = {{0}};
    improve(&p, improved, NULL, known ? LOW : 0, 1.0);
    for (int m = 0; m < WANTED; m++) {
      double left =
          difference(&p, vector_of(&p.fresh, m), vector_of(improved, m), p.fresh.k2_per_m2[m]);
      double moved =
          difference(&p, vector_of(&p.fresh, m), vector_of(&p.guess, m), p.fresh.k2_per_m2[m]);
      said[known][m] = improved[0].vector_error[m];
      printf("mode %d: degree 2 off by %.1e, a step leaves %.1e, says %.1e\n", m, moved, left,
             said[known][m]);
      ck_assert_double_lt(left, said[known][m]);
    }
    cavum_modes_clear(&improved[0]);
  }
  // What is known of the degree counts: the lowest mode, far from the shift, was said to keep a
  // tenth.
  ck_assert_double_lt(said[1][0], 0.5 * said[0][0]);
  nested_clear(&p);
}
END_TEST

static cavum_block_task task_of(nested *p, cavum_modes *improved) {
  return (cavum_block_task){.pencil = &p->pencil,
                            .guess_degree = LOW,
                            .wanted = WANTED,
                            .accuracy = 1e-9,
                            .modes = improved};
}

static void check_levels(nested *p, const cavum_modes *taken, const cavum_modes *projected) {
  for (int l = 0; l < CAVUM_LEVELS_MOST; l++) {
    ck_assert_int_ge(taken[l].count, WANTED);
    ck_assert_int_ge(projected[l].count, WANTED);
    for (int m = 0; m < WANTED; m++) {
      CAVUM_CHECK_RELATIVE(taken[l].k2_per_m2[m], projected[l].k2_per_m2[m], 1e-10);
      // One solve leaves about the square of what the degrees differ by, 2e-4.
      double apart = difference(p, vector_of(&taken[l], m), vector_of(&projected[l], m),
                                projected[l].k2_per_m2[m]);
      CAVUM_CHECK_NEAR(apart, 0.0, 1e-7);
      // What is taken has the sign of the highest level. What is projected has any, the same in
      // both runs.
      const double *like = l == 1 ? vector_of(&projected[l], m) : vector_of(taken, m);
      const double *low = vector_of(&taken[l], m);
      ck_assert_double_gt(cblas_ddot(taken->num_unknowns, low, 1, like, 1), 0.0);
    }
  }
}

START_TEST(accurate_guesses_are_the_modes_of_their_level) {
  nested p;
  cavum_modes taken[CAVUM_LEVELS_MOST] = {{0}}, projected[CAVUM_LEVELS_MOST] = {{0}};
  nested_create(&p);
  for (int i = 0; i < 2; i++) {
    cavum_modes *improved = i ? taken : projected, *guesses[1] = {&p.guess};
    double *mx[1] = {NULL};
    const cavum_block_task task = task_of(&p, improved);
    factorise_amid(&p);
    improve(&p, improved, mx, LOW, 1e-9);
    if (i) {
      cblas_dscal(p.guess.num_unknowns, -1.0, p.guess.vectors, 1);  // any sign
      cavum_projection_take_guesses(&task, guesses, 1);
      ck_assert_int_eq(taken[2].count, WANTED);
      ck_assert_int_eq(taken[1].count, 0);
      ck_assert_int_eq(p.guess.count, 0);
      ck_assert_ptr_null(p.guess.vectors);
    }
    const double *before = taken[2].vectors;
    ck_assert_int_eq(cavum_projection_fill(&task, 1, (const double *const *)mx, NULL), CAVUM_OK);
    ck_assert_ptr_eq(taken[2].vectors, before);
    free(mx[0]);
  }
  factorise_amid(&p);  // for products of the same shift
  check_levels(&p, taken, projected);
  for (int l = 0; l < CAVUM_LEVELS_MOST; l++) {
    cavum_modes_clear(&taken[l]);
    cavum_modes_clear(&projected[l]);
  }
  nested_clear(&p);
}
END_TEST

// Those that are not accurate, or of another degree than a level, or in another order.
START_TEST(other_guesses_are_left) {
  nested p;
  cavum_modes improved[CAVUM_LEVELS_MOST] = {{0}}, *guesses[1] = {&p.guess};
  nested_create(&p);
  factorise_amid(&p);
  improve(&p, improved, NULL, LOW, 1e-9);
  cavum_block_task task = task_of(&p, improved);
  p.guess.vector_error[1] = 1e-8;
  cavum_projection_take_guesses(&task, guesses, 1);
  ck_assert_int_eq(improved[2].count, 0);
  p.guess.vector_error[1] = 1e-12;
  task.guess_degree = 1;
  cavum_projection_take_guesses(&task, guesses, 1);
  task.guess_degree = 0;
  cavum_projection_take_guesses(&task, guesses, 1);
  task.guess_degree = LOW;
  cblas_dcopy(p.guess.num_unknowns, vector_of(&p.guess, 0), 1,
              p.guess.vectors + p.guess.num_unknowns, 1);
  cavum_projection_take_guesses(&task, guesses, 1);
  ck_assert_int_eq(improved[2].count, 0);
  ck_assert_int_eq(p.guess.count, WANTED + GUARDS);
  cavum_modes_clear(&improved[0]);
  nested_clear(&p);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, a_step_from_a_low_degree_says_what_it_leaves);
  tcase_add_test(tests, accurate_guesses_are_the_modes_of_their_level);
  tcase_add_test(tests, other_guesses_are_left);
}

CAVUM_TEST_MAIN("eigen.low_degree", add_tests)
