// SPDX-License-Identifier: GPL-3.0-or-later
// Coefficients of the weak form at the quadrature points of every element and along the edges where
// the boundary term of the w form lives.
#include "discretisation.h"

#include <string.h>

#include "base.h"

cavum_unknown cavum_discretisation_choose_unknown(const cavum_mesh *mesh) {
  double largest = 0.0, smallest = HUGE_VAL;
  for (cavum_index i = 0; i < mesh->num_vertices; i++) {
    largest = cavum_max(largest, mesh->vertices[i].r_m);
    smallest = cavum_min(smallest, mesh->vertices[i].r_m);
  }
  return smallest > 1e-9 * largest ? CAVUM_UNKNOWN_R_TIMES_H : CAVUM_UNKNOWN_H_OVER_R;
}

void cavum_discretisation_map(cavum_map_point *points, const cavum_discretisation *d,
                              cavum_index e) {
  const cavum_reference *ref = d->reference;
  if (d->mesh->elements[e].num_corners == 4) {
    cavum_element_map_tensor(points, d->mesh, e, ref->q, ref->x);
  } else {
    cavum_element_map_points(points, d->mesh, e, ref->triangle_points, ref->triangle_xi,
                             ref->triangle_eta);
  }
}

static double quadrature_weight(const cavum_reference *ref, int corners, int point) {
  if (corners == 3) return ref->triangle_weight[point];
  return ref->weight[point % ref->q] * ref->weight[point / ref->q];
}

// Fills the four coefficient blocks of one element; false when the map folds.
static bool fill_element(double *coeff, const cavum_discretisation *d, cavum_index e,
                         const cavum_map_point *points) {
  const cavum_element *element = &d->mesh->elements[e];
  const cavum_region *region = &d->mesh->regions[element->region];
  int count = cavum_reference_points(d->reference, element->num_corners);
  double *g11 = coeff, *g12 = g11 + count, *g22 = g12 + count, *mass = g22 + count;
  for (int i = 0; i < count; i++) {
    const cavum_map_point *x = &points[i];
    double jacobian = cavum_map_jacobian(x);
    if (!(jacobian > 0.0)) return false;
    double c = d->unknown == CAVUM_UNKNOWN_H_OVER_R ? x->r * x->r * x->r : 1.0 / x->r;
    c *= quadrature_weight(d->reference, element->num_corners, i);
    double stiffness = c / (region->eps_r * jacobian);
    g11[i] = stiffness * (x->z_eta * x->z_eta + x->r_eta * x->r_eta);
    g12[i] = -stiffness * (x->z_xi * x->z_eta + x->r_xi * x->r_eta);
    g22[i] = stiffness * (x->z_xi * x->z_xi + x->r_xi * x->r_xi);
    mass[i] = c * region->mu_r * jacobian;
  }
  return true;
}

static cavum_status fill_coefficients(cavum_discretisation *d, cavum_error *error) {
  const cavum_mesh *mesh = d->mesh;
  d->first_point = cavum_alloc((int64_t)mesh->num_elements + 1, sizeof *d->first_point);
  if (!d->first_point) return cavum_fail_memory(error);
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    d->first_point[e + 1] =
        d->first_point[e] + cavum_reference_points(d->reference, mesh->elements[e].num_corners);
  }
  d->coeff = cavum_alloc(4 * d->first_point[mesh->num_elements], sizeof *d->coeff);
  if (!d->coeff) return cavum_fail_memory(error);
  cavum_map_point points[(CAVUM_POINTS_MOST + 1) * (CAVUM_POINTS_MOST + 1)];
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    cavum_discretisation_map(points, d, e);
    if (!fill_element(d->coeff + 4 * d->first_point[e], d, e, points)) {
      return cavum_fail(error, CAVUM_ERR_MESH,
                        "element %d near z = %.6g m, r = %.6g m is folded: its Jacobian is not "
                        "positive everywhere",
                        (int)e, points[0].z, points[0].r);
    }
  }
  return CAVUM_OK;
}

// The terms of neighbours of equal permittivity cancel, so only other edges carry one.
static bool edge_has_term(const cavum_mesh *mesh, const cavum_edge *edge) {
  if (edge->boundary == CAVUM_BOUNDARY_AXIS) return false;
  if (edge->element[1] < 0) return true;
  double first = mesh->regions[mesh->elements[edge->element[0]].region].eps_r;
  return first != mesh->regions[mesh->elements[edge->element[1]].region].eps_r;
}

static void fill_edge_term(cavum_edge_term *term, const cavum_discretisation *d, cavum_index e,
                           int local) {
  const cavum_element *element = &d->mesh->elements[e];
  double eps_r = d->mesh->regions[element->region].eps_r, xi_s, eta_s;
  cavum_element_edge_direction(&xi_s, &eta_s, element, local);
  *term = (cavum_edge_term){.element = e, .local = local};
  for (int i = 0; i < d->reference->q; i++) {
    double xi, eta;
    cavum_element_edge_point(&xi, &eta, element, local, d->reference->x[i]);
    cavum_map_point x = cavum_element_map_at(d->mesh, e, xi, eta);
    // Counterclockwise travel: outward normal times ds = (dr, -dz).
    double z_s = x.z_xi * xi_s + x.z_eta * eta_s;
    term->coeff[i] = -2.0 * x.r * x.r * z_s * d->reference->weight[i] / eps_r;
  }
}

static cavum_status fill_edge_terms(cavum_discretisation *d, cavum_error *error) {
  const cavum_mesh *mesh = d->mesh;
  bool wanted = d->unknown == CAVUM_UNKNOWN_H_OVER_R;
  int64_t capacity = 0;
  d->first_edge_term = cavum_alloc((int64_t)mesh->num_elements + 1, sizeof *d->first_edge_term);
  if (!d->first_edge_term) return cavum_fail_memory(error);
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    const cavum_element *element = &mesh->elements[e];
    for (int k = 0; wanted && k < element->num_corners; k++) {
      if (!edge_has_term(mesh, &mesh->edges[element->edge[k]])) continue;
      if (!cavum_grow((void **)&d->edge_terms, &capacity, (int64_t)d->num_edge_terms + 1,
                      sizeof *d->edge_terms)) {
        return cavum_fail_memory(error);
      }
      fill_edge_term(&d->edge_terms[d->num_edge_terms++], d, e, k);
    }
    d->first_edge_term[e + 1] = d->num_edge_terms;
  }
  return CAVUM_OK;
}

cavum_status cavum_discretisation_create(cavum_discretisation *discretisation,
                                         const cavum_mesh *mesh, const cavum_reference *reference,
                                         cavum_unknown unknown, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_discretisation d = {.mesh = mesh, .reference = reference, .unknown = unknown};
  CAVUM_TRY(cavum_space_create(&d.space, mesh, reference->degree, error));
  CAVUM_TRY(fill_coefficients(&d, error));
  CAVUM_TRY(fill_edge_terms(&d, error));
  *discretisation = d;
  return CAVUM_OK;
done:
  cavum_discretisation_clear(&d);
  return status;
}

void cavum_discretisation_signs(double *sign, const cavum_discretisation *d, cavum_index e) {
  cavum_index index[4 * CAVUM_DEGREE_MOST];
  int corners = d->mesh->elements[e].num_corners;
  cavum_space_skeleton(index, sign, &d->space, e);
  for (int a = 0; corners == 4 && a < cavum_shape_count_skeleton(4, d->reference->degree); a++) {
    sign[a] *= d->reference->quad_sign[a];
  }
}

void cavum_discretisation_clear(cavum_discretisation *discretisation) {
  if (!discretisation) return;
  cavum_space_clear(&discretisation->space);
  free(discretisation->first_point);
  free(discretisation->coeff);
  free(discretisation->edge_terms);
  free(discretisation->first_edge_term);
  memset(discretisation, 0, sizeof *discretisation);
}
