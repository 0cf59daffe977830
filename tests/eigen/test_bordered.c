// SPDX-License-Identifier: GPL-3.0-or-later
// Bordered solves at a mode against an LU decomposition of the whole bordered matrix by the GNU
// Scientific Library: with the shift close by, with modes in between that are known and that are
// not, several right-hand sides at once, and the correction of solutions that are near.
#include <gsl/gsl_linalg.h>

#include "eigen/bordered.h"
#include "eigen/modes_find.h"
#include "eigen/pencil_factorise.h"
#include "eigen/pencil_solve.h"
#include "fem/apply.h"
#include "field_problem.h"

enum { NUM_MODES = 4, NUM_SIDES = 5, MODE = 2 };

// A pillbox of 120 by 100 mm, small enough for dense matrices.
static cavum_point square(double s, double t, const void *context) {
  (void)context;
  return (cavum_point){0.12 * s, 0.1 * t};
}

static cavum_mesh make_box(void) {
  static const double s[3] = {0.0, 0.4, 1.0}, t[3] = {0.0, 0.45, 1.0};
  grid_msh grid = {.num_s = 2,
                   .num_t = 2,
                   .s = s,
                   .t = t,
                   .order = 1,
                   .shuffle = 5,
                   .unit_m = 1.0,
                   .map = square,
                   .region_names = {"vacuum"},
                   .sides = {CAVUM_BOUNDARY_AXIS, CAVUM_BOUNDARY_METAL, CAVUM_BOUNDARY_METAL,
                             CAVUM_BOUNDARY_MAGNETIC}};
  return field_problem_grid(&grid, NULL);
}

typedef struct dense {
  field_problem problem;
  cavum_modes modes;
  cavum_index size;
  double *mass, *sides, *exact;  // [size][size], [NUM_SIDES][size] each
  const double *x;
  double k2;
} dense;

// K - k^2 M and M by columns; unknowns that are zero by definition have the unit matrix.
static gsl_matrix *fill(dense *d) {
  size_t n = (size_t)d->size;
  gsl_matrix *whole = gsl_matrix_calloc(n + 1, n + 1);
  double *unit = calloc(n, sizeof *unit), *column = malloc(n * sizeof *column);
  for (size_t k = 0; k < n; k++) {
    memset(unit, 0, n * sizeof *unit);
    unit[k] = 1.0;
    cavum_pencil_clear_essential(unit, &d->problem.pencil);
    double *of_mass = d->mass + k * n;
    cavum_discretisation_apply_mass(of_mass, &d->problem.discretisation, unit);
    cavum_discretisation_apply_stiffness(column, &d->problem.discretisation, unit);
    cavum_pencil_clear_essential(of_mass, &d->problem.pencil);
    cavum_pencil_clear_essential(column, &d->problem.pencil);
    bool there = of_mass[k] > 0.0;
    for (size_t i = 0; i < n; i++) {
      double plain = i == k ? 1.0 : 0.0;
      gsl_matrix_set(whole, i, k, there ? column[i] - d->k2 * of_mass[i] : plain);
    }
  }
  cavum_discretisation_apply_mass(column, &d->problem.discretisation, d->x);
  cavum_pencil_clear_essential(column, &d->problem.pencil);
  for (size_t i = 0; i < n; i++) {
    gsl_matrix_set(whole, i, n, column[i]);
    gsl_matrix_set(whole, n, i, column[i]);
  }
  free(unit);
  free(column);
  return whole;
}

// Of (K - k^2 M) z + M x y = b, x^T M z = 0: y is x^T b.
static void solve_exactly(dense *d) {
  size_t n = (size_t)d->size;
  int sign;
  gsl_matrix *whole = fill(d);
  gsl_permutation *order = gsl_permutation_alloc(n + 1);
  gsl_vector *b = gsl_vector_calloc(n + 1), *z = gsl_vector_alloc(n + 1);
  ck_assert_int_eq(gsl_linalg_LU_decomp(whole, order, &sign), 0);
  for (int j = 0; j < NUM_SIDES; j++) {
    double *side = d->sides + (size_t)j * n,
           *own = field_problem_random(&d->problem, 40 + (uint64_t)j);
    cavum_pencil_clear_essential(own, &d->problem.pencil);
    for (size_t i = 0; i < n; i++) {
      side[i] = d->mass[i * n + i] > 0.0 ? own[i] : 0.0;
      gsl_vector_set(b, i, side[i]);
    }
    gsl_linalg_LU_solve(whole, order, b, z);
    for (size_t i = 0; i < n; i++) d->exact[(size_t)j * n + i] = gsl_vector_get(z, i);
    CAVUM_CHECK_RELATIVE(gsl_vector_get(z, n), field_problem_dot(d->x, side, d->size), 1e-10);
    free(own);
  }
  gsl_vector_free(b);
  gsl_vector_free(z);
  gsl_permutation_free(order);
  gsl_matrix_free(whole);
}

static void create(dense *d) {
  memset(d, 0, sizeof *d);
  field_problem_create(&d->problem, make_box(), 4);
  ck_assert_int_eq(cavum_modes_find_lowest(&d->modes, &d->problem.pencil, &d->problem.condensed,
                                           NUM_MODES, NULL, 1e-13, NULL),
                   CAVUM_OK);
  d->size = field_problem_size(&d->problem);
  size_t n = (size_t)d->size;
  d->x = d->modes.vectors + MODE * n;
  d->k2 = d->modes.k2_per_m2[MODE];
  d->mass = malloc(n * n * sizeof *d->mass);
  d->sides = malloc(NUM_SIDES * n * sizeof *d->sides);
  d->exact = malloc(NUM_SIDES * n * sizeof *d->exact);
  solve_exactly(d);
}

static void clear(dense *d) {
  free(d->mass);
  free(d->sides);
  free(d->exact);
  cavum_modes_clear(&d->modes);
  field_problem_clear(&d->problem);
}

// sqrt(v^T M v)
static double norm(const dense *d, const double *v) {
  size_t n = (size_t)d->size;
  double sum = 0.0;
  for (size_t k = 0; k < n; k++) sum += v[k] * field_problem_dot(d->mass + k * n, v, d->size);
  return sqrt(sum);
}

// Part of z that is not the exact solution j.
static double error_of(const dense *d, const double *z, int j) {
  const double *exact = d->exact + (size_t)j * (size_t)d->size;
  double *rest = malloc((size_t)d->size * sizeof *rest);
  for (cavum_index i = 0; i < d->size; i++) rest[i] = z[i] - exact[i];
  double error = norm(d, rest) / norm(d, exact);
  free(rest);
  return error;
}

static cavum_bordered problem_at(dense *d, const cavum_modes *known, int index, double shift,
                                 double accuracy) {
  ck_assert_int_eq(cavum_pencil_factorise(&d->problem.pencil, &d->problem.condensed, shift, NULL),
                   CAVUM_OK);
  return (cavum_bordered){.pencil = &d->problem.pencil,
                          .modes = known,
                          .index = index,
                          .vector = d->x,
                          .k2_per_m2 = known->k2_per_m2[index],
                          .accuracy = accuracy};
}

// All right-hand sides in one call; z and, where it is not NULL, mz have shape [NUM_SIDES][size].
static bool solve(double *all, double *products, dense *d, const cavum_bordered *problem,
                  double *contraction) {
  size_t n = (size_t)d->size;
  double *z[NUM_SIDES], *b[NUM_SIDES], *mz[NUM_SIDES];
  double *copy = malloc(NUM_SIDES * n * sizeof *copy);
  bool solved = false;
  memcpy(copy, d->sides, NUM_SIDES * n * sizeof *copy);
  for (int j = 0; j < NUM_SIDES; j++) {
    z[j] = all + (size_t)j * n;
    b[j] = copy + (size_t)j * n;
    if (products) mz[j] = products + (size_t)j * n;
  }
  cavum_bordered_start start = {.mz = products ? mz : NULL};
  ck_assert_int_eq(cavum_bordered_solve(z, &start, &solved, problem, b, NUM_SIDES, NULL), CAVUM_OK);
  *contraction = start.contraction;
  free(copy);
  return solved;
}

// Above and below the mode, close and beyond known modes; loosely and tightly.
START_TEST(solutions_are_those_of_the_bordered_matrix) {
  dense d;
  create(&d);
  size_t n = (size_t)d.size;
  double *z = malloc(NUM_SIDES * n * sizeof *z), *mz = malloc(NUM_SIDES * n * sizeof *mz);
  const double *k2 = d.modes.k2_per_m2;
  const double shifts[] = {1.001 * d.k2, 0.5 * (k2[1] + d.k2), 0.5 * (k2[0] + k2[1]), 0.5 * k2[0],
                           0.5 * (k2[2] + k2[3])};
  for (size_t s = 0; s < sizeof shifts / sizeof *shifts; s++) {
    for (int tight = 0; tight < 2; tight++) {
      double accuracy = tight ? 1e-10 : 1e-4, contraction, worst = 0.0, worst_product = 0.0,
             largest = 0.0;
      const cavum_bordered problem = problem_at(&d, &d.modes, MODE, shifts[s], accuracy);
      ck_assert(solve(z, mz, &d, &problem, &contraction));
      for (int j = 0; j < NUM_SIDES; j++) {
        double *product = malloc(n * sizeof *product);
        worst = fmax(worst, error_of(&d, z + (size_t)j * n, j));
        cavum_discretisation_apply_mass(product, &d.problem.discretisation, z + (size_t)j * n);
        cavum_pencil_clear_essential(product, &d.problem.pencil);
        for (size_t i = 0; i < n; i++) {
          worst_product = fmax(worst_product, fabs(product[i] - mz[(size_t)j * n + i]));
          largest = fmax(largest, fabs(product[i]));
        }
        free(product);
      }
      printf("shift %.1f at k^2 %.1f, accuracy %.0e: worst error %.1e, of M z %.1e\n", shifts[s],
             d.k2, accuracy, worst, worst_product / largest);
      // The accuracy is that of the residual in the first one: up to the ratio of the extremes of
      // the spectrum of 1 - (k^2 - shift) T M, which is of order one here, with a margin of ten.
      ck_assert_double_le(worst, 10.0 * accuracy);
      ck_assert_double_le(worst_product, 1e-10 * largest);
    }
  }
  free(z);
  free(mz);
  clear(&d);
}
END_TEST

// With the other modes unknown and between shift and mode nothing is called solved.
START_TEST(unknown_modes_in_the_way_are_noticed) {
  dense d;
  create(&d);
  size_t n = (size_t)d.size;
  double *z = malloc(NUM_SIDES * n * sizeof *z), contraction;
  cavum_modes alone = {.count = 1,
                       .num_unknowns = d.modes.num_unknowns,
                       .k2_per_m2 = d.modes.k2_per_m2 + MODE,
                       .vectors = d.modes.vectors + MODE * n};
  cavum_bordered problem = problem_at(&d, &alone, 0, 0.5 * d.modes.k2_per_m2[0], 1e-8);
  ck_assert(!solve(z, NULL, &d, &problem, &contraction));
  // Close to the mode the others are not in the way.
  problem = problem_at(&d, &alone, 0, 1.001 * d.k2, 1e-8);
  ck_assert(solve(z, NULL, &d, &problem, &contraction));
  for (int j = 0; j < NUM_SIDES; j++) ck_assert_double_le(error_of(&d, z + (size_t)j * n, j), 1e-7);
  free(z);
  clear(&d);
}
END_TEST

// A k^2 that is none of the pencil, as that of a mode of another symmetry class: directly with the
// matrix factorised there, and by iteration from shifts nearby and beyond a known mode.
START_TEST(solutions_off_all_modes_leave_nothing_out) {
  dense d;
  create(&d);
  size_t n = (size_t)d.size;
  double *z = malloc(NUM_SIDES * n * sizeof *z), *mz = malloc(NUM_SIDES * n * sizeof *mz);
  double contraction, at = 0.5 * (d.modes.k2_per_m2[0] + d.modes.k2_per_m2[1]);
  const double shifts[] = {1.001 * at, 0.5 * d.modes.k2_per_m2[0],
                           0.5 * (d.modes.k2_per_m2[1] + d.modes.k2_per_m2[2])};
  const cavum_modes none = {.count = 0};
  problem_at(&d, &d.modes, 0, at, 1e-10);  // factorised at k^2 itself
  for (int j = 0; j < NUM_SIDES; j++) {
    size_t first = (size_t)j * n;
    cavum_pencil_solve(d.exact + first, &d.problem.pencil, 0, d.sides + first);
  }
  for (size_t s = 0; s < sizeof shifts / sizeof *shifts; s++) {
    for (int known = 0; known < 2; known++) {
      cavum_bordered problem = problem_at(&d, &d.modes, 0, shifts[s], 1e-10);
      problem.modes = known ? &d.modes : &none;
      problem.index = -1;
      problem.vector = NULL;
      problem.k2_per_m2 = at;
      bool solved = solve(z, mz, &d, &problem, &contraction);
      ck_assert(solved == (known || s == 0));
      for (int j = 0; j < NUM_SIDES && solved; j++) {
        double error = error_of(&d, z + (size_t)j * n, j);
        printf("shift %.1f at %.1f: error %.1e\n", shifts[s], at, error);
        ck_assert_double_le(error, 1e-9);  // ten times the accuracy, as above
      }
    }
  }
  free(z);
  free(mz);
  clear(&d);
}
END_TEST

// Part of v along a mode, by M, taken out.
static void take_out(const dense *d, double *v, const double *mode) {
  double *product = malloc((size_t)d->size * sizeof *product);
  cavum_pencil_apply_mass(product, &d->problem.pencil, mode);
  double part = field_problem_dot(product, v, d->size);
  for (cavum_index i = 0; i < d->size; i++) v[i] -= part * mode[i];
  free(product);
}

// The modes, those but MODE off by a part of a vector by chance: as an iteration leaves them,
// orthogonal, of unit norm, with their Rayleigh quotients.
static cavum_modes make_off(dense *d, double part) {
  size_t n = (size_t)d->size;
  cavum_modes off = {.count = NUM_MODES,
                     .num_unknowns = d->size,
                     .k2_per_m2 = malloc(NUM_MODES * sizeof(double)),
                     .vectors = malloc(NUM_MODES * n * sizeof(double))};
  memcpy(off.vectors, d->modes.vectors, NUM_MODES * n * sizeof(double));
  memcpy(off.k2_per_m2, d->modes.k2_per_m2, NUM_MODES * sizeof(double));
  double *product = malloc(n * sizeof *product);
  for (int m = 0; m < NUM_MODES; m++) {
    if (m == MODE) continue;
    double *v = off.vectors + (size_t)m * n,
           *by_chance = field_problem_random(&d->problem, 90 + (uint64_t)m);
    cavum_pencil_clear_essential(by_chance, &d->problem.pencil);
    double size = norm(d, by_chance);
    for (size_t i = 0; i < n; i++) v[i] += part / size * by_chance[i];
    take_out(d, v, d->x);
    for (int k = 0; k < m; k++) take_out(d, v, off.vectors + (size_t)k * n);
    size = norm(d, v);
    for (size_t i = 0; i < n; i++) v[i] /= size;
    cavum_discretisation_apply_stiffness(product, &d->problem.discretisation, v);
    off.k2_per_m2[m] = field_problem_dot(v, product, d->size);
    free(by_chance);
  }
  free(product);
  return off;
}

// Modes in between are known to what an iteration was asked for. Their errors leave their squares
// in the solution, not themselves.
START_TEST(modes_in_between_need_not_be_exact) {
  static const double parts[] = {1e-3, 1e-4, 1e-5};
  dense d;
  create(&d);
  size_t n = (size_t)d.size;
  double *z = malloc(NUM_SIDES * n * sizeof *z), contraction;
  for (size_t k = 0; k < sizeof parts / sizeof *parts; k++) {
    cavum_modes off = make_off(&d, parts[k]);
    const cavum_bordered problem = problem_at(&d, &off, MODE, 0.5 * d.modes.k2_per_m2[0], 1e-12);
    double worst = 0.0;
    ck_assert(solve(z, NULL, &d, &problem, &contraction));
    for (int j = 0; j < NUM_SIDES; j++) worst = fmax(worst, error_of(&d, z + (size_t)j * n, j));
    printf("modes off by %.0e: worst error %.1e\n", parts[k], worst);
    ck_assert_double_le(worst, 10.0 * parts[k] * parts[k]);
    free(off.vectors);
    free(off.k2_per_m2);
  }
  free(z);
  clear(&d);
}
END_TEST

// From solutions that are off by a known vector one solve leaves at most the stated part of it.
START_TEST(a_correction_contracts_as_stated) {
  dense d;
  create(&d);
  size_t n = (size_t)d.size;
  double *z = malloc(n * sizeof *z), *mz = malloc(NUM_SIDES * n * sizeof *mz);
  double *all = malloc(NUM_SIDES * n * sizeof *all), contraction;
  double shift = d.k2 - 0.3 * (d.k2 - d.modes.k2_per_m2[MODE - 1]);
  const cavum_bordered problem = problem_at(&d, &d.modes, MODE, shift, 1e-10);
  ck_assert(solve(all, mz, &d, &problem, &contraction));
  // Off by a part of the solution of another right-hand side: no part along the mode.
  for (size_t i = 0; i < n; i++) mz[i] += 0.01 * mz[n + i];
  double before = 0.01 * norm(&d, d.exact + n) / norm(&d, d.exact);
  const cavum_bordered_start start = {.mz = (double *const[]){mz}, .contraction = contraction};
  ck_assert_int_eq(cavum_bordered_correct((double *const[]){z}, &problem, &start,
                                          (const double *const[]){d.sides}, 1, NULL),
                   CAVUM_OK);
  double after = error_of(&d, z, 0);
  // The same from those that belong to the mode with the other sign.
  for (size_t i = 0; i < n; i++) mz[i] = -mz[i];
  const cavum_bordered_start turned = {.mz = start.mz, .opposite = true};
  ck_assert_int_eq(cavum_bordered_correct((double *const[]){all}, &problem, &turned,
                                          (const double *const[]){d.sides}, 1, NULL),
                   CAVUM_OK);
  ck_assert_mem_eq(all, z, n * sizeof *z);
  // Of all vectors, by the spectrum: the next modes on both sides.
  double most = (d.k2 - shift) /
                fmin(shift - d.modes.k2_per_m2[MODE - 1], d.modes.k2_per_m2[MODE + 1] - shift);
  printf("error %.2e before, %.2e after; the spectrum allows %.3f, seen in the solve %.3f\n",
         before, after, most, contraction);
  ck_assert_double_gt(after, 1e-9);
  ck_assert_double_le(after, most * before);
  free(z);
  free(mz);
  free(all);
  clear(&d);
}
END_TEST

// Solutions of a problem close by: off by parts of one another, from next to nothing to far.
typedef struct near_start {
  double *z, *mz;  // owned, [NUM_SIDES][size]
} near_start;

static near_start start_off(dense *d, double part) {
  size_t n = (size_t)d->size;
  near_start made = {malloc(NUM_SIDES * n * sizeof(double)),
                     malloc(NUM_SIDES * n * sizeof(double))};
  for (int j = 0; j < NUM_SIDES; j++) {
    double *z = made.z + (size_t)j * n, *mz = made.mz + (size_t)j * n;
    const double *own = d->exact + (size_t)j * n,
                 *other = d->exact + (size_t)((j + 1) % NUM_SIDES) * n;
    for (size_t i = 0; i < n; i++) z[i] = own[i] + part * norm(d, own) / norm(d, other) * other[i];
    cavum_pencil_apply_mass(mz, &d->problem.pencil, z);
  }
  return made;
}

static bool solve_near(double *worst, dense *d, const cavum_bordered *problem,
                       const near_start *near, double contraction_m2) {
  size_t n = (size_t)d->size;
  double *z[NUM_SIDES], *mz[NUM_SIDES], *near_z[NUM_SIDES], *near_mz[NUM_SIDES];
  const double *b[NUM_SIDES];
  double *all = malloc(2 * NUM_SIDES * n * sizeof *all);
  bool solved = false;
  for (size_t j = 0; j < NUM_SIDES; j++) {
    b[j] = d->sides + j * n;
    z[j] = all + j * n;
    mz[j] = all + (NUM_SIDES + j) * n;
    near_z[j] = near->z + j * n;
    near_mz[j] = near->mz + j * n;
  }
  cavum_bordered_start start = {.mz = mz};
  const cavum_bordered_near from = {near_z, near_mz, contraction_m2, false, false};
  ck_assert_int_eq(
      cavum_bordered_solve_near(z, &start, &solved, problem, &from, b, NUM_SIDES, NULL), CAVUM_OK);
  *worst = 0.0;
  for (int j = 0; solved && j < NUM_SIDES; j++) {
    double *product = malloc(n * sizeof *product);
    *worst = fmax(*worst, error_of(d, z[j], j));
    cavum_pencil_apply_mass(product, &d->problem.pencil, z[j]);
    ck_assert_mem_eq(product, mz[j], n * sizeof *product);
    free(product);
  }
  free(all);
  return solved;
}

// What is called solved is as accurate as it is from nothing, however far the start was; from close
// by it is.
START_TEST(from_close_by_it_is_as_accurate) {
  static const double parts[] = {1e-6, 1e-4, 1e-2, 1.0, 1e3};
  dense d;
  create(&d);
  size_t n = (size_t)d.size;
  double *z = malloc(NUM_SIDES * n * sizeof *z), contraction;
  double shift = 1.001 * d.k2, accuracy = 1e-6;
  const cavum_bordered problem = problem_at(&d, &d.modes, MODE, shift, accuracy);
  ck_assert(solve(z, NULL, &d, &problem, &contraction));
  double contraction_m2 = contraction / (shift - d.k2);
  for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
    near_start near = start_off(&d, parts[i]);
    double worst;
    bool solved = solve_near(&worst, &d, &problem, &near, contraction_m2);
    printf("off by %.0e: %s, error %.1e\n", parts[i], solved ? "solved" : "left", worst);
    ck_assert_double_le(worst, 10.0 * accuracy);
    ck_assert(solved || parts[i] > 0.1);
    ck_assert(!solved || parts[i] < 100.0);
    // Where it is said to contract slowly it is not tried.
    ck_assert(!solve_near(&worst, &d, &problem, &near, 0.1 / (shift - d.k2)));
    free(near.z);
    free(near.mz);
  }
  free(z);
  clear(&d);
}
END_TEST

// Where the products with M may stay behind the solutions are the same bits, and the products are
// off by what the second solve changed: what the contraction leaves of the first change.
START_TEST(products_may_stay_one_solve_behind) {
  const double part = 1e-2, accuracy = 1e-6;
  dense d;
  create(&d);
  size_t n = (size_t)d.size, all = NUM_SIDES * n;
  double *z = malloc(all * sizeof *z), contraction;
  double *made = malloc(4 * all * sizeof *made);
  double *to[2][NUM_SIDES], *products[2][NUM_SIDES], *near_z[NUM_SIDES], *near_mz[NUM_SIDES];
  const double *b[NUM_SIDES];
  double shift = 1.001 * d.k2;
  const cavum_bordered problem = problem_at(&d, &d.modes, MODE, shift, accuracy);
  ck_assert(solve(z, NULL, &d, &problem, &contraction));
  near_start near = start_off(&d, part);
  for (size_t j = 0; j < NUM_SIDES; j++) {
    b[j] = d.sides + j * n;
    near_z[j] = near.z + j * n;
    near_mz[j] = near.mz + j * n;
    for (size_t behind = 0; behind < 2; behind++) {
      to[behind][j] = made + 2 * behind * all + j * n;
      products[behind][j] = made + (2 * behind + 1) * all + j * n;
    }
  }
  for (int behind = 0; behind < 2; behind++) {
    cavum_bordered_start start = {.mz = products[behind]};
    const cavum_bordered_near from = {near_z, near_mz, contraction / (shift - d.k2), behind == 1,
                                      false};
    bool solved = false;
    ck_assert_int_eq(
        cavum_bordered_solve_near(to[behind], &start, &solved, &problem, &from, b, NUM_SIDES, NULL),
        CAVUM_OK);
    ck_assert(solved);
  }
  ck_assert_mem_eq(to[0][0], to[1][0], all * sizeof *z);
  double largest = 0.0;
  for (int j = 0; j < NUM_SIDES; j++) {
    double square = 0.0, off = 0.0;
    for (size_t i = 0; i < n; i++) {
      double exact = products[0][j][i], more = products[1][j][i] - exact;
      square += exact * exact;
      off += more * more;
    }
    largest = fmax(largest, sqrt(off / square));
  }
  // Lengths of M z are taken for those of z by M: within a factor of ten.
  printf("contraction %.1e, products behind by %.1e\n", contraction, largest);
  ck_assert_double_gt(largest, 0.0);
  ck_assert_double_le(largest, 10.0 * contraction * part);
  free(near.z);
  free(near.mz);
  free(made);
  free(z);
  clear(&d);
}
END_TEST

// A start that may serve again is as accurate as one that may not, and is kept from close by alone:
// then the solutions are the same bits and have no products.
START_TEST(a_start_close_by_serves_again) {
  static const double parts[] = {1e-6, 1e-4, 1e-2, 1.0, 1e3};
  const double accuracy = 1e-6;
  dense d;
  create(&d);
  size_t n = (size_t)d.size, all = NUM_SIDES * n;
  double *z = malloc(all * sizeof *z), *made = malloc(4 * all * sizeof *made), contraction;
  double shift = 1.0001 * d.k2;
  int num_kept = 0;
  const cavum_bordered problem = problem_at(&d, &d.modes, MODE, shift, accuracy);
  ck_assert(solve(z, NULL, &d, &problem, &contraction));
  for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
    near_start near = start_off(&d, parts[i]);
    cavum_bordered_start start[2];
    bool solved[2];
    double worst = 0.0;
    for (size_t may = 0; may < 2; may++) {
      double *to[NUM_SIDES], *products[NUM_SIDES], *near_z[NUM_SIDES], *near_mz[NUM_SIDES];
      const double *b[NUM_SIDES];
      for (size_t j = 0; j < NUM_SIDES; j++) {
        b[j] = d.sides + j * n;
        to[j] = made + 2 * may * all + j * n;
        products[j] = made + (2 * may + 1) * all + j * n;
        near_z[j] = near.z + j * n;
        near_mz[j] = near.mz + j * n;
      }
      start[may] = (cavum_bordered_start){.mz = products};
      const cavum_bordered_near from = {near_z, near_mz, contraction / (shift - d.k2), false,
                                        may == 1};
      ck_assert_int_eq(cavum_bordered_solve_near(to, &start[may], &solved[may], &problem, &from, b,
                                                 NUM_SIDES, NULL),
                       CAVUM_OK);
      for (int j = 0; solved[may] && j < NUM_SIDES; j++)
        worst = fmax(worst, error_of(&d, to[j], j));
    }
    printf("off by %.0e: %s, error %.1e\n", parts[i], start[1].kept ? "kept" : "not kept", worst);
    ck_assert(!start[0].kept);
    ck_assert(solved[0] == solved[1]);
    ck_assert_double_le(worst, accuracy);
    if (solved[0]) ck_assert_mem_eq(made, made + 2 * all, all * sizeof *made);
    if (start[1].kept) num_kept++;
    ck_assert(!start[1].kept || parts[i] < 0.1);
    free(near.z);
    free(near.mz);
  }
  ck_assert_int_gt(num_kept, 1);
  free(z);
  free(made);
  clear(&d);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, a_start_close_by_serves_again);
  tcase_add_test(tests, products_may_stay_one_solve_behind);
  tcase_add_test(tests, from_close_by_it_is_as_accurate);
  tcase_add_test(tests, solutions_are_those_of_the_bordered_matrix);
  tcase_add_test(tests, unknown_modes_in_the_way_are_noticed);
  tcase_add_test(tests, solutions_off_all_modes_leave_nothing_out);
  tcase_add_test(tests, modes_in_between_need_not_be_exact);
  tcase_add_test(tests, a_correction_contracts_as_stated);
}

CAVUM_TEST_MAIN("bordered", add_tests)
