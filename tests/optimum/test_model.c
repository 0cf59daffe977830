// SPDX-License-Identifier: GPL-3.0-or-later
// Subproblems: their solutions meet the conditions of Karush, Kuhn and Tucker, which a convex
// problem has at its least value and nowhere else.
#include "optimum/model.h"
#include "solving.h"

// A generator with a fixed start: the same models everywhere.
static double draw(uint64_t *state) {
  *state = *state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
  return (double)(*state >> 11) / 9007199254740992.0 * 2.0 - 1.0;
}

// Many rows of one peak beside each other, limits that nearly hold, and an equation as two rows.
static void fill(cavum_model *m, uint64_t seed) {
  uint64_t state = seed + 1;
  int n = 1 + (int)(seed % 7);
  *m = (cavum_model){.num_variables = n, .num_bounds = (int)(seed % 3), .penalty = 10.0};
  for (int j = 0; j < n; j++) {
    m->gradient[j] = draw(&state);
    m->low[j] = seed % 5 == 0 ? 0.0 : -0.1;
    m->high[j] = 0.05;
    for (int i = 0; i < n; i++) m->curvature[i][j] = i == j ? 0.01 : 0.0;
  }
  for (int k = 0; k < n; k++) {
    double v[CAVUM_GOAL_MOST_VARIABLES], size = seed % 2 ? 1.0 : 1e-4;
    for (int j = 0; j < n; j++) v[j] = draw(&state);
    for (int i = 0; i < n; i++) {
      for (int j = 0; j < n; j++) m->curvature[i][j] += size * v[i] * v[j];
    }
  }
  for (int b = 0; b < m->num_bounds; b++) {
    double base[CAVUM_GOAL_MOST_VARIABLES];
    m->weight[b] = 0.5 + 0.5 * b;
    for (int j = 0; j < n; j++) base[j] = draw(&state);
    for (int k = 0; k < 30; k++) {
      cavum_model_row *row = &m->rows[m->num_rows++];
      row->bound = b;
      row->constant = -1e-5 * k * k;
      for (int j = 0; j < n; j++) row->slope[j] = base[j] + 0.05 * k * draw(&state);
    }
  }
  for (int k = 0; k < 3; k++) {
    cavum_model_row *row = &m->rows[m->num_rows++];
    row->bound = -1;
    row->constant = 1e-3 * draw(&state) + (seed % 11 == 0 ? 0.5 : 0.0);
    for (int j = 0; j < n; j++) row->slope[j] = draw(&state);
    if (k > 0) continue;
    cavum_model_row *back = &m->rows[m->num_rows++];
    *back = *row;
    back->constant = -row->constant;
    for (int j = 0; j < n; j++) back->slope[j] = -row->slope[j];
  }
}

static double row_value(const cavum_model *m, const cavum_model_solution *s, int k) {
  const cavum_model_row *row = &m->rows[k];
  double sum = row->constant - (row->bound < 0 ? s->excess : s->bound[row->bound]);
  for (int j = 0; j < m->num_variables; j++) sum += row->slope[j] * s->step[j];
  return sum;
}

START_TEST(solutions_meet_their_conditions) {
  static cavum_model m;
  static cavum_model_solution s;
  double stationary = 0.0, broken = 0.0, apart = 0.0, shares = 0.0, negative = 0.0;
  for (uint64_t seed = 0; seed < 3000; seed++) {
    double of_limits = 0.0, of_bound[CAVUM_MODEL_MOST_BOUNDS] = {0.0};
    fill(&m, seed);
    cavum_error error = {0};
    cavum_status status = cavum_model_solve(&s, &m, &error);
    if (status != CAVUM_OK) printf("model %d: %s\n", (int)seed, error.message);
    ck_assert_int_eq(status, CAVUM_OK);
    for (int j = 0; j < m.num_variables; j++) {
      double sum = m.gradient[j] + s.at_high[j] - s.at_low[j];
      for (int i = 0; i < m.num_variables; i++) sum += m.curvature[j][i] * s.step[i];
      for (int k = 0; k < m.num_rows; k++) sum += s.multiplier[k] * m.rows[k].slope[j];
      stationary = cavum_max(stationary, fabs(sum));
      apart = cavum_max(apart, fabs(s.at_high[j] * (m.high[j] - s.step[j])));
      apart = cavum_max(apart, fabs(s.at_low[j] * (s.step[j] - m.low[j])));
      broken = cavum_max(broken, cavum_max(s.step[j] - m.high[j], m.low[j] - s.step[j]));
    }
    for (int k = 0; k < m.num_rows; k++) {
      double value = row_value(&m, &s, k);
      broken = cavum_max(broken, value);
      apart = cavum_max(apart, fabs(s.multiplier[k] * value));
      negative = cavum_max(negative, -s.multiplier[k]);
      if (m.rows[k].bound < 0) of_limits += s.multiplier[k];
      if (m.rows[k].bound >= 0) of_bound[m.rows[k].bound] += s.multiplier[k];
    }
    for (int b = 0; b < m.num_bounds; b++) {
      shares = cavum_max(shares, fabs(of_bound[b] - m.weight[b]));
    }
    shares = cavum_max(shares, of_limits - m.penalty);
    if (s.excess > 0.0) shares = cavum_max(shares, fabs(of_limits - m.penalty) * s.excess);
  }
  printf("stationary to %.2g, rows to %.2g, apart %.2g, shares %.2g\n", stationary, broken, apart,
         shares);
  // Rounding of some ten unknowns whose sizes differ by a thousand.
  ck_assert(stationary < 1e-8 && broken < 1e-8 && apart < 1e-8 && shares < 1e-8 && negative == 0.0);
}
END_TEST

static void add(TCase *tests) { tcase_add_test(tests, solutions_meet_their_conditions); }

CAVUM_TEST_MAIN("model", add)
