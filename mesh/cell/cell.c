// SPDX-License-Identifier: GPL-3.0-or-later
// Life of a cell, and its exact contour.
#include "cell/cell.h"

#include <string.h>

#include "base/base.h"
#include "base/files.h"
#include "cell/cell_check.h"
#include "contour/check.h"
#include "contour/mirror.h"
#include "contour/two_ellipse.h"

const cavum_sized cavum_cell_sized = {.name = "cell",
                                      .maker = "cavum_cell_set_defaults()",
                                      .first = CAVUM_CELL_FIRST_SIZE,
                                      .full = sizeof(cavum_cell)};

void cavum_cell_set_defaults_sized(cavum_cell *cell, size_t struct_size) {
  cavum_cell defaults = {.beta = 1.0,
                         .num_modes = 1,
                         .accuracy_frequency = 1e-6,
                         .accuracy_other_figures = 1e-4,
                         .wall = {.kind = CAVUM_WALL_NONE}};
  if (cell) cavum_sized_give(cell, struct_size, &defaults, &cavum_cell_sized);
}

static void clear_mesh_source(cavum_mesh_source *source) {
  free(source->path);
  for (cavum_index i = 0; source->regions && i < source->num_regions; i++) {
    free(source->regions[i].name);
  }
  for (cavum_index i = 0; source->boundaries && i < source->num_boundaries; i++) {
    free(source->boundaries[i].name);
  }
  free(source->regions);
  free(source->boundaries);
}

// Cells of programs that were built before there were meshes in memory end before that.
static bool has_room_for_mesh(size_t struct_size) {
  return struct_size >= offsetof(cavum_cell, mesh_size) + sizeof(size_t);
}

// Likewise.
static bool has_room_for_files(size_t struct_size) {
  return struct_size >= offsetof(cavum_cell, files) + sizeof(cavum_files);
}

cavum_status cavum_cell_give(cavum_cell *cell, size_t struct_size, cavum_cell *made,
                             cavum_error *error) {
  if (made->mesh_data && !has_room_for_mesh(struct_size)) {
    cavum_cell_clear(made);
    return cavum_fail(error, CAVUM_ERR_USAGE,
                      "the cell holds a mesh, for which the program has no room: expected one that "
                      "was built with the headers of version %s",
                      cavum_version());
  }
  if (!has_room_for_files(struct_size)) cavum_files_clear(&made->files);
  cavum_sized_give(cell, struct_size, made, &cavum_cell_sized);
  return CAVUM_OK;
}

void cavum_cell_clear(cavum_cell *cell) {
  if (!cell) return;
  free(cell->title);
  free(cell->text);
  cavum_contour_clear(&cell->path);
  clear_mesh_source(&cell->mesh);
  if (has_room_for_mesh(cell->struct_size)) free(cell->mesh_data);
  if (has_room_for_files(cell->struct_size)) cavum_files_clear(&cell->files);
  // One that never saw its defaults is at least as long as in the first version.
  size_t size = cell->struct_size;
  cavum_cell_set_defaults_sized(cell, size < CAVUM_CELL_FIRST_SIZE ? CAVUM_CELL_FIRST_SIZE : size);
}

static bool same_half(const cavum_half_cell *a, const cavum_half_cell *b) {
  return a->half_length_m == b->half_length_m && a->iris_radius_m == b->iris_radius_m &&
         a->equator_radius_m == b->equator_radius_m && a->equator_axial_m == b->equator_axial_m &&
         a->equator_radial_m == b->equator_radial_m && a->iris_axial_m == b->iris_axial_m &&
         a->iris_radial_m == b->iris_radial_m;
}

static bool same_end(const cavum_end *a, const cavum_end *b) {
  if (a->kind != b->kind) return false;
  if (a->kind != CAVUM_END_TUBE) return true;
  return a->tube_length_m == b->tube_length_m && a->tube_radius_m == b->tube_radius_m &&
         a->tube_close == b->tube_close;
}

bool cavum_cell_is_mirror_symmetric(const cavum_cell *given) {
  cavum_cell full;
  if (cavum_sized_take(&full, given, &cavum_cell_sized, NULL) != CAVUM_OK) return false;
  return cavum_cell_whole_is_symmetric(&full);
}

bool cavum_cell_whole_find_plane(double *plane_m, const cavum_cell *cell) {
  cavum_contour_mirror mirror = {.plane_m = 0.0};  // two ellipses meet at z = 0
  bool found = cell->kind == CAVUM_CONTOUR_PATH ? cavum_contour_find_mirror(&mirror, &cell->path)
                                                : cell->kind == CAVUM_CONTOUR_TWO_ELLIPSE &&
                                                      same_half(&cell->left, &cell->right) &&
                                                      same_end(&cell->left_end, &cell->right_end);
  if (found) *plane_m = mirror.plane_m;
  return found;
}

bool cavum_cell_whole_is_symmetric(const cavum_cell *cell) {
  double plane_m;
  return cavum_cell_whole_find_plane(&plane_m, cell);
}

static cavum_status copy_path(cavum_contour *contour, const cavum_contour *path,
                              cavum_error *error) {
  cavum_contour copy = {.num_curves = path->num_curves};
  copy.curves = cavum_alloc(path->num_curves, sizeof *copy.curves);
  if (!copy.curves) return cavum_fail_memory(error);
  if (path->num_curves > 0) {
    memcpy(copy.curves, path->curves, (size_t)path->num_curves * sizeof *copy.curves);
  }
  cavum_status status = cavum_contour_check(&copy, NULL, NULL, error);
  if (status != CAVUM_OK) {
    cavum_contour_clear(&copy);
    return status;
  }
  *contour = copy;
  return CAVUM_OK;
}

static cavum_status build_pieces(cavum_contour_builder *builder, const cavum_cell *cell,
                                 cavum_cell_part part, cavum_error *error) {
  cavum_contour_mirror mirror;
  if (cell->kind == CAVUM_CONTOUR_TWO_ELLIPSE) {
    return cavum_two_ellipse_build(builder, cell, part, error);
  }
  if (!cavum_contour_find_mirror(&mirror, &cell->path)) {
    return cavum_fail(error, CAVUM_ERR_INTERNAL, "the mirror plane of the path was lost");
  }
  return cavum_contour_cut_half(builder, &cell->path, &mirror, error);
}

cavum_status cavum_cell_make_contour(cavum_contour *contour, const cavum_cell *given,
                                     cavum_cell_part part, cavum_error *error) {
  cavum_cell full;
  cavum_status status = cavum_sized_take(&full, given, &cavum_cell_sized, error);
  if (status != CAVUM_OK) return status;
  if (!contour || (part != CAVUM_PART_WHOLE && part != CAVUM_PART_RIGHT)) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "no contour, or part %d: expected 0 or 1", (int)part);
  }
  return cavum_cell_whole_contour(contour, &full, part, error);
}

cavum_status cavum_cell_whole_contour(cavum_contour *contour, const cavum_cell *cell,
                                      cavum_cell_part part, cavum_error *error) {
  cavum_status status = cavum_cell_check_kinds(cell, error);
  if (status != CAVUM_OK) return status;
  if (part == CAVUM_PART_RIGHT && !cavum_cell_whole_is_symmetric(cell)) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "half a contour was asked for, but the cell has no mirror plane");
  }
  if (cell->kind == CAVUM_CONTOUR_PATH && part == CAVUM_PART_WHOLE) {
    return copy_path(contour, &cell->path, error);
  }
  if (cell->kind == CAVUM_CONTOUR_MESH_FILE) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "a cell read from a mesh file has no exact contour");
  }
  cavum_contour_builder builder = {0};
  status = build_pieces(&builder, cell, part, error);
  if (status == CAVUM_OK) {
    status = cavum_contour_check(&builder.contour, builder.labels, NULL, error);
  }
  if (status == CAVUM_OK) *contour = cavum_contour_builder_release(&builder);
  cavum_contour_builder_clear(&builder);
  return status;
}

cavum_status cavum_cell_keep_numbers(cavum_cell *cell, const cavum_cell *other,
                                     double length_of_text_m, cavum_error *error) {
  char *title = cavum_copy_text(other->title ? other->title : "");
  if (!title) return cavum_fail_memory(error);
  free(cell->title);
  cell->title = title;
  cell->beta = other->beta;
  // What nobody set goes along with a shape that is moved.
  if (other->accelerating_length_m != length_of_text_m) {
    cell->accelerating_length_m = other->accelerating_length_m;
  }
  cell->num_modes = other->num_modes;
  cell->near_hz = other->near_hz;
  cell->accuracy_frequency = other->accuracy_frequency;
  cell->accuracy_other_figures = other->accuracy_other_figures;
  cell->wall = other->wall;
  return CAVUM_OK;
}
