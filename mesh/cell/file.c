// SPDX-License-Identifier: GPL-3.0-or-later
// Cell files: from a file or text to a checked cell. Here are the top level and the short sections;
// each kind of contour has a file of its own.
#include "cell/file.h"

#include <string.h>

#include "base/base.h"
#include "base/files.h"
#include "cavum/cell.h"
#include "cell/cell.h"
#include "cell/file_measured.h"
#include "cell/file_moved.h"
#include "cell/keys.h"
#include "cell/limits.h"

/** Reads a section of the table. */
static cavum_status read_section(void *target, const cavum_yaml_reader *reader,
                                 const cavum_yaml_node *node, cavum_cell_section_name name) {
  const cavum_cell_section *section = &cavum_cell_sections[name];
  return cavum_yaml_read_fields(target, reader, node, section->path, section->table);
}

/** Which keys go with which kind of wall. */
typedef struct wall_key {
  int kind;
  const char *key;
} wall_key;

static const wall_key wall_keys[] = {
    {CAVUM_WALL_NIOBIUM, "temperature_K"},
    {CAVUM_WALL_NIOBIUM, "residual_nohm"},
    {CAVUM_WALL_METAL, "conductivity_S_per_m"},
    {CAVUM_WALL_RESISTANCE, "surface_resistance_ohm"},
    {CAVUM_WALL_RESISTANCE, "surface_resistance_nohm"},
};

static const char *wall_text(int kind) {
  for (int i = 0; cavum_cell_wall_words[i].text; i++) {
    if (cavum_cell_wall_words[i].value == kind) return cavum_cell_wall_words[i].text;
  }
  return "";
}

/** Every key of the wall's kind is there and no other. */
static cavum_status check_wall_keys(const cavum_yaml_reader *reader, const cavum_yaml_node *section,
                                    int kind) {
  int num_resistances = 0;
  for (size_t i = 0; i < sizeof wall_keys / sizeof *wall_keys; i++) {
    const wall_key *row = &wall_keys[i];
    const cavum_yaml_node *child = cavum_yaml_reader_child(reader, section, row->key);
    if (child && row->kind != kind) {
      return cavum_yaml_reader_fail(reader, child, "wall.%s: does not go with kind: %s", row->key,
                                    wall_text(kind));
    }
    if (row->kind != kind) continue;
    if (kind == CAVUM_WALL_RESISTANCE) {
      num_resistances += child != NULL;
    } else if (!child) {
      return cavum_yaml_reader_fail(reader, section, "wall: missing key '%s' for kind: %s",
                                    row->key, wall_text(kind));
    }
  }
  if (kind != CAVUM_WALL_RESISTANCE || num_resistances == 1) return CAVUM_OK;
  return cavum_yaml_reader_fail(reader, section,
                                "wall: expected exactly one of surface_resistance_ohm and "
                                "surface_resistance_nohm, found %d",
                                num_resistances);
}

static cavum_status read_wall(cavum_wall *wall, const cavum_yaml_reader *reader,
                              const cavum_yaml_node *section) {
  cavum_wall found = {.kind = CAVUM_WALL_NONE};
  cavum_status status = read_section(&found, reader, section, CAVUM_CELL_SECTION_WALL);
  if (status == CAVUM_OK) status = check_wall_keys(reader, section, (int)found.kind);
  if (status == CAVUM_OK) *wall = found;
  return status;
}

static cavum_status read_title(cavum_cell *cell, const cavum_yaml_reader *reader) {
  const cavum_yaml_node *node = cavum_yaml_reader_child(reader, &reader->tree.nodes[0], "title");
  if (node && strlen(node->text) > CAVUM_TITLE_LONGEST) {
    return cavum_yaml_reader_fail(reader, node,
                                  "title: has %zu bytes, expected %d at most (letters with accents "
                                  "have two)",
                                  strlen(node->text), CAVUM_TITLE_LONGEST);
  }
  cell->title = cavum_copy_text(node ? node->text : NULL);
  return cell->title ? CAVUM_OK : cavum_fail_memory(reader->error);
}

// A measured cell becomes the path that it was found to be.
static cavum_status read_measured(cavum_cell *cell, cavum_measured_cell *measured,
                                  const cavum_yaml_reader *reader, const cavum_yaml_node *contour) {
  cavum_measured_cell found = {0};
  cavum_status status = cavum_measured_cell_read(&found, cell, reader, contour);
  if (status == CAVUM_OK) status = cavum_measured_cell_write(cell, reader);
  if (status == CAVUM_OK && measured) {
    *measured = found;
    return CAVUM_OK;
  }
  cavum_measured_cell_clear(&found);
  return status;
}

/** Reads the contour of any kind as it is before it is moved, and the ends of a two-ellipse cell.
 */
static cavum_status read_base(cavum_cell *cell, cavum_measured_cell *measured,
                              const cavum_yaml_reader *reader, const cavum_yaml_node *contour,
                              const cavum_yaml_node *ends) {
  const cavum_yaml_node *kind_node = cavum_yaml_reader_child(reader, contour, "kind");
  int kind = 0;
  if (!kind_node) {
    return cavum_yaml_reader_fail(
        reader, contour,
        "contour: missing key 'kind', expected two-ellipse, path, mesh or measured");
  }
  cavum_status status =
      cavum_yaml_read_word(&kind, reader, kind_node, "contour.kind", cavum_cell_contour_words);
  if (status != CAVUM_OK) return status;
  cell->kind = kind == CAVUM_CELL_MEASURED ? CAVUM_CONTOUR_PATH : (cavum_contour_kind)kind;
  if (measured && kind != CAVUM_CELL_MEASURED) {
    return cavum_yaml_reader_fail(reader, kind_node,
                                  "contour.kind: expected measured, for a cell as it was built");
  }
  if (kind == CAVUM_CONTOUR_TWO_ELLIPSE) {
    return cavum_cell_file_read_two_ellipse(cell, reader, contour, ends);
  }
  if (ends) {
    return cavum_yaml_tree_fail(
        reader->error, CAVUM_ERR_INPUT, reader->name, ends->key_line, ends->key_column,
        "ends: is for contour.kind: two-ellipse only, elsewhere each piece of "
        "the boundary names its kind");
  }
  if (kind == CAVUM_CELL_MEASURED) return read_measured(cell, measured, reader, contour);
  if (kind == CAVUM_CONTOUR_PATH) return cavum_cell_file_read_path(cell, reader, contour);
  return cavum_cell_file_read_mesh(cell, reader, contour);
}

/** How a text is read. */
typedef struct text_reading {
  size_t struct_size;            /**< Of the cell that is filled. */
  cavum_measured_cell *measured; /**< Takes what a measured cell was made of; NULL: of any kind. */
  bool base_alone;               /**< What was done to the shape is left out. */
  bool is_near;                  /**< A shape next to one that was checked. */
} text_reading;

/** Reads the contour, and what was done to it. */
static cavum_status read_shape(cavum_cell *cell, const text_reading *reading,
                               const cavum_yaml_reader *reader, const cavum_yaml_node *contour,
                               const cavum_yaml_node *ends) {
  cavum_status status = read_base(cell, reading->measured, reader, contour, ends);
  if (status != CAVUM_OK || reading->base_alone || reading->measured) return status;
  return cavum_cell_file_read_moved(cell, reader, contour, !reading->is_near);
}

/** Reads everything from the tree into a cell that holds the defaults. */
static cavum_status read_cell(cavum_cell *cell, const text_reading *reading,
                              const cavum_yaml_reader *reader) {
  const cavum_yaml_node *file = &reader->tree.nodes[0];
  cavum_status status = read_section(cell, reader, file, CAVUM_CELL_SECTION_FILE);
  if (status == CAVUM_OK) status = read_title(cell, reader);
  if (status != CAVUM_OK) return status;
  const cavum_yaml_node *modes = cavum_yaml_reader_child(reader, file, "modes");
  const cavum_yaml_node *accuracy = cavum_yaml_reader_child(reader, file, "accuracy");
  const cavum_yaml_node *wall = cavum_yaml_reader_child(reader, file, "wall");
  if (modes) status = read_section(cell, reader, modes, CAVUM_CELL_SECTION_MODES);
  if (accuracy && status == CAVUM_OK) {
    status = read_section(cell, reader, accuracy, CAVUM_CELL_SECTION_ACCURACY);
    const cavum_cell_section *section = &cavum_cell_sections[CAVUM_CELL_SECTION_ACCURACY];
    cavum_yaml_note_former(cell->note, sizeof cell->note, reader, accuracy, section->path,
                           section->table);
  }
  if (wall && status == CAVUM_OK) status = read_wall(&cell->wall, reader, wall);
  if (status != CAVUM_OK) return status;
  return read_shape(cell, reading, reader, cavum_yaml_reader_child(reader, file, "contour"),
                    cavum_yaml_reader_child(reader, file, "ends"));
}

static char *copy_bytes(const char *text, size_t length) {
  char *copy = cavum_alloc((int64_t)length + 1, 1);
  if (copy && length > 0) memcpy(copy, text, length);
  return copy;
}

// `path` is the file of the text, NULL: none.
static cavum_status read_text(cavum_cell *cell, const text_reading *reading, const char *text,
                              size_t length, const char *name, const char *path,
                              cavum_error *error) {
  cavum_measured_cell *measured = reading->measured;
  cavum_cell result;
  cavum_yaml_reader reader;
  cavum_status status = cavum_yaml_reader_open(&reader, text, length, CAVUM_CELL_LARGEST_TEXT,
                                               name ? name : "text", error);
  if (status != CAVUM_OK) return status;
  cavum_cell_set_defaults(&result);
  result.text = copy_bytes(text, length);
  if (!result.text) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(cavum_files_add(&result.files, path, error));
  CAVUM_TRY(read_cell(&result, reading, &reader));
  status = cavum_cell_give(cell, reading->struct_size, &result, error);
  if (status != CAVUM_OK && measured) cavum_measured_cell_clear(measured);
done:
  cavum_yaml_reader_clear(&reader);
  if (status != CAVUM_OK) cavum_cell_clear(&result);
  return status;
}

cavum_status cavum_cell_read_text_sized(cavum_cell *cell, size_t struct_size, const char *text,
                                        size_t length, const char *name, cavum_error *error) {
  if (!cell || !text) return cavum_fail(error, CAVUM_ERR_USAGE, "no cell or no text was given");
  const text_reading reading = {.struct_size = struct_size};
  return read_text(cell, &reading, text, length, name, NULL, error);
}

cavum_status cavum_cell_file_read_near(cavum_cell *cell, const char *text, cavum_error *error) {
  const text_reading reading = {.struct_size = sizeof *cell, .is_near = true};
  return read_text(cell, &reading, text, strlen(text), NULL, NULL, error);
}

cavum_status cavum_cell_file_read_base(cavum_cell *base, const char *text, cavum_error *error) {
  const text_reading reading = {.struct_size = sizeof *base, .base_alone = true};
  return read_text(base, &reading, text, strlen(text), NULL, NULL, error);
}

static cavum_status read_file(cavum_cell *cell, const text_reading *reading, const char *path,
                              cavum_error *error) {
  char *text = NULL;
  size_t length = 0;
  cavum_status status = cavum_yaml_load_text(&text, &length, path, CAVUM_CELL_LARGEST_TEXT, error);
  if (status != CAVUM_OK) return status;
  status = read_text(cell, reading, text, length, path, path, error);
  free(text);
  return status;
}

cavum_status cavum_cell_read_file_sized(cavum_cell *cell, size_t struct_size, const char *path,
                                        cavum_error *error) {
  if (!cell || !path) return cavum_fail(error, CAVUM_ERR_USAGE, "no cell or no path was given");
  const text_reading reading = {.struct_size = struct_size};
  return read_file(cell, &reading, path, error);
}

cavum_status cavum_cell_file_read_as_built(cavum_cell *cell, cavum_measured_cell *measured,
                                           const char *path, cavum_error *error) {
  const text_reading reading = {.struct_size = sizeof *cell, .measured = measured};
  return read_file(cell, &reading, path, error);
}
