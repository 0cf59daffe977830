// SPDX-License-Identifier: GPL-3.0-or-later
// One step of a solve: discretise, find the modes of every symmetry class, merge, compute figures.
#include "level.h"

#include <string.h>

#include "base.h"

// Relative change of k^2 at which the modes of a level have settled.
static const double SETTLED_CHANGE = 1e-13;

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
  if (input->guess && input->guess->classes[c].used && input->guess->classes[c].modes.count > 0) {
    CAVUM_TRY(cavum_modes_embed(&guess, &level->discretisation.space,
                                &input->guess->classes[c].modes,
                                &input->guess->discretisation.space, error));
    use = &guess;
  }
  int count = input->requests[c].count;
  // With several modes the next one above contaminates the highest too slowly for this to pay.
  if (use && use->count == 1 && count == 1 && input->near_k2_per_m2 == 0.0) {
    bool settled;
    CAVUM_TRY(
        cavum_modes_improve(&class->modes, &settled, &class->pencil, use, SETTLED_CHANGE, error));
    if (settled) goto done;
  }
  if (input->near_k2_per_m2 > 0.0) {
    CAVUM_TRY(cavum_modes_find_near(&class->modes, &class->pencil, count, input->near_k2_per_m2,
                                    use, error));
  } else {
    CAVUM_TRY(cavum_modes_find_lowest(&class->modes, &class->pencil, count, use, error));
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
  CAVUM_TRY(cavum_pencil_create(&class->pencil, &level->discretisation, &class->skeleton, error));
  CAVUM_TRY(find_modes(level, c, input, error));
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
  int total = level->classes[0].modes.count + level->classes[1].modes.count, at = 0;
  level->modes = cavum_alloc(total, sizeof *level->modes);
  if (!level->modes) return cavum_fail_memory(error);
  for (int c = 0; c < CAVUM_CLASSES; c++) {
    for (int i = 0; i < level->classes[c].modes.count; i++) {
      level->modes[at++] = (cavum_level_mode){
          .in_class = c, .index = i, .k2_per_m2 = level->classes[c].modes.k2_per_m2[i]};
    }
  }
  sort_modes(level->modes, total, input->near_k2_per_m2);
  level->num_modes = total < input->count ? total : input->count;
  sort_modes(level->modes, level->num_modes, 0.0);
  return CAVUM_OK;
}

cavum_view cavum_level_view(const cavum_level *level, int mode, const cavum_sides *sides) {
  const cavum_level_mode *m = &level->modes[mode];
  const cavum_level_class *class = &level->classes[m->in_class];
  const double *vector = class->modes.vectors + (int64_t)m->index * class->modes.num_unknowns;
  return cavum_view_create(&level->discretisation, sides, vector, m->k2_per_m2, class->parity);
}

cavum_status cavum_level_solve(cavum_level *level, const cavum_mesh *mesh, int degree,
                               const cavum_level_input *input, cavum_timings *timings,
                               cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_timings unused = {0};
  if (!timings) timings = &unused;
  memset(level, 0, sizeof *level);
  level->mesh = mesh;
  double start = cavum_seconds();
  CAVUM_TRY(cavum_reference_create(&level->reference, degree, has_triangles(mesh), error));
  CAVUM_TRY(cavum_discretisation_create(&level->discretisation, mesh, &level->reference,
                                        cavum_discretisation_choose_unknown(mesh), error));
  double assembled = cavum_seconds();
  for (int c = 0; c < CAVUM_CLASSES; c++) CAVUM_TRY(solve_class(level, c, input, error));
  CAVUM_TRY(merge_classes(level, input, error));
  double solved = cavum_seconds();
  for (int m = 0; m < level->num_modes; m++) {
    cavum_view view = cavum_level_view(level, m, input->sides);
    CAVUM_TRY(cavum_mode_compute_figures(&level->modes[m].values, &view, input->cell, input->curves,
                                         error));
  }
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
    cavum_modes_clear(&level->classes[c].modes);
  }
  free(level->modes);
  cavum_discretisation_clear(&level->discretisation);
  cavum_reference_clear(&level->reference);
  memset(level, 0, sizeof *level);
}
