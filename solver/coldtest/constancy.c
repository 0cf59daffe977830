// SPDX-License-Identifier: GPL-3.0-or-later
// Constants of the whole test: Q_e and Q_t of the readings with a decay time. On the wrong branch
// both come out times a power of beta*, which moves with Q0: they drift.
//
// Generalised least squares. The rows are ln Q_e and ln Q_t of each reading, whitened by the errors
// of that reading alone; the unknowns are both constants and the errors that all readings share.
// The normal equations are summed reading by reading, so nothing grows with their number.
#include "coldtest/constancy.h"

#include <gsl/gsl_cdf.h>
#include <string.h>

enum { NUM_CONSTANTS = 2, NUM_UNKNOWNS = NUM_CONSTANTS + CAVUM_FIRST_LOCAL_INPUT };
// What is left of the variance of ln Q_t when ln Q_e is known; below it both say the same, and
// rounding would be taken for a difference.
static const double LEAST_OWN_SHARE = 1e-9;
// Readings that are asked: more would say the same.
enum { MOST_READINGS = 2000 };

/** Normal equations; the lower triangle of the matrix is used. */
typedef struct normal_equations {
  double matrix[NUM_UNKNOWNS][NUM_UNKNOWNS];
  double right[NUM_UNKNOWNS];
  double squares;
  int num_rows;
  bool used[NUM_CONSTANTS], no_uncertainty;
} normal_equations;

/** One row: the number, and what each unknown does to it. */
typedef struct row {
  double value, factor[NUM_UNKNOWNS];
} row;

static row row_of(const cavum_dual *quality, double origin, int constant) {
  row made = {.value = log(quality->value / origin)};
  made.factor[constant] = 1.0;
  for (int i = 0; i < CAVUM_FIRST_LOCAL_INPUT; i++) {
    made.factor[NUM_CONSTANTS + i] = quality->part[i] / quality->value;
  }
  return made;
}

// a := scale (a - share b).
static void combine(row *a, double share, const row *b, double scale) {
  a->value = scale * (a->value - share * b->value);
  for (int i = 0; i < NUM_UNKNOWNS; i++) {
    a->factor[i] = scale * (a->factor[i] - share * b->factor[i]);
  }
}

static void add_row(normal_equations *n, const row *r) {
  for (int i = 0; i < NUM_UNKNOWNS; i++) {
    for (int j = 0; j <= i; j++) n->matrix[i][j] += r->factor[i] * r->factor[j];
    n->right[i] += r->factor[i] * r->value;
  }
  n->squares += r->value * r->value;
  n->num_rows++;
}

// Covariance of the logarithms by what belongs to this reading alone.
static double own_covariance(const cavum_dual *x, const cavum_dual *y) {
  double sum = 0.0;
  for (int i = CAVUM_FIRST_LOCAL_INPUT; i < CAVUM_NUM_INPUTS; i++) sum += x->part[i] * y->part[i];
  return sum / (x->value * y->value);
}

static void add_reading(normal_equations *n, const cavum_inverted *inverted,
                        const double origin[NUM_CONSTANTS]) {
  cavum_dual external = cavum_coldtest_share_phase(inverted->result[CAVUM_QUANTITY_Q_EXTERNAL]);
  double variance = own_covariance(&external, &external);
  if (!(variance > 0.0)) {
    n->no_uncertainty = true;
    return;
  }
  row of_external = row_of(&external, origin[0], 0);
  row whitened = of_external;
  combine(&whitened, 0.0, &whitened, 1.0 / sqrt(variance));
  add_row(n, &whitened);
  n->used[0] = true;
  if (!inverted->has[CAVUM_QUANTITY_Q_PICKUP]) return;
  cavum_dual pickup = cavum_coldtest_share_phase(inverted->result[CAVUM_QUANTITY_Q_PICKUP]);
  double own = own_covariance(&pickup, &pickup);
  double share = own_covariance(&pickup, &external) / variance;
  double left = own - share * share * variance;
  if (!(left > LEAST_OWN_SHARE * own)) return;
  row of_pickup = row_of(&pickup, origin[1], 1);
  combine(&of_pickup, share, &of_external, 1.0 / sqrt(left));
  add_row(n, &of_pickup);
  n->used[1] = true;
}

// The least sum of squares: the squares less |L^-1 right|^2 with L the factor of the matrix.
static double least_squares(normal_equations *n) {
  double left = n->squares, solved[NUM_UNKNOWNS];
  for (int i = 0; i < NUM_UNKNOWNS; i++) {
    for (int j = 0; j <= i; j++) {
      double sum = n->matrix[i][j];
      for (int k = 0; k < j; k++) sum -= n->matrix[i][k] * n->matrix[j][k];
      if (j < i) n->matrix[i][j] = sum / n->matrix[j][j];
      if (j == i) n->matrix[i][i] = sqrt(sum);
    }
    solved[i] = n->right[i];
    for (int k = 0; k < i; k++) solved[i] -= n->matrix[i][k] * solved[k];
    solved[i] /= n->matrix[i][i];
    left -= solved[i] * solved[i];
  }
  return cavum_max(left, 0.0);
}

static bool invert(cavum_inverted *inverted, const cavum_coldtest *test,
                   const cavum_coldtest_calibrations *calibrations, cavum_branch forced,
                   int64_t i) {
  const cavum_coldtest_reading *reading = &test->readings.items[i];
  cavum_reading_place place = {test->readings.file, i, reading->line};
  cavum_calibrated calibrated;
  cavum_inversion_context context = {.assumed = calibrations->assumed,
                                     .forced = forced,
                                     .setup = &test->setup,
                                     .inputs = &test->inputs,
                                     .q_external = calibrations->assumed != CAVUM_BRANCH_DECIDE
                                                       ? &calibrations->q_external
                                                       : NULL};
  return cavum_coldtest_calibrate(&calibrated, &test->setup, &test->inputs, reading, &place,
                                  NULL) == CAVUM_OK &&
         cavum_coldtest_invert_decay(inverted, &context, &calibrated, &place, NULL) == CAVUM_OK;
}

// Every how many-th of the readings with a decay time is asked.
static int64_t stride_of(const cavum_coldtest *test) {
  int64_t count = 0;
  for (int64_t i = 0; i < test->readings.num_readings; i++) {
    count += !isnan(test->readings.items[i].decay_time_s);
  }
  return count / MOST_READINGS + 1;
}

void cavum_coldtest_judge_constancy(cavum_constancy *out, const cavum_coldtest *test,
                                    const cavum_coldtest_calibrations *calibrations,
                                    cavum_branch forced) {
  normal_equations n;
  double origin[NUM_CONSTANTS] = {0.0, 0.0};
  memset(&n, 0, sizeof n);
  for (int i = NUM_CONSTANTS; i < NUM_UNKNOWNS; i++) n.matrix[i][i] = 1.0;
  int64_t stride = stride_of(test), asked = 0;
  for (int64_t i = 0; i < test->readings.num_readings; i++) {
    cavum_inverted inverted;
    if (isnan(test->readings.items[i].decay_time_s) || asked++ % stride != 0) continue;
    if (!invert(&inverted, test, calibrations, forced, i)) continue;
    if (origin[0] == 0.0) origin[0] = inverted.result[CAVUM_QUANTITY_Q_EXTERNAL].value;
    if (origin[1] == 0.0 && inverted.has[CAVUM_QUANTITY_Q_PICKUP]) {
      origin[1] = inverted.result[CAVUM_QUANTITY_Q_PICKUP].value;
    }
    add_reading(&n, &inverted, origin);
  }
  for (int i = 0; i < NUM_CONSTANTS; i++) {
    if (!n.used[i]) n.matrix[i][i] = 1.0;
  }
  *out = (cavum_constancy){.chi_squared = NAN, .probability = NAN};
  int spare = n.num_rows - n.used[0] - n.used[1];
  if (n.no_uncertainty || spare < 1) return;
  out->chi_squared = least_squares(&n);
  out->degrees_of_freedom = spare;
  out->probability = gsl_cdf_chisq_Q(out->chi_squared, spare);
}

double cavum_coldtest_constancy_excess(const cavum_constancy *worse,
                                       const cavum_constancy *better) {
  if (worse->degrees_of_freedom < 1 || better->degrees_of_freedom < 1) return 0.0;
  double scale = cavum_max(better->chi_squared / better->degrees_of_freedom, 1.0);
  return (worse->chi_squared - better->chi_squared) / scale;
}
