// SPDX-License-Identifier: GPL-3.0-or-later
// Dimensions of a cell: the numbers of its file that are lengths or the particle speed.
#include "cell/dimension.h"

#include <string.h>

#include "base/base.h"
#include "cell/cell_digest.h"
#include "cell/keys.h"
#include "cell/moved_cell.h"
#include "cell/place.h"
#include "contour/parallel.h"
#include "contour/spline.h"
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

// Where a number stands: `side` and the section, both may be empty, and its own key.
typedef struct key_parts {
  const char *side, *section, *key;
} key_parts;

static char *copy_into(char *to, const char *end, const char *from) {
  while (*from && to < end) *to++ = *from++;
  *to = '\0';
  return to;
}

// A list is made in each solve with derivatives: formatted printing would be seen in its time.
static void write_key(char key[CAVUM_CELL_KEY_SIZE], const key_parts *parts) {
  const char *end = key + CAVUM_CELL_KEY_SIZE - 1;
  char *to = copy_into(key, end, parts->side);
  to = copy_into(to, end, parts->section);
  if (parts->section[0]) to = copy_into(to, end, ".");
  (void)copy_into(to, end, parts->key);
}

static char *copy_number(char *to, const char *end, int number) {
  char digits[16];
  char *first = digits + sizeof digits - 1;
  *first = '\0';
  for (; number > 0; number /= 10) *--first = (char)('0' + number % 10);
  return copy_into(to, end, first);
}

// A number of an entry of a path, which counts from 1; of a point of a spline where that is one.
static void write_path_key(char key[CAVUM_CELL_KEY_SIZE], int entry, const char *form, int point,
                           const char *own) {
  const char *end = key + CAVUM_CELL_KEY_SIZE - 1;
  char *to = copy_number(copy_into(key, end, "path["), end, entry);
  to = copy_into(copy_into(to, end, "]."), end, form);
  if (point > 0) to = copy_into(copy_number(copy_into(to, end, "["), end, point), end, "].");
  (void)copy_into(to, end, own);
}

cavum_status cavum_cell_dimensions_append(cavum_cell_dimensions *d, int64_t *capacity,
                                          const cavum_cell_dimension *dimension,
                                          cavum_error *error) {
  void *list = d->list;
  bool grown = cavum_grow(&list, capacity, (int64_t)d->count + 1, sizeof *d->list);
  d->list = list;
  if (!grown) return cavum_fail_memory(error);
  d->list[d->count++] = *dimension;
  return CAVUM_OK;
}

static cavum_status append(cavum_cell_dimensions *d, int64_t *capacity,
                           const cavum_cell_dimension *dimension, const key_parts *parts,
                           cavum_error *error) {
  cavum_status status = cavum_cell_dimensions_append(d, capacity, dimension, error);
  if (status == CAVUM_OK) write_key(d->list[d->count - 1].key, parts);
  return status;
}

// Section of a number of both halves without `contour.`.
static const char *section_of_half(const cavum_cell_number *number) {
  const char *ellipse = strchr(number->section->path, '.');
  return ellipse ? ellipse + 1 : "";
}

static cavum_status append_half(cavum_cell_dimensions *d, int64_t *capacity, const cavum_cell *cell,
                                const cavum_cell_number *number, cavum_error *error) {
  size_t offset = cavum_cell_number_offset(number);
  key_parts name = {"", section_of_half(number), number->field->key};
  double left = member_of(&cell->left, offset), right = member_of(&cell->right, offset);
  cavum_cell_dimension one = {.unit = number->field->unit,
                              .value = left,
                              .offset = offset,
                              .of_left = true,
                              .of_right = left == right};
  if (one.of_right) return append(d, capacity, &one, &name, error);
  name.side = "left.";
  cavum_status status = append(d, capacity, &one, &name, error);
  if (status != CAVUM_OK) return status;
  one.of_left = false;
  one.of_right = true;
  one.value = right;
  name.side = "right.";
  return append(d, capacity, &one, &name, error);
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
  const key_parts name = {"", number->section->path, number->field->key};
  return append(d, capacity, &one, &name, error);
}

// ---- paths: numbers are found in the text by the key that an entry may have. A path that is not
// the one of its text is listed as that would be written anew, from its curves.

// Where the numbers of a path are looked up.
typedef struct path_source {
  const cavum_contour *path;
  const cavum_place_finder *finder;  // NULL: in the curves, of which each would be an entry
} path_source;

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

// What an entry of the path is: one curve, or the spans of a spline.
typedef struct path_entry {
  int number;  // in the file, from 1
  cavum_index first, count;
  bool is_spline, is_circle;
  bool is_stated[2];  // directions of a spline
} path_entry;

static bool has_number(const cavum_place_finder *finder, const char *name) {
  cavum_place place;
  return cavum_place_find(&place, finder, name, NULL) == CAVUM_OK;
}

// The entry behind another one.
static path_entry next_entry(const path_entry *before, const path_source *source) {
  char name[CAVUM_CELL_KEY_SIZE];
  const cavum_place_finder *finder = source->finder;
  path_entry entry = {.number = before->number + 1, .first = before->first + before->count};
  while (finder && entry.first + entry.count < source->path->num_curves) {
    write_path_key(name, entry.number, "spline_through", (int)entry.count + 1, "z_mm");
    if (!has_number(finder, name)) break;
    entry.count++;
  }
  entry.is_spline = entry.count > 0;
  for (int end = 0; end < 2 && entry.is_spline; end++) {
    write_path_key(name, entry.number, end == 0 ? "direction_at_start_deg" : "direction_at_end_deg",
                   0, "");
    entry.is_stated[end] = has_number(finder, name);
  }
  if (entry.is_spline) return entry;
  entry.count = 1;
  if (!finder) return entry;
  write_path_key(name, entry.number, "arc_to.", 0, "z_mm");
  entry.is_circle = has_number(finder, name);
  return entry;
}

static void note_entry(cavum_cell_dimension *number, int side, const path_entry *entry) {
  number->is_circle[side] = entry->is_circle;
  if (!entry->is_spline) return;
  number->first[side] = entry->first;
  number->count[side] = entry->count;
  memcpy(number->is_stated[side], entry->is_stated, sizeof entry->is_stated);
}

// The curve whose number it is, and the one that begins at its end.
static void note_entries(cavum_cell_dimension *number, const path_entry *own,
                         const path_source *source) {
  static const path_entry none = {0};
  bool is_last = number->curve + 1 == source->path->num_curves;
  bool inside = number->curve + 1 < own->first + own->count;
  note_entry(number, 0, own);
  path_entry next = inside ? *own : next_entry(is_last ? &none : own, source);
  note_entry(number, 1, &next);
}

// Whether a curve has a number where it is written anew: lines, and arcs by their half axes.
static bool is_written(const cavum_curve *curve, const path_number *number) {
  bool of_line = strcmp(number->form, "line_to.") == 0,
       of_arc = strcmp(number->form, "arc_to.") == 0;
  return curve->kind == CAVUM_CURVE_LINE ? of_line : !of_line && !of_arc;
}

static double number_of_curve(const cavum_curve *curve, size_t offset) {
  switch (offset) {
    case OF_RATE(end.z_m):
      return curve->end.z_m;
    case OF_RATE(end.r_m):
      return curve->end.r_m;
    case OF_RATE(centre.z_m):
      return curve->centre.z_m;
    case OF_RATE(centre.r_m):
      return curve->centre.r_m;
    case OF_RATE(axial_m):
      return curve->axial_m;
    default:
      return curve->radial_m;
  }
}

// False where the source has no number of this name.
static bool find_value(double *value_m, const path_source *source, const char *name,
                       const cavum_cell_dimension *number) {
  cavum_place place;
  if (!source->finder) {
    *value_m = number_of_curve(&source->path->curves[number->curve], number->offset);
    return true;
  }
  if (cavum_place_find(&place, source->finder, name, NULL) != CAVUM_OK) return false;
  *value_m = cavum_from_unit(place.base, CAVUM_UNIT_MM);
  return true;
}

static cavum_status append_path_number(cavum_cell_dimensions *d, int64_t *capacity,
                                       const path_source *source, const char *name,
                                       const cavum_cell_dimension *number, const path_entry *entry,
                                       cavum_error *error) {
  cavum_cell_dimension one = *number;
  if (!find_value(&one.value, source, name, number)) return CAVUM_OK;
  one.of_path = one.of_left = one.of_right = true;
  note_entries(&one, entry, source);
  one.unit = CAVUM_UNIT_MM;
  return append(d, capacity, &one, &(key_parts){"", "", name}, error);
}

static cavum_status append_start(cavum_cell_dimensions *d, int64_t *capacity,
                                 const path_source *source, const path_entry *last,
                                 cavum_error *error) {
  const cavum_contour *path = source->path;
  cavum_status status = CAVUM_OK;
  cavum_cell_dimension start = {.offset = OF_RATE(end.z_m), .curve = path->num_curves - 1};
  CAVUM_TRY(append_path_number(d, capacity, source, "start.z_mm", &start, last, error));
  start.offset = OF_RATE(end.r_m);
  if (on_axis(path, 0)) goto done;
  CAVUM_TRY(append_path_number(d, capacity, source, "start.r_mm", &start, last, error));
done:
  return status;
}

static cavum_status append_entry(cavum_cell_dimensions *d, int64_t *capacity,
                                 const path_source *source, const path_entry *entry,
                                 cavum_error *error) {
  const cavum_contour *path = source->path;
  cavum_status status = CAVUM_OK;
  char name[CAVUM_CELL_KEY_SIZE];
  for (int k = 0; !entry->is_spline && k < NUM_PATH_NUMBERS; k++) {
    const path_number *number = &path_numbers[k];
    if (!source->finder && !is_written(&path->curves[entry->first], number)) continue;
    bool is_last = entry->first + 1 == path->num_curves;
    bool is_end = number->offset == OF_RATE(end.z_m) || number->offset == OF_RATE(end.r_m);
    if (is_end && (is_last || (number->is_radius && on_axis(path, entry->first + 1)))) continue;
    const cavum_cell_dimension one = {.offset = number->offset, .curve = entry->first};
    write_path_key(name, entry->number, number->form, 0, number->key);
    CAVUM_TRY(append_path_number(d, capacity, source, name, &one, entry, error));
  }
  for (cavum_index k = 0; entry->is_spline && k < entry->count; k++) {
    cavum_cell_dimension one = {.offset = OF_RATE(end.z_m), .curve = entry->first + k};
    if (one.curve + 1 == path->num_curves) continue;
    write_path_key(name, entry->number, "spline_through", (int)k + 1, "z_mm");
    CAVUM_TRY(append_path_number(d, capacity, source, name, &one, entry, error));
    if (on_axis(path, one.curve + 1)) continue;
    one.offset = OF_RATE(end.r_m);
    write_path_key(name, entry->number, "spline_through", (int)k + 1, "r_mm");
    CAVUM_TRY(append_path_number(d, capacity, source, name, &one, entry, error));
  }
done:
  return status;
}

// Paths with cubics by their coefficients are left out: a spline of a cell that was changed in
// memory is written as such. So are paths with parallels: no number of one alone may change.
static bool has_cubic(const path_source *source, path_entry *last) {
  const cavum_contour *path = source->path;
  path_entry entry = {0};
  while (entry.first + entry.count < path->num_curves) {
    entry = next_entry(&entry, source);
    const cavum_curve *curve = &path->curves[entry.first];
    bool cubic = curve->kind == CAVUM_CURVE_CUBIC || cavum_curve_is_parallel(curve);
    if (cubic && !entry.is_spline) return true;
  }
  *last = entry;
  return false;
}

static cavum_status append_path(cavum_cell_dimensions *d, int64_t *capacity,
                                const path_source *source, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  path_entry entry = {0}, last;
  if (has_cubic(source, &last)) return CAVUM_OK;
  CAVUM_TRY(append_start(d, capacity, source, &last, error));
  while (entry.first + entry.count < source->path->num_curves) {
    entry = next_entry(&entry, source);
    CAVUM_TRY(append_entry(d, capacity, source, &entry, error));
  }
done:
  return status;
}

// Only the text that was read has splines and circles as such.
static cavum_status list_path(cavum_cell_dimensions *d, int64_t *capacity, const cavum_cell *cell,
                              cavum_text_path *known, cavum_error *error) {
  cavum_place_finder finder = {0};
  path_source source = {.path = &cell->path};
  cavum_status status = CAVUM_OK;
  bool of_text = true;
  if (known) status = cavum_cell_has_path_of_known(&of_text, known, cell, error);
  if (status != CAVUM_OK) return status;
  if (of_text) {
    status = cavum_place_finder_open(&finder, cell, "of the cell", error);
    if (status != CAVUM_OK) return status;
    source.finder = &finder;
  }
  status = append_path(d, capacity, &source, error);
  cavum_place_finder_clear(&finder);
  return status;
}

// The end that a path number moves belongs to the next curve too. A spline changes as a whole.
static cavum_status rate_of_path(cavum_curve_rate *rates, const cavum_contour *contour,
                                 const cavum_cell_dimension *d, cavum_error *error) {
  cavum_index n = contour->num_curves, next = d->curve + 1 < n ? d->curve + 1 : 0;
  bool is_end = d->offset == OF_RATE(end.z_m) || d->offset == OF_RATE(end.r_m);
  cavum_curve_rate own = {0};
  add_to_member(&own, d->offset, 1.0);
  bool one_spline = d->count[0] > 0 && d->count[1] > 0 && d->first[0] == d->first[1];
  for (int i = 0; i < (is_end && !one_spline ? 2 : 1); i++) {
    cavum_index at = i == 0 ? d->curve : next;
    const cavum_curve *curve = &contour->curves[at];
    if (d->count[i] > 0) {
      cavum_index moved = i == 0 ? at + 1 - d->first[i] : 0;
      cavum_status status = cavum_spline_rate(&rates[d->first[i]], &contour->curves[d->first[i]],
                                              d->count[i], d->is_stated[i], moved, own.end, error);
      if (status != CAVUM_OK) return status;
      continue;
    }
    if (i == 0) rates[at] = own;
    if (i == 1) rates[at].start = own.end;
    if (curve->kind == CAVUM_CURVE_ELLIPSE) {
      cavum_curve_rate_fit_arc(&rates[at], curve, d->is_circle[i]);
    }
  }
  return CAVUM_OK;
}

cavum_status cavum_cell_dimensions_list_unmoved(cavum_cell_dimensions *dimensions,
                                                const cavum_cell *cell, cavum_text_path *known,
                                                cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_cell_dimensions made = {0};
  cavum_cell_number number = {0};
  int64_t capacity = 0;
  bool halves = cell->kind == CAVUM_CONTOUR_TWO_ELLIPSE;
  if (cell->kind == CAVUM_CONTOUR_MESH_FILE) goto done;
  if (cell->kind == CAVUM_CONTOUR_PATH) CAVUM_TRY(list_path(&made, &capacity, cell, known, error));
  while (cavum_cell_number_next(&number)) {
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

cavum_status cavum_cell_dimension_rate_unmoved(cavum_curve_rate *rates, cavum_cell_rate *rate,
                                               bool *smooth, const cavum_contour *contour,
                                               const cavum_cell *cell, cavum_cell_part part,
                                               const cavum_cell_dimension *dimension,
                                               cavum_error *error) {
  cavum_two_ellipse_way way;
  *smooth = true;
  *rate = (cavum_cell_rate){0};
  memset(rates, 0, (size_t)contour->num_curves * sizeof *rates);
  if (dimension->of_cell && !dimension->of_left && !dimension->of_right) {
    bool is_beta = dimension->offset == offsetof(cavum_cell, beta);
    *(is_beta ? &rate->beta : &rate->accelerating_length_m) = 1.0;
    return CAVUM_OK;
  }
  if (dimension->of_path) return rate_of_path(rates, contour, dimension, error);
  fill_way(&way, cell, part == CAVUM_PART_RIGHT, dimension);
  rate->accelerating_length_m = length_rate(cell, &way);
  *smooth = cavum_two_ellipse_rate(rates, contour, cell, part, &way);
  return CAVUM_OK;
}
