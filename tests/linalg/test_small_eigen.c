// SPDX-License-Identifier: GPL-3.0-or-later
// Small symmetric-definite eigenproblems, against a closed form and the equations themselves.
#include "linalg/small_eigen.h"
#include "random_cells.h"
#include "support.h"

enum { MOST = 60 };

static double a[MOST * MOST], m[MOST * MOST], value[MOST], work[MOST * MOST + 5 * MOST];

// What stands above the diagonal must not matter.
static void fill_lower(double *matrix, int n, double (*entry)(int i, int j)) {
  for (int j = 0; j < n; j++) {
    for (int i = 0; i < n; i++) matrix[j * n + i] = i < j ? NAN : entry(i, j);
  }
}

static double stiffness(int i, int j) { return i == j ? 2.0 : (i == j + 1 ? -1.0 : 0.0); }

static double mass(int i, int j) { return i == j ? 4.0 : (i == j + 1 ? 1.0 : 0.0); }

// Linear elements on a chain: the vectors are sin(k pi i / (n + 1)), and the two matrices have
// 2 - 2 cos and 4 + 2 cos of k pi / (n + 1) as eigenvalues.
START_TEST(linear_elements_on_a_chain) {
  static const int orders[] = {1, 2, 3, 8, 31, MOST};
  for (size_t o = 0; o < sizeof orders / sizeof *orders; o++) {
    int n = orders[o];
    fill_lower(a, n, stiffness);
    fill_lower(m, n, mass);
    ck_assert(cavum_small_eigen(a, m, value, n, work));
    for (int k = 0; k < n; k++) {
      double angle = (k + 1) * acos(-1.0) / (n + 1), of_mass = 4.0 + 2.0 * cos(angle);
      CAVUM_CHECK_NEAR(value[k], (2.0 - 2.0 * cos(angle)) / of_mass, 1e-14);
      // x^T M x = 1, and the squares of the sines sum up to (n + 1) / 2.
      double scale = sqrt(2.0 / ((n + 1) * of_mass)), sign = a[k * n] < 0.0 ? -1.0 : 1.0;
      for (int i = 0; i < n; i++) {
        double difference = sign * a[k * n + i] - scale * sin((i + 1) * angle);
        ck_assert_double_lt(fabs(difference), 1e-12);
      }
    }
  }
}
END_TEST

static void multiply(double *y, const double *matrix, const double *x, int n) {
  for (int i = 0; i < n; i++) {
    y[i] = 0.0;
    for (int j = 0; j < n; j++) y[i] += matrix[j * n + i] * x[j];
  }
}

// Full matrices of both signs, with some zero columns: A x = value M x and x^T M y = 0 or 1, values
// ascending.
START_TEST(random_matrices) {
  static double whole_a[MOST * MOST], whole_m[MOST * MOST], ax[MOST], mx[MOST];
  random_state state = {1597};
  for (int trial = 0; trial < 60; trial++) {
    int n = 1 + trial % 30;
    for (int j = 0; j < n; j++) {
      bool empty = random_happens(&state, 0.2);
      for (int i = j; i < n; i++) {
        double of_a = empty ? 0.0 : random_between(&state, -1.0, 1.0);
        double of_m = random_between(&state, -1.0, 1.0) / n + (i == j ? 1.5 : 0.0);
        whole_a[j * n + i] = whole_a[i * n + j] = a[j * n + i] = of_a;
        whole_m[j * n + i] = whole_m[i * n + j] = m[j * n + i] = of_m;
      }
    }
    ck_assert(cavum_small_eigen(a, m, value, n, work));
    for (int k = 0; k < n; k++) {
      if (k > 0) ck_assert_double_ge(value[k], value[k - 1]);
      multiply(ax, whole_a, a + k * n, n);
      multiply(mx, whole_m, a + k * n, n);
      for (int i = 0; i < n; i++) ck_assert_double_lt(fabs(ax[i] - value[k] * mx[i]), 1e-13 * n);
      for (int l = 0; l < n; l++) {
        double product = 0.0;
        for (int i = 0; i < n; i++) product += a[l * n + i] * mx[i];
        ck_assert_double_lt(fabs(product - (l == k ? 1.0 : 0.0)), 1e-13 * n);
      }
    }
  }
}
END_TEST

START_TEST(a_mass_that_is_not_positive_is_refused) {
  for (int bad = 0; bad < 3; bad++) {
    fill_lower(a, 3, stiffness);
    fill_lower(m, 3, mass);
    m[bad * 3 + bad] = bad == 0 ? 0.0 : (bad == 1 ? 0.2 : NAN);
    ck_assert(!cavum_small_eigen(a, m, value, 3, work));
  }
  ck_assert(cavum_small_eigen(a, m, value, 0, work));
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, linear_elements_on_a_chain);
  tcase_add_test(tests, random_matrices);
  tcase_add_test(tests, a_mass_that_is_not_positive_is_refused);
}

CAVUM_TEST_MAIN("field.small_eigen", add_tests)
