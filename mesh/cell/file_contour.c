// SPDX-License-Identifier: GPL-3.0-or-later
// The contour section: its kind, and the two kinds that are lists of dimensions. A path has its own
// file. Ends belong to two-ellipse cells alone.
#include "cell/file_contour.h"

#include <string.h>

#include "base/base.h"

static const cavum_yaml_word kind_words[] = {{"two-ellipse", CAVUM_CONTOUR_TWO_ELLIPSE},
                                             {"path", CAVUM_CONTOUR_PATH},
                                             {"mesh", CAVUM_CONTOUR_MESH_FILE},
                                             {NULL, 0}};

/** The contour section of a two-ellipse cell; the nodes of a half are filled from its own section.
 */
typedef struct two_ellipse_section {
  int kind;
  cavum_half_cell half;
  const cavum_yaml_node *equator_ellipse, *iris_ellipse, *left, *right;
} two_ellipse_section;

#define LENGTH_FIELD(name, owner, member)                                    \
  {                                                                          \
    .key = (name), .offset = offsetof(owner, member), .unit = CAVUM_UNIT_MM, \
    .low = CAVUM_SMALLEST_LENGTH_MM, .high = CAVUM_LARGEST_LENGTH_MM         \
  }
#define NODE_FIELD(name, owner, member) \
  { .key = (name), .offset = offsetof(owner, member), .kind = CAVUM_YAML_FIELD_MAPPING }

// The last three rows stand only in the contour section itself.
enum { NUM_HALF_FIELDS = 5 };
static const cavum_yaml_field two_ellipse_fields[] = {
    LENGTH_FIELD("half_length_mm", two_ellipse_section, half.half_length_m),
    LENGTH_FIELD("iris_radius_mm", two_ellipse_section, half.iris_radius_m),
    LENGTH_FIELD("equator_radius_mm", two_ellipse_section, half.equator_radius_m),
    NODE_FIELD("equator_ellipse", two_ellipse_section, equator_ellipse),
    NODE_FIELD("iris_ellipse", two_ellipse_section, iris_ellipse),
    NODE_FIELD("left", two_ellipse_section, left),
    NODE_FIELD("right", two_ellipse_section, right),
    {.key = "kind",
     .offset = offsetof(two_ellipse_section, kind),
     .kind = CAVUM_YAML_FIELD_WORD,
     .words = kind_words},
};

static const cavum_yaml_field equator_fields[] = {
    LENGTH_FIELD("axial_mm", cavum_half_cell, equator_axial_m),
    LENGTH_FIELD("radial_mm", cavum_half_cell, equator_radial_m),
};

static const cavum_yaml_field iris_fields[] = {
    LENGTH_FIELD("axial_mm", cavum_half_cell, iris_axial_m),
    LENGTH_FIELD("radial_mm", cavum_half_cell, iris_radial_m),
};

/** What a half needs, for the message when neither the contour nor the half gives it. */
typedef struct half_dimension {
  const char *key;
  size_t offset;
} half_dimension;

static const half_dimension half_dimensions[] = {
    {"half_length_mm", offsetof(cavum_half_cell, half_length_m)},
    {"iris_radius_mm", offsetof(cavum_half_cell, iris_radius_m)},
    {"equator_radius_mm", offsetof(cavum_half_cell, equator_radius_m)},
    {"equator_ellipse.axial_mm", offsetof(cavum_half_cell, equator_axial_m)},
    {"equator_ellipse.radial_mm", offsetof(cavum_half_cell, equator_radial_m)},
    {"iris_ellipse.axial_mm", offsetof(cavum_half_cell, iris_axial_m)},
    {"iris_ellipse.radial_mm", offsetof(cavum_half_cell, iris_radial_m)},
};

static cavum_status check_half_is_complete(const cavum_yaml_reader *reader,
                                           const cavum_yaml_node *contour,
                                           const cavum_half_cell *half) {
  for (size_t i = 0; i < sizeof half_dimensions / sizeof *half_dimensions; i++) {
    double value_m;
    memcpy(&value_m, (const char *)half + half_dimensions[i].offset, sizeof value_m);
    if (value_m > 0.0) continue;
    return cavum_yaml_reader_fail(reader, contour, "contour: missing key '%s'",
                                  half_dimensions[i].key);
  }
  return CAVUM_OK;
}

/** Reads the dimensions of one section, on top of those that section->half already has. */
static cavum_status read_half(two_ellipse_section *section, const cavum_yaml_reader *reader,
                              const cavum_yaml_node *node, const char *path,
                              cavum_yaml_table table) {
  cavum_yaml_table equator_table = CAVUM_YAML_TABLE(equator_fields);
  cavum_yaml_table iris_table = CAVUM_YAML_TABLE(iris_fields);
  cavum_status status;
  CAVUM_TRY(cavum_yaml_read_fields(section, reader, node, path, table));
  if (section->equator_ellipse) {
    CAVUM_TRY(cavum_yaml_read_fields(&section->half, reader, section->equator_ellipse,
                                     cavum_yaml_path_join(path, "equator_ellipse").text,
                                     equator_table));
  }
  if (section->iris_ellipse) {
    CAVUM_TRY(cavum_yaml_read_fields(&section->half, reader, section->iris_ellipse,
                                     cavum_yaml_path_join(path, "iris_ellipse").text, iris_table));
  }
done:
  return status;
}

/** Dimensions of one half: those of the contour, overridden by the half's own section. */
static cavum_status read_override(cavum_half_cell *half, const cavum_yaml_reader *reader,
                                  const cavum_yaml_node *contour, const cavum_half_cell *common,
                                  const cavum_yaml_node *node, const char *path) {
  two_ellipse_section section = {.half = *common};
  cavum_yaml_table table = {two_ellipse_fields, NUM_HALF_FIELDS};
  if (node) {
    cavum_status status = read_half(&section, reader, node, path, table);
    if (status != CAVUM_OK) return status;
  }
  *half = section.half;
  return check_half_is_complete(reader, contour, half);
}

/** One entry of the ends section. */
typedef struct end_section {
  int kind;
  double length_m, radius_m;
  int close;
} end_section;

static const cavum_yaml_word end_words[] = {{"tube", CAVUM_END_TUBE},
                                            {"metal", CAVUM_END_METAL},
                                            {"electric", CAVUM_END_ELECTRIC},
                                            {"magnetic", CAVUM_END_MAGNETIC},
                                            {NULL, 0}};

static const cavum_yaml_word close_words[] = {{"electric", CAVUM_BOUNDARY_ELECTRIC},
                                              {"magnetic", CAVUM_BOUNDARY_MAGNETIC},
                                              {"metal", CAVUM_BOUNDARY_METAL},
                                              {NULL, 0}};

static const cavum_yaml_field end_fields[] = {
    {.key = "kind",
     .offset = offsetof(end_section, kind),
     .kind = CAVUM_YAML_FIELD_WORD,
     .required = true,
     .words = end_words},
    LENGTH_FIELD("length_mm", end_section, length_m),
    LENGTH_FIELD("radius_mm", end_section, radius_m),
    {.key = "close",
     .offset = offsetof(end_section, close),
     .kind = CAVUM_YAML_FIELD_WORD,
     .words = close_words},
};

static cavum_status read_end(cavum_end *end, const cavum_yaml_reader *reader,
                             const cavum_yaml_node *node, const char *path, double iris_radius_m) {
  static const char *const tube_keys[] = {"length_mm", "close", "radius_mm"};
  enum { NUM_REQUIRED = 2, NUM_TUBE_KEYS = 3 };
  end_section section = {.radius_m = iris_radius_m};
  cavum_yaml_table table = CAVUM_YAML_TABLE(end_fields);
  cavum_status status = cavum_yaml_read_fields(&section, reader, node, path, table);
  if (status != CAVUM_OK) return status;
  bool tube = section.kind == CAVUM_END_TUBE;
  for (int i = 0; i < NUM_TUBE_KEYS; i++) {
    const cavum_yaml_node *child = cavum_yaml_reader_child(reader, node, tube_keys[i]);
    if (tube && !child && i < NUM_REQUIRED) {
      return cavum_yaml_reader_fail(reader, node, "%s: missing key '%s' for kind: tube", path,
                                    tube_keys[i]);
    }
    if (!tube && child) {
      return cavum_yaml_reader_fail(reader, child, "%s.%s: goes with kind: tube only", path,
                                    tube_keys[i]);
    }
  }
  end->kind = (cavum_end_kind)section.kind;
  end->tube_length_m = tube ? section.length_m : 0.0;
  end->tube_radius_m = tube ? section.radius_m : 0.0;
  end->tube_close = tube ? (cavum_boundary)section.close : CAVUM_BOUNDARY_NONE;
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
  cavum_status status;
  CAVUM_TRY(cavum_yaml_read_fields(&section, reader, ends, "ends", table));
  CAVUM_TRY(read_end(&cell->left_end, reader, section.left, "ends.left", cell->left.iris_radius_m));
  CAVUM_TRY(
      read_end(&cell->right_end, reader, section.right, "ends.right", cell->right.iris_radius_m));
done:
  return status;
}

cavum_status cavum_cell_file_fail_shape(const cavum_yaml_reader *reader,
                                        const cavum_yaml_node *node, cavum_status status,
                                        const cavum_error *what) {
  if (status == CAVUM_ERR_MEMORY) return cavum_fail_memory(reader->error);
  return cavum_yaml_tree_fail(reader->error, status, reader->name, node->line, node->column,
                              "contour: %s", what->message);
}

cavum_status cavum_cell_file_read_two_ellipse(cavum_cell *cell, const cavum_yaml_reader *reader,
                                              const cavum_yaml_node *contour,
                                              const cavum_yaml_node *ends) {
  two_ellipse_section section = {0};
  cavum_yaml_table table = CAVUM_YAML_TABLE(two_ellipse_fields);
  cavum_contour outline = {0};
  cavum_error what;
  cavum_status status;
  CAVUM_TRY(read_half(&section, reader, contour, "contour", table));
  CAVUM_TRY(
      read_override(&cell->left, reader, contour, &section.half, section.left, "contour.left"));
  CAVUM_TRY(
      read_override(&cell->right, reader, contour, &section.half, section.right, "contour.right"));
  if (!ends) {
    return cavum_yaml_reader_fail(
        reader, &reader->tree.nodes[0],
        "the file: missing key 'ends', expected what closes the cell at left "
        "and right");
  }
  CAVUM_TRY(read_ends(cell, reader, ends));
  status = cavum_cell_make_contour(&outline, cell, CAVUM_PART_WHOLE, &what);
  cavum_contour_clear(&outline);
  if (status != CAVUM_OK) return cavum_cell_file_fail_shape(reader, contour, status, &what);
done:
  return status;
}

cavum_status cavum_cell_file_read_shape(cavum_cell *cell, const cavum_yaml_reader *reader,
                                        const cavum_yaml_node *contour,
                                        const cavum_yaml_node *ends) {
  const cavum_yaml_node *kind_node = cavum_yaml_reader_child(reader, contour, "kind");
  int kind = 0;
  if (!kind_node) {
    return cavum_yaml_reader_fail(
        reader, contour, "contour: missing key 'kind', expected two-ellipse, path or mesh");
  }
  cavum_status status = cavum_yaml_read_word(&kind, reader, kind_node, "contour.kind", kind_words);
  if (status != CAVUM_OK) return status;
  cell->kind = (cavum_contour_kind)kind;
  if (kind == CAVUM_CONTOUR_TWO_ELLIPSE) {
    return cavum_cell_file_read_two_ellipse(cell, reader, contour, ends);
  }
  if (ends) {
    return cavum_yaml_tree_fail(
        reader->error, CAVUM_ERR_INPUT, reader->name, ends->key_line, ends->key_column,
        "ends: goes with contour.kind: two-ellipse only, elsewhere each piece of "
        "the boundary names its kind");
  }
  if (kind == CAVUM_CONTOUR_PATH) return cavum_cell_file_read_path(cell, reader, contour);
  return cavum_cell_file_read_mesh(cell, reader, contour);
}
