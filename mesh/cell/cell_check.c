// SPDX-License-Identifier: GPL-3.0-or-later
// One check for a cell however it came about. A cell file is refused with the place of the wrong
// value (yaml/fields.h); what is filled in memory is refused here with the name of the member. The
// ranges are the same (cell/limits.h).
#include "cell/cell_check.h"

#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "base/utf8.h"
#include "cell/cell.h"
#include "cell/limits.h"
#include "contour/mesh_source.h"

/** A member that is a number. */
typedef struct number_row {
  const char *name;
  size_t offset;
  double low, high;
} number_row;

#define LENGTH_ROW(owner, member) \
  { #member, offsetof(owner, member), CAVUM_LENGTH_LEAST_M, CAVUM_LENGTH_MOST_M }
#define NUMBER_ROW(owner, member, low, high) \
  { #member, offsetof(owner, member), low, high }

static const number_row half_rows[] = {
    LENGTH_ROW(cavum_half_cell, half_length_m),    LENGTH_ROW(cavum_half_cell, iris_radius_m),
    LENGTH_ROW(cavum_half_cell, equator_radius_m), LENGTH_ROW(cavum_half_cell, equator_axial_m),
    LENGTH_ROW(cavum_half_cell, equator_radial_m), LENGTH_ROW(cavum_half_cell, iris_axial_m),
    LENGTH_ROW(cavum_half_cell, iris_radial_m),
};
enum { NUM_HALF_ROWS = sizeof half_rows / sizeof *half_rows };

static const number_row tube_rows[] = {
    LENGTH_ROW(cavum_end, tube_length_m),
    LENGTH_ROW(cavum_end, tube_radius_m),
};
enum { NUM_TUBE_ROWS = sizeof tube_rows / sizeof *tube_rows };

static const number_row cell_rows[] = {
    NUMBER_ROW(cavum_cell, beta, CAVUM_CELL_BETA_LEAST, 1.0),
    NUMBER_ROW(cavum_cell, accuracy_frequency, CAVUM_ACCURACY_FREQUENCY_LEAST,
               CAVUM_ACCURACY_FREQUENCY_MOST),
    NUMBER_ROW(cavum_cell, accuracy_other_figures, CAVUM_ACCURACY_FIGURES_LEAST,
               CAVUM_ACCURACY_FIGURES_MOST),
};
enum { NUM_CELL_ROWS = sizeof cell_rows / sizeof *cell_rows };

// Where 0 says that nothing is stated.
static const number_row optional_rows[] = {
    LENGTH_ROW(cavum_cell, accelerating_length_m),
    NUMBER_ROW(cavum_cell, near_hz, CAVUM_NEAR_LEAST_HZ, CAVUM_NEAR_MOST_HZ),
};
enum { NUM_OPTIONAL_ROWS = sizeof optional_rows / sizeof *optional_rows };

static double number_at(const void *owner, const number_row *row) {
  double value;
  memcpy(&value, (const char *)owner + row->offset, sizeof value);
  return value;
}

static cavum_status check_number(const void *owner, const char *prefix, const number_row *row,
                                 cavum_error *error) {
  double value = number_at(owner, row);
  if (value >= row->low && value <= row->high) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_INPUT, "cell: %s%s is %.9g, expected %g to %g", prefix,
                    row->name, value, row->low, row->high);
}

static cavum_status check_numbers(const void *owner, const char *prefix, int count,
                                  const number_row *rows, cavum_error *error) {
  for (int i = 0; i < count; i++) {
    cavum_status status = check_number(owner, prefix, &rows[i], error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

static bool can_close(cavum_boundary boundary) {
  return boundary == CAVUM_BOUNDARY_METAL || boundary == CAVUM_BOUNDARY_ELECTRIC ||
         boundary == CAVUM_BOUNDARY_MAGNETIC;
}

static cavum_status check_end_kind(const cavum_end *end, const char *name, cavum_error *error) {
  switch (end->kind) {
    case CAVUM_END_METAL:
    case CAVUM_END_ELECTRIC:
    case CAVUM_END_MAGNETIC:
    case CAVUM_END_TUBE:
      return CAVUM_OK;
    case CAVUM_END_UNSTATED:
      return cavum_fail(error, CAVUM_ERR_INPUT,
                        "cell: %s.kind is not stated, expected what closes the cell there: METAL, "
                        "ELECTRIC, MAGNETIC or TUBE",
                        name);
  }
  return cavum_fail(error, CAVUM_ERR_INPUT, "cell: %s.kind is %d, expected METAL to TUBE (1 to 4)",
                    name, (int)end->kind);
}

static cavum_status check_closure(const cavum_end *end, const char *name, cavum_error *error) {
  if (end->kind != CAVUM_END_TUBE || can_close(end->tube_close)) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_INPUT,
                    "cell: %s.tube_close is '%s' (%d), expected METAL, ELECTRIC or MAGNETIC", name,
                    cavum_boundary_name(end->tube_close), (int)end->tube_close);
}

static cavum_status check_path_kinds(const cavum_contour *path, cavum_error *error) {
  if (path->num_curves < 2 || !path->curves) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "cell: path has %d curve%s, expected at least two",
                      path->curves ? (int)path->num_curves : 0,
                      path->curves && path->num_curves == 1 ? "" : "s");
  }
  for (cavum_index i = 0; i < path->num_curves; i++) {
    cavum_boundary boundary = path->curves[i].boundary;
    if (can_close(boundary) || boundary == CAVUM_BOUNDARY_AXIS) continue;
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "cell: path.curves[%d].boundary is '%s' (%d), expected METAL, ELECTRIC, "
                      "MAGNETIC or AXIS",
                      (int)i, cavum_boundary_name(boundary), (int)boundary);
  }
  return CAVUM_OK;
}

cavum_status cavum_cell_check_kinds(const cavum_cell *cell, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  switch (cell->kind) {
    case CAVUM_CONTOUR_TWO_ELLIPSE:
      CAVUM_TRY(check_end_kind(&cell->left_end, "left_end", error));
      CAVUM_TRY(check_end_kind(&cell->right_end, "right_end", error));
      return CAVUM_OK;
    case CAVUM_CONTOUR_PATH:
      return check_path_kinds(&cell->path, error);
    case CAVUM_CONTOUR_MESH_FILE:
      return CAVUM_OK;
    case CAVUM_CONTOUR_UNSTATED:
      return cavum_fail(error, CAVUM_ERR_INPUT,
                        "cell: kind is not stated, expected TWO_ELLIPSE, PATH or MESH_FILE");
  }
  status = cavum_fail(error, CAVUM_ERR_INPUT,
                      "cell: kind is %d, expected TWO_ELLIPSE, PATH or MESH_FILE (1 to 3)",
                      (int)cell->kind);
done:
  return status;
}

static cavum_status check_end(const cavum_end *end, const char *name, const char *prefix,
                              cavum_error *error) {
  if (end->kind != CAVUM_END_TUBE) return CAVUM_OK;
  cavum_status status = check_numbers(end, prefix, NUM_TUBE_ROWS, tube_rows, error);
  return status == CAVUM_OK ? check_closure(end, name, error) : status;
}

static cavum_status check_two_ellipse(const cavum_cell *cell, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(check_numbers(&cell->left, "left.", NUM_HALF_ROWS, half_rows, error));
  CAVUM_TRY(check_numbers(&cell->right, "right.", NUM_HALF_ROWS, half_rows, error));
  CAVUM_TRY(check_end(&cell->left_end, "left_end", "left_end.", error));
  CAVUM_TRY(check_end(&cell->right_end, "right_end", "right_end.", error));
done:
  return status;
}

const char *cavum_cell_length_word(double unit_m) {
  static const cavum_unit units[] = {CAVUM_UNIT_MM, CAVUM_UNIT_CM, CAVUM_UNIT_M, CAVUM_UNIT_UM,
                                     CAVUM_UNIT_INCH};
  for (size_t i = 0; i < sizeof units / sizeof *units; i++) {
    if (cavum_from_unit(1.0, units[i]) == unit_m) return cavum_unit_symbol(units[i]);
  }
  return "";
}

static cavum_status check_mesh_place(const cavum_cell *cell, cavum_error *error) {
  if (!cell->mesh_data && cell->mesh_size == 0) {
    if (cell->mesh.path && *cell->mesh.path) return CAVUM_OK;
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "cell: mesh.path is not stated, expected the name of a mesh file, or "
                      "mesh_data");
  }
  if (cell->mesh_data && cell->mesh_size > 0 && cell->mesh_size <= CAVUM_CELL_LARGEST_MESH) {
    return CAVUM_OK;
  }
  return cavum_fail(error, CAVUM_ERR_INPUT,
                    "cell: mesh_size is %zu %s mesh_data, expected 1 to %zu", cell->mesh_size,
                    cell->mesh_data ? "with" : "without", CAVUM_CELL_LARGEST_MESH);
}

static cavum_status check_mesh_source(const cavum_mesh_source *mesh, cavum_error *error) {
  if (!*cavum_cell_length_word(mesh->unit_m)) {
    return cavum_fail(
        error, CAVUM_ERR_INPUT,
        "cell: mesh.unit_m is %g, expected the length in metres of a mm, cm, m, um or "
        "inch",
        mesh->unit_m);
  }
  return cavum_mesh_source_check(mesh, "cell: mesh.", error);
}

static cavum_status check_wall(const cavum_wall *wall, cavum_error *error) {
  static const number_row resistance = NUMBER_ROW(
      cavum_wall, surface_resistance_ohm, CAVUM_RESISTANCE_LEAST_OHM, CAVUM_RESISTANCE_MOST_OHM);
  static const number_row metal =
      NUMBER_ROW(cavum_wall, conductivity_s_per_m, CAVUM_CONDUCTIVITY_LEAST_S_PER_M,
                 CAVUM_CONDUCTIVITY_MOST_S_PER_M);
  static const number_row niobium[] = {
      NUMBER_ROW(cavum_wall, temperature_k, CAVUM_TEMPERATURE_LEAST_K, CAVUM_NIOBIUM_MOST_K),
      NUMBER_ROW(cavum_wall, residual_resistance_ohm, 0.0, CAVUM_RESIDUAL_MOST_OHM)};
  switch (wall->kind) {
    case CAVUM_WALL_NONE:
      return CAVUM_OK;
    case CAVUM_WALL_RESISTANCE:
      return check_number(wall, "wall.", &resistance, error);
    case CAVUM_WALL_METAL:
      return check_number(wall, "wall.", &metal, error);
    case CAVUM_WALL_NIOBIUM:
      return check_numbers(wall, "wall.", 2, niobium, error);
  }
  return cavum_fail(error, CAVUM_ERR_INPUT,
                    "cell: wall.kind is %d, expected NONE to NIOBIUM (0 to 3)", (int)wall->kind);
}

// A line of UTF-8: it goes into files, pictures and JSON.
static cavum_status check_title(const char *title, cavum_error *error) {
  for (size_t left = strlen(title); left > 0;) {
    int step = cavum_utf8_length(title, left);
    if (step == 0) {
      return cavum_fail(error, CAVUM_ERR_INPUT, "cell: title has the byte 0x%02X, expected UTF-8",
                        (unsigned)(unsigned char)*title);
    }
    if ((unsigned char)*title < 0x20 || *title == 0x7f) {
      return cavum_fail(error, CAVUM_ERR_INPUT,
                        "cell: title has a control character, expected a line");
    }
    title += step;
    left -= (size_t)step;
  }
  return CAVUM_OK;
}

static cavum_status check_tasks(const cavum_cell *cell, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(check_numbers(cell, "", NUM_CELL_ROWS, cell_rows, error));
  for (int i = 0; i < NUM_OPTIONAL_ROWS; i++) {
    if (number_at(cell, &optional_rows[i]) == 0.0) continue;
    CAVUM_TRY(check_number(cell, "", &optional_rows[i], error));
  }
  if (cell->num_modes < 1 || cell->num_modes > CAVUM_MODES_MOST) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "cell: num_modes is %d, expected 1 to %d",
                      cell->num_modes, CAVUM_MODES_MOST);
  }
  if (cell->title && strlen(cell->title) > CAVUM_TITLE_LONGEST) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "cell: title is longer than %d bytes",
                      CAVUM_TITLE_LONGEST);
  }
  return check_title(cell->title ? cell->title : "", error);
done:
  return status;
}

cavum_status cavum_cell_check_whole(const cavum_cell *cell, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(cavum_cell_check_kinds(cell, error));
  CAVUM_TRY(check_tasks(cell, error));
  CAVUM_TRY(check_wall(&cell->wall, error));
  if (cell->kind == CAVUM_CONTOUR_TWO_ELLIPSE) CAVUM_TRY(check_two_ellipse(cell, error));
  if (cell->kind == CAVUM_CONTOUR_MESH_FILE) {
    CAVUM_TRY(check_mesh_place(cell, error));
    CAVUM_TRY(check_mesh_source(&cell->mesh, error));
  }
done:
  return status;
}

cavum_status cavum_cell_check(const cavum_cell *given, cavum_error *error) {
  cavum_cell full;
  cavum_status status = cavum_sized_take(&full, given, &cavum_cell_sized, error);
  return status == CAVUM_OK ? cavum_cell_check_whole(&full, error) : status;
}
