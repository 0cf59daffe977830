// SPDX-License-Identifier: GPL-3.0-or-later
// The products K x and M x and the energies of x, batch by batch. Quadrilaterals are
// sum-factorised: values (and derivatives) of the function at the quadrature points, times the
// coefficients, and back.
#include "fem/apply.h"

#include <string.h>

#include "base/base.h"
#include "base/fast.h"
#include "base/stop.h"
#include "base/threads.h"
#include "fem/batch_map.h"
#include "fem/line_sums.h"

enum { GRID = CAVUM_GRID_MOST };
// Batches that a thread takes at a time.
enum { PIECE = 64 };

// Work space of one batch.
typedef struct work {
  // Local coefficients of a function and of its products.
  cavum_lanes x[CAVUM_SHAPES_MOST], mx[CAVUM_SHAPES_MOST], kx[CAVUM_SHAPES_MOST];
  cavum_lanes tensor[GRID], half[GRID], grid[GRID], first[GRID], second[GRID];
  cavum_lanes back[GRID];
} work;

// out[r][c] = sum_k in[r][k] t(c, k); four columns at a time.
CAVUM_FAST static void contract_last(cavum_lanes *restrict out, const cavum_lanes *restrict in,
                                     const double *t, int stride_c, int stride_k, int rows,
                                     int inner, int columns) {
  for (int r = 0; r < rows; r++, in += inner, out += columns) {
    int c = 0;
    for (; c + 3 < columns; c += 4) {
      const double *f = t + c * stride_c;
      cavum_sum s0 = {0}, s1 = {0}, s2 = {0}, s3 = {0};
      for (int k = 0; k < inner; k++, f += stride_k) {
        cavum_sum_add(&s0, f[0], &in[k]);
        cavum_sum_add(&s1, f[stride_c], &in[k]);
        cavum_sum_add(&s2, f[2 * stride_c], &in[k]);
        cavum_sum_add(&s3, f[3 * stride_c], &in[k]);
      }
      cavum_sum_store(&out[c], &s0);
      cavum_sum_store(&out[c + 1], &s1);
      cavum_sum_store(&out[c + 2], &s2);
      cavum_sum_store(&out[c + 3], &s3);
    }
    for (; c < columns; c++) {
      cavum_sum sum = {0};
      for (int k = 0; k < inner; k++) cavum_sum_add(&sum, t[c * stride_c + k * stride_k], &in[k]);
      cavum_sum_store(&out[c], &sum);
    }
  }
}

// Grid [eta][xi] of point values from turned coefficients [j][i], of which a direction has n.
static void to_points(cavum_lanes *grid, work *w, const cavum_reference *ref, int n,
                      cavum_line_part xi, cavum_line_part eta) {
  cavum_line_to_points(w->half, w->tensor, &(cavum_lines){n, n, ref->q, 1, 1}, ref, n, xi);
  cavum_line_to_points(grid, w->half, &(cavum_lines){ref->q, 1, 1, ref->q, ref->q}, ref, n, eta);
}

// The transpose of to_points().
static void from_points(cavum_lanes *tensor, work *w, const cavum_lanes *grid,
                        const cavum_reference *ref, cavum_line_part xi, cavum_line_part eta) {
  int n = ref->n, q = ref->q;
  cavum_line_from_points(w->half, grid, &(cavum_lines){q, 1, 1, q, q}, ref, n, eta);
  cavum_line_from_points(tensor, w->half, &(cavum_lines){n, q, n, 1, 1}, ref, n, xi);
}

CAVUM_FAST static void to_tensor(work *w, const cavum_reference *ref) {
  for (int a = 0; a < ref->n * ref->n; a++) {
    w->tensor[ref->quad_j[a] * ref->n + ref->quad_i[a]] = w->x[a];
  }
}

// Of a function of a lower degree, of which a direction has n; the rest are zero.
CAVUM_FAST static void to_low_tensor(work *w, const cavum_reference *ref, int n) {
  for (int a = 0; a < ref->n * ref->n; a++) {
    int i = ref->quad_i[a], j = ref->quad_j[a];
    if (i < n && j < n) w->tensor[j * n + i] = w->x[a];
  }
}

CAVUM_FAST static void from_tensor(cavum_lanes *restrict to, const cavum_reference *ref,
                                   const cavum_lanes *restrict tensor) {
  for (int a = 0; a < ref->n * ref->n; a++) {
    to[a] = tensor[ref->quad_j[a] * ref->n + ref->quad_i[a]];
  }
}

CAVUM_FAST static void scale(cavum_lanes *restrict grid, const cavum_lanes *restrict by,
                             int count) {
  for (int i = 0; i < count; i++) grid[i] *= by[i];
}

// (first, second) = G (first, second) at every point.
CAVUM_FAST static void turn(cavum_lanes *restrict first, cavum_lanes *restrict second,
                            const cavum_lanes *restrict coeff, int count) {
  const cavum_lanes *g11 = coeff, *g12 = g11 + count, *g22 = g12 + count;
  for (int i = 0; i < count; i++) {
    cavum_lanes along = first[i], across = second[i];
    first[i] = g11[i] * along + g12[i] * across;
    second[i] = g12[i] * along + g22[i] * across;
  }
}

// Of which products a function wants.
typedef struct wanted {
  bool mass, stiffness;
} wanted;

// Values along xi serve the mass and one of the derivatives.
static void quad_products(work *w, const cavum_reference *ref, const cavum_lanes *coeff,
                          wanted want) {
  int n = ref->n, q = ref->q, count = q * q;
  const cavum_lines along_xi = {n, n, q, 1, 1}, along_eta = {q, 1, 1, q, q};
  to_tensor(w, ref);
  cavum_line_turn(w->tensor, n);
  cavum_line_to_points(w->half, w->tensor, &along_xi, ref, n, CAVUM_LINE_VALUE);
  if (want.mass) {
    cavum_line_to_points(w->grid, w->half, &along_eta, ref, n, CAVUM_LINE_VALUE);
  }
  if (want.stiffness) {
    cavum_line_to_points(w->second, w->half, &along_eta, ref, n, CAVUM_LINE_DERIVATIVE);
    to_points(w->first, w, ref, n, CAVUM_LINE_DERIVATIVE, CAVUM_LINE_VALUE);
    turn(w->first, w->second, coeff, count);
    from_points(w->tensor, w, w->first, ref, CAVUM_LINE_DERIVATIVE, CAVUM_LINE_VALUE);
    from_points(w->back, w, w->second, ref, CAVUM_LINE_VALUE, CAVUM_LINE_DERIVATIVE);
    for (int i = 0; i < n * n; i++) w->tensor[i] += w->back[i];
    cavum_line_turn_back(w->tensor, n);
    from_tensor(w->kx, ref, w->tensor);
  }
  if (want.mass) {
    scale(w->grid, coeff + 3 * count, count);
    from_points(w->tensor, w, w->grid, ref, CAVUM_LINE_VALUE, CAVUM_LINE_VALUE);
    cavum_line_turn_back(w->tensor, n);
    from_tensor(w->mx, ref, w->tensor);
  }
}

static void triangle_mass(work *w, const cavum_reference *ref, const cavum_lanes *coeff) {
  int points = ref->triangle_points, shapes = ref->triangle_shapes;
  contract_last(w->first, w->x, ref->triangle_value, shapes, 1, 1, shapes, points);
  scale(w->first, coeff + 3 * points, points);
  contract_last(w->mx, w->first, ref->triangle_value, 1, shapes, 1, points, shapes);
}

static void triangle_stiffness(work *w, const cavum_reference *ref, const cavum_lanes *coeff) {
  int points = ref->triangle_points, shapes = ref->triangle_shapes;
  contract_last(w->first, w->x, ref->triangle_d_xi, shapes, 1, 1, shapes, points);
  contract_last(w->second, w->x, ref->triangle_d_eta, shapes, 1, 1, shapes, points);
  turn(w->first, w->second, coeff, points);
  contract_last(w->kx, w->first, ref->triangle_d_xi, 1, shapes, 1, points, shapes);
  contract_last(w->back, w->second, ref->triangle_d_eta, 1, shapes, 1, points, shapes);
  for (int a = 0; a < shapes; a++) w->kx[a] += w->back[a];
}

// Boundary term on one edge: its trace functions are corner k, corner k + 1 and the edge functions.
static void add_edge_term(work *w, const cavum_reference *ref, const cavum_edge_term *term,
                          int corners) {
  int n = ref->n, index[CAVUM_DEGREE_MOST + 1];
  double sign[CAVUM_DEGREE_MOST + 1];
  for (int k = 0; k < n; k++) {
    index[k] = cavum_shape_on_edge(corners, ref->degree, term->local, k);
    sign[k] = corners == 4 ? ref->quad_sign[index[k]] : 1.0;
  }
  for (int i = 0; i < ref->q; i++) {
    const double *value = ref->value + i * n;
    double sum = 0.0;
    for (int k = 0; k < n; k++) sum += sign[k] * value[k] * w->x[index[k]][term->lane];
    sum *= term->coeff[i];
    for (int k = 0; k < n; k++) w->kx[index[k]][term->lane] += sign[k] * value[k] * sum;
  }
}

CAVUM_FAST static void gather(work *w, const cavum_discretisation *d, const cavum_batch *batch,
                              const double *x) {
  int skeleton = cavum_shape_count_skeleton(batch->num_corners, d->reference->degree);
  int all = cavum_shape_count(batch->num_corners, d->reference->degree);
  for (int a = 0; a < skeleton; a++) {
    const cavum_index *index = d->index[batch->first_index + a];
    for (int l = 0; l < CAVUM_LANES; l++) w->x[a][l] = x[index[l]];
  }
  // Later: numbers that were just stored one by one cannot be loaded together at once.
  for (int a = 0; a < skeleton; a++) w->x[a] *= d->sign[batch->first_sign + a];
  const double *interior = x + batch->first_interior;
  for (int a = skeleton; a < all; a++, interior += CAVUM_LANES) {
    w->x[a] = *(const cavum_lanes_anywhere *)interior;
  }
}

// Skeleton functions of a batch, which others have too.
CAVUM_FAST static void add_skeleton(double *y, const cavum_lanes *restrict from,
                                    const cavum_discretisation *d, const cavum_batch *batch) {
  int skeleton = cavum_shape_count_skeleton(batch->num_corners, d->reference->degree);
  for (int a = 0; a < skeleton; a++) {
    const cavum_index *index = d->index[batch->first_index + a];
    cavum_lanes value = from[a] * d->sign[batch->first_sign + a];
    for (int l = 0; l < batch->count; l++) y[index[l]] += value[l];
  }
}

CAVUM_FAST static void store_interior(double *y, cavum_lanes *restrict from,
                                      const cavum_discretisation *d, const cavum_batch *batch) {
  int skeleton = cavum_shape_count_skeleton(batch->num_corners, d->reference->degree);
  int all = cavum_shape_count(batch->num_corners, d->reference->degree);
  double *interior = y + batch->first_interior;
  for (int a = skeleton; a < all; a++, interior += CAVUM_LANES) {
    for (int l = batch->count; l < CAVUM_LANES; l++) from[a][l] = 0.0;
    *(cavum_lanes_anywhere *)interior = from[a];
  }
}

// Products of functions with all batches under way.
typedef struct products {
  const cavum_discretisation *d;
  const cavum_function_products *of;
  int count;
  cavum_lanes *skeleton;  // of all batches and one product, where several threads are at work; they
                          // are added after
} products;

static int count_skeleton(const cavum_discretisation *d, const cavum_batch *batch) {
  return cavum_shape_count_skeleton(batch->num_corners, d->reference->degree);
}

// The coefficients of a batch are read from memory, once for all functions, and a half of them is
// left out where one product is wanted: nothing but asking for them ahead makes them come in time.
static void fetch_coefficients(const cavum_discretisation *d, int64_t b, wanted want) {
  if (b >= d->num_batches) return;
  const cavum_batch *batch = &d->batches[b];
  int points = cavum_reference_points(d->reference, batch->num_corners);
  const cavum_lanes *coeff = d->coeff + batch->first_coeff;
  int first = want.stiffness ? 0 : 3 * points, end = want.mass ? 4 * points : 3 * points;
  for (int i = first; i < end; i++) __builtin_prefetch(&coeff[i]);
}

static void multiply_batch(work *w, const cavum_discretisation *d, const cavum_batch *batch,
                           const double *x, wanted want) {
  const cavum_lanes *coeff = d->coeff + batch->first_coeff;
  bool is_quad = batch->num_corners == 4;
  gather(w, d, batch, x);
  if (is_quad) quad_products(w, d->reference, coeff, want);
  if (!is_quad && want.mass) triangle_mass(w, d->reference, coeff);
  if (!want.stiffness) return;
  if (!is_quad) triangle_stiffness(w, d->reference, coeff);
  for (cavum_index t = batch->first_edge_term; t < batch->last_edge_term; t++) {
    add_edge_term(w, d->reference, &d->edge_terms[t], batch->num_corners);
  }
}

static void put_product(double *y, cavum_lanes *local, const products *p,
                        const cavum_batch *batch) {
  store_interior(y, local, p->d, batch);
  if (p->skeleton) {
    memcpy(p->skeleton + batch->first_sign, local,
           (size_t)count_skeleton(p->d, batch) * sizeof *local);
  } else {
    add_skeleton(y, local, p->d, batch);
  }
}

static wanted wants_of(const cavum_function_products *of) {
  return (wanted){of->mass != NULL, of->stiffness != NULL};
}

static void multiply_some(void *context, int64_t from, int64_t end, int worker) {
  const products *p = context;
  wanted any = {false, false};
  work w;
  (void)worker;
  for (int i = 0; i < p->count; i++) {
    any.mass = any.mass || p->of[i].mass;
    any.stiffness = any.stiffness || p->of[i].stiffness;
  }
  for (int64_t b = from; b < end; b++) {
    const cavum_batch *batch = &p->d->batches[b];
    fetch_coefficients(p->d, b + 1, any);
    for (int i = 0; i < p->count; i++) {
      const cavum_function_products *of = &p->of[i];
      multiply_batch(&w, p->d, batch, of->x, wants_of(of));
      if (of->mass) put_product(of->mass, w.mx, p, batch);
      if (of->stiffness) put_product(of->stiffness, w.kx, p, batch);
    }
  }
}

static void clear_skeleton(double *y, const cavum_discretisation *d) {
  if (y) memset(y, 0, (size_t)cavum_space_lanes(d->space.num_skeleton) * sizeof *y);
}

// One product by several threads. Sums are taken in the order of the batches, as by one.
static void multiply_with_threads(const cavum_discretisation *d, double *y,
                                  const cavum_function_products *of, cavum_lanes *skeleton,
                                  int workers) {
  products p = {d, of, 1, skeleton};
  cavum_threads_run(multiply_some, &p, d->num_batches, PIECE, workers);
  for (cavum_index b = 0; b < d->num_batches; b++) {
    add_skeleton(y, skeleton + d->batches[b].first_sign, d, &d->batches[b]);
  }
}

void cavum_discretisation_apply(const cavum_discretisation *d, const cavum_function_products *of,
                                int count) {
  int workers = d->num_batches > PIECE ? cavum_threads_count() : 1;
  cavum_lanes *skeleton = NULL;
  for (int i = 0; i < count; i++) {
    clear_skeleton(of[i].mass, d);
    clear_skeleton(of[i].stiffness, d);
  }
  if (workers > 1) {
    const cavum_batch *last = &d->batches[d->num_batches - 1];
    skeleton = cavum_alloc_aligned(last->first_sign + count_skeleton(d, last), sizeof *skeleton);
  }
  for (int i = 0; skeleton && i < count; i++) {
    const cavum_function_products mass = {of[i].x, of[i].mass, NULL};
    const cavum_function_products stiffness = {of[i].x, NULL, of[i].stiffness};
    if (mass.mass) multiply_with_threads(d, mass.mass, &mass, skeleton, workers);
    if (stiffness.stiffness) {
      multiply_with_threads(d, stiffness.stiffness, &stiffness, skeleton, workers);
    }
  }
  if (!skeleton) {
    products p = {d, of, count, NULL};
    cavum_threads_run(multiply_some, &p, d->num_batches, PIECE, 1);
  }
  free(skeleton);
}

void cavum_discretisation_local_mass(cavum_lanes *mx, const cavum_discretisation *d,
                                     const cavum_batch *batch, const cavum_lanes *x) {
  const cavum_lanes *coeff = d->coeff + batch->first_coeff;
  size_t bytes = (size_t)cavum_shape_count(batch->num_corners, d->reference->degree) * sizeof *x;
  work w;
  memcpy(w.x, x, bytes);
  if (batch->num_corners == 4) quad_products(&w, d->reference, coeff, (wanted){true, false});
  if (batch->num_corners == 3) triangle_mass(&w, d->reference, coeff);
  memcpy(mx, w.mx, bytes);
}

void cavum_discretisation_apply_mass(double *y, const cavum_discretisation *d, const double *x) {
  cavum_discretisation_apply(d, &(cavum_function_products){x, y, NULL}, 1);
}

void cavum_discretisation_apply_stiffness(double *y, const cavum_discretisation *d,
                                          const double *x) {
  cavum_discretisation_apply(d, &(cavum_function_products){x, NULL, y}, 1);
}

// Those of quadrilaterals, of a function of which a direction has n.
static void evaluate_quad(work *w, const cavum_reference *ref, int n, cavum_lanes *const out[3]) {
  if (n == ref->n) to_tensor(w, ref);
  if (n < ref->n) to_low_tensor(w, ref, n);
  cavum_line_turn(w->tensor, n);
  to_points(out[1], w, ref, n, CAVUM_LINE_DERIVATIVE, CAVUM_LINE_VALUE);
  to_points(out[0], w, ref, n, CAVUM_LINE_VALUE, CAVUM_LINE_VALUE);
  const cavum_lines across = {ref->q, 1, 1, ref->q, ref->q};
  cavum_line_to_points(out[2], w->half, &across, ref, n, CAVUM_LINE_DERIVATIVE);
}

// Values of a function and its derivatives along xi and eta at the points of a batch.
static void evaluate(work *w, const cavum_reference *ref, int corners, int degree,
                     cavum_lanes *const out[3]) {
  if (corners == 4) {
    evaluate_quad(w, ref, degree + 1, out);
    return;
  }
  int points = ref->triangle_points, shapes = ref->triangle_shapes;
  const double *table[3] = {ref->triangle_value, ref->triangle_d_xi, ref->triangle_d_eta};
  for (int part = 0; part < 3; part++) {
    contract_last(out[part], w->x, table[part], shapes, 1, 1, shapes, points);
  }
}

void cavum_discretisation_values(cavum_lanes *value, cavum_lanes *d_xi, cavum_lanes *d_eta,
                                 const cavum_discretisation *d, const cavum_batch *batch,
                                 const double *x, int degree) {
  work w;
  cavum_lanes *const out[3] = {value, d_xi, d_eta};
  gather(&w, d, batch, x);
  evaluate(&w, d->reference, batch->num_corners, degree, out);
}

// Sums of r J weight |curl H|^2 and r J weight H^2 over the points: E as in cavum_field_at() but
// for the factor 1 / (w eps).
CAVUM_FAST static void sum_energies(cavum_lanes *restrict sums, const cavum_batch_map *restrict map,
                                    cavum_lanes *const in[3], const double *restrict weight,
                                    int count, bool is_w) {
  const cavum_lanes *x = in[0], *x_xi = in[1], *x_eta = in[2];
  cavum_sum curl2 = {0}, h2 = {0};
  for (int i = 0; i < count; i++) {
    cavum_lanes r = map->r[i], z_xi = map->z_xi[i], r_xi = map->r_xi[i];
    cavum_lanes z_eta = map->z_eta[i], r_eta = map->r_eta[i];
    cavum_lanes jacobian = z_xi * r_eta - z_eta * r_xi;
    cavum_lanes x_z = (x_xi[i] * r_eta - x_eta[i] * r_xi) / jacobian;
    cavum_lanes x_r = (x_eta[i] * z_xi - x_xi[i] * z_eta) / jacobian;
    cavum_lanes e_z = 2.0 * x[i] + r * x_r, e_r = r * x_z, h = r * x[i];
    if (!is_w) e_z = x_r / r, e_r = x_z / r, h = x[i] / r;
    cavum_lanes part = weight[i] * r * jacobian;
    cavum_lanes of_curl = part * (e_z * e_z + e_r * e_r), of_h = part * h * h;
    cavum_sum_take(&curl2, &of_curl);
    cavum_sum_take(&h2, &of_h);
  }
  cavum_sum_store(&sums[0], &curl2);
  cavum_sum_store(&sums[1], &h2);
}

void cavum_discretisation_add_energies(cavum_energy_sums *sums, const cavum_discretisation *d,
                                       const cavum_batch *batch, const cavum_batch_map *map,
                                       const double *weight, cavum_lanes *const values[3]) {
  cavum_lanes of_batch[2];
  sum_energies(of_batch, map, values, weight,
               cavum_reference_points(d->reference, batch->num_corners),
               d->unknown == CAVUM_UNKNOWN_H_OVER_R);
  for (int l = 0; l < batch->count; l++) {
    const cavum_region *region = &d->mesh->regions[d->mesh->elements[batch->element[l]].region];
    sums->curl2 += of_batch[0][l] / region->eps_r;
    sums->h2 += of_batch[1][l] * region->mu_r;
  }
}

// What all functions share in a batch, and work space.
typedef struct energy_work {
  cavum_batch_map_room room;
  cavum_batch_map map;
  work w;
  double weight[CAVUM_GRID_MOST];
  cavum_lanes values[CAVUM_GRID_MOST];
} energy_work;

void cavum_discretisation_energies(cavum_energy_sums *sums, const cavum_discretisation *d,
                                   const double *const *x, int count) {
  energy_work e;
  cavum_lanes *const values[3] = {e.values, e.w.first, e.w.second};
  for (int m = 0; m < count; m++) sums[m] = (cavum_energy_sums){0.0, 0.0};
  for (cavum_index b = 0; b < d->num_batches && !cavum_stop_asked_at(b); b++) {
    const cavum_batch *batch = &d->batches[b];
    for (int i = 0; i < cavum_reference_points(d->reference, batch->num_corners); i++) {
      e.weight[i] = cavum_discretisation_weight(d->reference, batch->num_corners, i);
    }
    e.map = cavum_batch_map_of(&e.room, d, batch);
    for (int m = 0; m < count; m++) {
      gather(&e.w, d, batch, x[m]);
      evaluate(&e.w, d->reference, batch->num_corners, d->reference->degree, values);
      cavum_discretisation_add_energies(&sums[m], d, batch, &e.map, e.weight, values);
    }
  }
}
