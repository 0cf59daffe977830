// SPDX-License-Identifier: GPL-3.0-or-later
// Dimensions of a cell: the numbers of its file that are lengths or the particle speed.
#include "cell/dimension.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "cavum/cell_text.h"
#include "cell/keys.h"
#include "cell/place.h"
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

// ---- paths: numbers are found in the text by the key that an entry may have

// Numbers of an entry behind its form, and the numbers of a curve that they are.
typedef struct path_number {
  const char *form, *key;
  size_t offset;  // in cavum_curve_rate
  bool is_radius;
} path_number;

#define OF_RATE(member) offsetof(cavum_curve_rate, member)
static const path_number path_numbers[] = {
    {"line_to.", "z_mm", OF_RATE(end.z_m), false},
    {"line_to.", "r_mm", OF_RATE(end.r_m), true},
    {"arc_to.", "z_mm", OF_RATE(end.z_m), false},
    {"arc_to.", "r_mm", OF_RATE(end.r_m), true},
    {"ellipse_to.", "z_mm", OF_RATE(end.z_m), false},
    {"ellipse_to.", "r_mm", OF_RATE(end.r_m), true},
    {"centre.", "z_mm", OF_RATE(centre.z_m), false},
    {"centre.", "r_mm", OF_RATE(centre.r_m), false},
    {"", "axial_mm", OF_RATE(axial_m), false},
    {"", "radial_mm", OF_RATE(radial_m), false},
};
enum { NUM_PATH_NUMBERS = sizeof path_numbers / sizeof *path_numbers };

static bool on_axis(const cavum_contour *path, cavum_index point) {
  cavum_index before = point > 0 ? point - 1 : path->num_curves - 1;
  return path->curves[point % path->num_curves].boundary == CAVUM_BOUNDARY_AXIS ||
         path->curves[before].boundary == CAVUM_BOUNDARY_AXIS;
}

static bool is_circle(const cavum_place_finder *finder, cavum_index curve) {
  cavum_place place;
  char name[CAVUM_CELL_KEY_SIZE];
  snprintf(name, sizeof name, "path[%d].arc_to.z_mm", (int)curve + 1);
  return cavum_place_find(&place, finder, name, NULL) == CAVUM_OK;
}

static cavum_status append_path_number(cavum_cell_dimensions *d, int64_t *capacity,
                                       const cavum_place_finder *finder, const char *name,
                                       const cavum_cell_dimension *number, cavum_error *error) {
  cavum_place place;
  cavum_cell_dimension one = *number;
  if (cavum_place_find(&place, finder, name, NULL) != CAVUM_OK) return CAVUM_OK;
  one.of_path = one.of_left = one.of_right = true;
  one.is_circle[0] = is_circle(finder, one.curve);
  one.is_circle[1] = is_circle(finder, (one.curve + 1) % finder->cell->path.num_curves);
  one.unit = CAVUM_UNIT_MM;
  one.value = cavum_from_unit(place.base, CAVUM_UNIT_MM);
  return append(d, capacity, &one, "", name, error);
}

static cavum_status append_path(cavum_cell_dimensions *d, int64_t *capacity, const cavum_cell *cell,
                                const cavum_place_finder *finder, cavum_error *error) {
  const cavum_contour *path = &cell->path;
  cavum_status status = CAVUM_OK;
  char name[CAVUM_CELL_KEY_SIZE];
  for (int k = 0; k < 2; k++) {
    const cavum_cell_dimension start = {.offset = k == 0 ? OF_RATE(end.z_m) : OF_RATE(end.r_m),
                                        .curve = path->num_curves - 1};
    if (k == 1 && on_axis(path, 0)) continue;
    CAVUM_TRY(append_path_number(d, capacity, finder, k == 0 ? "start.z_mm" : "start.r_mm", &start,
                                 error));
  }
  for (cavum_index i = 0; i < path->num_curves; i++) {
    bool is_last = i + 1 == path->num_curves;
    for (int k = 0; k < NUM_PATH_NUMBERS; k++) {
      const path_number *number = &path_numbers[k];
      bool is_end = number->offset == OF_RATE(end.z_m) || number->offset == OF_RATE(end.r_m);
      if (is_end && (is_last || (number->is_radius && on_axis(path, i + 1)))) continue;
      const cavum_cell_dimension one = {.offset = number->offset, .curve = i};
      snprintf(name, sizeof name, "path[%d].%s%s", (int)i + 1, number->form, number->key);
      CAVUM_TRY(append_path_number(d, capacity, finder, name, &one, error));
    }
  }
done:
  return status;
}

// Paths with cubics have entries of several curves, or coefficients: their numbers are left out.
static bool has_cubic(const cavum_contour *path) {
  for (cavum_index i = 0; i < path->num_curves; i++) {
    if (path->curves[i].kind == CAVUM_CURVE_CUBIC) return true;
  }
  return false;
}

static cavum_status list_path(cavum_cell_dimensions *d, int64_t *capacity, const cavum_cell *cell,
                              cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_place_finder finder = {0};
  cavum_cell read = *cell;
  char *text = NULL;
  if (has_cubic(&cell->path)) return CAVUM_OK;
  CAVUM_TRY(cavum_cell_to_text(&text, cell, error));
  read.text = text;
  CAVUM_TRY(cavum_place_finder_open(&finder, &read, "of the cell", error));
  status = append_path(d, capacity, cell, &finder, error);
  cavum_place_finder_clear(&finder);
done:
  free(text);
  return status;
}

// The end that a path number moves belongs to the next curve too.
static bool rate_of_path(cavum_curve_rate *rates, const cavum_contour *contour,
                         const cavum_cell_dimension *d) {
  cavum_index n = contour->num_curves, next = d->curve + 1 < n ? d->curve + 1 : 0;
  bool is_end = d->offset == OF_RATE(end.z_m) || d->offset == OF_RATE(end.r_m);
  add_to_member(&rates[d->curve], d->offset, 1.0);
  if (is_end) rates[next].start = rates[d->curve].end;
  for (int i = 0; i < (is_end ? 2 : 1); i++) {
    cavum_index at = i == 0 ? d->curve : next;
    const cavum_curve *curve = &contour->curves[at];
    if (curve->kind == CAVUM_CURVE_ELLIPSE) {
      cavum_curve_rate_fit_arc(&rates[at], curve, d->is_circle[i]);
    }
  }
  return true;
}

cavum_status cavum_cell_dimensions_list(cavum_cell_dimensions *dimensions, const cavum_cell *cell,
                                        cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_cell_dimensions made = {0};
  cavum_cell_number number;
  int64_t capacity = 0;
  bool halves = cell->kind == CAVUM_CONTOUR_TWO_ELLIPSE;
  if (cell->kind == CAVUM_CONTOUR_MESH_FILE) goto done;
  if (cell->kind == CAVUM_CONTOUR_PATH) CAVUM_TRY(list_path(&made, &capacity, cell, error));
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

cavum_dimension cavum_cell_dimension_describe(const cavum_cell_dimension *dimension) {
  cavum_unit unit = dimension->unit;
  cavum_dimension to = {.unit = unit == CAVUM_UNIT_SI ? "1" : cavum_unit_symbol(unit),
                        .value_si = dimension->value,
                        .unit_si = cavum_from_unit(1.0, unit)};
  memcpy(to.key, dimension->key, sizeof to.key);
  return to;
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
  if (dimension->of_path) return rate_of_path(rates, contour, dimension);
  fill_way(&way, cell, part == CAVUM_PART_RIGHT, dimension);
  rate->accelerating_length_m = length_rate(cell, &way);
  return cavum_two_ellipse_rate(rates, contour, cell, part, &way);
}
