// SPDX-License-Identifier: GPL-3.0-or-later
// Numbers in the text of a cell file. Nothing but the bytes of the number changes, or one short
// mapping is put in.
#include "cell/cell_edit.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "cell/keys.h"
#include "cell/limits.h"
#include "cell/place.h"
#include "yaml/reader.h"

// Where a key leads in a tree.
typedef struct way {
  const cavum_yaml_node *node;  // the last that is there
  const char *rest;             // of the key behind it, "" when all of it is there
} way;

// First part of a key, up to a dot or a bracket; 0 where there is none or it is too long.
static size_t take_part(char part[CAVUM_CELL_KEY_SIZE], const char *key) {
  size_t length = strcspn(key, ".[");
  if (length >= CAVUM_CELL_KEY_SIZE) return 0;
  memcpy(part, key, length);
  part[length] = '\0';
  return length;
}

static const cavum_yaml_node *entry_of(const cavum_yaml_reader *reader, const cavum_yaml_node *list,
                                       long index) {
  if (list->kind != CAVUM_YAML_NODE_LIST || index < 1) return NULL;
  const cavum_yaml_node *entry = cavum_yaml_reader_first(reader, list);
  for (long i = 1; entry && i < index; i++) entry = cavum_yaml_reader_next(reader, entry);
  return entry;
}

static way follow(const cavum_yaml_reader *reader, const char *key) {
  way w = {&reader->tree.nodes[0], key};
  char part[CAVUM_CELL_KEY_SIZE];
  while (*w.rest) {
    const cavum_yaml_node *next = NULL;
    char *end = NULL;
    if (*w.rest == '[') {
      next = entry_of(reader, w.node, strtol(w.rest + 1, &end, 10));
      if (next && *end == ']') end++;
    } else {
      size_t length = take_part(part, w.rest);
      bool is_mapping = w.node->kind == CAVUM_YAML_NODE_MAPPING;
      if (length > 0 && is_mapping) next = cavum_yaml_reader_child(reader, w.node, part);
      end = (char *)w.rest + length;
    }
    if (!next) break;
    w.node = next;
    w.rest = *end == '.' ? end + 1 : end;
  }
  return w;
}

// "left: {equator_ellipse: {axial_mm: 40}}" for the rest of a key; false for a list.
static bool write_rest(FILE *out, const char *rest, const char *number) {
  char part[CAVUM_CELL_KEY_SIZE];
  int depth = 0;
  if (strchr(rest, '[')) return false;
  while (*rest) {
    size_t length = take_part(part, rest);
    if (length == 0) return false;
    fprintf(out, "%s: ", part);
    rest += length;
    if (*rest == '.') {
      rest++;
      depth++;
      fputc('{', out);
    }
  }
  fputs(number, out);
  for (int i = 0; i < depth; i++) fputc('}', out);
  return true;
}

// Puts what is missing in front of the first key of a mapping, in braces or on a line of its own.
static bool insert(FILE *out, const char *text, const way *w, const char *number) {
  size_t at = cavum_yaml_tree_byte(text, w->node->line, w->node->column);
  bool braces = text[at] == '{';
  if (braces) at++;
  fwrite(text, 1, at, out);
  if (!write_rest(out, w->rest, number)) return false;
  if (braces) {
    if (w->node->num_children > 0) fputs(", ", out);
  } else {
    const char *line_end = strstr(text, "\r\n") ? "\r\n" : "\n";
    fprintf(out, "%s%*s", line_end, w->node->column - 1, "");
  }
  fputs(text + at, out);
  return true;
}

static bool replace(FILE *out, const char *text, const cavum_yaml_node *node, const char *number) {
  size_t at = cavum_yaml_tree_byte(text, node->line, node->column), length = strlen(node->text);
  if (!node->plain || strncmp(text + at, node->text, length) != 0) return false;
  fwrite(text, 1, at, out);
  fputs(number, out);
  fputs(text + at + length, out);
  return true;
}

// One place; with `only_there` a key that the text does not have leaves it as it is.
static cavum_status edit(char **text, const char *key, const char *number, bool only_there,
                         cavum_error *error) {
  cavum_yaml_reader reader = {0};
  char *edited = NULL;
  size_t size = 0;
  cavum_status status = cavum_yaml_reader_open(&reader, *text, strlen(*text),
                                               CAVUM_CELL_LARGEST_TEXT, "the cell file", error);
  if (status != CAVUM_OK) return status;
  way w = follow(&reader, key);
  bool there = *w.rest == '\0', done = there || !only_there;
  FILE *out = done ? open_memstream(&edited, &size) : NULL;
  if (done && !out) status = cavum_fail_memory(error);
  if (out) {
    bool scalar = w.node->kind == CAVUM_YAML_NODE_SCALAR;
    bool mapping = w.node->kind == CAVUM_YAML_NODE_MAPPING;
    bool good = there ? scalar && replace(out, *text, w.node, number)
                      : mapping && insert(out, *text, &w, number);
    if (fclose(out) != 0) {
      status = cavum_fail_memory(error);
    } else if (!good) {
      status = cavum_fail(error, CAVUM_ERR_INPUT,
                          "%s: the text of the cell has no place for such a number", key);
    }
  }
  cavum_yaml_reader_clear(&reader);
  if (status == CAVUM_OK && edited) {
    free(*text);
    *text = edited;
  } else {
    free(edited);
  }
  return status;
}

static const char contour_prefix[] = "contour.";

static bool begins(const char *key, const char *with) {
  return strncmp(key, with, strlen(with)) == 0;
}

// A number of both halves where halves state it themselves.
static cavum_status edit_halves(char **text, const char *rest, const char *number,
                                cavum_error *error) {
  static const char *const sides[] = {"", "left.", "right."};
  char name[CAVUM_CELL_KEY_SIZE + sizeof "contour.right."];
  for (int side = 0; side < 3; side++) {
    snprintf(name, sizeof name, "contour.%s%s", sides[side], rest);
    cavum_status status = edit(text, name, number, true, error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

static cavum_status follow_iris(char **text, const cavum_end *end, const cavum_half_cell *half,
                                const char *radius_key, const char *number, cavum_error *error) {
  bool follows = end->kind == CAVUM_END_TUBE && end->tube_radius_m == half->iris_radius_m;
  return follows ? edit(text, radius_key, number, true, error) : CAVUM_OK;
}

static cavum_status edit_half_number(char **text, const cavum_cell *cell, const char *key,
                                     const char *number, cavum_error *error) {
  const char *rest = key + strlen(contour_prefix);
  bool left = begins(rest, "left."), right = begins(rest, "right.");
  const char *dot = left || right ? strchr(rest, '.') + 1 : rest;
  cavum_status status = left || right ? edit(text, key, number, false, error)
                                      : edit_halves(text, rest, number, error);
  if (status != CAVUM_OK || strcmp(dot, "iris_radius_mm") != 0) return status;
  if (!right) {
    status = follow_iris(text, &cell->left_end, &cell->left, "ends.left.radius_mm", number, error);
  }
  if (!left && status == CAVUM_OK) {
    status =
        follow_iris(text, &cell->right_end, &cell->right, "ends.right.radius_mm", number, error);
  }
  return status;
}

enum { END_SIZE = 64 };  // "contour.path[123456].spline_through[123456]." and more

// The key of the last point of the path of a text up to its coordinate; "" where there is none.
static cavum_status find_last_point(char end[END_SIZE], const char *text, cavum_error *error) {
  cavum_yaml_reader reader = {0};
  cavum_status status = cavum_yaml_reader_open(&reader, text, strlen(text), CAVUM_CELL_LARGEST_TEXT,
                                               "the cell file", error);
  end[0] = '\0';
  if (status != CAVUM_OK) return status;
  const cavum_yaml_node *point = cavum_place_last_point(&reader);
  if (point) {
    const cavum_yaml_node *path = follow(&reader, "contour.path").node;
    const cavum_yaml_node *piece = &reader.tree.nodes[path->last_child];
    const cavum_yaml_node *points = cavum_yaml_reader_child(&reader, piece, "spline_through");
    if (point->key) {
      snprintf(end, END_SIZE, "contour.path[%d].%s.", (int)path->num_children, point->key);
    } else if (points) {
      snprintf(end, END_SIZE, "contour.path[%d].spline_through[%d].", (int)path->num_children,
               (int)points->num_children);
    }
  }
  cavum_yaml_reader_clear(&reader);
  return status;
}

// The last point of a path is its start: a number of one of them is that of the other.
static cavum_status edit_ends(char **text, const char *key, const char *number,
                              cavum_error *error) {
  static const char start[] = "contour.start.", path[] = "contour.path[";
  char name[CAVUM_CELL_KEY_SIZE + END_SIZE], end[END_SIZE];
  cavum_status status = edit(text, key, number, false, error);
  if (!begins(key, start) && !begins(key, path)) return status;
  if (status == CAVUM_OK) status = find_last_point(end, *text, error);
  if (status != CAVUM_OK || !*end) return status;
  if (begins(key, start)) {
    snprintf(name, sizeof name, "%s%s", end, key + strlen(start));
  } else if (begins(key, end)) {
    snprintf(name, sizeof name, "%s%s", start, key + strlen(end));
  } else {
    return CAVUM_OK;
  }
  return edit(text, name, number, true, error);
}

// Whether a key is a number of one half or of both.
static bool is_of_half(const char *key) {
  cavum_cell_number number;
  if (!begins(key, contour_prefix)) return false;
  const char *rest = key + strlen(contour_prefix);
  if (begins(rest, "left.") || begins(rest, "right.")) rest = strchr(rest, '.') + 1;
  return cavum_cell_number_find(&number, cavum_yaml_path_join("contour", rest).text) &&
         number.section->owner == CAVUM_CELL_OWNER_HALF;
}

cavum_status cavum_cell_edit_number(char **edited, const cavum_cell *cell, const char *text,
                                    const char *key, const char *number, cavum_error *error) {
  char *made = cavum_copy_text(text);
  if (!made) return cavum_fail_memory(error);
  cavum_status status = is_of_half(key) ? edit_half_number(&made, cell, key, number, error)
                                        : edit_ends(&made, key, number, error);
  if (status == CAVUM_OK) {
    *edited = made;
  } else {
    free(made);
  }
  return status;
}

cavum_status cavum_cell_edit_put(char **edited, const char *text, const char *key,
                                 const char *value, cavum_error *error) {
  char *made = cavum_copy_text(text);
  if (!made) return cavum_fail_memory(error);
  cavum_status status = edit(&made, key, value, false, error);
  if (status == CAVUM_OK) {
    *edited = made;
  } else {
    free(made);
  }
  return status;
}

// Behind the bracket that closes the one at `at`; 0 where there is none. Numbers and keys alone are
// expected in between.
static size_t behind_bracket(const char *text, size_t at) {
  int depth = 0;
  for (size_t i = at; text[i] && text[i] != '#' && text[i] != '"' && text[i] != '\''; i++) {
    depth += text[i] == '[' || text[i] == '{';
    depth -= text[i] == ']' || text[i] == '}';
    if (depth == 0) return i + 1;
  }
  return 0;
}

// Where another entry of a list goes, and what stands in front of it; false where that is not seen.
static bool find_place_for_entry(size_t *at, const char **before, int *indent,
                                 const cavum_yaml_reader *reader, const char *text,
                                 const cavum_yaml_node *list) {
  size_t start = cavum_yaml_tree_byte(text, list->line, list->column);
  const cavum_yaml_node *last = NULL, *next = cavum_yaml_reader_first(reader, list);
  for (; next; next = cavum_yaml_reader_next(reader, next)) last = next;
  *indent = 0;
  if (text[start] == '[') {
    size_t end = behind_bracket(text, start);
    *at = end - 1;
    *before = last ? ", " : "";
    return end > 0;
  }
  if (!last || text[start] != '-') return false;
  start = cavum_yaml_tree_byte(text, last->line, last->column);
  *at = text[start] == '{' ? behind_bracket(text, start) : 0;
  *before = strstr(text, "\r\n") ? "\r\n" : "\n";
  *indent = list->column - 1;
  return *at > 0;
}

cavum_status cavum_cell_edit_append(char **edited, const char *text, const char *key,
                                    const char *entry, cavum_error *error) {
  cavum_yaml_reader reader = {0};
  size_t at = 0;
  const char *before = "";
  int indent = 0;
  cavum_status status = cavum_yaml_reader_open(&reader, text, strlen(text), CAVUM_CELL_LARGEST_TEXT,
                                               "the cell file", error);
  if (status != CAVUM_OK) return status;
  way w = follow(&reader, key);
  bool list = *w.rest == '\0' && w.node->kind == CAVUM_YAML_NODE_LIST;
  if (list && find_place_for_entry(&at, &before, &indent, &reader, text, w.node)) {
    bool block = before[0] == '\n' || before[0] == '\r';
    char *made = cavum_format_text("%.*s%s%*s%s%s%s", (int)at, text, before, indent, "",
                                   block ? "- " : "", entry, text + at);
    if (made) *edited = made;
    if (!made) status = cavum_fail_memory(error);
  } else {
    status = cavum_fail(error, CAVUM_ERR_INPUT, "%s: no place for another entry", key);
  }
  cavum_yaml_reader_clear(&reader);
  return status;
}

// Bytes of a scalar in quotes, with them; 0 where it is none.
static size_t quoted_length(const char *at) {
  char quote = *at;
  size_t i = 1;
  if (quote != '"' && quote != '\'') return 0;
  for (; at[i]; i++) {
    bool escaped = quote == '"' ? at[i] == '\\' : at[i] == '\'' && at[i + 1] == '\'';
    if (!escaped && at[i] == quote) return i + 1;
    if (escaped && at[i + 1]) i++;
  }
  return 0;
}

// In double quotes; control characters become spaces.
static void write_quoted(FILE *out, const char *text) {
  fputc('"', out);
  for (; *text; text++) {
    if (*text == '"' || *text == '\\') fputc('\\', out);
    fputc((unsigned char)*text < ' ' ? ' ' : *text, out);
  }
  fputc('"', out);
}

cavum_status cavum_cell_edit_title(char **edited, const char *text, const char *title,
                                   cavum_error *error) {
  cavum_yaml_reader reader = {0};
  char *quoted = NULL;
  size_t size = 0;
  FILE *out = open_memstream(&quoted, &size);
  if (!out) return cavum_fail_memory(error);
  write_quoted(out, title);
  if (fclose(out) != 0) {
    free(quoted);
    return cavum_fail_memory(error);
  }
  cavum_status status = cavum_yaml_reader_open(&reader, text, strlen(text), CAVUM_CELL_LARGEST_TEXT,
                                               "the cell file", error);
  if (status != CAVUM_OK) goto done;
  const cavum_yaml_node *node = cavum_yaml_reader_child(&reader, &reader.tree.nodes[0], "title");
  size_t at = node ? cavum_yaml_tree_byte(text, node->line, node->column) : 0;
  size_t length = node ? quoted_length(text + at) : 0;
  if (length > 0) {
    *edited = cavum_format_text("%.*s%s%s", (int)at, text, quoted, text + at + length);
    if (!*edited) status = cavum_fail_memory(error);
  } else {
    status = cavum_cell_edit_put(edited, text, "title", quoted, error);
  }
  cavum_yaml_reader_clear(&reader);
done:
  free(quoted);
  return status;
}
