// SPDX-License-Identifier: GPL-3.0-or-later
// The modes of all symmetry classes of a solution: together from guesses of all, or class by class.
#include "solve/solution_modes.h"

#include "base/base.h"
#include "eigen/modes_find.h"
#include "eigen/modes_improve.h"
#include "eigen/modes_slices.h"
#include "eigen/pencil_factorise.h"
#include "eigen/projection.h"
#include "solve/mode_density.h"
#include "solve/shift_choice.h"

// Relative error of the vectors that the iterations may leave, over the accuracy of peak fields
// asked for, and its bounds.
static const double VECTOR_PART = 2e-2, VECTOR_LEAST = 1e-9, VECTOR_MOST = 2e-6;
// Tolerances of the Lanczos iteration: residuals over the largest inverted eigenvalue. The error of
// a vector is that over the gap to the next, which may be a hundredth.
static const double TOLERANCE_PART = 1e-2, ROUGH_TOLERANCE = 1e-4;
// In slices: of many modes some have voltages that nearly cancel, which take vectors that are as
// much more accurate, and the iteration gives them for few solves more.
static const double SLICE_TOLERANCE_PART = 2e-3;
// Of vectors whose figures are subtracted from others.
static const double PRECISE_PART = 0.1;
// Error of the vectors of a rough start from those of a neighbour.
static const double ROUGH_ACCURACY = 4e-5;
// Of those of an accurate start, over what vectors of other solutions are to be.
static const double START_PART = 0.1;
// Modes beyond those wanted in a block: the last ones converge slowest.
enum { GUARD_MODES = 2 };
// Rows of a skeleton for each mode, at least, for a search in slices.
enum { ROWS_OF_A_MODE = 4 };

// Modes to start from, in the numbering of the solution; empty when there are none.
static cavum_status take_guess(cavum_modes *guess, cavum_solution *solution, int c,
                               const cavum_solution_request *input, cavum_error *error) {
  if (!input->guess || !input->guess->classes[c].used ||
      input->guess->classes[c].modes[0].count == 0) {
    return CAVUM_OK;
  }
  if (input->guess != solution) {
    return cavum_modes_embed(guess, &solution->discretisation.space,
                             &input->guess->classes[c].modes[0],
                             &input->guess->discretisation.space, error);
  }
  *guess = solution->classes[c].modes[0];
  solution->classes[c].modes[0] = (cavum_modes){0};
  return CAVUM_OK;
}

double cavum_solution_vector_accuracy(const cavum_cell *cell) {
  double accuracy = cavum_max(VECTOR_PART * cell->accuracy_other_figures, VECTOR_LEAST);
  return cavum_min(accuracy, VECTOR_MOST);
}

static double accuracy_of(const cavum_solution_request *input) {
  return (input->precise ? PRECISE_PART : 1.0) * cavum_solution_vector_accuracy(input->cell);
}

// Accuracy of a block, of modes whose figures need no more than usual.
static double accuracy_of_block(const cavum_solution_request *input) {
  if (!input->rough) return accuracy_of(input);
  return input->accurate ? START_PART * accuracy_of(input) : ROUGH_ACCURACY;
}

static bool may_improve_together(const cavum_modes *guess, const cavum_solution_request *input) {
  int wanted = 0;
  for (int c = 0; c < CAVUM_CLASSES; c++) {
    if (guess[c].count < input->requests[c].count) return false;
    wanted += input->requests[c].count;
  }
  return wanted > 1 && input->near_k2_per_m2 == 0.0;
}

// The modes of a guess that are iterated: all of it for a rough start, then what is wanted and
// modes close behind.
static cavum_modes take_block(const cavum_modes *guess, int wanted, double shift_per_m2,
                              bool rough) {
  cavum_modes block = *guess;
  if (rough) return block;
  CAVUM_ASSERT(guess->count >= wanted && guess->k2_per_m2);
  double reach = CAVUM_CLOSE_BEHIND * fabs(guess->k2_per_m2[wanted - 1] - shift_per_m2);
  block.count = wanted;
  while (block.count < guess->count && guess->k2_per_m2[block.count] - shift_per_m2 < reach) {
    block.count++;
  }
  return block;
}

// Gives back the vectors of a large guess that its block leaves out.
static void shrink_guess(cavum_modes *guess, cavum_modes *block) {
  size_t bytes = (size_t)block->count * (size_t)guess->num_unknowns * sizeof *guess->vectors;
  if (block->count == guess->count) return;
  double *shrunk = realloc(guess->vectors, bytes);
  if (shrunk) guess->vectors = shrunk;
  guess->count = block->count;
  *block = *guess;
}

// Whether a mode behind the last that is wanted of one class is below the last of another: the
// guesses had them the other way round.
static bool are_in_order(const cavum_solution *solution, const cavum_solution_request *input) {
  double highest_per_m2 = 0.0, next_per_m2 = HUGE_VAL;
  for (int c = 0; c < CAVUM_CLASSES; c++) {
    const cavum_modes *modes = &solution->classes[c].modes[0];
    int wanted = input->requests[c].count;
    if (wanted == 0) continue;
    highest_per_m2 = cavum_max(highest_per_m2, modes->k2_per_m2[wanted - 1]);
    if (modes->count > wanted) next_per_m2 = cavum_min(next_per_m2, modes->k2_per_m2[wanted]);
  }
  return next_per_m2 > highest_per_m2;
}

// The degree whose modes on the same mesh the guess is, or 0: what one step leaves is judged by it
// where vectors are to be more accurate than derivatives and peaks need them.
static int degree_of_guess(const cavum_solution_request *input) {
  if (!input->precise || !input->guess || input->guess_is_neighbour) return 0;
  return input->guess->reference.degree;
}

// Improves the guesses of all classes with one factorisation.
static cavum_status improve_together(bool *settled, cavum_solution *solution, cavum_modes *guess,
                                     const cavum_solution_request *input, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_block_task tasks[CAVUM_CLASSES];
  cavum_modes blocks[CAVUM_CLASSES], *guesses[CAVUM_CLASSES];
  double *mx[CAVUM_CLASSES] = {NULL}, shift_per_m2 = cavum_shift_choose(guess, input);
  int count = 0;
  for (int c = 0; c < CAVUM_CLASSES; c++) {
    cavum_solution_class *class = &solution->classes[c];
    int wanted = input->requests[c].count;
    if (wanted == 0) continue;
    if (input->rough) {
      CAVUM_TRY(cavum_pencil_factorise(&class->pencil, &solution->condensed, shift_per_m2, error));
    } else {
      CAVUM_TRY(
          cavum_pencil_factorise_single(&class->pencil, &solution->condensed, shift_per_m2, error));
    }
    blocks[c] = take_block(&guess[c], wanted, class->pencil.shift_per_m2, input->rough);
    if (class->pencil.is_lean) shrink_guess(&guess[c], &blocks[c]);
    guesses[count] = &guess[c];
    tasks[count++] = (cavum_block_task){.pencil = &class->pencil,
                                        .guess = &blocks[c],
                                        .guess_degree = degree_of_guess(input),
                                        .wanted = wanted,
                                        .accuracy = accuracy_of_block(input),
                                        .by_factors = !input->rough || input->accurate,
                                        .modes = class->modes};
  }
  CAVUM_TRY(cavum_block_modes_improve(settled, mx, tasks, count, 0, error));
  *settled = *settled && (input->rough || are_in_order(solution, input));
  if (*settled) cavum_projection_take_guesses(tasks, guesses, count);
  if (*settled) CAVUM_TRY(cavum_projection_fill(tasks, count, (const double *const *)mx, error));
done:
  for (int c = 0; c < CAVUM_CLASSES; c++) {
    free(mx[c]);
    if (!*settled) cavum_solution_clear_class(&solution->classes[c]);
  }
  return status;
}

// The lower degrees of modes that were found at the highest alone.
static cavum_status fill_degrees(cavum_solution *solution, int c,
                                 const cavum_solution_request *input, cavum_error *error) {
  cavum_solution_class *class = &solution->classes[c];
  const cavum_block_task task = {
      .pencil = &class->pencil, .accuracy = accuracy_of(input), .modes = class->modes};
  if (input->near_k2_per_m2 > 0.0) {
    cavum_status status = cavum_pencil_factorise(
        &class->pencil, &solution->condensed, cavum_shift_choose_between(&class->modes[0]), error);
    if (status != CAVUM_OK) return status;
  }
  return cavum_projection_fill_class(&task, error);
}

// Whether a single mode will lie below a close shift at the lowest of the degrees that are wanted,
// by what it lacks at those of the guess: less by a ratio with each.
static bool allows_close_shift(const cavum_solution *solution,
                               const cavum_solution_request *input) {
  const double margin = 3.0, usual_ratio = 30.0;
  const cavum_solution *guess = input->guess;
  int c = input->requests[0].count > 0 ? 0 : 1;
  if (!input->close_shift || !guess || input->count != 1) return false;
  const cavum_modes *of = guess->classes[c].modes;
  int known = 0;
  double lacks[CAVUM_LEVELS_MOST] = {0.0};
  while (known < guess->num_degrees && of[known].count > 0) {
    lacks[known] = of[known].k2_per_m2[0] / of[0].k2_per_m2[0] - 1.0;
    known++;
  }
  if (known == 0) return false;
  int last = known - 1, more = guess->reference.degree - last -
                               (solution->reference.degree - (input->num_degrees - 1));
  if (more <= 0) return margin * lacks[last] < CAVUM_SHIFT_CLOSE - 1.0;
  bool known_ratio = last > 1 && lacks[last - 1] > 0.0;
  double ratio = known_ratio ? lacks[last] / lacks[last - 1] : usual_ratio;
  return margin * lacks[last] * pow(ratio, more) < CAVUM_SHIFT_CLOSE - 1.0;
}

// A single mode from a guess; where that is far off, from a start of its own at the lowest degree.
static cavum_status improve_single(bool *settled, cavum_solution *solution, int c, bool close,
                                   cavum_modes *guess, double accuracy, cavum_error *error) {
  cavum_solution_class *class = &solution->classes[c];
  guess->count = 1;
  cavum_status status = cavum_modes_improve(class->modes, settled, &class->pencil,
                                            &solution->condensed, close, guess, accuracy, error);
  if (status != CAVUM_OK || *settled || cavum_modes_has_static(&class->pencil)) return status;
  // A rough start may be: H_phi about a thin inner conductor is like 1 / r.
  cavum_modes_clear(guess);
  status = cavum_modes_find_roughly(guess, &class->pencil, &solution->condensed, error);
  if (status != CAVUM_OK || guess->count == 0) return status;
  return cavum_modes_improve(class->modes, settled, &class->pencil, &solution->condensed, false,
                             guess, accuracy, error);
}

// So many modes of one class, from a guess when there is one.
static cavum_status find_modes(cavum_solution *solution, int c, int count,
                               const cavum_solution_request *input, cavum_modes *guess,
                               cavum_error *error) {
  cavum_status status;
  cavum_solution_class *class = &solution->classes[c];
  const cavum_modes *use = guess->count > 0 ? guess : NULL;
  double accuracy = accuracy_of(input);
  if (use && count == 1 && input->near_k2_per_m2 == 0.0) {
    bool settled;
    status = improve_single(&settled, solution, c, input->close_shift, guess, accuracy, error);
    if (status != CAVUM_OK || settled) return status;
    if (guess->count == 0) use = NULL;
  }
  if (input->rough && count == 1 && input->count == 1 && !cavum_modes_has_static(&class->pencil)) {
    status =
        cavum_modes_find_roughly(&class->modes[0], &class->pencil, &solution->condensed, error);
    if (status != CAVUM_OK || class->modes[0].count > 0) return status;
  }
  double tolerance = input->rough ? ROUGH_TOLERANCE : TOLERANCE_PART * accuracy;
  if (input->near_k2_per_m2 > 0.0) {
    status = cavum_modes_find_near(&class->modes[0], &class->pencil, &solution->condensed, count,
                                   input->num_degrees > 1 ? GUARD_MODES : 0, input->near_k2_per_m2,
                                   use, tolerance, error);
  } else {
    status = cavum_modes_find_lowest(&class->modes[0], &class->pencil, &solution->condensed,
                                     count + GUARD_MODES, use, tolerance, error);
  }
  if (status != CAVUM_OK || input->num_degrees == 1) return status;
  return fill_degrees(solution, c, input, error);
}

// Whether the lowest modes of all classes can be of any class, for all that is known.
static bool are_of_any_class(const cavum_modes *guess, const cavum_solution_request *input) {
  if (!input->rough || input->near_k2_per_m2 > 0.0) return false;
  for (int c = 0; c < CAVUM_CLASSES; c++) {
    if (input->requests[c].count != input->count || guess[c].count > 0) return false;
  }
  return true;
}

// How many of the lowest modes of all classes are of a class, by those that were found of each.
static int count_among_lowest(const cavum_solution *solution, int c, int wanted) {
  const cavum_modes *own = &solution->classes[c].modes[0];
  const cavum_modes *other = &solution->classes[1 - c].modes[0];
  int mine = 0, others = 0;
  while (mine + others < wanted && mine < own->count) {
    if (others < other->count && other->k2_per_m2[others] < own->k2_per_m2[mine]) {
      others++;
    } else {
      mine++;
    }
  }
  return mine;
}

// The modes of two classes take turns more or less, so half of those that are wanted and one more
// are looked for in each; all in a class that turns out to have more among the lowest.
static cavum_status find_of_any_class(cavum_solution *solution, const cavum_solution_request *input,
                                      cavum_modes *guess, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int wanted = input->count, some = (wanted + 1) / 2 + 1;
  if (some > wanted) some = wanted;
  for (int c = 0; c < CAVUM_CLASSES; c++) {
    CAVUM_TRY(find_modes(solution, c, some, input, &guess[c], error));
  }
  for (int c = 0; some < wanted && c < CAVUM_CLASSES; c++) {
    if (count_among_lowest(solution, c, wanted) <= some) continue;
    cavum_solution_clear_class(&solution->classes[c]);
    CAVUM_TRY(find_modes(solution, c, wanted, input, &guess[c], error));
  }
done:
  return status;
}

static cavum_status take_guesses(cavum_modes *guess, cavum_solution *solution,
                                 const cavum_solution_request *input, cavum_error *error) {
  for (int c = 0; c < CAVUM_CLASSES; c++) {
    cavum_solution_class *class = &solution->classes[c];
    class->parity = input->requests[c].parity;
    if (input->requests[c].count > 0) {
      cavum_status status = cavum_solution_prepare_class(solution, input->skeletons, c, error);
      if (status == CAVUM_OK) status = take_guess(&guess[c], solution, c, input, error);
      if (status != CAVUM_OK) return status;
    }
    cavum_solution_clear_class(class);
    if (input->guess_is_neighbour && input->rough) {
      for (int m = 0; m < guess[c].count; m++) guess[c].vector_error[m] = 1.0;
    } else if (guess[c].count > 0 && input->guess_is_neighbour) {
      int wanted = input->requests[c].count, known = guess[c].count;
      int last = (wanted < known ? wanted : known) - 1;
      cavum_status status = cavum_modes_measure(&guess[c], last, &class->pencil, error);
      if (status != CAVUM_OK) return status;
    }
  }
  return CAVUM_OK;
}

// So many modes on a mesh with room for all of them.
static bool goes_in_slices(const cavum_solution *solution, const cavum_solution_request *input) {
  int64_t rows = 0;
  if (input->rough || input->count < CAVUM_SLICES_FROM) return false;
  for (int c = 0; c < CAVUM_CLASSES; c++) {
    const cavum_solution_class *class = &solution->classes[c];
    bool wanted = input->requests[c].count > 0;
    if (!wanted && input->requests[0].parity != CAVUM_PARITY_NONE) return false;
    if (wanted) rows += class->pencil.levels[input->num_degrees - 1].num_rows;
  }
  return rows > (int64_t)ROWS_OF_A_MODE * input->count;
}

static cavum_status find_in_slices(cavum_solution *solution, const cavum_solution_request *input,
                                   cavum_error *error) {
  cavum_block_task tasks[CAVUM_CLASSES];
  int count = 0;
  for (int c = 0; c < CAVUM_CLASSES; c++) {
    cavum_solution_class *class = &solution->classes[c];
    if (input->requests[c].count == 0) continue;
    tasks[count++] = (cavum_block_task){
        .pencil = &class->pencil, .accuracy = accuracy_of(input), .modes = class->modes};
  }
  const cavum_slices_request request = {
      .wanted = input->count,
      .near_per_m2 = input->near_k2_per_m2,
      .modes_per_k2_m2 = count * cavum_mode_density(solution->mesh),
      .tolerance = SLICE_TOLERANCE_PART * accuracy_of(input)};
  return cavum_modes_find_in_slices(tasks, count, &solution->condensed, &request, error);
}

cavum_status cavum_solution_find_modes(cavum_solution *solution,
                                       const cavum_solution_request *asked, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_solution_request request = *asked;
  const cavum_solution_request *input = &request;
  cavum_modes guess[CAVUM_CLASSES] = {{0}};
  bool settled = false;
  request.close_shift = allows_close_shift(solution, asked);
  CAVUM_TRY(take_guesses(guess, solution, input, error));
  if (goes_in_slices(solution, input)) {
    CAVUM_TRY(find_in_slices(solution, input, error));
    settled = true;
  }
  // A rough solution looks for all modes in each class: more than are needed of either.
  for (int c = 0; c < CAVUM_CLASSES; c++) {
    int most = input->requests[c].count + GUARD_MODES;
    if (guess[c].count > most) guess[c].count = most;
  }
  if (!settled && may_improve_together(guess, input)) {
    CAVUM_TRY(improve_together(&settled, solution, guess, input, error));
  }
  if (!settled && are_of_any_class(guess, input)) {
    CAVUM_TRY(find_of_any_class(solution, input, guess, error));
    settled = true;
  }
  for (int c = 0; c < CAVUM_CLASSES; c++) {
    cavum_solution_class *class = &solution->classes[c];
    int count = input->requests[c].count;
    class->used = count > 0;
    if (!class->used) continue;
    if (!settled) CAVUM_TRY(find_modes(solution, c, count, input, &guess[c], error));
    for (int l = 0; l < input->num_degrees; l++) {
      if (class->modes[l].count > 0) continue;
      solution->num_degrees = l < solution->num_degrees ? l : solution->num_degrees;
    }
  }
done:
  for (int c = 0; c < CAVUM_CLASSES; c++) cavum_modes_clear(&guess[c]);
  return status;
}
