// SPDX-License-Identifier: GPL-3.0-or-later
// The shape behind a step, from geometry alone. Its text is that of the cell with a list of what
// was done, so that the dimensions of the cell and the amounts of the steps stay numbers of it.
#include <math.h>
#include <string.h>

#include "base/base.h"
#include "base/utf8.h"
#include "cavum/cell_text.h"
#include "cell/cell_edit.h"
#include "cell/limits.h"
#include "contour/curve.h"
#include "steps/chain.h"
#include "steps/shape_step.h"
#include "yaml/tree.h"
#include "yaml/writer.h"

int cavum_steps_find(const cavum_steps *steps, const char *name) {
  if (!steps || !name) return -1;
  for (int i = 0; i < steps->num_steps; i++) {
    if (strcmp(steps->steps[i].name, name) == 0) return i + 1;
  }
  return strcmp(name, "drawing") == 0 ? 0 : -1;
}

const char *cavum_steps_note(const cavum_steps *steps) { return steps ? steps->cell.note : ""; }

// The title of the cell is cut where both do not fit.
static cavum_status name_shape(cavum_cell *shape, const cavum_chain_step *step,
                               cavum_error *error) {
  static const char between[] = ", after step ";
  char of[CAVUM_TITLE_LONGEST + 1];
  cavum_utf8_cut(of, sizeof of - strlen(between) - strlen(step->name),
                 shape->title[0] ? shape->title : "Cell");
  char *title = cavum_format_text("%s%s%s", of, between, step->name);
  if (!title) return cavum_fail_memory(error);
  free(shape->title);
  shape->title = title;
  return CAVUM_OK;
}

// ---- its text

// Numbers of curves that were computed on two ways.
static const double SAME_M = 1e-12;

static bool is_near(cavum_point a, cavum_point b) {
  return fabs(a.z_m - b.z_m) <= SAME_M && fabs(a.r_m - b.r_m) <= SAME_M;
}

static bool is_same_shape(const cavum_cell *a, const cavum_cell *b) {
  bool same = a->path.num_curves == b->path.num_curves &&
              fabs(a->accelerating_length_m - b->accelerating_length_m) <= SAME_M;
  for (cavum_index i = 0; same && i < a->path.num_curves; i++) {
    const cavum_curve *p = &a->path.curves[i], *q = &b->path.curves[i];
    same = p->boundary == q->boundary && is_near(p->end, q->end);
    for (int k = 1; k < 4; k++) {
      same = same && is_near(cavum_curve_point(p, 0.25 * k), cavum_curve_point(q, 0.25 * k));
    }
  }
  return same;
}

// What led from the cell to the shape, the allowances first.
static int list_moves(cavum_cell_move *moves, const cavum_steps *steps, int step) {
  const double allowances_m[] = {steps->equator_allowance_m, steps->iris_allowance_m};
  const cavum_wall_place places[] = {CAVUM_AT_EQUATOR, CAVUM_AT_IRIS};
  int count = 0;
  for (int i = 0; i < 2; i++) {
    if (!(allowances_m[i] > 0.0)) continue;
    moves[count++] = (cavum_cell_move){
        .kind = CAVUM_MOVE_STRAIGHT, .place = places[i], .amount_m = allowances_m[i]};
  }
  for (int i = 0; i < step; i++) {
    const cavum_chain_step *next = &steps->steps[i];
    cavum_cell_move *move = &moves[count];
    if (!cavum_shape_step_move(move, next, next->amount_m.value)) continue;
    if (move->kind != CAVUM_MOVE_WALL || move->amount_m != 0.0) count++;
  }
  return count;
}

static cavum_status put_text(char **text, const char *key, const char *value, cavum_error *error) {
  char *edited = NULL;
  cavum_status status = cavum_cell_edit_put(&edited, *text, key, value, error);
  if (status != CAVUM_OK) return status;
  free(*text);
  *text = edited;
  return CAVUM_OK;
}

// To a list that is there.
static cavum_status append_moves(char **text, const cavum_cell_move *moves, int count,
                                 cavum_error *error) {
  cavum_status status = CAVUM_OK;
  for (int i = 0; i < count && status == CAVUM_OK; i++) {
    char *list = NULL, *edited = NULL;
    status = cavum_cell_moves_to_text(&list, &moves[i], 1, error);
    if (status != CAVUM_OK) return status;
    list[strlen(list) - 1] = '\0';  // an entry without the brackets of the list
    status = cavum_cell_edit_append(&edited, *text, "contour.moved", list + 1, error);
    free(list);
    if (status != CAVUM_OK) return status;
    free(*text);
    *text = edited;
  }
  return status;
}

// The text of the cell with the moves; a length that it states is that of the shape.
static cavum_status write_moves(char **text, const cavum_cell *shape, const cavum_steps *steps,
                                const cavum_cell_move *moves, int count, cavum_error *error) {
  char number[CAVUM_WRITER_NUMBER_SIZE];
  char *list = NULL, *of_cell = NULL, *made = NULL;
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(cavum_cell_to_text(&of_cell, &steps->cell, error));
  CAVUM_TRY(cavum_cell_edit_title(&made, of_cell, shape->title, error));
  if (steps->cell.accelerating_length_m > 0.0) {
    cavum_writer_number_text(number, shape->accelerating_length_m, CAVUM_UNIT_MM);
    CAVUM_TRY(put_text(&made, "accelerating_length_mm", number, error));
  }
  CAVUM_TRY(cavum_cell_moves_to_text(&list, moves, count, error));
  // What was done before comes first.
  status = put_text(&made, "contour.moved", list, error);
  if (status != CAVUM_OK && status != CAVUM_ERR_MEMORY) {
    status = append_moves(&made, moves, count, error);
  }
  if (status != CAVUM_OK) goto done;
  *text = made;
  made = NULL;
done:
  free(list);
  free(of_cell);
  free(made);
  return status;
}

// Makes the shape what its text reads as; one that cannot be written so stays, and is written as a
// path.
static cavum_status give_text(cavum_cell *shape, const cavum_steps *steps, int step,
                              cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_cell read;
  char *text = NULL;
  cavum_cell_move *moves = cavum_alloc(step + 2, sizeof *moves);
  if (!moves) return cavum_fail_memory(error);
  int count = list_moves(moves, steps, step);
  if (count > 0) {
    status = write_moves(&text, shape, steps, moves, count, NULL);
    if (status == CAVUM_OK) status = cavum_cell_read_text(&read, text, strlen(text), NULL, NULL);
    if (status == CAVUM_OK && is_same_shape(&read, shape)) {
      cavum_cell kept = *shape;
      *shape = read;
      read = kept;
    }
    if (status == CAVUM_OK) cavum_cell_clear(&read);
  }
  free(text);
  free(moves);
  return status == CAVUM_ERR_MEMORY ? cavum_fail_memory(error) : CAVUM_OK;
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
  if (status == CAVUM_OK) status = give_text(&shape, steps, step, error);
  if (status == CAVUM_OK) {
    *cell = shape;
  } else {
    cavum_cell_clear(&shape);
  }
  return status;
}
