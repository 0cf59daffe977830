// SPDX-License-Identifier: GPL-3.0-or-later
// The dense kernels against a plain elimination in long double that shares nothing with them.
#include <float.h>
#include <stdint.h>
#include <string.h>

#include "grid_msh.h"
#include "linalg/front_single.h"

enum { WIDEST = 9, MOST = 320 };

// Uniform in [-1, 1].
static double draw(uint64_t *state) { return (double)(grid_random(state) >> 11) * 0x1p-52 - 1.0; }

static double *alloc_aligned(size_t count) {
  double *memory = aligned_alloc(64, (count * sizeof *memory + 63) / 64 * 64);
  ck_assert_ptr_nonnull(memory);
  memset(memory, 0, count * sizeof *memory);
  return memory;
}

// A symmetric matrix in the storage of fronts with anything above the diagonal. The diagonal
// dominates, with negative entries at every third place or nowhere: no entry of L is above 1.
static double *make_front(int m, bool indefinite, uint64_t *state) {
  int ld = cavum_front_leading(m);
  double *a = alloc_aligned((size_t)m * (size_t)ld);
  for (int c = 0; c < m; c++) {
    for (int i = 0; i < m; i++) a[c * ld + i] = i < c ? 1e3 * draw(state) : draw(state);
    a[c * ld + c] += indefinite && c % 3 == 1 ? -(m + 2.0) : m + 2.0;
  }
  return a;
}

// Columns of a square front into those of its two parts, or back.
static void move_columns(double *square, const cavum_dense_front *f, bool back) {
  for (int c = 0; c < f->m; c++) {
    double *one = square + c * f->leading, *other = cavum_front_column(f, c);
    int from = c < f->k ? 0 : f->left_out;
    size_t bytes = (size_t)(f->leading - from) * sizeof *one;
    memcpy((back ? one : other) + from, (back ? other : one) + from, bytes);
  }
}

// Factorises a square front: its border in memory of its own, as fronts have it.
static cavum_front_pivots factorise(double *square, int m, int k) {
  int before = cavum_front_left_out(k, CAVUM_FRONT_DOUBLES);
  double *border =
      alloc_aligned((size_t)(before + cavum_front_border_room(m, k, CAVUM_FRONT_DOUBLES)));
  double *own = alloc_aligned((size_t)(k + 1) * (size_t)cavum_front_leading(m));
  cavum_dense_front f = cavum_front_in(own, border + before, m, k, CAVUM_FRONT_DOUBLES, false);
  move_columns(square, &f, false);
  cavum_front_pivots pivots = cavum_front_factorise(&f);
  move_columns(square, &f, true);
  free(border);
  free(own);
  return pivots;
}

// A partial L D L^T as the textbook has it: one pivot after the other, the whole square.
typedef struct plain {
  int num_negative;
  long double scale;  // largest entry of the matrix
  long double a[MOST][MOST];
} plain;

static plain *plain_factorise(const double *front, int m, int k) {
  plain *p = calloc(1, sizeof *p);
  int ld = cavum_front_leading(m);
  for (int c = 0; c < m; c++) {
    for (int i = c; i < m; i++) {
      p->a[i][c] = p->a[c][i] = front[c * ld + i];
      p->scale = fmaxl(p->scale, fabsl(p->a[i][c]));
    }
  }
  for (int c = 0; c < k; c++) {
    long double pivot = p->a[c][c];
    p->num_negative += pivot < 0.0L;
    for (int i = c + 1; i < m; i++) p->a[i][c] /= pivot;
    for (int j = c + 1; j < m; j++) {
      for (int i = j; i < m; i++) p->a[i][j] -= p->a[i][c] * pivot * p->a[j][c];
    }
  }
  return p;
}

// Largest difference of the parts that are stored; checks the zeros beside them.
static double compare(const double *front, const plain *p, int m, int k) {
  int ld = cavum_front_leading(m);
  double worst = 0.0;
  for (int c = 0; c < m; c++) {
    for (int i = c; i < m; i++) {
      worst = fmax(worst, fabs((double)(front[c * ld + i] - p->a[i][c])));
    }
    for (int i = 0; i < c && c < k; i++) ck_assert(front[c * ld + i] == 0.0);
    for (int i = m; i < ld; i++) ck_assert(front[c * ld + i] == 0.0);
  }
  return worst;
}

// An entry is a sum of k products none of which is above twice the largest entry, each rounded at
// two or three operations.
static double tolerance_of(const plain *p, int k) {
  return (double)(8.0L * (k + 1) * DBL_EPSILON * p->scale);
}

static void check_factorisation(int m, int k, bool indefinite, uint64_t *state) {
  double *front = make_front(m, indefinite, state);
  plain *expected = plain_factorise(front, m, k);
  cavum_front_pivots pivots = factorise(front, m, k);
  double worst = compare(front, expected, m, k), tolerance = tolerance_of(expected, k);
  printf("m = %d, k = %d: largest difference %.2e, tolerance %.2e\n", m, k, worst, tolerance);
  ck_assert_msg(worst <= tolerance, "m = %d, k = %d: off by %.2e, tolerance %.2e", m, k, worst,
                tolerance);
  ck_assert_int_eq(pivots.num_negative, expected->num_negative);
  ck_assert_int_eq(pivots.num_negative, indefinite ? (k + 1) / 3 : 0);
  ck_assert_msg(!pivots.unsafe, "m = %d, k = %d: called unsafe", m, k);
  free(expected);
  free(front);
}

// All widths of a panel, with borders that fill vectors and that do not; then sizes on both sides
// of the one from which the BLAS updates the rest, and of its strips of 48 columns.
START_TEST(partial_factorisation) {
  static const int borders[] = {0, 1, 2, 3, 5, 7, 8, 9, 16, 23};
  static const int large[][2] = {{61, 50},   {100, 100}, {255, 31},  {256, 256},
                                 {257, 257}, {261, 47},  {300, 121}, {320, 96}};
  uint64_t state = 20260101;
  for (int indefinite = 0; indefinite < 2; indefinite++) {
    for (int k = 1; k <= WIDEST; k++) {
      for (size_t b = 0; b < sizeof borders / sizeof *borders; b++) {
        check_factorisation(k + borders[b], k, indefinite, &state);
      }
    }
    for (size_t i = 0; i < sizeof large / sizeof *large; i++) {
      check_factorisation(large[i][0], large[i][1], indefinite, &state);
    }
  }
}
END_TEST

// Nothing eliminated: nothing changed, whatever the border.
START_TEST(no_columns) {
  uint64_t state = 5;
  for (int m = 1; m <= 17; m += 4) {
    double *front = make_front(m, true, &state);
    plain *same = plain_factorise(front, m, 0);
    cavum_front_pivots pivots = factorise(front, m, 0);
    CAVUM_CHECK_NEAR(compare(front, same, m, 0), 0.0, 0.0);
    ck_assert_int_eq(pivots.num_negative, 0);
    ck_assert(!pivots.unsafe);
    free(same);
    free(front);
  }
}
END_TEST

// Puts a lower triangle, row by row, into a front and factorises all of it.
static cavum_front_pivots factorise_small(int m, int k, const double *rows) {
  int ld = cavum_front_leading(m);
  double *front = alloc_aligned((size_t)m * (size_t)ld);
  for (int i = 0, at = 0; i < m; i++) {
    for (int c = 0; c <= i; c++) front[c * ld + i] = rows[at++];
  }
  cavum_front_pivots pivots = factorise(front, m, k);
  free(front);
  return pivots;
}

// Elimination without pivoting is trusted up to a growth of the diagonal by 1e7 (front.c), which
// costs as many digits.
START_TEST(growth_is_reported) {
  // 1 - 1 / d from a diagonal of 1: growth by 1 / d, on both sides of the limit and far from it.
  ck_assert(factorise_small(2, 2, (double[]){1e-12, 1.0, 1.0}).unsafe);
  ck_assert(factorise_small(2, 2, (double[]){-1e-8, 1.0, 1.0}).unsafe);
  ck_assert(!factorise_small(2, 2, (double[]){1e-6, 1.0, 1.0}).unsafe);
  ck_assert(!factorise_small(2, 2, (double[]){-1e-3, 1.0, 1.0}).unsafe);
  // In the border alone, and at a later pivot than the first.
  ck_assert(factorise_small(2, 1, (double[]){1e-12, 1.0, 1.0}).unsafe);
  ck_assert(factorise_small(3, 2, (double[]){1.0, 0.0, 1e-12, 0.0, 1.0, 1.0}).unsafe);
  // A pivot of zero, also one that comes about, and one that is no number.
  ck_assert(factorise_small(1, 1, (double[]){0.0}).unsafe);
  ck_assert(factorise_small(2, 2, (double[]){1.0, 1.0, 1.0}).unsafe);
  ck_assert(factorise_small(2, 2, (double[]){NAN, 1.0, 1.0}).unsafe);
  // A small pivot next to nothing is as safe as any: definite, however badly scaled.
  ck_assert(!factorise_small(2, 2, (double[]){1e-20, 1e-11, 1.0}).unsafe);
  ck_assert(!factorise_small(2, 2, (double[]){1e-20, 0.0, 1.0}).unsafe);
  // What is not eliminated is not looked at.
  ck_assert(!factorise_small(2, 1, (double[]){1.0, 0.0, 0.0}).unsafe);
}
END_TEST

// Sylvester: as many negative pivots as negative eigenvalues. Tridiagonal (-1, 2 - s, -1) has the
// eigenvalues 2 - s - 2 cos(j pi / (n + 1)), j = 1 .. n.
START_TEST(negative_pivots_count_eigenvalues) {
  enum { N = 37 };
  const double pi = acos(-1.0);
  double rows[N * (N + 1) / 2];
  for (double s = 0.013; s < 4.2; s += 0.31) {
    int expected = 0, at = 0;
    for (int j = 1; j <= N; j++) expected += 2.0 - s - 2.0 * cos(j * pi / (N + 1)) < 0.0;
    for (int i = 0; i < N; i++) {
      for (int c = 0; c <= i; c++) rows[at++] = c == i ? 2.0 - s : (c == i - 1 ? -1.0 : 0.0);
    }
    cavum_front_pivots pivots = factorise_small(N, N, rows);
    printf("shift %.3f: %d negative pivots, %d negative eigenvalues\n", s, pivots.num_negative,
           expected);
    ck_assert_int_eq(pivots.num_negative, expected);
  }
}
END_TEST

// Largest |A x - b| with the lower triangle of A.
static double residual(const double *front, const double *x, const double *b, int m) {
  int ld = cavum_front_leading(m);
  double worst = 0.0;
  for (int i = 0; i < m; i++) {
    long double sum = -b[i];
    for (int c = 0; c < m; c++) {
      sum += (long double)front[c < i ? c * ld + i : i * ld + c] * x[c];
    }
    worst = fmax(worst, (double)fabsl(sum));
  }
  return worst;
}

// Both halves by their definition with the factor of the plain elimination; then, where nothing is
// left over, that they solve A x = b.
static void check_solve(int m, int k, uint64_t *state) {
  int ld = cavum_front_leading(m);
  double *front = make_front(m, true, state), *x = alloc_aligned((size_t)ld);
  double *given = alloc_aligned((size_t)ld);
  long double expected[MOST];
  plain *p = plain_factorise(front, m, k);
  size_t count = (size_t)m * (size_t)ld;
  double *before = memcpy(alloc_aligned(count), front, count * sizeof *front);
  for (int i = 0; i < m; i++) expected[i] = x[i] = given[i] = draw(state);
  ck_assert_int_eq(factorise(front, m, k).unsafe, false);
  cavum_front_forward(x, front, ld, k, 1);
  for (int c = 0; c < k; c++) {
    for (int i = c + 1; i < m; i++) expected[i] -= p->a[i][c] * expected[c];
  }
  for (int c = 0; c < k; c++) expected[c] /= p->a[c][c];
  // As for the factor, but the numbers are of order 1: L is below 1 / 2 a column in all.
  double tolerance = 8.0 * (m + 1) * DBL_EPSILON;
  for (int i = 0; i < ld; i++) {
    ck_assert_double_eq_tol(x[i], i < m ? (double)expected[i] : 0.0, tolerance);
  }
  cavum_front_backward(x, front, ld, k, 1);
  for (int c = k - 1; c >= 0; c--) {
    for (int i = c + 1; i < m; i++) expected[c] -= p->a[i][c] * expected[i];
  }
  for (int i = 0; i < m; i++) ck_assert_double_eq_tol(x[i], (double)expected[i], tolerance);
  if (k == m) {
    // x is good to the tolerance, and no row of A sums to more than twice its diagonal.
    ck_assert_double_le(residual(before, x, given, m), 2.0 * (m + 3) * tolerance);
  }
  free(p);
  free(before);
  free(given);
  free(x);
  free(front);
}

START_TEST(forward_and_backward) {
  static const int borders[] = {0, 1, 4, 7, 8, 11};
  uint64_t state = 314159;
  for (int k = 1; k <= WIDEST; k++) {
    for (size_t b = 0; b < sizeof borders / sizeof *borders; b++) {
      check_solve(k + borders[b], k, &state);
    }
  }
  check_solve(61, 50, &state);
  check_solve(270, 270, &state);
}
END_TEST

// Several right-hand sides at once are each what one is, to rounding: sums may run in another
// order.
START_TEST(several_right_hand_sides) {
  uint64_t state = 2718;
  for (int k = 1; k <= 17; k++) {
    int m = k + 9, ld = cavum_front_leading(m);
    double *front = make_front(m, true, &state);
    double *all = alloc_aligned((size_t)(CAVUM_RHS_MOST * ld)), *one = alloc_aligned((size_t)ld);
    ck_assert(!factorise(front, m, k).unsafe);
    for (int count = 1; count <= CAVUM_RHS_MOST; count++) {
      for (int r = 0; r < count; r++) {
        for (int i = 0; i < m; i++) all[r * ld + i] = 1.0 / (1.0 + i + 3.0 * r * r);
      }
      cavum_front_forward(all, front, ld, k, count);
      cavum_front_backward(all, front, ld, k, count);
      for (int r = 0; r < count; r++) {
        for (int i = 0; i < ld; i++) one[i] = i < m ? 1.0 / (1.0 + i + 3.0 * r * r) : 0.0;
        cavum_front_forward(one, front, ld, k, 1);
        cavum_front_backward(one, front, ld, k, 1);
        for (int i = 0; i < ld; i++) {
          ck_assert_double_eq_tol(all[r * ld + i], one[i], 8.0 * (m + 1) * DBL_EPSILON);
        }
      }
    }
    free(front);
    free(all);
    free(one);
  }
}
END_TEST

// The same front in single precision; gives the solution of all of it by both halves.
static void solve_single(double *x, const double *square, int m, int k) {
  int ld = cavum_front_whole(m, CAVUM_FRONT_SINGLES), given = cavum_front_leading(m);
  int before = cavum_front_left_out(k, CAVUM_FRONT_SINGLES);
  size_t room = (size_t)(before + cavum_front_border_room(m, k, CAVUM_FRONT_SINGLES));
  float *own = (float *)alloc_aligned((size_t)(k + 1) * (size_t)ld),
        *border = (float *)alloc_aligned(room);
  double *all = alloc_aligned((size_t)ld);
  cavum_dense_front f = cavum_front_in(own, border + before, m, k, CAVUM_FRONT_SINGLES, true);
  for (int c = 0; c < m; c++) {
    for (int i = c; i < m; i++) cavum_front_column_single(&f, c)[i] = (float)square[c * given + i];
  }
  cavum_front_pivots pivots = cavum_front_single_factorise(&f);
  ck_assert(!pivots.unsafe);
  ck_assert_int_eq(pivots.num_negative, (k + 1) / 3);
  for (int i = 0; i < m; i++) all[i] = x[i];
  cavum_front_single_forward(all, own, ld, k, 1);
  cavum_front_single_backward(all, own, ld, k, 1);
  for (int i = 0; i < m; i++) x[i] = all[i];
  for (int i = m; i < ld; i++) ck_assert(all[i] == 0.0);
  free(own);
  free(border);
  free(all);
}

// In single precision both halves do what they do in double, to its rounding; sizes on both sides
// of the one from which the BLAS updates the rest.
START_TEST(single_precision_is_as_good_as_that) {
  static const int sizes[][2] = {{1, 1},    {9, 4},     {17, 16},   {33, 17},  {61, 50},
                                 {255, 31}, {256, 256}, {257, 257}, {300, 70}, {320, 129}};
  uint64_t state = 1618;
  for (size_t s = 0; s < sizeof sizes / sizeof *sizes; s++) {
    int m = sizes[s][0], k = sizes[s][1], ld = cavum_front_leading(m);
    double *front = make_front(m, true, &state), *x = alloc_aligned((size_t)ld);
    double *y = alloc_aligned((size_t)ld), worst = 0.0;
    for (int i = 0; i < m; i++) x[i] = y[i] = draw(&state);
    solve_single(y, front, m, k);
    ck_assert(!factorise(front, m, k).unsafe);
    cavum_front_forward(x, front, ld, k, 1);
    cavum_front_backward(x, front, ld, k, 1);
    for (int i = 0; i < m; i++) worst = fmax(worst, fabs(x[i] - y[i]));
    // As in check_solve(), and no less than a thousandth of it: it is single precision.
    double tolerance = 8.0 * (m + 1) * (double)FLT_EPSILON;
    printf("m = %d, k = %d: largest difference %.2e, tolerance %.2e\n", m, k, worst, tolerance);
    ck_assert_double_le(worst, tolerance);
    ck_assert_double_gt(worst, 0.0);
    free(front);
    free(x);
    free(y);
  }
}
END_TEST

// Growth beyond a thousand would leave less than four digits.
START_TEST(growth_in_single_precision_is_reported) {
  for (int small = 0; small < 2; small++) {
    float *own = (float *)alloc_aligned(2 * 16);
    cavum_dense_front f = cavum_front_in(own, own, 2, 2, CAVUM_FRONT_SINGLES, true);
    cavum_front_column_single(&f, 0)[0] = small ? 1e-4F : 1e-2F;
    cavum_front_column_single(&f, 0)[1] = cavum_front_column_single(&f, 1)[1] = 1.0F;
    ck_assert(cavum_front_single_factorise(&f).unsafe == small);
    free(own);
  }
}
END_TEST

// Numbers below the normal ones are kept by whoever computes after a factorisation.
START_TEST(tiny_numbers_are_as_before) {
  float *own = (float *)alloc_aligned(16);
  volatile double tiny = DBL_MIN;
  own[0] = 1.0F;
  cavum_dense_front f = cavum_front_in(own, own, 1, 1, CAVUM_FRONT_SINGLES, true);
  ck_assert(!cavum_front_single_factorise(&f).unsafe);
  ck_assert(tiny / 4.0 > 0.0);
  free(own);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, single_precision_is_as_good_as_that);
  tcase_add_test(tests, growth_in_single_precision_is_reported);
  tcase_add_test(tests, tiny_numbers_are_as_before);
  tcase_add_test(tests, several_right_hand_sides);
  tcase_add_test(tests, partial_factorisation);
  tcase_add_test(tests, no_columns);
  tcase_add_test(tests, growth_is_reported);
  tcase_add_test(tests, negative_pivots_count_eigenvalues);
  tcase_add_test(tests, forward_and_backward);
}

CAVUM_TEST_MAIN("front", add_tests)
