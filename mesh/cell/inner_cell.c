// SPDX-License-Identifier: GPL-3.0-or-later
// The list is gone through with the tubes, which tell how much a length of the whole scales it.
#include "cell/inner_cell.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "cavum/cell_text.h"
#include "cell/cell_edit.h"
#include "cell/file.h"
#include "cell/file_moved.h"
#include "cell/place.h"

/** A moved cell, taken apart. */
typedef struct taken_apart {
  cavum_cell base;         // owned
  cavum_cell_move *moves;  // owned
  int count;
} taken_apart;

static void clear(taken_apart *parts) {
  cavum_cell_clear(&parts->base);
  free(parts->moves);
}

static cavum_status take_apart(taken_apart *parts, const cavum_cell *cell, cavum_error *error) {
  cavum_place_finder finder = {0};
  cavum_status status = cavum_cell_file_read_base(&parts->base, cell->text, error);
  if (status != CAVUM_OK) return status;
  CAVUM_TRY(cavum_place_finder_open(&finder, cell, "of the cell", error));
  const cavum_yaml_node *file = &finder.reader.tree.nodes[0];
  const cavum_yaml_node *contour = cavum_yaml_reader_child(&finder.reader, file, "contour");
  const cavum_yaml_node *list = cavum_yaml_reader_child(&finder.reader, contour, "moved");
  finder.reader.error = error;
  status = cavum_cell_file_list_moves(&parts->moves, &parts->count, &finder.reader, list);
  cavum_place_finder_clear(&finder);
done:
  if (status != CAVUM_OK) cavum_cell_clear(&parts->base);
  return status;
}

static bool has_tube(const cavum_end *end) { return end->kind == CAVUM_END_TUBE; }

static bool is_narrow(const cavum_end *end, const cavum_half_cell *half) {
  return has_tube(end) && end->tube_radius_m < half->iris_radius_m;
}

// Depths that are linear in the radius go by the smallest one, which is then that of a tube.
static cavum_status check_depth(const taken_apart *parts, int i, cavum_error *error) {
  const cavum_depth_shape *depth = &parts->moves[i].depth;
  const cavum_cell *base = &parts->base;
  bool linear =
      parts->moves[i].kind == CAVUM_MOVE_WALL && depth->num_places == 0 && depth->iris_share != 1.0;
  bool narrow =
      is_narrow(&base->left_end, &base->left) || is_narrow(&base->right_end, &base->right);
  if (!linear || !narrow) return CAVUM_OK;
  return cavum_fail(
      error, CAVUM_ERR_USAGE,
      "contour.moved[%d]: iris_share is the share at the tube here, which is narrower "
      "than its iris: for k_cc of the inner cell state the depth as a profile",
      i + 1);
}

static cavum_status check_derivatives(const taken_apart *parts, int i, cavum_error *error) {
  const cavum_cell_move *move = &parts->moves[i];
  bool both = has_tube(&parts->base.left_end) && has_tube(&parts->base.right_end);
  bool straight = move->kind == CAVUM_MOVE_STRAIGHT && move->place == CAVUM_AT_IRIS && !both;
  if (move->kind != CAVUM_MOVE_LONGER && !straight) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_USAGE,
                    "contour.moved[%d].%s acts on the tubes too: k_cc of the inner cell has no "
                    "derivatives then, leave them out or state %s",
                    i + 1, straight ? "iris_mm" : "longer_mm",
                    straight
                        ? "left_iris_mm and right_iris_mm, an entry each"
                        : "{contraction: 0, axial_contraction: ...}, the part by which lengths "
                          "along the axis shrink");
}

cavum_status cavum_inner_cell_check(const cavum_cell *cell, bool derivatives, cavum_error *error) {
  taken_apart parts = {0};
  cavum_status status = take_apart(&parts, cell, error);
  if (status != CAVUM_OK) return status;
  bool any = has_tube(&parts.base.left_end) || has_tube(&parts.base.right_end);
  for (int i = 0; any && i < parts.count && status == CAVUM_OK; i++) {
    status = check_depth(&parts, i, error);
    if (status == CAVUM_OK && derivatives) status = check_derivatives(&parts, i, error);
  }
  clear(&parts);
  return status;
}

// In place of a straight length: the same where there is no tube.
static void leave_tubes(cavum_cell_move *move, const cavum_cell *base) {
  bool left = has_tube(&base->left_end), right = has_tube(&base->right_end);
  bool of_left = move->place != CAVUM_AT_RIGHT_IRIS, of_right = move->place != CAVUM_AT_LEFT_IRIS;
  if (move->place == CAVUM_AT_EQUATOR) return;
  of_left = of_left && !left;
  of_right = of_right && !right;
  if (!of_left && !of_right) *move = (cavum_cell_move){.kind = CAVUM_MOVE_SHRINK};  // by nothing
  if (of_left != of_right) move->place = of_left ? CAVUM_AT_LEFT_IRIS : CAVUM_AT_RIGHT_IRIS;
}

// Makes the list that of the inner cell.
static cavum_status make_inner(taken_apart *parts, cavum_error *error) {
  cavum_cell whole;
  cavum_cell *base = &parts->base;
  char *text = NULL;
  cavum_status status = cavum_cell_to_text(&text, base, error);
  if (status == CAVUM_OK) status = cavum_cell_read_text(&whole, text, strlen(text), NULL, error);
  free(text);
  if (status != CAVUM_OK) return status;
  status = cavum_cell_open_for_moves(&whole, error);
  for (int i = 0; i < parts->count && status == CAVUM_OK; i++) {
    cavum_cell_move *move = &parts->moves[i], taken = *move;
    if (move->kind == CAVUM_MOVE_LONGER) {
      double part = -move->amount_m / cavum_contour_length_m(&whole.path);
      *move = (cavum_cell_move){.kind = CAVUM_MOVE_SHRINK, .contraction = {part, 0.0}};
    }
    if (move->kind == CAVUM_MOVE_STRAIGHT) leave_tubes(move, base);
    status = cavum_cell_take_move(&whole, &taken, false, error);
  }
  cavum_cell_clear(&whole);
  return status;
}

cavum_status cavum_inner_cell_write(char **text, const cavum_cell *cell, cavum_end_kind kind,
                                    cavum_error *error) {
  taken_apart parts = {0};
  char *unmoved = NULL, *list = NULL;
  cavum_status status = take_apart(&parts, cell, error);
  if (status != CAVUM_OK) return status;
  free(parts.base.text);
  parts.base.text = NULL;
  CAVUM_TRY(make_inner(&parts, error));
  parts.base.left_end = parts.base.right_end = (cavum_end){.kind = kind};
  CAVUM_TRY(cavum_cell_to_text(&unmoved, &parts.base, error));
  CAVUM_TRY(cavum_cell_moves_to_text(&list, parts.moves, parts.count, error));
  CAVUM_TRY(cavum_cell_edit_put(text, unmoved, "contour.moved", list, error));
done:
  free(list);
  free(unmoved);
  clear(&parts);
  return status;
}
