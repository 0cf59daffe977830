// SPDX-License-Identifier: GPL-3.0-or-later
// Measured frequencies against each other. A frequency of the cell and those of halves between
// plates are measurements alike.
#include "steps/contradiction.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "steps/agreement.h"

// No frequency is computed or measured better than to this part of it.
static const double LEAST_PART = 1e-9;
// What is linear in the amounts is right to about this part of what they change.
static const double LINEAR_PART = 1e-3;
// What explains a contradiction nearly as well as the best does is named, too.
static const double NEARLY = 0.9;
enum { QUANTITIES = 3 };

/** The measurements of a chain. */
typedef struct measured_chain {
  cavum_measured_set set;
  int *step, *quantity; /**< Owned, shape [set.num_measured]: 0: the cell, 1, 2: 0 and pi mode. */
  double *room;         /**< Owned: what the set points to. */
} measured_chain;

static double off_of(const cavum_step *step, int quantity) {
  const double measured[] = {step->measured_hz, step->measured_zero_hz, step->measured_pi_hz};
  const double computed[] = {step->frequency_hz, step->zero_hz, step->pi_hz};
  return measured[quantity] - computed[quantity];
}

static const double *rows_of(const cavum_steps_result *result, int quantity) {
  return quantity == 0   ? result->sensitivity_hz
         : quantity == 1 ? result->zero_sensitivity_hz
                         : result->pi_sensitivity_hz;
}

static int count_measured(const cavum_steps_result *result) {
  int count = 0;
  for (int i = 0; i < result->num_steps; i++) {
    for (int q = 0; q < QUANTITIES; q++) {
      count += rows_of(result, q) && !isnan(off_of(result->steps[i], q));
    }
  }
  return count;
}

static void fill(measured_chain *chain, const cavum_steps_result *result, bool drawing_stated) {
  cavum_measured_set *set = &chain->set;
  int at = 0, m = set->num_sources;
  double size = 0.0;
  for (int i = 0; i < result->num_steps; i++) {
    const cavum_step *step = result->steps[i];
    for (int q = 0; q < QUANTITIES; q++) {
      const double *rows = rows_of(result, q);
      double off = off_of(step, q), least = LEAST_PART * step->frequency_hz;
      if (!rows || isnan(off)) continue;
      // A cell that is off by its size is so behind each step, exactly.
      if (at == 0) size = off / step->frequency_hz;
      double bent = LINEAR_PART * (off - size * step->frequency_hz);
      chain->step[at] = i;
      chain->quantity[at] = q;
      set->off_hz[at] = off;
      set->variance[at] = step->measured_uncertainty_hz * step->measured_uncertainty_hz +
                          least * least + bent * bent;
      set->by_drawing[at] = drawing_stated ? 0.0 : step->frequency_hz;
      memcpy(set->rows + (ptrdiff_t)at * m, rows + (ptrdiff_t)i * m, (size_t)m * sizeof *rows);
      at++;
    }
  }
}

static cavum_status gather(measured_chain *chain, const cavum_steps_result *result,
                           bool drawing_stated, cavum_error *error) {
  int n = count_measured(result), m = result->num_sources;
  chain->step = cavum_alloc(n, sizeof(int));
  chain->quantity = cavum_alloc(n, sizeof(int));
  chain->room = cavum_alloc((int64_t)n * (m + 3), sizeof(double));
  if (!chain->step || !chain->quantity || !chain->room) return cavum_fail_memory(error);
  chain->set = (cavum_measured_set){.num_measured = n,
                                    .num_sources = m,
                                    .off_hz = chain->room,
                                    .variance = chain->room + n,
                                    .by_drawing = chain->room + 2 * (ptrdiff_t)n,
                                    .rows = chain->room + 3 * (ptrdiff_t)n};
  fill(chain, result, drawing_stated);
  return CAVUM_OK;
}

// Where nothing is said to be uncertain, nothing can be said to be too far off.
static bool has_uncertainty(const cavum_steps_result *result, const measured_chain *chain) {
  for (int k = 0; k < chain->set.num_measured; k++) {
    if (result->steps[chain->step[k]]->measured_uncertainty_hz > 0.0) return true;
    for (int s = 0; s < chain->set.num_sources; s++) {
      if (chain->set.rows[k * chain->set.num_sources + s] != 0.0) return true;
    }
  }
  return false;
}

// Of two measurements each is as far from the other, but for rounding: the first of them then.
static int find_worst(const cavum_agreement *agreement, int n) {
  const double same = 1.0 + 1e-6;
  int worst = -1;
  for (int k = 0; k < n; k++) {
    if (isnan(agreement->deviation[k])) continue;
    if (worst < 0 || fabs(agreement->deviation[k]) > same * fabs(agreement->deviation[worst])) {
      worst = k;
    }
  }
  return worst;
}

// The source that would explain it best, where it does so nearly as well.
static int find_source(const cavum_agreement *agreement, int m, double deviation) {
  int best = -1;
  for (int s = 0; s < m; s++) {
    if (fabs(agreement->source[s]) < NEARLY * fabs(deviation)) continue;
    if (best < 0 || fabs(agreement->source[s]) > fabs(agreement->source[best])) best = s;
  }
  return best;
}

// Another measurement that fits as badly; -1: none.
static int find_other(const cavum_agreement *agreement, const measured_chain *chain, int worst) {
  for (int k = 0; k < chain->set.num_measured; k++) {
    if (chain->step[k] == chain->step[worst]) continue;
    if (fabs(agreement->deviation[k]) >= NEARLY * fabs(agreement->deviation[worst])) return k;
  }
  return -1;
}

// All that fit the others as badly as the worst, nearly.
static void mark_contradicting(cavum_steps_result *result, const measured_chain *chain,
                               const cavum_agreement *agreement, int worst) {
  for (int k = 0; k < chain->set.num_measured; k++) {
    cavum_step *step = result->steps[chain->step[k]];
    bool *const marks[QUANTITIES] = {&step->contradicts, &step->zero_contradicts,
                                     &step->pi_contradicts};
    *marks[chain->quantity[k]] =
        fabs(agreement->deviation[k]) >= NEARLY * fabs(agreement->deviation[worst]);
  }
}

static void write_sentence(cavum_steps_result *result, const measured_chain *chain,
                           const cavum_agreement *agreement, int worst) {
  static const char *const quantities[QUANTITIES] = {"frequency", "0 mode", "pi mode"};
  int source = find_source(agreement, chain->set.num_sources, agreement->deviation[worst]);
  int other = find_other(agreement, chain, worst);
  bool alone = chain->set.num_measured == 1;
  size_t size = sizeof result->contradiction;
  int used =
      snprintf(result->contradiction, size,
               "%s (chi-square %.4g with %d degree%s of freedom, which consistent ones have in "
               "less than 1 of 100 cases): the %s measured after %s is %+.1f kHz, %.3g standard "
               "deviations, from what %s",
               alone ? "The measured frequency contradicts the drawing and the steps before it"
                     : "The measured frequencies contradict each other",
               agreement->chi_square, agreement->freedom, agreement->freedom == 1 ? "" : "s",
               quantities[chain->quantity[worst]], result->steps[chain->step[worst]]->name,
               cavum_in_unit(agreement->deviation_hz[worst], CAVUM_UNIT_KHZ),
               fabs(agreement->deviation[worst]), alone ? "they say" : "the others say");
  if (other >= 0 && used > 0 && (size_t)used < size) {
    used +=
        snprintf(result->contradiction + used, size - (size_t)used,
                 ", or else the one after %s is wrong", result->steps[chain->step[other]]->name);
  }
  if (source >= 0 && used > 0 && (size_t)used < size) {
    used += snprintf(result->contradiction + used, size - (size_t)used,
                     ", or else '%s' is off by %.3g standard deviations",
                     result->sources[source]->name, fabs(agreement->source[source]));
  }
  if (used > 0 && (size_t)used < size) {
    snprintf(result->contradiction + used, size - (size_t)used, ".");
  }
}

cavum_status cavum_steps_compare_measured(cavum_steps_result *result, bool drawing_stated,
                                          cavum_error *error) {
  cavum_status status = CAVUM_OK;
  measured_chain chain = {0};
  cavum_agreement agreement = {0};
  result->odd_step = -1;
  result->chi_square = result->chi_square_probability = NAN;
  CAVUM_TRY(gather(&chain, result, drawing_stated, error));
  if (!has_uncertainty(result, &chain)) goto done;
  CAVUM_TRY(cavum_agreement_judge(&agreement, &chain.set, error));
  result->chi_square_freedom = agreement.freedom;
  if (agreement.freedom == 0) goto done;
  result->chi_square = agreement.chi_square;
  result->chi_square_probability = agreement.probability;
  int worst = find_worst(&agreement, chain.set.num_measured);
  if (cavum_agreement_fails(&agreement) && worst >= 0) {
    result->odd_step = chain.step[worst];
    mark_contradicting(result, &chain, &agreement, worst);
    write_sentence(result, &chain, &agreement, worst);
  }
done:
  cavum_agreement_clear(&agreement);
  free(chain.step);
  free(chain.quantity);
  free(chain.room);
  return status;
}
