// SPDX-License-Identifier: GPL-3.0-or-later
// Dimensions of a cell: the numbers of its file that are lengths or the particle speed.
#include "cell/dimension.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "cell/keys.h"
#include "contour/two_ellipse_rate.h"

static double member_of(const void *owner, size_t offset) {
  double value;
  memcpy(&value, (const char *)owner + offset, sizeof value);
  return value;
}

static void add_to_member(void *owner, size_t offset, double more) {
  double value = member_of(owner, offset) + more;
  memcpy((char *)owner + offset, &value, sizeof value);
}

static cavum_status append(cavum_cell_dimensions *d, int64_t *capacity,
                           const cavum_cell_dimension *dimension, const char *prefix,
                           const char *name, cavum_error *error) {
  void *list = d->list;
  bool grown = cavum_grow(&list, capacity, (int64_t)d->count + 1, sizeof *d->list);
  d->list = list;
  if (!grown) return cavum_fail_memory(error);
  d->list[d->count] = *dimension;
  snprintf(d->list[d->count].key, sizeof d->list[d->count].key, "%s%.88s", prefix, name);
  d->count++;
  return CAVUM_OK;
}

// Name of a number of both halves without `contour.`.
static cavum_yaml_path name_of_half(const cavum_cell_number *number) {
  const char *ellipse = strchr(number->section->path, '.');
  return cavum_yaml_path_join(ellipse ? ellipse + 1 : "", number->field->key);
}

static cavum_status append_half(cavum_cell_dimensions *d, int64_t *capacity, const cavum_cell *cell,
                                const cavum_cell_number *number, cavum_error *error) {
  size_t offset = cavum_cell_number_offset(number);
  cavum_yaml_path name = name_of_half(number);
  double left = member_of(&cell->left, offset), right = member_of(&cell->right, offset);
  cavum_cell_dimension one = {.unit = number->field->unit,
                              .value = left,
                              .offset = offset,
                              .of_left = true,
                              .of_right = left == right};
  if (one.of_right) return append(d, capacity, &one, "", name.text, error);
  cavum_status status = append(d, capacity, &one, "left.", name.text, error);
  if (status != CAVUM_OK) return status;
  one.of_left = false;
  one.of_right = true;
  one.value = right;
  return append(d, capacity, &one, "right.", name.text, error);
}

static bool tube_follows(const cavum_end *end, const cavum_half_cell *half) {
  return end->kind == CAVUM_END_TUBE && end->tube_radius_m == half->iris_radius_m;
}

// Whether the number is a dimension that the cell has and that follows no other.
static bool is_own(const cavum_cell *cell, const cavum_cell_number *number, size_t offset) {
  bool two_ellipse = cell->kind == CAVUM_CONTOUR_TWO_ELLIPSE;
  bool left = strcmp(number->section->path, "ends.left") == 0;
  bool right = strcmp(number->section->path, "ends.right") == 0;
  if (offset == offsetof(cavum_cell, beta)) return true;
  if (offset == offsetof(cavum_cell, accelerating_length_m)) {
    return cell->accelerating_length_m > 0.0;
  }
  if (!two_ellipse || (!left && !right)) return false;
  const cavum_end *end = left ? &cell->left_end : &cell->right_end;
  if (end->kind != CAVUM_END_TUBE) return false;
  return strcmp(number->field->key, "radius_mm") != 0 ||
         !tube_follows(end, left ? &cell->left : &cell->right);
}

static cavum_status append_member(cavum_cell_dimensions *d, int64_t *capacity,
                                  const cavum_cell *cell, const cavum_cell_number *number,
                                  cavum_error *error) {
  size_t offset = cavum_cell_number_offset(number);
  if (!is_own(cell, number, offset)) return CAVUM_OK;
  cavum_cell_dimension one = {.unit = number->field->unit,
                              .value = member_of(cell, offset),
                              .offset = offset,
                              .of_cell = true,
                              .of_left = strcmp(number->section->path, "ends.left") == 0,
                              .of_right = strcmp(number->section->path, "ends.right") == 0};
  cavum_yaml_path name = cavum_yaml_path_join(number->section->path, number->field->key);
  return append(d, capacity, &one, "", name.text, error);
}

cavum_status cavum_cell_dimensions_list(cavum_cell_dimensions *dimensions, const cavum_cell *cell,
                                        cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_cell_dimensions made = {0};
  cavum_cell_number number;
  int64_t capacity = 0;
  bool halves = cell->kind == CAVUM_CONTOUR_TWO_ELLIPSE;
  if (cell->kind == CAVUM_CONTOUR_MESH_FILE) goto done;
  for (int i = 0; cavum_cell_number_at(&number, i); i++) {
    if (number.section->owner == CAVUM_CELL_OWNER_CELL) {
      CAVUM_TRY(append_member(&made, &capacity, cell, &number, error));
    } else if (halves) {
      CAVUM_TRY(append_half(&made, &capacity, cell, &number, error));
    }
  }
done:
  if (status == CAVUM_OK) {
    *dimensions = made;
  } else {
    cavum_cell_dimensions_clear(&made);
  }
  return status;
}

void cavum_cell_dimensions_clear(cavum_cell_dimensions *dimensions) {
  if (!dimensions) return;
  free(dimensions->list);
  *dimensions = (cavum_cell_dimensions){0};
}

bool cavum_cell_dimension_keeps_mirror(const cavum_cell_dimension *dimension) {
  return dimension->of_left == dimension->of_right;
}

static double length_rate(const cavum_cell *cell, const cavum_two_ellipse_way *way) {
  bool from_halves = cell->accelerating_length_m <= 0.0 && cell->kind == CAVUM_CONTOUR_TWO_ELLIPSE;
  return from_halves ? way->left.half_length_m + way->right.half_length_m : 0.0;
}

static void fill_way(cavum_two_ellipse_way *way, const cavum_cell *cell, bool mirrored,
                     const cavum_cell_dimension *d) {
  bool one_side = d->of_left != d->of_right;
  double rate = mirrored && one_side ? 0.5 : 1.0;
  bool left = d->of_left || (mirrored && d->of_right);
  bool right = d->of_right || (mirrored && d->of_left);
  *way = (cavum_two_ellipse_way){0};
  if (d->of_cell) {
    size_t in_end =
        d->offset - (d->of_left ? offsetof(cavum_cell, left_end) : offsetof(cavum_cell, right_end));
    if (left) add_to_member(&way->left_end, in_end, rate);
    if (right) add_to_member(&way->right_end, in_end, rate);
    return;
  }
  if (left) add_to_member(&way->left, d->offset, rate);
  if (right) add_to_member(&way->right, d->offset, rate);
  if (tube_follows(&cell->left_end, &cell->left)) {
    way->left_end.tube_radius_m = way->left.iris_radius_m;
  }
  if (tube_follows(&cell->right_end, &cell->right)) {
    way->right_end.tube_radius_m = way->right.iris_radius_m;
  }
}

bool cavum_cell_dimension_rate(cavum_curve_rate *rates, cavum_cell_rate *rate,
                               const cavum_contour *contour, const cavum_cell *cell,
                               cavum_cell_part part, const cavum_cell_dimension *dimension) {
  cavum_two_ellipse_way way;
  *rate = (cavum_cell_rate){0};
  memset(rates, 0, (size_t)contour->num_curves * sizeof *rates);
  if (dimension->of_cell && !dimension->of_left && !dimension->of_right) {
    bool is_beta = dimension->offset == offsetof(cavum_cell, beta);
    *(is_beta ? &rate->beta : &rate->accelerating_length_m) = 1.0;
    return true;
  }
  fill_way(&way, cell, part == CAVUM_PART_RIGHT, dimension);
  rate->accelerating_length_m = length_rate(cell, &way);
  return cavum_two_ellipse_rate(rates, contour, cell, part, &way);
}
