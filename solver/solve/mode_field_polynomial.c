// SPDX-License-Identifier: GPL-3.0-or-later
// Map and field of each element as sums of products of Chebyshev polynomials, cut where the rest is
// rounding: the map of a rectangle has four terms.
#include <string.h>

#include "base/base.h"
#include "base/fast.h"
#include "element/element_map.h"
#include "element/lattice_product.h"
#include "solve/mode_field.h"

enum { TERMS = CAVUM_MODE_FIELD_TERMS, MAP = 2, FIELD = 3, QUANTITIES = MAP + FIELD };

// What is cut off, against the largest coefficient: for the field far below the 1e-6 of its grid,
// for positions rounding, which the polynomial of degree 16 through equal steps raises a
// thousandfold.
static const double MAP_REST = 1e-12, FIELD_REST = 1e-10;

// From values on a lattice to coefficients.
typedef struct lattice_fit {
  int order;
  double over_last_term;
  double segment[TERMS][TERMS];  // [coefficient][node]
  double *triangle;              // Owned: [node][l TERMS + k].
} lattice_fit;

// Lagrange polynomial of node i among 0, 1, ..., order.
static double lagrange(int order, int i, double x) {
  return cavum_lattice_product(i, x) * cavum_lattice_product(order - i, order - x);
}

// Chebyshev coefficients of a polynomial from its values at the zeros of T_(order + 1) [Boyd2001].
static void transform(double *coefficient, const double *value, int order) {
  for (int k = 0; k <= order; k++) {
    double sum = 0.0;
    for (int m = 0; m <= order; m++) {
      sum += value[m] * cos(k * CAVUM_PI * (m + 0.5) / (order + 1));
    }
    coefficient[k] = (k == 0 ? 1.0 : 2.0) * sum / (order + 1);
  }
}

// A zero of T_(order + 1), in units of the lattice.
static double abscissa(int order, int m) {
  return 0.5 * order * (1.0 + cos(CAVUM_PI * (m + 0.5) / (order + 1)));
}

static void fit_segment(lattice_fit *fit) {
  double value[TERMS], coefficient[TERMS];
  for (int i = 0; i <= fit->order; i++) {
    for (int m = 0; m <= fit->order; m++) {
      value[m] = lagrange(fit->order, i, abscissa(fit->order, m));
    }
    transform(coefficient, value, fit->order);
    for (int k = 0; k <= fit->order; k++) fit->segment[k][i] = coefficient[k];
  }
}

// One node of a triangle: its polynomial at all pairs of abscissae, with x along the sides of
// constant y, transformed along both directions.
static void fit_triangle_node(double *out, int order, int i, int j) {
  double rows[TERMS][TERMS], value[TERMS], coefficient[TERMS];
  for (int n = 0; n <= order; n++) {
    double y = abscissa(order, n);
    for (int m = 0; m <= order; m++) {
      double x = abscissa(order, m) * (order - y) / order;
      value[m] = cavum_lattice_product(i, x) * cavum_lattice_product(j, y) *
                 cavum_lattice_product(order - i - j, order - x - y);
    }
    transform(rows[n], value, order);
  }
  for (int k = 0; k <= order; k++) {
    for (int n = 0; n <= order; n++) value[n] = rows[n][k];
    transform(coefficient, value, order);
    for (int l = 0; l <= order; l++) out[l * TERMS + k] = coefficient[l];
  }
}

static cavum_status fit_triangle(lattice_fit *fit, cavum_error *error) {
  int n = fit->order;
  fit->triangle = cavum_alloc(cavum_element_lattice_count(3, n), TERMS * TERMS * sizeof(double));
  if (!fit->triangle) return cavum_fail_memory(error);
  double *out = fit->triangle;
  for (int j = 0; j <= n; j++) {
    for (int i = 0; i + j <= n; i++, out += TERMS * TERMS) fit_triangle_node(out, n, i, j);
  }
  return CAVUM_OK;
}

static void quad_coefficients(double *out, const lattice_fit *fit, const double *value) {
  int n = fit->order;
  double rows[TERMS][TERMS];  // along x first
  for (int j = 0; j <= n; j++) {
    for (int k = 0; k <= n; k++) {
      double sum = 0.0;
      for (int i = 0; i <= n; i++) sum += fit->segment[k][i] * value[j * (n + 1) + i];
      rows[j][k] = sum;
    }
  }
  for (int l = 0; l <= n; l++) {
    for (int k = 0; k <= n; k++) {
      double sum = 0.0;
      for (int j = 0; j <= n; j++) sum += fit->segment[l][j] * rows[j][k];
      out[l * TERMS + k] = sum;
    }
  }
}

static void triangle_coefficients(double *out, const lattice_fit *fit, const double *value) {
  int count = cavum_element_lattice_count(3, fit->order);
  memset(out, 0, TERMS * TERMS * sizeof *out);
  for (int i = 0; i < count; i++) {
    const double *of_node = fit->triangle + (size_t)i * TERMS * TERMS;
    for (int k = 0; k < TERMS * TERMS; k++) out[k] += value[i] * of_node[k];
  }
}

// The terms that matter for all of the quantities.
static cavum_chebyshev_sum cut(const double (*c)[TERMS * TERMS], int num, int order, double rest) {
  cavum_chebyshev_sum sum = {1, 1, 0};
  for (int q = 0; q < num; q++) {
    double largest = 0.0;
    for (int k = 0; k < TERMS * TERMS; k++) largest = fmax(largest, fabs(c[q][k]));
    for (int l = 0; l <= order; l++) {
      for (int k = 0; k <= order; k++) {
        if (fabs(c[q][l * TERMS + k]) <= rest * largest) continue;
        if (k >= sum.num_x) sum.num_x = k + 1;
        if (l >= sum.num_y) sum.num_y = l + 1;
      }
    }
  }
  return sum;
}

static cavum_status keep(cavum_chebyshev_sum *sum, cavum_field_polynomials *all,
                         const double (*c)[TERMS * TERMS], int num, cavum_error *error) {
  int64_t wanted = all->num_coefficients + (int64_t)num * sum->num_x * sum->num_y;
  if (!cavum_grow((void **)&all->coefficients, &all->capacity, wanted, sizeof(double))) {
    return cavum_fail_memory(error);
  }
  sum->first = all->num_coefficients;
  for (int l = 0; l < sum->num_y; l++) {
    for (int k = 0; k < sum->num_x; k++) {
      for (int q = 0; q < num; q++) {
        all->coefficients[all->num_coefficients++] = c[q][l * TERMS + k];
      }
    }
  }
  return CAVUM_OK;
}

// What polynomials through equal steps are off, over their last Chebyshev coefficient. With
// x_0 ... x_n that is f[x_0, ..., x_n, x] (x - x_0) ... (x - x_n) [AbramowitzStegun1964, chapter
// 25], largest in the first step, and the coefficient is f[x_0, ..., x_n] 2^(1 - n). Of 1 / (x - a)
// the next divided difference is 1 / |x - a| times the last one: as large as that where the axis is
// half an element away from the inner conductor of a coaxial line.
static double over_last_term(int order) {
  enum { PLACES = 16 };
  double largest = 1.0;
  for (int k = 1; k < PLACES; k++) {
    double product = 0.5;
    for (int i = 0; i <= order; i++) {
      double step = fabs((double)k / PLACES - i) * 2.0 / order;
      product *= i < order ? 2.0 * step : step;
    }
    largest = fmax(largest, product);
  }
  return largest;
}

// Sizes of the terms of the last two orders in each direction; fields that are even or odd there
// have every second one.
static double last_terms(const double *c, int order) {
  double sum = 0.0;
  for (int l = 0; l <= order; l++) {
    for (int k = 0; k <= order; k++) {
      if (k > order - 2 || l > order - 2) sum += fabs(c[l * TERMS + k]);
    }
  }
  return sum;
}

static cavum_status add_element(cavum_field_polynomials *all, cavum_field_element *element,
                                const lattice_fit *fit, const double *const value[QUANTITIES],
                                cavum_error *error) {
  double c[QUANTITIES][TERMS * TERMS] = {0};
  for (int q = 0; q < QUANTITIES; q++) {
    if (element->num_corners == 3) {
      triangle_coefficients(c[q], fit, value[q]);
    } else {
      quad_coefficients(c[q], fit, value[q]);
    }
  }
  element->h_rest = fit->over_last_term * last_terms(c[MAP], fit->order);
  element->e_rest = fit->over_last_term *
                    hypot(last_terms(c[MAP + 1], fit->order), last_terms(c[MAP + 2], fit->order));
  element->map = cut(c, MAP, fit->order, MAP_REST);
  element->field = cut(c + MAP, FIELD, fit->order, FIELD_REST);
  cavum_status status = keep(&element->map, all, c, MAP, error);
  if (status != CAVUM_OK) return status;
  return keep(&element->field, all, c + MAP, FIELD, error);
}

static double largest_extent(const cavum_field_grid *grid) {
  double low_z = HUGE_VAL, high_z = -HUGE_VAL, low_r = HUGE_VAL, high_r = -HUGE_VAL;
  for (cavum_index i = 0; i < grid->num_points; i++) {
    low_z = fmin(low_z, grid->z_m[i]);
    high_z = fmax(high_z, grid->z_m[i]);
    low_r = fmin(low_r, grid->r_m[i]);
    high_r = fmax(high_r, grid->r_m[i]);
  }
  return fmax(high_z - low_z, high_r - low_r);
}

cavum_status cavum_field_polynomials_create(cavum_field_polynomials *all, const cavum_mesh *mesh,
                                            const cavum_field_grid *grid, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  lattice_fit fit = {.order = grid->order, .over_last_term = over_last_term(grid->order)};
  cavum_index at = 0;
  *all = (cavum_field_polynomials){.num_elements = mesh->num_elements};
  all->elements = cavum_alloc(mesh->num_elements, sizeof *all->elements);
  if (!all->elements) CAVUM_TRY(cavum_fail_memory(error));
  all->size_m = largest_extent(grid);
  fit_segment(&fit);
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    int corners = mesh->elements[e].num_corners;
    if (corners == 3 && !fit.triangle) CAVUM_TRY(fit_triangle(&fit, error));
    const double *const value[QUANTITIES] = {grid->z_m + at, grid->r_m + at,
                                             grid->h_phi_a_per_m + at, grid->e_z_v_per_m + at,
                                             grid->e_r_v_per_m + at};
    all->elements[e].num_corners = corners;
    CAVUM_TRY(add_element(all, &all->elements[e], &fit, value, error));
    at += cavum_element_lattice_count(corners, grid->order);
  }
done:
  free(fit.triangle);
  return status;
}

void cavum_field_polynomials_clear(cavum_field_polynomials *all) {
  if (!all) return;
  free(all->elements);
  free(all->coefficients);
  *all = (cavum_field_polynomials){0};
}

// T_0 to T_(count - 1), and their derivatives by T'_(k+1) = 2 T_k + 2 x T'_k - T'_(k-1).
static inline void chebyshev(cavum_lanes *value, cavum_lanes *slope, int count,
                             const cavum_lanes *x) {
  slope[0] = (cavum_lanes){0.0};
  value[0] = slope[0] + 1.0;
  if (count > 1) {
    value[1] = *x;
    slope[1] = value[0];
  }
  for (int k = 2; k < count; k++) {
    value[k] = 2.0 * *x * value[k - 1] - value[k - 2];
    slope[k] = 2.0 * value[k - 1] + 2.0 * *x * slope[k - 1] - slope[k - 2];
  }
}

CAVUM_FAST void cavum_field_polynomials_map(cavum_map_lanes *out,
                                            const cavum_field_polynomials *all, cavum_index element,
                                            const cavum_lanes *x, const cavum_lanes *y) {
  cavum_chebyshev_sum sum = all->elements[element].map;
  const double *c = all->coefficients + sum.first;
  cavum_lanes tx[TERMS], dx[TERMS], ty[TERMS], dy[TERMS];
  chebyshev(tx, dx, sum.num_x, x);
  chebyshev(ty, dy, sum.num_y, y);
  cavum_lanes none = {0.0};
  cavum_map_lanes p = {none, none, none, none, none, none};
  for (int l = 0; l < sum.num_y; l++) {
    cavum_lanes z = none, r = none, z_x = none, r_x = none;
    for (int k = 0; k < sum.num_x; k++, c += MAP) {
      z += c[0] * tx[k];
      r += c[1] * tx[k];
      z_x += c[0] * dx[k];
      r_x += c[1] * dx[k];
    }
    p.z += z * ty[l];
    p.r += r * ty[l];
    p.z_x += z_x * ty[l];
    p.r_x += r_x * ty[l];
    p.z_y += z * dy[l];
    p.r_y += r * dy[l];
  }
  *out = p;
}

CAVUM_FAST void cavum_field_polynomials_field(cavum_lanes out[3],
                                              const cavum_field_polynomials *all,
                                              cavum_index element, const cavum_lanes *x,
                                              const cavum_lanes *y) {
  cavum_chebyshev_sum sum = all->elements[element].field;
  const double *c = all->coefficients + sum.first;
  cavum_lanes tx[TERMS], ty[TERMS], slope[TERMS];
  chebyshev(tx, slope, sum.num_x, x);
  chebyshev(ty, slope, sum.num_y, y);
  cavum_lanes none = {0.0};
  cavum_lanes h = none, e_z = none, e_r = none;
  for (int l = 0; l < sum.num_y; l++) {
    cavum_lanes a = none, b = none, d = none;
    for (int k = 0; k < sum.num_x; k++, c += FIELD) {
      a += c[0] * tx[k];
      b += c[1] * tx[k];
      d += c[2] * tx[k];
    }
    h += a * ty[l];
    e_z += b * ty[l];
    e_r += d * ty[l];
  }
  out[0] = h;
  out[1] = e_z;
  out[2] = e_r;
}
