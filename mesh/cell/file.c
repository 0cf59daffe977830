// SPDX-License-Identifier: GPL-3.0-or-later
// Cell files: from a file or text to a checked cell. Here are the top level and the short sections;
// the shape is read in cell_file_contour.c and the files beside it.
#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "cavum/cell.h"
#include "cell/file_contour.h"
#include "yaml/fields.h"

// The title goes into fixed-size fields of result files.
enum { LONGEST_TITLE = 200 };

/** The top level of a cell file. */
typedef struct top_level {
  const char *title;
  double beta, accelerating_length_m;
  const cavum_yaml_node *contour, *ends, *modes, *accuracy, *wall;
} top_level;

static const cavum_yaml_field top_fields[] = {
    {.key = "title", .offset = offsetof(top_level, title), .kind = CAVUM_YAML_FIELD_TEXT},
    {.key = "beta", .offset = offsetof(top_level, beta), .low = 1e-6, .high = 1.0},
    {.key = "accelerating_length_mm",
     .offset = offsetof(top_level, accelerating_length_m),
     .unit = CAVUM_UNIT_MM,
     .low = CAVUM_SMALLEST_LENGTH_MM,
     .high = CAVUM_LARGEST_LENGTH_MM},
    {.key = "contour",
     .offset = offsetof(top_level, contour),
     .kind = CAVUM_YAML_FIELD_MAPPING,
     .required = true},
    {.key = "ends", .offset = offsetof(top_level, ends), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "modes", .offset = offsetof(top_level, modes), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "accuracy", .offset = offsetof(top_level, accuracy), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "wall", .offset = offsetof(top_level, wall), .kind = CAVUM_YAML_FIELD_MAPPING},
};

static const cavum_yaml_field mode_fields[] = {
    {.key = "count",
     .offset = offsetof(cavum_cell, num_modes),
     .kind = CAVUM_YAML_FIELD_COUNT,
     .low = 1,
     .high = 1000},
    {.key = "near_MHz",
     .offset = offsetof(cavum_cell, near_hz),
     .unit = CAVUM_UNIT_MHZ,
     .low = 1e-6,
     .high = 1e9},
};

static const cavum_yaml_field accuracy_fields[] = {
    {.key = "frequency",
     .offset = offsetof(cavum_cell, accuracy_frequency),
     .low = 1e-13,
     .high = 0.1},
    {.key = "peak_field",
     .offset = offsetof(cavum_cell, accuracy_peak_field),
     .low = 1e-12,
     .high = 0.5},
};

static const cavum_yaml_word wall_words[] = {{"niobium", CAVUM_WALL_NIOBIUM},
                                             {"metal", CAVUM_WALL_METAL},
                                             {"resistance", CAVUM_WALL_RESISTANCE},
                                             {NULL, 0}};

/** The wall section; NAN marks what is absent. */
typedef struct wall_section {
  int kind;
  double temperature_k, residual_ohm, conductivity_s_per_m, resistance_ohm, resistance_from_nohm;
} wall_section;

static const cavum_yaml_field wall_fields[] = {
    {.key = "kind",
     .offset = offsetof(wall_section, kind),
     .kind = CAVUM_YAML_FIELD_WORD,
     .required = true,
     .words = wall_words},
    // Niobium is superconducting below 9.25 K.
    {.key = "temperature_K",
     .offset = offsetof(wall_section, temperature_k),
     .low = 1e-3,
     .high = 9.25},
    {.key = "residual_nohm",
     .offset = offsetof(wall_section, residual_ohm),
     .unit = CAVUM_UNIT_NOHM,
     .low = 0.0,
     .high = 1e9},
    {.key = "conductivity_S_per_m",
     .offset = offsetof(wall_section, conductivity_s_per_m),
     .low = 1.0,
     .high = 1e15},
    {.key = "surface_resistance_ohm",
     .offset = offsetof(wall_section, resistance_ohm),
     .low = 1e-15,
     .high = 1e3},
    {.key = "surface_resistance_nohm",
     .offset = offsetof(wall_section, resistance_from_nohm),
     .unit = CAVUM_UNIT_NOHM,
     .low = 1e-6,
     .high = 1e12},
};

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
  for (int i = 0; wall_words[i].text; i++) {
    if (wall_words[i].value == kind) return wall_words[i].text;
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
  wall_section found = {.resistance_ohm = NAN};
  cavum_yaml_table table = CAVUM_YAML_TABLE(wall_fields);
  cavum_status status;
  CAVUM_TRY(cavum_yaml_read_fields(&found, reader, section, "wall", table));
  CAVUM_TRY(check_wall_keys(reader, section, found.kind));
  wall->kind = (cavum_wall_kind)found.kind;
  wall->temperature_k = found.temperature_k;
  wall->residual_resistance_ohm = found.residual_ohm;
  wall->conductivity_s_per_m = found.conductivity_s_per_m;
  if (found.kind == CAVUM_WALL_RESISTANCE) {
    bool in_ohm = !isnan(found.resistance_ohm);
    wall->surface_resistance_ohm = in_ohm ? found.resistance_ohm : found.resistance_from_nohm;
  }
done:
  return status;
}

static cavum_status read_title(cavum_cell *cell, const cavum_yaml_reader *reader,
                               const char *title) {
  if (title && strlen(title) > LONGEST_TITLE) {
    const cavum_yaml_node *node = cavum_yaml_reader_child(reader, &reader->tree.nodes[0], "title");
    return cavum_yaml_reader_fail(reader, node, "title: longer than %d bytes", LONGEST_TITLE);
  }
  cell->title = cavum_copy_text(title);
  return cell->title ? CAVUM_OK : cavum_fail_memory(reader->error);
}

/** Reads everything from the tree into a cell that holds the defaults. */
static cavum_status read_cell(cavum_cell *cell, const cavum_yaml_reader *reader) {
  top_level top = {.beta = cell->beta};
  cavum_yaml_table table = CAVUM_YAML_TABLE(top_fields);
  cavum_yaml_table mode_table = CAVUM_YAML_TABLE(mode_fields);
  cavum_yaml_table accuracy_table = CAVUM_YAML_TABLE(accuracy_fields);
  cavum_status status;
  CAVUM_TRY(cavum_yaml_read_fields(&top, reader, &reader->tree.nodes[0], "", table));
  CAVUM_TRY(read_title(cell, reader, top.title));
  cell->beta = top.beta;
  cell->accelerating_length_m = top.accelerating_length_m;
  if (top.modes) CAVUM_TRY(cavum_yaml_read_fields(cell, reader, top.modes, "modes", mode_table));
  if (top.accuracy) {
    CAVUM_TRY(cavum_yaml_read_fields(cell, reader, top.accuracy, "accuracy", accuracy_table));
  }
  if (top.wall) CAVUM_TRY(read_wall(&cell->wall, reader, top.wall));
  CAVUM_TRY(cavum_cell_file_read_shape(cell, reader, top.contour, top.ends));
done:
  return status;
}

static char *copy_bytes(const char *text, size_t length) {
  char *copy = cavum_alloc((int64_t)length + 1, 1);
  if (copy && length > 0) memcpy(copy, text, length);
  return copy;
}

cavum_status cavum_cell_read_text(cavum_cell *cell, const char *text, size_t length,
                                  const char *name, cavum_error *error) {
  cavum_cell result;
  cavum_cell_set_defaults(&result);
  cavum_yaml_reader reader = {.name = name ? name : "text", .error = error};
  cavum_status status;
  CAVUM_TRY(cavum_yaml_tree_read(&reader.tree, text, length, reader.name, error));
  result.text = copy_bytes(text, length);
  reader.number_locale = newlocale(LC_ALL_MASK, "C", (locale_t)0);
  if (!result.text || !reader.number_locale) {
    status = cavum_fail_memory(error);
    goto done;
  }
  CAVUM_TRY(read_cell(&result, &reader));
  *cell = result;
done:
  if (reader.number_locale) freelocale(reader.number_locale);
  cavum_yaml_tree_clear(&reader.tree);
  if (status != CAVUM_OK) cavum_cell_clear(&result);
  return status;
}

cavum_status cavum_cell_read_file(cavum_cell *cell, const char *path, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  // One byte more than accepted, so that the reader of the text can tell.
  size_t room = (size_t)CAVUM_YAML_LARGEST_TEXT + 1;
  char *text = NULL;
  FILE *file = fopen(path, "rb");
  if (!file) {
    return cavum_fail(error, CAVUM_ERR_FILE, "%s: cannot be opened: %s", path, strerror(errno));
  }
  text = cavum_alloc((int64_t)room, 1);
  if (!text) {
    status = cavum_fail_memory(error);
    goto done;
  }
  size_t length = fread(text, 1, room, file);
  if (ferror(file)) {
    status = cavum_fail(error, CAVUM_ERR_FILE, "%s: cannot be read: %s", path, strerror(errno));
    goto done;
  }
  status = cavum_cell_read_text(cell, text, length, path, error);
done:
  free(text);
  fclose(file);
  return status;
}
