// SPDX-License-Identifier: GPL-3.0-or-later
// Cold and warm solves of neighbours, timed stage by stage.
#include "rate_series.h"

#include "base/base.h"

const rate_accuracy rate_accuracies[RATE_NUM_ACCURACIES] = {{"default", 1e-6, 1e-4},
                                                            {"tight", 1e-9, 1e-6}};

static const char *const stage_names[RATE_NUM_STAGES] = {"contour", "mesh", "coefficients", "eigen",
                                                         "figures", "rest", "total"};

static void add(rate_series *series, const cavum_result *result, double seconds) {
  if (!result) {
    series->failed++;
    return;
  }
  if (series->count == RATE_SERIES_MOST) return;
  const cavum_timings *t = &result->timings;
  double stages[RATE_NUM_STAGES] = {t->contour_s, t->mesh_s, t->assembly_s, t->eigen_s,
                                    t->figures_s, seconds,   seconds};
  for (int i = RATE_CONTOUR; i < RATE_REST; i++) stages[RATE_REST] -= stages[i];
  for (int i = 0; i < RATE_NUM_STAGES; i++) series->seconds[i][series->count] = stages[i];
  series->not_reached += !result->accuracy_reached;
  series->count++;
}

void rate_pair_add(rate_pair *pair, cavum_solver *solver, const cavum_cell *cell,
                   random_state *state, int shape) {
  cavum_result *first = NULL, *warm = NULL, *cold = NULL;
  cavum_cell neighbour;
  if (!neighbour_make(&neighbour, cell, state, NEIGHBOUR_STEP)) {
    pair->skipped++;
    neighbour_clear(&neighbour);
    return;
  }
  (void)cavum_solver_solve(&first, solver, cell, NULL);
  double start = cavum_seconds();
  (void)cavum_solver_solve(&warm, solver, &neighbour, NULL);
  add(&pair->warm, warm, cavum_seconds() - start);
  start = cavum_seconds();
  (void)cavum_solve(&cold, &neighbour, NULL, NULL);
  add(&pair->cold, cold, cavum_seconds() - start);
  warm_cold_add(&pair->apart, warm, cold, shape);
  cavum_result_destroy(&first);
  cavum_result_destroy(&warm);
  cavum_result_destroy(&cold);
  neighbour_clear(&neighbour);
}

double rate_series_median(rate_series *series, rate_stage stage) {
  return rate_quantile(series->seconds[stage], series->count, 0.5);
}

static void report_series(rate_series *series, json_t *report, const char *key, const char *kind) {
  double middle = rate_series_median(series, RATE_TOTAL);
  double slow = rate_quantile(series->seconds[RATE_TOTAL], series->count, 0.99);
  printf("  %s %9.1f us (%.1f);", kind, 1e6 * middle, 1e6 * slow);
  rate_report_set(report, 1e3 * middle, "%s_ms", key);
  rate_report_set(report, 1e3 * slow, "%s_p99_ms", key);
  for (int i = 0; i < RATE_TOTAL; i++) {
    double stage = rate_series_median(series, (rate_stage)i);
    double stage_slow = rate_quantile(series->seconds[i], series->count, 0.99);
    printf(" %s %.1f (%.1f)%s", stage_names[i], 1e6 * stage, 1e6 * stage_slow,
           i + 1 < RATE_TOTAL ? "," : " us");
    rate_report_set(report, 1e6 * stage, "%s_%s_us", key, stage_names[i]);
  }
  if (series->not_reached > 0) printf("; %d not as accurate as asked", series->not_reached);
  if (series->failed > 0) printf("; %d without a result", series->failed);
  printf("\n");
}

void rate_pair_report(rate_pair *pair, json_t *report, const char *prefix, const char *title,
                      const rate_accuracy *accuracy) {
  char key[64];
  printf("%s at %.0e/%.0e, %d solves each, medians (99 %%)", title, accuracy->frequency,
         accuracy->other_figures, pair->warm.count);
  if (pair->skipped > 0) printf(" (%d neighbours cannot exist)", pair->skipped);
  printf("\n");
  snprintf(key, sizeof key, "%swarm_%s", prefix, accuracy->name);
  report_series(&pair->warm, report, key, "warm");
  snprintf(key, sizeof key, "%scold_%s", prefix, accuracy->name);
  report_series(&pair->cold, report, key, "cold");
  warm_cold_print(&pair->apart, "  apart");
}
