// SPDX-License-Identifier: GPL-3.0-or-later
// Everything that becomes small on the way to the best shape, on one logarithmic axis.
#include "picture/search_view.h"

#include <math.h>

#include "base/base.h"
#include "picture/chart_draw.h"

// Below this an objective is the best one: it is known no better.
static const double LEAST = 1e-12;

static void put(cavum_chart_series *series, int solve, double value) {
  if (value > LEAST) cavum_chart_put(series, solve, value, 0.0, 0.0);
}

void cavum_search_view_fill(cavum_chart *chart, const cavum_optimum *optimum) {
  const cavum_optimum *o = optimum;
  chart->name = "search";
  chart->caption = "How far each solve of the start that led to the best shape was from it.";
  chart->x_name = "solve";
  chart->x_unit = "";
  chart->x_label = "solve";
  chart->y_unit = "";
  chart->y_label = "distance from the best";
  chart->logarithmic = true;
  cavum_chart_series *off =
      cavum_chart_add(chart, o->num_steps, "objective above or below the best, relative");
  cavum_chart_series *broken =
      cavum_chart_add(chart, o->num_steps, "limit that is broken most, relative");
  cavum_chart_series *residual =
      cavum_chart_add(chart, o->num_steps, "residual of the first-order conditions");
  cavum_chart_series *refused = cavum_chart_add(chart, o->num_steps, "objective, step not taken");
  if (chart->failed || !off || !broken || !residual || !refused) return;
  off->points = broken->points = residual->points = refused->points = true;
  off->ink = CAVUM_INK_FIRST;
  broken->ink = CAVUM_INK_SECOND;
  residual->ink = CAVUM_INK_THIRD;
  refused->ink = CAVUM_INK_MUTED;
  off->mark = CAVUM_MARK_CIRCLE;
  broken->mark = CAVUM_MARK_SQUARE;
  residual->mark = CAVUM_MARK_DIAMOND;
  refused->mark = CAVUM_MARK_CIRCLE;
  for (int k = 0; k < o->num_steps; k++) {
    const cavum_optimum_step *step = &o->steps[k];
    put(step->accepted ? off : refused, k + 1, fabs(expm1(step->objective - o->objective_exact)));
    put(broken, k + 1, step->violation);
    put(residual, k + 1, step->residual);
  }
}

cavum_status cavum_search_view_draw(char **bytes, size_t *size, const cavum_optimum *optimum,
                                    const char *title, const cavum_draw_request *request,
                                    cavum_error *error) {
  cavum_chart *chart = cavum_alloc(1, sizeof *chart);
  if (!chart) return cavum_fail_memory(error);
  cavum_search_view_fill(chart, optimum);
  cavum_status status = cavum_chart_check(chart, error);
  if (status == CAVUM_OK && !cavum_chart_has_content(chart)) {
    status = cavum_fail(error, CAVUM_ERR_INPUT, "the search has no path to draw");
  }
  if (status == CAVUM_OK) status = cavum_chart_draw_page(bytes, size, chart, title, request, error);
  cavum_chart_clear(chart);
  free(chart);
  return status;
}
