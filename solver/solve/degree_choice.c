// SPDX-License-Identifier: GPL-3.0-or-later
// What degree a solve begins with, and what is learned from it.
#include "solve/degree_choice.h"

#include "base/base.h"
#include "solve/cell_mesh.h"
#include "solve/mode_density.h"

// First degree at 1e-6 / 1e-4, and how it rises with the decades asked for.
static const double START_DEGREE = 7.0, START_SLOPE = 1.3;
// Of many modes the highest decides: first degree over the phase of an element, found for 10 to 50
// modes of a cell on meshes of several densities.
static const double PHASE_DEGREE = 5.9, PHASE_SLOPE = 1.4;
// A degree less is tried on the next cell where the predicted uncertainty is at most this part of
// what is asked for and few of the last tries of that degree failed: two in a row are too many. A
// try that fails costs two thirds of a solve, one that succeeds saves a quarter. What is remembered
// of the tries fades.
static const double TRY_BELOW = 0.95, FAILURES_MOST = 0.25, FADES_BY_TRY = 0.8, FADES = 0.99;
// No mesh of a usual size starts outside these.
enum { START_DEGREE_LEAST = 5, START_DEGREE_MOST = 11 };
// Mesh files and refined meshes of more elements than these start low: their elements are small
// already. Those of a long chain are as large as those of its cell.
enum { MANY_ELEMENTS = 400, VERY_MANY_ELEMENTS = 4000 };
enum { START_DEGREE_OF_MANY = START_DEGREE_LEAST, START_DEGREE_OF_VERY_MANY = 4 };

// The degree of the first solution, at which the accuracy asked for may be within reach: about one
// degree more for each factor of five in frequency, found on many shapes.
static int usual_degree(const cavum_cell *cell, cavum_index num_small, double phase_rad) {
  if (num_small > VERY_MANY_ELEMENTS) return START_DEGREE_OF_VERY_MANY;
  if (num_small > MANY_ELEMENTS) return START_DEGREE_OF_MANY;
  double decades = -log10(cavum_min(cell->accuracy_frequency, 1e-2 * cell->accuracy_other_figures));
  double more = START_SLOPE * (decades - 6.0), by_phase = PHASE_DEGREE + PHASE_SLOPE * phase_rad;
  int degree = (int)lround(START_DEGREE + more);
  if (cell->num_modes > CAVUM_FEW_MODES) degree++;
  if (phase_rad > 0.0) degree = (int)lround(cavum_max(degree, by_phase + more));
  if (degree < START_DEGREE_LEAST) return START_DEGREE_LEAST;
  return degree < START_DEGREE_MOST ? degree : START_DEGREE_MOST;
}

bool cavum_degree_has_experience(const cavum_cell *cell, const cavum_problem_memory *memory) {
  return memory->degree > 0 && memory->last && memory->last->topology == memory->topology &&
         memory->accuracy_frequency == cell->accuracy_frequency &&
         memory->accuracy_other_figures == cell->accuracy_other_figures &&
         memory->num_modes == cell->num_modes;
}

int cavum_degree_choose_first(const cavum_cell *cell, const cavum_problem_memory *memory,
                              bool is_refined) {
  if (cavum_degree_has_experience(cell, memory)) return memory->degree;
  bool small = is_refined || memory->mesh.node_order > 0;
  double phase_rad = cavum_mode_phase_counts(cell)
                         ? cavum_mode_phase_rad(cell, &memory->mesh, memory->half_model)
                         : 0.0;
  return usual_degree(cell, small ? memory->mesh.num_elements : 0, phase_rad);
}

// What became of a try of a degree less.
static void remember_try(cavum_problem_memory *memory, bool tried, bool failed) {
  for (int degree = 0; degree <= CAVUM_DEGREE_MOST; degree++) memory->failures[degree] *= FADES;
  if (!tried) return;
  double *failures = &memory->failures[memory->degree];
  *failures = FADES_BY_TRY * *failures + (failed ? 1.0 - FADES_BY_TRY : 0.0);
}

void cavum_degree_remember(cavum_problem_memory *memory, const cavum_ladder *ladder,
                           const cavum_cell *cell, bool is_given) {
  int degree = ladder->solution->reference.degree;
  bool tried = memory->tries_less && cavum_degree_has_experience(cell, memory);
  bool failed = tried && degree > memory->degree;
  remember_try(memory, tried, failed);
  memory->last = ladder->solution;
  bool less = ladder->worst_one_less < TRY_BELOW && degree > START_DEGREE_LEAST &&
              memory->failures[degree - 1] < FAILURES_MOST;
  memory->tries_less = less || (tried && !failed);
  memory->degree = ladder->reached && !is_given ? degree - (less ? 1 : 0) : 0;
  memory->accuracy_frequency = cell->accuracy_frequency;
  memory->accuracy_other_figures = cell->accuracy_other_figures;
  memory->num_modes = cell->num_modes;
}
