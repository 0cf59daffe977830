// SPDX-License-Identifier: GPL-3.0-or-later
// Numbers of a cell by their dotted keys. Members are read and set where they are; what has no
// member of its own, as the coordinates of a path, is found in the text of the cell.
#include "cell/cell_key.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "cavum/cell_text.h"
#include "cell/cell.h"
#include "cell/dimension.h"
#include "cell/keys.h"
#include "cell/moved_cell.h"

_Static_assert((int)CAVUM_CELL_KEY_SIZE == (int)CAVUM_PLACE_NAME_SIZE, "keys fit into places");

static double member_of(const void *owner, size_t offset) {
  double value;
  memcpy(&value, (const char *)owner + offset, sizeof value);
  return value;
}

// A dimension of a half or of both. Both must agree: to set them alike would lose one.
static cavum_status take_half(cavum_place *place, const cavum_cell *cell, const char *rest,
                              const cavum_cell_number *number, cavum_error *error) {
  size_t offset = cavum_cell_number_offset(number);
  double left = member_of(&cell->left, offset), right = member_of(&cell->right, offset);
  if (place->kind == CAVUM_PLACE_HALVES && left != right) {
    return cavum_fail(
        error, CAVUM_ERR_INPUT,
        "%s: the halves differ in it: contour.left.%s or contour.right.%s was expected",
        place->name, rest, rest);
  }
  place->offset = offset;
  place->set_left = place->kind != CAVUM_PLACE_RIGHT;
  place->set_right = place->kind != CAVUM_PLACE_LEFT;
  place->base = cavum_in_unit(place->set_left ? left : right, number->field->unit);
  return CAVUM_OK;
}

// True when a key names a member of the cell; the place is filled then, if that has no error.
static bool find_member(cavum_place *place, cavum_status *status, const cavum_cell *cell,
                        cavum_error *error) {
  static const char *const sides[] = {"contour.left.", "contour.right."};
  cavum_cell_number number;
  const char *name = place->name, *rest = name + strlen("contour.");
  bool contour = strncmp(name, "contour.", strlen("contour.")) == 0;
  place->kind = contour ? CAVUM_PLACE_HALVES : CAVUM_PLACE_CELL;
  for (int side = 0; side < 2; side++) {
    if (strncmp(name, sides[side], strlen(sides[side])) != 0) continue;
    place->kind = side == 0 ? CAVUM_PLACE_LEFT : CAVUM_PLACE_RIGHT;
    rest = name + strlen(sides[side]);
  }
  cavum_yaml_path path = contour ? cavum_yaml_path_join("contour", rest) : (cavum_yaml_path){""};
  bool of_half = contour && cell->kind == CAVUM_CONTOUR_TWO_ELLIPSE;
  const cavum_end *end = strncmp(name, "ends.left.", 10) == 0    ? &cell->left_end
                         : strncmp(name, "ends.right.", 11) == 0 ? &cell->right_end
                                                                 : NULL;
  if (contour && !of_half) return false;
  if (end && (cell->kind != CAVUM_CONTOUR_TWO_ELLIPSE || end->kind != CAVUM_END_TUBE)) return false;
  if (!cavum_cell_number_find(&number, contour ? path.text : name)) return false;
  if ((number.section->owner == CAVUM_CELL_OWNER_HALF) != of_half) return false;
  place->unit = number.field->unit;
  place->low = number.field->low;
  place->high = number.field->high;
  if (of_half) {
    *status = take_half(place, cell, rest, &number, error);
  } else {
    place->offset = cavum_cell_number_offset(&number);
    place->base = cavum_in_unit(member_of(cell, place->offset), place->unit);
  }
  return true;
}

// What the text has of splines and circles is lost when it is written anew, so that one whose path
// is still right is taken, whatever else of the cell was changed in memory.
static cavum_status find_in_text(cavum_cell_dial *dial, const cavum_cell *cell, const char *key,
                                 cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_place_finder finder = {0};
  char *text = NULL;
  bool path_of_text;
  CAVUM_TRY(cavum_cell_has_path_of_text(&path_of_text, cell, error));
  if (path_of_text) {
    dial->numbers = cell;
    text = cavum_copy_text(cell->text);
    if (!text) CAVUM_TRY(cavum_fail_memory(error));
  } else {
    CAVUM_TRY(cavum_cell_to_text(&text, cell, error));
  }
  CAVUM_TRY(cavum_cell_read_text(&dial->read, text, strlen(text), NULL, error));
  dial->is_read = true;
  CAVUM_TRY(cavum_place_finder_open(&finder, &dial->read, "of the cell", error));
  CAVUM_TRY(cavum_place_find(&dial->place, &finder, key, error));
  dial->base = cavum_place_make_base(&finder, NULL);
done:
  cavum_place_finder_clear(&finder);
  free(text);
  return status;
}

static bool follows(const cavum_cell *cell, const cavum_end *end, const cavum_half_cell *half) {
  return cell->kind == CAVUM_CONTOUR_TWO_ELLIPSE && end->kind == CAVUM_END_TUBE &&
         end->tube_radius_m == half->iris_radius_m;
}

cavum_status cavum_cell_dial_open(cavum_cell_dial *dial, const cavum_cell *cell, const char *key,
                                  cavum_error *error) {
  cavum_cell_dial opened = {.base = {.cell = cell}};
  cavum_status status = CAVUM_OK;
  int length = snprintf(opened.place.name, sizeof opened.place.name, "%s%s",
                        cavum_cell_name_has_section(key) ? "" : "contour.", key);
  if (length < 0 || (size_t)length >= sizeof opened.place.name) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "'%.60s...' is longer than any key", key);
  }
  if (find_member(&opened.place, &status, cell, error)) {
    opened.base.left_tube_follows = follows(cell, &cell->left_end, &cell->left);
    opened.base.right_tube_follows = follows(cell, &cell->right_end, &cell->right);
  } else {
    status = find_in_text(&opened, cell, key, error);
  }
  if (status == CAVUM_OK) {
    *dial = opened;
    // The base of what was read is the cell in the dial itself.
    if (opened.is_read) dial->base.cell = &dial->read;
  } else {
    cavum_cell_dial_clear(&opened);
  }
  return status;
}

void cavum_cell_dial_clear(cavum_cell_dial *dial) {
  if (dial->is_read) cavum_cell_clear(&dial->read);
  *dial = (cavum_cell_dial){0};
}

static const cavum_place *place_of(const void *data, int index) {
  (void)index;
  return &((const cavum_cell_dial *)data)->place;
}

cavum_status cavum_cell_dial_set(cavum_cell *made, bool *owned, const cavum_cell_dial *dial,
                                 double value, cavum_error *error) {
  cavum_cell cell;
  cavum_status status =
      cavum_place_apply(&cell, owned, &dial->base, 1, place_of, dial, &value, error);
  if (status == CAVUM_OK && dial->numbers && *owned) {
    status = cavum_cell_keep_numbers(&cell, dial->numbers, dial->read.accelerating_length_m, error);
    if (status != CAVUM_OK) cavum_cell_clear(&cell);
  }
  if (status == CAVUM_OK) *made = cell;
  return status;
}

cavum_status cavum_cell_describe_key(cavum_cell_key_info *info, const cavum_cell *cell,
                                     const char *key, cavum_error *error) {
  cavum_cell full;
  cavum_cell_dial dial;
  if (!info || !key) return cavum_fail_null(error, __func__);
  cavum_status status = cavum_sized_take(&full, cell, &cavum_cell_sized, error);
  if (status == CAVUM_OK) status = cavum_cell_dial_open(&dial, &full, key, error);
  if (status != CAVUM_OK) return status;
  const cavum_place *place = &dial.place;
  cavum_unit unit = cavum_unit_of_key(place->name);
  *info = (cavum_cell_key_info){.unit = unit == CAVUM_UNIT_SI ? "1" : cavum_unit_symbol(unit),
                                .value = place->base,
                                .low = place->low,
                                .high = place->high};
  memcpy(info->key, place->name, sizeof info->key);
  cavum_cell_dial_clear(&dial);
  return CAVUM_OK;
}

cavum_status cavum_cell_get(double *value, const cavum_cell *cell, const char *key,
                            cavum_error *error) {
  cavum_cell_key_info info;
  if (!value || !key) return cavum_fail_null(error, __func__);
  cavum_status status = cavum_cell_describe_key(&info, cell, key, error);
  if (status == CAVUM_OK) *value = info.value;
  return status;
}

cavum_status cavum_cell_set(cavum_cell *cell, const char *key, double value, cavum_error *error) {
  cavum_cell full, made;
  cavum_cell_dial dial;
  bool owned = false;
  if (!key) return cavum_fail_null(error, __func__);
  cavum_status status = cavum_sized_take(&full, cell, &cavum_cell_sized, error);
  if (status == CAVUM_OK) status = cavum_cell_dial_open(&dial, &full, key, error);
  if (status != CAVUM_OK) return status;
  status = cavum_cell_dial_set(&made, &owned, &dial, value, error);
  // What was made from the text borrows nothing from it.
  if (status == CAVUM_OK && dial.is_read) CAVUM_ASSERT(owned);
  cavum_cell_dial_clear(&dial);
  if (status != CAVUM_OK) return status;
  size_t size = cell->struct_size;
  if (owned) {
    cavum_files read = full.files;  // it was made of these, whatever its text names
    full.files = made.files;
    made.files = read;
    cavum_cell_clear(&full);
  }
  cavum_sized_give(cell, size, &made, &cavum_cell_sized);
  return CAVUM_OK;
}
