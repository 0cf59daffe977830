// SPDX-License-Identifier: GPL-3.0-or-later
// The transposes of discretisation.c and batch_map.c: from the products of two functions at the
// quadrature points to the edges of the elements.
#include "fem/form_gradient.h"

#include <string.h>

#include "base/base.h"
#include "base/fast.h"
#include "fem/apply.h"
#include "fem/batch_map.h"

// By what a form is differentiated at each point: the numbers of its map.
enum { BY_R, BY_Z_XI, BY_R_XI, BY_Z_ETA, BY_R_ETA, NUM_BY };

// Derivatives of a form by the map of a batch at one point.
typedef struct map_gradient {
  cavum_lanes by[NUM_BY];
} map_gradient;

// The same as the sums that they are, of v and the derivatives of u along xi and eta: what is known
// where x is.
typedef struct map_factors {
  cavum_lanes of_v[NUM_BY], of_xi[NUM_BY], of_eta[NUM_BY];
} map_factors;

// What depends on the map alone: factors of the two forms, the power of r in them over r, and 1 /
// J.
enum { OF_STIFFNESS, OF_MASS, OF_RADIUS, OF_JACOBIAN, NUM_OF };
typedef struct point_factors {
  cavum_lanes of[NUM_OF];
} point_factors;

// Derivatives by the parts of the blended maps of a batch, one element to a lane.
typedef struct part {
  cavum_lanes z[CAVUM_POINTS_MOST], r[CAVUM_POINTS_MOST];
  cavum_lanes z_x[CAVUM_POINTS_MOST], r_x[CAVUM_POINTS_MOST];
} part;

// A function and its derivatives along xi and eta at the points of a batch.
typedef struct point_values {
  cavum_lanes value[CAVUM_GRID_MOST], d_xi[CAVUM_GRID_MOST], d_eta[CAVUM_GRID_MOST];
} point_values;

// A curved part of the map of an element, and where it is on its curve at the points of the rule.
typedef struct curved_part {
  int lane;
  cavum_blend_part part;
  int term;  // the boundary term along it, of those of the batch; -1: none
  cavum_curve_place places[CAVUM_POINTS_MOST];
} curved_part;

// The boundary term of an edge: by what of x u it changes with r and with z_s at the points, and
// the functions that x is made of there.
typedef struct edge_work {
  cavum_index element;
  int local;
  bool is_curved;
  double of_r[CAVUM_POINTS_MOST], of_z_s[CAVUM_POINTS_MOST];
  double x[CAVUM_POINTS_MOST], u[CAVUM_POINTS_MOST];  // of the present form
  cavum_index index[CAVUM_DEGREE_MOST + 1];
  double sign[CAVUM_DEGREE_MOST + 1];
} edge_work;

// Large, of which only the points of the rule are used. The maps and places are those of a batch,
// all else is of one form at a time.
typedef struct work {
  const cavum_discretisation *d;
  const cavum_batch *batch;
  cavum_batch_map map;
  cavum_batch_map_room room;
  point_values x, u;
  point_factors points[CAVUM_GRID_MOST];
  map_factors factors[CAVUM_GRID_MOST];
  map_gradient gradient[CAVUM_GRID_MOST];
  part parts[4];  // by cavum_blend_part
  cavum_lanes inverse_eps_r, mu_r;
  double weight[CAVUM_GRID_MOST];
  int weight_corners;  // of the elements that the weights are of; 0: none yet
  int num_curved, num_terms;
  int num_halves;  // of the lanes that have elements
  bool has_bumps;  // some left or right part is curved: those that are not are nothing
  curved_part curved[4 * CAVUM_LANES];
  edge_work terms[4 * CAVUM_LANES];
  double trace[CAVUM_DEGREE_MOST + 1][CAVUM_POINTS_MOST];  // of each function of an edge
} work;

// The functions of the edge are those that apply.c and element_matrix.c have for this term.
static void list_functions(edge_work *to, const work *w, const cavum_edge_term *term) {
  const cavum_reference *ref = w->d->reference;
  for (int k = 0; k < ref->n; k++) {
    int a = cavum_shape_on_edge(w->batch->num_corners, ref->degree, term->local, k);
    to->index[k] = w->d->index[w->batch->first_index + a][term->lane];
    to->sign[k] = ref->quad_sign[a] * w->d->sign[w->batch->first_sign + a][term->lane];
  }
}

// The boundary terms -2 r^2 z_s x u / eps_r of a batch.
static void list_terms(work *w) {
  const cavum_discretisation *d = w->d;
  w->num_terms = 0;
  for (cavum_index t = w->batch->first_edge_term; t < w->batch->last_edge_term; t++) {
    const cavum_edge_term *term = &d->edge_terms[t];
    edge_work *to = &w->terms[w->num_terms++];
    to->element = w->batch->element[term->lane];
    to->local = term->local;
    const cavum_element *element = &d->mesh->elements[to->element];
    to->is_curved = cavum_edge_is_bent(d->mesh, &d->mesh->edges[element->edge[to->local]]);
    double eps_r = d->mesh->regions[element->region].eps_r;
    for (int i = 0; i < d->reference->q; i++) {
      double r = term->radius_m[i];
      to->of_r[i] = 2.0 * term->coeff[i] / r;
      to->of_z_s[i] = -2.0 * d->reference->weight[i] * r * r / eps_r;
    }
    list_functions(to, w, term);
  }
}

static int find_term(const work *w, cavum_index element, int local) {
  for (int t = 0; t < w->num_terms; t++) {
    if (w->terms[t].element == element && w->terms[t].local == local) return t;
  }
  return -1;
}

static void list_curved(work *w) {
  const cavum_reference *ref = w->d->reference;
  w->num_curved = 0;
  w->has_bumps = false;
  for (int l = 0; l < w->batch->count; l++) {
    for (int k = 0; k < 4; k++) {
      cavum_index e = w->batch->element[l];
      cavum_blend_part which = (cavum_blend_part)k;
      if (!cavum_blend_is_curved(w->d->mesh, e, which)) continue;
      curved_part *to = &w->curved[w->num_curved++];
      to->lane = l;
      to->part = which;
      w->has_bumps = w->has_bumps || which == CAVUM_BLEND_LEFT || which == CAVUM_BLEND_RIGHT;
      to->term = find_term(w, e, k);
      for (int i = 0; i < ref->q; i++) {
        to->places[i] = cavum_mesh_gradient_blend_place(w->d->mesh, e, which, ref->x[i]);
      }
    }
  }
}

// The halves of numbers of all lanes.
static inline const cavum_half *halves(const cavum_lanes *x) { return (const cavum_half *)x; }

// With c = r^3 or 1 / r.
static inline __attribute__((always_inline)) void fill_points_of(work *restrict w, bool is_w,
                                                                 int count, const int num_halves) {
  const cavum_half *inverse_eps_r = halves(&w->inverse_eps_r), *mu_r = halves(&w->mu_r);
  for (int i = 0; i < count; i++) {
    for (int h = 0, j = 2 * i; h < num_halves; h++, j++) {
      cavum_half *to = (cavum_half *)w->points[i].of + h;
      cavum_half z_xi = halves(w->map.z_xi)[j], r_xi = halves(w->map.r_xi)[j];
      cavum_half z_eta = halves(w->map.z_eta)[j], r_eta = halves(w->map.r_eta)[j];
      cavum_half r = halves(w->map.r)[j], jacobian = z_xi * r_eta - z_eta * r_xi;
      cavum_half both = 1.0 / (r * jacobian);
      cavum_half inverse = r * both, inverse_r = jacobian * both;
      cavum_half c = inverse_r, power = -inverse_r;
      if (is_w) c = r * r * r, power = 3.0 * inverse_r;
      c *= w->weight[i];
      to[2 * OF_STIFFNESS] = c * inverse_eps_r[h] * inverse;
      to[2 * OF_MASS] = c * mu_r[h];
      to[2 * OF_RADIUS] = power;
      to[2 * OF_JACOBIAN] = inverse;
    }
  }
}

CAVUM_FAST static void fill_points(work *restrict w, bool is_w, int count) {
  if (w->num_halves == 2) fill_points_of(w, is_w, count, 2);
  if (w->num_halves == 1) fill_points_of(w, is_w, count, 1);
}

// What is left out of a batch that fills one half of the lanes.
static void clear_parts(work *w) {
  const cavum_lanes none = {0};
  for (int k = 0; k < 4; k++) {
    part *p = &w->parts[k];
    for (int i = 0; i < w->d->reference->q; i++) p->z[i] = p->r[i] = p->z_x[i] = p->r_x[i] = none;
  }
}

static void begin_batch(work *w, const cavum_batch *batch) {
  const cavum_discretisation *d = w->d;
  int count = cavum_reference_points(d->reference, batch->num_corners);
  w->batch = batch;
  w->num_halves = batch->count > CAVUM_LANES / 2 ? 2 : 1;
  if (w->num_halves == 1) clear_parts(w);
  w->map = cavum_batch_map_of(&w->room, d, batch);
  if (batch->num_corners != w->weight_corners) {
    w->weight_corners = batch->num_corners;
    for (int i = 0; i < count; i++) {
      w->weight[i] = cavum_discretisation_weight(d->reference, batch->num_corners, i);
    }
  }
  for (int l = 0; l < CAVUM_LANES; l++) {
    const cavum_region *region = &d->mesh->regions[d->mesh->elements[batch->element[l]].region];
    w->inverse_eps_r[l] = 1.0 / region->eps_r;
    w->mu_r[l] = region->mu_r;
  }
  fill_points(w, d->unknown == CAVUM_UNKNOWN_H_OVER_R, count);
  list_terms(w);
  list_curved(w);
}

// With S = c / eps_r J, M = c mu_r and the stiffness form S (p11 |X_eta|^2 + p22 |X_xi|^2 - p12
// X_xi . X_eta), p11 = x_xi u_xi, p22 = x_eta u_eta, p12 = x_xi u_eta + x_eta u_xi, less the mass
// form M J x v: the derivatives by the map, those through J among them.
static inline __attribute__((always_inline)) void fill_factors_of(work *restrict w, int count,
                                                                  const int num_halves) {
  for (int i = 0; i < count; i++) {
    for (int h = 0, j = 2 * i; h < num_halves; h++, j++) {
      const cavum_half *at = halves(w->points[i].of) + h;
      cavum_half *of_v = (cavum_half *)w->factors[i].of_v + h;
      cavum_half *of_xi = (cavum_half *)w->factors[i].of_xi + h;
      cavum_half *of_eta = (cavum_half *)w->factors[i].of_eta + h;
      cavum_half z_xi = halves(w->map.z_xi)[j], r_xi = halves(w->map.r_xi)[j];
      cavum_half z_eta = halves(w->map.z_eta)[j], r_eta = halves(w->map.r_eta)[j];
      cavum_half along = at[2 * OF_STIFFNESS] * halves(w->x.d_xi)[j];
      cavum_half across = at[2 * OF_STIFFNESS] * halves(w->x.d_eta)[j];
      cavum_half both = z_xi * z_eta + r_xi * r_eta;
      cavum_half sum_xi = along * (z_eta * z_eta + r_eta * r_eta) - across * both;
      cavum_half sum_eta = across * (z_xi * z_xi + r_xi * r_xi) - along * both;
      cavum_half j_u = -at[2 * OF_MASS] * halves(w->x.value)[j];
      cavum_half j_xi = -sum_xi * at[2 * OF_JACOBIAN], j_eta = -sum_eta * at[2 * OF_JACOBIAN];
      cavum_half two_along = along + along, two_across = across + across;
      of_v[2 * BY_R] = j_u * (z_xi * r_eta - z_eta * r_xi) * at[2 * OF_RADIUS];
      of_v[2 * BY_Z_XI] = j_u * r_eta;
      of_v[2 * BY_R_XI] = -j_u * z_eta;
      of_v[2 * BY_Z_ETA] = -j_u * r_xi;
      of_v[2 * BY_R_ETA] = j_u * z_xi;
      of_xi[2 * BY_R] = sum_xi * at[2 * OF_RADIUS];
      of_xi[2 * BY_Z_XI] = j_xi * r_eta - across * z_eta;
      of_xi[2 * BY_R_XI] = -j_xi * z_eta - across * r_eta;
      of_xi[2 * BY_Z_ETA] = two_along * z_eta - across * z_xi - j_xi * r_xi;
      of_xi[2 * BY_R_ETA] = two_along * r_eta - across * r_xi + j_xi * z_xi;
      of_eta[2 * BY_R] = sum_eta * at[2 * OF_RADIUS];
      of_eta[2 * BY_Z_XI] = two_across * z_xi - along * z_eta + j_eta * r_eta;
      of_eta[2 * BY_R_XI] = two_across * r_xi - along * r_eta - j_eta * z_eta;
      of_eta[2 * BY_Z_ETA] = -along * z_xi - j_eta * r_xi;
      of_eta[2 * BY_R_ETA] = -along * r_xi + j_eta * z_xi;
    }
  }
}

CAVUM_FAST static void fill_factors(work *restrict w, int count) {
  if (w->num_halves == 2) fill_factors_of(w, count, 2);
  if (w->num_halves == 1) fill_factors_of(w, count, 1);
}

// Derivatives of the sum over the points by their maps.
static inline __attribute__((always_inline)) void differentiate_of(
    map_gradient *restrict gradient, const map_factors *restrict factors,
    const point_values *restrict x, const point_values *restrict u, double mass_u, double mass_x,
    int count, const int num_halves) {
  for (int i = 0; i < count; i++) {
    for (int h = 0, j = 2 * i; h < num_halves; h++, j++) {
      const cavum_half *of_v = halves(factors[i].of_v) + h;
      const cavum_half *of_xi = halves(factors[i].of_xi) + h;
      const cavum_half *of_eta = halves(factors[i].of_eta) + h;
      cavum_half *by = (cavum_half *)gradient[i].by + h;
      cavum_half v = mass_u * halves(u->value)[j] + mass_x * halves(x->value)[j];
      cavum_half d_xi = halves(u->d_xi)[j], d_eta = halves(u->d_eta)[j];
      for (int k = 0; k < 2 * NUM_BY; k += 2) {
        by[k] = of_v[k] * v + of_xi[k] * d_xi + of_eta[k] * d_eta;
      }
    }
  }
}

CAVUM_FAST static void differentiate(map_gradient *restrict gradient,
                                     const map_factors *restrict factors,
                                     const point_values *restrict x, const point_values *restrict u,
                                     double mass_u, double mass_x, int count, int num_halves) {
  if (num_halves == 2) differentiate_of(gradient, factors, x, u, mass_u, mass_x, count, 2);
  if (num_halves == 1) differentiate_of(gradient, factors, x, u, mass_u, mass_x, count, 1);
}

// The same of u = x, where the factors serve no other form. In halves: of whole lanes there are
// more numbers at one point than registers.
static inline __attribute__((always_inline)) void differentiate_square_of(work *restrict w,
                                                                          double mass, int count,
                                                                          const int num_halves) {
  const double minus_mass = -mass;
  for (int i = 0; i < count; i++) {
    for (int h = 0, j = 2 * i; h < num_halves; h++, j++) {
      const cavum_half *at = halves(w->points[i].of) + h;
      cavum_half *by = (cavum_half *)w->gradient[i].by + h;
      cavum_half z_xi = halves(w->map.z_xi)[j], r_xi = halves(w->map.r_xi)[j];
      cavum_half z_eta = halves(w->map.z_eta)[j], r_eta = halves(w->map.r_eta)[j];
      cavum_half x = halves(w->x.value)[j];
      cavum_half x_xi = halves(w->x.d_xi)[j], x_eta = halves(w->x.d_eta)[j];
      cavum_half twice = at[2 * OF_STIFFNESS] + at[2 * OF_STIFFNESS];
      cavum_half along = twice * x_xi, p11 = along * x_xi, p12 = along * x_eta;
      cavum_half p22 = twice * x_eta * x_eta;
      cavum_half by_z_eta = p11 * z_eta - p12 * z_xi, by_r_eta = p11 * r_eta - p12 * r_xi;
      cavum_half by_z_xi = p22 * z_xi - p12 * z_eta, by_r_xi = p22 * r_xi - p12 * r_eta;
      cavum_half two = by_z_eta * z_eta + by_r_eta * r_eta + by_z_xi * z_xi + by_r_xi * r_xi;
      cavum_half form = 0.5 * two, of_mass = minus_mass * at[2 * OF_MASS] * x * x;
      cavum_half by_jacobian = of_mass - form * at[2 * OF_JACOBIAN];
      cavum_half jacobian = z_xi * r_eta - z_eta * r_xi;
      by[2 * BY_R] = at[2 * OF_RADIUS] * (form + of_mass * jacobian);
      by[2 * BY_Z_XI] = by_z_xi + by_jacobian * r_eta;
      by[2 * BY_R_XI] = by_r_xi - by_jacobian * z_eta;
      by[2 * BY_Z_ETA] = by_z_eta - by_jacobian * r_xi;
      by[2 * BY_R_ETA] = by_r_eta + by_jacobian * z_xi;
    }
  }
}

CAVUM_FAST static void differentiate_square(work *restrict w, double mass, int count) {
  if (w->num_halves == 2) differentiate_square_of(w, mass, count, 2);
  if (w->num_halves == 1) differentiate_square_of(w, mass, count, 1);
}

// Adds up n points that lie `stride` apart into point i of the two sides that they are blended
// between: moments of the derivatives by r, by the two along that direction and by the two across
// it.
static inline __attribute__((always_inline)) void unblend_line_of(
    part *restrict first, part *restrict last, int i, const map_gradient *restrict from, int stride,
    int n, const double *restrict x, bool along_xi, const int num_halves) {
  int z_along = along_xi ? BY_Z_XI : BY_Z_ETA, r_along = along_xi ? BY_R_XI : BY_R_ETA;
  int z_across = along_xi ? BY_Z_ETA : BY_Z_XI, r_across = along_xi ? BY_R_ETA : BY_R_XI;
  for (int h = 0; h < num_halves; h++) {
    cavum_half r[2] = {{0}}, along_z = {0}, along_r = {0}, z[2] = {{0}}, across_r[2] = {{0}};
    for (int k = 0; k < n; k++) {
      const cavum_half *by = (const cavum_half *)from[k * stride].by + h;
      cavum_half by_r = by[2 * BY_R], z_c = by[2 * z_across], r_c = by[2 * r_across];
      r[0] += by_r;
      r[1] += x[k] * by_r;
      along_z += by[2 * z_along];
      along_r += by[2 * r_along];
      z[0] += z_c;
      z[1] += x[k] * z_c;
      across_r[0] += r_c;
      across_r[1] += x[k] * r_c;
    }
    cavum_half odd = 0.5 * (r[1] + along_r), even = 0.5 * r[0], half_z = 0.5 * along_z;
    int at = 2 * i + h;
    ((cavum_half *)first->r)[at] = even - odd;
    ((cavum_half *)last->r)[at] = even + odd;
    ((cavum_half *)first->z)[at] = -half_z;
    ((cavum_half *)last->z)[at] = half_z;
    ((cavum_half *)first->z_x)[at] = 0.5 * (z[0] - z[1]);
    ((cavum_half *)last->z_x)[at] = 0.5 * (z[0] + z[1]);
    ((cavum_half *)first->r_x)[at] = 0.5 * (across_r[0] - across_r[1]);
    ((cavum_half *)last->r_x)[at] = 0.5 * (across_r[0] + across_r[1]);
  }
}

CAVUM_FAST static void unblend_line(part *restrict first, part *restrict last, int i,
                                    const map_gradient *restrict from, int stride, int n,
                                    const double *restrict x, bool along_xi, int num_halves) {
  if (num_halves == 2) unblend_line_of(first, last, i, from, stride, n, x, along_xi, 2);
  if (num_halves == 1) unblend_line_of(first, last, i, from, stride, n, x, along_xi, 1);
}

// The transpose of blend() of batch_map.c.
static void unblend(work *restrict w, int n, const double *restrict x) {
  for (int i = 0; i < n; i++) {
    unblend_line(&w->parts[CAVUM_BLEND_BOTTOM], &w->parts[CAVUM_BLEND_TOP], i, w->gradient + i, n,
                 n, x, false, w->num_halves);
    if (!w->has_bumps) continue;
    unblend_line(&w->parts[CAVUM_BLEND_LEFT], &w->parts[CAVUM_BLEND_RIGHT], i, w->gradient + i * n,
                 1, n, x, true, w->num_halves);
  }
}

// Derivatives of a part by the two ends of a chord: z and r of the first, then of the second.
CAVUM_FAST static void sum_chord(cavum_lanes *restrict sums, const part *restrict from, int n,
                                 const double *restrict x) {
  cavum_sum all[4] = {{{0}, {0}}};
  for (int i = 0; i < n; i++) {
    cavum_sum_take(&all[0], &from->z[i]);
    cavum_sum_take(&all[1], &from->r[i]);
    cavum_sum_add(&all[2], x[i], &from->z[i]);
    cavum_sum_add(&all[3], x[i], &from->r[i]);
    cavum_sum_take(&all[2], &from->z_x[i]);
    cavum_sum_take(&all[3], &from->r_x[i]);
  }
  for (int k = 0; k < 2; k++) {
    const cavum_sum *whole = &all[k], *first = &all[2 + k];
    const cavum_sum a = {0.5 * (whole->low - first->low), 0.5 * (whole->high - first->high)};
    const cavum_sum b = {0.5 * (whole->low + first->low), 0.5 * (whole->high + first->high)};
    cavum_sum_store(&sums[k], &a);
    cavum_sum_store(&sums[2 + k], &b);
  }
}

// What the boundary term along a curved part adds. The edge may run against the part.
static void add_term_to_part(cavum_edge_position *by, const edge_work *term, const work *w,
                             cavum_blend_part which) {
  bool against = which == CAVUM_BLEND_TOP || which == CAVUM_BLEND_LEFT;
  int q = w->d->reference->q;
  for (int i = 0; i < q; i++) {
    int at = against ? q - 1 - i : i;
    double both = term->x[at] * term->u[at];
    by[i].r += term->of_r[at] * both;
    by[i].z_x += (against ? -term->of_z_s[at] : term->of_z_s[at]) * both;
  }
}

static void add_chords(cavum_mesh_gradient *gradient, const work *w) {
  const cavum_reference *ref = w->d->reference;
  cavum_lanes sums[4][4] = {{{0}}};
  for (int k = 0; k < 4; k++) {
    bool is_bump = k == CAVUM_BLEND_LEFT || k == CAVUM_BLEND_RIGHT;
    if (w->has_bumps || !is_bump) sum_chord(sums[k], &w->parts[k], ref->q, ref->x);
  }
  for (int l = 0; l < w->batch->count; l++) {
    cavum_point ends[4][2];
    for (int k = 0; k < 4; k++) {
      ends[k][0] = (cavum_point){sums[k][0][l], sums[k][1][l]};
      ends[k][1] = (cavum_point){sums[k][2][l], sums[k][3][l]};
    }
    cavum_mesh_gradient_add_chords(gradient, w->batch->element[l], ends);
  }
}

static void add_curves(cavum_mesh_gradient *gradient, const work *w) {
  const cavum_reference *ref = w->d->reference;
  for (int c = 0; c < w->num_curved; c++) {
    const curved_part *curved = &w->curved[c];
    const part *from = &w->parts[curved->part];
    cavum_edge_position by[CAVUM_POINTS_MOST];
    for (int i = 0, l = curved->lane; i < ref->q; i++) {
      by[i] = (cavum_edge_position){from->z[i][l], from->r[i][l], from->z_x[i][l], from->r_x[i][l]};
    }
    if (curved->term >= 0) add_term_to_part(by, &w->terms[curved->term], w, curved->part);
    cavum_mesh_gradient_add_curve(gradient, w->batch->element[curved->lane], curved->part, ref->q,
                                  curved->places, by);
  }
}

// A function on a local edge at the points of the rule.
CAVUM_FAST static void trace(double *restrict values, const work *restrict w,
                             const edge_work *restrict term, const double *restrict vector) {
  int n = w->d->reference->n, q = w->d->reference->q;
  double sum[CAVUM_POINTS_MOST] = {0.0};
  for (int k = 0; k < n; k++) {
    double coeff = term->sign[k] * vector[term->index[k]];
    for (int i = 0; i < q; i++) sum[i] += coeff * w->trace[k][i];
  }
  for (int i = 0; i < q; i++) values[i] = sum[i];
}

// The functions of a form at the edges with a boundary term; x may be there from the form before.
static void trace_form(work *w, const cavum_form *form, bool same_x) {
  for (int t = 0; t < w->num_terms; t++) {
    edge_work *term = &w->terms[t];
    if (!same_x) trace(term->x, w, term, form->x);
    if (form->u == form->x) {
      memcpy(term->u, term->x, (size_t)w->d->reference->q * sizeof *term->u);
    } else {
      trace(term->u, w, term, form->u);
    }
  }
}

// The boundary terms of edges that are straight.
static void add_straight_terms(cavum_mesh_gradient *gradient, const work *w) {
  const cavum_reference *ref = w->d->reference;
  for (int t = 0; t < w->num_terms; t++) {
    const edge_work *term = &w->terms[t];
    cavum_edge_position by[CAVUM_POINTS_MOST] = {{0.0, 0.0, 0.0, 0.0}};
    if (term->is_curved) continue;
    add_term_to_part(by, term, w, CAVUM_BLEND_BOTTOM);
    cavum_mesh_gradient_add_edge(gradient, term->element, term->local, ref->q, ref->x, NULL, by);
  }
}

// Whether a form is the only one with its x, and that is its u.
static bool is_square(const cavum_form *forms, int f, int count) {
  bool first = f == 0 || forms[f].x != forms[f - 1].x;
  bool last = f + 1 == count || forms[f + 1].x != forms[f].x;
  return first && last && forms[f].u == forms[f].x;
}

static void differentiate_form(work *w, const cavum_form *forms, int f, int count, int points) {
  const cavum_discretisation *d = w->d;
  const cavum_form *form = &forms[f];
  bool same = form->u == form->x, square = is_square(forms, f, count);
  int degree = form->degree > 0 ? form->degree : d->reference->degree;
  if (f == 0 || form->x != forms[f - 1].x) {
    cavum_discretisation_values(w->x.value, w->x.d_xi, w->x.d_eta, d, w->batch, form->x, degree);
    if (!square) fill_factors(w, points);
  }
  if (square) {
    differentiate_square(w, form->mass_u + form->mass_x, points);
    return;
  }
  if (!same)
    cavum_discretisation_values(w->u.value, w->u.d_xi, w->u.d_eta, d, w->batch, form->u, degree);
  differentiate(w->gradient, w->factors, &w->x, same ? &w->x : &w->u, form->mass_u, form->mass_x,
                points, w->num_halves);
}

static void add_energies(cavum_energy_sums *energies, work *w) {
  cavum_lanes *const values[3] = {w->x.value, w->x.d_xi, w->x.d_eta};
  cavum_discretisation_add_energies(energies, w->d, w->batch, &w->map, w->weight, values);
}

static void add_batch(cavum_mesh_gradient *const *gradients, work *w, const cavum_form *forms,
                      int count, cavum_energy_sums *energies) {
  const cavum_discretisation *d = w->d;
  int points = cavum_reference_points(d->reference, w->batch->num_corners);
  for (int f = 0; f < count; f++) {
    differentiate_form(w, forms, f, count, points);
    if (f == 0 && energies) add_energies(energies, w);
    unblend(w, d->reference->q, d->reference->x);
    trace_form(w, &forms[f], f > 0 && forms[f].x == forms[f - 1].x);
    add_chords(gradients[f], w);
    add_curves(gradients[f], w);
    add_straight_terms(gradients[f], w);
  }
}

// The functions of an edge point by point, in the order in which they are summed up.
static void tabulate_trace(work *w) {
  const cavum_reference *ref = w->d->reference;
  for (int k = 0; k < ref->n; k++) {
    for (int i = 0; i < ref->q; i++) w->trace[k][i] = ref->value[i * ref->n + k];
  }
}

void cavum_form_gradients_add(cavum_mesh_gradient *const *gradients, const cavum_discretisation *d,
                              const cavum_form *forms, int count, cavum_energy_sums *energies) {
  work w;
  w.d = d;
  w.weight_corners = 0;
  tabulate_trace(&w);
  for (cavum_index b = 0; b < d->num_batches; b++) {
    begin_batch(&w, &d->batches[b]);
    add_batch(gradients, &w, forms, count, energies);
  }
}
