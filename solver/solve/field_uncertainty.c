// SPDX-License-Identifier: GPL-3.0-or-later
// Uncertainties of the field in each element: the same points of the element at the degrees p,
// p - 1 and p - 2. What degrees change is largest at sides and corners, which are among the points.
#include "solve/field_uncertainty.h"

#include <stdlib.h>

#include "base/base.h"
#include "figures/axis_vertices.h"
#include "figures/edge_jumps.h"
#include "figures/sharp_corner.h"
#include "solve/mode_levels.h"

// Steps of the lattice in an element.
enum { ORDER = 6, POINTS = (ORDER + 1) * (ORDER + 1) };
// Rounding of fields, against the largest: derivatives of sums of up to 17 polynomials.
static const double ROUNDING = 1e-11;

// The field of one element at the degrees.
typedef struct element_levels {
  int num_points;
  cavum_field_point at[CAVUM_MODE_LEVELS][POINTS];
} element_levels;

static int sample(cavum_field_point *out, const cavum_field *field, cavum_index element) {
  double local[CAVUM_SHAPES_MOST], x[ORDER + 1];
  int count = 0;
  cavum_field_gather(local, field, element);
  if (field->discretisation->mesh->elements[element].num_corners == 4) {
    for (int i = 0; i <= ORDER; i++) x[i] = 2.0 * i / ORDER - 1.0;
    cavum_field_on_grid(out, field, element, local, ORDER + 1, x);
    return POINTS;
  }
  for (int j = 0; j <= ORDER; j++) {
    for (int i = 0; i + j <= ORDER; i++) {
      out[count++] = cavum_field_at(field, element, local, (double)i / ORDER, (double)j / ORDER);
    }
  }
  return count;
}

static void collect(element_levels *here, const cavum_mode_levels *levels, cavum_index element) {
  for (int i = 0; i < levels->count; i++) {
    here->num_points = sample(here->at[i], &levels->view[i].field, element);
  }
}

// Vectors have no sign of their own: those that bring each to that of the last degree, by H_phi in
// the middles of the elements.
static void find_signs(double sign[CAVUM_MODE_LEVELS], const cavum_mode_levels *levels) {
  const cavum_mesh *mesh = levels->view[0].field.discretisation->mesh;
  double local[CAVUM_SHAPES_MOST], sum[CAVUM_MODE_LEVELS] = {0.0};
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    double middle = mesh->elements[e].num_corners == 4 ? 0.0 : 1.0 / 3.0, h[CAVUM_MODE_LEVELS];
    for (int i = 0; i < levels->count; i++) {
      cavum_field_gather(local, &levels->view[i].field, e);
      h[i] = cavum_field_at(&levels->view[i].field, e, local, middle, middle).h_phi_a_per_m;
      sum[i] += h[0] * h[i];
    }
  }
  for (int i = 0; i < CAVUM_MODE_LEVELS; i++) sign[i] = sum[i] < 0.0 ? -1.0 : 1.0;
}

// The largest changes in an element, of H_phi and of E.
static void find_changes(double change_h[], double change_e[], const element_levels *here,
                         const double *sign, int count) {
  for (int i = 0; i + 1 < count; i++) {
    change_h[i] = change_e[i] = 0.0;
    for (int k = 0; k < here->num_points; k++) {
      const cavum_field_point *a = &here->at[i][k], *b = &here->at[i + 1][k];
      double dh = sign[i] * a->h_phi_a_per_m - sign[i + 1] * b->h_phi_a_per_m;
      double dz = sign[i] * a->e_z_v_per_m - sign[i + 1] * b->e_z_v_per_m;
      double dr = sign[i] * a->e_r_v_per_m - sign[i + 1] * b->e_r_v_per_m;
      change_h[i] = cavum_max(change_h[i], fabs(dh));
      change_e[i] = cavum_max(change_e[i], hypot(dz, dr));
    }
  }
}

static void take_largest(double largest[2], const element_levels *here) {
  for (int k = 0; k < here->num_points; k++) {
    const cavum_field_point *p = &here->at[0][k];
    largest[0] = cavum_max(largest[0], fabs(p->h_phi_a_per_m));
    largest[1] = cavum_max(largest[1], hypot(p->e_z_v_per_m, p->e_r_v_per_m));
  }
}

static bool touches(const cavum_element *element, const bool *marked) {
  for (int i = 0; i < element->num_corners; i++) {
    if (marked[element->vertex[i]]) return true;
  }
  return false;
}

// Degrees may agree in an element by chance, while it does not agree with those around it: what its
// E is off by at least, at its edges and at its corners on the axis.
static cavum_status find_jumps(double *jump, const cavum_view *view, cavum_error *error) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  double *at_axis = cavum_alloc(mesh->num_vertices, sizeof *at_axis);
  if (!at_axis) return cavum_fail_memory(error);
  cavum_edge_jumps_measure(jump, view);
  cavum_status status = cavum_axis_vertices_error(at_axis, view, error);
  for (cavum_index e = 0; status == CAVUM_OK && e < mesh->num_elements; e++) {
    for (int i = 0; i < mesh->elements[e].num_corners; i++) {
      jump[e] = cavum_max(jump[e], at_axis[mesh->elements[e].vertex[i]]);
    }
  }
  free(at_axis);
  return status;
}

static void fill(double *of_h, double *of_e, const cavum_mode_levels *levels, const bool *no_limit,
                 const double *jump) {
  const cavum_mesh *mesh = levels->view[0].field.discretisation->mesh;
  element_levels here;
  double sign[CAVUM_MODE_LEVELS], largest[2] = {0.0};
  find_signs(sign, levels);
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    double change_h[CAVUM_MODE_LEVELS], change_e[CAVUM_MODE_LEVELS];
    collect(&here, levels, e);
    find_changes(change_h, change_e, &here, sign, levels->count);
    of_h[e] = cavum_mode_levels_rest(change_h, levels->count);
    of_e[e] = cavum_max(cavum_mode_levels_rest(change_e, levels->count), jump[e]);
    if (touches(&mesh->elements[e], no_limit)) {
      of_h[e] = cavum_mode_levels_rest_at_corner(change_h, levels->count, levels->ratio_at_corner);
      of_e[e] = HUGE_VAL;
    } else {
      take_largest(largest, &here);
    }
  }
  double everywhere = ROUNDING + levels->vector_error + levels->spill;
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    of_h[e] += everywhere * largest[0];
    of_e[e] += everywhere * largest[1];
  }
}

cavum_status cavum_field_uncertainty_fill(cavum_mode_result *mode, const cavum_problem *problem,
                                          int m, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_mode_levels levels = cavum_mode_levels_find(problem, m);
  const cavum_mesh *mesh = levels.view[0].field.discretisation->mesh;
  bool *no_limit = cavum_alloc(mesh->num_vertices, sizeof *no_limit);
  double *jump = cavum_alloc(mesh->num_elements, sizeof *jump);
  mode->field_h_uncertainty_a_per_m = cavum_alloc(mesh->num_elements, sizeof(double));
  mode->field_e_uncertainty_v_per_m = cavum_alloc(mesh->num_elements, sizeof(double));
  if (!no_limit || !jump || !mode->field_h_uncertainty_a_per_m ||
      !mode->field_e_uncertainty_v_per_m) {
    CAVUM_TRY(cavum_fail_memory(error));
  }
  CAVUM_TRY(cavum_sharp_corner_mark(no_limit, &levels.view[0], error));
  CAVUM_TRY(find_jumps(jump, &levels.view[0], error));
  fill(mode->field_h_uncertainty_a_per_m, mode->field_e_uncertainty_v_per_m, &levels, no_limit,
       jump);
done:
  free(no_limit);
  free(jump);
  return status;
}
