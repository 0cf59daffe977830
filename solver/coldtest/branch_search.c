// SPDX-License-Identifier: GPL-3.0-or-later
// Which side of critical coupling each reading is on, by all of them together.
//
// Few readings: every combination. Many: with one coupler the loaded Q tells the order, since
// Q_L = Q_e / (1 + beta*) is above Q_e / 2 where the coupling is under critical; so the starts are
// all places where that order may be cut, and one for each reading and side whose Q_t would be the
// constant. From the best start single readings change sides as long as that helps.
#include "coldtest/branch_search.h"

#include <gsl/gsl_cdf.h>
#include <string.h>

enum { MOST_FOR_ALL = 10, MOST_ROUNDS = 50 };

/** Readings whose side is open, by their place in the fit. */
typedef struct open_readings {
  int count, at[CAVUM_FIT_MOST_READINGS];
} open_readings;

static open_readings find_open(const cavum_branch_fit *fit) {
  open_readings open = {0};
  for (int i = 0; i < fit->count; i++) {
    if (!fit->readings[i].fixed && !fit->readings[i].left_out) open.at[open.count++] = i;
  }
  return open;
}

static cavum_fit_sides fixed_sides(const cavum_branch_fit *fit) {
  cavum_fit_sides sides;
  memset(&sides, 0, sizeof sides);
  for (int i = 0; i < fit->count; i++) sides.of[i] = fit->readings[i].fixed_side;
  return sides;
}

static cavum_fit_sides combination(const cavum_branch_fit *fit, const open_readings *open,
                                   unsigned bits) {
  cavum_fit_sides sides = fixed_sides(fit);
  for (int k = 0; k < open->count; k++) sides.of[open->at[k]] = (bits >> k) & 1u;
  return sides;
}

// Each reading takes the side that fits the constants better, and the constants follow, until
// nothing changes. `held` stays where it is; -1: none.
static double settle(cavum_fit_sides *sides, const cavum_branch_fit *fit, const open_readings *open,
                     int held) {
  double solution[CAVUM_FIT_MOST_UNKNOWNS];
  double chi = cavum_branch_fit_evaluate(fit, sides, solution);
  for (int round = 0; round < MOST_ROUNDS; round++) {
    cavum_fit_sides moved = *sides;
    for (int k = 0; k < open->count; k++) {
      int i = open->at[k];
      if (i == held) continue;
      const cavum_fit_side *side = fit->readings[i].side;
      moved.of[i] = cavum_branch_fit_misfit(fit, &side[1], solution) <
                    cavum_branch_fit_misfit(fit, &side[0], solution);
    }
    double after = cavum_branch_fit_evaluate(fit, &moved, solution);
    if (!(after < chi)) break;
    chi = after;
    *sides = moved;
  }
  return chi;
}

// Single readings change sides as long as one of them helps.
static double improve(cavum_fit_sides *sides, double chi, const cavum_branch_fit *fit,
                      const open_readings *open, int held) {
  for (int round = 0; round < MOST_ROUNDS; round++) {
    int best = -1;
    for (int k = 0; k < open->count; k++) {
      if (open->at[k] == held) continue;
      cavum_fit_sides tried = *sides;
      tried.of[open->at[k]] ^= 1u;
      double after = cavum_branch_fit_evaluate(fit, &tried, NULL);
      if (after < chi) {
        chi = after;
        best = open->at[k];
      }
    }
    if (best < 0) break;
    sides->of[best] ^= 1u;
  }
  return chi;
}

static void keep_better(cavum_branch_answer *answer, const cavum_fit_sides *sides, double chi) {
  if (chi < answer->chi_squared) {
    answer->chi_squared = chi;
    answer->best = *sides;
  }
}

// The order of Q_L, cut at every place.
static void start_by_order(cavum_branch_answer *answer, const cavum_branch_fit *fit,
                           const open_readings *open) {
  for (int cut = -1; cut < open->count; cut++) {
    double least = cut < 0 ? INFINITY : fit->readings[open->at[cut]].q_loaded;
    cavum_fit_sides sides = fixed_sides(fit);
    for (int k = 0; k < open->count; k++) {
      sides.of[open->at[k]] =
          fit->readings[open->at[k]].q_loaded >= least ? CAVUM_FIT_OVER : CAVUM_FIT_UNDER;
    }
    keep_better(answer, &sides, settle(&sides, fit, open, -1));
  }
}

// One reading on one side gives the constants, the shared errors are none.
static void start_by_reading(cavum_branch_answer *answer, const cavum_branch_fit *fit,
                             const open_readings *open) {
  for (int start = 0; start < 2 * open->count; start++) {
    int at = open->at[start / 2];
    cavum_fit_sides sides = fixed_sides(fit);
    cavum_branch_fit alone = *fit;
    cavum_fit_reading only = fit->readings[at];
    double solution[CAVUM_FIT_MOST_UNKNOWNS];
    alone.readings = &only;
    alone.count = 1;
    cavum_fit_sides one = {{(unsigned char)(start % 2)}};
    cavum_branch_fit_evaluate(&alone, &one, solution);
    for (int k = 0; k < open->count; k++) {
      const cavum_fit_side *side = fit->readings[open->at[k]].side;
      sides.of[open->at[k]] = cavum_branch_fit_misfit(fit, &side[1], solution) <
                              cavum_branch_fit_misfit(fit, &side[0], solution);
    }
    keep_better(answer, &sides, settle(&sides, fit, open, -1));
  }
}

static void finish(cavum_branch_answer *answer, const cavum_branch_fit *fit) {
  answer->degrees_of_freedom = cavum_branch_fit_freedom(fit, &answer->best);
  answer->probability =
      answer->degrees_of_freedom > 0
          ? gsl_cdf_chisq_Q(answer->chi_squared, (double)answer->degrees_of_freedom)
          : 1.0;
}

// What chi squared may be by chance: scatter beyond what is stated must not decide.
static double scale_of(const cavum_branch_answer *answer) {
  if (answer->degrees_of_freedom < 1) return 1.0;
  return cavum_max(answer->chi_squared / (double)answer->degrees_of_freedom, 1.0);
}

static void search_all(cavum_branch_answer *answer, const cavum_branch_fit *fit,
                       const open_readings *open, double chi[1 << MOST_FOR_ALL]) {
  for (unsigned bits = 0; bits < 1u << open->count; bits++) {
    cavum_fit_sides sides = combination(fit, open, bits);
    chi[bits] = cavum_branch_fit_evaluate(fit, &sides, NULL);
    keep_better(answer, &sides, chi[bits]);
  }
}

static void search_many(cavum_branch_answer *answer, const cavum_branch_fit *fit,
                        const open_readings *open) {
  start_by_order(answer, fit, open);
  start_by_reading(answer, fit, open);
  answer->chi_squared = improve(&answer->best, answer->chi_squared, fit, open, -1);
}

static bool same_sides(const cavum_fit_sides *a, const cavum_fit_sides *b, int count) {
  return memcmp(a->of, b->of, (size_t)count) == 0;
}

// Among the likeliest alternatives, when there is room for it.
static void add_alternative(cavum_branch_answer *answer, const cavum_fit_sides *sides,
                            double weight, int count) {
  int at = answer->num_alternatives;
  for (int i = 0; i < at; i++) {
    if (same_sides(&answer->alternative[i], sides, count)) return;
  }
  if (at == CAVUM_MOST_ALTERNATIVES) {
    at = 0;
    for (int i = 1; i < CAVUM_MOST_ALTERNATIVES; i++) {
      if (answer->weight[i] < answer->weight[at]) at = i;
    }
    if (weight <= answer->weight[at]) return;
  } else {
    answer->num_alternatives++;
  }
  answer->weight[at] = weight;
  answer->alternative[at] = *sides;
}

// Every combination by its density.
static void weigh_all(cavum_branch_answer *answer, const cavum_branch_fit *fit,
                      const open_readings *open, const double chi[1 << MOST_FOR_ALL]) {
  double scale = scale_of(answer), total = 0.0;
  for (unsigned bits = 0; bits < 1u << open->count; bits++) {
    cavum_fit_sides sides = combination(fit, open, bits);
    double excess = (chi[bits] - answer->chi_squared) / scale, weight = exp(-0.5 * excess);
    total += weight;
    for (int k = 0; k < open->count; k++) {
      int i = open->at[k];
      if (sides.of[i] == answer->best.of[i]) continue;
      answer->other_weight[i] += weight;
      answer->excess[i] = cavum_min(answer->excess[i], excess);
    }
    bool likely = excess < CAVUM_BRANCH_DECIDED * CAVUM_BRANCH_DECIDED;
    if (likely && !same_sides(&sides, &answer->best, fit->count)) {
      add_alternative(answer, &sides, weight, fit->count);
    }
  }
  for (int k = 0; k < open->count; k++) answer->other_weight[open->at[k]] /= total;
  for (int i = 0; i < answer->num_alternatives; i++) answer->weight[i] /= total;
}

// Each reading on the other side, with what the others make of it.
static void weigh_each(cavum_branch_answer *answer, const cavum_branch_fit *fit,
                       const open_readings *open) {
  double scale = scale_of(answer);
  for (int k = 0; k < open->count; k++) {
    int i = open->at[k];
    cavum_fit_sides flipped = answer->best, settled;
    flipped.of[i] ^= 1u;
    settled = flipped;
    double alone = cavum_branch_fit_evaluate(fit, &flipped, NULL);
    double chi = settle(&settled, fit, open, i);
    if (!(chi < alone)) settled = flipped;
    double excess = cavum_max(cavum_min(chi, alone) - answer->chi_squared, 0.0) / scale;
    double weight = exp(-0.5 * excess) / (1.0 + exp(-0.5 * excess));
    answer->excess[i] = excess;
    answer->other_weight[i] = weight;
    if (excess < CAVUM_BRANCH_DECIDED * CAVUM_BRANCH_DECIDED) {
      add_alternative(answer, &settled, weight, fit->count);
    }
  }
}

static void clear(cavum_branch_answer *answer, const cavum_branch_fit *fit) {
  memset(answer, 0, sizeof *answer);
  answer->best = fixed_sides(fit);
  answer->chi_squared = INFINITY;
  for (int i = 0; i < CAVUM_FIT_MOST_READINGS; i++) answer->excess[i] = INFINITY;
}

static void search(cavum_branch_answer *answer, const cavum_branch_fit *fit, bool weighed) {
  open_readings open = find_open(fit);
  double chi[1 << MOST_FOR_ALL];
  clear(answer, fit);
  bool all = open.count <= MOST_FOR_ALL;
  if (all) {
    search_all(answer, fit, &open, chi);
  } else {
    search_many(answer, fit, &open);
  }
  finish(answer, fit);
  if (weighed && all) weigh_all(answer, fit, &open, chi);
  if (weighed && !all) weigh_each(answer, fit, &open);
}

void cavum_branch_search(cavum_branch_answer *answer, const cavum_branch_fit *fit) {
  search(answer, fit, true);
}

void cavum_branch_search_best(cavum_branch_answer *answer, const cavum_branch_fit *fit) {
  search(answer, fit, false);
}
