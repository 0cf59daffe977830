// SPDX-License-Identifier: GPL-3.0-or-later
// One step of a solve: discretise, find the modes of every symmetry class, merge, compute figures.
#include "solve/level.h"

#include <string.h>

#include "base/base.h"
#include "solve/level_modes.h"

// A voltage or an integral below this part of int |E_z| dz may be none.
static const double PART_LEAST = 1e-5;

static bool has_triangles(const cavum_mesh *mesh) {
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    if (mesh->elements[e].num_corners == 3) return true;
  }
  return false;
}

void cavum_skeletons_clear(cavum_skeletons *skeletons) {
  for (int c = CAVUM_CLASSES - 1; c >= 0; c--) cavum_skeleton_clear(&skeletons->of_class[c]);
  skeletons->topology = 0;
}

cavum_status cavum_skeletons_get(const cavum_skeleton **skeleton, cavum_skeletons *skeletons,
                                 const cavum_mesh *mesh, int64_t topology, int of_class,
                                 cavum_error *error) {
  if (skeletons->topology != topology) cavum_skeletons_clear(skeletons);
  skeletons->topology = topology;
  cavum_skeleton *own = &skeletons->of_class[of_class];
  *skeleton = own;
  if (own->exists) return CAVUM_OK;
  // The plan for the natural closure serves both: the other one has fewer unknowns.
  cavum_skeleton *natural = &skeletons->of_class[0];
  cavum_closure closure = {.symmetry_is_magnetic = false};
  if (!natural->exists) {
    cavum_status status = cavum_skeleton_create(natural, mesh, &closure, error);
    if (status != CAVUM_OK || of_class == 0) return status;
  }
  closure.symmetry_is_magnetic = true;
  return cavum_skeleton_create_like(own, natural, &closure, error);
}

static double distance(const cavum_level_mode *mode, double near_k2_per_m2) {
  return near_k2_per_m2 > 0.0 ? fabs(mode->k2_per_m2 - near_k2_per_m2) : mode->k2_per_m2;
}

// Insertion sort by distance from the target, or by frequency.
static void sort_modes(cavum_level_mode *modes, int count, double near_k2_per_m2) {
  for (int i = 1; i < count; i++) {
    cavum_level_mode mode = modes[i];
    int k = i;
    for (; k > 0 && distance(&modes[k - 1], near_k2_per_m2) > distance(&mode, near_k2_per_m2);
         k--) {
      modes[k] = modes[k - 1];
    }
    modes[k] = mode;
  }
}

static cavum_status merge_classes(cavum_level *level, const cavum_level_input *input,
                                  cavum_error *error) {
  int total = level->classes[0].modes[0].count + level->classes[1].modes[0].count, at = 0;
  level->modes = cavum_alloc(total, sizeof *level->modes);
  if (!level->modes) return cavum_fail_memory(error);
  for (int c = 0; c < CAVUM_CLASSES; c++) {
    for (int i = 0; i < level->classes[c].modes[0].count; i++) {
      level->modes[at++] = (cavum_level_mode){
          .in_class = c, .index = i, .k2_per_m2 = level->classes[c].modes[0].k2_per_m2[i]};
    }
  }
  sort_modes(level->modes, total, input->near_k2_per_m2);
  level->num_modes = total < input->count ? total : input->count;
  sort_modes(level->modes, level->num_modes, 0.0);
  return CAVUM_OK;
}

cavum_view cavum_level_view(const cavum_level *level, int mode, int below,
                            const cavum_sides *sides) {
  const cavum_level_mode *m = &level->modes[mode];
  const cavum_level_class *class = &level->classes[m->in_class];
  const cavum_modes *modes = &class->modes[below];
  CAVUM_ASSERT(m->index < modes->count);
  const double *vector = modes->vectors + (int64_t)m->index * modes->num_unknowns;
  return cavum_view_create(&level->discretisation, sides, vector, modes->k2_per_m2[m->index],
                           class->parity);
}

double cavum_level_vector_error(const cavum_level *level, int mode, int below) {
  const cavum_level_mode *m = &level->modes[mode];
  return level->classes[m->in_class].modes[below].vector_error[m->index];
}

// Figures of a voltage or an integral that nearly cancels need a vector that is as much more
// accurate; one that is none at all makes no figures.
static double accuracy_factor(const cavum_mode_values *values) {
  double factor = 1.0;
  if (values->voltage_part > PART_LEAST) factor = cavum_min(factor, values->voltage_part);
  if (values->integral_part > PART_LEAST) factor = cavum_min(factor, values->integral_part);
  return factor;
}

// For the next level and the next cell.
static cavum_status set_factors(cavum_level *level, const cavum_level_input *input,
                                cavum_error *error) {
  for (int m = 0; m < level->num_modes; m++) {
    cavum_level_mode *mode = &level->modes[m];
    cavum_view view = cavum_level_view(level, m, 0, input->sides);
    cavum_status status = CAVUM_OK;
    if (input->rough) {
      status = cavum_mode_measure_parts(&mode->values[0], &view, input->cell, error);
    }
    if (status != CAVUM_OK) return status;
    double *factors = level->classes[mode->in_class].modes[0].accuracy_factor;
    factors[mode->index] = accuracy_factor(&mode->values[0]);
  }
  return CAVUM_OK;
}

static cavum_status compute_figures(cavum_level *level, const cavum_level_input *input,
                                    cavum_error *error) {
  if (input->rough) return CAVUM_OK;
  for (int m = 0; m < level->num_modes; m++) {
    for (int below = 0; below < level->num_degrees; below++) {
      cavum_view view = cavum_level_view(level, m, below, input->sides);
      cavum_level_mode *mode = &level->modes[m];
      mode->looks[below] = cavum_alloc(input->sides->num_conducting, sizeof *mode->looks[below]);
      if (!mode->looks[below]) return cavum_fail_memory(error);
      cavum_figure best = mode->values[0].figures[CAVUM_FIGURE_BETA_OPTIMUM];
      double hint = below > 0 && best.state == CAVUM_FIGURE_PRESENT ? best.value : 0.0;
      cavum_status status = cavum_mode_compute_figures(
          &mode->values[below], &view, input->cell, input->curves, hint, mode->looks[below], error);
      if (status != CAVUM_OK) return status;
    }
  }
  return CAVUM_OK;
}

static void free_modes(cavum_level *level) {
  for (int m = 0; m < level->num_modes; m++) {
    for (int l = 0; l < CAVUM_LEVELS_MOST; l++) free(level->modes[m].looks[l]);
  }
  free(level->modes);
  level->modes = NULL;
  level->num_modes = 0;
}

// Storage for a mesh and degree: as it is when the topology is the same, with new coefficients.
static cavum_status prepare(cavum_level *level, const cavum_mesh *mesh, int degree,
                            const cavum_level_input *input, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_unknown unknown = cavum_discretisation_choose_unknown(mesh);
  int points = cavum_discretisation_points(mesh, unknown, degree);
  bool fits = level->topology == input->topology && level->mesh == mesh &&
              level->reference.degree == degree && level->reference.q == points &&
              level->condensed.num_levels == input->num_degrees &&
              level->discretisation.unknown == unknown;
  level->num_degrees = input->num_degrees;
  free_modes(level);
  if (fits) {
    level->condensed.eliminated = false;
    return cavum_discretisation_refill(&level->discretisation, error);
  }
  cavum_level_clear(level);
  level->num_degrees = input->num_degrees;
  CAVUM_TRY(cavum_reference_create(&level->reference, degree, points, has_triangles(mesh), error));
  CAVUM_TRY(
      cavum_discretisation_create(&level->discretisation, mesh, &level->reference, unknown, error));
  CAVUM_TRY(
      cavum_condensed_create(&level->condensed, &level->discretisation, input->num_degrees, error));
  level->mesh = mesh;
  level->topology = input->topology;
done:
  return status;
}

cavum_status cavum_level_solve(cavum_level *level, const cavum_mesh *mesh, int degree,
                               const cavum_level_input *input, cavum_timings *timings,
                               cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_timings unused = {0};
  if (!timings) timings = &unused;
  double start = cavum_seconds();
  CAVUM_TRY(prepare(level, mesh, degree, input, error));
  double assembled = cavum_seconds();
  CAVUM_TRY(cavum_level_find_modes(level, input, error));
  CAVUM_TRY(merge_classes(level, input, error));
  double solved = cavum_seconds();
  CAVUM_TRY(compute_figures(level, input, error));
  CAVUM_TRY(set_factors(level, input, error));
  timings->assembly_s += assembled - start;
  timings->eigen_s += solved - assembled;
  timings->figures_s += cavum_seconds() - solved;
done:
  return status;
}

void cavum_level_clear(cavum_level *level) {
  if (!level) return;
  free_modes(level);
  for (int c = 0; c < CAVUM_CLASSES; c++) {
    cavum_pencil_clear(&level->classes[c].pencil);
    cavum_level_clear_class(&level->classes[c]);
  }
  cavum_condensed_clear(&level->condensed);
  cavum_discretisation_clear(&level->discretisation);
  cavum_reference_clear(&level->reference);
  memset(level, 0, sizeof *level);
}
