// SPDX-License-Identifier: GPL-3.0-or-later
// Where Q_e and Q_t are not constant: one change between two readings that explains it, such as
// another cable or a clock, and what may have changed.
#include <gsl/gsl_cdf.h>

#include "coldtest/constancy.h"

enum { PICKUP, EXTERNAL, NUM_CONSTANTS, FEWEST = 3 };
static const double UNLIKELY = 1e-3, CLEAR = 5.0, ALIKE = 3.0;

/** ln Q_t and ln Q_e of the readings with a decay time, by their order, with their own errors. */
typedef struct sequence {
  int64_t count;
  int64_t *index;                                          // Owned.
  double *value[NUM_CONSTANTS], *variance[NUM_CONSTANTS];  // Owned.
} sequence;

/** Both constants before and after a change. */
typedef struct change {
  int64_t before;  // How many readings.
  double chi_squared, step[NUM_CONSTANTS], uncertainty[NUM_CONSTANTS];
} change;

static void sequence_clear(sequence *s) {
  free(s->index);
  for (int k = 0; k < NUM_CONSTANTS; k++) {
    free(s->value[k]);
    free(s->variance[k]);
  }
}

static cavum_status gather(sequence *s, const cavum_coldtest *test, cavum_error *error) {
  static const cavum_coldtest_quantity of[] = {CAVUM_QUANTITY_Q_PICKUP, CAVUM_QUANTITY_Q_EXTERNAL};
  int64_t room = test->readings.num_readings;
  s->index = cavum_alloc(room, sizeof *s->index);
  for (int k = 0; k < NUM_CONSTANTS; k++) {
    s->value[k] = cavum_alloc(room, sizeof(double));
    s->variance[k] = cavum_alloc(room, sizeof(double));
    if (!s->index || !s->value[k] || !s->variance[k]) return cavum_fail_memory(error);
  }
  for (int64_t i = 0; i < room; i++) {
    cavum_inverted inverted;
    if (!test->points[i].by_decay || test->decided.left_out[i] != CAVUM_LEAVE_NOTHING) continue;
    if (cavum_coldtest_invert_reading(&inverted, test, i, NULL) != CAVUM_OK) continue;
    if (!inverted.has[of[PICKUP]] || !inverted.has[of[EXTERNAL]]) continue;
    for (int k = 0; k < NUM_CONSTANTS; k++) {
      const cavum_dual *q = &inverted.result[of[k]];
      double own = 0.0;
      for (int n = CAVUM_FIRST_LOCAL_INPUT; n < CAVUM_NUM_INPUTS; n++) {
        own += q->part[n] * q->part[n];
      }
      s->value[k][s->count] = log(q->value);
      s->variance[k][s->count] = own / (q->value * q->value);
    }
    s->index[s->count++] = i;
  }
  return CAVUM_OK;
}

// Mean, its variance, and chi squared about it of some readings.
static double add_side(double *mean, double *variance, const sequence *s, int k, int64_t from,
                       int64_t to) {
  double weight = 0.0, sum = 0.0, chi_squared = 0.0;
  for (int64_t i = from; i < to; i++) {
    weight += 1.0 / s->variance[k][i];
    sum += s->value[k][i] / s->variance[k][i];
  }
  *mean = sum / weight;
  *variance = 1.0 / weight;
  for (int64_t i = from; i < to; i++) {
    chi_squared += pow(s->value[k][i] - *mean, 2.0) / s->variance[k][i];
  }
  return chi_squared;
}

static change change_after(const sequence *s, int64_t before) {
  change out = {.before = before};
  for (int k = 0; k < NUM_CONSTANTS; k++) {
    double mean[2], variance[2];
    out.chi_squared += add_side(&mean[0], &variance[0], s, k, 0, before);
    out.chi_squared += add_side(&mean[1], &variance[1], s, k, before, s->count);
    out.step[k] = mean[1] - mean[0];
    out.uncertainty[k] = sqrt(variance[0] + variance[1]);
  }
  return out;
}

// What moves the two constants so.
static const char *cause_of(const change *c) {
  double apart = hypot(c->uncertainty[PICKUP], c->uncertainty[EXTERNAL]);
  if (fabs(c->step[EXTERNAL]) < ALIKE * c->uncertainty[EXTERNAL]) {
    return "another cable, meter or attenuator of the transmitted power?";
  }
  if (fabs(c->step[PICKUP] - c->step[EXTERNAL]) < ALIKE * apart) {
    return "the clock of the decays?";
  }
  if (fabs(c->step[PICKUP]) < ALIKE * c->uncertainty[PICKUP]) return "a coupler that was moved?";
  return "the chain of forward or reflected power, or the coupler?";
}

cavum_status cavum_coldtest_remark_on_change(cavum_coldtest *test, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  sequence s = {0};
  change best = {.chi_squared = INFINITY};
  CAVUM_TRY(gather(&s, test, error));
  for (int64_t before = 1; before < s.count; before++) {
    change c = change_after(&s, before);
    if (c.chi_squared < best.chi_squared) best = c;
  }
  if (s.count < FEWEST || !isfinite(best.chi_squared)) goto done;
  bool clear = false;
  for (int k = 0; k < NUM_CONSTANTS; k++) {
    clear = clear || fabs(best.step[k]) > CLEAR * best.uncertainty[k];
  }
  double spare = (double)(NUM_CONSTANTS * (s.count - 2));
  if (!clear || gsl_cdf_chisq_Q(best.chi_squared, spare) < UNLIKELY) goto done;
  cavum_coldtest_remark(
      test,
      "decays up to reading %lld and from %lld on agree among themselves: Q_t changes by %+.3g dB, "
      "Q_e by %+.3g dB: %s E_acc of readings without a decay mixes both",
      (long long)s.index[best.before - 1] + 1, (long long)s.index[best.before] + 1,
      10.0 / log(10.0) * best.step[PICKUP], 10.0 / log(10.0) * best.step[EXTERNAL],
      cause_of(&best));
done:
  sequence_clear(&s);
  return status;
}
