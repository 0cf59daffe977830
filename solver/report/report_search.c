// SPDX-License-Identifier: GPL-3.0-or-later
// The search that led to a cell: dimensions, limits with what they cost, starts, the path.
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "format/optimum_cost.h"
#include "format/quantity.h"
#include "picture/search_view.h"
#include "report/chart_html.h"
#include "report/report_private.h"

#define DASH "\xe2\x80\x93"

// Rounding of a double beside what solvers know.
static const double EXACT = 1e-9;

static void write_number(char text[96], const char *form, double value) {
  char number[64] = DASH;
  if (isfinite(value)) snprintf(number, sizeof number, form, value);
  cavum_html_beautify(text, 96, number);
}

// What tolerances cost, and of what the numbers below are.
static void write_tolerances(cavum_html *html, const cavum_optimum *o) {
  char text[640], remark[CAVUM_OPTIMUM_REMARK_SIZE];
  const cavum_optimum_robust *r = &o->robust;
  const cavum_optimum_shown shown = cavum_optimum_shown_of(o);
  cavum_optimum_remark_on_tolerances(remark, o);
  if (remark[0]) cavum_html_paragraph(html, "", remark);
  if (r->kind == CAVUM_ROBUST_NONE) return;
  if (r->kind == CAVUM_ROBUST_MEAN) {
    snprintf(text, sizeof text,
             "Objective and limits are means over the tolerances, to second order.");
  } else {
    snprintf(text, sizeof text,
             "Objective and limits are those of the worst case, %g standard deviations by the "
             "tolerances to first order.",
             r->deviations);
  }
  cavum_html_paragraph(html, "", text);
  const char *where = r->kind == CAVUM_ROBUST_MEAN ? "in the mean" : "in the worst case";
  char broken[CAVUM_OPTIMUM_BROKEN_SIZE];
  cavum_optimum_nominal_at_limits(broken, o);
  snprintf(
      text, sizeof text,
      "The nominal best shape has %.7g %s nominally and %.7g %s, where %s; this shape has %.7g "
      "%s. Tolerances cost %.3g %% of the objective, and took %d solves.",
      cavum_optimum_shown_value(&shown, o, r->nominal), cavum_optimum_shown_unit(&shown),
      cavum_optimum_shown_value(&shown, o, r->nominal_worst), where, broken,
      cavum_optimum_shown_value(&shown, o, o->objective), where,
      cavum_in_unit(expm1(o->objective - r->nominal), CAVUM_UNIT_PERCENT), r->num_solves);
  cavum_html_paragraph(html, "", text);
}

static void write_facts(cavum_html *html, const cavum_optimum *o) {
  char text[512];
  bool stopped = o->end == CAVUM_OPTIMUM_STOPPED;
  if (!o->met && !o->within_limits) {
    snprintf(text, sizeof text, "%s before the limits were met: this shape came nearest%s%s.",
             stopped ? "Stopped" : "Out of solves", o->broken[0] ? ": " : "", o->broken);
    cavum_html_paragraph(html, "", text);
  } else if (!o->met || stopped) {
    snprintf(text, sizeof text,
             "Not proven best: the search ended %s. The shape keeps every limit to its accuracy, "
             "but a better one may be near%s%s.",
             cavum_optimum_end_word(o->end), o->unproven[0] ? ": " : "", o->unproven);
    cavum_html_paragraph(html, "", text);
  }
  if (o->not_rounded) {
    cavum_html_paragraph(html, "",
                         stopped ? "Not rounded: the search was stopped before."
                                 : "Not rounded: no way that was tried of rounding to the steps "
                                   "keeps the limits. This is the best shape before rounding.");
  }
  const cavum_optimum_free_wall *w = &o->free_wall;
  if (w->num_points > 0) {
    snprintf(text, sizeof text,
             w->taken ? "A free wall, a spline of %d points, started from the best two ellipses: "
                        "%d solves for these, %d for the free wall."
                      : "The best two ellipses: a spline of %d points was no better within the "
                        "limits (%d solves for the ellipses, %d for the free wall).",
             w->num_points, w->num_solves, w->num_solves_free);
    cavum_html_paragraph(html, "", text);
  }
  char conditions[96], limits[96];
  write_number(conditions, "%.2g", o->residual);
  write_number(limits, "%.2g", o->violation);
  snprintf(text, sizeof text,
           "Mode %d, %d solves from %d %s%s. First-order conditions met to %s, limits to %s.",
           o->mode + 1, o->num_solves, o->num_starts, o->num_starts == 1 ? "start" : "starts",
           o->num_optima > 1 ? ", which led to different optima" : "", conditions, limits);
  cavum_html_paragraph(html, "", text);
  write_tolerances(html, o);
}

// What a requirement is about in a result; absent where it is no figure of the mode, and of a
// search with tolerances, which has worst cases or means in its place.
static cavum_figure find_figure(const cavum_result *result, const cavum_optimum *o,
                                const cavum_requirement *what) {
  const cavum_figure none = {.state = CAVUM_FIGURE_ABSENT};
  bool nominal = o->robust.kind == CAVUM_ROBUST_NONE && what->kind == CAVUM_REQUIRE_FIGURE;
  if (!nominal || !result || o->mode >= result->num_modes) return none;
  const cavum_figure *figures = result->modes[o->mode].figures;
  return cavum_quantity_shown_figure(figures, what->figure);
}

// In the unit of the key, as the mode has it: one value has one uncertainty on a page.
static void write_value(char text[96], const cavum_figure *figure, double value, double uncertainty,
                        const cavum_requirement *what) {
  char number[CAVUM_QUANTITY_SIZE];
  bool there = figure->state == CAVUM_FIGURE_PRESENT;
  if (there)
    value = figure->value / what->unit_si, uncertainty = figure->uncertainty / what->unit_si;
  // What the outline alone has is known to all digits of a double.
  bool exact = !there && uncertainty <= EXACT * fabs(value);
  if (exact) uncertainty = 0.0;
  cavum_quantity_format(number, value, uncertainty);
  if (exact) snprintf(number, sizeof number, "%.9g", value);
  if (!isfinite(value)) snprintf(number, sizeof number, DASH);
  cavum_html_beautify(text, 96, number);
}

// The figures of the objective, in the unit of their keys as limits are.
static void write_objective(cavum_html *html, const cavum_optimum *o, const cavum_result *result) {
  static const char *const columns[] = {"figure", "aim", "#power", "#before", "#best"};
  if (o->num_terms == 0) return;
  cavum_html_begin_table(html,
                         o->num_terms == 1
                             ? "Objective"
                             : "Objective: the product of these figures, each to its power",
                         5, columns);
  for (int i = 0; i < o->num_terms; i++) {
    const cavum_optimum_term *term = &o->terms[i];
    const cavum_figure was = find_figure(o->before, o, &term->what);
    const cavum_figure is = find_figure(result, o, &term->what);
    double one = term->what.unit_si;
    char power[96], before[96], best[96], name[CAVUM_REPORT_NAME_SIZE];
    write_number(power, "%.6g", fabs(term->weight));
    write_number(before, "%.5g", term->before / one);
    if (was.state == CAVUM_FIGURE_PRESENT) write_value(before, &was, NAN, NAN, &term->what);
    write_value(best, &is, term->value / one, term->uncertainty / one, &term->what);
    cavum_report_name_requirement(name, &term->what);
    const char *row[] = {name, term->weight > 0.0 ? "least" : "largest", power, before, best};
    cavum_html_row(html, 5, row, columns);
  }
  cavum_html_end_table(html);
}

static void write_dimensions(cavum_html *html, const cavum_optimum *o) {
  static const char *const columns[] = {"dimension", "#before",        "#best",
                                        "unit",      "#lower bound",   "#upper bound",
                                        "remark",    "gain if relaxed"};
  const cavum_optimum_shown shown = cavum_optimum_shown_of(o);
  cavum_html_begin_table(html, "Dimensions, and the gain from relaxing a bound", 8, columns);
  for (int j = 0; j < o->num_variables; j++) {
    const cavum_optimum_variable *v = &o->variables[j];
    char cells[4][96], cost[CAVUM_OPTIMUM_COST_SIZE], room[96], name[CAVUM_REPORT_NAME_SIZE];
    write_number(cells[0], "%.9g", v->before);
    write_number(cells[1], "%.9g", v->value);
    write_number(cells[2], "%.6g", v->low);
    write_number(cells[3], "%.6g", v->high);
    cavum_optimum_cost_of_bound(cost, &shown, v);
    cavum_html_beautify(room, sizeof room, cost);
    cavum_report_name_dimension(name, v->key, false);
    const char *remark = v->at_bound < 0   ? "at the lower bound"
                         : v->at_bound > 0 ? "at the upper bound"
                         : v->is_held      ? "holds the frequency"
                         : v->step > 0.0   ? o->not_rounded ? "not rounded" : "rounded"
                                           : "";
    const char *row[] = {name, cells[0], cells[1], v->unit, cells[2], cells[3], remark, room};
    cavum_html_row(html, 8, row, columns);
  }
  cavum_html_end_table(html);
}

// The least length of a piece of the wall is a limit that no goal names.
static void write_vanishing(cavum_html *html, const cavum_optimum *o,
                            const char *const columns[6]) {
  char name[CAVUM_REPORT_NAME_SIZE], length[96], least[96];
  const cavum_optimum_piece *piece = &o->vanishing;
  if (!piece->key[0]) return;
  const char *cell = piece->cell > 0 ? o->others[piece->cell - 1].name : "";
  snprintf(name, sizeof name, "length of %s%s%s in the %s half in mm", cell, cell[0] ? "." : "",
           piece->key, piece->in_right_half ? "right" : "left");
  write_number(length, "%.6g", cavum_in_mm(piece->length_m));
  write_number(least, "%.6g", cavum_in_mm(piece->least_m));
  const char *row[] = {name, length, least, DASH, "at the least", "vanishes beyond"};
  cavum_html_row(html, 6, row, columns);
}

static void write_limits(cavum_html *html, const cavum_optimum *o, const cavum_result *result) {
  static const char *const columns[] = {"limit", "#value", "#least",
                                        "#most", "active", "gain if relaxed"};
  const cavum_optimum_shown shown = cavum_optimum_shown_of(o);
  if (o->num_limits == 0 && !o->vanishing.key[0]) return;
  cavum_html_begin_table(html, "Limits, and the gain from relaxing an active one", 6, columns);
  for (int i = 0; i < o->num_limits; i++) {
    const cavum_optimum_limit *limit = &o->limits[i];
    const cavum_figure is = find_figure(result, o, &limit->what);
    char cells[3][96], cost[CAVUM_OPTIMUM_COST_SIZE], room[96], name[CAVUM_REPORT_NAME_SIZE];
    write_value(cells[0], &is, limit->value, limit->uncertainty, &limit->what);
    write_number(cells[1], "%.9g", limit->what.least);
    write_number(cells[2], "%.9g", limit->what.most);
    cavum_optimum_cost_of_limit(cost, &shown, limit);
    cavum_html_beautify(room, sizeof room, cost);
    cavum_report_name_requirement(name, &limit->what);
    const char *active = limit->active == 0                      ? "no"
                         : limit->what.least == limit->what.most ? "held"
                         : limit->active < 0                     ? "at the least"
                                                                 : "at the most";
    const char *row[] = {name, cells[0], cells[1], cells[2], active, room};
    cavum_html_row(html, 6, row, columns);
  }
  write_vanishing(html, o, columns);
  cavum_html_end_table(html);
}

static void write_starts(cavum_html *html, const cavum_optimum *o) {
  static const char *const columns[] = {"start",     "end",        "#solves", "#worse by, %",
                                        "#residual", "#violation", "remark"};
  bool robust = o->robust.kind != CAVUM_ROBUST_NONE;
  int best = cavum_optimum_best_start(o);
  cavum_html_begin_table(
      html,
      robust ? "Starts, without tolerances; how much worse than the best of these the nominal "
               "objective is where each ended (below 0: better, beyond limits)"
             : "Starts; how much worse than the best the objective is where each ended (below 0: "
               "better, beyond limits)",
      7, columns);
  for (int i = 0; i < o->num_starts; i++) {
    const cavum_optimum_start *start = &o->starts[i];
    char cells[5][96];
    snprintf(cells[0], sizeof cells[0], "%d", i + 1);
    snprintf(cells[1], sizeof cells[1], "%d", start->num_solves);
    write_number(cells[2], "%.3g",
                 cavum_in_unit(expm1(start->objective - cavum_optimum_best_of_starts(o)),
                               CAVUM_UNIT_PERCENT));
    write_number(cells[3], "%.2g", start->residual);
    write_number(cells[4], "%.2g", start->violation);
    const char *row[] = {cells[0],
                         cavum_optimum_end_word(start->end),
                         cells[1],
                         cells[2],
                         cells[3],
                         cells[4],
                         i == best        ? "led to the best"
                         : start->is_best ? "as good"
                                          : ""};
    cavum_html_row(html, 7, row, columns);
  }
  cavum_html_end_table(html);
}

static cavum_status write_path(cavum_html *html, const cavum_optimum *o, cavum_error *error) {
  cavum_chart *chart = cavum_alloc(1, sizeof *chart);
  if (!chart) return cavum_fail_memory(error);
  cavum_search_view_fill(chart, o);
  cavum_status status = cavum_chart_check(chart, error);
  if (status == CAVUM_OK && cavum_chart_has_content(chart)) {
    status = cavum_html_write_chart(html, chart, error);
  }
  cavum_chart_clear(chart);
  free(chart);
  return status;
}

cavum_status cavum_report_write_search(cavum_html *html, const cavum_optimum *optimum,
                                       const cavum_result *result, cavum_error *error) {
  cavum_html_heading(html, 2, "search", "Search");
  write_facts(html, optimum);
  write_objective(html, optimum, result);
  write_dimensions(html, optimum);
  write_limits(html, optimum, result);
  write_starts(html, optimum);
  return write_path(html, optimum, error);
}
