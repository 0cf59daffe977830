// SPDX-License-Identifier: GPL-3.0-or-later
// One step of a solve: discretise, find the modes of every symmetry class, merge, compute figures.
#include "solve/solution_compute.h"

#include "base/base.h"
#include "base/stop.h"
#include "figures/sharp_corner.h"
#include "solve/mode_history.h"
#include "solve/solution_modes.h"

// A voltage or an integral below this part of int |E_z| dz may be none.
static const double PART_LEAST = 1e-5;

static bool has_triangles(const cavum_mesh *mesh) {
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    if (mesh->elements[e].num_corners == 3) return true;
  }
  return false;
}

static double distance(const cavum_solution_mode *mode, double near_k2_per_m2) {
  return near_k2_per_m2 > 0.0 ? cavum_modes_distance(mode->k2_per_m2, near_k2_per_m2)
                              : mode->k2_per_m2;
}

// Insertion sort by distance from the target, or by frequency.
static void sort_modes(cavum_solution_mode *modes, int count, double near_k2_per_m2) {
  for (int i = 1; i < count; i++) {
    cavum_solution_mode mode = modes[i];
    int k = i;
    for (; k > 0 && distance(&modes[k - 1], near_k2_per_m2) > distance(&mode, near_k2_per_m2);
         k--) {
      modes[k] = modes[k - 1];
    }
    modes[k] = mode;
  }
}

static cavum_status merge_classes(cavum_solution *solution, const cavum_solution_request *input,
                                  cavum_error *error) {
  int total = solution->classes[0].modes[0].count + solution->classes[1].modes[0].count, at = 0;
  solution->modes = cavum_alloc(total, sizeof *solution->modes);
  if (!solution->modes) return cavum_fail_memory(error);
  for (int c = 0; c < CAVUM_CLASSES; c++) {
    for (int i = 0; i < solution->classes[c].modes[0].count; i++) {
      solution->modes[at++] = (cavum_solution_mode){
          .in_class = c, .index = i, .k2_per_m2 = solution->classes[c].modes[0].k2_per_m2[i]};
    }
  }
  sort_modes(solution->modes, total, input->near_k2_per_m2);
  solution->num_modes = total < input->count ? total : input->count;
  sort_modes(solution->modes, solution->num_modes, 0.0);
  return CAVUM_OK;
}

// An algebraic tail is some thirty times the last change, and would be small by luck where that is
// not much more than what the iteration left.
static const double VECTOR_AT_STRONG_CORNERS = 2e-8;

static double factor_of_corners(const cavum_view *view, const cavum_cell *cell) {
  cavum_weakest_exponents weakest = cavum_sharp_corner_weakest_exponents(view);
  bool strong = cavum_min(weakest.corner, weakest.tip) < CAVUM_STRONG_EXPONENT;
  double usual = cavum_solution_vector_accuracy(cell);
  return strong ? cavum_min(1.0, VECTOR_AT_STRONG_CORNERS / usual) : 1.0;
}

// Figures of a voltage or an integral that nearly cancels need a vector that is as much more
// accurate; one that is none at all makes no figures.
static double accuracy_factor(const cavum_mode_values *values) {
  double factor = 1.0;
  if (values->voltage_rcond > PART_LEAST) factor = cavum_min(factor, values->voltage_rcond);
  if (values->integral_rcond > PART_LEAST) factor = cavum_min(factor, values->integral_rcond);
  return factor;
}

// For the next solution and the next cell.
static cavum_status set_factors(cavum_solution *solution, const cavum_solution_request *input,
                                cavum_error *error) {
  for (int m = 0; m < solution->num_modes; m++) {
    cavum_solution_mode *mode = &solution->modes[m];
    cavum_view view = cavum_solution_view(solution, m, 0, input->boundary);
    cavum_status status = cavum_stop_check(error);
    if (status == CAVUM_OK && input->rough) {
      status = cavum_mode_measure_cancellation(&mode->values[0], &view, input->cell, error);
    }
    if (status != CAVUM_OK) return status;
    double *factors = solution->classes[mode->in_class].modes[0].accuracy_factor;
    factors[mode->index] =
        accuracy_factor(&mode->values[0]) * factor_of_corners(&view, input->cell);
  }
  return CAVUM_OK;
}

static cavum_status compute_figures(cavum_solution *solution, const cavum_solution_request *input,
                                    cavum_error *error) {
  if (input->rough) return CAVUM_OK;
  for (int m = 0; m < solution->num_modes; m++) {
    for (int below = 0; below < solution->num_degrees; below++) {
      cavum_status status = cavum_stop_check(error);
      if (status != CAVUM_OK) return status;
      cavum_view view = cavum_solution_view(solution, m, below, input->boundary);
      cavum_solution_mode *mode = &solution->modes[m];
      mode->samples[below] =
          cavum_alloc(input->boundary->num_conducting, sizeof *mode->samples[below]);
      if (!mode->samples[below]) return cavum_fail_memory(error);
      cavum_figure best = mode->values[0].figures[CAVUM_FIGURE_BETA_OPTIMUM];
      double hint = below > 0 && best.state == CAVUM_FIGURE_PRESENT ? best.value : 0.0;
      status = cavum_mode_compute_figures(&mode->values[below], &view, input->cell, input->curves,
                                          hint, mode->samples[below], error);
      if (status != CAVUM_OK) return status;
    }
  }
  return CAVUM_OK;
}

static cavum_status discretise(cavum_solution *solution, const cavum_mesh *mesh,
                               cavum_unknown unknown, cavum_index large_from, cavum_error *error) {
  cavum_discretisation *d = &solution->discretisation;
  cavum_status status = cavum_discretisation_create(d, mesh, &solution->reference, unknown, error);
  if (status == CAVUM_OK && large_from > 0) d->is_large = d->space.num_unknowns > large_from;
  return status;
}

// Storage for a mesh and degree: as it is when the topology is the same, with new coefficients.
static cavum_status prepare(cavum_solution *solution, const cavum_mesh *mesh, int degree,
                            const cavum_solution_request *input, cavum_error *error) {
  cavum_unknown unknown = cavum_discretisation_choose_unknown(mesh);
  int points = cavum_discretisation_points(mesh, unknown, degree);
  bool fits = solution->topology == input->topology && solution->mesh == mesh &&
              solution->reference.degree == degree && solution->reference.q == points &&
              solution->condensed.num_levels == input->num_degrees &&
              solution->discretisation.unknown == unknown;
  solution->num_degrees = input->num_degrees;
  cavum_solution_free_modes(solution);
  if (fits) {
    solution->condensed.eliminated = false;
    return cavum_discretisation_refill(&solution->discretisation, error);
  }
  cavum_solution_clear(solution);
  solution->num_degrees = input->num_degrees;
  cavum_status status =
      cavum_reference_create(&solution->reference, degree, points, has_triangles(mesh), error);
  if (status == CAVUM_OK) status = discretise(solution, mesh, unknown, input->large_from, error);
  if (status == CAVUM_OK) {
    status = cavum_condensed_create(&solution->condensed, &solution->discretisation,
                                    input->num_degrees, error);
  }
  if (status != CAVUM_OK) return status;
  solution->mesh = mesh;
  solution->topology = input->topology;
  return CAVUM_OK;
}

cavum_status cavum_solution_compute(cavum_solution *solution, const cavum_mesh *mesh, int degree,
                                    const cavum_solution_request *input, cavum_timings *timings,
                                    cavum_error *error) {
  cavum_timings unused = {0};
  if (!timings) timings = &unused;
  double start = cavum_seconds();
  cavum_status status = prepare(solution, mesh, degree, input, error);
  if (status != CAVUM_OK) return status;
  double assembled = cavum_seconds();
  status = cavum_solution_find_modes(solution, input, error);
  if (status == CAVUM_OK) status = merge_classes(solution, input, error);
  if (status != CAVUM_OK) return status;
  double solved = cavum_seconds();
  status = compute_figures(solution, input, error);
  if (status == CAVUM_OK) status = set_factors(solution, input, error);
  if (status != CAVUM_OK) return status;
  timings->assembly_s += assembled - start;
  timings->eigen_s += solved - assembled;
  timings->figures_s += cavum_seconds() - solved;
  return CAVUM_OK;
}
