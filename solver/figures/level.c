// SPDX-License-Identifier: GPL-3.0-or-later
// One step of a solve: discretise, find the modes of every symmetry class, merge, compute figures.
#include "level.h"

#include <string.h>

#include "base.h"

// Relative error of the vectors that inverse iteration may leave, over the accuracy of peak fields
// asked for, and the least it can.
static const double VECTOR_PART = 1e-3, VECTOR_LEAST = 1e-9;
// Tolerances of the Lanczos iteration: it converges the inverted eigenvalues twice as fast as the
// vectors, so 1e-12 leaves vectors good to about 1e-10 in energy.
static const double FINE_TOLERANCE = 1e-12, ROUGH_TOLERANCE = 1e-4;
// Modes beyond those wanted in a block that goes down in degree.
enum { GUARD_MODES = 2 };

static bool has_triangles(const cavum_mesh *mesh) {
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    if (mesh->elements[e].num_corners == 3) return true;
  }
  return false;
}

static cavum_status find_modes(cavum_level *level, int c, const cavum_level_input *input,
                               cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_level_class *class = &level->classes[c];
  cavum_modes guess = {0};
  const cavum_modes *use = NULL;
  int count = input->requests[c].count;
  if (input->guess && input->guess->classes[c].used &&
      input->guess->classes[c].modes[0].count > 0) {
    CAVUM_TRY(cavum_modes_embed(&guess, &level->discretisation.space,
                                &input->guess->classes[c].modes[0],
                                &input->guess->discretisation.space, error));
    use = &guess;
  }
  if (use && count == 1 && input->near_k2_per_m2 == 0.0) {
    bool settled;
    double accuracy = cavum_max(VECTOR_PART * input->cell->accuracy_peak_field, VECTOR_LEAST);
    guess.count = 1;
    CAVUM_TRY(cavum_modes_improve(class->modes, &settled, &class->pencil, &level->condensed, use,
                                  accuracy, error));
    if (settled) goto done;
  }
  double tolerance = input->rough ? ROUGH_TOLERANCE : FINE_TOLERANCE;
  if (input->num_degrees > 1) count += GUARD_MODES;
  if (input->near_k2_per_m2 > 0.0) {
    CAVUM_TRY(cavum_modes_find_near(&class->modes[0], &class->pencil, &level->condensed, count,
                                    input->near_k2_per_m2, use, tolerance, error));
  } else {
    CAVUM_TRY(cavum_modes_find_lowest(&class->modes[0], &class->pencil, &level->condensed, count,
                                      use, tolerance, error));
  }
  for (int l = 1; l < class->pencil.num_levels; l++) {
    // A block needs room in the space of the degree.
    if (class->pencil.levels[l].factor.num_rows < 2 * (class->modes[0].count + 1)) break;
    CAVUM_TRY(cavum_modes_descend(&class->modes[l], &class->pencil, l, &class->modes[l - 1],
                                  error));
  }
done:
  cavum_modes_clear(&guess);
  return status;
}

static cavum_status solve_class(cavum_level *level, int c, const cavum_level_input *input,
                                cavum_error *error) {
  cavum_level_class *class = &level->classes[c];
  class->parity = input->requests[c].parity;
  if (input->requests[c].count <= 0) return CAVUM_OK;
  class->used = true;
  cavum_closure closure = {.symmetry_is_magnetic = class->parity == CAVUM_PARITY_ODD};
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(cavum_skeleton_create(&class->skeleton, level->mesh, &closure, error));
  CAVUM_TRY(cavum_pencil_create(&class->pencil, &level->discretisation, &class->skeleton,
                                input->num_degrees, error));
  CAVUM_TRY(find_modes(level, c, input, error));
  // Guard modes have done their work.
  for (int l = 0; l < input->num_degrees; l++) {
    if (class->modes[l].count == 0) {
      level->num_degrees = l < level->num_degrees ? l : level->num_degrees;
    } else if (class->modes[l].count > input->requests[c].count && input->near_k2_per_m2 == 0.0) {
      class->modes[l].count = input->requests[c].count;
    }
  }
done:
  return status;
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
  const double *vector = modes->vectors + (int64_t)m->index * modes->num_unknowns;
  return cavum_view_create(&level->discretisation, sides, vector, modes->k2_per_m2[m->index],
                           class->parity);
}

static cavum_status compute_figures(cavum_level *level, const cavum_level_input *input,
                                    cavum_error *error) {
  if (!input->sides) return CAVUM_OK;
  for (int m = 0; m < level->num_modes; m++) {
    for (int below = 0; below < level->num_degrees; below++) {
      cavum_view view = cavum_level_view(level, m, below, input->sides);
      cavum_level_mode *mode = &level->modes[m];
      mode->looks[below] = cavum_alloc(input->sides->num_metal, sizeof *mode->looks[below]);
      if (!mode->looks[below]) return cavum_fail_memory(error);
      cavum_status status = cavum_mode_compute_figures(
          &mode->values[below], &view, input->cell, input->curves, mode->looks[below], error);
      if (status != CAVUM_OK) return status;
    }
  }
  return CAVUM_OK;
}

cavum_status cavum_level_solve(cavum_level *level, const cavum_mesh *mesh, int degree,
                               const cavum_level_input *input, cavum_timings *timings,
                               cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_timings unused = {0};
  if (!timings) timings = &unused;
  memset(level, 0, sizeof *level);
  level->mesh = mesh;
  level->num_degrees = input->num_degrees;
  double start = cavum_seconds();
  cavum_unknown unknown = cavum_discretisation_choose_unknown(mesh);
  CAVUM_TRY(cavum_reference_create(&level->reference, degree,
                                   cavum_discretisation_points(mesh, unknown, degree),
                                   has_triangles(mesh), error));
  CAVUM_TRY(
      cavum_discretisation_create(&level->discretisation, mesh, &level->reference, unknown, error));
  double assembled = cavum_seconds();
  CAVUM_TRY(cavum_condensed_create(&level->condensed, &level->discretisation, input->num_degrees,
                                   error));
  for (int c = 0; c < CAVUM_CLASSES; c++) CAVUM_TRY(solve_class(level, c, input, error));
  CAVUM_TRY(merge_classes(level, input, error));
  double solved = cavum_seconds();
  CAVUM_TRY(compute_figures(level, input, error));
  timings->assembly_s += assembled - start;
  timings->eigen_s += solved - assembled;
  timings->figures_s += cavum_seconds() - solved;
done:
  return status;
}

void cavum_level_clear(cavum_level *level) {
  if (!level) return;
  for (int c = 0; c < CAVUM_CLASSES; c++) {
    cavum_pencil_clear(&level->classes[c].pencil);
    cavum_skeleton_clear(&level->classes[c].skeleton);
    for (int l = 0; l < CAVUM_LEVELS_MOST; l++) cavum_modes_clear(&level->classes[c].modes[l]);
  }
  for (int m = 0; m < level->num_modes; m++) {
    for (int l = 0; l < CAVUM_LEVELS_MOST; l++) free(level->modes[m].looks[l]);
  }
  free(level->modes);
  cavum_condensed_clear(&level->condensed);
  cavum_discretisation_clear(&level->discretisation);
  cavum_reference_clear(&level->reference);
  memset(level, 0, sizeof *level);
}
