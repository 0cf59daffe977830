// SPDX-License-Identifier: GPL-3.0-or-later
// Tall thin products against their definition in long double.
#include <float.h>
#include <string.h>

#include "grid_msh.h"
#include "linalg/tall_skinny.h"

enum { VECTORS = 9, SIZE = 197 };

static double *draw_vectors(int count, int size, uint64_t seed) {
  double *v = malloc((size_t)(count * size) * sizeof *v);
  for (int i = 0; i < count * size; i++) v[i] = (double)(grid_random(&seed) >> 11) * 0x1p-52 - 1.0;
  return v;
}

// Every number of vectors on both sides, sizes with and without a rest beyond whole vectors.
START_TEST(products) {
  static const int sizes[] = {1, 7, 8, 64, SIZE};
  double c[VECTORS * VECTORS];
  for (size_t s = 0; s < sizeof sizes / sizeof *sizes; s++) {
    int size = sizes[s];
    double *a = draw_vectors(VECTORS, size, 11), *b = draw_vectors(VECTORS, size, 12);
    for (int na = 1; na <= VECTORS; na++) {
      for (int nb = 1; nb <= VECTORS; nb++) {
        for (int i = 0; i < VECTORS * VECTORS; i++) c[i] = 1e9;
        cavum_tall_skinny_product(c, VECTORS, a, na, b, nb, size);
        for (int j = 0; j < VECTORS; j++) {
          for (int i = 0; i < VECTORS; i++) {
            long double sum = 0.0L;
            for (int k = 0; k < size; k++) sum += (long double)a[i * size + k] * b[j * size + k];
            double expected = i < na && j < nb ? (double)sum : 1e9;  // the rest is left alone
            // A sum of `size` products of numbers below 1.
            ck_assert_double_eq_tol(c[j * VECTORS + i], expected, size * DBL_EPSILON);
          }
        }
      }
    }
    free(a);
    free(b);
  }
}
END_TEST

START_TEST(combinations_in_place) {
  static const int sizes[] = {1, 7, 8, 33, SIZE};
  for (size_t s = 0; s < sizeof sizes / sizeof *sizes; s++) {
    int size = sizes[s];
    double *c = draw_vectors(VECTORS, VECTORS, 14);
    for (int from = 1; from <= VECTORS; from++) {
      for (int to = 1; to <= from; to++) {
        double *v = draw_vectors(VECTORS, size, 13), *before = draw_vectors(VECTORS, size, 13);
        cavum_tall_skinny_combine(v, size, from, to, c, VECTORS);
        for (int j = 0; j < VECTORS; j++) {
          for (int k = 0; k < size; k++) {
            long double sum = 0.0L;
            for (int i = 0; i < from; i++) {
              sum += (long double)c[j * VECTORS + i] * before[i * size + k];
            }
            double expected = j < to ? (double)sum : before[j * size + k];
            double error = fabs(v[j * size + k] - expected);
            ck_assert_double_le(error, j < to ? from * DBL_EPSILON : 0.0);
          }
        }
        free(v);
        free(before);
      }
    }
    free(c);
  }
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, products);
  tcase_add_test(tests, combinations_in_place);
}

CAVUM_TEST_MAIN("thin", add_tests)
