// SPDX-License-Identifier: GPL-3.0-or-later
// From dotted names to places in a cell. The names are those of the cell file; what a half of a
// two-ellipse cell does not say itself follows the contour section, also while that varies.
#include "cell/place.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "cell/arc_settle.h"
#include "cell/keys.h"
#include "cell/limits.h"
#include "yaml/writer.h"

cavum_status cavum_place_finder_open(cavum_place_finder *finder, const cavum_cell *cell,
                                     const char *name, cavum_error *error) {
  cavum_place_finder opened = {.cell = cell};
  cavum_status status = cavum_yaml_reader_open(&opened.reader, cell->text, strlen(cell->text),
                                               CAVUM_CELL_LARGEST_TEXT, name, error);
  if (status == CAVUM_OK) *finder = opened;
  return status;
}

void cavum_place_finder_clear(cavum_place_finder *finder) {
  cavum_yaml_reader_clear(&finder->reader);
  finder->cell = NULL;
}

bool cavum_place_is_half_of(const cavum_place *half, const cavum_place *both) {
  if (both->kind != CAVUM_PLACE_HALVES || both->offset != half->offset) return false;
  return (half->kind == CAVUM_PLACE_LEFT && both->set_left) ||
         (half->kind == CAVUM_PLACE_RIGHT && both->set_right);
}

// Follows a dotted name through the tree; NULL when there is nothing of that name.
static const cavum_yaml_node *find_node(const cavum_yaml_reader *reader, const char *name) {
  const cavum_yaml_node *node = &reader->tree.nodes[0];
  while (*name && node) {
    char key[CAVUM_PLACE_NAME_SIZE];
    size_t length = strcspn(name, ".[");
    if (length == 0 || length >= sizeof key || node->kind != CAVUM_YAML_NODE_MAPPING) return NULL;
    memcpy(key, name, length);
    key[length] = '\0';
    node = cavum_yaml_reader_child(reader, node, key);
    name += length;
    while (node && *name == '[') {
      char *end = NULL;
      long index = strtol(name + 1, &end, 10);
      if (node->kind != CAVUM_YAML_NODE_LIST || *end != ']' || index < 1) return NULL;
      node = cavum_yaml_reader_first(reader, node);
      for (long i = 1; node && i < index; i++) node = cavum_yaml_reader_next(reader, node);
      name = end + 1;
    }
    if (*name == '.') name++;
  }
  return node;
}

// Byte where a node's text starts.
static bool locate(size_t *start, const char *text, const cavum_yaml_node *node) {
  *start = cavum_yaml_tree_byte(text, node->line, node->column);
  return strncmp(text + *start, node->text, strlen(node->text)) == 0;
}

void cavum_place_offer_nearest(cavum_nearest *nearest, const cavum_place_finder *finder,
                               const char *name) {
  cavum_cell_number number = {0};
  const char *bare = strncmp(name, "contour.", 8) == 0 ? name + 8 : name;
  if (finder->cell->kind != CAVUM_CONTOUR_TWO_ELLIPSE) return;
  while (cavum_cell_number_next(&number)) {
    if (number.section->owner != CAVUM_CELL_OWNER_HALF) continue;
    const char *ellipse = strchr(number.section->path, '.');
    cavum_yaml_path known = cavum_yaml_path_join(ellipse ? ellipse + 1 : "", number.field->key);
    cavum_nearest_offer(nearest, bare, known.text);
  }
}

static cavum_status unknown(const cavum_place_finder *finder, const char *name,
                            cavum_error *error) {
  cavum_nearest nearest = {0};
  char hint[CAVUM_NEAREST_SIZE];
  cavum_place_offer_nearest(&nearest, finder, name);
  return cavum_fail(error, CAVUM_ERR_INPUT, "the cell has no number '%s'%s", name,
                    cavum_nearest_write(hint, &nearest, ""));
}

const cavum_yaml_node *cavum_place_last_point(const cavum_yaml_reader *reader) {
  static const char *const forms[] = {"line_to", "arc_to", "ellipse_to"};
  const cavum_yaml_node *path = find_node(reader, "contour.path");
  if (!path || path->kind != CAVUM_YAML_NODE_LIST || path->num_children == 0) return NULL;
  const cavum_yaml_node *piece = &reader->tree.nodes[path->last_child];
  if (piece->kind != CAVUM_YAML_NODE_MAPPING) return NULL;
  for (int i = 0; i < 3; i++) {
    const cavum_yaml_node *end = cavum_yaml_reader_child(reader, piece, forms[i]);
    if (end) return end;
  }
  const cavum_yaml_node *points = cavum_yaml_reader_child(reader, piece, "spline_through");
  bool has_points = points && points->kind == CAVUM_YAML_NODE_LIST && points->num_children > 0;
  return has_points ? &reader->tree.nodes[points->last_child] : NULL;
}

// The same coordinate at the other end of a path; NULL: the number is of neither end.
static const cavum_yaml_node *twin_of(const cavum_yaml_reader *reader,
                                      const cavum_yaml_node *number) {
  const cavum_yaml_node *ends[2] = {find_node(reader, "contour.start"),
                                    cavum_place_last_point(reader)};
  for (int i = 0; i < 2; i++) {
    const cavum_yaml_node *here = ends[i], *there = ends[1 - i];
    if (!here || !there || here->kind != CAVUM_YAML_NODE_MAPPING ||
        there->kind != CAVUM_YAML_NODE_MAPPING) {
      continue;
    }
    if (cavum_yaml_reader_child(reader, here, number->key) != number) continue;
    return cavum_yaml_reader_child(reader, there, number->key);
  }
  return NULL;
}

static void find_twin(cavum_place *place, const cavum_place_finder *finder,
                      const cavum_yaml_node *number) {
  const cavum_yaml_node *twin = number->key ? twin_of(&finder->reader, number) : NULL;
  if (!twin || twin->kind != CAVUM_YAML_NODE_SCALAR) return;
  if (locate(&place->twin_start, finder->cell->text, twin)) {
    place->twin_length = strlen(twin->text);
  }
}

static cavum_status find_in_text(cavum_place *place, const cavum_place_finder *finder,
                                 cavum_error *error) {
  const cavum_yaml_node *node = find_node(&finder->reader, place->name);
  char *end = NULL;
  if (!node || node->kind != CAVUM_YAML_NODE_SCALAR || !node->plain || !*node->text) {
    return unknown(finder, place->name, error);
  }
  place->kind = CAVUM_PLACE_TEXT;
  place->unit = CAVUM_UNIT_SI;
  place->low = -HUGE_VAL;
  place->high = HUGE_VAL;
  place->base = strtod_l(node->text, &end, finder->reader.number_locale);
  place->text_length = strlen(node->text);
  if (*end != '\0' || !locate(&place->text_start, finder->cell->text, node)) {
    return unknown(finder, place->name, error);
  }
  find_twin(place, finder, node);
  return CAVUM_OK;
}

cavum_status cavum_place_find_in_text(cavum_place *place, const cavum_place_finder *finder,
                                      const char *name, cavum_error *error) {
  cavum_place found = {0};
  snprintf(found.name, sizeof found.name, "%s", name);
  cavum_status status = find_in_text(&found, finder, error);
  found.unit = cavum_unit_of_key(name);
  if (status == CAVUM_OK) *place = found;
  return status;
}

static double read_member(const void *owner, size_t offset) {
  double value;
  memcpy(&value, (const char *)owner + offset, sizeof value);
  return value;
}

static void write_member(void *owner, size_t offset, double value) {
  memcpy((char *)owner + offset, &value, sizeof value);
}

static bool file_has(const cavum_place_finder *finder, const char *prefix, const char *key) {
  char name[CAVUM_PLACE_NAME_SIZE];
  snprintf(name, sizeof name, "%s%s", prefix, key);
  return find_node(&finder->reader, name) != NULL;
}

// Fills a place from a number of a cell or a half.
static void take_number(cavum_place *place, const cavum_cell_number *number, cavum_place_kind kind,
                        const void *owner) {
  const cavum_yaml_field *field = number->field;
  place->kind = kind;
  place->offset = cavum_cell_number_offset(number);
  place->unit = field->unit;
  place->low = field->low;
  place->high = field->high;
  place->base = cavum_in_unit(read_member(owner, place->offset), field->unit);
}

// A dimension of one half or of both; false when the name is none.
static bool find_half(cavum_place *place, const cavum_place_finder *finder) {
  const char *key = place->name + strlen("contour.");
  cavum_place_kind kind = CAVUM_PLACE_HALVES;
  if (strncmp(key, "left.", 5) == 0) {
    kind = CAVUM_PLACE_LEFT;
    key += 5;
  } else if (strncmp(key, "right.", 6) == 0) {
    kind = CAVUM_PLACE_RIGHT;
    key += 6;
  }
  cavum_cell_number number;
  if (!cavum_cell_number_find(&number, cavum_yaml_path_join("contour", key).text) ||
      number.section->owner != CAVUM_CELL_OWNER_HALF) {
    return false;
  }
  bool left_own = file_has(finder, "contour.left.", key);
  bool right_own = file_has(finder, "contour.right.", key);
  if (kind == CAVUM_PLACE_HALVES && left_own && right_own) return false;
  bool from_right = kind == CAVUM_PLACE_RIGHT || (kind == CAVUM_PLACE_HALVES && left_own);
  take_number(place, &number, kind, from_right ? &finder->cell->right : &finder->cell->left);
  place->set_left = kind == CAVUM_PLACE_LEFT || (kind == CAVUM_PLACE_HALVES && !left_own);
  place->set_right = kind == CAVUM_PLACE_RIGHT || (kind == CAVUM_PLACE_HALVES && !right_own);
  return true;
}

static bool find_member(cavum_place *place, const cavum_place_finder *finder) {
  const cavum_cell *cell = finder->cell;
  bool left = strncmp(place->name, "ends.left.", 10) == 0;
  bool right = strncmp(place->name, "ends.right.", 11) == 0;
  if ((left && cell->left_end.kind != CAVUM_END_TUBE) ||
      (right && cell->right_end.kind != CAVUM_END_TUBE)) {
    return false;
  }
  cavum_cell_number number;
  if (!cavum_cell_number_find(&number, place->name) ||
      number.section->owner != CAVUM_CELL_OWNER_CELL) {
    return false;
  }
  take_number(place, &number, CAVUM_PLACE_CELL, cell);
  return true;
}

cavum_status cavum_place_find(cavum_place *place, const cavum_place_finder *finder,
                              const char *name, cavum_error *error) {
  cavum_place found = {0};
  int length = snprintf(found.name, sizeof found.name, "%s%s",
                        cavum_cell_name_has_section(name) ? "" : "contour.", name);
  if (length < 0 || (size_t)length >= sizeof found.name) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "'%.60s...' is longer than any name", name);
  }
  bool two_ellipse = finder->cell->kind == CAVUM_CONTOUR_TWO_ELLIPSE;
  bool contour = strncmp(found.name, "contour.", 8) == 0;
  cavum_status status = CAVUM_OK;
  if (two_ellipse && contour) {
    if (!find_half(&found, finder)) status = unknown(finder, found.name, error);
  } else if (!find_member(&found, finder)) {
    status = find_in_text(&found, finder, error);
  }
  if (status == CAVUM_OK) *place = found;
  return status;
}

// A number in the text that becomes another.
typedef struct text_edit {
  size_t start, length;
  double value_si;
  cavum_unit unit;
  bool stays;  // the number that is there already
} text_edit;

// What a list of places makes of the text.
typedef struct text_edits {
  int count;
  cavum_place_of *place_of;
  const void *data;
  const double *values;
} text_edits;

// Whether another place of the list stands at these bytes: it says what they become.
static bool is_stated(const text_edits *edits, size_t start) {
  for (int i = 0; i < edits->count; i++) {
    const cavum_place *place = edits->place_of(edits->data, i);
    if (place->kind == CAVUM_PLACE_TEXT && place->text_start == start) return true;
  }
  return false;
}

// The first of the edits from byte `from` on; there are few, so they need no order of their own.
static bool next_edit(text_edit *next, const text_edits *edits, size_t from) {
  bool found = false;
  for (int i = 0; i < edits->count; i++) {
    const cavum_place *place = edits->place_of(edits->data, i);
    if (place->kind != CAVUM_PLACE_TEXT) continue;
    bool has_twin = place->twin_length > 0 && !is_stated(edits, place->twin_start);
    double value_si = cavum_from_unit(edits->values[i], place->unit);
    bool stays = edits->values[i] == place->base;
    const text_edit at[2] = {{place->text_start, place->text_length, value_si, place->unit, stays},
                             {place->twin_start, place->twin_length, value_si, place->unit, false}};
    for (int k = 0; k < (has_twin ? 2 : 1); k++) {
      if (at[k].start < from || (found && at[k].start >= next->start)) continue;
      *next = at[k];
      found = true;
    }
  }
  return found;
}

// The text of the cell file with other numbers in it.
static char *substitute(const char *text, const text_edits *edits) {
  char *replaced = NULL;
  size_t length = 0, done = 0;
  text_edit next;
  FILE *out = open_memstream(&replaced, &length);
  if (!out) return NULL;
  while (next_edit(&next, edits, done)) {
    fwrite(text + done, 1, next.start - done, out);
    char number[CAVUM_WRITER_NUMBER_SIZE];
    if (next.stays) {
      fwrite(text + next.start, 1, next.length, out);
    } else {
      cavum_writer_number_text(number, next.value_si, next.unit);
      fputs(number, out);
    }
    done = next.start + next.length;
  }
  fputs(text + done, out);
  if (fclose(out) == 0) return replaced;
  free(replaced);
  return NULL;
}

// Also where the file states its radius: derivatives have one dimension of the two, and shapes that
// were computed must be those that are written.
static bool tube_follows(const cavum_end *end, const cavum_half_cell *half) {
  return end->kind == CAVUM_END_TUBE && end->tube_radius_m == half->iris_radius_m;
}

cavum_place_base cavum_place_make_base(const cavum_place_finder *finder, const char *path) {
  const cavum_cell *cell = finder->cell;
  bool halves = cell->kind == CAVUM_CONTOUR_TWO_ELLIPSE;
  return (cavum_place_base){
      .cell = cell,
      .path = path,
      .left_tube_follows = halves && tube_follows(&cell->left_end, &cell->left),
      .right_tube_follows = halves && tube_follows(&cell->right_end, &cell->right)};
}

static void set_place(cavum_cell *cell, const cavum_place *place, double value) {
  double si = cavum_from_unit(value, place->unit);
  if (place->set_left) write_member(&cell->left, place->offset, si);
  if (place->set_right) write_member(&cell->right, place->offset, si);
  if (place->kind == CAVUM_PLACE_CELL) write_member(cell, place->offset, si);
}

static cavum_status check_ranges(bool *in_text, int count, cavum_place_of *place_of,
                                 const void *data, const double *values, cavum_error *error) {
  *in_text = false;
  for (int i = 0; i < count; i++) {
    const cavum_place *place = place_of(data, i);
    *in_text = *in_text || place->kind == CAVUM_PLACE_TEXT;
    if (values[i] >= place->low && values[i] <= place->high) continue;
    return cavum_fail(error, CAVUM_ERR_INPUT, "%s: must lie between %g and %g, found %.9g",
                      place->name, place->low, place->high, values[i]);
  }
  return CAVUM_OK;
}

// Reads a text, which is freed: an arc that misses its ends is fitted to them.
static cavum_status read_settled(cavum_cell *made, char *text, const char *path,
                                 cavum_error *error) {
  cavum_error what = {0};
  cavum_status status = cavum_cell_read_text(made, text, strlen(text), path, &what);
  if (status == CAVUM_ERR_GEOMETRY) {
    cavum_status settled = cavum_arc_settle(&text, &what);
    status =
        settled == CAVUM_OK ? cavum_cell_read_text(made, text, strlen(text), path, &what) : settled;
  }
  free(text);
  if (status != CAVUM_OK && error) *error = what;
  return status;
}

cavum_status cavum_place_apply(cavum_cell *cell, bool *owned, const cavum_place_base *base,
                               int count, cavum_place_of *place_of, const void *data,
                               const double *values, cavum_error *error) {
  bool in_text = false;
  cavum_status status = check_ranges(&in_text, count, place_of, data, values, error);
  if (status != CAVUM_OK) return status;
  cavum_cell made = *base->cell;
  if (in_text) {
    const text_edits edits = {count, place_of, data, values};
    char *text = substitute(base->cell->text, &edits);
    if (!text) return cavum_fail_memory(error);
    status = read_settled(&made, text, base->path, error);
    if (status != CAVUM_OK) return status;
  }
  // From the general to the particular, as in the file.
  static const cavum_place_kind order[] = {CAVUM_PLACE_HALVES, CAVUM_PLACE_LEFT, CAVUM_PLACE_RIGHT,
                                           CAVUM_PLACE_CELL};
  for (size_t pass = 0; pass < sizeof order / sizeof *order; pass++) {
    if (order[pass] == CAVUM_PLACE_CELL) {
      if (base->left_tube_follows) made.left_end.tube_radius_m = made.left.iris_radius_m;
      if (base->right_tube_follows) made.right_end.tube_radius_m = made.right.iris_radius_m;
    }
    for (int i = 0; i < count; i++) {
      const cavum_place *place = place_of(data, i);
      if (place->kind == order[pass]) set_place(&made, place, values[i]);
    }
  }
  *cell = made;
  *owned = in_text;
  return CAVUM_OK;
}
