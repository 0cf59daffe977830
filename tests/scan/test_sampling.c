// SPDX-License-Identifier: GPL-3.0-or-later
// Points of a study: published and closed-form first points, strata, order of access.
#include <string.h>

#include "base/base.h"
#include "scan/sampling.h"
#include "scan/study.h"
#include "support.h"

static void make(cavum_sampling *sampling, cavum_sampling_kind kind, int num_axes, int64_t points,
                 uint64_t seed) {
  *sampling =
      (cavum_sampling){.kind = kind, .num_axes = num_axes, .num_points = points, .seed = seed};
  sampling->axes = cavum_alloc(num_axes, sizeof *sampling->axes);
  for (int i = 0; i < num_axes; i++) sampling->axes[i] = (cavum_axis){0.0, 1.0, points, NULL};
  ck_assert_int_eq(cavum_sampling_prepare(sampling, NULL), CAVUM_OK);
}

// Bratley and Fox, ACM Trans. Math. Softw. 14 (1988) 88-100, Algorithm 659: the first points, the
// origin included, in the order of Antonov and Saleev, dimensions 1 to 3 (not checked against that
// source; the first dimension is the van der Corput sequence, which anyone can write down).
START_TEST(sobol_starts_as_published) {
  static const double published[8][3] = {
      {0.0, 0.0, 0.0},       {0.5, 0.5, 0.5},       {0.75, 0.25, 0.75},    {0.25, 0.75, 0.25},
      {0.375, 0.375, 0.625}, {0.875, 0.875, 0.125}, {0.625, 0.125, 0.375}, {0.125, 0.625, 0.875}};
  cavum_sampling sampling;
  make(&sampling, CAVUM_SAMPLING_SOBOL, 3, 8, 0);
  for (int point = 0; point < 8; point++) {
    double values[3];
    cavum_sampling_point(values, &sampling, point);
    // Multiples of 1/8 are exact.
    for (int i = 0; i < 3; i++) CAVUM_CHECK_NEAR(values[i], published[point][i], 0.0);
  }
  cavum_sampling_clear(&sampling);
}
END_TEST

// Every axis of the sequence is a (0,1)-sequence in base 2 (I. M. Sobol, USSR Comput. Maths. Math.
// Phys. 7 (1967) 86-112; not checked against the source): each run of 2^k points that starts at a
// multiple of 2^k has one point in each of 2^k equal intervals. Wrong direction numbers of any axis
// would show here. A digital shift keeps this, and so must we.
START_TEST(sobol_is_balanced_in_every_axis) {
  enum { AXES = 40, LARGEST = 256 };
  int64_t wrong = 0;
  static const uint64_t seeds[] = {0, 1, 77};
  for (size_t s = 0; s < sizeof seeds / sizeof *seeds; s++) {
    cavum_sampling sampling;
    make(&sampling, CAVUM_SAMPLING_SOBOL, AXES, 2 * LARGEST, seeds[s]);
    for (int size = 2; size <= LARGEST; size *= 4) {
      for (int64_t first = 0; first + size <= 2 * LARGEST; first += size) {
        static unsigned char met[AXES][LARGEST];
        memset(met, 0, sizeof met);
        for (int64_t point = first; point < first + size; point++) {
          double values[AXES];
          cavum_sampling_point(values, &sampling, point);
          for (int i = 0; i < AXES; i++) {
            int at = (int)floor(values[i] * size);
            if (at < 0 || at >= size) {
              wrong++;
            } else {
              met[i][at]++;
            }
          }
        }
        for (int i = 0; i < AXES; i++) {
          for (int k = 0; k < size; k++) wrong += met[i][k] != 1;
        }
      }
    }
    cavum_sampling_clear(&sampling);
  }
  ck_assert_int_eq(wrong, 0);
}
END_TEST

// The first two axes together are a (0,2)-sequence: 2^k points have one in every dyadic box of area
// 2^-k, whatever its sides (same source).
START_TEST(sobol_fills_boxes) {
  enum { BITS = 8 };
  for (uint64_t seed = 0; seed < 3; seed++) {
    cavum_sampling sampling;
    make(&sampling, CAVUM_SAMPLING_SOBOL, 2, 1 << BITS, seed);
    for (int wide = 0; wide <= BITS; wide++) {
      unsigned char met[1 << BITS] = {0};
      for (int64_t point = 0; point < 1 << BITS; point++) {
        double values[2];
        cavum_sampling_point(values, &sampling, point);
        int column = (int)ldexp(values[0], wide), row = (int)ldexp(values[1], BITS - wide);
        met[(column << (BITS - wide)) + row]++;
      }
      for (int k = 0; k < 1 << BITS; k++) ck_assert_int_eq(met[k], 1);
    }
    cavum_sampling_clear(&sampling);
  }
}
END_TEST

// Polynomials modulo 2 (bit k: the factor of x^k) and starting values of axes 2 to 40 of Algorithm
// 659: Bratley and Fox, ACM Trans. Math. Softw. 14 (1988) 88-100. A study may vary these 40 axes
// and no more. The values are those that two libraries of unlike origin have: GSL 2.7, and
// QuantLib 1.29 (its sequence "SobolLevitan"), whose first 20 direction numbers of all axes were
// compared.
static const struct {
  unsigned polynomial, starts[8];
} bratley_fox[39] = {
    // clang-format off
      {3, {1}},
      {7, {1, 1}},
      {11, {1, 3, 7}},
      {13, {1, 1, 5}},
      {19, {1, 3, 1, 1}},
      {25, {1, 1, 3, 7}},
      {37, {1, 3, 3, 9, 9}},
      {59, {1, 3, 7, 13, 3}},
      {47, {1, 1, 5, 11, 27}},
      {61, {1, 3, 5, 1, 15}},
      {55, {1, 1, 7, 3, 29}},
      {41, {1, 3, 7, 7, 21}},
      {67, {1, 1, 1, 9, 23, 37}},
      {97, {1, 3, 3, 5, 19, 33}},
      {91, {1, 1, 3, 13, 11, 7}},
      {109, {1, 1, 7, 13, 25, 5}},
      {103, {1, 3, 5, 11, 7, 11}},
      {115, {1, 1, 1, 3, 13, 39}},
      {131, {1, 3, 1, 15, 17, 63, 13}},
      {193, {1, 1, 5, 5, 1, 27, 33}},
      {137, {1, 3, 3, 3, 25, 17, 115}},
      {145, {1, 1, 3, 15, 29, 15, 41}},
      {143, {1, 3, 1, 7, 3, 23, 79}},
      {241, {1, 3, 7, 9, 31, 29, 17}},
      {157, {1, 1, 5, 13, 11, 3, 29}},
      {185, {1, 3, 1, 9, 5, 21, 119}},
      {167, {1, 1, 3, 1, 23, 13, 75}},
      {229, {1, 3, 3, 11, 27, 31, 73}},
      {171, {1, 1, 7, 7, 19, 25, 105}},
      {213, {1, 3, 5, 5, 21, 9, 7}},
      {191, {1, 1, 1, 15, 5, 49, 59}},
      {253, {1, 1, 1, 1, 1, 33, 65}},
      {203, {1, 3, 5, 15, 17, 19, 21}},
      {211, {1, 1, 7, 11, 13, 29, 3}},
      {239, {1, 3, 7, 5, 7, 11, 113}},
      {247, {1, 1, 5, 3, 15, 19, 61}},
      {285, {1, 3, 1, 1, 9, 27, 89, 7}},
      {369, {1, 1, 3, 7, 31, 15, 45, 23}},
      {299, {1, 3, 3, 9, 9, 25, 107, 39}}
    // clang-format on
};

static int degree_of(unsigned polynomial) { return 31 - __builtin_clz(polynomial); }

// Direction numbers times 2^k by the recurrence of Sobol (1967), as Bratley and Fox write it down.
static void published_directions(unsigned *numbers, int count, int axis) {
  for (int k = 0; k < count; k++) numbers[k] = 1;
  if (axis == 0) return;  // van der Corput
  unsigned polynomial = bratley_fox[axis - 1].polynomial;
  int degree = degree_of(polynomial);
  for (int k = 0; k < count; k++) {
    if (k < degree) {
      numbers[k] = bratley_fox[axis - 1].starts[k];
      continue;
    }
    numbers[k] = numbers[k - degree] ^ numbers[k - degree] << degree;
    for (int q = 1; q < degree; q++) {
      if (polynomial >> (degree - q) & 1) numbers[k] ^= numbers[k - q] << q;
    }
  }
}

// Point 2^k of a sequence in Gray order differs from the one before it by direction number k alone.
START_TEST(sobol_has_the_published_direction_numbers) {
  enum { AXES = CAVUM_STUDY_MOST_AXES, NUMBERS = 20 };
  ck_assert_int_eq(AXES, 40);
  static unsigned published[AXES][NUMBERS];
  for (int i = 0; i < AXES; i++) published_directions(published[i], NUMBERS, i);
  cavum_sampling sampling;
  make(&sampling, CAVUM_SAMPLING_SOBOL, AXES, INT64_C(1) << NUMBERS, 0);
  int wrong = 0;
  for (int k = 0; k < NUMBERS; k++) {
    double before[AXES], at[AXES];
    cavum_sampling_point(before, &sampling, (INT64_C(1) << k) - 1);
    cavum_sampling_point(at, &sampling, INT64_C(1) << k);
    for (int i = 0; i < AXES; i++) {
      unsigned number = (unsigned)ldexp(before[i], k + 1) ^ (unsigned)ldexp(at[i], k + 1);
      if (number == published[i][k]) continue;
      printf("axis %d, number %d: %u, published %u\n", i, k, number, published[i][k]);
      wrong++;
    }
  }
  ck_assert_int_eq(wrong, 0);
  cavum_sampling_clear(&sampling);
}
END_TEST

// Powers of x modulo a primitive polynomial of degree d come round after 2^d - 1 and not before.
static unsigned order_of_x(unsigned polynomial) {
  int degree = degree_of(polynomial);
  unsigned power = 1, order = 0;
  do {
    power <<= 1;
    if (power >> degree & 1) power ^= polynomial;
    order++;
  } while (power != 1 && order < 1024);
  return order;
}

// What the recurrence asks for (Sobol 1967): primitive polynomials, each for one axis, and odd
// starting values below 2^k. A slip in the table above would be seen here, the library's as well.
START_TEST(sobol_rests_on_primitive_polynomials) {
  for (int i = 0; i < 39; i++) {
    unsigned polynomial = bratley_fox[i].polynomial;
    int degree = degree_of(polynomial);
    ck_assert_uint_eq(order_of_x(polynomial), (1U << degree) - 1);
    for (int k = 0; k < i; k++) ck_assert_uint_ne(polynomial, bratley_fox[k].polynomial);
    for (int k = 0; k < degree; k++) {
      ck_assert_uint_eq(bratley_fox[i].starts[k] & 1, 1);
      ck_assert_uint_lt(bratley_fox[i].starts[k], 2U << k);
    }
  }
}
END_TEST

// Counts the points of a run in the boxes that divide axis i into 2^bits[i]; all must hold the
// same.
static int boxes_unlike(double (*points)[5], int num_points, const int *bits, int num_axes,
                        int num_bits) {
  int met[512] = {0}, unlike = 0;
  for (int point = 0; point < num_points; point++) {
    int box = 0;
    for (int i = 0; i < num_axes; i++) {
      box = box << bits[i] | (int)ldexp(points[point][i], bits[i]);
    }
    met[box]++;
  }
  for (int box = 0; box < 1 << num_bits; box++) unlike += met[box] != num_points >> num_bits;
  return unlike;
}

// Elementary intervals: s axes are a (t, s)-sequence in base 2, t the sum of the degrees less one
// of all polynomials (Sobol 1967; in these words Niederreiter, Random Number Generation and
// Quasi-Monte Carlo Methods, SIAM 1992, chapter 4; neither checked against the source). So of 2^m
// points from a multiple of 2^m each box of volume 2^(t - m) holds 2^t, whatever its sides, and a
// digital shift leaves it so.
START_TEST(sobol_gives_each_elementary_interval_its_share) {
  enum { MOST_AXES = 5, BITS = 9, POINTS = 1 << BITS };
  static const uint64_t seeds[] = {0, 1, 77};
  static double points[POINTS][MOST_AXES];
  int unlike = 0, boxes = 0;
  for (int num_axes = 2; num_axes <= MOST_AXES; num_axes++) {
    int free_bits = BITS;
    for (int i = 1; i < num_axes; i++) free_bits -= degree_of(bratley_fox[i - 1].polynomial) - 1;
    for (size_t run = 0; run < 3 * sizeof seeds / sizeof *seeds; run++) {
      cavum_sampling sampling;
      make(&sampling, CAVUM_SAMPLING_SOBOL, num_axes, 3 * POINTS, seeds[run / 3]);
      for (int k = 0; k < POINTS; k++) {
        cavum_sampling_point(points[k], &sampling, (int64_t)(run % 3) * POINTS + k);
      }
      cavum_sampling_clear(&sampling);
      // All ways to divide the bits among the axes: digits of a number in base free_bits + 1.
      int ways = 1;
      for (int i = 0; i < num_axes; i++) ways *= free_bits + 1;
      for (int way = 0; way < ways; way++) {
        int bits[MOST_AXES] = {0}, sum = 0;
        for (int i = 0, rest = way; i < num_axes; i++, rest /= free_bits + 1) {
          bits[i] = rest % (free_bits + 1);
          sum += bits[i];
        }
        if (sum != free_bits) continue;
        unlike += boxes_unlike(points, POINTS, bits, num_axes, free_bits);
        boxes += 1 << free_bits;
      }
    }
  }
  printf("%d boxes, %d with another share\n", boxes, unlike);
  ck_assert_int_eq(unlike, 0);
}
END_TEST

// Closed form: the digits of n = 1, 2, ... in base 2, 3 and 5 mirrored at the point.
START_TEST(halton_mirrors_digits) {
  static const int bases[3] = {2, 3, 5};
  cavum_sampling sampling;
  make(&sampling, CAVUM_SAMPLING_HALTON, 3, 100, 0);
  for (int point = 0; point < 100; point++) {
    double values[3];
    cavum_sampling_point(values, &sampling, point);
    for (int i = 0; i < 3; i++) {
      double mirrored = 0.0, weight = 1.0;
      for (int n = point + 1; n > 0; n /= bases[i]) {
        weight /= bases[i];
        mirrored += n % bases[i] * weight;
      }
      // A handful of additions of numbers below one.
      CAVUM_CHECK_NEAR(values[i], mirrored, 1e-15);
    }
  }
  cavum_sampling_clear(&sampling);
}
END_TEST

// A seed moves the sequence of every axis by a shift of its own: over the seeds the first point is
// uniform on each axis, of mean 1/2 and variance 1/12, and two axes are unrelated (covariance of
// standard deviation 1/12). Five standard deviations of the mean of 2000 seeds.
START_TEST(seeds_shift_every_axis_by_itself) {
  enum { SEEDS = 2000 };
  static const cavum_sampling_kind kinds[] = {CAVUM_SAMPLING_SOBOL, CAVUM_SAMPLING_HALTON};
  for (int k = 0; k < 2; k++) {
    double sum[2] = {0.0}, square[2] = {0.0}, product = 0.0;
    for (uint64_t seed = 1; seed <= SEEDS; seed++) {
      double values[2];
      cavum_sampling sampling;
      make(&sampling, kinds[k], 2, 4, seed);
      cavum_sampling_point(values, &sampling, 0);
      for (int i = 0; i < 2; i++) {
        sum[i] += values[i];
        square[i] += (values[i] - 0.5) * (values[i] - 0.5);
      }
      product += (values[0] - 0.5) * (values[1] - 0.5);
      cavum_sampling_clear(&sampling);
    }
    for (int i = 0; i < 2; i++) {
      CAVUM_CHECK_NEAR(sum[i] / SEEDS, 0.5, 5.0 * sqrt(1.0 / 12.0 / SEEDS));
      // (x - 1/2)^2 has the fourth moment 1/80: variance 1/80 - 1/144 = 1/180.
      CAVUM_CHECK_NEAR(square[i] / SEEDS, 1.0 / 12.0, 5.0 * sqrt(1.0 / 180.0 / SEEDS));
    }
    CAVUM_CHECK_NEAR(product / SEEDS, 0.0, 5.0 / 12.0 / sqrt(SEEDS));
  }
}
END_TEST

// Each slice of each axis is met exactly once, for counts around powers of two and four.
START_TEST(latin_hypercube_meets_every_slice_once) {
  static const int64_t counts[] = {1, 2, 3, 15, 16, 17, 64, 1000, 4097};
  for (size_t k = 0; k < sizeof counts / sizeof *counts; k++) {
    cavum_sampling sampling;
    make(&sampling, CAVUM_SAMPLING_LATIN_HYPERCUBE, 3, counts[k], 5);
    int *met = cavum_alloc(3 * counts[k], sizeof *met);
    for (int64_t point = 0; point < counts[k]; point++) {
      double values[3];
      cavum_sampling_point(values, &sampling, point);
      for (int i = 0; i < 3; i++) {
        ck_assert(values[i] >= 0.0 && values[i] < 1.0);
        met[i * counts[k] + (int64_t)(values[i] * (double)counts[k])]++;
      }
    }
    for (int64_t i = 0; i < 3 * counts[k]; i++) ck_assert_int_eq(met[i], 1);
    printf("%lld points in 3 axes: every slice once\n", (long long)counts[k]);
    free(met);
    cavum_sampling_clear(&sampling);
  }
}
END_TEST

// The columns of a Latin hypercube must not be copies of each other, nor the places in their
// slices: correlations of 4000 points within 5 standard deviations (1 / sqrt(4000)) of none.
START_TEST(latin_hypercube_axes_are_unrelated) {
  enum { POINTS = 4000 };
  cavum_sampling sampling;
  make(&sampling, CAVUM_SAMPLING_LATIN_HYPERCUBE, 2, POINTS, 1);
  double sum = 0.0, within = 0.0, integer;
  for (int64_t point = 0; point < POINTS; point++) {
    double values[2];
    cavum_sampling_point(values, &sampling, point);
    sum += (values[0] - 0.5) * (values[1] - 0.5);
    within +=
        (modf(values[0] * POINTS, &integer) - 0.5) * (modf(values[1] * POINTS, &integer) - 0.5);
  }
  CAVUM_CHECK_NEAR(12.0 * sum / POINTS, 0.0, 5.0 / sqrt(POINTS));
  CAVUM_CHECK_NEAR(12.0 * within / POINTS, 0.0, 5.0 / sqrt(POINTS));
  cavum_sampling_clear(&sampling);
}
END_TEST

START_TEST(any_order_gives_the_same_points) {
  static const cavum_sampling_kind kinds[] = {CAVUM_SAMPLING_SOBOL, CAVUM_SAMPLING_HALTON,
                                              CAVUM_SAMPLING_LATIN_HYPERCUBE, CAVUM_SAMPLING_GRID};
  static const int64_t order[] = {40, 3, 3, 0, 48, 17, 16};
  for (size_t k = 0; k < sizeof kinds / sizeof *kinds; k++) {
    cavum_sampling forward, hopping;
    double all[49][2];
    make(&forward, kinds[k], 2, 7, 9);
    make(&hopping, kinds[k], 2, 7, 9);
    forward.num_points = hopping.num_points = 49;
    for (int64_t point = 0; point < 49; point++) {
      cavum_sampling_point(all[point], &forward, point);
    }
    for (size_t i = 0; i < sizeof order / sizeof *order; i++) {
      double values[2];
      cavum_sampling_point(values, &hopping, order[i]);
      ck_assert(memcmp(values, all[order[i]], sizeof values) == 0);
    }
    cavum_sampling_clear(&forward);
    cavum_sampling_clear(&hopping);
  }
}
END_TEST

START_TEST(grid_runs_the_last_axis_fastest_and_meets_its_ends) {
  cavum_sampling grid = {.kind = CAVUM_SAMPLING_GRID, .num_axes = 2};
  grid.axes = cavum_alloc(2, sizeof *grid.axes);
  grid.axes[0] = (cavum_axis){0.1, 0.7, 3, NULL};
  grid.axes[1] = (cavum_axis){.num_points = 2, .list = cavum_alloc(2, sizeof(double))};
  grid.axes[1].list[0] = 5.0;
  grid.axes[1].list[1] = -1.0;
  ck_assert_int_eq(cavum_sampling_prepare(&grid, NULL), CAVUM_OK);
  ck_assert_int_eq(grid.num_points, 6);
  double first[2], last[2];
  cavum_sampling_point(first, &grid, 0);
  cavum_sampling_point(last, &grid, 5);
  // Both ends are met to the last bit.
  CAVUM_CHECK_NEAR(first[0], 0.1, 0.0);
  CAVUM_CHECK_NEAR(first[1], 5.0, 0.0);
  CAVUM_CHECK_NEAR(last[0], 0.7, 0.0);
  CAVUM_CHECK_NEAR(last[1], -1.0, 0.0);
  cavum_sampling_clear(&grid);
}
END_TEST

START_TEST(too_many_points_are_refused) {
  cavum_error error = {0};
  cavum_sampling grid = {.kind = CAVUM_SAMPLING_GRID, .num_axes = 3};
  grid.axes = cavum_alloc(3, sizeof *grid.axes);
  for (int i = 0; i < 3; i++) grid.axes[i] = (cavum_axis){0.0, 1.0, INT64_C(1) << 30, NULL};
  ck_assert_int_eq(cavum_sampling_prepare(&grid, &error), CAVUM_ERR_INPUT);
  printf("%s\n", error.message);
  cavum_sampling_clear(&grid);
  grid = (cavum_sampling){.kind = CAVUM_SAMPLING_GRID, .num_axes = 3};
  grid.axes = cavum_alloc(3, sizeof *grid.axes);
  for (int i = 0; i < 3; i++) grid.axes[i] = (cavum_axis){0.0, 1.0, 10000, NULL};
  ck_assert_int_eq(cavum_sampling_prepare(&grid, &error), CAVUM_ERR_INPUT);
  ck_assert_ptr_nonnull(strstr(error.message, "the grid has 1000000000000 shapes"));
  ck_assert_ptr_nonnull(strstr(error.message, "at most 1073741824"));
  cavum_sampling_clear(&grid);
  // As many as there may be.
  grid = (cavum_sampling){.kind = CAVUM_SAMPLING_GRID, .num_axes = 3};
  grid.axes = cavum_alloc(3, sizeof *grid.axes);
  for (int i = 0; i < 3; i++) grid.axes[i] = (cavum_axis){0.0, 1.0, 1024, NULL};
  ck_assert_int_eq(cavum_sampling_prepare(&grid, &error), CAVUM_OK);
  ck_assert_int_eq(grid.num_points, INT64_C(1) << 30);
  cavum_sampling_clear(&grid);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, sobol_starts_as_published);
  tcase_add_test(tests, sobol_is_balanced_in_every_axis);
  tcase_add_test(tests, sobol_fills_boxes);
  tcase_add_test(tests, sobol_has_the_published_direction_numbers);
  tcase_add_test(tests, sobol_rests_on_primitive_polynomials);
  tcase_add_test(tests, sobol_gives_each_elementary_interval_its_share);
  tcase_add_test(tests, halton_mirrors_digits);
  tcase_add_test(tests, seeds_shift_every_axis_by_itself);
  tcase_add_test(tests, latin_hypercube_meets_every_slice_once);
  tcase_add_test(tests, latin_hypercube_axes_are_unrelated);
  tcase_add_test(tests, any_order_gives_the_same_points);
  tcase_add_test(tests, grid_runs_the_last_axis_fastest_and_meets_its_ends);
  tcase_add_test(tests, too_many_points_are_refused);
}

CAVUM_TEST_MAIN("sampling", add)
