// SPDX-License-Identifier: GPL-3.0-or-later
// The keys of a cell file.
#include "cell/keys.h"

#include <string.h>

#include "cell/limits.h"

// Words are stored as int.
_Static_assert(sizeof(cavum_end_kind) == sizeof(int), "cavum_end_kind is as large as int");
_Static_assert(sizeof(cavum_boundary) == sizeof(int), "cavum_boundary is as large as int");
_Static_assert(sizeof(cavum_wall_kind) == sizeof(int), "cavum_wall_kind is as large as int");

const cavum_yaml_word cavum_cell_boundary_words[] = {{"metal", CAVUM_BOUNDARY_METAL},
                                                     {"electric", CAVUM_BOUNDARY_ELECTRIC},
                                                     {"magnetic", CAVUM_BOUNDARY_MAGNETIC},
                                                     {"axis", CAVUM_BOUNDARY_AXIS},
                                                     {NULL, 0}};

const cavum_yaml_word cavum_cell_contour_words[] = {{"two-ellipse", CAVUM_CONTOUR_TWO_ELLIPSE},
                                                    {"path", CAVUM_CONTOUR_PATH},
                                                    {"mesh", CAVUM_CONTOUR_MESH_FILE},
                                                    {"measured", CAVUM_CELL_MEASURED},
                                                    {NULL, 0}};

const cavum_yaml_word cavum_cell_wall_words[] = {{"niobium", CAVUM_WALL_NIOBIUM},
                                                 {"metal", CAVUM_WALL_METAL},
                                                 {"resistance", CAVUM_WALL_RESISTANCE},
                                                 {NULL, 0}};

static const cavum_yaml_word end_words[] = {{"tube", CAVUM_END_TUBE},
                                            {"metal", CAVUM_END_METAL},
                                            {"electric", CAVUM_END_ELECTRIC},
                                            {"magnetic", CAVUM_END_MAGNETIC},
                                            {NULL, 0}};

static const cavum_yaml_word close_words[] = {{"electric", CAVUM_BOUNDARY_ELECTRIC},
                                              {"magnetic", CAVUM_BOUNDARY_MAGNETIC},
                                              {"metal", CAVUM_BOUNDARY_METAL},
                                              {NULL, 0}};

#define NUMBER(name, struct_, member, unit_, smallest, largest)                             \
  {                                                                                         \
    .key = (name), .offset = offsetof(struct_, member), .unit = (unit_), .low = (smallest), \
    .high = (largest)                                                                       \
  }
#define LENGTH(name, struct_, member)                                         \
  NUMBER(name, struct_, member, CAVUM_UNIT_MM, CAVUM_CELL_SMALLEST_LENGTH_MM, \
         CAVUM_CELL_LARGEST_LENGTH_MM)
#define WORD(name, struct_, member, words_)                                            \
  {                                                                                    \
    .key = (name), .offset = offsetof(struct_, member), .kind = CAVUM_YAML_FIELD_WORD, \
    .required = true, .words = (words_)                                                \
  }
#define MAPPING(name) \
  { .key = (name), .offset = CAVUM_YAML_UNSTORED, .kind = CAVUM_YAML_FIELD_MAPPING }

static const cavum_yaml_field file_fields[] = {
    {.key = "title", .offset = CAVUM_YAML_UNSTORED, .kind = CAVUM_YAML_FIELD_TEXT},
    NUMBER("beta", cavum_cell, beta, CAVUM_UNIT_SI, CAVUM_CELL_BETA_LEAST, 1.0),
    LENGTH("accelerating_length_mm", cavum_cell, accelerating_length_m),
    {.key = "contour",
     .offset = CAVUM_YAML_UNSTORED,
     .kind = CAVUM_YAML_FIELD_MAPPING,
     .required = true},
    MAPPING("ends"),
    MAPPING("modes"),
    MAPPING("accuracy"),
    MAPPING("wall"),
    MAPPING("tolerances"),    // read by cavum_tolerances_read_text()
    MAPPING("requirements"),  // read by cavum_requirements_read_text()
};

// The last four stand in the contour section alone; CAVUM_CELL_NUM_HALF_KEYS are before them.
static const cavum_yaml_field two_ellipse_fields[] = {
    LENGTH("half_length_mm", cavum_half_cell, half_length_m),
    LENGTH("iris_radius_mm", cavum_half_cell, iris_radius_m),
    LENGTH("equator_radius_mm", cavum_half_cell, equator_radius_m),
    MAPPING("equator_ellipse"),
    MAPPING("iris_ellipse"),
    MAPPING("left"),
    MAPPING("right"),
    {.key = "kind",
     .offset = CAVUM_YAML_UNSTORED,
     .kind = CAVUM_YAML_FIELD_WORD,
     .words = cavum_cell_contour_words},
    {.key = "moved", .offset = CAVUM_YAML_UNSTORED, .kind = CAVUM_YAML_FIELD_LIST},
};

static const cavum_yaml_field equator_fields[] = {
    LENGTH("axial_mm", cavum_half_cell, equator_axial_m),
    LENGTH("radial_mm", cavum_half_cell, equator_radial_m),
};

static const cavum_yaml_field iris_fields[] = {
    LENGTH("axial_mm", cavum_half_cell, iris_axial_m),
    LENGTH("radial_mm", cavum_half_cell, iris_radial_m),
};

static const cavum_yaml_field end_fields[] = {
    WORD("kind", cavum_end, kind, end_words),
    LENGTH("length_mm", cavum_end, tube_length_m),
    LENGTH("radius_mm", cavum_end, tube_radius_m),
    {.key = "close",
     .offset = offsetof(cavum_end, tube_close),
     .kind = CAVUM_YAML_FIELD_WORD,
     .words = close_words},
};

static const cavum_yaml_field mode_fields[] = {
    {.key = "count",
     .offset = offsetof(cavum_cell, num_modes),
     .kind = CAVUM_YAML_FIELD_COUNT,
     .low = 1,
     .high = CAVUM_MODES_MOST},
    NUMBER("near_MHz", cavum_cell, near_hz, CAVUM_UNIT_MHZ, 1e-6, 1e9),
};

static const cavum_yaml_field accuracy_fields[] = {
    NUMBER("frequency", cavum_cell, accuracy_frequency, CAVUM_UNIT_SI,
           CAVUM_ACCURACY_FREQUENCY_LEAST, CAVUM_ACCURACY_FREQUENCY_MOST),
    {.key = "other_figures",
     .former = "peak_field",
     .offset = offsetof(cavum_cell, accuracy_other_figures),
     .low = CAVUM_ACCURACY_FIGURES_LEAST,
     .high = CAVUM_ACCURACY_FIGURES_MOST},
};

// Only one of the two surface resistances may be there.
static const cavum_yaml_field wall_fields[] = {
    WORD("kind", cavum_wall, kind, cavum_cell_wall_words),
    NUMBER("temperature_K", cavum_wall, temperature_k, CAVUM_UNIT_SI, CAVUM_TEMPERATURE_LEAST_K,
           CAVUM_NIOBIUM_MOST_K),
    NUMBER("residual_nohm", cavum_wall, residual_resistance_ohm, CAVUM_UNIT_NOHM, 0.0, 1e9),
    NUMBER("conductivity_S_per_m", cavum_wall, conductivity_s_per_m, CAVUM_UNIT_SI,
           CAVUM_CONDUCTIVITY_LEAST_S_PER_M, CAVUM_CONDUCTIVITY_MOST_S_PER_M),
    NUMBER("surface_resistance_ohm", cavum_wall, surface_resistance_ohm, CAVUM_UNIT_SI, 1e-15, 1e3),
    NUMBER("surface_resistance_nohm", cavum_wall, surface_resistance_ohm, CAVUM_UNIT_NOHM, 1e-6,
           1e12),
};

const cavum_cell_section cavum_cell_sections[CAVUM_NUM_CELL_SECTIONS] = {
    [CAVUM_CELL_SECTION_FILE] = {"", CAVUM_YAML_TABLE(file_fields), CAVUM_CELL_OWNER_CELL, 0, true},
    [CAVUM_CELL_SECTION_TWO_ELLIPSE] = {"contour", CAVUM_YAML_TABLE(two_ellipse_fields),
                                        CAVUM_CELL_OWNER_HALF, 0, true},
    [CAVUM_CELL_SECTION_EQUATOR_ELLIPSE] = {"contour.equator_ellipse",
                                            CAVUM_YAML_TABLE(equator_fields), CAVUM_CELL_OWNER_HALF,
                                            0, true},
    [CAVUM_CELL_SECTION_IRIS_ELLIPSE] = {"contour.iris_ellipse", CAVUM_YAML_TABLE(iris_fields),
                                         CAVUM_CELL_OWNER_HALF, 0, true},
    [CAVUM_CELL_SECTION_LEFT_END] = {"ends.left", CAVUM_YAML_TABLE(end_fields),
                                     CAVUM_CELL_OWNER_CELL, offsetof(cavum_cell, left_end), true},
    [CAVUM_CELL_SECTION_RIGHT_END] = {"ends.right", CAVUM_YAML_TABLE(end_fields),
                                      CAVUM_CELL_OWNER_CELL, offsetof(cavum_cell, right_end), true},
    [CAVUM_CELL_SECTION_MODES] = {"modes", CAVUM_YAML_TABLE(mode_fields), CAVUM_CELL_OWNER_CELL, 0,
                                  false},
    [CAVUM_CELL_SECTION_ACCURACY] = {"accuracy", CAVUM_YAML_TABLE(accuracy_fields),
                                     CAVUM_CELL_OWNER_CELL, 0, false},
    [CAVUM_CELL_SECTION_WALL] = {"wall", CAVUM_YAML_TABLE(wall_fields), CAVUM_CELL_OWNER_CELL,
                                 offsetof(cavum_cell, wall), false},
};

bool cavum_cell_number_next(cavum_cell_number *number) {
  const cavum_cell_section *before = number->section;
  int owner = before ? (int)before->owner : CAVUM_CELL_OWNER_HALF;
  int s = before ? (int)(before - cavum_cell_sections) : 0;
  int i = before ? (int)(number->field - before->table.fields) + 1 : 0;
  for (; owner >= CAVUM_CELL_OWNER_CELL; owner--, s = 0) {
    for (; s < CAVUM_NUM_CELL_SECTIONS; s++, i = 0) {
      const cavum_cell_section *section = &cavum_cell_sections[s];
      if (!section->direct || (int)section->owner != owner) continue;
      for (; i < section->table.num_fields; i++) {
        const cavum_yaml_field *field = &section->table.fields[i];
        if (field->kind != CAVUM_YAML_FIELD_NUMBER) continue;
        *number = (cavum_cell_number){section, field};
        return true;
      }
    }
  }
  return false;
}

static bool is_called(const cavum_cell_number *number, const char *name) {
  size_t length = strlen(number->section->path);
  if (length == 0) return strcmp(name, number->field->key) == 0;
  return strncmp(name, number->section->path, length) == 0 && name[length] == '.' &&
         strcmp(name + length + 1, number->field->key) == 0;
}

bool cavum_cell_number_find(cavum_cell_number *number, const char *name) {
  cavum_cell_number found = {0};
  while (cavum_cell_number_next(&found)) {
    if (!is_called(&found, name)) continue;
    *number = found;
    return true;
  }
  return false;
}

bool cavum_cell_name_has_section(const char *name) {
  const cavum_yaml_table *table = &cavum_cell_sections[CAVUM_CELL_SECTION_FILE].table;
  for (int i = 0; i < table->num_fields; i++) {
    const cavum_yaml_field *field = &table->fields[i];
    size_t length = strlen(field->key);
    if (strncmp(name, field->key, length) != 0 || field->kind == CAVUM_YAML_FIELD_TEXT) continue;
    if (name[length] == (field->kind == CAVUM_YAML_FIELD_MAPPING ? '.' : '\0')) return true;
  }
  return false;
}
