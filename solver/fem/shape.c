// SPDX-License-Identifier: GPL-3.0-or-later
// Hierarchical shape functions. Triangle edge functions use the segment kernels
// kappa_k = N_k / ((1 - s^2) / 4), so that traces of triangles and quadrilaterals agree; triangle
// interior functions are orthogonalised with Jacobi polynomials [SherwinKarniadakis2005] ch. 3.
#include "fem/shape.h"

#include "base/base.h"

// 1 / sqrt(2 (2k - 1)) for k = 2..16.
static const double SEGMENT_SCALE[CAVUM_DEGREE_MOST - 1] = {
    0.40824829046386307, 0.31622776601683794, 0.2672612419124244,  0.23570226039551587,
    0.21320071635561041, 0.19611613513818404, 0.18257418583505536, 0.17149858514250882,
    0.16222142113076254, 0.15430334996209191, 0.14744195615489714, 0.1414213562373095,
    0.13608276348795434, 0.13130643285972254, 0.1270001270001905};
// 1 / k for k = 2..16.
static const double INVERSE[CAVUM_DEGREE_MOST - 1] = {
    1.0 / 2,  1.0 / 3,  1.0 / 4,  1.0 / 5,  1.0 / 6,  1.0 / 7,  1.0 / 8, 1.0 / 9,
    1.0 / 10, 1.0 / 11, 1.0 / 12, 1.0 / 13, 1.0 / 14, 1.0 / 15, 1.0 / 16};

void cavum_shape_segment(double *value, double *derivative, int degree, double s) {
  double before = 1.0, last = s;  // P_{k-2}, P_{k-1}
  value[0] = 0.5 * (1.0 - s);
  value[1] = 0.5 * (1.0 + s);
  derivative[0] = -0.5;
  derivative[1] = 0.5;
  for (int k = 2; k <= degree; k++) {
    double next = ((2 * k - 1) * s * last - (k - 1) * before) * INVERSE[k - 2];
    value[k] = (next - before) * SEGMENT_SCALE[k - 2];
    derivative[k] = (2 * k - 1) * SEGMENT_SCALE[k - 2] * last;
    before = last;
    last = next;
  }
}

int cavum_shape_count(int num_corners, int degree) {
  return num_corners == 4 ? (degree + 1) * (degree + 1) : (degree + 1) * (degree + 2) / 2;
}

int cavum_shape_count_skeleton(int num_corners, int degree) { return num_corners * degree; }

void cavum_shape_quad_products(int *i, int *j, double *sign, int degree) {
  static const int corner_i[4] = {0, 1, 1, 0}, corner_j[4] = {0, 0, 1, 1};
  int a = 0;
  for (; a < 4; a++) {
    i[a] = corner_i[a];
    j[a] = corner_j[a];
    sign[a] = 1.0;
  }
  for (int edge = 0; edge < 4; edge++) {
    for (int k = 2; k <= degree; k++, a++) {
      i[a] = edge == 0 || edge == 2 ? k : (edge == 1 ? 1 : 0);
      j[a] = edge == 1 || edge == 3 ? k : (edge == 2 ? 1 : 0);
      // Edges 2 and 3 run against xi and eta: N_k(-s) = (-1)^k N_k(s).
      sign[a] = edge >= 2 && k % 2 ? -1.0 : 1.0;
    }
  }
  // By the larger index, so that a lower degree's functions come first.
  for (int k = 2; k <= degree; k++) {
    for (int m = 2; m < 2 * k - 1; m++, a++) {
      i[a] = m <= k ? k : m - k + 1;
      j[a] = m <= k ? m : k;
      sign[a] = 1.0;
    }
  }
}

static void quad_functions(double *value, double *d_xi, double *d_eta, int degree, double xi,
                           double eta) {
  double nx[CAVUM_DEGREE_MOST + 1], dx[CAVUM_DEGREE_MOST + 1];
  double ny[CAVUM_DEGREE_MOST + 1], dy[CAVUM_DEGREE_MOST + 1];
  int i[CAVUM_SHAPES_MOST], j[CAVUM_SHAPES_MOST];
  double sign[CAVUM_SHAPES_MOST];
  cavum_shape_segment(nx, dx, degree, xi);
  cavum_shape_segment(ny, dy, degree, eta);
  cavum_shape_quad_products(i, j, sign, degree);
  for (int a = 0; a < (degree + 1) * (degree + 1); a++) {
    value[a] = sign[a] * nx[i[a]] * ny[j[a]];
    d_xi[a] = sign[a] * dx[i[a]] * ny[j[a]];
    d_eta[a] = sign[a] * nx[i[a]] * dy[j[a]];
  }
}

// Jacobi polynomials P_n^(alpha,beta)(x), n = 0..most, and their derivatives.
static void jacobi(double *value, double *derivative, int most, double alpha, double beta,
                   double x) {
  value[0] = 1.0;
  derivative[0] = 0.0;
  if (most < 1) return;
  value[1] = 0.5 * (alpha - beta + (alpha + beta + 2.0) * x);
  derivative[1] = 0.5 * (alpha + beta + 2.0);
  for (int n = 2; n <= most; n++) {
    double c = 2.0 * n + alpha + beta;
    double a1 = 2.0 * n * (n + alpha + beta) * (c - 2.0);
    double a2 = (c - 1.0) * (alpha * alpha - beta * beta);
    double a3 = (c - 2.0) * (c - 1.0) * c;
    double a4 = 2.0 * (n + alpha - 1.0) * (n + beta - 1.0) * c;
    value[n] = ((a2 + a3 * x) * value[n - 1] - a4 * value[n - 2]) / a1;
    derivative[n] =
        ((a2 + a3 * x) * derivative[n - 1] + a3 * value[n - 1] - a4 * derivative[n - 2]) / a1;
  }
}

// A number with its two reference derivatives.
typedef struct dual {
  double v, x, y;
} dual;

static dual dual_times(dual a, dual b) {
  return (dual){a.v * b.v, a.v * b.x + a.x * b.v, a.v * b.y + a.y * b.v};
}

static void put(double *value, double *d_xi, double *d_eta, int a, dual f) {
  value[a] = f.v;
  d_xi[a] = f.x;
  d_eta[a] = f.y;
}

// Edge functions of a triangle: 4 lambda_a lambda_b kappa_k(lambda_b - lambda_a) with
// kappa_k = N_k / (1 - s^2) = -sqrt((2k - 1) / 8) / (k - 1) P_{k-2}^(1,1).
static int triangle_edges(double *value, double *d_xi, double *d_eta, int degree,
                          const dual lambda[3]) {
  double p[CAVUM_DEGREE_MOST + 1], dp[CAVUM_DEGREE_MOST + 1];
  int a = 3;
  for (int edge = 0; edge < 3; edge++) {
    dual from = lambda[edge], to = lambda[(edge + 1) % 3];
    dual s = {to.v - from.v, to.x - from.x, to.y - from.y};
    dual product = dual_times(from, to);
    jacobi(p, dp, degree - 2, 1.0, 1.0, s.v);
    for (int k = 2; k <= degree; k++, a++) {
      double scale = -4.0 * sqrt((2 * k - 1) / 8.0) / (k - 1);
      dual kernel = {scale * p[k - 2], scale * dp[k - 2] * s.x, scale * dp[k - 2] * s.y};
      put(value, d_xi, d_eta, a, dual_times(product, kernel));
    }
  }
  return a;
}

// P_n^(2,2)((b - a) / (a + b)) (a + b)^n for n = 0..most, a polynomial in a and b.
static void scaled_jacobi(dual *out, int most, dual a, dual b) {
  dual x = {b.v - a.v, b.x - a.x, b.y - a.y}, t = {a.v + b.v, a.x + b.x, a.y + b.y};
  dual tt = dual_times(t, t);
  out[0] = (dual){1.0, 0.0, 0.0};
  if (most >= 1) out[1] = (dual){3.0 * x.v, 3.0 * x.x, 3.0 * x.y};
  for (int n = 2; n <= most; n++) {
    double c = 2.0 * n + 4.0, a1 = 2.0 * n * (n + 4.0) * (c - 2.0);
    double a3 = (c - 2.0) * (c - 1.0) * c / a1, a4 = 2.0 * (n + 1.0) * (n + 1.0) * c / a1;
    dual first = dual_times(x, out[n - 1]), second = dual_times(tt, out[n - 2]);
    out[n] = (dual){a3 * first.v - a4 * second.v, a3 * first.x - a4 * second.x,
                    a3 * first.y - a4 * second.y};
  }
}

static void triangle_interior(double *value, double *d_xi, double *d_eta, int a, int degree,
                              const dual lambda[3]) {
  dual bubble = dual_times(dual_times(lambda[0], lambda[1]), lambda[2]);
  dual first[CAVUM_DEGREE_MOST + 1];
  double p[CAVUM_DEGREE_MOST + 1][CAVUM_DEGREE_MOST + 1];
  double dp[CAVUM_DEGREE_MOST + 1][CAVUM_DEGREE_MOST + 1];
  scaled_jacobi(first, degree - 3, lambda[0], lambda[1]);
  for (int i = 0; i <= degree - 3; i++) {
    jacobi(p[i], dp[i], degree - 3 - i, 2.0 * i + 5.0, 2.0, 2.0 * lambda[2].v - 1.0);
  }
  // By total degree, so that a lower degree's functions come first.
  for (int total = 0; total <= degree - 3; total++) {
    for (int i = 0; i <= total; i++, a++) {
      int j = total - i;
      double scale = 10.0 * (total + 2.0);
      dual second = {scale * p[i][j], 2.0 * scale * dp[i][j] * lambda[2].x,
                     2.0 * scale * dp[i][j] * lambda[2].y};
      put(value, d_xi, d_eta, a, dual_times(dual_times(bubble, first[i]), second));
    }
  }
}

void cavum_shape_element(double *value, double *d_xi, double *d_eta, int num_corners, int degree,
                         double xi, double eta) {
  if (num_corners == 4) {
    quad_functions(value, d_xi, d_eta, degree, xi, eta);
    return;
  }
  const dual lambda[3] = {{1.0 - xi - eta, -1.0, -1.0}, {xi, 1.0, 0.0}, {eta, 0.0, 1.0}};
  for (int k = 0; k < 3; k++) put(value, d_xi, d_eta, k, lambda[k]);
  if (degree < 2) return;
  int a = triangle_edges(value, d_xi, d_eta, degree, lambda);
  if (degree >= 3) triangle_interior(value, d_xi, d_eta, a, degree, lambda);
}
