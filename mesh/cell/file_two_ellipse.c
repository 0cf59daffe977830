// SPDX-License-Identifier: GPL-3.0-or-later
// contour.kind: two-ellipse, and the ends section, which belongs to such cells alone. What a half
// does not say itself it takes from the contour section.
#include <string.h>

#include "base/base.h"
#include "cell/file.h"
#include "cell/keys.h"

/** Reads the dimensions that one section gives, on top of those that the half already has. */
static cavum_status read_half(cavum_half_cell *half, const cavum_yaml_reader *reader,
                              const cavum_yaml_node *node, const char *path,
                              cavum_yaml_table table) {
  static const struct {
    const char *key;
    cavum_cell_section_name section;
  } ellipses[] = {{"equator_ellipse", CAVUM_CELL_SECTION_EQUATOR_ELLIPSE},
                  {"iris_ellipse", CAVUM_CELL_SECTION_IRIS_ELLIPSE}};
  cavum_status status = cavum_yaml_read_fields(half, reader, node, path, table);
  for (int i = 0; i < 2 && status == CAVUM_OK; i++) {
    const cavum_yaml_node *ellipse = cavum_yaml_reader_child(reader, node, ellipses[i].key);
    if (!ellipse) continue;
    status = cavum_yaml_read_fields(half, reader, ellipse,
                                    cavum_yaml_path_join(path, ellipses[i].key).text,
                                    cavum_cell_sections[ellipses[i].section].table);
  }
  return status;
}

static cavum_status check_half_is_complete(const cavum_yaml_reader *reader,
                                           const cavum_yaml_node *contour,
                                           const cavum_half_cell *half) {
  cavum_cell_number number = {0};
  while (cavum_cell_number_next(&number)) {
    if (number.section->owner != CAVUM_CELL_OWNER_HALF) continue;
    double value_m;
    memcpy(&value_m, (const char *)half + cavum_cell_number_offset(&number), sizeof value_m);
    if (value_m > 0.0) continue;
    const char *ellipse = strchr(number.section->path, '.');
    return cavum_yaml_reader_fail(
        reader, contour, "contour: missing key '%s'",
        cavum_yaml_path_join(ellipse ? ellipse + 1 : "", number.field->key).text);
  }
  return CAVUM_OK;
}

/** Dimensions of one half: those of the contour section, overridden by the half's own. */
static cavum_status read_override(cavum_half_cell *half, const cavum_yaml_reader *reader,
                                  const cavum_yaml_node *contour, const cavum_half_cell *common,
                                  const char *key) {
  cavum_yaml_table table = cavum_cell_sections[CAVUM_CELL_SECTION_TWO_ELLIPSE].table;
  const cavum_yaml_node *node = cavum_yaml_reader_child(reader, contour, key);
  *half = *common;
  table.num_fields = CAVUM_CELL_NUM_HALF_KEYS;
  if (node) {
    cavum_status status =
        read_half(half, reader, node, cavum_yaml_path_join("contour", key).text, table);
    if (status != CAVUM_OK) return status;
  }
  return check_half_is_complete(reader, contour, half);
}

static cavum_status read_end(cavum_end *end, const cavum_yaml_reader *reader,
                             const cavum_yaml_node *node, cavum_cell_section_name name,
                             double iris_radius_m) {
  static const char *const tube_keys[] = {"length_mm", "close", "radius_mm"};
  static const char *const expected[] = {"a length", "electric, magnetic or metal"};
  enum { NUM_REQUIRED = 2, NUM_TUBE_KEYS = 3 };
  const cavum_cell_section *section = &cavum_cell_sections[name];
  cavum_end found = {.tube_radius_m = iris_radius_m};
  cavum_status status = cavum_yaml_read_fields(&found, reader, node, section->path, section->table);
  if (status != CAVUM_OK) return status;
  bool tube = found.kind == CAVUM_END_TUBE;
  for (int i = 0; i < NUM_TUBE_KEYS; i++) {
    const cavum_yaml_node *child = cavum_yaml_reader_child(reader, node, tube_keys[i]);
    if (tube && !child && i < NUM_REQUIRED) {
      return cavum_yaml_reader_fail(reader, node,
                                    "%s: missing key '%s' for kind: tube, expected %s",
                                    section->path, tube_keys[i], expected[i]);
    }
    if (!tube && child) {
      return cavum_yaml_reader_fail(reader, child, "%s.%s: is for kind: tube only", section->path,
                                    tube_keys[i]);
    }
  }
  if (!tube) found.tube_radius_m = 0.0;
  *end = found;
  return CAVUM_OK;
}

/** The two entries of the ends section. */
typedef struct ends_section {
  const cavum_yaml_node *left, *right;
} ends_section;

static const cavum_yaml_field ends_fields[] = {
    {.key = "left",
     .offset = offsetof(ends_section, left),
     .kind = CAVUM_YAML_FIELD_MAPPING,
     .required = true},
    {.key = "right",
     .offset = offsetof(ends_section, right),
     .kind = CAVUM_YAML_FIELD_MAPPING,
     .required = true},
};

static cavum_status read_ends(cavum_cell *cell, const cavum_yaml_reader *reader,
                              const cavum_yaml_node *ends) {
  ends_section section = {0};
  cavum_yaml_table table = CAVUM_YAML_TABLE(ends_fields);
  cavum_status status = cavum_yaml_read_fields(&section, reader, ends, "ends", table);
  if (status == CAVUM_OK) {
    status = read_end(&cell->left_end, reader, section.left, CAVUM_CELL_SECTION_LEFT_END,
                      cell->left.iris_radius_m);
  }
  if (status != CAVUM_OK) return status;
  return read_end(&cell->right_end, reader, section.right, CAVUM_CELL_SECTION_RIGHT_END,
                  cell->right.iris_radius_m);
}

cavum_status cavum_cell_file_read_two_ellipse(cavum_cell *cell, const cavum_yaml_reader *reader,
                                              const cavum_yaml_node *contour,
                                              const cavum_yaml_node *ends) {
  const cavum_cell_section *section = &cavum_cell_sections[CAVUM_CELL_SECTION_TWO_ELLIPSE];
  cavum_half_cell common = {0};
  cavum_contour made = {0};
  cavum_error what;
  cavum_status status = read_half(&common, reader, contour, section->path, section->table);
  if (status == CAVUM_OK) status = read_override(&cell->left, reader, contour, &common, "left");
  if (status == CAVUM_OK) status = read_override(&cell->right, reader, contour, &common, "right");
  if (status != CAVUM_OK) return status;
  if (!ends) {
    return cavum_yaml_reader_fail(reader, &reader->tree.nodes[0],
                                  "the file: missing key 'ends', expected what closes the cell at "
                                  "left and right");
  }
  status = read_ends(cell, reader, ends);
  if (status != CAVUM_OK) return status;
  status = cavum_cell_make_contour(&made, cell, CAVUM_PART_WHOLE, &what);
  cavum_contour_clear(&made);
  if (status == CAVUM_OK) return CAVUM_OK;
  return cavum_yaml_reader_relay(reader, contour, status, "contour", &what);
}
