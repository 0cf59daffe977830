// SPDX-License-Identifier: GPL-3.0-or-later
// Column by column of the points: what a column has of the shared function stays in the fastest
// memory while all forms are summed up. In halves: of whole lanes there are more numbers at one
// point than registers.
#include "fem/form_sums.h"

#include "base/fast.h"
#include "element/mesh_gradient.h"

// By what a form is differentiated at each point: the numbers of its map.
enum { BY_R, BY_Z_XI, BY_R_XI, BY_Z_ETA, BY_R_ETA, NUM_BY };

// Derivatives of a form at a point as the sums that they are, of v and the derivatives of u along
// xi and eta: what is known where x is.
typedef struct map_factors {
  cavum_half of_v[NUM_BY], of_xi[NUM_BY], of_eta[NUM_BY];
} map_factors;

// Sums along a line of points: of the derivatives by r, by z and r along it, and by z and r across
// it; of the first and the last two also with the place on the line.
typedef struct line_sums {
  cavum_half r[2], z_along, r_along, z_across[2], r_across[2];
} line_sums;

// The halves of numbers of all lanes.
static inline const cavum_half *halves(const cavum_lanes *x) { return (const cavum_half *)x; }

static inline __attribute__((always_inline)) void fill_points_of(cavum_form_batch *restrict b,
                                                                 const double *restrict weight,
                                                                 const cavum_half *inverse_eps_r,
                                                                 const cavum_half *mu_r, bool is_w,
                                                                 const int num_halves) {
  for (int i = 0; i < b->n * b->n; i++) {
    for (int h = 0, j = 2 * i; h < num_halves; h++, j++) {
      cavum_form_point *to = &b->points[i];
      cavum_half z_xi = halves(b->map.z_xi)[j], r_xi = halves(b->map.r_xi)[j];
      cavum_half z_eta = halves(b->map.z_eta)[j], r_eta = halves(b->map.r_eta)[j];
      cavum_half r = halves(b->map.r)[j], jacobian = z_xi * r_eta - z_eta * r_xi;
      cavum_half both = 1.0 / (r * jacobian);
      cavum_half inverse = r * both, inverse_r = jacobian * both;
      cavum_half c = inverse_r, power = -inverse_r;
      if (is_w) c = r * r * r, power = 3.0 * inverse_r;
      c *= weight[i];
      ((cavum_half *)&to->stiffness)[h] = c * inverse_eps_r[h] * inverse;
      ((cavum_half *)&to->mass)[h] = c * mu_r[h];
      ((cavum_half *)&to->power)[h] = power;
      ((cavum_half *)&to->inverse_jacobian)[h] = inverse;
    }
  }
}

CAVUM_FAST static void fill_points(cavum_form_batch *restrict b, const double *restrict weight,
                                   const cavum_half *inverse_eps_r, const cavum_half *mu_r,
                                   bool is_w) {
  if (b->num_halves == 2) fill_points_of(b, weight, inverse_eps_r, mu_r, is_w, 2);
  if (b->num_halves == 1) fill_points_of(b, weight, inverse_eps_r, mu_r, is_w, 1);
}

void cavum_form_points_fill(cavum_form_batch *batch, const double *weight,
                            const cavum_lanes *inverse_eps_r, const cavum_lanes *mu_r, bool is_w) {
  fill_points(batch, weight, halves(inverse_eps_r), halves(mu_r), is_w);
}

// With S = c / eps_r J, M = c mu_r and the stiffness form S (p11 |X_eta|^2 + p22 |X_xi|^2 - p12
// X_xi . X_eta), p11 = x_xi u_xi, p22 = x_eta u_eta, p12 = x_xi u_eta + x_eta u_xi, less the mass
// form M J x v: the derivatives by the map, those through J among them.
static inline __attribute__((always_inline)) void fill_factors(map_factors *restrict to,
                                                               const cavum_form_batch *restrict b,
                                                               const cavum_point_values *restrict x,
                                                               int point, int h) {
  const cavum_form_point *at = &b->points[point];
  int j = 2 * point + h;
  cavum_half z_xi = halves(b->map.z_xi)[j], r_xi = halves(b->map.r_xi)[j];
  cavum_half z_eta = halves(b->map.z_eta)[j], r_eta = halves(b->map.r_eta)[j];
  cavum_half stiffness = halves(&at->stiffness)[h], power = halves(&at->power)[h];
  cavum_half inverse = halves(&at->inverse_jacobian)[h];
  cavum_half along = stiffness * halves(x->d_xi)[j];
  cavum_half across = stiffness * halves(x->d_eta)[j];
  cavum_half both = z_xi * z_eta + r_xi * r_eta;
  cavum_half sum_xi = along * (z_eta * z_eta + r_eta * r_eta) - across * both;
  cavum_half sum_eta = across * (z_xi * z_xi + r_xi * r_xi) - along * both;
  cavum_half j_u = -halves(&at->mass)[h] * halves(x->value)[j];
  cavum_half j_xi = -sum_xi * inverse, j_eta = -sum_eta * inverse;
  cavum_half two_along = along + along, two_across = across + across;
  to->of_v[BY_R] = j_u * (z_xi * r_eta - z_eta * r_xi) * power;
  to->of_v[BY_Z_XI] = j_u * r_eta;
  to->of_v[BY_R_XI] = -j_u * z_eta;
  to->of_v[BY_Z_ETA] = -j_u * r_xi;
  to->of_v[BY_R_ETA] = j_u * z_xi;
  to->of_xi[BY_R] = sum_xi * power;
  to->of_xi[BY_Z_XI] = j_xi * r_eta - across * z_eta;
  to->of_xi[BY_R_XI] = -j_xi * z_eta - across * r_eta;
  to->of_xi[BY_Z_ETA] = two_along * z_eta - across * z_xi - j_xi * r_xi;
  to->of_xi[BY_R_ETA] = two_along * r_eta - across * r_xi + j_xi * z_xi;
  to->of_eta[BY_R] = sum_eta * power;
  to->of_eta[BY_Z_XI] = two_across * z_xi - along * z_eta + j_eta * r_eta;
  to->of_eta[BY_R_XI] = two_across * r_xi - along * r_eta - j_eta * z_eta;
  to->of_eta[BY_Z_ETA] = -along * z_xi - j_eta * r_xi;
  to->of_eta[BY_R_ETA] = -along * r_xi + j_eta * z_xi;
}

static inline __attribute__((always_inline)) void add_point(line_sums *sums, const cavum_half *by,
                                                            double x, bool along_xi) {
  cavum_half z_across = along_xi ? by[BY_Z_ETA] : by[BY_Z_XI];
  cavum_half r_across = along_xi ? by[BY_R_ETA] : by[BY_R_XI];
  sums->r[0] += by[BY_R];
  sums->r[1] += x * by[BY_R];
  sums->z_along += along_xi ? by[BY_Z_XI] : by[BY_Z_ETA];
  sums->r_along += along_xi ? by[BY_R_XI] : by[BY_R_ETA];
  sums->z_across[0] += z_across;
  sums->z_across[1] += x * z_across;
  sums->r_across[0] += r_across;
  sums->r_across[1] += x * r_across;
}

// The transpose of blend() of batch_map.c: of a line into point i of the two sides it runs between.
static inline __attribute__((always_inline)) void store_line(cavum_form_side *restrict first,
                                                             cavum_form_side *restrict last, int i,
                                                             const line_sums *sums, int h) {
  cavum_half odd = 0.5 * (sums->r[1] + sums->r_along), even = 0.5 * sums->r[0];
  cavum_half half_z = 0.5 * sums->z_along;
  int at = 2 * i + h;
  ((cavum_half *)first->r)[at] = even - odd;
  ((cavum_half *)last->r)[at] = even + odd;
  ((cavum_half *)first->z)[at] = -half_z;
  ((cavum_half *)last->z)[at] = half_z;
  ((cavum_half *)first->z_x)[at] = 0.5 * (sums->z_across[0] - sums->z_across[1]);
  ((cavum_half *)last->z_x)[at] = 0.5 * (sums->z_across[0] + sums->z_across[1]);
  ((cavum_half *)first->r_x)[at] = 0.5 * (sums->r_across[0] - sums->r_across[1]);
  ((cavum_half *)last->r_x)[at] = 0.5 * (sums->r_across[0] + sums->r_across[1]);
}

static inline __attribute__((always_inline)) void store_rows(cavum_form_side *restrict sides,
                                                             const line_sums (*restrict rows)[2],
                                                             int n, const int num_halves) {
  for (int k = 0; k < n; k++) {
    for (int h = 0; h < num_halves; h++) {
      store_line(&sides[CAVUM_BLEND_LEFT], &sides[CAVUM_BLEND_RIGHT], k, &rows[k][h], h);
    }
  }
}

// A column of one form.
static inline __attribute__((always_inline)) void add_column(
    cavum_form_side *restrict sides, line_sums (*restrict rows)[2],
    const cavum_form_batch *restrict b, map_factors (*restrict factors)[2],
    const cavum_point_values *x, const cavum_point_values *u, const cavum_form_masses *masses,
    int i, int h, const bool has_bumps) {
  const double of_u = masses->of_u, of_x = masses->of_x;
  line_sums sums = {.r = {{0}}};
  for (int k = 0; k < b->n; k++) {
    int j = 2 * (i + k * b->n) + h;
    const map_factors *at = &factors[k][h];
    cavum_half v = of_u * halves(u->value)[j] + of_x * halves(x->value)[j], by[NUM_BY];
    cavum_half d_xi = halves(u->d_xi)[j], d_eta = halves(u->d_eta)[j];
    for (int m = 0; m < NUM_BY; m++) {
      by[m] = at->of_v[m] * v + at->of_xi[m] * d_xi + at->of_eta[m] * d_eta;
    }
    add_point(&sums, by, b->x[k], false);
    if (has_bumps) add_point(&rows[k][h], by, b->x[i], true);
  }
  store_line(&sides[CAVUM_BLEND_BOTTOM], &sides[CAVUM_BLEND_TOP], i, &sums, h);
}

static inline __attribute__((always_inline)) void sum_columns_of(
    cavum_form_side (*restrict sides)[4], const cavum_form_batch *restrict b,
    const cavum_point_values *x, const cavum_point_values *const *u,
    const cavum_form_masses *masses, int count, const int num_halves, const bool has_bumps) {
  map_factors factors[CAVUM_POINTS_MOST][2];
  line_sums rows[CAVUM_FORMS_TOGETHER][CAVUM_POINTS_MOST][2];
  for (int f = 0; has_bumps && f < count; f++) {
    for (int k = 0; k < b->n; k++) rows[f][k][0] = rows[f][k][1] = (line_sums){.r = {{0}}};
  }
  for (int i = 0; i < b->n; i++) {
    for (int k = 0; k < b->n; k++) {
      for (int h = 0; h < num_halves; h++) fill_factors(&factors[k][h], b, x, i + k * b->n, h);
    }
    for (int f = 0; f < count; f++) {
      for (int h = 0; h < num_halves; h++) {
        add_column(sides[f], rows[f], b, factors, x, u[f], &masses[f], i, h, has_bumps);
      }
    }
  }
  for (int f = 0; has_bumps && f < count; f++) store_rows(sides[f], rows[f], b->n, num_halves);
}

CAVUM_FAST void cavum_form_sums(cavum_form_side (*restrict sides)[4],
                                const cavum_form_batch *restrict batch, const cavum_point_values *x,
                                const cavum_point_values *const *u, const cavum_form_masses *masses,
                                int count) {
  if (batch->num_halves == 2 && batch->has_bumps)
    sum_columns_of(sides, batch, x, u, masses, count, 2, true);
  if (batch->num_halves == 2 && !batch->has_bumps)
    sum_columns_of(sides, batch, x, u, masses, count, 2, false);
  if (batch->num_halves == 1 && batch->has_bumps)
    sum_columns_of(sides, batch, x, u, masses, count, 1, true);
  if (batch->num_halves == 1 && !batch->has_bumps)
    sum_columns_of(sides, batch, x, u, masses, count, 1, false);
}

static inline __attribute__((always_inline)) void differentiate_square(
    cavum_half by[NUM_BY], const cavum_form_batch *restrict b, const cavum_point_values *restrict x,
    double minus_mass, int point, int h) {
  const cavum_form_point *at = &b->points[point];
  int j = 2 * point + h;
  cavum_half z_xi = halves(b->map.z_xi)[j], r_xi = halves(b->map.r_xi)[j];
  cavum_half z_eta = halves(b->map.z_eta)[j], r_eta = halves(b->map.r_eta)[j];
  cavum_half value = halves(x->value)[j];
  cavum_half x_xi = halves(x->d_xi)[j], x_eta = halves(x->d_eta)[j];
  cavum_half stiffness = halves(&at->stiffness)[h], power = halves(&at->power)[h];
  cavum_half twice = stiffness + stiffness;
  cavum_half along = twice * x_xi, p11 = along * x_xi, p12 = along * x_eta;
  cavum_half p22 = twice * x_eta * x_eta;
  cavum_half by_z_eta = p11 * z_eta - p12 * z_xi, by_r_eta = p11 * r_eta - p12 * r_xi;
  cavum_half by_z_xi = p22 * z_xi - p12 * z_eta, by_r_xi = p22 * r_xi - p12 * r_eta;
  cavum_half two = by_z_eta * z_eta + by_r_eta * r_eta + by_z_xi * z_xi + by_r_xi * r_xi;
  cavum_half form = 0.5 * two, of_mass = minus_mass * halves(&at->mass)[h] * value * value;
  cavum_half by_jacobian = of_mass - form * halves(&at->inverse_jacobian)[h];
  cavum_half jacobian = z_xi * r_eta - z_eta * r_xi;
  by[BY_R] = power * (form + of_mass * jacobian);
  by[BY_Z_XI] = by_z_xi + by_jacobian * r_eta;
  by[BY_R_XI] = by_r_xi - by_jacobian * z_eta;
  by[BY_Z_ETA] = by_z_eta - by_jacobian * r_xi;
  by[BY_R_ETA] = by_r_eta + by_jacobian * z_xi;
}

static inline __attribute__((always_inline)) void sum_square_of(
    cavum_form_side *restrict sides, const cavum_form_batch *restrict b,
    const cavum_point_values *restrict x, double mass, const int num_halves) {
  line_sums rows[CAVUM_POINTS_MOST][2];
  for (int k = 0; b->has_bumps && k < b->n; k++) rows[k][0] = rows[k][1] = (line_sums){.r = {{0}}};
  for (int i = 0; i < b->n; i++) {
    for (int h = 0; h < num_halves; h++) {
      line_sums sums = {.r = {{0}}};
      for (int k = 0; k < b->n; k++) {
        cavum_half by[NUM_BY];
        differentiate_square(by, b, x, -mass, i + k * b->n, h);
        add_point(&sums, by, b->x[k], false);
        if (b->has_bumps) add_point(&rows[k][h], by, b->x[i], true);
      }
      store_line(&sides[CAVUM_BLEND_BOTTOM], &sides[CAVUM_BLEND_TOP], i, &sums, h);
    }
  }
  if (b->has_bumps) store_rows(sides, rows, b->n, num_halves);
}

CAVUM_FAST void cavum_form_sums_square(cavum_form_side sides[4], const cavum_form_batch *batch,
                                       const cavum_point_values *x, double mass) {
  if (batch->num_halves == 2) sum_square_of(sides, batch, x, mass, 2);
  if (batch->num_halves == 1) sum_square_of(sides, batch, x, mass, 1);
}

static inline __attribute__((always_inline)) void sum_ends_of(cavum_form_ends *restrict ends,
                                                              const cavum_form_side *restrict from,
                                                              int n, const double *restrict x,
                                                              const int num_halves) {
  for (int h = 0; h < num_halves; h++) {
    cavum_half z = {0}, r = {0}, x_z = {0}, x_r = {0};
    for (int i = 0, j = h; i < n; i++, j += 2) {
      z += halves(from->z)[j];
      r += halves(from->r)[j];
      x_z += x[i] * halves(from->z)[j] + halves(from->z_x)[j];
      x_r += x[i] * halves(from->r)[j] + halves(from->r_x)[j];
    }
    ((cavum_half *)&ends->z[0])[h] = 0.5 * (z - x_z);
    ((cavum_half *)&ends->r[0])[h] = 0.5 * (r - x_r);
    ((cavum_half *)&ends->z[1])[h] = 0.5 * (z + x_z);
    ((cavum_half *)&ends->r[1])[h] = 0.5 * (r + x_r);
  }
}

CAVUM_FAST void cavum_form_ends_sum(cavum_form_ends *ends, const cavum_form_side *side,
                                    const cavum_form_batch *batch) {
  if (batch->num_halves == 2) sum_ends_of(ends, side, batch->n, batch->x, 2);
  if (batch->num_halves == 1) sum_ends_of(ends, side, batch->n, batch->x, 1);
}
