// SPDX-License-Identifier: GPL-3.0-or-later
// Everything that becomes small on the way to the best shape, on one logarithmic axis.
#include "picture/search_view.h"

#include <math.h>
#include <stdio.h>

#include "base/base.h"
#include "picture/chart_draw.h"

// Below this a value is as good as zero: an objective is known no better than that.
static const double LEAST = 1e-12;
#define MINUS_TWELVE "\xe2\x81\xbb\xc2\xb9\xc2\xb2"
// The best shape is one of the steps, but for what its own solve improved.
static const double BEST_ITSELF = 1e-6;

// Marks in an ink, and a thin line through them. Marks of the three series lie on each other near
// the end: each is smaller than the one before it.
static cavum_chart_series *add_marks(cavum_chart_series **line, cavum_chart *chart, int most,
                                     const char *text, cavum_ink ink, cavum_plot_mark mark,
                                     double scale) {
  *line = cavum_chart_add(chart, most, "");
  cavum_chart_series *marks = cavum_chart_add(chart, most, text);
  if (!*line || !marks) return NULL;
  (*line)->guide = true;
  (*line)->ink = marks->ink = ink;
  (*line)->width = 0.8;
  marks->points = true;
  marks->mark = mark;
  marks->scale = scale;
  return marks;
}

static void put(cavum_chart_series *series, int solve, double value) {
  if (value > LEAST) cavum_chart_put(series, solve, value, 0.0, 0.0);
}

static double distance_of(const cavum_optimum *o, int step) {
  return fabs(expm1(o->steps[step].objective - o->objective_exact));
}

// The step that is the best shape: the last that was taken, where it has the objective of the best;
// -1: none.
static int find_best(const cavum_optimum *o) {
  int last = -1;
  for (int k = 0; k < o->num_steps; k++) {
    if (o->steps[k].accepted) last = k;
  }
  return last >= 0 && distance_of(o, last) < BEST_ITSELF ? last : -1;
}

void cavum_search_view_fill(cavum_chart *chart, const cavum_optimum *optimum) {
  const cavum_optimum *o = optimum;
  chart->name = "search";
  chart->caption = o->robust.kind == CAVUM_ROBUST_NONE
                       ? "How far each solve of the start that led to the best shape was from it."
                       : "How far each solve of the last search with tolerances was from the best "
                         "shape.";
  chart->x_name = "solve";
  chart->x_unit = "";
  chart->x_label = "solve";
  chart->y_unit = "";
  chart->y_label = "distance from the best shape";
  chart->logarithmic = chart->counts = true;
  cavum_chart_series *lines[3];
  cavum_chart_series *off =
      add_marks(&lines[0], chart, o->num_steps, "objective above or below the best, relative",
                CAVUM_INK_FIRST, CAVUM_MARK_CIRCLE, 1.8);
  cavum_chart_series *broken =
      add_marks(&lines[1], chart, o->num_steps, "limit that is broken most, relative",
                CAVUM_INK_SECOND, CAVUM_MARK_SQUARE, 1.3);
  cavum_chart_series *residual =
      add_marks(&lines[2], chart, o->num_steps, "residual of the first-order conditions",
                CAVUM_INK_THIRD, CAVUM_MARK_DIAMOND, 0.9);
  cavum_chart_series *refused = cavum_chart_add(chart, o->num_steps, "objective, step not taken");
  if (chart->failed || !off || !broken || !residual || !refused) return;
  refused->points = true;
  refused->ink = CAVUM_INK_MUTED;
  refused->mark = CAVUM_MARK_CIRCLE;
  int best = find_best(o);
  snprintf(chart->remark, sizeof chart->remark, "Values below 10" MINUS_TWELVE " are not drawn%s.",
           best >= 0 ? ", nor the best shape's own distance of 0" : "");
  for (int k = 0; k < o->num_steps; k++) {
    const cavum_optimum_step *step = &o->steps[k];
    double from_best = k == best ? 0.0 : distance_of(o, k);
    put(step->accepted ? off : refused, k + 1, from_best);
    if (step->accepted) put(lines[0], k + 1, from_best);
    put(broken, k + 1, step->violation);
    put(lines[1], k + 1, step->violation);
    put(residual, k + 1, step->residual);
    put(lines[2], k + 1, step->residual);
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
