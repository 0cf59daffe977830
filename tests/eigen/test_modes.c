// SPDX-License-Identifier: GPL-3.0-or-later
// Factorisation, inertia and eigenpairs: (K - s M) y = b checked with products that do not know the
// factorisation; M-orthonormal vectors; counts against the modes found; the static mode.
#include "eigen/lanczos.h"
#include "eigen/modes_find.h"
#include "eigen/modes_improve.h"
#include "eigen/pencil_factorise.h"
#include "eigen/pencil_solve.h"
#include "eigen/projection.h"
#include "fem/apply.h"
#include "field_problem.h"

static cavum_point square(double s, double t, const void *context) {
  (void)context;
  return (cavum_point){0.12 * s, 0.1 * t};
}

static cavum_point ring(double s, double t, const void *context) {
  (void)context;
  return (cavum_point){0.2 * s, 0.02 + 0.04 * t};
}

// A pillbox (or a coaxial line) on few large elements; ends magnetic or metal.
static cavum_mesh make_box(bool off_axis, bool triangles, cavum_boundary end) {
  static const double s[4] = {0.0, 0.3, 0.7, 1.0}, t[3] = {0.0, 0.45, 1.0};
  grid_msh grid = {.num_s = 3,
                   .num_t = 2,
                   .s = s,
                   .t = t,
                   .order = 1,
                   .triangles = triangles,
                   .shuffle = 5,
                   .unit_m = 1.0,
                   .map = off_axis ? ring : square,
                   .region_names = {"vacuum"},
                   .sides = {off_axis ? CAVUM_BOUNDARY_METAL : CAVUM_BOUNDARY_AXIS, end,
                             CAVUM_BOUNDARY_METAL, end}};
  return field_problem_grid(&grid, NULL);
}

// y = (K - shift M) x without essential rows.
static void apply(double *y, field_problem *p, const double *x, double shift) {
  cavum_index size = field_problem_size(p);
  double *mx = malloc((size_t)size * sizeof *mx);
  cavum_discretisation_apply_stiffness(y, &p->discretisation, x);
  cavum_discretisation_apply_mass(mx, &p->discretisation, x);
  for (cavum_index i = 0; i < size; i++) y[i] -= shift * mx[i];
  cavum_pencil_clear_essential(y, &p->pencil);
  free(mx);
}

static void check_solve(field_problem *p, double shift) {
  cavum_index size = field_problem_size(p);
  cavum_error error = {0};
  double *x = field_problem_random(p, 21), *b = malloc((size_t)size * sizeof *b), worst = 0.0;
  double *y = malloc((size_t)size * sizeof *y), scale = 0.0;
  cavum_pencil_clear_essential(x, &p->pencil);
  ck_assert_msg(cavum_pencil_factorise(&p->pencil, &p->condensed, shift, &error) == CAVUM_OK, "%s",
                error.message);
  // The shift that was used may differ a little from the one asked for.
  CAVUM_CHECK_RELATIVE(p->pencil.shift_per_m2, shift, 1e-4);
  apply(b, p, x, p->pencil.shift_per_m2);
  cavum_pencil_solve(y, &p->pencil, 0, b);
  // The residual, not the error: near an eigenvalue the solution is not well determined.
  double *back = malloc((size_t)size * sizeof *back);
  apply(back, p, y, p->pencil.shift_per_m2);
  for (cavum_index i = 0; i < size; i++) {
    worst = fmax(worst, fabs(back[i] - b[i]));
    scale = fmax(scale, fabs(b[i]));
  }
  printf("shift %.1f: %lld below, relative residual %.1e\n", shift,
         (long long)p->pencil.levels[0].num_negative, worst / scale);
  // Without pivoting, growth up to a hundred times is allowed for.
  ck_assert_double_lt(worst, 1e-9 * scale);
  free(x);
  free(b);
  free(y);
  free(back);
}

// From far below all modes to far above those of the interiors of single elements, which are then
// indefinite: elements of 50 mm have their first interior mode near k = 100, k^2 = 10000.
START_TEST(shifted_systems_are_solved) {
  static const double shifts[] = {-500.0, 0.0, 450.0, 900.0, 3000.0, 9000.0, 20000.0, 60000.0};
  for (int triangles = 0; triangles < 2; triangles++) {
    for (int degree = 2; degree <= 10; degree += 4) {
      field_problem p;
      field_problem_create(&p, make_box(false, triangles, CAVUM_BOUNDARY_METAL), degree);
      for (size_t i = 0; i < sizeof shifts / sizeof *shifts; i++) check_solve(&p, shifts[i]);
      field_problem_clear(&p);
      field_problem_create(&p, make_box(false, triangles, CAVUM_BOUNDARY_MAGNETIC), degree);
      for (size_t i = 0; i < sizeof shifts / sizeof *shifts; i++) check_solve(&p, shifts[i]);
      field_problem_clear(&p);
    }
  }
}
END_TEST

static void check_eigenpairs(field_problem *p, const cavum_modes *modes) {
  cavum_index size = field_problem_size(p);
  double *kx = malloc((size_t)size * sizeof *kx), *mx = malloc((size_t)size * sizeof *mx);
  for (int m = 0; m < modes->count; m++) {
    const double *x = modes->vectors + (int64_t)m * size;
    double residual;
    ck_assert_int_eq(cavum_modes_residual(&residual, modes, m, &p->pencil, NULL), CAVUM_OK);
    CAVUM_CHECK_NEAR(residual, 0.0, 1e-8);  // vectors good to about 1e-10 in energy
    apply(kx, p, x, 0.0);
    cavum_discretisation_apply_mass(mx, &p->discretisation, x);
    for (int n = 0; n <= m; n++) {
      const double *y = modes->vectors + (int64_t)n * size;
      double mass = field_problem_dot(y, mx, size), stiffness = field_problem_dot(y, kx, size);
      double expected = n == m ? 1.0 : 0.0, k2 = modes->k2_per_m2[m];
      ck_assert_double_eq_tol(mass, expected, 1e-11);
      ck_assert_double_eq_tol(stiffness, expected * k2, 1e-10 * k2);
    }
    if (m > 0) ck_assert_double_ge(modes->k2_per_m2[m], modes->k2_per_m2[m - 1]);
  }
  free(kx);
  free(mx);
}

START_TEST(lowest_modes_are_eigenpairs) {
  for (int triangles = 0; triangles < 2; triangles++) {
    for (int off_axis = 0; off_axis < 2; off_axis++) {
      field_problem p;
      cavum_modes modes = {0};
      cavum_error error = {0};
      field_problem_create(&p, make_box(off_axis, triangles, CAVUM_BOUNDARY_METAL), 8);
      ck_assert_msg(cavum_modes_find_lowest(&modes, &p.pencil, &p.condensed, 7, NULL, 1e-12,
                                            &error) == CAVUM_OK,
                    "%s", error.message);
      ck_assert_int_eq(modes.count, 7);
      check_eigenpairs(&p, &modes);
      cavum_modes_clear(&modes);
      field_problem_clear(&p);
    }
  }
}
END_TEST

// The number of modes below any bound, by inertia, against a long list of modes.
START_TEST(inertia_counts_the_modes) {
  for (int off_axis = 0; off_axis < 2; off_axis++) {
    field_problem p;
    cavum_modes modes = {0};
    field_problem_create(&p, make_box(off_axis, false, CAVUM_BOUNDARY_METAL), 6);
    ck_assert_int_eq(
        cavum_modes_find_lowest(&modes, &p.pencil, &p.condensed, 40, NULL, 1e-12, NULL), CAVUM_OK);
    for (int m = 0; m < 40; m++) {
      double next = m < 39 ? modes.k2_per_m2[m + 1] : 1.02 * modes.k2_per_m2[39];
      double gap = next - modes.k2_per_m2[m];
      int64_t count;
      if (gap < 1e-3 * next) continue;
      // Close above a mode, in the middle, and close below the next.
      for (int k = 0; k < 3; k++) {
        double bound = modes.k2_per_m2[m] + gap * (k == 0 ? 0.01 : (k == 1 ? 0.5 : 0.99));
        if (m == 39 && k > 0) continue;
        ck_assert_int_eq(cavum_modes_count_below(&count, &p.pencil, &p.condensed, bound, NULL),
                         CAVUM_OK);
        ck_assert_msg(count == m + 1, "below %.6f: %lld modes, expected %d", bound,
                      (long long)count, m + 1);
      }
    }
    cavum_modes_clear(&modes);
    field_problem_clear(&p);
  }
}
END_TEST

START_TEST(modes_near_a_frequency_are_those_of_the_list) {
  field_problem p;
  cavum_modes all = {0}, near = {0};
  field_problem_create(&p, make_box(false, false, CAVUM_BOUNDARY_METAL), 8);
  ck_assert_int_eq(cavum_modes_find_lowest(&all, &p.pencil, &p.condensed, 12, NULL, 1e-12, NULL),
                   CAVUM_OK);
  for (int m = 2; m < 9; m++) {
    // Halfway between the means in k and in k^2 of the modes on both sides: in k the upper one is
    // nearer, in k^2 the lower one.
    double low = sqrt(all.k2_per_m2[m - 1]), high = sqrt(all.k2_per_m2[m + 1]);
    double k = 0.5 * (0.5 * (low + high) + sqrt(0.5 * (low * low + high * high)));
    for (int spare = 0; spare <= 2; spare++) {
      ck_assert_int_eq(
          cavum_modes_find_near(&near, &p.pencil, &p.condensed, 2, spare, k * k, NULL, 1e-12, NULL),
          CAVUM_OK);
      ck_assert_int_eq(near.count, 2 + spare);
      check_eigenpairs(&p, &near);
      int at = 0;  // the spare ones are about those that are wanted
      while (at < spare && near.k2_per_m2[at] < all.k2_per_m2[m] * (1.0 - 1e-6)) at++;
      for (int i = 0; i < 2; i++) {
        CAVUM_CHECK_RELATIVE(near.k2_per_m2[at + i], all.k2_per_m2[m + i], 1e-11);
      }
      cavum_modes_clear(&near);
    }
  }
  cavum_modes_clear(&all);
  field_problem_clear(&p);
}
END_TEST

// Largest difference of two vectors up to their sign, over the largest entry.
static double vector_difference(const double *x, const double *y, cavum_index size) {
  double largest = 0.0, worst = 0.0, sign = 1.0;
  for (cavum_index i = 0; i < size; i++) {
    if (fabs(x[i]) <= largest) continue;
    largest = fabs(x[i]);
    sign = x[i] * y[i] > 0.0 ? 1.0 : -1.0;
  }
  for (cavum_index i = 0; i < size; i++) worst = fmax(worst, fabs(x[i] - sign * y[i]));
  return worst / largest;
}

// The box at degree 7 with the two degrees below from the same elimination.
typedef struct nested_problem {
  field_problem low;  // degree 5
  cavum_reference reference;
  cavum_discretisation discretisation;
  cavum_condensed condensed;
  cavum_pencil pencil;
} nested_problem;

static void nested_create_of_size(nested_problem *p, bool off_axis, bool triangles, int degree,
                                  bool is_large) {
  field_problem_create(&p->low, make_box(off_axis, triangles, CAVUM_BOUNDARY_METAL), degree);
  cavum_unknown unknown = p->low.discretisation.unknown;
  ck_assert_int_eq(cavum_reference_create(&p->reference, 7, 0, true, NULL), CAVUM_OK);
  ck_assert_int_eq(
      cavum_discretisation_create(&p->discretisation, &p->low.mesh, &p->reference, unknown, NULL),
      CAVUM_OK);
  p->discretisation.is_large = is_large;
  ck_assert_int_eq(cavum_condensed_create(&p->condensed, &p->discretisation, 3, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_pencil_create(&p->pencil, &p->discretisation, &p->low.skeleton, 3, NULL),
                   CAVUM_OK);
}

static void nested_create(nested_problem *p, bool off_axis, bool triangles, int degree) {
  nested_create_of_size(p, off_axis, triangles, degree, false);
}

static void nested_clear(nested_problem *p) {
  cavum_pencil_clear(&p->pencil);
  cavum_condensed_clear(&p->condensed);
  cavum_discretisation_clear(&p->discretisation);
  cavum_reference_clear(&p->reference);
  field_problem_clear(&p->low);
}

// A guess of a lower degree leads to the same mode as a fresh start; the levels below are the modes
// of the lower degrees.
START_TEST(a_guess_leads_to_the_same_modes) {
  for (int kind = 0; kind < 4; kind++) {  // also with the factors of one degree at a time
    bool triangles = kind % 2 == 1, is_large = kind >= 2;
    nested_problem p;
    cavum_modes low = {0}, guess = {0}, fresh = {0}, improved[CAVUM_LEVELS_MOST] = {{0}};
    bool settled;
    nested_create_of_size(&p, false, triangles, 5, is_large);
    ck_assert_int_eq(
        cavum_modes_find_lowest(&low, &p.low.pencil, &p.low.condensed, 1, NULL, 1e-12, NULL),
        CAVUM_OK);
    ck_assert_int_eq(cavum_modes_find_lowest(&fresh, &p.pencil, &p.condensed, 1, NULL, 1e-12, NULL),
                     CAVUM_OK);
    ck_assert_int_eq(
        cavum_modes_embed(&guess, &p.discretisation.space, &low, &p.low.discretisation.space, NULL),
        CAVUM_OK);
    ck_assert_int_eq(
        cavum_modes_improve(improved, &settled, &p.pencil, &p.condensed, false, &guess, 1e-9, NULL),
        CAVUM_OK);
    ck_assert(settled);
    CAVUM_CHECK_RELATIVE(improved[0].k2_per_m2[0], fresh.k2_per_m2[0], 1e-12);
    cavum_index size = fresh.num_unknowns;
    // The fresh vectors are good to about 1e-10 in energy, 1e-5 of that in single coefficients.
    CAVUM_CHECK_NEAR(vector_difference(fresh.vectors, improved[0].vectors, size), 0.0, 1e-7);
    // The quadrature of both degrees is exact on the straight elements of the box.
    CAVUM_CHECK_RELATIVE(improved[2].k2_per_m2[0], low.k2_per_m2[0], 1e-12);
    CAVUM_CHECK_NEAR(vector_difference(guess.vectors, improved[2].vectors, size), 0.0, 1e-7);
    ck_assert_double_gt(improved[2].k2_per_m2[0], improved[1].k2_per_m2[0]);
    ck_assert_double_gt(improved[1].k2_per_m2[0], improved[0].k2_per_m2[0]);
    for (int l = 0; l < 3; l++) {
      ck_assert_int_eq(p.pencil.levels[l].num_negative, 1);
      cavum_modes_clear(&improved[l]);
    }
    cavum_modes_clear(&low);
    cavum_modes_clear(&guess);
    cavum_modes_clear(&fresh);
    nested_clear(&p);
  }
}
END_TEST

// A close shift serves where the mode lies below it, and the usual one elsewhere: of a guess whose
// k^2 is too low, and of a lean pencil.
START_TEST(close_shifts_are_tried_first) {
  for (int kind = 0; kind < 3; kind++) {
    nested_problem p;
    bool settled, too_low = kind == 1, is_large = kind == 2;
    cavum_modes low = {0}, guess = {0}, improved[CAVUM_LEVELS_MOST] = {{0}};
    nested_create_of_size(&p, false, false, 5, is_large);
    ck_assert_int_eq(
        cavum_modes_find_lowest(&low, &p.low.pencil, &p.low.condensed, 1, NULL, 1e-12, NULL),
        CAVUM_OK);
    ck_assert_int_eq(
        cavum_modes_embed(&guess, &p.discretisation.space, &low, &p.low.discretisation.space, NULL),
        CAVUM_OK);
    if (too_low) guess.k2_per_m2[0] /= 1.0 + 2.0 * (CAVUM_SHIFT_CLOSE - 1.0);
    double above = kind == 0 ? CAVUM_SHIFT_CLOSE : CAVUM_SHIFT_ABOVE;
    ck_assert_int_eq(
        cavum_modes_improve(improved, &settled, &p.pencil, &p.condensed, true, &guess, 1e-9, NULL),
        CAVUM_OK);
    ck_assert(settled);
    CAVUM_CHECK_RELATIVE(p.pencil.shift_per_m2, above * guess.k2_per_m2[0], 1e-15);
    CAVUM_CHECK_RELATIVE(improved[0].k2_per_m2[0], low.k2_per_m2[0], 1e-5);
    CAVUM_CHECK_RELATIVE(improved[2].k2_per_m2[0], low.k2_per_m2[0], 1e-12);
    for (int l = 0; l < 3; l++) cavum_modes_clear(&improved[l]);
    cavum_modes_clear(&low);
    cavum_modes_clear(&guess);
    nested_clear(&p);
  }
}
END_TEST

// Three by two elements that metal closes.
static cavum_mesh make_closed(const double s[4], const double t[3],
                              cavum_point (*map)(double s, double t, const void *context)) {
  grid_msh grid = {.num_s = 3,
                   .num_t = 2,
                   .s = s,
                   .t = t,
                   .order = 1,
                   .unit_m = 1.0,
                   .map = map,
                   .region_names = {"vacuum"},
                   .sides = {CAVUM_BOUNDARY_AXIS, CAVUM_BOUNDARY_METAL, CAVUM_BOUNDARY_METAL,
                             CAVUM_BOUNDARY_METAL}};
  return field_problem_grid(&grid, NULL);
}

// The pillbox with one end as a mirror plane.
static cavum_mesh make_half_box(void) {
  static const double s[4] = {0.0, 0.3, 0.8, 1.0}, t[3] = {0.0, 0.6, 1.0};
  cavum_mesh mesh = make_closed(s, t, square);
  field_problem_make_plane(&mesh, 0.0);
  return mesh;
}

// The factors of the open plane, without their last rows, are those of the closed plane: the same
// solutions and counts as a factorisation of its own, for several right-hand sides at once.
START_TEST(a_pencil_solves_with_the_factors_of_another) {
  enum { NUM_RHS = CAVUM_RHS_MOST + 2 };
  static const double shifts[] = {0.0, 400.0, 1500.0, 4000.0};
  field_problem p;
  cavum_skeleton closed = {0}, like = {0};
  cavum_pencil odd, own = {0};
  cavum_closure closure = {.symmetry_is_magnetic = true};
  field_problem_create(&p, make_half_box(), 7);
  ck_assert_int_eq(cavum_skeleton_create(&closed, &p.mesh, &closure, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_skeleton_create_like(&like, &p.skeleton, &closure, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_pencil_create(&own, &p.discretisation, &closed, 1, NULL), CAVUM_OK);
  cavum_pencil_create_sharing(&odd, &p.pencil, &like);
  cavum_index size = field_problem_size(&p);
  size_t all = (size_t)NUM_RHS * (size_t)size;
  double *b = malloc(all * sizeof *b), *x = malloc(all * sizeof *x), *y = malloc(all * sizeof *y);
  uint64_t seed = 5;
  for (size_t i = 0; i < all; i++) b[i] = (double)(grid_random(&seed) >> 11) * 0x1p-52 - 1.0;
  for (size_t s = 0; s < sizeof shifts / sizeof *shifts; s++) {
    ck_assert_int_eq(cavum_pencil_factorise(&odd, &p.condensed, shifts[s], NULL), CAVUM_OK);
    ck_assert_int_eq(cavum_pencil_factorise(&own, &p.condensed, shifts[s], NULL), CAVUM_OK);
    ck_assert_int_eq(odd.levels[0].num_rows, own.levels[0].num_rows);
    ck_assert_int_eq(odd.levels[0].num_negative, own.levels[0].num_negative);
    printf("shift %g: %lld open, %lld closed\n", shifts[s],
           (long long)p.pencil.levels[0].num_negative, (long long)own.levels[0].num_negative);
    cavum_pencil_rhs rhs[NUM_RHS];
    for (int r = 0; r < NUM_RHS; r++) {
      size_t at = (size_t)r * (size_t)size;
      rhs[r] = (cavum_pencil_rhs){&odd, x + at, b + at};
      cavum_pencil_solve(y + at, &own, 0, b + at);
    }
    cavum_pencil_solve_many(&p.pencil, 0, rhs, NUM_RHS);
    double largest = 0.0, worst = 0.0;
    for (size_t i = 0; i < all; i++) {
      largest = fmax(largest, fabs(y[i]));
      worst = fmax(worst, fabs(x[i] - y[i]));
    }
    // Rounding times the condition of some thousand of a matrix whose shift is near no mode.
    CAVUM_CHECK_NEAR(worst / largest, 0.0, 1e-10);
  }
  free(b);
  free(x);
  free(y);
  cavum_pencil_clear(&odd);
  cavum_pencil_clear(&own);
  cavum_skeleton_clear(&like);
  cavum_skeleton_clear(&closed);
  field_problem_clear(&p);
}
END_TEST

// Several guesses of a lower degree become the modes of all degrees of a pencil, wherever the shift
// is; with r H_phi as the unknown the static mode is on the way.
START_TEST(blocks_of_guesses_become_the_modes_of_all_degrees) {
  enum { WANTED = 4, GUARDS = 2 };
  static const double shifts[] = {0.5, 1.01};  // over the k^2 of the last one
  for (int i = 0; i < 4; i++) {
    nested_problem p;
    bool settled, off_axis = i / 2;
    cavum_modes low = {0}, guess = {0}, improved[CAVUM_LEVELS_MOST] = {{0}}, fresh = {0};
    nested_create(&p, off_axis, false, 5);
    ck_assert_int_eq(cavum_modes_find_lowest(&low, &p.low.pencil, &p.low.condensed, WANTED + GUARDS,
                                             NULL, 1e-12, NULL),
                     CAVUM_OK);
    ck_assert_int_eq(
        cavum_modes_find_lowest(&fresh, &p.pencil, &p.condensed, WANTED, NULL, 1e-12, NULL),
        CAVUM_OK);
    ck_assert_int_eq(
        cavum_modes_embed(&guess, &p.discretisation.space, &low, &p.low.discretisation.space, NULL),
        CAVUM_OK);
    double shift = shifts[i % 2] * guess.k2_per_m2[WANTED - 1];
    ck_assert_int_eq(cavum_pencil_factorise(&p.pencil, &p.condensed, shift, NULL), CAVUM_OK);
    const cavum_block_task task = {.pencil = &p.pencil,
                                   .guess = &guess,
                                   .wanted = WANTED,
                                   .accuracy = 1e-8,
                                   .modes = improved};
    double *mx = NULL;
    ck_assert_int_eq(cavum_block_modes_improve(&settled, &mx, &task, 1, 0, NULL), CAVUM_OK);
    const double *const products[1] = {mx};
    ck_assert_int_eq(cavum_projection_fill(&task, 1, products, NULL), CAVUM_OK);
    free(mx);
    ck_assert(settled);
    for (int m = 0; m < WANTED; m++) {
      CAVUM_CHECK_RELATIVE(improved[0].k2_per_m2[m], fresh.k2_per_m2[m], 1e-12);
      // The projection is as far from the mode of the highest degree as that of the lower one, but
      // for the ratio of k^2 to that of what the lower degree lacks.
      double change = improved[2].k2_per_m2[m] / improved[0].k2_per_m2[m] - 1.0;
      double expected = low.k2_per_m2[m] / fresh.k2_per_m2[m] - 1.0;
      printf("mode %d: change of k^2 %.3e by projection, %.3e by solution\n", m, change, expected);
      CAVUM_CHECK_NEAR(change, expected, 0.15 * expected + 1e-11);
      ck_assert_double_le(improved[0].vector_error[m], 1e-8);
      cavum_index size = fresh.num_unknowns;
      // The largest coefficients of a vector are a few times its size in energy.
      CAVUM_CHECK_NEAR(vector_difference(fresh.vectors + (int64_t)m * size,
                                         improved[0].vectors + (int64_t)m * size, size),
                       0.0, 1e-6);
    }
    for (int l = 0; l < CAVUM_LEVELS_MOST; l++) cavum_modes_clear(&improved[l]);
    cavum_modes_clear(&low);
    cavum_modes_clear(&guess);
    cavum_modes_clear(&fresh);
    nested_clear(&p);
  }
}
END_TEST

// A mesh at a degree and some below it, its mirror plane, if any, closed in both ways.
typedef struct mirrored_problem {
  cavum_mesh mesh;
  cavum_reference reference;
  cavum_discretisation discretisation;
  cavum_condensed condensed;
  cavum_skeleton skeleton[2];
  cavum_pencil pencil[2];
} mirrored_problem;

static void mirrored_create_of_size(mirrored_problem *p, cavum_mesh mesh, int degree, int levels,
                                    bool is_large) {
  cavum_closure open = {.symmetry_is_magnetic = false}, closed = {.symmetry_is_magnetic = true};
  memset(p, 0, sizeof *p);
  p->mesh = mesh;
  ck_assert_int_eq(cavum_reference_create(&p->reference, degree, 0, false, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_discretisation_create(&p->discretisation, &p->mesh, &p->reference,
                                               CAVUM_UNKNOWN_H_OVER_R, NULL),
                   CAVUM_OK);
  p->discretisation.is_large = is_large;
  ck_assert_int_eq(cavum_condensed_create(&p->condensed, &p->discretisation, levels, NULL),
                   CAVUM_OK);
  ck_assert_int_eq(cavum_skeleton_create(&p->skeleton[0], &p->mesh, &open, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_skeleton_create_like(&p->skeleton[1], &p->skeleton[0], &closed, NULL),
                   CAVUM_OK);
  ck_assert_int_eq(
      cavum_pencil_create(&p->pencil[0], &p->discretisation, &p->skeleton[0], levels, NULL),
      CAVUM_OK);
  cavum_pencil_create_sharing(&p->pencil[1], &p->pencil[0], &p->skeleton[1]);
}

static void mirrored_create(mirrored_problem *p, cavum_mesh mesh, int degree, int levels) {
  mirrored_create_of_size(p, mesh, degree, levels, false);
}

static void mirrored_clear(mirrored_problem *p) {
  for (int c = 1; c >= 0; c--) {
    cavum_pencil_clear(&p->pencil[c]);
    cavum_skeleton_clear(&p->skeleton[c]);
  }
  cavum_condensed_clear(&p->condensed);
  cavum_discretisation_clear(&p->discretisation);
  cavum_reference_clear(&p->reference);
  cavum_mesh_clear(&p->mesh);
}

static void check_class(const cavum_modes *improved, const cavum_modes *fresh, int wanted) {
  cavum_index size = fresh->num_unknowns;
  for (int m = 0; m < wanted; m++) {
    CAVUM_CHECK_RELATIVE(improved[0].k2_per_m2[m], fresh->k2_per_m2[m], 1e-12);
    CAVUM_CHECK_NEAR(vector_difference(fresh->vectors + (int64_t)m * size,
                                       improved[0].vectors + (int64_t)m * size, size),
                     0.0, 1e-6);
    ck_assert_double_ge(improved[1].k2_per_m2[m], improved[0].k2_per_m2[m] * (1.0 - 1e-12));
    ck_assert_double_ge(improved[2].k2_per_m2[m], improved[1].k2_per_m2[m]);
  }
}

// Modes of both closures from one factorisation amid them, all right-hand sides at once. A mode
// that the shift finds below it but no block has is told.
static void check_two_classes(bool is_large, bool is_single) {
  enum { WANTED = 3, GUARDS = 1 };
  mirrored_problem low, high;
  cavum_modes found[2] = {{0}}, guess[2] = {{0}}, fresh[2] = {{0}};
  cavum_modes improved[2][CAVUM_LEVELS_MOST] = {{{0}}};
  cavum_block_task tasks[2];
  bool settled;
  mirrored_create(&low, make_half_box(), 4, 1);
  mirrored_create_of_size(&high, make_half_box(), 7, 3, is_large);
  for (int c = 0; c < 2; c++) {
    ck_assert_int_eq(cavum_modes_find_lowest(&found[c], &low.pencil[c], &low.condensed,
                                             WANTED + GUARDS, NULL, 1e-12, NULL),
                     CAVUM_OK);
    ck_assert_int_eq(cavum_modes_find_lowest(&fresh[c], &high.pencil[c], &high.condensed, WANTED,
                                             NULL, 1e-12, NULL),
                     CAVUM_OK);
    ck_assert_int_eq(cavum_modes_embed(&guess[c], &high.discretisation.space, &found[c],
                                       &low.discretisation.space, NULL),
                     CAVUM_OK);
  }
  double shift = 0.5 * (guess[1].k2_per_m2[1] + guess[1].k2_per_m2[2]);
  for (int c = 0; c < 2; c++) {
    ck_assert_int_eq((is_single ? cavum_pencil_factorise_single : cavum_pencil_factorise)(
                         &high.pencil[c], &high.condensed, shift, NULL),
                     CAVUM_OK);
    ck_assert(high.pencil[c].is_single == (is_single && is_large));
    tasks[c] = (cavum_block_task){.pencil = &high.pencil[c],
                                  .guess = &guess[c],
                                  .wanted = WANTED,
                                  .accuracy = 1e-8,
                                  .modes = improved[c]};
  }
  double *mx[2] = {NULL, NULL};
  ck_assert_int_eq(cavum_block_modes_improve(&settled, mx, tasks, 2, 0, NULL), CAVUM_OK);
  ck_assert(settled);
  ck_assert_int_eq(cavum_projection_fill(tasks, 2, (const double *const *)mx, NULL), CAVUM_OK);
  free(mx[0]);
  free(mx[1]);
  for (int c = 0; c < 2; c++) check_class(improved[c], &fresh[c], WANTED);
  for (int c = 0; c < 2; c++) {
    for (int l = 0; l < CAVUM_LEVELS_MOST; l++) cavum_modes_clear(&improved[c][l]);
  }
  guess[1].count = tasks[1].wanted = 1;  // the second one lies below the shift, too
  ck_assert_int_eq(cavum_block_modes_improve(&settled, NULL, tasks, 2, 0, NULL), CAVUM_OK);
  ck_assert(!settled);
  for (int c = 0; c < 2; c++) {
    ck_assert_int_eq(improved[c][0].count, 0);
    cavum_modes_clear(&found[c]);
    cavum_modes_clear(&guess[c]);
    cavum_modes_clear(&fresh[c]);
  }
  mirrored_clear(&high);
  mirrored_clear(&low);
}

START_TEST(two_classes_are_improved_together) {
  check_two_classes(false, false);
  check_two_classes(true, false);
  check_two_classes(false, true);
  check_two_classes(true, true);
}
END_TEST

// Of the largest of b, the residual of a solve.
static double residual_of_solve(mirrored_problem *p, int c, const double *b) {
  cavum_index size = p->discretisation.space.num_unknowns;
  double *x = calloc((size_t)size, sizeof *x), *mx = calloc((size_t)size, sizeof *mx);
  double *ax = calloc((size_t)size, sizeof *ax), worst = 0.0, largest = 0.0;
  cavum_pencil_solve(x, &p->pencil[c], 0, b);
  cavum_pencil_apply_mass(mx, &p->pencil[c], x);
  cavum_pencil_apply(ax, &p->pencil[c], x, mx);
  for (cavum_index i = 0; i < size; i++) {
    worst = fmax(worst, fabs(ax[i] - b[i]));
    largest = fmax(largest, fabs(b[i]));
  }
  free(x);
  free(mx);
  free(ax);
  return worst / largest;
}

// A large pencil solves to some digits with factors in single precision and to all of them once it
// is factorised in double again; both count the modes below the shift alike.
START_TEST(large_pencils_have_factors_in_single_precision) {
  mirrored_problem p;
  mirrored_create_of_size(&p, make_half_box(), 7, 3, true);
  cavum_index size = p.discretisation.space.num_unknowns;
  double *x = calloc((size_t)size, sizeof *x), *b = calloc((size_t)size, sizeof *b);
  for (int c = 0; c < 2; c++) {
    for (cavum_index i = 0; i < p.mesh.num_vertices; i++) x[i] = 1.0 + 0.1 * (i % 7);
    cavum_pencil_clear_essential(x, &p.pencil[c]);
    cavum_pencil_apply_mass(b, &p.pencil[c], x);
    ck_assert_int_eq(cavum_pencil_factorise_single(&p.pencil[c], &p.condensed, 900.0, NULL),
                     CAVUM_OK);
    ck_assert(p.pencil[c].is_single);
    double single = residual_of_solve(&p, c, b);
    int64_t below = p.pencil[c].levels[0].num_negative;
    // Who reaches a level without knowing of precisions has it in double.
    ck_assert_int_eq(cavum_pencil_reach_level_as_is(&p.pencil[c], 0, NULL), CAVUM_OK);
    ck_assert(p.pencil[c].is_single);
    ck_assert_int_eq(cavum_pencil_reach_level(&p.pencil[c], 0, NULL), CAVUM_OK);
    ck_assert(!p.pencil[c].is_single);
    CAVUM_CHECK_NEAR(residual_of_solve(&p, c, b), 0.0, 1e-10);
    ck_assert_int_eq(cavum_pencil_factorise(&p.pencil[c], &p.condensed, 900.0, NULL), CAVUM_OK);
    ck_assert(!p.pencil[c].is_single);
    double both = residual_of_solve(&p, c, b);
    printf("residual %.1e in single, %.1e in double precision, %lld modes below\n", single, both,
           (long long)below);
    // Rounding of single precision, 6e-8, and of double, 1e-16, times growth and what the residual
    // sums up; more than that of double shows that it was not that.
    CAVUM_CHECK_NEAR(single, 0.0, 1e-3);
    ck_assert_double_gt(single, 1e-10);
    CAVUM_CHECK_NEAR(both, 0.0, 1e-10);
    ck_assert_int_eq(p.pencil[c].levels[0].num_negative, below);
  }
  free(x);
  free(b);
  mirrored_clear(&p);
}
END_TEST

// Degrees so low that their modes differ by per cents: these are iterated for, not projected.
START_TEST(low_degrees_have_modes_of_their_own) {
  enum { WANTED = 2 };
  mirrored_problem low, high;
  cavum_modes modes[CAVUM_LEVELS_MOST] = {{0}}, own = {0};
  mirrored_create(&low, make_half_box(), 1, 1);
  mirrored_create(&high, make_half_box(), 3, 3);
  ck_assert_int_eq(
      cavum_modes_find_lowest(&own, &low.pencil[0], &low.condensed, WANTED, NULL, 1e-12, NULL),
      CAVUM_OK);
  ck_assert_int_eq(cavum_modes_find_lowest(&modes[0], &high.pencil[0], &high.condensed, WANTED,
                                           NULL, 1e-12, NULL),
                   CAVUM_OK);
  const cavum_block_task task = {.pencil = &high.pencil[0], .accuracy = 1e-8, .modes = modes};
  ck_assert_int_eq(cavum_projection_fill_class(&task, NULL), CAVUM_OK);
  ck_assert_int_eq(modes[2].count, WANTED);
  for (int m = 0; m < WANTED; m++) {
    // The rules of degrees 1 and 3 differ, but both are exact on rectangles.
    CAVUM_CHECK_RELATIVE(modes[2].k2_per_m2[m], own.k2_per_m2[m], 1e-10);
  }
  for (int l = 0; l < CAVUM_LEVELS_MOST; l++) cavum_modes_clear(&modes[l]);
  cavum_modes_clear(&own);
  mirrored_clear(&high);
  mirrored_clear(&low);
}
END_TEST

// A cylinder of radius 1 m in which TM020 and TM012 are a ten-millionth in k^2 apart, in skew
// elements, which let them mix.
static cavum_point skew_cylinder(double s, double t, const void *context) {
  (void)context;
  double bump = sin(CAVUM_PI * s) * sin(CAVUM_PI * t);
  double length = 2.0 * CAVUM_PI /
                  sqrt(5.520078110286311 * 5.520078110286311 * 1.0000001 -
                       2.404825557695773 * 2.404825557695773);
  return (cavum_point){length * (s + 0.11 * bump), t + 0.13 * bump};
}

static cavum_mesh make_skew_cylinder(void) {
  static const double s[4] = {0.0, 0.3, 0.7, 1.0}, t[3] = {0.0, 0.55, 1.0};
  return make_closed(s, t, skew_cylinder);
}

// How a pair of close modes mixes changes with the degree: projections alone would hardly show
// that, Rayleigh-Ritz among them sees it.
START_TEST(projections_see_how_close_modes_mix) {
  enum { WANTED = 4, DEGREE = 8 };
  mirrored_problem low, high;
  cavum_modes modes[CAVUM_LEVELS_MOST] = {{0}}, own = {0}, embedded = {0};
  mirrored_create(&low, make_skew_cylinder(), DEGREE - 2, 1);
  mirrored_create(&high, make_skew_cylinder(), DEGREE, 3);
  ck_assert_int_eq(
      cavum_modes_find_lowest(&own, &low.pencil[0], &low.condensed, WANTED + 1, NULL, 1e-13, NULL),
      CAVUM_OK);
  ck_assert_int_eq(cavum_modes_find_lowest(&modes[0], &high.pencil[0], &high.condensed, WANTED + 1,
                                           NULL, 1e-13, NULL),
                   CAVUM_OK);
  double gap = modes[0].k2_per_m2[3] / modes[0].k2_per_m2[2] - 1.0;
  ck_assert_double_lt(fabs(gap), 1e-6);  // TM020 and TM012
  // Far from that pair against its gap.
  double shift = 0.5 * (modes[0].k2_per_m2[1] + modes[0].k2_per_m2[2]);
  ck_assert_int_eq(cavum_pencil_factorise(&high.pencil[0], &high.condensed, shift, NULL), CAVUM_OK);
  const cavum_block_task task = {.pencil = &high.pencil[0], .accuracy = 1e-8, .modes = modes};
  ck_assert_int_eq(cavum_projection_fill_class(&task, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_modes_embed(&embedded, &high.discretisation.space, &own,
                                     &low.discretisation.space, NULL),
                   CAVUM_OK);
  cavum_index size = modes[0].num_unknowns;
  for (int m = 0; m < WANTED; m++) {
    int64_t at = (int64_t)m * size;
    double change = vector_difference(modes[0].vectors + at, embedded.vectors + at, size);
    double missed = vector_difference(modes[2].vectors + at, embedded.vectors + at, size);
    double change_k2 = own.k2_per_m2[m] / modes[0].k2_per_m2[m] - 1.0;
    double missed_k2 = own.k2_per_m2[m] / modes[2].k2_per_m2[m] - 1.0;
    printf("mode %d: vectors change by %.1e, projections miss %.1e; k^2 %.1e, %.1e\n", m, change,
           missed, change_k2, missed_k2);
    ck_assert_double_lt(missed, 0.1 * change + 1e-8);
    ck_assert_double_lt(fabs(missed_k2), 0.1 * change_k2 + 1e-12);
  }
  for (int l = 0; l < CAVUM_LEVELS_MOST; l++) cavum_modes_clear(&modes[l]);
  cavum_modes_clear(&own);
  cavum_modes_clear(&embedded);
  mirrored_clear(&high);
  mirrored_clear(&low);
}
END_TEST

// A ring domain between metal walls owns the static mode; a magnetic end or the axis removes it.
START_TEST(static_mode_is_known_and_left_out) {
  field_problem p;
  cavum_modes modes = {0};
  double pi = acos(-1.0);
  field_problem_create(&p, make_box(true, false, CAVUM_BOUNDARY_METAL), 8);
  ck_assert(cavum_modes_has_static(&p.pencil));
  ck_assert_int_eq(cavum_modes_find_lowest(&modes, &p.pencil, &p.condensed, 2, NULL, 1e-12, NULL),
                   CAVUM_OK);
  // TEM between shorts 200 mm apart: k = p pi / L, closed form.
  CAVUM_CHECK_RELATIVE(modes.k2_per_m2[0], pow(pi / 0.2, 2), 1e-9);
  CAVUM_CHECK_RELATIVE(modes.k2_per_m2[1], pow(2 * pi / 0.2, 2), 1e-7);
  cavum_modes_clear(&modes);
  field_problem_clear(&p);
  field_problem_create(&p, make_box(true, false, CAVUM_BOUNDARY_MAGNETIC), 8);
  ck_assert(!cavum_modes_has_static(&p.pencil));
  ck_assert_int_eq(cavum_modes_find_lowest(&modes, &p.pencil, &p.condensed, 1, NULL, 1e-12, NULL),
                   CAVUM_OK);
  CAVUM_CHECK_RELATIVE(modes.k2_per_m2[0], pow(pi / 0.2, 2), 1e-9);  // open at both ends
  // Essential unknowns stay zero: the vector vanishes on both ends.
  for (cavum_index i = 0; i < p.mesh.num_vertices; i++) {
    double z = p.mesh.vertices[i].z_m;
    if (z == 0.0 || z == 0.2) ck_assert(modes.vectors[i] == 0.0);
  }
  cavum_modes_clear(&modes);
  field_problem_clear(&p);
  field_problem_create(&p, make_box(false, false, CAVUM_BOUNDARY_METAL), 4);
  ck_assert(!cavum_modes_has_static(&p.pencil));
  field_problem_clear(&p);
}
END_TEST

// The chain of n equal masses and springs: lambda_j = 4 sin^2(j pi / (2 (n + 1))), closed form.
enum { CHAIN = 60 };
static const double CHAIN_SHIFT = 0.9;

static cavum_status chain_solve(double *y, const double *b, void *context, cavum_error *error) {
  (void)context;
  (void)error;
  double diagonal[CHAIN];  // elimination of tridiagonal (2 - shift, -1)
  diagonal[0] = 2.0 - CHAIN_SHIFT;
  double right[CHAIN];
  right[0] = b[0];
  for (int i = 1; i < CHAIN; i++) {
    diagonal[i] = 2.0 - CHAIN_SHIFT - 1.0 / diagonal[i - 1];
    right[i] = b[i] + right[i - 1] / diagonal[i - 1];
  }
  for (int i = CHAIN - 1; i >= 0; i--) {
    y[i] = (right[i] + (i + 1 < CHAIN ? y[i + 1] : 0.0)) / diagonal[i];
  }
  return CAVUM_OK;
}

static void chain_mass(double *y, const double *x, void *context) {
  (void)context;
  for (int i = 0; i < CHAIN; i++) y[i] = x[i];
}

START_TEST(iteration_finds_the_chain_of_masses) {
  cavum_lanczos_problem problem = {CHAIN, CHAIN, NULL, chain_solve, chain_mass};
  double values[5], vectors[5 * CHAIN], start[CHAIN], pi = acos(-1.0), expected[CHAIN];
  for (int i = 0; i < CHAIN; i++) {
    start[i] = 1.0 + 0.1 * i;
    expected[i] = 4.0 * pow(sin((i + 1) * pi / (2.0 * (CHAIN + 1))), 2);
  }
  ck_assert_int_eq(
      cavum_lanczos_solve(values, vectors, &problem, 5, CHAIN_SHIFT, 1e-14, start, NULL), CAVUM_OK);
  // The five nearest to the shift are neighbours in the list.
  int first = 0;
  while (expected[first] + expected[first + 5] < 2.0 * CHAIN_SHIFT) first++;
  for (int m = 0; m < 5; m++) {
    CAVUM_CHECK_NEAR(values[m], expected[first + m], 1e-12);
    CAVUM_CHECK_NEAR(field_problem_dot(vectors + m * CHAIN, vectors + m * CHAIN, CHAIN), 1.0,
                     1e-12);
  }
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, shifted_systems_are_solved);
  tcase_add_test(tests, lowest_modes_are_eigenpairs);
  tcase_add_test(tests, inertia_counts_the_modes);
  tcase_add_test(tests, modes_near_a_frequency_are_those_of_the_list);
  tcase_add_test(tests, a_guess_leads_to_the_same_modes);
  tcase_add_test(tests, close_shifts_are_tried_first);
  tcase_add_test(tests, a_pencil_solves_with_the_factors_of_another);
  tcase_add_test(tests, blocks_of_guesses_become_the_modes_of_all_degrees);
  tcase_add_test(tests, two_classes_are_improved_together);
  tcase_add_test(tests, large_pencils_have_factors_in_single_precision);
  tcase_add_test(tests, low_degrees_have_modes_of_their_own);
  tcase_add_test(tests, projections_see_how_close_modes_mix);
  tcase_add_test(tests, static_mode_is_known_and_left_out);
  tcase_add_test(tests, iteration_finds_the_chain_of_masses);
}

CAVUM_TEST_MAIN("modes", add_tests)
