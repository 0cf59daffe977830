// SPDX-License-Identifier: GPL-3.0-or-later
// contour.kind: mesh. The section says how to read a mesh file; the file itself is opened later,
// or is a part of the cell file.
#include <string.h>

#include "base/base.h"
#include "base/base64.h"
#include "base/files.h"
#include "base/units.h"
#include "cell/beside.h"
#include "cell/file.h"
#include "cell/keys.h"
#include "cell/limits.h"
#include "contour/mesh_source.h"

/** The contour section of a mesh file. */
typedef struct mesh_section {
  const char *kind, *file, *base64;
  int unit, axis;
  const cavum_yaml_node *regions, *boundaries;
} mesh_section;

static const cavum_yaml_word unit_words[] = {{"mm", CAVUM_UNIT_MM},     {"cm", CAVUM_UNIT_CM},
                                             {"m", CAVUM_UNIT_M},       {"um", CAVUM_UNIT_UM},
                                             {"inch", CAVUM_UNIT_INCH}, {NULL, 0}};
static const cavum_yaml_word axis_words[] = {{"x", 'x'}, {"y", 'y'}, {"z", 'z'}, {NULL, 0}};

static const cavum_yaml_field mesh_fields[] = {
    {.key = "kind", .offset = offsetof(mesh_section, kind), .kind = CAVUM_YAML_FIELD_TEXT},
    {.key = "file", .offset = offsetof(mesh_section, file), .kind = CAVUM_YAML_FIELD_TEXT},
    {.key = "file_base64", .offset = offsetof(mesh_section, base64), .kind = CAVUM_YAML_FIELD_TEXT},
    {.key = "unit",
     .offset = offsetof(mesh_section, unit),
     .kind = CAVUM_YAML_FIELD_WORD,
     .required = true,
     .words = unit_words},
    {.key = "axis",
     .offset = offsetof(mesh_section, axis),
     .kind = CAVUM_YAML_FIELD_WORD,
     .required = true,
     .words = axis_words},
    {.key = "regions", .offset = offsetof(mesh_section, regions), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "boundaries",
     .offset = offsetof(mesh_section, boundaries),
     .kind = CAVUM_YAML_FIELD_MAPPING},
};

static const cavum_yaml_field region_fields[] = {
    {.key = "eps_r",
     .offset = offsetof(cavum_region, eps_r),
     .low = CAVUM_MATERIAL_LEAST,
     .high = CAVUM_MATERIAL_MOST},
    {.key = "mu_r",
     .offset = offsetof(cavum_region, mu_r),
     .low = CAVUM_MATERIAL_LEAST,
     .high = CAVUM_MATERIAL_MOST},
};

/** Name of a physical group; a copy. */
static cavum_status copy_name(char **out, const cavum_yaml_reader *reader,
                              const cavum_yaml_node *node) {
  if (!*node->key) {
    return cavum_yaml_tree_fail(reader->error, CAVUM_ERR_INPUT, reader->name, node->key_line,
                                node->key_column,
                                "contour: the name of a region or boundary is empty");
  }
  *out = cavum_copy_text(node->key);
  return *out ? CAVUM_OK : cavum_fail_memory(reader->error);
}

static cavum_status read_regions(cavum_mesh_source *source, const cavum_yaml_reader *reader,
                                 const cavum_yaml_node *mapping) {
  cavum_yaml_table table = CAVUM_YAML_TABLE(region_fields);
  source->regions = cavum_alloc(mapping->num_children, sizeof *source->regions);
  if (!source->regions) return cavum_fail_memory(reader->error);
  const cavum_yaml_node *node = cavum_yaml_reader_first(reader, mapping);
  for (; node; node = cavum_yaml_reader_next(reader, node)) {
    cavum_region *region = &source->regions[source->num_regions++];
    region->eps_r = region->mu_r = 1.0;
    cavum_yaml_path path = cavum_yaml_path_join("contour.regions", node->key);
    cavum_status status = copy_name(&region->name, reader, node);
    if (status == CAVUM_OK) status = cavum_yaml_read_fields(region, reader, node, path.text, table);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

static cavum_status read_boundaries(cavum_mesh_source *source, const cavum_yaml_reader *reader,
                                    const cavum_yaml_node *mapping) {
  source->boundaries = cavum_alloc(mapping->num_children, sizeof *source->boundaries);
  if (!source->boundaries) return cavum_fail_memory(reader->error);
  const cavum_yaml_node *node = cavum_yaml_reader_first(reader, mapping);
  for (; node; node = cavum_yaml_reader_next(reader, node)) {
    cavum_boundary_name_map *entry = &source->boundaries[source->num_boundaries++];
    int boundary = CAVUM_BOUNDARY_METAL;
    cavum_yaml_path path = cavum_yaml_path_join("contour.boundaries", node->key);
    cavum_status status = copy_name(&entry->name, reader, node);
    if (status == CAVUM_OK) {
      status = cavum_yaml_read_word(&boundary, reader, node, path.text, cavum_cell_boundary_words);
    }
    if (status != CAVUM_OK) return status;
    entry->boundary = (cavum_boundary)boundary;
  }
  return CAVUM_OK;
}

// The bytes of the mesh file that the cell file holds.
static cavum_status read_base64(cavum_cell *cell, const cavum_yaml_reader *reader,
                                const cavum_yaml_node *contour, const char *text) {
  cavum_error what = {0};
  const cavum_yaml_node *node = cavum_yaml_reader_child(reader, contour, "file_base64");
  cavum_status status = cavum_base64_decode(&cell->mesh_data, &cell->mesh_size, text, &what);
  if (status != CAVUM_OK) {
    return cavum_yaml_reader_relay(reader, node, status, "contour.file_base64", &what);
  }
  if (cell->mesh_size > 0) return CAVUM_OK;
  return cavum_yaml_reader_fail(reader, node, "contour.file_base64: expected a mesh file");
}

static cavum_status read_place(cavum_cell *cell, const cavum_yaml_reader *reader,
                               const cavum_yaml_node *contour, const mesh_section *section) {
  if ((section->file != NULL) == (section->base64 != NULL)) {
    return cavum_yaml_reader_fail(reader, contour,
                                  "contour: expected one of the keys file and file_base64");
  }
  if (section->base64) return read_base64(cell, reader, contour, section->base64);
  if (!*section->file) {
    return cavum_yaml_reader_fail(reader, contour,
                                  "contour.file: expected the name of a mesh file");
  }
  cell->mesh.path = cavum_cell_path_beside(reader->name, section->file);
  if (!cell->mesh.path) return cavum_fail_memory(reader->error);
  return cavum_files_add(&cell->files, cell->mesh.path, reader->error);
}

cavum_status cavum_cell_file_read_mesh(cavum_cell *cell, const cavum_yaml_reader *reader,
                                       const cavum_yaml_node *contour) {
  mesh_section section = {0};
  cavum_yaml_table table = CAVUM_YAML_TABLE(mesh_fields);
  cavum_mesh_source *source = &cell->mesh;
  cavum_status status = cavum_yaml_read_fields(&section, reader, contour, "contour", table);
  if (status != CAVUM_OK) return status;
  status = read_place(cell, reader, contour, &section);
  if (status != CAVUM_OK) return status;
  source->unit_m = cavum_from_unit(1.0, (cavum_unit)section.unit);
  source->axis = (char)section.axis;
  if (section.regions) status = read_regions(source, reader, section.regions);
  if (status != CAVUM_OK || !section.boundaries) return status;
  return read_boundaries(source, reader, section.boundaries);
}
