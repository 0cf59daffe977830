// SPDX-License-Identifier: GPL-3.0-or-later
// One step of a solve: discretise, find the modes of every symmetry class, merge, compute figures.
#include "level.h"

#include <string.h>

#include "base.h"
#include "block_modes.h"

// Relative error of the vectors that the iterations may leave, over the accuracy of peak fields
// asked for, and its bounds.
static const double VECTOR_PART = 2e-3, VECTOR_LEAST = 1e-9, VECTOR_MOST = 2e-7;
// Tolerances of the Lanczos iteration: residuals over the largest inverted eigenvalue. The error of
// a vector is that over the gap to the next, which may be a hundredth.
static const double TOLERANCE_PART = 1e-2, ROUGH_TOLERANCE = 1e-4;
// The shift of several modes over the last of them.
static const double SHIFT_ABOVE = 1.01;
// Modes beyond those wanted in a block: the last ones converge slowest.
enum { GUARD_MODES = 2 };

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

// Modes to start from, in the numbering of the level; empty when there are none.
static cavum_status take_guess(cavum_modes *guess, cavum_level *level, int c,
                               const cavum_level_input *input, cavum_error *error) {
  if (!input->guess || !input->guess->classes[c].used ||
      input->guess->classes[c].modes[0].count == 0) {
    return CAVUM_OK;
  }
  if (input->guess != level) {
    return cavum_modes_embed(guess, &level->discretisation.space,
                             &input->guess->classes[c].modes[0],
                             &input->guess->discretisation.space, error);
  }
  *guess = level->classes[c].modes[0];
  level->classes[c].modes[0] = (cavum_modes){0};
  return CAVUM_OK;
}

static void clear_class_modes(cavum_level_class *class) {
  for (int l = 0; l < CAVUM_LEVELS_MOST; l++) cavum_modes_clear(&class->modes[l]);
}

static double vector_accuracy(const cavum_cell *cell) {
  double accuracy = cavum_max(VECTOR_PART * cell->accuracy_peak_field, VECTOR_LEAST);
  return cavum_min(accuracy, VECTOR_MOST);
}

// A shift just above the modes that are wanted of all classes, below the one after them.
static double shift_above(const cavum_modes *guess, const cavum_level_input *input) {
  double last = 0.0, next = HUGE_VAL;
  for (int c = 0; c < CAVUM_CLASSES; c++) {
    int wanted = input->requests[c].count;
    if (wanted > 0) last = cavum_max(last, guess[c].k2_per_m2[wanted - 1]);
  }
  for (int c = 0; c < CAVUM_CLASSES; c++) {
    for (int m = 0; m < guess[c].count; m++) {
      if (guess[c].k2_per_m2[m] > last) next = cavum_min(next, guess[c].k2_per_m2[m]);
    }
  }
  return cavum_min(0.5 * (last + next), SHIFT_ABOVE * last);
}

static int count_below(const cavum_modes *modes, double k2_per_m2) {
  int count = 0;
  for (int m = 0; m < modes->count; m++) count += modes->k2_per_m2[m] < k2_per_m2;
  return count;
}

static bool may_improve_together(const cavum_modes *guess, const cavum_level_input *input) {
  int wanted = 0;
  for (int c = 0; c < CAVUM_CLASSES; c++) {
    if (guess[c].count < input->requests[c].count) return false;
    wanted += input->requests[c].count;
  }
  return wanted > 1 && input->near_k2_per_m2 == 0.0;
}

// Improves the guesses of all classes with one factorisation. The number of modes below the shift
// has to be that of the guesses in each; otherwise nothing is settled.
static cavum_status improve_together(bool *settled, cavum_level *level, const cavum_modes *guess,
                                     const cavum_level_input *input, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  double shift = shift_above(guess, input);
  *settled = true;
  for (int c = 0; c < CAVUM_CLASSES && *settled; c++) {
    cavum_level_class *class = &level->classes[c];
    int wanted = input->requests[c].count;
    if (wanted == 0) continue;
    CAVUM_TRY(cavum_pencil_factorise(&class->pencil, &level->condensed, shift, error));
    int expected = count_below(&guess[c], class->pencil.shift_per_m2) +
                   (cavum_modes_has_static(&class->pencil) ? 1 : 0);
    *settled = class->pencil.levels[0].num_negative == expected;
    if (!*settled) break;
    CAVUM_TRY(cavum_block_modes_improve(class->modes, settled, &class->pencil, &guess[c], wanted,
                                        vector_accuracy(input->cell), error));
  }
  for (int c = 0; c < CAVUM_CLASSES && !*settled; c++) clear_class_modes(&level->classes[c]);
done:
  return status;
}

// The modes of lower degrees from those of the highest, as far as these carry them.
static cavum_status descend(cavum_level_class *class, int wanted, double accuracy,
                            cavum_error *error) {
  cavum_modes high = class->modes[0];
  bool settled;
  class->modes[0] = (cavum_modes){0};
  cavum_status status = cavum_block_modes_improve(class->modes, &settled, &class->pencil, &high,
                                                  wanted, accuracy, error);
  if (status == CAVUM_OK && !settled) {
    class->modes[0] = high;
  } else {
    cavum_modes_clear(&high);
  }
  return status;
}

// Modes of one class, from a guess when there is one.
static cavum_status find_modes(cavum_level *level, int c, const cavum_level_input *input,
                               cavum_modes *guess, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_level_class *class = &level->classes[c];
  int count = input->requests[c].count;
  const cavum_modes *use = guess->count > 0 ? guess : NULL;
  double accuracy = vector_accuracy(input->cell);
  if (use && count == 1 && input->near_k2_per_m2 == 0.0) {
    bool settled;
    guess->count = 1;
    CAVUM_TRY(cavum_modes_improve(class->modes, &settled, &class->pencil, &level->condensed, use,
                                  accuracy, error));
    if (settled) return CAVUM_OK;
  }
  if (input->rough && count == 1 && input->count == 1 && !cavum_modes_has_static(&class->pencil)) {
    return cavum_modes_find_roughly(&class->modes[0], &class->pencil, &level->condensed, error);
  }
  double tolerance = input->rough ? ROUGH_TOLERANCE : TOLERANCE_PART * accuracy;
  if (input->near_k2_per_m2 > 0.0) {
    CAVUM_TRY(cavum_modes_find_near(&class->modes[0], &class->pencil, &level->condensed, count,
                                    input->near_k2_per_m2, use, tolerance, error));
  } else {
    CAVUM_TRY(cavum_modes_find_lowest(&class->modes[0], &class->pencil, &level->condensed,
                                      count + GUARD_MODES, use, tolerance, error));
  }
  if (input->num_degrees > 1) CAVUM_TRY(descend(class, count, accuracy, error));
done:
  return status;
}

// The pencil of a class; that of the second lives on the factors of the first.
cavum_status cavum_level_prepare_class(cavum_level *level, cavum_skeletons *skeletons, int c,
                                       cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_pencil *pencil = &level->classes[c].pencil;
  const cavum_skeleton *skeleton;
  if (pencil->skeleton) return CAVUM_OK;
  CAVUM_TRY(cavum_skeletons_get(&skeleton, skeletons, level->mesh, level->topology, c, error));
  if (c == 0) {
    return cavum_pencil_create(pencil, &level->discretisation, skeleton,
                               level->condensed.num_levels, error);
  }
  CAVUM_TRY(cavum_level_prepare_class(level, skeletons, 0, error));
  cavum_pencil_create_guest(pencil, &level->classes[0].pencil, skeleton);
done:
  return status;
}

static cavum_status take_guesses(cavum_modes *guess, cavum_level *level,
                                 const cavum_level_input *input, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  for (int c = 0; c < CAVUM_CLASSES; c++) {
    cavum_level_class *class = &level->classes[c];
    class->parity = input->requests[c].parity;
    if (input->requests[c].count > 0) {
      CAVUM_TRY(cavum_level_prepare_class(level, input->skeletons, c, error));
      CAVUM_TRY(take_guess(&guess[c], level, c, input, error));
    }
    clear_class_modes(class);
    if (guess[c].count > 0 && input->guess_is_neighbour) {
      int wanted = input->requests[c].count, known = guess[c].count;
      int last = (wanted < known ? wanted : known) - 1;
      CAVUM_TRY(cavum_modes_measure(&guess[c], last, &class->pencil, error));
    }
  }
done:
  return status;
}

static cavum_status solve_classes(cavum_level *level, const cavum_level_input *input,
                                  cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_modes guess[CAVUM_CLASSES] = {{0}};
  bool settled = false;
  CAVUM_TRY(take_guesses(guess, level, input, error));
  if (may_improve_together(guess, input)) {
    CAVUM_TRY(improve_together(&settled, level, guess, input, error));
  }
  for (int c = 0; c < CAVUM_CLASSES; c++) {
    cavum_level_class *class = &level->classes[c];
    class->used = input->requests[c].count > 0;
    if (!class->used) continue;
    if (!settled) CAVUM_TRY(find_modes(level, c, input, &guess[c], error));
    for (int l = 0; l < input->num_degrees; l++) {
      if (class->modes[l].count > 0) continue;
      level->num_degrees = l < level->num_degrees ? l : level->num_degrees;
    }
  }
done:
  for (int c = 0; c < CAVUM_CLASSES; c++) cavum_modes_clear(&guess[c]);
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

double cavum_level_vector_error(const cavum_level *level, int mode, int below) {
  const cavum_level_mode *m = &level->modes[mode];
  return level->classes[m->in_class].modes[below].vector_error[m->index];
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
  CAVUM_TRY(solve_classes(level, input, error));
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
  free_modes(level);
  for (int c = 0; c < CAVUM_CLASSES; c++) {
    cavum_pencil_clear(&level->classes[c].pencil);
    clear_class_modes(&level->classes[c]);
  }
  cavum_condensed_clear(&level->condensed);
  cavum_discretisation_clear(&level->discretisation);
  cavum_reference_clear(&level->reference);
  memset(level, 0, sizeof *level);
}
