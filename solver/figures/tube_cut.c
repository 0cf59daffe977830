// SPDX-License-Identifier: GPL-3.0-or-later
// First-order effect of the closure of a beam tube, from the field that has decayed to its end.
#include "tube_cut.h"

#include <complex.h>

#include "base.h"
#include "element_map.h"
#include "quadrature.h"

static const double BESSEL_J0_ZERO = 2.404825557695773;  // first zero of J0: TM01 of a round tube

typedef struct end_field {
  bool found;
  double flux;      // int r^3 w^2 dr of the electric closure
  double e_z_axis;  // E_z on the axis there, electric closure, with its sign
  double z_m;
} end_field;

// With a magnetic end w is zero and its slope stands for it: w(electric) = |dw/dn| / a.
static double electric_value(const cavum_view *view, cavum_index e, const double *local, double xi,
                             double eta, bool electric, double decay) {
  cavum_field_point at = cavum_field_at(&view->field, e, local, xi, eta);
  if (electric) return at.r_m > 0.0 ? at.h_phi_a_per_m / at.r_m : 0.0;
  // e_r = -(1 / (w eps)) d(H_phi)/dz, so dw/dz = -(w eps) e_r / r.
  double slope = -view->field.angular_frequency * CAVUM_EPS0 * at.e_r_v_per_m / at.r_m;
  return slope / decay;
}

static void add_edge(end_field *end, const cavum_view *view, const cavum_edge *edge, double decay) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  const cavum_element *element = &mesh->elements[edge->element[0]];
  double x[CAVUM_QUADRATURE_MOST], w[CAVUM_QUADRATURE_MOST], local[CAVUM_SHAPES_MOST];
  int points = view->field.discretisation->reference->degree + 3;
  bool electric = edge->boundary == CAVUM_BOUNDARY_ELECTRIC;
  cavum_quadrature_gauss(x, w, points);
  cavum_field_gather(local, &view->field, edge->element[0]);
  double half =
      0.5 * fabs(mesh->vertices[edge->vertex[1]].r_m - mesh->vertices[edge->vertex[0]].r_m);
  for (int i = 0; i < points; i++) {
    double xi, eta;
    cavum_element_edge_point(&xi, &eta, element, edge->local[0], x[i]);
    double r = cavum_element_map_at(mesh, edge->element[0], xi, eta).r;
    double value = electric_value(view, edge->element[0], local, xi, eta, electric, decay);
    end->flux += w[i] * half * r * r * r * value * value;
  }
  end->found = true;
}

// E_z on the axis at the end, electric closure: 2 w / (w eps) with w as above, taken from the slope
// of E_z along the axis for a magnetic end, where E_z itself vanishes.
static double axis_value(const cavum_view *view, bool at_right, bool electric, double decay) {
  const cavum_sides *sides = view->sides;
  cavum_side side = at_right ? sides->axis[sides->num_axis - 1] : sides->axis[0];
  cavum_trace trace = cavum_trace_create(&view->field, side.element, side.local_edge);
  double s = at_right ? 1.0 : -1.0;
  if (electric) return cavum_trace_axis_e_z(&trace, s);
  // E_z is a polynomial in s, so a centred difference about a point just inside is accurate enough
  // for a first-order estimate.
  double step = 1e-4, inner = s - (at_right ? step : -step);
  double z_s = fabs(cavum_trace_at(&trace, inner).z_s);
  return cavum_trace_axis_e_z(&trace, inner) / (step * z_s) / decay;
}

static end_field measure_end(const cavum_view *view, const cavum_end *tube, bool at_right,
                             double decay) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  end_field end = {.z_m = at_right ? -HUGE_VAL : HUGE_VAL};
  for (cavum_index i = 0; i < mesh->num_vertices; i++) {
    double z = mesh->vertices[i].z_m;
    if (at_right ? z > end.z_m : z < end.z_m) end.z_m = z;
  }
  double margin = 1e-9 * (fabs(end.z_m) + tube->tube_length_m);
  for (cavum_index e = 0; e < mesh->num_edges; e++) {
    const cavum_edge *edge = &mesh->edges[e];
    if (edge->boundary != tube->tube_close || edge->element[1] >= 0) continue;
    if (fabs(mesh->vertices[edge->vertex[0]].z_m - end.z_m) > margin ||
        fabs(mesh->vertices[edge->vertex[1]].z_m - end.z_m) > margin) {
      continue;
    }
    add_edge(&end, view, edge, decay);
  }
  if (end.found && view->sides->num_axis > 0) {
    end.e_z_axis = axis_value(view, at_right, tube->tube_close == CAVUM_BOUNDARY_ELECTRIC, decay);
  }
  return end;
}

// One end's share; false when the tube is above cut-off, where nothing decays.
static bool add_end(double *k2_change, double complex *voltage_change, const cavum_view *view,
                    const cavum_end *tube, bool at_right, double beta) {
  double cut_off = BESSEL_J0_ZERO / tube->tube_radius_m;
  double decay2 = cut_off * cut_off - view->field.k2_per_m2;
  if (decay2 <= 0.0) return false;
  double decay = sqrt(decay2), wave_number = sqrt(view->field.k2_per_m2) / beta;
  end_field end = measure_end(view, tube, at_right, decay);
  if (!end.found) return false;
  // b(w, w) = U / (pi mu0) with U the energy in the meshed part.
  double norm = 1.0 / (CAVUM_PI * CAVUM_MU0 * view->copies);
  *k2_change += decay * end.flux / norm;
  double complex along = decay + (at_right ? I : -I) * wave_number;
  *voltage_change -= end.e_z_axis * cexp(I * wave_number * end.z_m) / along;
  return true;
}

cavum_tube_cut cavum_tube_cut_estimate(const cavum_view *view, const cavum_end *left,
                                       const cavum_end *right, cavum_phasor voltage, double beta) {
  cavum_tube_cut cut = {false, 0.0, 0.0};
  double k2_change = 0.0, k2 = view->field.k2_per_m2;
  double complex change = 0.0, v = voltage.re + I * voltage.im;
  const cavum_end *ends[2] = {left, right};
  for (int side = view->parity == CAVUM_PARITY_NONE ? 0 : 1; side < 2; side++) {
    if (ends[side]->kind != CAVUM_END_TUBE || ends[side]->tube_close == CAVUM_BOUNDARY_METAL) {
      continue;
    }
    if (!add_end(&k2_change, &change, view, ends[side], side == 1, beta)) return cut;
    cut.present = true;
  }
  // The mirrored end of a half model: V is real for an even mode and imaginary for an odd one.
  if (view->parity == CAVUM_PARITY_EVEN) change = 2.0 * creal(change);
  if (view->parity == CAVUM_PARITY_ODD) change = 2.0 * I * cimag(change);
  cut.frequency_change_hz = sqrt(k2) * CAVUM_C_M_PER_S / (2.0 * CAVUM_PI) * 0.5 * k2_change / k2;
  cut.r_over_q_change_ohm = 2.0 * creal(conj(v) * change) / view->field.angular_frequency;
  return cut;
}
