// SPDX-License-Identifier: GPL-3.0-or-later
// Tables of a search: dimensions, figures, limits, starts.
#include "cli/table_optimum.h"

#include <math.h>
#include <string.h>

#include "base/units.h"
#include "format/quantity.h"

enum { NAME_WIDTH = 38, VALUE_WIDTH = 16, UNIT_WIDTH = 10, COST_SIZE = 96 };

// What the objective is shown by: its figure where there is one, with power 1; else percent.
typedef struct shown {
  const cavum_optimum_term *term;  // NULL: percent of the product
  cavum_quantity_unit unit;
} shown;

static shown shown_of(const cavum_optimum *o) {
  shown s = {NULL, {0}};
  if (o->num_terms != 1 || fabs(o->terms[0].weight) != 1.0) return s;
  if (o->terms[0].what.kind != CAVUM_REQUIRE_FIGURE) return s;
  s.term = &o->terms[0];
  s.unit = cavum_quantity_unit_to_fit(s.term->what.figure, s.term->value);
  return s;
}

// A step that the derivative may be shown for: a tenth of a unit, and of what is below 1 the power
// of ten that is a hundredth of it at most.
static double step_of_cost(double value) {
  static const double STEP = 0.1, PART = 0.01;
  double size = fabs(value);
  return size >= 1.0 || !(size > 0.0) ? STEP : pow(10.0, floor(log10(PART * size)));
}

// "0.1 mm more room brings 0.012 mT/(MV/m)" of what one unit more brings.
static void write_cost(char text[COST_SIZE], const shown *s, double multiplier, double step,
                       const char *unit, const char *way) {
  double logs = step * multiplier;
  double change = s->term ? cavum_in_unit(logs * s->term->value, s->unit.conversion)
                          : cavum_in_unit(logs, CAVUM_UNIT_PERCENT);
  snprintf(text, COST_SIZE, "%g%s%s %s brings %.3g %s", step, unit[0] ? " " : "", unit, way, change,
           s->term ? s->unit.name : "%");
}

// A product has no unit that helps: it is shown over that of the best shape.
static double shown_objective(double logarithm, const cavum_optimum *o, const shown *s) {
  if (!s->term) return exp(logarithm - o->objective_exact);
  return cavum_in_unit(exp(logarithm / s->term->weight), s->unit.conversion);
}

static const char *objective_unit(const shown *s) { return s->term ? s->unit.name : "of the best"; }

// Keys of cells: `contour.` may be left out of goals, and is elsewhere.
static const char *short_key(const char *key) {
  static const char section[] = "contour.";
  size_t size = sizeof section - 1;
  return strncmp(key, section, size) == 0 ? key + size : key;
}

// Unit of a limit; "" of a pure number.
static const char *unit_of_limit(const cavum_requirement *what) {
  int id = (int)what->kind - (int)CAVUM_REQUIRE_WALL_ANGLE;
  if (id >= 0 && id < CAVUM_NUM_GEOMETRY_FIGURES)
    return cavum_geometry_describe((cavum_geometry_id)id).file_unit;
  return cavum_unit_symbol(cavum_unit_of_key(what->key));
}

static const char *unit_of_key(const char *key) {
  return cavum_unit_symbol(cavum_unit_of_key(key));
}

// What the worst case costs against the nominal best shape.
static void print_robust(FILE *out, const cavum_optimum *o, const shown *s) {
  const cavum_optimum_robust *r = &o->robust;
  if (!(r->deviations > 0.0)) return;
  const double logs[3] = {r->nominal, r->nominal_worst, o->objective};
  double values[3];
  for (int k = 0; k < 3; k++) values[k] = shown_objective(logs[k], o, s);
  fprintf(
      out,
      "\nIn the worst case, %g standard deviations by the tolerances (first order): objective and "
      "limits below are those\n",
      r->deviations);
  fprintf(out, "  nominal best shape                %14.7g %s nominally, %.7g in the worst case\n",
          values[0], objective_unit(s), values[1]);
  fprintf(out, "  which then breaks a limit by      %14.2g\n", r->nominal_violation);
  fprintf(out, "  this shape, in the worst case     %14.7g %s, after %d %s\n", values[2],
          objective_unit(s), r->num_passes, r->num_passes == 1 ? "search" : "searches");
}

static void print_no_freedom(FILE *out, const cavum_optimum_free_wall *w) {
  fputs("  NO BETTER WALL: the result is the best two ellipses; the search for the free wall ",
        out);
  if (w->end == CAVUM_OPTIMUM_NO_SHAPE) {
    fputs("found no shape\n", out);
  } else if (w->end == CAVUM_OPTIMUM_INFEASIBLE) {
    fprintf(out, "breaks a limit by %.2g\n", w->violation);
  } else {
    fprintf(out, "ended %s, conditions met to %.2g\n", cavum_optimum_end_word(w->end), w->residual);
  }
}

// What the freedom of the wall brought against the best two ellipses.
static void print_free_wall(FILE *out, const cavum_optimum *o, const shown *s) {
  const cavum_optimum_free_wall *w = &o->free_wall;
  if (w->num_points == 0) return;
  double reached = w->taken ? o->objective : w->objective;
  const double logs[3] = {w->two_ellipse, w->start, reached};
  const char *const names[3] = {"best two ellipses", "spline through points of it",
                                w->taken ? "best free wall" : "end of its search"};
  fprintf(out, "\nFree wall: a spline of %d points between iris and equator\n", w->num_points);
  for (int k = 0; k < 3; k++) {
    double value = shown_objective(logs[k], o, s);
    if (isfinite(value)) {
      fprintf(out, "  %-*s %*.9g %s\n", NAME_WIDTH, names[k], VALUE_WIDTH, value,
              objective_unit(s));
    } else {
      fprintf(out, "  %-*s %*s\n", NAME_WIDTH, names[k], VALUE_WIDTH, "no shape");
    }
  }
  if (!w->taken) {
    print_no_freedom(out, w);
    return;
  }
  double gain = cavum_in_unit(-expm1(reached - w->two_ellipse), CAVUM_UNIT_PERCENT);
  fprintf(out, "  %-*s %*.3g %%\n", NAME_WIDTH, "the freedom brings", VALUE_WIDTH, gain);
}

static void print_dimensions(FILE *out, const cavum_optimum *o, const shown *s) {
  fprintf(out, "\n%-*s %*s %*s\n", NAME_WIDTH + 2, "Dimension", VALUE_WIDTH, "before", VALUE_WIDTH,
          "best");
  for (int j = 0; j < o->num_variables; j++) {
    const cavum_optimum_variable *v = &o->variables[j];
    char cost[COST_SIZE] = "";
    const char *unit = unit_of_key(v->key);
    fprintf(out, "  %-*s %*.9g %*.9g %-*s", NAME_WIDTH, short_key(v->key), VALUE_WIDTH, v->before,
            VALUE_WIDTH, v->value, UNIT_WIDTH, unit);
    if (v->at_bound != 0) {
      write_cost(cost, s, v->multiplier, step_of_cost(v->high - v->low), unit, "more room");
      fprintf(out, " at the %s bound: %s", v->at_bound < 0 ? "lower" : "upper", cost);
    }
    if (v->is_held) fputs(" holds the frequency", out);
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
  cavum_quantity_format(text, cavum_in_unit(figure.value, unit.conversion),
                        cavum_in_unit(figure.uncertainty, unit.conversion));
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

static void print_limit(FILE *out, const cavum_optimum_limit *limit, const shown *s) {
  char bounds[64] = "", cost[COST_SIZE] = "";
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
    fprintf(out, "BROKEN by %.3g %s", limit->broken_by, unit_of_limit(what));
  } else if (limit->active == 0) {
    fputs("not active", out);
  } else {
    bool exact = what->least == what->most;
    const char *way = !exact ? "more room" : limit->active > 0 ? "higher" : "lower";
    double bound = limit->active > 0 ? what->most : what->least;
    write_cost(cost, s, limit->multiplier, step_of_cost(bound), unit_of_limit(what), way);
    fputs(cost, out);
  }
  fputc('\n', out);
}

static void print_starts(FILE *out, const cavum_optimum *o, const shown *s) {
  fprintf(out, "\n%-8s %8s %16s %12s %12s\n", "Start", "solves", "objective", "residual",
          "violation");
  fprintf(out, "%*s\n", 8 + 1 + 8 + 1 + 16, objective_unit(s));
  for (int i = 0; i < o->num_starts; i++) {
    const cavum_optimum_start *start = &o->starts[i];
    fprintf(out, "  %-6d %8d %16.9g %12.2g %12.2g  %s%s\n", i + 1, start->num_solves,
            shown_objective(start->objective, o, s), start->residual, start->violation,
            cavum_optimum_end_word(start->end), start->is_best ? ", the best" : "");
  }
}

static const char *plural(int count) { return count == 1 ? "" : "s"; }

static const char *verdict(const cavum_optimum *o) {
  if (o->met && o->not_rounded) return "best shape, NOT ROUNDED";
  if (o->met) return "best shape";
  return o->within_limits ? "NOT PROVEN BEST, the best within the limits"
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
        "rounded shape; which limits\nare active, and what room brings, those of the best shape "
        "before rounding\n",
        out);
  }
  if (!o->not_rounded) return;
  fputs("NOT ROUNDED: no way to round to the steps ", out);
  if (isnan(o->rounding_violation)) {
    fputs("is a shape\n", out);
  } else {
    fprintf(out, "keeps the limits, the best breaks one by %.2g\n", o->rounding_violation);
  }
}

static void print_search(FILE *out, const cavum_optimum *o, const shown *s) {
  print_dimensions(out, o, s);
  print_figures(out, "Figure", o->result, o->before, o->mode);
  print_others(out, o);
  if (o->num_limits > 0) fputs("\nLimit\n", out);
  for (int i = 0; i < o->num_limits; i++) print_limit(out, &o->limits[i], s);
  print_starts(out, o, s);
}

void cavum_table_optimum_print(FILE *out, const cavum_optimum *optimum, const char *title) {
  const cavum_optimum *o = optimum, *two = o->free_wall.two_ellipse_search;
  shown s = shown_of(o);
  fprintf(out, "%s\n\n", title[0] ? title : "(no title)");
  print_counts(out, o);
  fprintf(out, "\nfirst-order conditions met to %.2g, limits to %.2g", o->residual, o->violation);
  if (!o->met) fprintf(out, " (%s)", cavum_optimum_end_word(o->end));
  fputc('\n', out);
  print_rounding(out, o);
  print_robust(out, o, &s);
  print_free_wall(out, o, &s);
  print_search(out, o, &s);
  if (!two) return;
  s = shown_of(two);
  fprintf(out,
          "\nBest two ellipses, which the free wall starts from\n%d solve%s from %d start%s; "
          "first-order conditions met to %.2g, limits to %.2g\n",
          o->free_wall.num_solves, plural(o->free_wall.num_solves), two->num_starts,
          plural(two->num_starts), two->residual, two->violation);
  print_search(out, two, &s);
}
