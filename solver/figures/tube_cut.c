// SPDX-License-Identifier: GPL-3.0-or-later
// First-order effect of the closure of a beam tube, from the field that has decayed to its end.
#include "figures/tube_cut.h"

#include <complex.h>

#include "base/base.h"
#include "element/element_map.h"

// Waves of a round tube that are told apart: TM01, TM02, TM03. Those beyond count as a remainder.
enum { NUM_WAVES = 3 };
static const double BESSEL_J0_ZERO[NUM_WAVES + 1] = {2.404825557695773, 5.520078110286311,
                                                     8.653727912911013, 11.79153443901428};

// Cautions on the two parts of the second order, see tube_cut.h. On two-ellipse cells with tubes of
// 0.3 to 3 radii the error of f was 0.6 to 2.3 times the first part where that is the larger one,
// and 0.05 to 0.15 times the second otherwise.
static const double CAUTION_SHIFT = 3.0, CAUTION_REFLECTION = 0.5, CAUTION_VOLTAGE = 1.5;
// The field decays once from the end and once more to it.
static const double CAUTION_TAPER = 2.0;

// The waves of one tube and their amplitudes at its end, as the H_phi of an electric closure.
typedef struct end_waves {
  bool found;
  double z_m, radius_m, length_m, taper;
  double cut_off[NUM_WAVES + 1];  // x0n / radius
  double decay[NUM_WAVES + 1];    // sqrt(cut_off^2 - k^2)
  double norm[NUM_WAVES + 1];     // int r J1(cut_off r)^2 dr
  double amplitude[NUM_WAVES];    // of J1(cut_off r), with its sign
  double flux[NUM_WAVES];         // int r H^2 dr of each wave
  double rest;                    // int r H^2 dr of all waves beyond
} end_waves;

static bool is_at_end(const cavum_mesh *mesh, const cavum_edge *edge, const cavum_cut_tube *tube,
                      double z_m) {
  double margin = 1e-9 * (fabs(z_m) + tube->shape.length_m);
  return edge->boundary == tube->close && edge->element[1] < 0 &&
         fabs(mesh->vertices[edge->vertex[0]].z_m - z_m) <= margin &&
         fabs(mesh->vertices[edge->vertex[1]].z_m - z_m) <= margin;
}

// Projects what is at one edge of the end on the waves: H_phi at an electric end, its inward slope
// at a magnetic one, where H_phi itself is zero.
static void add_edge(end_waves *end, const cavum_view *view, const cavum_edge *edge,
                     bool at_right) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  const cavum_element *element = &mesh->elements[edge->element[0]];
  const cavum_reference *rule = view->field.discretisation->reference;
  double local[CAVUM_SHAPES_MOST];
  // e_r = -(1 / (w eps)) d(H_phi)/dz.
  double to_slope = (at_right ? 1.0 : -1.0) * view->field.angular_frequency * CAVUM_EPS0;
  cavum_field_gather(local, &view->field, edge->element[0]);
  double half =
      0.5 * fabs(mesh->vertices[edge->vertex[1]].r_m - mesh->vertices[edge->vertex[0]].r_m);
  for (int i = 0; i < rule->q; i++) {
    double xi, eta;
    cavum_element_edge_point(&xi, &eta, element, edge->local[0], rule->x[i]);
    cavum_field_point at = cavum_field_at(&view->field, edge->element[0], local, xi, eta);
    bool electric = edge->boundary == CAVUM_BOUNDARY_ELECTRIC;
    double value = electric ? at.h_phi_a_per_m : to_slope * at.e_r_v_per_m;
    double weight = rule->weight[i] * half * at.r_m;
    end->rest += weight * value * value;
    for (int n = 0; n < NUM_WAVES; n++) {
      end->amplitude[n] += weight * value * j1(end->cut_off[n] * at.r_m) / end->norm[n];
    }
  }
  end->found = true;
}

static double end_position(const cavum_mesh *mesh, bool at_right) {
  double end = at_right ? -HUGE_VAL : HUGE_VAL;
  for (cavum_index i = 0; i < mesh->num_vertices; i++) {
    double z = mesh->vertices[i].z_m;
    if (at_right ? z > end : z < end) end = z;
  }
  return end;
}

// False when the tube is above cut-off, where nothing decays.
static bool measure_end(end_waves *end, const cavum_view *view, const cavum_cut_tube *tube,
                        bool at_right) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  *end = (end_waves){.z_m = end_position(mesh, at_right),
                     .radius_m = tube->shape.radius_m,
                     .length_m = tube->shape.length_m,
                     .taper = tube->shape.taper};
  for (int n = 0; n <= NUM_WAVES; n++) {
    end->cut_off[n] = BESSEL_J0_ZERO[n] / end->radius_m;
    double j = j1(BESSEL_J0_ZERO[n]);
    end->norm[n] = 0.5 * end->radius_m * end->radius_m * j * j;
    double decay2 = end->cut_off[n] * end->cut_off[n] - view->field.k2_per_m2;
    if (decay2 <= 0.0) return false;
    end->decay[n] = sqrt(decay2);
  }
  for (cavum_index e = 0; e < mesh->num_edges; e++) {
    if (is_at_end(mesh, &mesh->edges[e], tube, end->z_m)) {
      add_edge(end, view, &mesh->edges[e], at_right);
    }
  }
  bool electric = tube->close == CAVUM_BOUNDARY_ELECTRIC;
  for (int n = 0; n < NUM_WAVES; n++) {
    end->rest -= end->amplitude[n] * end->amplitude[n] * end->norm[n];
    if (!electric) end->amplitude[n] /= end->decay[n];
    end->flux[n] = end->amplitude[n] * end->amplitude[n] * end->norm[n];
  }
  if (!electric) end->rest /= end->decay[NUM_WAVES] * end->decay[NUM_WAVES];
  end->rest = cavum_max(end->rest, 0.0);
  return true;
}

// Sums over the ends. Voltages: what electric ends add to V when they turn magnetic, and what
// magnetic ones have added to that of electric ones.
typedef struct cut_sum {
  double k2_change, k2_rest;  // first order; the part of the waves beyond and of uneven tubes
  double complex from_electric, to_magnetic;
  double voltage_rest;  // what the integral of a wave leaves out, in size
  double stiffness_m2;  // relative change of k2_change over the change of k^2 that causes it
  double reflection;    // exp(-2 a L) of the shortest tube
} cut_sum;

static void add_end(cut_sum *sum, const cavum_view *view, const end_waves *end, bool at_right,
                    bool electric, double beta) {
  // b(w, w) = U / (pi mu0) with U the energy in the meshed part.
  double norm = 1.0 / (CAVUM_PI * CAVUM_MU0 * view->copies);
  double k2 = view->field.k2_per_m2, wave_number = sqrt(k2) / beta;
  double to_e_z = 1.0 / (view->field.angular_frequency * CAVUM_EPS0);
  for (int n = 0; n < NUM_WAVES; n++) {
    double decay = end->decay[n];
    double complex along = decay + (at_right ? I : -I) * wave_number;
    double complex wave =
        end->amplitude[n] * end->cut_off[n] * to_e_z * cexp(I * wave_number * end->z_m) / along;
    sum->k2_change += decay * end->flux[n] / norm;
    *(electric ? &sum->from_electric : &sum->to_magnetic) -= wave;
    double uneven = CAUTION_TAPER * end->taper * pow(end->cut_off[n] / decay, 2.0);
    sum->voltage_rest += cabs(wave) * (exp(-decay * end->length_m) + uneven);
    sum->k2_rest += uneven * decay * end->flux[n] / norm;
  }
  double decay = end->decay[0], last = end->decay[NUM_WAVES];
  sum->k2_rest += last * end->rest / norm;
  sum->voltage_rest += sqrt(end->rest / end->norm[NUM_WAVES]) * end->cut_off[NUM_WAVES] * to_e_z /
                       hypot(last, wave_number);
  double stiffness = end->length_m / decay + 1.0 / (decay * decay) + 1.0 / k2;
  sum->stiffness_m2 = cavum_max(sum->stiffness_m2, stiffness);
  sum->reflection = cavum_max(sum->reflection, exp(-2.0 * decay * end->length_m));
}

// The mirrored end of a half model: V is real for an even mode and imaginary for an odd one.
static double complex mirror(double complex change, cavum_parity parity) {
  if (parity == CAVUM_PARITY_EVEN) return 2.0 * creal(change);
  if (parity == CAVUM_PARITY_ODD) return 2.0 * I * cimag(change);
  return change;
}

static double squared(double complex a) { return creal(a) * creal(a) + cimag(a) * cimag(a); }

static cavum_tube_cut evaluate(const cut_sum *sum, const cavum_view *view, cavum_phasor voltage) {
  double k2 = view->field.k2_per_m2, w = view->field.angular_frequency;
  double complex v = voltage.re + I * voltage.im;
  double magnetic2 = squared(v + mirror(sum->from_electric, view->parity));
  double electric2 = squared(v - mirror(sum->to_magnetic, view->parity));
  double largest2 = cavum_max(magnetic2, electric2);
  double to_hz = w / (2.0 * CAVUM_PI) * 0.5 / k2,
         second = CAUTION_SHIFT * sum->k2_change * sum->stiffness_m2 +
                  CAUTION_REFLECTION * sum->reflection;
  return (cavum_tube_cut){
      .present = true,
      .frequency_change_hz = to_hz * sum->k2_change,
      .frequency_error_hz = to_hz * (second * sum->k2_change + sum->k2_rest),
      .r_over_q_change_ohm = (magnetic2 - electric2) / w,
      .r_over_q_error_ohm = (CAUTION_VOLTAGE * second * largest2 +
                             view->copies * sum->voltage_rest * sqrt(largest2)) /
                            w};
}

cavum_tube_cut cavum_tube_cut_estimate(const cavum_view *view, const cavum_cut_tube *left,
                                       const cavum_cut_tube *right, cavum_phasor voltage,
                                       double beta) {
  bool present = false;
  cut_sum sum = {0};
  const cavum_cut_tube *ends[2] = {left, right};
  for (int side = view->parity == CAVUM_PARITY_NONE ? 0 : 1; side < 2; side++) {
    end_waves end;
    const cavum_cut_tube *tube = ends[side];
    if (!tube->is_there) continue;
    if (!measure_end(&end, view, tube, side == 1)) return (cavum_tube_cut){0};
    if (!end.found) continue;
    add_end(&sum, view, &end, side == 1, tube->close == CAVUM_BOUNDARY_ELECTRIC, beta);
    present = true;
  }
  return present ? evaluate(&sum, view, voltage) : (cavum_tube_cut){0};
}
