// SPDX-License-Identifier: GPL-3.0-or-later
// Centres of arcs follow their ends, in the text of a cell file.
#include "cell/arc_settle.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "cell/limits.h"
#include "yaml/reader.h"
#include "yaml/writer.h"

// Arcs that miss their ends by less, of the distance, are taken as they are when they are read.
static const double MISS = 1e-7;

/** Number of a mapping, with the node where it stands. */
typedef struct number {
  const cavum_yaml_node *node;
  double value;
} number;

/** A text while its arcs are settled. */
typedef struct settling {
  cavum_yaml_reader reader;  // owned
  const char *text;          // borrowed
  FILE *out;                 // owned
  size_t done;               // bytes that are written
} settling;

static bool find_number(number *found, const settling *s, const cavum_yaml_node *mapping,
                        const char *key) {
  bool good = mapping && mapping->kind == CAVUM_YAML_NODE_MAPPING;
  const cavum_yaml_node *node = good ? cavum_yaml_reader_child(&s->reader, mapping, key) : NULL;
  if (!node || node->kind != CAVUM_YAML_NODE_SCALAR || !node->plain || !*node->text) return false;
  char *end = NULL;
  *found = (number){node, strtod_l(node->text, &end, s->reader.number_locale)};
  return *end == '\0' && isfinite(found->value);
}

static bool find_point(number point[2], const settling *s, const cavum_yaml_node *mapping) {
  return find_number(&point[0], s, mapping, "z_mm") && find_number(&point[1], s, mapping, "r_mm");
}

/** An arc with its numbers; those of a circle have no half axes. */
typedef struct arc {
  number centre[2], axes[2];
  bool is_circle;
  double start[2], end[2];
} arc;

// Another centre, and half axes by a factor; false where the arc may stay.
static bool fit(double centre[2], double *factor, const arc *a) {
  double first[2], last[2], chord2 = 0.0, along = 0.0;
  for (int k = 0; k < 2; k++) {
    double axis = a->is_circle ? 1.0 : a->axes[k].value;
    if (!(axis > 0.0)) return false;
    first[k] = (a->start[k] - a->centre[k].value) / axis;
    last[k] = (a->end[k] - a->centre[k].value) / axis;
    chord2 += (last[k] - first[k]) * (last[k] - first[k]);
    along += (last[k] - first[k]) * (last[k] + first[k]);
  }
  double one = hypot(first[0], first[1]), two = hypot(last[0], last[1]);
  double size = a->is_circle ? 0.5 * (one + two) : 1.0;
  if (fabs(one - size) <= MISS * size && fabs(two - size) <= MISS * size) return false;
  if (!(chord2 > 0.0)) return false;
  double moved[2], shift = 0.5 * along / chord2;
  for (int k = 0; k < 2; k++) {
    moved[k] = shift * (last[k] - first[k]);
    centre[k] = a->centre[k].value + (a->is_circle ? 1.0 : a->axes[k].value) * moved[k];
  }
  *factor = hypot(first[0] - moved[0], first[1] - moved[1]);
  return true;
}

static void write_number(settling *s, const number *at, double value) {
  size_t start = cavum_yaml_tree_byte(s->text, at->node->line, at->node->column);
  size_t length = strlen(at->node->text);
  if (start < s->done || strncmp(s->text + start, at->node->text, length) != 0) return;
  fwrite(s->text + s->done, 1, start - s->done, s->out);
  char text[CAVUM_WRITER_NUMBER_SIZE];
  cavum_writer_number_text(text, value, CAVUM_UNIT_SI);
  fputs(text, s->out);
  s->done = start + length;
}

static int compare_places(const void *left, const void *right) {
  const cavum_yaml_node *a = ((const number *)left)->node, *b = ((const number *)right)->node;
  if (a->line != b->line) return a->line < b->line ? -1 : 1;
  return (a->column > b->column) - (a->column < b->column);
}

static void settle(settling *s, const arc *a) {
  double centre[2], factor;
  if (!fit(centre, &factor, a)) return;
  number changed[4] = {a->centre[0], a->centre[1], a->axes[0], a->axes[1]};
  for (int k = 0; k < 2; k++) {
    changed[k].value = centre[k];
    changed[2 + k].value *= factor;
  }
  size_t count = a->is_circle ? 2 : 4;
  qsort(changed, count, sizeof *changed, compare_places);
  for (size_t k = 0; k < count; k++) write_number(s, &changed[k], changed[k].value);
}

// The mapping of the point where an entry of a path ends; NULL: a form that is not known here.
static const cavum_yaml_node *end_of(bool *is_circle, bool *is_arc, const settling *s,
                                     const cavum_yaml_node *entry) {
  static const char *const forms[] = {"arc_to", "ellipse_to", "line_to", "cubic_to"};
  const cavum_yaml_node *found = NULL;
  *is_circle = *is_arc = false;
  if (entry->kind != CAVUM_YAML_NODE_MAPPING) return NULL;
  for (int i = 0; i < 4 && !found; i++) {
    found = cavum_yaml_reader_child(&s->reader, entry, forms[i]);
    *is_circle = found && i == 0;
    *is_arc = found && i < 2;
  }
  if (found) return found;
  const cavum_yaml_node *list = cavum_yaml_reader_child(&s->reader, entry, "spline_through");
  if (!list || list->kind != CAVUM_YAML_NODE_LIST) return NULL;
  const cavum_yaml_node *point = cavum_yaml_reader_first(&s->reader, list);
  for (; point; point = cavum_yaml_reader_next(&s->reader, point)) found = point;
  return found;
}

static bool take_arc(arc *a, const settling *s, const cavum_yaml_node *entry) {
  const cavum_yaml_node *centre = cavum_yaml_reader_child(&s->reader, entry, "centre");
  if (cavum_yaml_reader_child(&s->reader, entry, "angle_start_rad")) return false;
  if (!find_point(a->centre, s, centre)) return false;
  return a->is_circle || (find_number(&a->axes[0], s, entry, "axial_mm") &&
                          find_number(&a->axes[1], s, entry, "radial_mm"));
}

static const cavum_yaml_node *contour_of(const settling *s) {
  const cavum_yaml_node *root = &s->reader.tree.nodes[0];
  if (root->kind != CAVUM_YAML_NODE_MAPPING) return NULL;
  const cavum_yaml_node *contour = cavum_yaml_reader_child(&s->reader, root, "contour");
  return contour && contour->kind == CAVUM_YAML_NODE_MAPPING ? contour : NULL;
}

static void settle_path(settling *s, const cavum_yaml_node *contour) {
  number at[2], end[2];
  const cavum_yaml_node *start = cavum_yaml_reader_child(&s->reader, contour, "start");
  const cavum_yaml_node *path = cavum_yaml_reader_child(&s->reader, contour, "path");
  if (!path || path->kind != CAVUM_YAML_NODE_LIST || !find_point(at, s, start)) return;
  const cavum_yaml_node *entry = cavum_yaml_reader_first(&s->reader, path);
  for (; entry; entry = cavum_yaml_reader_next(&s->reader, entry)) {
    arc a = {.is_circle = false};
    bool is_arc;
    if (!find_point(end, s, end_of(&a.is_circle, &is_arc, s, entry))) return;
    for (int k = 0; k < 2; k++) {
      a.start[k] = at[k].value;
      a.end[k] = end[k].value;
    }
    if (is_arc && take_arc(&a, s, entry)) settle(s, &a);
    memcpy(at, end, sizeof at);
  }
}

cavum_status cavum_arc_settle(char **text, cavum_error *error) {
  settling s = {.text = *text};
  char *made = NULL;
  size_t size = 0;
  cavum_status status = cavum_yaml_reader_open(&s.reader, *text, strlen(*text),
                                               CAVUM_CELL_LARGEST_TEXT, "the cell file", error);
  if (status != CAVUM_OK) return status;
  s.out = open_memstream(&made, &size);
  if (!s.out) CAVUM_TRY(cavum_fail_memory(error));
  const cavum_yaml_node *contour = contour_of(&s);
  if (contour) settle_path(&s, contour);
  fputs(*text + s.done, s.out);
  if (fclose(s.out) != 0) CAVUM_TRY(cavum_fail_memory(error));
  free(*text);
  *text = made;
  made = NULL;
done:
  cavum_yaml_reader_clear(&s.reader);
  free(made);
  return status;
}

// ---- names

/** A number of a path: of which entry, and whether it is where that ends. */
typedef struct place_of_key {
  int entry;  // from 1; 0: the start of the path; -1: none
  bool is_end;
} place_of_key;

static place_of_key find_place(const char *key) {
  static const char *const ends[] = {"arc_to.", "ellipse_to.", "line_to.", "cubic_to."};
  place_of_key at = {.entry = -1};
  char *rest = NULL;
  if (strncmp(key, "contour.", 8) == 0) key += 8;
  if (strncmp(key, "start.", 6) == 0) return (place_of_key){.is_end = true};
  if (strncmp(key, "path[", 5) != 0) return at;
  long entry = strtol(key + 5, &rest, 10);
  if (entry < 1 || entry > INT32_MAX || strncmp(rest, "].", 2) != 0) return at;
  at.entry = (int)entry;
  for (int i = 0; i < 4; i++) at.is_end = at.is_end || !strncmp(rest + 2, ends[i], strlen(ends[i]));
  return at;
}

// Whether an entry, from 1, is an arc that the number changes: it is its own, or one of its ends,
// of which the last is the start of the path.
static bool is_changed(const place_of_key *at, int entry, int count) {
  int last = at->entry == 0 ? count : at->entry, next = last == count ? 1 : last + 1;
  return entry == last || (at->is_end && entry == next);
}

static void name_arcs(char names[CAVUM_ARC_NAMES_SIZE], const settling *s,
                      const cavum_yaml_node *path, const place_of_key *at) {
  int count = 0, entry = 0;
  const cavum_yaml_node *node = cavum_yaml_reader_first(&s->reader, path);
  for (const cavum_yaml_node *n = node; n; n = cavum_yaml_reader_next(&s->reader, n)) count++;
  for (; node; node = cavum_yaml_reader_next(&s->reader, node)) {
    bool is_circle, is_arc;
    size_t used = strlen(names);
    entry++;
    if (!is_changed(at, entry, count) || !end_of(&is_circle, &is_arc, s, node) || !is_arc) continue;
    snprintf(names + used, CAVUM_ARC_NAMES_SIZE - used, "%spath[%d]", used > 0 ? " and " : "",
             entry);
  }
}

cavum_status cavum_arc_name_changed(char names[CAVUM_ARC_NAMES_SIZE], const char *text,
                                    const char *key, cavum_error *error) {
  settling s = {.text = text};
  const place_of_key at = find_place(key);
  names[0] = '\0';
  if (at.entry < 0) return CAVUM_OK;
  cavum_status status = cavum_yaml_reader_open(&s.reader, text, strlen(text),
                                               CAVUM_CELL_LARGEST_TEXT, "the cell file", error);
  if (status != CAVUM_OK) return status;
  const cavum_yaml_node *contour = contour_of(&s);
  const cavum_yaml_node *path =
      contour ? cavum_yaml_reader_child(&s.reader, contour, "path") : NULL;
  if (path && path->kind == CAVUM_YAML_NODE_LIST) name_arcs(names, &s, path, &at);
  cavum_yaml_reader_clear(&s.reader);
  return CAVUM_OK;
}
