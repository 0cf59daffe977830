// SPDX-License-Identifier: GPL-3.0-or-later
// Tables of a search: dimensions, figures, limits, starts.
#include "cli/table_optimum.h"

#include <math.h>
#include <string.h>

#include "base/units.h"
#include "format/optimum_cost.h"
#include "format/quantity.h"

enum { NAME_WIDTH = 38, VALUE_WIDTH = 16, UNIT_WIDTH = 10 };

// Keys of cells: `contour.` may be left out of goals, and is elsewhere.
static const char *short_key(const char *key) {
  static const char section[] = "contour.";
  size_t size = sizeof section - 1;
  return strncmp(key, section, size) == 0 ? key + size : key;
}

static const char *unit_of_key(const char *key) {
  return cavum_unit_symbol(cavum_unit_of_key(key));
}

// What the worst case, or the mean, costs against the nominal best shape.
static void print_robust(FILE *out, const cavum_optimum *o, const cavum_optimum_shown *s) {
  const cavum_optimum_robust *r = &o->robust;
  bool mean = r->kind == CAVUM_ROBUST_MEAN;
  const char *where = mean ? "in the mean" : "in the worst case";
  char remark[CAVUM_OPTIMUM_REMARK_SIZE], at_limits[CAVUM_OPTIMUM_BROKEN_SIZE];
  cavum_optimum_remark_on_tolerances(remark, o);
  if (r->left_out) fprintf(out, "\n%s\n", remark);
  if (r->kind == CAVUM_ROBUST_NONE) return;
  const double logs[3] = {r->nominal, r->nominal_worst, o->objective};
  char values[3][CAVUM_OPTIMUM_COST_SIZE];
  for (int k = 0; k < 3; k++) cavum_optimum_shown_text(values[k], s, o, logs[k]);
  if (mean) {
    fputs("\nMeans over the tolerances (second order): objective and limits below are means\n",
          out);
  } else {
    fprintf(out,
            "\nWorst case, %g standard deviations by the tolerances (first order): objective and "
            "limits below are worst cases\n",
            r->deviations);
  }
  // Where limits are broken there is no objective to compare.
  bool within = o->met || o->within_limits;
  if (within) {
    fprintf(out, "  nominal best shape                    %s nominally, %s %s\n", values[0],
            values[1], where);
  }
  cavum_optimum_nominal_at_limits(at_limits, o);
  fprintf(out, "  %-37s %s\n", within ? "there" : "nominal best shape", at_limits);
  fprintf(out, "  this shape, %-25s %s, after %d %s, %d solves\n", where,
          !within   ? "not within the limits"
          : s->term ? values[2]
                    : "the best",
          r->num_passes, r->num_passes == 1 ? "search" : "searches", r->num_solves);
  if (within) {
    fprintf(out, "  tolerances cost                       %.3g %% of the objective\n",
            cavum_in_unit(expm1(o->objective - r->nominal), CAVUM_UNIT_PERCENT));
  }
  if (remark[0]) fprintf(out, "  %s\n", remark);
}

static void print_no_freedom(FILE *out, const cavum_optimum_free_wall *w) {
  fputs("  NO BETTER WALL: the result is the best two ellipses; the search for the free wall ",
        out);
  if (w->end == CAVUM_OPTIMUM_NO_SHAPE) {
    fputs("found no shape\n", out);
  } else if (w->end == CAVUM_OPTIMUM_INFEASIBLE) {
    fprintf(out, "breaks a limit by %.2g, relative\n", w->violation);
  } else if (w->end == CAVUM_OPTIMUM_STOPPED) {
    fputs("was stopped\n", out);
  } else {
    fprintf(out, "ended %s, conditions met to %.2g\n", cavum_optimum_end_word(w->end), w->residual);
  }
}

// What the freedom of the wall brought against the best two ellipses.
static void print_free_wall(FILE *out, const cavum_optimum *o, const cavum_optimum_shown *s) {
  const cavum_optimum_free_wall *w = &o->free_wall;
  if (w->num_points == 0) return;
  double reached = w->taken ? o->objective : w->objective;
  const double logs[3] = {w->two_ellipse, w->start, reached};
  const char *const names[3] = {"best two ellipses", "spline through points of it",
                                w->taken ? "best free wall" : "end of its search"};
  fprintf(out, "\nFree wall: a spline of %d points between iris and equator\n", w->num_points);
  for (int k = 0; k < 3; k++) {
    char value[CAVUM_OPTIMUM_COST_SIZE];
    cavum_optimum_shown_text(value, s, o, logs[k]);
    bool is_best = !s->term && logs[k] == o->objective_exact;
    fprintf(out, "  %-*s %s\n", NAME_WIDTH - 2, names[k], is_best ? "the best" : value);
  }
  if (!w->taken) {
    print_no_freedom(out, w);
    return;
  }
  double gain = cavum_in_unit(-expm1(reached - w->two_ellipse), CAVUM_UNIT_PERCENT);
  fprintf(out, "  %-*s %.3g %%\n", NAME_WIDTH - 2, "gain of the free wall", gain);
}

static void print_dimensions(FILE *out, const cavum_optimum *o, const cavum_optimum_shown *s) {
  fprintf(out, "\n%-*s %*s %*s\n", NAME_WIDTH + 2, "Dimension", VALUE_WIDTH, "before", VALUE_WIDTH,
          "best");
  for (int j = 0; j < o->num_variables; j++) {
    const cavum_optimum_variable *v = &o->variables[j];
    char cost[CAVUM_OPTIMUM_COST_SIZE];
    const char *unit = unit_of_key(v->key);
    fprintf(out, "  %-*s %*.9g %*.9g %-*s", NAME_WIDTH, short_key(v->key), VALUE_WIDTH, v->before,
            VALUE_WIDTH, v->value, UNIT_WIDTH, unit);
    // What room brings is known of a shape within the limits.
    bool known = o->met || o->within_limits;
    if (v->at_bound != 0) {
      cavum_optimum_cost_of_bound(cost, s, v);
      fprintf(out, " at the %s bound%s%s", v->at_bound < 0 ? "lower" : "upper", known ? ": " : "",
              known ? cost : "");
    }
    if (v->is_held) fprintf(out, "%s holds the frequency", v->at_bound != 0 ? "," : "");
    fputc('\n', out);
  }
}

static void write_figure(char text[CAVUM_QUANTITY_SIZE], const cavum_result *result, int mode,
                         cavum_figure_id id, cavum_quantity_unit unit) {
  cavum_figure figure = {.state = CAVUM_FIGURE_ABSENT};
  if (result && mode < result->num_modes) figure = cavum_mode_figure(&result->modes[mode], id);
  snprintf(text, CAVUM_QUANTITY_SIZE, "%s",
           figure.state == CAVUM_FIGURE_UNBOUNDED ? "unbounded" : "-");
  if (figure.state != CAVUM_FIGURE_PRESENT) return;
  double shown = cavum_quantity_shown_uncertainty(result->modes[mode].figures, id);
  cavum_quantity_format(text, cavum_in_unit(figure.value, unit.conversion),
                        cavum_in_unit(shown, unit.conversion));
}

static void print_figures(FILE *out, const char *title, const cavum_result *result,
                          const cavum_result *old, int mode) {
  if (!result || mode >= result->num_modes) return;
  fprintf(out, "\n%-*s %*s %*s\n", NAME_WIDTH + 2, title, VALUE_WIDTH, "before", VALUE_WIDTH,
          "best");
  for (int i = 0; i < CAVUM_NUM_FIGURES; i++) {
    cavum_figure_id id = (cavum_figure_id)i;
    cavum_figure figure = cavum_mode_figure(&result->modes[mode], id);
    if (figure.state == CAVUM_FIGURE_ABSENT) continue;
    cavum_quantity_unit unit = cavum_quantity_unit_to_fit(id, figure.value);
    char before[CAVUM_QUANTITY_SIZE], best[CAVUM_QUANTITY_SIZE], basis[CAVUM_BASIS_SIZE];
    write_figure(before, old, mode, id, unit);
    write_figure(best, result, mode, id, unit);
    cavum_quantity_basis(basis, &figure);
    fprintf(out, "  %-*s %*s %*s %s%s%s\n", NAME_WIDTH, cavum_figure_describe(id).long_name,
            VALUE_WIDTH, before, VALUE_WIDTH, best, unit.name, basis[0] ? "  " : "", basis);
  }
}

static void print_others(FILE *out, const cavum_optimum *o) {
  for (int c = 0; c < o->num_others; c++) {
    char title[CAVUM_OPTIMUM_NAME_SIZE + 16];
    const cavum_optimum_cell *other = &o->others[c];
    snprintf(title, sizeof title, "Figure of %s", other->name);
    print_figures(out, title, other->result, other->before, other->mode);
  }
}

// What was sought and is no figure of the mode, which stand above: in the unit of its key.
static void print_terms(FILE *out, const cavum_optimum *o) {
  bool begun = false;
  for (int i = 0; i < o->num_terms; i++) {
    const cavum_optimum_term *term = &o->terms[i];
    double unit = term->what.unit_si;
    char before[CAVUM_QUANTITY_SIZE] = "-", best[CAVUM_QUANTITY_SIZE];
    if (term->what.kind == CAVUM_REQUIRE_FIGURE) continue;
    if (!begun) {
      fprintf(out, "\n%-*s %*s %*s\n", NAME_WIDTH + 2, "Objective", VALUE_WIDTH, "before",
              VALUE_WIDTH, "best");
    }
    begun = true;
    cavum_quantity_format(best, term->value / unit, term->uncertainty / unit);
    if (isfinite(term->before)) snprintf(before, sizeof before, "%.7g", term->before / unit);
    fprintf(out, "  %-*s %*s %*s %s\n", NAME_WIDTH, term->what.key, VALUE_WIDTH, before,
            VALUE_WIDTH, best, cavum_optimum_unit_of_limit(&term->what));
  }
}

static void print_limit(FILE *out, const cavum_optimum *o, const cavum_optimum_limit *limit,
                        const cavum_optimum_shown *s) {
  char bounds[64] = "", cost[CAVUM_OPTIMUM_COST_SIZE];
  const cavum_requirement *what = &limit->what;
  if (what->least == what->most) {
    snprintf(bounds, sizeof bounds, "is %.9g", what->least);
  } else if (!isfinite(what->most)) {
    snprintf(bounds, sizeof bounds, "at least %.9g", what->least);
  } else if (!isfinite(what->least)) {
    snprintf(bounds, sizeof bounds, "at most %.9g", what->most);
  } else {
    snprintf(bounds, sizeof bounds, "%.9g to %.9g", what->least, what->most);
  }
  fprintf(out, "  %-*s %*.9g  %-24s", NAME_WIDTH, what->key, VALUE_WIDTH, limit->value, bounds);
  if (limit->broken_by > 0.0) {
    fprintf(out, "BROKEN by %.3g %s", limit->broken_by, cavum_optimum_unit_of_limit(what));
  } else if (limit->active == 0) {
    fputs("not active", out);
  } else if (!o->met && !o->within_limits) {
    fputs("active", out);
  } else {
    cavum_optimum_cost_of_limit(cost, s, limit);
    fputs(cost, out);
  }
  fputc('\n', out);
}

// The least length of a piece of the wall is a limit that no goal names.
static void print_vanishing(FILE *out, const cavum_optimum *o) {
  char name[80], bound[64];
  const cavum_optimum_piece *piece = &o->vanishing;
  if (!piece->key[0]) return;
  const char *cell = piece->cell > 0 ? o->others[piece->cell - 1].name : "";
  snprintf(name, sizeof name, "%s%s%s, length, %s half", cell, cell[0] ? "." : "", piece->key,
           piece->in_right_half ? "right" : "left");
  snprintf(bound, sizeof bound, "at least %.6g", cavum_in_mm(piece->least_m));
  fprintf(out, "  %-*s %*.6g  %-24sat its least: it vanishes beyond\n", NAME_WIDTH, name,
          VALUE_WIDTH, cavum_in_mm(piece->length_m), bound);
}

static void print_starts(FILE *out, const cavum_optimum *o, const cavum_optimum_shown *s) {
  if (o->robust.kind != CAVUM_ROBUST_NONE) {
    fputs("\nStarts, searched without tolerances: their objectives are nominal", out);
  }
  fprintf(out, "\n%-8s %8s %16s %12s %12s\n", "Start", "solves", "objective", "residual",
          "violation");
  const char *unit = cavum_optimum_shown_unit(s);
  if (unit[0]) fprintf(out, "%*s\n", 8 + 1 + 8 + 1 + 16, unit);
  int best = cavum_optimum_best_start(o);
  for (int i = 0; i < o->num_starts; i++) {
    const cavum_optimum_start *start = &o->starts[i];
    fprintf(out, "  %-6d %8d %16.*g %12.2g %12.2g  %s%s\n", i + 1, start->num_solves,
            s->term ? 9 : 3, cavum_optimum_shown_start(s, o, start->objective), start->residual,
            start->violation, cavum_optimum_end_word(start->end),
            i == best        ? ", the best"
            : start->is_best ? ", as good"
                             : "");
  }
}

static const char *plural(int count) { return count == 1 ? "" : "s"; }

static const char *verdict(const cavum_optimum *o) {
  if (o->end == CAVUM_OPTIMUM_STOPPED) {
    return o->met || o->within_limits
               ? "STOPPED, NOT PROVEN BEST, the best so far within the limits"
               : "STOPPED before the limits were met, this came nearest";
  }
  if (o->met && o->not_rounded) return "best shape, NOT ROUNDED";
  if (o->met) return "best shape";
  if (o->within_limits) return "NOT PROVEN BEST, the best within the limits";
  return o->end == CAVUM_OPTIMUM_OUT_OF_SOLVES
             ? "OUT OF SOLVES before the limits were met, this came nearest"
             : "NO BEST SHAPE, this came nearest";
}

// How many solves of which search.
static void print_counts(FILE *out, const cavum_optimum *o) {
  const cavum_optimum_free_wall *w = &o->free_wall;
  const cavum_optimum *two = w->taken ? w->two_ellipse_search : o;
  fprintf(out, "mode %d: %s after %d solve%s", o->mode + 1, verdict(o), o->num_solves,
          plural(o->num_solves));
  if (w->num_points > 0 && two) {
    fprintf(out,
            ": %d from %d start%s of two ellipses, %d from the best of these for the free wall",
            w->num_solves, two->num_starts, plural(two->num_starts), w->num_solves_free);
  } else {
    fprintf(out, " from %d start%s", o->num_starts, plural(o->num_starts));
  }
  if (two && two->num_optima > 1) {
    fprintf(out, "; starts led to %d DIFFERENT OPTIMA", two->num_optima);
  }
}

// Whether dimensions are multiples of their steps, or why not.
static void print_rounding(FILE *out, const cavum_optimum *o) {
  bool has_steps = false;
  for (int j = 0; j < o->num_variables; j++) has_steps = has_steps || o->variables[j].step > 0.0;
  if (has_steps && o->met && !o->not_rounded) {
    fputs(
        "rounded to the steps: dimensions, figures and values of the limits are those of the "
        "rounded shape; which limits\nare active, and the gain from relaxing them, are those of "
        "the best shape before rounding\n",
        out);
    fprintf(out, "rounding costs %.3g %% of the objective\n",
            cavum_in_unit(expm1(o->objective - o->objective_exact), CAVUM_UNIT_PERCENT));
  }
  if (!o->not_rounded) return;
  if (o->end == CAVUM_OPTIMUM_STOPPED) {
    fputs("NOT ROUNDED: the search was stopped before\n", out);
    return;
  }
  fputs("NOT ROUNDED: no way that was tried of rounding to the steps ", out);
  if (isnan(o->rounding_violation)) {
    fputs("is a shape\n", out);
  } else if (o->rounding_broken[0]) {
    fprintf(out, "keeps the limits; of the best,\n%s\n", o->rounding_broken);
  } else {
    fprintf(out, "keeps the limits, the best breaks one by %.2g, relative\n",
            o->rounding_violation);
  }
}

// What was sought: keys, each to its power, of figures that are to be small and of those that are
// to be large.
static void print_objective(FILE *out, const cavum_optimum *o) {
  for (int large = 0; large < 2; large++) {
    bool begun = false;
    for (int i = 0; i < o->num_terms; i++) {
      const cavum_optimum_term *term = &o->terms[i];
      double power = fabs(term->weight);
      if ((term->weight < 0.0) != (large != 0)) continue;
      fprintf(out, "%s%s", begun ? " * " : large ? "maximised: " : "minimised: ", term->what.key);
      if (power != 1.0) fprintf(out, "^%g", power);
      begun = true;
    }
    if (begun) fputc('\n', out);
  }
}

static void print_search(FILE *out, const cavum_optimum *o, const cavum_optimum_shown *s) {
  print_dimensions(out, o, s);
  print_figures(out, "Figure", o->result, o->before, o->mode);
  print_others(out, o);
  print_terms(out, o);
  if (o->num_limits > 0 || o->vanishing.key[0]) fputs("\nLimit\n", out);
  for (int i = 0; i < o->num_limits; i++) print_limit(out, o, &o->limits[i], s);
  print_vanishing(out, o);
  print_starts(out, o, s);
}

void cavum_table_optimum_print(FILE *out, const cavum_optimum *optimum, const char *title) {
  const cavum_optimum *o = optimum, *two = o->free_wall.two_ellipse_search;
  cavum_optimum_shown s = cavum_optimum_shown_of(o);
  if (title[0]) fprintf(out, "%s\n\n", title);
  print_objective(out, o);
  print_counts(out, o);
  bool within = o->met || o->within_limits;
  if (within) {
    fprintf(out, "\nfirst-order conditions met to %.2g, limits to %.2g", o->residual, o->violation);
  } else {
    if (o->broken[0]) fprintf(out, "\nlimits broken: %s", o->broken);
    if (!o->broken[0]) fprintf(out, "\nlimits broken by %.2g, relative", o->violation);
  }
  bool ended = o->met && o->end != CAVUM_OPTIMUM_STOPPED;
  if (!ended) fprintf(out, " (%s)", cavum_optimum_end_word(o->end));
  fputc('\n', out);
  if (o->unproven[0]) fprintf(out, "not proven best: %s\n", o->unproven);
  if (o->num_left_out > 0) {
    fprintf(out, "LEFT OUT of the steps: %d places along the walls, those farthest from a peak\n",
            o->num_left_out);
  }
  print_rounding(out, o);
  print_robust(out, o, &s);
  print_free_wall(out, o, &s);
  print_search(out, o, &s);
  if (!two) return;
  s = cavum_optimum_shown_of(two);
  fprintf(out,
          "\nBest two ellipses, which the free wall starts from\n%d solve%s from %d start%s; "
          "first-order conditions met to %.2g, limits to %.2g\n",
          o->free_wall.num_solves, plural(o->free_wall.num_solves), two->num_starts,
          plural(two->num_starts), two->residual, two->violation);
  print_search(out, two, &s);
}
