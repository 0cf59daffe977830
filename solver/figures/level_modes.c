// SPDX-License-Identifier: GPL-3.0-or-later
// The modes of all symmetry classes of a level: together from guesses of all, or class by class.
#include "level_modes.h"

#include "base.h"
#include "block_modes.h"

// Relative error of the vectors that the iterations may leave, over the accuracy of peak fields
// asked for, and its bounds.
static const double VECTOR_PART = 5e-3, VECTOR_LEAST = 1e-9, VECTOR_MOST = 5e-7;
// Tolerances of the Lanczos iteration: residuals over the largest inverted eigenvalue. The error of
// a vector is that over the gap to the next, which may be a hundredth.
static const double TOLERANCE_PART = 1e-2, ROUGH_TOLERANCE = 1e-4;
// Modes beyond those wanted in a block: the last ones converge slowest.
enum { GUARD_MODES = 2 };

void cavum_level_clear_class(cavum_level_class *class) {
  for (int l = 0; l < CAVUM_LEVELS_MOST; l++) cavum_modes_clear(&class->modes[l]);
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
  return cavum_min(0.5 * (last + next), CAVUM_SHIFT_ABOVE * last);
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
                                        true, vector_accuracy(input->cell), error));
  }
  for (int c = 0; c < CAVUM_CLASSES && !*settled; c++) cavum_level_clear_class(&level->classes[c]);
done:
  return status;
}

// The modes of lower degrees from those of the highest, as far as these carry them.
static cavum_status descend(cavum_level_class *class, const cavum_level_input *input, int wanted,
                            cavum_error *error) {
  cavum_modes high = class->modes[0];
  // Of modes near a frequency those that are wanted may be any of the block.
  bool settled, lowest = input->near_k2_per_m2 == 0.0;
  class->modes[0] = (cavum_modes){0};
  cavum_status status = cavum_block_modes_improve(class->modes, &settled, &class->pencil, &high,
                                                  lowest ? wanted : high.count, lowest,
                                                  vector_accuracy(input->cell), error);
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
    CAVUM_TRY(cavum_modes_find_near(&class->modes[0], &class->pencil, &level->condensed,
                                    count + (input->num_degrees > 1 ? GUARD_MODES : 0),
                                    input->near_k2_per_m2, use, tolerance, error));
  } else {
    CAVUM_TRY(cavum_modes_find_lowest(&class->modes[0], &class->pencil, &level->condensed,
                                      count + GUARD_MODES, use, tolerance, error));
  }
  if (input->num_degrees > 1) CAVUM_TRY(descend(class, input, count, error));
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
    cavum_level_clear_class(class);
    if (guess[c].count > 0 && input->guess_is_neighbour) {
      int wanted = input->requests[c].count, known = guess[c].count;
      int last = (wanted < known ? wanted : known) - 1;
      CAVUM_TRY(cavum_modes_measure(&guess[c], last, &class->pencil, error));
    }
  }
done:
  return status;
}

cavum_status cavum_level_find_modes(cavum_level *level, const cavum_level_input *input,
                                    cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_modes guess[CAVUM_CLASSES] = {{0}};
  bool settled = false;
  CAVUM_TRY(take_guesses(guess, level, input, error));
  // A rough level looks for all modes in each class: more than are needed of either.
  for (int c = 0; c < CAVUM_CLASSES; c++) {
    int most = input->requests[c].count + GUARD_MODES;
    if (guess[c].count > most) guess[c].count = most;
  }
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
