// SPDX-License-Identifier: GPL-3.0-or-later
// Condensed elements of all levels against dense Schur complements of K - shift M, whose columns
// are the two products of unit vectors; the elimination here is plain and shares nothing.
#include <float.h>

#include "fem/apply.h"
#include "fem/condensed.h"
#include "fem/condensed_solve.h"
#include "field_problem.h"

static cavum_point rectangle(double s, double t, const void *context) {
  (void)context;
  return (cavum_point){0.1 * s, 0.08 * t};
}

static cavum_point trapezium(double s, double t, const void *context) {
  (void)context;
  return (cavum_point){0.1 * s + 0.02 * t, t * (0.06 + 0.03 * s)};
}

static cavum_point ring(double s, double t, const void *context) {
  (void)context;
  return (cavum_point){0.1 * s, 0.03 + t * (0.05 + 0.01 * s)};
}

// Slanted at the left end alone.
static cavum_point half_slanted(double s, double t, const void *context) {
  (void)context;
  return (cavum_point){0.1 * s - 0.03 * t * fmax(0.2 - s, 0.0), 0.08 * t};
}

// Four by three cells: 12 quadrilaterals, half a batch over, or 24 triangles, none over. Three by
// three: 9 quadrilaterals, one over, or 18 triangles, two over.
static cavum_mesh make_grid(cavum_point (*map)(double, double, const void *), int num_s,
                            bool triangles) {
  return field_problem_two_regions(map, num_s, triangles,
                                   map == ring ? CAVUM_BOUNDARY_METAL : CAVUM_BOUNDARY_AXIS);
}

// K - shift M of all unknowns, shape [size][size].
static double *make_dense(const field_problem *p, double shift_per_m2) {
  cavum_index size = field_problem_size(p);
  size_t n = (size_t)size;
  double *dense = malloc(n * n * sizeof *dense), *unit = calloc(n, sizeof *unit);
  double *kx = malloc(n * sizeof *kx), *mx = malloc(n * sizeof *mx);
  for (size_t c = 0; c < n; c++) {
    unit[c] = 1.0;
    cavum_discretisation_apply_stiffness(kx, &p->discretisation, unit);
    cavum_discretisation_apply_mass(mx, &p->discretisation, unit);
    for (size_t i = 0; i < n; i++) dense[i * n + c] = kx[i] - shift_per_m2 * mx[i];
    unit[c] = 0.0;
  }
  free(unit);
  free(kx);
  free(mx);
  return dense;
}

// Eliminates some unknowns from the whole matrix, one after the other; returns how many pivots were
// negative. Unknowns that are not touched by a pivot are skipped, which makes it quick enough.
static int eliminate(double *dense, cavum_index size, const cavum_index *unknown, int count) {
  size_t n = (size_t)size;
  int num_negative = 0;
  for (int k = 0; k < count; k++) {
    const double *row = dense + (size_t)unknown[k] * n;
    double pivot = row[unknown[k]];
    num_negative += pivot < 0.0;
    for (size_t i = 0; i < n; i++) {
      double factor = dense[i * n + (size_t)unknown[k]] / pivot;
      if (i == (size_t)unknown[k] || factor == 0.0) continue;
      for (size_t c = 0; c < n; c++) dense[i * n + c] -= factor * row[c];
    }
  }
  return num_negative;
}

// The unknowns of a level among those of the highest degree: of each edge and of each interior the
// first ones, because functions come by rising degree.
static int list_interiors(cavum_index *unknown, const field_problem *p, int degree) {
  int count = 0;
  for (cavum_index e = 0; e < p->mesh.num_elements; e++) {
    int corners = p->mesh.elements[e].num_corners;
    int inside = cavum_shape_count(corners, degree) - cavum_shape_count_skeleton(corners, degree);
    for (int i = 0; i < inside; i++) {
      const cavum_space *space = &p->discretisation.space;
      unknown[count++] = space->first_interior[e] + i * space->stride;
    }
  }
  return count;
}

// Global unknowns of the skeleton functions of one element at a level.
static int list_skeleton(cavum_index *unknown, const field_problem *p, cavum_index e, int degree) {
  cavum_index index[4 * CAVUM_DEGREE_MOST];
  double sign[4 * CAVUM_DEGREE_MOST];
  int corners = p->mesh.elements[e].num_corners, highest = p->reference.degree, count = 0;
  cavum_space_skeleton(index, sign, &p->discretisation.space, e);
  for (int k = 0; k < corners; k++) unknown[count++] = index[k];
  for (int edge = 0; edge < corners; edge++) {
    for (int m = 0; m < degree - 1; m++) {
      unknown[count++] = index[corners + edge * (highest - 1) + m];
    }
  }
  return count;
}

// Sums the condensed elements of a level, takes the dense Schur complement away and gives the
// largest entry that is left, relative to the largest of all.
static double compare_level(const field_problem *p, const cavum_condensed_level *level,
                            double *dense) {
  size_t n = (size_t)field_problem_size(p), stride = (size_t)level->stride;
  double worst = 0.0, largest = 0.0;
  bool *taken = calloc(n, sizeof *taken);
  for (cavum_index e = 0; e < p->mesh.num_elements; e++) {
    cavum_index at[4 * CAVUM_DEGREE_MOST];
    const double *schur = level->schur + (size_t)e * stride * stride;
    int count = list_skeleton(at, p, e, level->degree);
    for (int b = 0; b < count; b++) {
      taken[at[b]] = true;
      for (int a = 0; a < count; a++) {
        double entry = schur[(size_t)b * stride + (size_t)a];
        largest = fmax(largest, fabs(entry));
        dense[(size_t)at[a] * n + (size_t)at[b]] -= entry;
        // Both triangles are stored, from one number.
        ck_assert(entry == schur[(size_t)a * stride + (size_t)b]);
      }
    }
  }
  for (size_t i = 0; i < n; i++) {
    for (size_t c = 0; c < n; c++) {
      if (taken[i] && taken[c]) worst = fmax(worst, fabs(dense[i * n + c]));
    }
  }
  free(taken);
  return worst / largest;
}

// The matrices of a large discretisation, which are worked out one by one, against those that are
// kept: what is taken away and added again leaves rounding, of interiors whose entries are at most
// some hundred times those that are left.
static void check_taken(field_problem *p, const cavum_condensed *kept, double shift_per_m2) {
  cavum_condensed large;
  p->discretisation.is_large = true;
  ck_assert_int_eq(cavum_condensed_create(&large, &p->discretisation, CAVUM_LEVELS_MOST, NULL),
                   CAVUM_OK);
  ck_assert_int_eq(cavum_condensed_eliminate(&large, shift_per_m2, NULL), CAVUM_OK);
  for (int l = 0; l < CAVUM_LEVELS_MOST; l++) {
    const cavum_condensed_level *level = &kept->levels[l];
    size_t stride = (size_t)level->stride;
    double *taken = calloc(stride * stride, sizeof *taken), worst = 0.0, largest = 0.0;
    ck_assert(!large.levels[l].schur);
    for (cavum_index e = 0; e < p->mesh.num_elements; e++) {
      const double *schur = level->schur + (size_t)e * stride * stride;
      size_t count = (size_t)p->mesh.elements[e].num_corners * (size_t)level->degree;
      cavum_condensed_take(taken, &large, l, e);
      for (size_t b = 0; b < count; b++) {
        for (size_t a = 0; a < count; a++) {
          worst = fmax(worst, fabs(taken[b * stride + a] - schur[b * stride + a]));
          largest = fmax(largest, fabs(schur[b * stride + a]));
        }
      }
    }
    CAVUM_CHECK_NEAR(worst / largest, 0.0, 1e3 * DBL_EPSILON);
    free(taken);
  }
  cavum_condensed_clear(&large);
  p->discretisation.is_large = false;
}

static void check_levels(const char *what, cavum_mesh mesh, int degree, double shift_per_m2) {
  field_problem p;
  cavum_condensed condensed;
  field_problem_create(&p, mesh, degree);
  size_t n = (size_t)field_problem_size(&p);
  ck_assert_int_eq(cavum_condensed_create(&condensed, &p.discretisation, CAVUM_LEVELS_MOST, NULL),
                   CAVUM_OK);
  ck_assert_int_eq(cavum_condensed_eliminate(&condensed, shift_per_m2, NULL), CAVUM_OK);
  ck_assert(!condensed.unsafe);
  double *dense = make_dense(&p, shift_per_m2), *reduced = malloc(n * n * sizeof *reduced);
  cavum_index *inside = malloc(n * sizeof *inside);
  for (int l = 0; l < CAVUM_LEVELS_MOST; l++) {
    const cavum_condensed_level *level = &condensed.levels[l];
    ck_assert_int_eq(level->degree, degree - l);
    int count = list_interiors(inside, &p, level->degree);
    memcpy(reduced, dense, n * n * sizeof *reduced);
    int num_negative = eliminate(reduced, field_problem_size(&p), inside, count);
    printf("%s, degree %d of %d, shift %g: %d interior functions, %d negative pivots\n", what,
           level->degree, degree, shift_per_m2, count, num_negative);
    // Rounding of the interior blocks, whose condition number is of the order of degree^4 (1e3) in
    // this basis, times 40 for the coefficient r^3 and for pivots close to a resonance of an
    // interior.
    CAVUM_CHECK_NEAR(compare_level(&p, level, reduced), 0.0, 4e4 * DBL_EPSILON);
    ck_assert_int_eq(level->num_negative, num_negative);
  }
  free(inside);
  free(reduced);
  free(dense);
  if (shift_per_m2 < 1e4) check_taken(&p, &condensed, shift_per_m2);
  cavum_condensed_clear(&condensed);
  field_problem_clear(&p);
}

// Shifts of a mode of the whole domain (about (2.4 / 0.08)^2), and far above the first resonances
// of the interiors, where pivots are negative and the number of them is checked.
START_TEST(all_levels_are_schur_complements) {
  for (int k = 0; k < 2; k++) {
    double shift_per_m2 = k == 0 ? 900.0 : 3e4;
    check_levels("rectangles", make_grid(rectangle, 4, false), 6, shift_per_m2);
    check_levels("rectangles, one over", make_grid(rectangle, 3, false), 5, shift_per_m2);
    check_levels("quadrilaterals", make_grid(trapezium, 4, false), 7, shift_per_m2);
    check_levels("quadrilaterals of a ring", make_grid(ring, 4, false), 6, shift_per_m2);
    check_levels("nine rectangles, three others", make_grid(half_slanted, 4, false), 5,
                 shift_per_m2);
    check_levels("triangles", make_grid(trapezium, 4, true), 6, shift_per_m2);
    check_levels("triangles, two over", make_grid(rectangle, 3, true), 7, shift_per_m2);
    check_levels("triangles of a ring", make_grid(ring, 3, true), 5, shift_per_m2);
  }
  check_levels("curved quadrilaterals", field_problem_mesh(draw_sphere), 5, 900.0);
  // The least degree that has three levels: no interior function but that of degree 2 and 3.
  check_levels("lowest degrees", make_grid(rectangle, 3, false), 3, 900.0);
}
END_TEST

// Batches hold one kind of element each, and every element is in one of them.
START_TEST(batches_cover_all_elements) {
  for (int triangles = 0; triangles < 2; triangles++) {
    field_problem p;
    field_problem_create(&p, make_grid(triangles ? trapezium : rectangle, 3, triangles), 4);
    const cavum_discretisation *d = &p.discretisation;
    int *times = calloc((size_t)p.mesh.num_elements, sizeof *times), partial = 0;
    for (cavum_index b = 0; b < d->num_batches; b++) {
      ck_assert_int_ge(d->batches[b].count, 1);
      ck_assert_int_le(d->batches[b].count, CAVUM_LANES);
      partial += d->batches[b].count < CAVUM_LANES;
      // Rectangles along the axes have no mixed coefficient; slanted elements do.
      ck_assert_int_eq(d->batches[b].has_mixed, triangles);
      for (int l = 0; l < CAVUM_LANES; l++) {
        cavum_index e = d->batches[b].element[l];
        ck_assert_int_eq(p.mesh.elements[e].num_corners, d->batches[b].num_corners);
        if (l < d->batches[b].count) times[e]++;
      }
    }
    for (cavum_index e = 0; e < p.mesh.num_elements; e++) ck_assert_int_eq(times[e], 1);
    ck_assert_int_eq(partial, 1);
    free(times);
    field_problem_clear(&p);
  }
}
END_TEST

// At the same shift nothing is done: a mark written into the result survives. At another shift all
// is done, and coming back gives the same bits.
START_TEST(the_same_shift_is_not_done_again) {
  field_problem p;
  cavum_condensed condensed;
  field_problem_create(&p, make_grid(trapezium, 3, false), 5);
  ck_assert_int_eq(cavum_condensed_create(&condensed, &p.discretisation, 3, NULL), CAVUM_OK);
  ck_assert(!condensed.eliminated);
  ck_assert_int_eq(cavum_condensed_eliminate(&condensed, 0.0, NULL), CAVUM_OK);
  ck_assert(condensed.eliminated);  // also at the shift that a fresh struct holds
  size_t bytes = (size_t)p.mesh.num_elements * (size_t)condensed.levels[0].stride *
                 (size_t)condensed.levels[0].stride * sizeof(double);
  double *first = malloc(bytes), mark = 12345.0;
  memcpy(first, condensed.levels[0].schur, bytes);
  ck_assert(first[0] != 0.0 && first[0] != mark);
  condensed.levels[0].schur[0] = mark;
  ck_assert_int_eq(cavum_condensed_eliminate(&condensed, 0.0, NULL), CAVUM_OK);
  CAVUM_CHECK_NEAR(condensed.levels[0].schur[0], mark, 0.0);
  ck_assert_int_eq(cavum_condensed_eliminate(&condensed, 500.0, NULL), CAVUM_OK);
  CAVUM_CHECK_NEAR(condensed.shift_per_m2, 500.0, 0.0);
  ck_assert(memcmp(first, condensed.levels[0].schur, bytes) != 0);
  ck_assert_int_eq(cavum_condensed_eliminate(&condensed, 0.0, NULL), CAVUM_OK);
  ck_assert(memcmp(first, condensed.levels[0].schur, bytes) == 0);
  free(first);
  cavum_condensed_clear(&condensed);
  field_problem_clear(&p);
}
END_TEST

// Both halves of a solve in the interiors of one batch with nothing at the border: A_ii x = f of
// every element.
static void check_interior_solve(const field_problem *p, const cavum_condensed *condensed,
                                 int level, cavum_index batch, const double *dense) {
  static cavum_lanes own[CAVUM_SHAPES_MOST], border[CAVUM_SHAPES_MOST], f[CAVUM_SHAPES_MOST];
  const cavum_batch *b = &p->discretisation.batches[batch];
  size_t n = (size_t)field_problem_size(p);
  int degree = condensed->levels[level].degree;
  int interior = condensed->levels[level].interior[b->num_corners == 4];
  int skeleton = cavum_shape_count_skeleton(b->num_corners, p->reference.degree);
  uint64_t state = 99;
  for (int i = 0; i < interior; i++) {
    for (int l = 0; l < CAVUM_LANES; l++) {
      own[i][l] = f[i][l] = (double)(grid_random(&state) >> 11) * 0x1p-52 - 1.0;
    }
  }
  cavum_condensed_forward(own, border, condensed, level, batch, 1);
  for (int i = 0; i < skeleton; i++) border[i] = (cavum_lanes){0};
  cavum_condensed_backward(own, border, condensed, level, batch, 1);
  for (int l = 0; l < b->count; l++) {
    cavum_index first = p->discretisation.space.first_interior[b->element[l]];
    cavum_index stride = p->discretisation.space.stride;
    double worst = 0.0;
    for (int i = 0; i < interior; i++) {
      double sum = -f[i][l];
      for (int c = 0; c < interior; c++) {
        sum += dense[(size_t)(first + i * stride) * n + (size_t)(first + c * stride)] * own[c][l];
      }
      worst = fmax(worst, fabs(sum));
    }
    // A residual: no condition number, f is of order 1 and sums have less than 50 terms.
    ck_assert_msg(worst < 1e-13, "degree %d, element %d: residual %.2e", degree, b->element[l],
                  worst);
  }
}

// Several right-hand sides at once are each what one is, bit for bit: the same sums in the same
// order.
static void check_several(const cavum_condensed *condensed, int level, cavum_index batch) {
  static cavum_lanes own[CAVUM_RHS_MOST * CAVUM_SHAPES_MOST], one[CAVUM_SHAPES_MOST];
  static cavum_lanes border[CAVUM_RHS_MOST * CAVUM_SHAPES_MOST], edge[CAVUM_SHAPES_MOST];
  const cavum_discretisation *d = condensed->discretisation;
  int corners = d->batches[batch].num_corners;
  int interior = condensed->levels[level].interior[corners == 4];
  int skeleton = cavum_shape_count_skeleton(corners, d->reference->degree);
  for (int count = 1; count <= CAVUM_RHS_MOST; count++) {
    for (int i = 0; i < interior * count; i++) {
      for (int l = 0; l < CAVUM_LANES; l++) own[i][l] = 1.0 / (1.0 + i + l);
    }
    cavum_condensed_forward(own, border, condensed, level, batch, count);
    cavum_condensed_backward(own, border, condensed, level, batch, count);
    for (int r = 0; r < count; r++) {
      for (int i = 0; i < interior; i++) {
        for (int l = 0; l < CAVUM_LANES; l++) one[i][l] = 1.0 / (1.0 + (i * count + r) + l);
      }
      cavum_condensed_forward(one, edge, condensed, level, batch, 1);
      cavum_condensed_backward(one, edge, condensed, level, batch, 1);
      for (int l = 0; l < CAVUM_LANES; l++) {
        for (int i = 0; i < skeleton; i++) ck_assert(border[i * count + r][l] == edge[i][l]);
        for (int i = 0; i < interior; i++) ck_assert(own[i * count + r][l] == one[i][l]);
      }
    }
  }
}

START_TEST(interiors_are_solved) {
  for (int triangles = 0; triangles < 2; triangles++) {
    field_problem p;
    cavum_condensed condensed;
    field_problem_create(&p, make_grid(trapezium, 3, triangles), 7);
    ck_assert_int_eq(cavum_condensed_create(&condensed, &p.discretisation, 3, NULL), CAVUM_OK);
    ck_assert_int_eq(cavum_condensed_eliminate(&condensed, 900.0, NULL), CAVUM_OK);
    double *dense = make_dense(&p, 900.0);
    for (int level = 0; level < 3; level++) {
      for (cavum_index b = 0; b < p.discretisation.num_batches; b++) {
        check_interior_solve(&p, &condensed, level, b, dense);
        check_several(&condensed, level, b);
      }
    }
    free(dense);
    cavum_condensed_clear(&condensed);
    field_problem_clear(&p);
  }
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, all_levels_are_schur_complements);
  tcase_add_test(tests, batches_cover_all_elements);
  tcase_add_test(tests, the_same_shift_is_not_done_again);
  tcase_add_test(tests, interiors_are_solved);
}

CAVUM_TEST_MAIN("condensed", add_tests)
