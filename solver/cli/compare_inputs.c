// SPDX-License-Identifier: GPL-3.0-or-later
// A cell is written as a cell file with all its values and read as a tree, whose leaves are its
// inputs: no key is forgotten that a cell file may have. The pieces of a path have the names and
// numbers of its own file: written anew, a spline is many pieces.
#include "cli/compare_inputs.h"

#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "base/utf8.h"
#include "cavum/cavum.h"
#include "cell/moved_cell.h"
#include "cli/process.h"
#include "yaml/tree.h"

// Digits of a number in which two inputs may differ: what arithmetic did behind them is no input.
enum { FIRST_CAPACITY = 64, INPUT_DIGITS = 12 };

// Of a text without room, and of the key of one level: names of regions are as long as one likes.
enum { SHOWN_OF_VALUE = 8, KEY_SIZE = 200, SHOWN_OF_KEY = 160 };

// An empty check sum.
static const uint32_t FIRST_SUM = 2166136261U;

void cavum_inputs_clear(cavum_inputs *inputs) {
  free(inputs->rows);
  *inputs = (cavum_inputs){0};
}

// FNV-1a, public domain.
static uint32_t add_to_sum(uint32_t sum, const void *data, size_t size) {
  const unsigned char *byte = data;
  for (size_t i = 0; i < size; i++) sum = (sum ^ byte[i]) * 16777619U;
  return sum;
}

// A text, or its beginning and a check sum of the whole where there is no
// room: what differs in the rest is told apart as well.
static void write_text(char *cut, size_t size, size_t beginning, const char *text) {
  if (strlen(text) < size) {
    snprintf(cut, size, "%s", text);
    return;
  }
  uint32_t sum = add_to_sum(FIRST_SUM, text, strlen(text));
  cavum_utf8_cut(cut, beginning + sizeof "...", text);
  size_t used = strlen(cut);
  snprintf(cut + used, size - used, " (%08x)", (unsigned)sum);
}

// A number has one form: 5 for 5.0 and for 4.999999999999999, which is 5 mm made of metres. A text
// without room is that of a mesh.
static void write_value(char value[CAVUM_INPUT_VALUE_SIZE], const char *text) {
  double number = 0.0;
  if (cavum_process_read_number(&number, text)) {
    snprintf(value, CAVUM_INPUT_VALUE_SIZE, "%.*g", INPUT_DIGITS, number);
  } else {
    write_text(value, CAVUM_INPUT_VALUE_SIZE, SHOWN_OF_VALUE, text);
  }
}

static cavum_status add_row(cavum_inputs *inputs, const char *key, const char *value,
                            cavum_error *error) {
  if (inputs->count == inputs->capacity) {
    int capacity = inputs->capacity > 0 ? 2 * inputs->capacity : FIRST_CAPACITY;
    cavum_input_row *rows = cavum_alloc(capacity, sizeof *rows);
    if (!rows) return cavum_fail_memory(error);
    if (inputs->count > 0) memcpy(rows, inputs->rows, (size_t)inputs->count * sizeof *rows);
    free(inputs->rows);
    inputs->rows = rows;
    inputs->capacity = capacity;
  }
  cavum_input_row *row = &inputs->rows[inputs->count++];
  snprintf(row->key, sizeof row->key, "%s", key);
  write_value(row->value, value);
  return CAVUM_OK;
}

cavum_status cavum_inputs_add_mesh(cavum_inputs *inputs, const cavum_mesh *mesh,
                                   cavum_error *error) {
  char value[CAVUM_INPUT_VALUE_SIZE];
  uint32_t sum = FIRST_SUM;
  if (mesh->node_order == 0) return CAVUM_OK;
  for (cavum_index i = 0; i < mesh->num_nodes; i++) {
    sum = add_to_sum(sum, &mesh->nodes[i].z_m, sizeof mesh->nodes[i].z_m);
    sum = add_to_sum(sum, &mesh->nodes[i].r_m, sizeof mesh->nodes[i].r_m);
  }
  for (cavum_index i = 0; i < mesh->num_edges; i++) {
    sum = add_to_sum(sum, &mesh->edges[i].boundary, sizeof mesh->edges[i].boundary);
  }
  for (cavum_index i = 0; i < mesh->num_elements; i++) {
    sum = add_to_sum(sum, &mesh->elements[i].region, sizeof mesh->elements[i].region);
  }
  snprintf(value, sizeof value, "%lld elements (%08x)", (long long)mesh->num_elements,
           (unsigned)sum);
  return add_row(inputs, "contour.mesh", value, error);
}

// Leaves below a node, with their dotted names; entries of lists count from 1.
static cavum_status add_leaves(cavum_inputs *inputs, const cavum_yaml_tree *tree, cavum_index node,
                               const char *name, cavum_error *error) {
  const cavum_yaml_node *parent = &tree->nodes[node];
  int number = 0;
  if (parent->kind == CAVUM_YAML_NODE_SCALAR) return add_row(inputs, name, parent->text, error);
  for (cavum_index i = parent->first_child; i >= 0; i = tree->nodes[i].next) {
    char below[CAVUM_INPUT_KEY_SIZE], key[KEY_SIZE];
    const char *own = tree->nodes[i].key;
    write_text(key, sizeof key, SHOWN_OF_KEY, own ? own : "");
    if (own) snprintf(below, sizeof below, "%.300s%s%s", name, name[0] ? "." : "", key);
    if (!own) snprintf(below, sizeof below, "%.480s[%d]", name, ++number);
    cavum_status status = add_leaves(inputs, tree, i, below, error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

static cavum_index find_child(const cavum_yaml_tree *tree, cavum_index parent, const char *key) {
  for (cavum_index i = tree->nodes[parent].first_child; i >= 0; i = tree->nodes[i].next) {
    if (tree->nodes[i].key && strcmp(tree->nodes[i].key, key) == 0) return i;
  }
  return -1;
}

// Leaves of a cell; those of its contour from its own file where that is given.
static cavum_status add_cell(cavum_inputs *inputs, const cavum_yaml_tree *tree,
                             const cavum_yaml_tree *own, cavum_error *error) {
  static const char contour[] = "contour";
  cavum_index own_contour = own ? find_child(own, 0, contour) : -1;
  if (own_contour < 0) return add_leaves(inputs, tree, 0, "", error);
  for (cavum_index i = tree->nodes[0].first_child; i >= 0; i = tree->nodes[i].next) {
    const char *key = tree->nodes[i].key;
    bool of_own = strcmp(key, contour) == 0;
    cavum_status status =
        add_leaves(inputs, of_own ? own : tree, of_own ? own_contour : i, key, error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

static bool has_section(const cavum_inputs *inputs, const char *section) {
  for (int i = 0; i < inputs->count; i++) {
    if (strncmp(inputs->rows[i].key, section, strlen(section)) == 0) return true;
  }
  return false;
}

// Halves that are alike are written once: each gets rows of its own, so that cells of both kinds
// compare.
static cavum_status split_halves(cavum_inputs *inputs, const cavum_cell *cell, cavum_error *error) {
  static const char contour[] = "contour.";
  if (cell->kind != CAVUM_CONTOUR_TWO_ELLIPSE || has_section(inputs, "contour.left.")) {
    return CAVUM_OK;
  }
  int count = inputs->count;
  for (int i = 0; i < count; i++) {
    char key[CAVUM_INPUT_KEY_SIZE], value[CAVUM_INPUT_VALUE_SIZE];
    const char *behind = inputs->rows[i].key + sizeof contour - 1;
    if (strncmp(inputs->rows[i].key, contour, sizeof contour - 1) != 0) continue;
    if (strcmp(behind, "kind") == 0) continue;
    memcpy(value, inputs->rows[i].value, sizeof value);
    snprintf(key, sizeof key, "contour.right.%.490s", behind);
    cavum_status status = add_row(inputs, key, value, error);
    if (status != CAVUM_OK) return status;
    behind = inputs->rows[i].key + sizeof contour - 1;
    snprintf(key, sizeof key, "contour.left.%.490s", behind);
    memcpy(inputs->rows[i].key, key, sizeof key);
  }
  return CAVUM_OK;
}

// The moves of a cell, whose shape before them is listed as that of any cell.
static cavum_status add_moves(cavum_inputs *inputs, const cavum_yaml_tree *own,
                              cavum_error *error) {
  cavum_index contour = find_child(own, 0, "contour");
  cavum_index moves = contour >= 0 ? find_child(own, contour, "moved") : -1;
  return moves >= 0 ? add_leaves(inputs, own, moves, "contour.moved", error) : CAVUM_OK;
}

cavum_status cavum_inputs_read(cavum_inputs *inputs, const cavum_cell *cell, const char *text,
                               cavum_error *error) {
  cavum_inputs read = {0};
  cavum_yaml_tree tree = {0}, own = {0};
  cavum_moved_cell moved = {.is_one = false};
  char *written = NULL;
  cavum_status status = CAVUM_OK;
  if (cell) CAVUM_TRY(cavum_moved_cell_look(&moved, cell, error));
  if (moved.is_one) cell = &moved.base;
  bool is_path = cell && cell->kind == CAVUM_CONTOUR_PATH;
  if (is_path || moved.is_one) {
    CAVUM_TRY(
        cavum_yaml_tree_read(&own, text, strlen(text), strlen(text) + 1, "the cell file", error));
  }
  if (cell) {
    // Without its text a cell is written anew, with every value in one way.
    cavum_cell bare = *cell;
    bare.text = NULL;
    CAVUM_TRY(cavum_cell_to_text(&written, &bare, error));
    text = written;
  }
  CAVUM_TRY(
      cavum_yaml_tree_read(&tree, text, strlen(text), strlen(text) + 1, "the cell file", error));
  CAVUM_TRY(add_cell(&read, &tree, is_path ? &own : NULL, error));
  if (cell) CAVUM_TRY(split_halves(&read, cell, error));
  if (moved.is_one && !is_path) CAVUM_TRY(add_moves(&read, &own, error));
  *inputs = read;
  read = (cavum_inputs){0};
done:
  cavum_inputs_clear(&read);
  cavum_moved_cell_clear(&moved);
  cavum_yaml_tree_clear(&own);
  cavum_yaml_tree_clear(&tree);
  cavum_free(written);
  return status;
}

static const char *value_of(const cavum_inputs *inputs, const char *key) {
  for (int i = 0; i < inputs->count; i++) {
    if (strcmp(inputs->rows[i].key, key) == 0) return inputs->rows[i].value;
  }
  return "-";
}

static bool differ(const cavum_inputs *inputs, int count, const char *key) {
  for (int k = 1; k < count; k++) {
    if (strcmp(value_of(&inputs[0], key), value_of(&inputs[k], key)) != 0) return true;
  }
  return false;
}

static bool known_before(const cavum_inputs *inputs, int k, const char *key) {
  for (int i = 0; i < k; i++) {
    if (strcmp(value_of(&inputs[i], key), "-") != 0) return true;
  }
  return false;
}

// The name of a row of both halves: "contour.left.X" and "contour.right.X" with the same values are
// "X".
static bool is_of_both(const cavum_inputs *inputs, int count, const char *key, const char *half,
                       const char *other) {
  char twin[CAVUM_INPUT_KEY_SIZE];
  const char *at = strstr(key, half);
  if (!at) return false;
  snprintf(twin, sizeof twin, "%.*s%s%.490s", (int)(at - key), key, other, at + strlen(half));
  for (int k = 0; k < count; k++) {
    if (strcmp(value_of(&inputs[k], key), value_of(&inputs[k], twin)) != 0) return false;
  }
  return true;
}

// A row; the name of one that both halves share has no half: "ends.left.length_mm" becomes
// "ends.length_mm".
static cavum_status add_difference(cavum_compare_table *table, const cavum_inputs *inputs,
                                   int count, const char *key, bool both, cavum_error *error) {
  char name[CAVUM_INPUT_KEY_SIZE];
  static const char contour[] = "contour.", left[] = ".left.", unit[] = "_mm", path[] = "path[",
                    moved[] = "moved[";
  const char *at = both ? strstr(key, left) : NULL;
  cavum_compare_cell *row = NULL;
  snprintf(name, sizeof name, "%s", key);
  if (at) snprintf(name, sizeof name, "%.*s.%.490s", (int)(at - key), key, at + sizeof left - 1);
  size_t length = strlen(name);
  bool inside = strncmp(name, contour, sizeof contour - 1) == 0 &&
                (strcmp(name + length - sizeof unit + 1, unit) == 0 ||
                 strncmp(name + sizeof contour - 1, path, sizeof path - 1) == 0 ||
                 strncmp(name + sizeof contour - 1, moved, sizeof moved - 1) == 0);
  cavum_status status = cavum_compare_table_add(&row, table, error);
  if (status != CAVUM_OK) return status;
  snprintf(row[0], sizeof row[0], "%s", name + (inside ? sizeof contour - 1 : 0));
  for (int k = 0; k < count; k++) {
    snprintf(row[1 + k], sizeof row[0], "%s", value_of(&inputs[k], key));
  }
  return CAVUM_OK;
}

// The coefficients of a spline follow from its points: they are told apart only where all cells
// have them.
static bool is_told(const cavum_inputs *inputs, int count, const char *key) {
  for (int k = 0; k < count && strstr(key, ".coefficients["); k++) {
    bool has = false;
    for (int i = 0; i < inputs[k].count && !has; i++) has = strcmp(inputs[k].rows[i].key, key) == 0;
    if (!has) return false;
  }
  return true;
}

static const char PIECE[] = "contour.path[";

static bool is_of_path(const char *key) {
  return strncmp(key, PIECE, sizeof PIECE - 1) == 0 || strncmp(key, "contour.start.", 14) == 0;
}

// Pieces of the path of a cell; 0: it is none.
static int count_pieces(const cavum_inputs *inputs) {
  long most = 0;
  for (int i = 0; i < inputs->count; i++) {
    const char *key = inputs->rows[i].key;
    if (strncmp(key, PIECE, sizeof PIECE - 1) != 0) continue;
    long number = strtol(key + sizeof PIECE - 1, NULL, 10);
    if (number > most) most = number;
  }
  return (int)most;
}

// A path beside contours of another kind has nothing to stand against, point by point: one row
// tells how many pieces it has.
static cavum_status add_path(cavum_compare_table *table, const cavum_inputs *inputs, int count,
                             cavum_error *error) {
  cavum_compare_cell *row = NULL;
  cavum_status status = cavum_compare_table_add(&row, table, error);
  if (status != CAVUM_OK) return status;
  snprintf(row[0], sizeof row[0], "contour.path");
  for (int k = 0; k < count; k++) {
    int pieces = count_pieces(&inputs[k]);
    snprintf(row[1 + k], sizeof row[0], "-");
    if (pieces > 0) snprintf(row[1 + k], sizeof row[0], "%d pieces", pieces);
  }
  return CAVUM_OK;
}

cavum_status cavum_inputs_add_differences(cavum_compare_table *table, const cavum_inputs *inputs,
                                          int count, cavum_error *error) {
  bool of_other_kinds = differ(inputs, count, "contour.kind"), told = false;
  for (int k = 0; k < count; k++) {
    for (int i = 0; i < inputs[k].count; i++) {
      const char *key = inputs[k].rows[i].key;
      if (of_other_kinds && is_of_path(key)) {
        cavum_status status = told ? CAVUM_OK : add_path(table, inputs, count, error);
        if (status != CAVUM_OK) return status;
        told = true;
        continue;
      }
      if (strcmp(key, "title") == 0 || known_before(inputs, k, key)) continue;
      if (!differ(inputs, count, key) || !is_told(inputs, count, key)) continue;
      if (is_of_both(inputs, count, key, ".right.", ".left.")) continue;
      bool both = is_of_both(inputs, count, key, ".left.", ".right.");
      cavum_status status = add_difference(table, inputs, count, key, both, error);
      if (status != CAVUM_OK) return status;
    }
  }
  return CAVUM_OK;
}
