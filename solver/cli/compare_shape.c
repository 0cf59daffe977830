// SPDX-License-Identifier: GPL-3.0-or-later
// Figures of the shape of results side by side.
#include "cli/compare_shape.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>

#include "format/shape_unit.h"

static bool has(const cavum_geometry *shape, int id) { return shape && !isnan(shape->value[id]); }

// They are exact but for rounding: digits that a drawing has, without an uncertainty.
static void write_value(cavum_compare_cell cell, double value, cavum_shape_unit unit) {
  snprintf(cell, sizeof(cavum_compare_cell), "%.9g", value / unit.unit_si);
}

static cavum_status add_figure(cavum_compare_table *table, const cavum_geometry *const *shapes,
                               int count, int id, cavum_error *error) {
  const char *name = cavum_geometry_describe((cavum_geometry_id)id).long_name;
  cavum_shape_unit unit = cavum_shape_unit_of((cavum_geometry_id)id);
  cavum_compare_cell *row = NULL;
  bool any = false;
  for (int k = 0; k < count; k++) any = any || has(shapes[k], id);
  if (!any) return CAVUM_OK;
  cavum_status status = cavum_compare_table_add(&row, table, error);
  if (status != CAVUM_OK) return status;
  snprintf(row[0], sizeof row[0], "%s", name);
  for (int k = 0; k < count; k++) {
    snprintf(row[1 + k], sizeof row[0], "-");
    if (!has(shapes[k], id)) continue;
    write_value(row[1 + k], shapes[k]->value[id], unit);
  }
  snprintf(row[1 + count], sizeof row[0], "%s", unit.name);
  cavum_compare_table_join(row, table);
  return CAVUM_OK;
}

// Searches make shapes for their bounds to this part of them: no difference that was meant.
static const double SAME_SHAPE = 1e-8;

static bool differ(const cavum_geometry *a, const cavum_geometry *b, int id) {
  if (!has(a, id) || !has(b, id)) return false;
  double off = fabs(b->value[id] - a->value[id]);
  return off > a->uncertainty[id] + b->uncertainty[id] && off > SAME_SHAPE * fabs(a->value[id]);
}

static cavum_status add_difference(cavum_compare_table *table, const cavum_geometry *const *shapes,
                                   int count, int id, cavum_error *error) {
  const char *name = cavum_geometry_describe((cavum_geometry_id)id).long_name;
  cavum_shape_unit unit = cavum_shape_unit_of((cavum_geometry_id)id);
  cavum_compare_cell *row = NULL;
  bool any = false;
  for (int k = 1; k < count; k++) any = any || differ(shapes[0], shapes[k], id);
  if (!any) return CAVUM_OK;
  cavum_status status = cavum_compare_table_add(&row, table, error);
  if (status != CAVUM_OK) return status;
  snprintf(row[0], sizeof row[0], "%s", name);
  for (int k = 1; k < count; k++) {
    snprintf(row[k], sizeof row[0], "%s", has(shapes[k], id) ? "none" : "-");
    if (!differ(shapes[0], shapes[k], id)) continue;
    write_value(row[k], shapes[k]->value[id] - shapes[0]->value[id], unit);
  }
  snprintf(row[count], sizeof row[0], "%s", unit.name);
  return CAVUM_OK;
}

cavum_status cavum_compare_add_shapes(cavum_compare_table *figures,
                                      cavum_compare_table *differences,
                                      const cavum_geometry *const *shapes, int count,
                                      cavum_error *error) {
  for (int id = 0; id < CAVUM_NUM_GEOMETRY_FIGURES; id++) {
    cavum_status status = add_figure(figures, shapes, count, id, error);
    if (status == CAVUM_OK) status = add_difference(differences, shapes, count, id, error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}
