// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file fake_result.h
 * A result made by hand, for tests of what writes and prints results: the numbers are invented.
 */
#ifndef CAVUM_TEST_FAKE_RESULT_H
#define CAVUM_TEST_FAKE_RESULT_H

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cavum/solve.h"

/** Lattice order of the fake field grid. */
enum { FAKE_ORDER = 3 };

/** Text of the fake cell file. */
#define FAKE_CELL_TEXT                                                                 \
  "title: Injector cell\nbeta: 1.0\n"                                                  \
  "contour:\n  kind: two-ellipse\n  half_length_mm: 57.7\n  iris_radius_mm: 35.0\n"    \
  "  equator_radius_mm: 103.3\n  equator_ellipse: {axial_mm: 42.0, radial_mm: 42.0}\n" \
  "  iris_ellipse: {axial_mm: 12.0, radial_mm: 19.0}\n"                                \
  "ends:\n  left: {kind: magnetic}\n  right: {kind: magnetic}\n"                       \
  "modes: {count: 2}  # of an invented plant\n"

static inline void *fake_alloc(size_t count, size_t size) {
  void *memory = calloc(count, size);
  if (!memory) abort();
  return memory;
}

static inline double *fake_ramp(int count, double first, double step) {
  double *values = fake_alloc((size_t)count, sizeof *values);
  for (int i = 0; i < count; i++) values[i] = first + step * i;
  return values;
}

// Two elements: the unit quadrilateral and the triangle right of it, in tenths of a metre.
static inline void fake_fill_mesh(cavum_mesh *mesh) {
  static const double corner[5][2] = {{0, 0}, {0.1, 0}, {0.1, 0.1}, {0, 0.1}, {0.2, 0}};
  mesh->num_vertices = 5;
  mesh->vertices = fake_alloc(5, sizeof *mesh->vertices);
  for (int i = 0; i < 5; i++) mesh->vertices[i] = (cavum_point){corner[i][0], corner[i][1]};
  mesh->num_elements = 2;
  mesh->elements = fake_alloc(2, sizeof *mesh->elements);
  mesh->elements[0] =
      (cavum_element){.num_corners = 4, .vertex = {0, 1, 2, 3}, .edge = {0, 1, 2, 3}};
  mesh->elements[1] = (cavum_element){.num_corners = 3, .vertex = {1, 4, 2}, .edge = {4, 5, 1}};
  mesh->num_edges = 6;
  mesh->edges = fake_alloc(6, sizeof *mesh->edges);
  static const int ends[6][2] = {{0, 1}, {1, 2}, {2, 3}, {3, 0}, {1, 4}, {4, 2}};
  for (int i = 0; i < 6; i++) {
    mesh->edges[i] = (cavum_edge){.vertex = {ends[i][0], ends[i][1]},
                                  .boundary = CAVUM_BOUNDARY_METAL,
                                  .curve = -1,
                                  .element = {i < 4 ? 0 : 1, -1}};
  }
  mesh->edges[1].boundary = CAVUM_BOUNDARY_NONE;
  mesh->edges[0].boundary = mesh->edges[4].boundary = CAVUM_BOUNDARY_AXIS;
  mesh->num_regions = 1;
  mesh->regions = fake_alloc(1, sizeof *mesh->regions);
  mesh->regions[0] = (cavum_region){.name = strdup("vacuum"), .eps_r = 1.0, .mu_r = 1.0};
}

static inline void fake_add_point(cavum_field_grid *field, double z, double r, double scale) {
  int n = field->num_points++;
  field->z_m[n] = z;
  field->r_m[n] = r;
  field->h_phi_a_per_m[n] = scale * r;
  field->e_z_v_per_m[n] = scale * (1.0 + z);
  field->e_r_v_per_m[n] = -scale * z * r;
}

static inline void fake_fill_field(cavum_field_grid *field, double scale) {
  const int g = FAKE_ORDER, count = (g + 1) * (g + 1) + (g + 1) * (g + 2) / 2;
  double **arrays[5] = {&field->z_m, &field->r_m, &field->h_phi_a_per_m, &field->e_z_v_per_m,
                        &field->e_r_v_per_m};
  for (int k = 0; k < 5; k++) *arrays[k] = fake_alloc((size_t)count, sizeof(double));
  field->order = g;
  for (int j = 0; j <= g; j++) {
    for (int i = 0; i <= g; i++) fake_add_point(field, 0.1 * i / g, 0.1 * j / g, scale);
  }
  // The triangle (0.1, 0), (0.2, 0), (0.1, 0.1).
  for (int j = 0; j <= g; j++) {
    for (int i = 0; i + j <= g; i++) fake_add_point(field, 0.1 + 0.1 * i / g, 0.1 * j / g, scale);
  }
}

static inline cavum_profile fake_profile(int count) {
  cavum_profile profile = {.num_points = count};
  profile.arc_length_m = fake_ramp(count, 0.0, 1e-3);
  profile.z_m = fake_ramp(count, -0.05, 1e-3);
  profile.r_m = fake_ramp(count, 0.0, 0.0);
  profile.e_v_per_m = fake_ramp(count, 1e6, -1e3);
  profile.h_a_per_m = fake_ramp(count, 0.0, 10.0);
  profile.curve = fake_alloc((size_t)count, sizeof *profile.curve);
  return profile;
}

static inline void fake_set(cavum_mode_result *mode, cavum_figure_id id, double value,
                            double uncertainty) {
  mode->figures[id] =
      (cavum_figure){.state = CAVUM_FIGURE_PRESENT, .value = value, .uncertainty = uncertainty};
}

static inline void fake_fill_mode(cavum_mode_result *mode, int number) {
  strcpy(mode->label, number == 1 ? "TM010" : "");
  mode->parity = number == 1 ? CAVUM_PARITY_EVEN : CAVUM_PARITY_ODD;
  mode->k2_per_m2 = 728.9;
  mode->residual = 3e-14;
  mode->energy_mismatch = 1e-12;
  mode->accuracy_reached = true;
  fake_set(mode, CAVUM_FIGURE_FREQUENCY, 1288125674.4 * number, 0.31);
  fake_set(mode, CAVUM_FIGURE_R_OVER_Q_LINAC, 117.57012345, 1.3e-5);
  fake_set(mode, CAVUM_FIGURE_R_OVER_Q_CIRCUIT, 117.57012345 / 2, 0.65e-5);
  fake_set(mode, CAVUM_FIGURE_GEOMETRY_FACTOR, 272.1, 2e-4);
  fake_set(mode, CAVUM_FIGURE_EPK_OVER_EACC, 1.7649, 1e-6);
  mode->figures[CAVUM_FIGURE_EPK_OVER_EACC].has_position = true;
  mode->figures[CAVUM_FIGURE_EPK_OVER_EACC].at = (cavum_point){0.0577, 0.035};
  mode->figures[CAVUM_FIGURE_BPK_OVER_EACC] =
      (cavum_figure){.state = CAVUM_FIGURE_UNBOUNDED, .has_position = true, .at = {0.01, 0.0875}};
  if (number == 1) {
    fake_set(mode, CAVUM_FIGURE_LOSS_FACTOR, 2.3789e11, 3e4);
    fake_set(mode, CAVUM_FIGURE_Q0, 1.8123456e10, 1.2e5);
    mode->figures[CAVUM_FIGURE_Q0].basis = CAVUM_BASIS_WITH_FIT;
    fake_set(mode, CAVUM_FIGURE_SURFACE_RESISTANCE, 1.5012e-8, 2.2e-9);
    mode->figures[CAVUM_FIGURE_SURFACE_RESISTANCE].basis = CAVUM_BASIS_FIT;
    fake_set(mode, CAVUM_FIGURE_BETA_OPTIMUM, 1.0, 0.0);
    mode->figures[CAVUM_FIGURE_BETA_OPTIMUM].basis = CAVUM_BASIS_END_OF_RANGE;
    mode->beta_curve.num_points = 7;
    mode->beta_curve.beta = fake_ramp(7, 0.4, 0.1);
    mode->beta_curve.voltage_v = fake_ramp(7, 1e5, 1e5);
    mode->beta_curve.r_over_q_linac_ohm = fake_ramp(7, 10.0, 15.0);
    mode->beta_curve.uncertainty_ohm = fake_ramp(7, 1e-5, 0.0);
  }
  mode->axis = fake_profile(101);
  mode->wall = fake_profile(5000);
  fake_fill_field(&mode->field, number);
}

/** A result of two modes; everything that can be present is present somewhere. */
static inline cavum_result *fake_result_create(void) {
  cavum_result *result = fake_alloc(1, sizeof *result);
  result->title = strdup("Injector cell \"A\" \xc2\xb5");
  result->beta = 1.0;
  result->accelerating_length = (cavum_accelerating_length){0.1154, "2 x half_length"};
  fake_fill_mesh(&result->mesh);
  result->half_model = true;
  result->degree = 8;
  result->num_unknowns = 3900;
  result->complete_below_hz = 2.9e9;
  result->num_modes = 2;
  result->modes = fake_alloc(2, sizeof *result->modes);
  for (int i = 0; i < 2; i++) fake_fill_mode(&result->modes[i], i + 1);
  result->coupling =
      (cavum_figure){.state = CAVUM_FIGURE_PRESENT, .value = 0.0187654, .uncertainty = 2e-8};
  result->zero_mode_hz = 1.275e9;
  result->pi_mode_hz = 1.299e9;
  result->coupling_without_tubes = true;
  result->zero_mode_uncertainty_hz = 12.0;
  result->pi_mode_uncertainty_hz = 14.0;
  result->accuracy_reached = true;
  result->num_warnings = 1;
  result->warnings = fake_alloc(1, sizeof *result->warnings);
  result->warnings[0] = strdup("the wall has a kink of 3 degrees at z = 10 mm");
  result->num_steps = 2;
  result->steps = fake_alloc(2, sizeof *result->steps);
  result->steps[0] = (cavum_convergence_step){6, 2, 2100, 1288125674.0, NAN, NAN};
  result->steps[1] = (cavum_convergence_step){8, 2, 3900, 1288125674.4, 3e-10, 2e-7};
  return result;
}

static inline void fake_profile_clear(cavum_profile *profile) {
  free(profile->arc_length_m);
  free(profile->z_m);
  free(profile->r_m);
  free(profile->e_v_per_m);
  free(profile->h_a_per_m);
  free(profile->curve);
}

/** Frees what fake_result_create() made, so that tests of the writers need no solver. */
static inline void fake_result_destroy(cavum_result *result) {
  for (int i = 0; i < result->num_modes; i++) {
    cavum_mode_result *mode = &result->modes[i];
    free(mode->beta_curve.beta);
    free(mode->beta_curve.voltage_v);
    free(mode->beta_curve.r_over_q_linac_ohm);
    free(mode->beta_curve.uncertainty_ohm);
    fake_profile_clear(&mode->axis);
    fake_profile_clear(&mode->wall);
    free(mode->derivatives);
    free(mode->one_sided);
    free(mode->field.z_m);
    free(mode->field.r_m);
    free(mode->field.h_phi_a_per_m);
    free(mode->field.e_z_v_per_m);
    free(mode->field.e_r_v_per_m);
  }
  free(result->dimensions);
  free(result->modes);
  for (int i = 0; i < result->num_warnings; i++) free(result->warnings[i]);
  free(result->warnings);
  free(result->steps);
  free(result->title);
  cavum_mesh_clear(&result->mesh);
  free(result);
}

/** The cell that goes with it; nothing in it is owned. */
static inline cavum_cell fake_cell(void) {
  cavum_cell cell = {.struct_size = sizeof(cavum_cell),
                     .beta = 1.0,
                     .num_modes = 2,
                     .accuracy_frequency = 1e-6,
                     .accuracy_other_figures = 1e-4};
  cell.kind = CAVUM_CONTOUR_TWO_ELLIPSE;
  cell.left = (cavum_half_cell){0.0577, 0.035, 0.1033, 0.042, 0.042, 0.012, 0.019};
  cell.right = cell.left;
  cell.left_end.kind = cell.right_end.kind = CAVUM_END_MAGNETIC;
  cell.title = "Injector cell";
  cell.text = FAKE_CELL_TEXT;
  return cell;
}

#endif
