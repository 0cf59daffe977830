// SPDX-License-Identifier: GPL-3.0-or-later
// Tables of a tuning: dimensions, then figures.
#include "cli/table_tune.h"

#include <math.h>
#include <string.h>

#include "base/units.h"
#include "format/quantity.h"
#include "format/shape_unit.h"

enum { NAME_WIDTH = 38, VALUE_WIDTH = 18, UNIT_WIDTH = 10, CHANGE_WIDTH = 12 };
enum { CHANGE_SIZE = 40 };

static void print_head(FILE *out, const char *what) {
  fprintf(out, "\n%-*s %*s %*s %-*s %*s\n", NAME_WIDTH + 2, what, VALUE_WIDTH, "before",
          VALUE_WIDTH, "after", UNIT_WIDTH, "", CHANGE_WIDTH, "change");
}

static void print_dimensions(FILE *out, const cavum_tune_outcome *outcome,
                             const cavum_tune_dimension *dimensions) {
  print_head(out, "Dimension");
  for (int j = 0; j < outcome->num_dimensions; j++) {
    double before = outcome->values_before[j], after = outcome->values_after[j];
    const char *unit = cavum_unit_symbol(cavum_unit_of_key(dimensions[j].key));
    fprintf(out, "  %-*s %*.12g %*.12g %-*s %+*.6g\n", NAME_WIDTH, dimensions[j].key, VALUE_WIDTH,
            before, VALUE_WIDTH, after, UNIT_WIDTH, unit, CHANGE_WIDTH, after - before);
  }
}

static const cavum_tune_aim *aim_of(cavum_figure_id id, const cavum_tune_aim *aims, int num_aims) {
  for (int i = 0; i < num_aims; i++) {
    if (aims[i].figure == id) return &aims[i];
  }
  return NULL;
}

static void write_value(char text[CAVUM_QUANTITY_SIZE], const cavum_figure *figure,
                        cavum_quantity_unit unit) {
  snprintf(text, CAVUM_QUANTITY_SIZE, "%s",
           figure->state == CAVUM_FIGURE_UNBOUNDED ? "unbounded" : "-");
  if (figure->state != CAVUM_FIGURE_PRESENT) return;
  cavum_quantity_format(text, cavum_in_unit(figure->value, unit.conversion),
                        cavum_in_unit(figure->uncertainty, unit.conversion));
}

// In percent, without a power of ten where it is large.
static void write_change(char text[CHANGE_SIZE], double part) {
  double percent = cavum_in_unit(part, CAVUM_UNIT_PERCENT);
  bool large = fabs(percent) >= 999.5 && fabs(percent) < 1e9;
  snprintf(text, CHANGE_SIZE, large ? "%+.0f %%" : "%+.3g %%", percent);
}

static void print_figure(FILE *out, cavum_figure_id id, const cavum_figure *before,
                         const cavum_figure *after, const cavum_tune_aim *aim) {
  cavum_quantity_unit unit = cavum_quantity_unit_to_fit(id, after->value);
  char old[CAVUM_QUANTITY_SIZE], new[CAVUM_QUANTITY_SIZE], change[CHANGE_SIZE] = "-";
  char basis[CAVUM_BASIS_SIZE];
  write_value(old, before, unit);
  write_value(new, after, unit);
  bool both = before->state == CAVUM_FIGURE_PRESENT && after->state == CAVUM_FIGURE_PRESENT;
  if (both && before->value != 0.0) {
    double part = after->value / before->value - 1.0;
    write_change(change, part);
  }
  fprintf(out, "  %-*s %*s %*s %-*s %*s", NAME_WIDTH, cavum_figure_describe(id).long_name,
          VALUE_WIDTH, old, VALUE_WIDTH, new, UNIT_WIDTH, unit.name, CHANGE_WIDTH, change);
  cavum_quantity_basis(basis, after);
  if (aim) fprintf(out, "  %.12g asked for", cavum_in_unit(aim->value, unit.conversion));
  fprintf(out, "%s%s\n", basis[0] ? "  " : "", basis);
}

static void write_shape_value(char text[CAVUM_QUANTITY_SIZE], const cavum_geometry *geometry,
                              int id) {
  double unit_si = cavum_shape_unit_of((cavum_geometry_id)id).unit_si;
  snprintf(text, CAVUM_QUANTITY_SIZE, "%.9g", geometry->value[id] / unit_si);
}

static const cavum_tune_shape_aim *shape_aim_of(int id, const cavum_tune_plan *plan) {
  for (int i = 0; i < plan->num_shape_aims; i++) {
    if ((int)plan->shape_aims[i].figure == id) return &plan->shape_aims[i];
  }
  return NULL;
}

static void print_shape(FILE *out, const cavum_geometry *before, const cavum_geometry *after,
                        const cavum_tune_plan *plan) {
  print_head(out, "Shape");
  for (int id = 0; id < CAVUM_NUM_GEOMETRY_FIGURES; id++) {
    char old[CAVUM_QUANTITY_SIZE], new[CAVUM_QUANTITY_SIZE], change[CHANGE_SIZE] = "-";
    cavum_shape_unit unit = cavum_shape_unit_of((cavum_geometry_id)id);
    const cavum_tune_shape_aim *aim = shape_aim_of(id, plan);
    if (isnan(after->value[id]) || isnan(before->value[id])) continue;
    write_shape_value(old, before, id);
    write_shape_value(new, after, id);
    if (before->value[id] != 0.0) {
      double part = after->value[id] / before->value[id] - 1.0;
      write_change(change, part);
    }
    fprintf(out, "  %-*s %*s %*s %-*s %*s", NAME_WIDTH,
            cavum_geometry_describe((cavum_geometry_id)id).long_name, VALUE_WIDTH, old, VALUE_WIDTH,
            new, UNIT_WIDTH, unit.name, CHANGE_WIDTH, change);
    if (aim) fprintf(out, "  %.12g asked for", aim->value / unit.unit_si);
    fputc('\n', out);
  }
}

// The figures of the shape of the text of a tuned cell; NULL: none.
static cavum_geometry *measure_text(const char *text) {
  cavum_cell cell;
  cavum_geometry *geometry = NULL;
  if (cavum_cell_read_text(&cell, text, strlen(text), NULL, NULL) != CAVUM_OK) return NULL;
  (void)cavum_geometry_measure(&geometry, &cell, false, NULL);
  cavum_cell_clear(&cell);
  return geometry;
}

// A number that was changed may have made a corner of a smooth wall.
static void print_corners(FILE *out, const cavum_mode_result *before,
                          const cavum_mode_result *after, const char *arcs) {
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    if (after->figures[id].state != CAVUM_FIGURE_UNBOUNDED ||
        before->figures[id].state != CAVUM_FIGURE_PRESENT) {
      continue;
    }
    fprintf(out,
            "  %s is unbounded now: pieces of the wall that were tangent meet at a corner%s%s%s. "
            "Vary what keeps them tangent, too\n",
            cavum_figure_describe((cavum_figure_id)id).long_name, arcs[0] ? ": the arc " : "", arcs,
            arcs[0] ? " follows the points that it ends in, not its tangents" : "");
  }
}

void cavum_table_tune_print(FILE *out, const cavum_tune_outcome *outcome,
                            const cavum_tune_plan *plan, const cavum_cell *cell) {
  int mode = plan->mode;
  const cavum_mode_result *before = &outcome->before->modes[mode];
  const cavum_mode_result *after = &outcome->after->modes[mode];
  const char *title = outcome->after->title;
  if (title && title[0]) fprintf(out, "%s\n\n", title);
  fprintf(out, "mode %d%s%s: %s after %d solve%s", mode + 1, after->label[0] ? ", " : "",
          after->label, outcome->met ? "tuned" : "NOT TUNED, this came nearest",
          outcome->num_solves, outcome->num_solves == 1 ? "" : "s");
  if (outcome->num_halved > 0) fprintf(out, ", steps halved %d times", outcome->num_halved);
  fputc('\n', out);
  print_dimensions(out, outcome, plan->dimensions);
  print_head(out, "Figure");
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    if (after->figures[id].state == CAVUM_FIGURE_ABSENT) continue;
    const cavum_figure old = cavum_quantity_shown_figure(before->figures, (cavum_figure_id)id);
    const cavum_figure new = cavum_quantity_shown_figure(after->figures, (cavum_figure_id)id);
    print_figure(out, (cavum_figure_id)id, &old, &new,
                 aim_of((cavum_figure_id)id, plan->aims, plan->num_aims));
  }
  print_corners(out, before, after, outcome->arcs);
  cavum_geometry *shape_before = NULL, *shape_after = measure_text(outcome->cell_text);
  (void)cavum_geometry_measure(&shape_before, cell, false, NULL);
  if (shape_before && shape_after) print_shape(out, shape_before, shape_after, plan);
  cavum_geometry_destroy(&shape_before);
  cavum_geometry_destroy(&shape_after);
}
