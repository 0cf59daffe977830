// SPDX-License-Identifier: GPL-3.0-or-later
// Shape functions: traces, nesting, completeness, derivatives.
#include <stdbool.h>

#include "fem/shape.h"
#include "support.h"

static double segment_at(int degree, int k, double s) {
  double value[CAVUM_DEGREE_MOST + 1], derivative[CAVUM_DEGREE_MOST + 1];
  cavum_shape_segment(value, derivative, degree, s);
  return value[k];
}

// Definition by Legendre polynomials with the three-term recurrence done here.
START_TEST(segment_functions_are_integrated_legendre_polynomials) {
  for (int step = 0; step <= 20; step++) {
    double s = -1.0 + 0.1 * step, p[CAVUM_DEGREE_MOST + 1] = {1.0, s};
    for (int k = 1; k < CAVUM_DEGREE_MOST; k++) {
      p[k + 1] = ((2 * k + 1) * s * p[k] - k * p[k - 1]) / (k + 1);
    }
    ck_assert_double_eq_tol(segment_at(1, 0, s), 0.5 * (1 - s), 1e-16);
    ck_assert_double_eq_tol(segment_at(1, 1, s), 0.5 * (1 + s), 1e-16);
    for (int k = 2; k <= CAVUM_DEGREE_MOST; k++) {
      double expected = (p[k] - p[k - 2]) / sqrt(2.0 * (2 * k - 1));
      ck_assert_double_eq_tol(segment_at(CAVUM_DEGREE_MOST, k, s), expected, 1e-15);
      // The same function at every degree that has it: hierarchical.
      ck_assert_double_eq_tol(segment_at(k, k, s), expected, 1e-15);
    }
  }
}
END_TEST

// Reference point at position s of a local edge.
static void edge_point(double *xi, double *eta, int corners, int edge, double s) {
  static const double quad[5][2] = {{-1, -1}, {1, -1}, {1, 1}, {-1, 1}, {-1, -1}};
  static const double triangle[4][2] = {{0, 0}, {1, 0}, {0, 1}, {0, 0}};
  const double *a = corners == 4 ? quad[edge] : triangle[edge];
  const double *b = corners == 4 ? quad[edge + 1] : triangle[edge + 1];
  *xi = 0.5 * (1 - s) * a[0] + 0.5 * (1 + s) * b[0];
  *eta = 0.5 * (1 - s) * a[1] + 0.5 * (1 + s) * b[1];
}

// On an edge only its two corners and its own functions live, with the segment functions as traces:
// the same for triangles and quadrilaterals, so that they fit together.
START_TEST(traces_are_the_segment_functions) {
  static double value[CAVUM_SHAPES_MOST], d_xi[CAVUM_SHAPES_MOST], d_eta[CAVUM_SHAPES_MOST];
  for (int corners = 3; corners <= 4; corners++) {
    for (int degree = 1; degree <= CAVUM_DEGREE_MOST; degree++) {
      int count = cavum_shape_count(corners, degree);
      for (int edge = 0; edge < corners; edge++) {
        for (int step = 0; step <= 10; step++) {
          double xi, eta, s = -1.0 + 0.2 * step, worst = 0.0;
          double segment[CAVUM_DEGREE_MOST + 1], slope[CAVUM_DEGREE_MOST + 1];
          edge_point(&xi, &eta, corners, edge, s);
          cavum_shape_segment(segment, slope, degree, s);
          cavum_shape_element(value, d_xi, d_eta, corners, degree, xi, eta);
          value[edge] -= segment[0];
          value[(edge + 1) % corners] -= segment[1];
          for (int k = 2; k <= degree; k++) {
            value[corners + edge * (degree - 1) + k - 2] -= segment[k];
          }
          for (int i = 0; i < count; i++) worst = fmax(worst, fabs(value[i]));
          // Products of up to 16 factors: rounding.
          ck_assert_msg(worst < 1e-13, "%d corners, degree %d, edge %d: %.1e", corners, degree,
                        edge, worst);
        }
      }
    }
  }
}
END_TEST

START_TEST(counts_are_those_of_the_full_spaces) {
  for (int degree = 1; degree <= CAVUM_DEGREE_MOST; degree++) {
    ck_assert_int_eq(cavum_shape_count(4, degree), (degree + 1) * (degree + 1));
    ck_assert_int_eq(cavum_shape_count(3, degree), (degree + 1) * (degree + 2) / 2);
    ck_assert_int_eq(cavum_shape_count_skeleton(4, degree), 4 * degree);
    ck_assert_int_eq(cavum_shape_count_skeleton(3, degree), 3 * degree);
  }
}
END_TEST

START_TEST(derivatives_are_those_of_the_values) {
  static double value[CAVUM_SHAPES_MOST], d_xi[CAVUM_SHAPES_MOST], d_eta[CAVUM_SHAPES_MOST];
  static double side[4][CAVUM_SHAPES_MOST], skip[2][CAVUM_SHAPES_MOST];
  static const double points[][2] = {{0.21, 0.37}, {0.05, 0.9}, {0.6, 0.11}, {0.31, 0.33}};
  const double h = 1e-5;
  for (int corners = 3; corners <= 4; corners++) {
    for (int degree = 1; degree <= CAVUM_DEGREE_MOST; degree++) {
      for (int i = 0; i < 4; i++) {
        double xi = points[i][0], eta = points[i][1], worst = 0.0;
        cavum_shape_element(value, d_xi, d_eta, corners, degree, xi, eta);
        for (int k = 0; k < 4; k++) {
          double a = xi + (k == 0) * h - (k == 1) * h, b = eta + (k == 2) * h - (k == 3) * h;
          cavum_shape_element(side[k], skip[0], skip[1], corners, degree, a, b);
        }
        for (int n = 0; n < cavum_shape_count(corners, degree); n++) {
          worst = fmax(worst, fabs(d_xi[n] - (side[0][n] - side[1][n]) / (2 * h)));
          worst = fmax(worst, fabs(d_eta[n] - (side[2][n] - side[3][n]) / (2 * h)));
        }
        // Central differences: h^2 / 6 times the third derivative, at most 8 degree^6 / 15 times
        // the function on a side of length 1 (Markov), and these functions reach ten; and rounding.
        double tolerance = 1e-10 + h * h * pow(degree, 6);
        ck_assert_msg(worst < tolerance, "%d corners, degree %d: %.1e", corners, degree, worst);
      }
    }
  }
}
END_TEST

// Solves A x = b in place by elimination with pivoting; false when A is singular.
static bool solve_dense(double *a, double *b, int n) {
  for (int k = 0; k < n; k++) {
    int pivot = k;
    for (int i = k + 1; i < n; i++) {
      if (fabs(a[i * n + k]) > fabs(a[pivot * n + k])) pivot = i;
    }
    if (fabs(a[pivot * n + k]) < 1e-13) return false;
    for (int j = 0; j < n; j++) {
      double keep = a[k * n + j];
      a[k * n + j] = a[pivot * n + j];
      a[pivot * n + j] = keep;
    }
    double keep = b[k];
    b[k] = b[pivot];
    b[pivot] = keep;
    for (int i = k + 1; i < n; i++) {
      double factor = a[i * n + k] / a[k * n + k];
      for (int j = k; j < n; j++) a[i * n + j] -= factor * a[k * n + j];
      b[i] -= factor * b[k];
    }
  }
  for (int k = n - 1; k >= 0; k--) {
    for (int j = k + 1; j < n; j++) b[k] -= a[k * n + j] * b[j];
    b[k] /= a[k * n + k];
  }
  return true;
}

// A polynomial of the full degree fitted at as many points as there are functions is met
// everywhere: the functions span the space and are independent.
START_TEST(functions_span_all_polynomials) {
  static double value[CAVUM_SHAPES_MOST], d_xi[CAVUM_SHAPES_MOST], d_eta[CAVUM_SHAPES_MOST];
  enum { DEGREE = 6, MOST = (DEGREE + 1) * (DEGREE + 1) };
  for (int corners = 3; corners <= 4; corners++) {
    double a[MOST * MOST], b[MOST];
    int n = 0, count = cavum_shape_count(corners, DEGREE);
    for (int j = 0; j <= DEGREE; j++) {
      for (int i = 0; i <= (corners == 4 ? DEGREE : DEGREE - j); i++, n++) {
        double xi = (double)i / DEGREE, eta = (double)j / DEGREE;
        if (corners == 4) xi = 2 * xi - 1, eta = 2 * eta - 1;
        cavum_shape_element(&a[n * count], d_xi, d_eta, corners, DEGREE, xi, eta);
        b[n] = pow(0.3 + xi - 0.7 * eta, DEGREE) - eta;
      }
    }
    ck_assert_int_eq(n, count);
    ck_assert(solve_dense(a, b, n));
    double xi = 0.271, eta = 0.314, sum = 0.0;
    cavum_shape_element(value, d_xi, d_eta, corners, DEGREE, xi, eta);
    for (int i = 0; i < count; i++) sum += b[i] * value[i];
    // Conditioning of interpolation at equispaced points of degree 6: below 1e4.
    CAVUM_CHECK_NEAR(sum, pow(0.3 + xi - 0.7 * eta, DEGREE) - eta, 1e-11);
  }
}
END_TEST

START_TEST(quadrilaterals_are_signed_products) {
  static double value[CAVUM_SHAPES_MOST], d_xi[CAVUM_SHAPES_MOST], d_eta[CAVUM_SHAPES_MOST];
  int i[CAVUM_SHAPES_MOST], j[CAVUM_SHAPES_MOST];
  double sign[CAVUM_SHAPES_MOST], xi = -0.37, eta = 0.58;
  for (int degree = 1; degree <= CAVUM_DEGREE_MOST; degree++) {
    cavum_shape_quad_products(i, j, sign, degree);
    cavum_shape_element(value, d_xi, d_eta, 4, degree, xi, eta);
    for (int n = 0; n < (degree + 1) * (degree + 1); n++) {
      double product = sign[n] * segment_at(degree, i[n], xi) * segment_at(degree, j[n], eta);
      ck_assert_double_eq_tol(value[n], product, 1e-15);
    }
  }
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, segment_functions_are_integrated_legendre_polynomials);
  tcase_add_test(tests, traces_are_the_segment_functions);
  tcase_add_test(tests, counts_are_those_of_the_full_spaces);
  tcase_add_test(tests, derivatives_are_those_of_the_values);
  tcase_add_test(tests, functions_span_all_polynomials);
  tcase_add_test(tests, quadrilaterals_are_signed_products);
}

CAVUM_TEST_MAIN("shape", add_tests)
