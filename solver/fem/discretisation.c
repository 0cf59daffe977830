// SPDX-License-Identifier: GPL-3.0-or-later
// Coefficients of the weak form at the quadrature points of every element and along the edges where
// the boundary term of the w form lives.
#include "fem/discretisation.h"

#include <stdatomic.h>
#include <string.h>

#include "base/base.h"
#include "base/fast.h"
#include "base/stop.h"
#include "base/threads.h"
#include "fem/batch_map.h"

// Batches that a thread takes at a time.
enum { PIECE = 64 };
// Of the rule for 1 / r, relative.
static const double QUADRATURE_ERROR = 1e-13;
// Maps of more batches than this take more memory than time.
enum { MAPS_KEPT = 64 };
// Mixed coefficients below this part of the others are rounding.
static const double MIXED_LEAST = 1e-15;

cavum_unknown cavum_discretisation_choose_unknown(const cavum_mesh *mesh) {
  double largest = 0.0, smallest = HUGE_VAL;
  for (cavum_index i = 0; i < mesh->num_vertices; i++) {
    largest = cavum_max(largest, mesh->vertices[i].r_m);
    smallest = cavum_min(smallest, mesh->vertices[i].r_m);
  }
  return smallest > 1e-9 * largest ? CAVUM_UNKNOWN_R_TIMES_H : CAVUM_UNKNOWN_H_OVER_R;
}

/** What an element covers. */
typedef struct extent {
  double least_r_m, largest_r_m, length_m; /**< The last along z. */
} extent;

static extent extent_of(const cavum_mesh *mesh, cavum_index e) {
  const cavum_element *element = &mesh->elements[e];
  double low_r = HUGE_VAL, high_r = 0.0, low_z = HUGE_VAL, high_z = -HUGE_VAL;
  for (int k = 0; k < element->num_corners; k++) {
    cavum_point corner = mesh->vertices[element->vertex[k]];
    low_r = cavum_min(low_r, corner.r_m);
    high_r = cavum_max(high_r, corner.r_m);
    low_z = cavum_min(low_z, corner.z_m);
    high_z = cavum_max(high_z, corner.z_m);
  }
  return (extent){low_r, high_r, high_z - low_z};
}

int cavum_discretisation_points(const cavum_mesh *mesh, cavum_unknown unknown, int degree) {
  int points = degree + 1 + CAVUM_EXTRA_POINTS;
  if (unknown == CAVUM_UNKNOWN_H_OVER_R) return points;
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    extent of = extent_of(mesh, e);
    double a = of.least_r_m, b = of.largest_r_m;
    if (b <= a) continue;
    double rho = (sqrt(b) + sqrt(a)) * (sqrt(b) + sqrt(a)) / (b - a);
    double needed = 0.5 * log(1.0 / QUADRATURE_ERROR) / log(rho);
    if (needed > points)
      points = needed < CAVUM_POINTS_MOST ? (int)ceil(needed) : CAVUM_POINTS_MOST;
  }
  return points;
}

double cavum_discretisation_quadrature_error(const cavum_discretisation *discretisation) {
  const cavum_mesh *mesh = discretisation->mesh;
  const cavum_reference *ref = discretisation->reference;
  double error = 0.0, all = 0.0;
  if (discretisation->unknown == CAVUM_UNKNOWN_H_OVER_R || ref->q < CAVUM_POINTS_MOST) return 0.0;
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    extent of = extent_of(mesh, e);
    double a = of.least_r_m, b = of.largest_r_m, sum = 0.0;
    if (b <= a) continue;
    for (int i = 0; i < ref->q; i++) {
      sum += ref->weight[i] * (b - a) / (a + b + (b - a) * ref->x[i]);
    }
    error += of.length_m * fabs(sum - log(b / a));
    all += of.length_m * log(b / a);
  }
  return all > 0.0 ? error / all : 0.0;
}

// Two sides at every corner at right angles and no curved side: g12 is zero then.
static bool is_rectangle(const cavum_mesh *mesh, const cavum_element *element) {
  if (element->num_corners != 4 || mesh->node_order > 1) return false;
  for (int k = 0; k < 4; k++) {
    cavum_index curve = mesh->edges[element->edge[k]].curve;
    if (mesh->node_order == 0 && curve >= 0 && mesh->curves[curve].kind != CAVUM_CURVE_LINE) {
      return false;
    }
    cavum_point a = mesh->vertices[element->vertex[(k + 3) % 4]];
    cavum_point b = mesh->vertices[element->vertex[k]];
    cavum_point c = mesh->vertices[element->vertex[(k + 1) % 4]];
    double z1 = a.z_m - b.z_m, r1 = a.r_m - b.r_m, z2 = c.z_m - b.z_m, r2 = c.r_m - b.r_m;
    if (fabs(z1 * z2 + r1 * r2) > 1e-14 * hypot(z1, r1) * hypot(z2, r2)) return false;
  }
  return true;
}

// Rectangles, other quadrilaterals, triangles: batches are all of one group.
enum { GROUPS = 3 };
static int group_of(const cavum_mesh *mesh, cavum_index e) {
  if (mesh->elements[e].num_corners == 3) return 2;
  return is_rectangle(mesh, &mesh->elements[e]) ? 0 : 1;
}

// Rectangles that do not fill a batch join the other quadrilaterals where these leave room: a lane
// costs the same whether it is used or not.
static void move_spare_rectangles(uint8_t *group, cavum_index num_elements) {
  cavum_index count[GROUPS] = {0};
  for (cavum_index e = 0; e < num_elements; e++) count[group[e]]++;
  cavum_index spare = count[0] % CAVUM_LANES;
  cavum_index room = (CAVUM_LANES - count[1] % CAVUM_LANES) % CAVUM_LANES;
  if (spare > room) return;
  for (cavum_index e = num_elements - 1; e >= 0 && spare > 0; e--) {
    if (group[e] != 0) continue;
    group[e] = 1;
    spare--;
  }
}

static cavum_status make_batches(cavum_discretisation *d, cavum_error *error) {
  const cavum_mesh *mesh = d->mesh;
  int degree = d->reference->degree;
  int64_t coeff = 0, index = 0, sign = 0;
  d->batches = cavum_alloc(mesh->num_elements / CAVUM_LANES + GROUPS, sizeof *d->batches);
  uint8_t *group = cavum_alloc(mesh->num_elements, sizeof *group);
  cavum_status status = CAVUM_OK;
  if (!d->batches || !group) CAVUM_TRY(cavum_fail_memory(error));
  for (cavum_index e = 0; e < mesh->num_elements; e++) group[e] = (uint8_t)group_of(mesh, e);
  move_spare_rectangles(group, mesh->num_elements);
  for (int g = 0; g < GROUPS; g++) {
    int corners = g == 2 ? 3 : 4, all = cavum_shape_count(corners, degree);
    cavum_batch *batch = NULL;
    for (cavum_index e = 0; e < mesh->num_elements; e++) {
      if (group[e] != g) continue;
      if (!batch || batch->count == CAVUM_LANES) {
        batch = &d->batches[d->num_batches++];
        *batch = (cavum_batch){
            .num_corners = corners, .first_coeff = coeff, .first_index = index, .first_sign = sign};
        coeff += 4 * (int64_t)cavum_reference_points(d->reference, corners);
        index += all;
        sign += cavum_shape_count_skeleton(corners, degree);
      }
      for (int l = batch->count++; l < CAVUM_LANES; l++) batch->element[l] = e;
    }
  }
  d->index = cavum_alloc(index, sizeof *d->index);
  d->sign = cavum_alloc_aligned(sign, sizeof *d->sign);
  if (!d->index || !d->sign) CAVUM_TRY(cavum_fail_memory(error));
done:
  free(group);
  return status;
}

// Interiors of a batch interleaved, from a place on that vectors of all degrees have in common.
static cavum_status interleave(cavum_space *space, const cavum_discretisation *d,
                               cavum_error *error) {
  int64_t next = cavum_space_lanes(space->num_skeleton);
  for (cavum_index b = 0; b < d->num_batches; b++) {
    cavum_batch *batch = &d->batches[b];
    batch->first_interior = (cavum_index)next;
    for (int l = 0; l < batch->count; l++) {
      space->first_interior[batch->element[l]] = (cavum_index)(next + l);
    }
    next += CAVUM_LANES * (int64_t)(cavum_shape_count(batch->num_corners, space->degree) -
                                    cavum_shape_count_skeleton(batch->num_corners, space->degree));
    if (next > INT32_MAX) return cavum_fail(error, CAVUM_ERR_MEMORY, "more than 2^31 unknowns");
  }
  space->stride = CAVUM_LANES;
  space->num_unknowns = (cavum_index)next;
  return CAVUM_OK;
}

double cavum_discretisation_weight(const cavum_reference *ref, int corners, int point) {
  if (corners == 3) return ref->triangle_weight[point];
  return ref->weight[point % ref->q] * ref->weight[point / ref->q];
}

// One truth value a lane: all bits set or none.
typedef int64_t lane_flags
    __attribute__((vector_size(CAVUM_LANES * sizeof(int64_t)), aligned(64), may_alias));

// Quadrature weights of a batch over the permittivity and times the permeability of its lanes.
typedef struct weights {
  double of_point[CAVUM_GRID_MOST];
  cavum_lanes inverse_eps_r, mu_r;
} weights;

static void fill_weights(weights *w, const cavum_discretisation *d, const cavum_batch *batch) {
  int count = cavum_reference_points(d->reference, batch->num_corners);
  for (int i = 0; i < count; i++) {
    w->of_point[i] = cavum_discretisation_weight(d->reference, batch->num_corners, i);
  }
  for (int l = 0; l < CAVUM_LANES; l++) {
    const cavum_region *region = &d->mesh->regions[d->mesh->elements[batch->element[l]].region];
    w->inverse_eps_r[l] = 1.0 / region->eps_r;
    w->mu_r[l] = region->mu_r;
  }
}

// What is seen of a batch while its coefficients are filled.
typedef struct batch_check {
  lane_flags unfolded;       // the Jacobian is positive everywhere
  cavum_lanes mixed_square;  // sum over the points of (g12 / (g11 + g22))^2
} batch_check;

// The four coefficient blocks of a batch from its maps.
CAVUM_FAST static void fill_batch(cavum_lanes *restrict coeff, batch_check *restrict check,
                                  const cavum_batch_map *restrict map, const weights *restrict w,
                                  bool is_w, int count) {
  cavum_lanes *g11 = coeff, *g12 = g11 + count, *g22 = g12 + count, *mass = g22 + count;
  const cavum_lanes *restrict of_r = map->r;
  const cavum_lanes *restrict of_z_xi = map->z_xi, *restrict of_r_xi = map->r_xi;
  const cavum_lanes *restrict of_z_eta = map->z_eta, *restrict of_r_eta = map->r_eta;
  cavum_lanes zero = {0}, mixed_square = {0};
  lane_flags unfolded = ~(lane_flags){0};
  for (int i = 0; i < count; i++) {
    cavum_lanes r = of_r[i], z_xi = of_z_xi[i], r_xi = of_r_xi[i];
    cavum_lanes z_eta = of_z_eta[i], r_eta = of_r_eta[i];
    cavum_lanes jacobian = z_xi * r_eta - z_eta * r_xi;
    cavum_lanes c = w->of_point[i] * r * r * r;
    if (!is_w) c = w->of_point[i] / r;
    cavum_lanes stiffness = c * w->inverse_eps_r / jacobian;
    cavum_lanes first = stiffness * (z_eta * z_eta + r_eta * r_eta);
    cavum_lanes second = stiffness * (z_xi * z_xi + r_xi * r_xi);
    cavum_lanes mixed = -stiffness * (z_xi * z_eta + r_xi * r_eta);
    unfolded &= jacobian > zero;
    mixed_square += mixed * mixed / ((first + second) * (first + second));
    g11[i] = first;
    g12[i] = mixed;
    g22[i] = second;
    mass[i] = c * w->mu_r * jacobian;
  }
  *check = (batch_check){unfolded, mixed_square};
}

static cavum_status check_folds(const cavum_discretisation *d, const cavum_batch *batch,
                                const batch_check *check, cavum_error *error) {
  for (int l = 0; l < batch->count; l++) {
    if (check->unfolded[l]) continue;
    cavum_index e = batch->element[l];
    cavum_point corner = d->mesh->vertices[d->mesh->elements[e].vertex[0]];
    return cavum_fail(error, CAVUM_ERR_MESH,
                      "element %d near z = %.6g m, r = %.6g m is folded: its Jacobian is not "
                      "positive everywhere",
                      (int)e, corner.z_m, corner.r_m);
  }
  return CAVUM_OK;
}

static cavum_status prepare_coefficients(cavum_discretisation *d, cavum_error *error) {
  const cavum_batch *last = &d->batches[d->num_batches - 1];  // of triangles where there are any
  int64_t points = cavum_reference_points(d->reference, last->num_corners);
  if (!d->coeff) d->coeff = cavum_alloc_aligned(last->first_coeff + 4 * points, sizeof *d->coeff);
  if (!d->maps && d->num_batches <= MAPS_KEPT) {
    d->maps = cavum_alloc_aligned(
        last->first_coeff / 4 * CAVUM_MAP_PARTS + CAVUM_MAP_PARTS * points, sizeof *d->maps);
    if (!d->maps) return cavum_fail_memory(error);
  }
  if (!d->coeff) return cavum_fail_memory(error);
  if (d->mesh->node_order == 0 || last->num_corners != 3) return CAVUM_OK;
  return cavum_batch_map_tabulate(&d->lattice, d->mesh, d->reference, error);
}

// Coefficients of a batch; what was seen of it.
static void fill_one(const cavum_discretisation *d, cavum_batch *batch, cavum_batch_map_room *room,
                     batch_check *check) {
  weights w;
  int count = cavum_reference_points(d->reference, batch->num_corners);
  cavum_batch_map map = cavum_batch_map_of(room, d, batch);
  if (d->maps) cavum_batch_map_fill(&map, d, batch);
  fill_weights(&w, d, batch);
  fill_batch(d->coeff + batch->first_coeff, check, &map, &w, d->unknown == CAVUM_UNKNOWN_H_OVER_R,
             count);
  batch->has_mixed = false;
  for (int l = 0; l < batch->count; l++) {
    batch->has_mixed =
        batch->has_mixed || check->mixed_square[l] > count * MIXED_LEAST * MIXED_LEAST;
  }
}

// Coefficients of all batches under way, and the first batch with a folded element.
typedef struct filling {
  const cavum_discretisation *d;
  _Atomic int64_t folded;
} filling;

static void fill_some(void *context, int64_t from, int64_t end, int worker) {
  filling *f = context;
  cavum_batch_map_room room;
  batch_check check;
  (void)worker;
  for (int64_t b = from; b < end && b < atomic_load(&f->folded); b++) {
    cavum_batch *batch = &f->d->batches[b];
    fill_one(f->d, batch, &room, &check);
    if (check_folds(f->d, batch, &check, NULL) == CAVUM_OK) continue;
    int64_t first = atomic_load(&f->folded);
    while (b < first && !atomic_compare_exchange_weak(&f->folded, &first, b)) continue;
  }
}

static cavum_status fill_coefficients(cavum_discretisation *d, cavum_error *error) {
  filling f = {d, d->num_batches};
  cavum_status status = prepare_coefficients(d, error);
  if (status != CAVUM_OK) return status;
  cavum_threads_run(fill_some, &f, d->num_batches, PIECE,
                    d->num_batches > PIECE ? cavum_threads_count() : 1);
  if (f.folded < d->num_batches) {  // once more, for what it says
    cavum_batch_map_room room;
    batch_check check;
    fill_one(d, &d->batches[f.folded], &room, &check);
    return check_folds(d, &d->batches[f.folded], &check, error);
  }
  return cavum_stop_check(error);
}

static void fill_indices(cavum_discretisation *d) {
  const cavum_space *space = &d->space;
  for (cavum_index b = 0; b < d->num_batches && !cavum_stop_asked_at(b); b++) {
    const cavum_batch *batch = &d->batches[b];
    int all = cavum_shape_count(batch->num_corners, space->degree);
    int skeleton = cavum_shape_count_skeleton(batch->num_corners, space->degree);
    for (int l = 0; l < CAVUM_LANES; l++) {
      cavum_index e = batch->element[l], index[4 * CAVUM_DEGREE_MOST];
      double sign[4 * CAVUM_DEGREE_MOST];
      cavum_space_skeleton(index, sign, space, e);
      for (int a = 0; a < skeleton; a++) {
        if (batch->num_corners == 4) sign[a] *= d->reference->quad_sign[a];
        d->index[batch->first_index + a][l] = index[a];
        d->sign[batch->first_sign + a][l] = sign[a];
      }
      for (int a = skeleton; a < all; a++) {
        d->index[batch->first_index + a][l] =
            batch->first_interior + (a - skeleton) * CAVUM_LANES + l;
      }
    }
  }
}

// The terms of neighbours of equal permittivity cancel, so only other edges carry one.
static bool edge_has_term(const cavum_mesh *mesh, const cavum_edge *edge) {
  if (edge->boundary == CAVUM_BOUNDARY_AXIS) return false;
  if (edge->element[1] < 0) return true;
  double first = mesh->regions[mesh->elements[edge->element[0]].region].eps_r;
  return first != mesh->regions[mesh->elements[edge->element[1]].region].eps_r;
}

static void fill_edge_term(cavum_edge_term *term, const cavum_discretisation *d, cavum_index e,
                           int lane, int local) {
  const cavum_element *element = &d->mesh->elements[e];
  double eps_r = d->mesh->regions[element->region].eps_r;
  *term = (cavum_edge_term){.lane = lane, .local = local};
  for (int i = 0; i < d->reference->q; i++) {
    // Counterclockwise travel: outward normal times ds = (dr, -dz).
    cavum_edge_position at = cavum_element_edge_at(d->mesh, e, local, d->reference->x[i]);
    term->coeff[i] = -2.0 * at.r * at.r * at.z_x * d->reference->weight[i] / eps_r;
    term->radius_m[i] = at.r;
  }
}

static cavum_status fill_edge_terms(cavum_discretisation *d, cavum_error *error) {
  const cavum_mesh *mesh = d->mesh;
  d->num_edge_terms = 0;
  if (d->unknown != CAVUM_UNKNOWN_H_OVER_R) return CAVUM_OK;
  for (cavum_index b = 0; b < d->num_batches; b++) {
    if (cavum_stop_asked_at(b)) return cavum_stop_check(error);
    cavum_batch *batch = &d->batches[b];
    batch->first_edge_term = d->num_edge_terms;
    for (int l = 0; l < batch->count; l++) {
      const cavum_element *element = &mesh->elements[batch->element[l]];
      for (int k = 0; k < element->num_corners; k++) {
        if (!edge_has_term(mesh, &mesh->edges[element->edge[k]])) continue;
        if (!cavum_grow((void **)&d->edge_terms, &d->edge_term_capacity,
                        (int64_t)d->num_edge_terms + 1, sizeof *d->edge_terms)) {
          return cavum_fail_memory(error);
        }
        fill_edge_term(&d->edge_terms[d->num_edge_terms++], d, batch->element[l], l, k);
      }
    }
    batch->last_edge_term = d->num_edge_terms;
  }
  return CAVUM_OK;
}

cavum_status cavum_discretisation_create(cavum_discretisation *discretisation,
                                         const cavum_mesh *mesh, const cavum_reference *reference,
                                         cavum_unknown unknown, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_discretisation d = {.mesh = mesh, .reference = reference, .unknown = unknown};
  CAVUM_TRY(cavum_space_create(&d.space, mesh, reference->degree, error));
  CAVUM_TRY(cavum_stop_check(error));
  CAVUM_TRY(make_batches(&d, error));
  CAVUM_TRY(cavum_stop_check(error));
  CAVUM_TRY(interleave(&d.space, &d, error));
  CAVUM_TRY(fill_coefficients(&d, error));
  fill_indices(&d);
  d.is_large = d.space.num_unknowns > CAVUM_LARGE_FROM;
  CAVUM_TRY(cavum_stop_check(error));
  CAVUM_TRY(fill_edge_terms(&d, error));
  *discretisation = d;
  return CAVUM_OK;
done:
  cavum_discretisation_clear(&d);
  return status;
}

cavum_status cavum_discretisation_refill(cavum_discretisation *discretisation, cavum_error *error) {
  cavum_status status = fill_coefficients(discretisation, error);
  return status == CAVUM_OK ? fill_edge_terms(discretisation, error) : status;
}

void cavum_discretisation_drop_coefficients(cavum_discretisation *discretisation) {
  free(discretisation->coeff);
  free(discretisation->maps);
  discretisation->coeff = discretisation->maps = NULL;
}

void cavum_discretisation_clear(cavum_discretisation *discretisation) {
  if (!discretisation) return;
  cavum_space_clear(&discretisation->space);
  free(discretisation->batches);
  free(discretisation->coeff);
  free(discretisation->maps);
  free(discretisation->lattice);
  free(discretisation->index);
  free(discretisation->sign);
  free(discretisation->edge_terms);
  memset(discretisation, 0, sizeof *discretisation);
}
