// SPDX-License-Identifier: GPL-3.0-or-later
// The shape behind a step, from geometry alone.
#include <string.h>

#include "base/base.h"
#include "steps/chain.h"
#include "steps/shape_step.h"
#include "yaml/tree.h"

int cavum_steps_find(const cavum_steps *steps, const char *name) {
  if (!steps || !name) return -1;
  for (int i = 0; i < steps->num_steps; i++) {
    if (strcmp(steps->steps[i].name, name) == 0) return i + 1;
  }
  return strcmp(name, "drawing") == 0 ? 0 : -1;
}

static cavum_status name_shape(cavum_cell *shape, const cavum_chain_step *step,
                               cavum_error *error) {
  char *title =
      cavum_format_text("%s, behind step %s", shape->title[0] ? shape->title : "Cell", step->name);
  if (!title) return cavum_fail_memory(error);
  free(shape->title);
  shape->title = title;
  return CAVUM_OK;
}

cavum_status cavum_steps_shape(cavum_cell *cell, const cavum_steps *steps, int step,
                               cavum_error *error) {
  if (!cell || !steps) return cavum_fail_null(error, __func__);
  if (step < 0 || step > steps->num_steps) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "step %d: there are 0 to %d", step, steps->num_steps);
  }
  cavum_cell shape;
  cavum_error what = {0};
  cavum_status status = cavum_shape_draw(&shape, steps, error);
  if (status != CAVUM_OK) return status;
  for (int i = 0; status == CAVUM_OK && i < step; i++) {
    const cavum_chain_step *next = &steps->steps[i];
    status = cavum_shape_take_step(&shape, next, next->amount_m.value, &what);
    if (status == CAVUM_OK) continue;
    status = cavum_yaml_tree_fail(error, status, steps->path, next->line, next->column, "%s: %s",
                                  next->name, what.message);
  }
  if (status == CAVUM_OK && step > 0) status = name_shape(&shape, &steps->steps[step - 1], error);
  if (status == CAVUM_OK) {
    *cell = shape;
  } else {
    cavum_cell_clear(&shape);
  }
  return status;
}
