// SPDX-License-Identifier: GPL-3.0-or-later
// A cell as the text of a cell file: the text that was read where that still gives this cell, else
// one that is written and read again before it is handed out.
#include "cavum/cell_text.h"

#include <string.h>

#include "base/base.h"
#include "base/base64.h"
#include "cell/cell.h"
#include "cell/cell_check.h"
#include "cell/cell_digest.h"
#include "contour/parallel.h"
#include "yaml/writer.h"

static void write_mm(cavum_writer *w, const char *key, double value_m) {
  cavum_writer_number(w, key, value_m, CAVUM_UNIT_MM);
}

static void write_words(cavum_writer *w, const char *key, const char *word) {
  cavum_writer_word(w, key);
  cavum_writer_word(w, word);
}

static void write_ellipse(cavum_writer *w, const char *key, double axial_m, double radial_m) {
  cavum_writer_word(w, key);
  cavum_writer_open_mapping(w, true);
  write_mm(w, "axial_mm", axial_m);
  write_mm(w, "radial_mm", radial_m);
  cavum_writer_close_mapping(w);
}

static void write_half(cavum_writer *w, const cavum_half_cell *half) {
  write_mm(w, "half_length_mm", half->half_length_m);
  write_mm(w, "iris_radius_mm", half->iris_radius_m);
  write_mm(w, "equator_radius_mm", half->equator_radius_m);
  write_ellipse(w, "equator_ellipse", half->equator_axial_m, half->equator_radial_m);
  write_ellipse(w, "iris_ellipse", half->iris_axial_m, half->iris_radial_m);
}

static void write_own_half(cavum_writer *w, const char *key, const cavum_half_cell *half) {
  cavum_writer_word(w, key);
  cavum_writer_open_mapping(w, false);
  write_half(w, half);
  cavum_writer_close_mapping(w);
}

static const char *end_word(cavum_end_kind kind) {
  switch (kind) {
    case CAVUM_END_METAL:
      return "metal";
    case CAVUM_END_ELECTRIC:
      return "electric";
    case CAVUM_END_MAGNETIC:
      return "magnetic";
    case CAVUM_END_TUBE:
    case CAVUM_END_UNSTATED:
      break;
  }
  return "tube";
}

static void write_end(cavum_writer *w, const char *key, const cavum_end *end) {
  cavum_writer_word(w, key);
  cavum_writer_open_mapping(w, true);
  write_words(w, "kind", end_word(end->kind));
  if (end->kind == CAVUM_END_TUBE) {
    write_mm(w, "length_mm", end->tube_length_m);
    write_mm(w, "radius_mm", end->tube_radius_m);
    write_words(w, "close", cavum_boundary_name(end->tube_close));
  }
  cavum_writer_close_mapping(w);
}

static void write_two_ellipse(cavum_writer *w, const cavum_cell *cell) {
  write_words(w, "kind", "two-ellipse");
  // Numbers alone, without gaps, and what is written reads back to the bit.
  // NOLINTNEXTLINE(bugprone-suspicious-memory-comparison,cert-exp42-c,cert-flp37-c)
  if (memcmp(&cell->left, &cell->right, sizeof cell->left) == 0) {
    write_half(w, &cell->left);
  } else {
    write_own_half(w, "left", &cell->left);
    write_own_half(w, "right", &cell->right);
  }
  cavum_writer_close_mapping(w);
  cavum_writer_word(w, "ends");
  cavum_writer_open_mapping(w, false);
  write_end(w, "left", &cell->left_end);
  write_end(w, "right", &cell->right_end);
  cavum_writer_close_mapping(w);
}

static void write_coordinates(cavum_writer *w, cavum_point point) {
  cavum_writer_open_mapping(w, true);
  write_mm(w, "z_mm", point.z_m);
  write_mm(w, "r_mm", point.r_m);
  cavum_writer_close_mapping(w);
}

static void write_point(cavum_writer *w, const char *key, cavum_point point) {
  cavum_writer_word(w, key);
  write_coordinates(w, point);
}

static void write_arc(cavum_writer *w, const cavum_curve *curve) {
  write_point(w, "ellipse_to", curve->end);
  write_point(w, "centre", curve->centre);
  write_mm(w, "axial_mm", curve->axial_m);
  write_mm(w, "radial_mm", curve->radial_m);
  write_words(w, "turn", curve->angle_end_rad > curve->angle_start_rad ? "left" : "right");
  cavum_writer_number(w, "angle_start_rad", curve->angle_start_rad, CAVUM_UNIT_SI);
  cavum_writer_number(w, "angle_end_rad", curve->angle_end_rad, CAVUM_UNIT_SI);
}

static void write_cubic(cavum_writer *w, const cavum_curve *curve) {
  write_point(w, "cubic_to", curve->end);
  cavum_writer_word(w, "coefficients");
  cavum_writer_open_list(w);
  for (int k = 0; k < 4; k++) write_coordinates(w, curve->cubic[k]);
  cavum_writer_close_list(w);
}

// Layers of a parallel, up to the last that does something.
static void write_layers(cavum_writer *w, const cavum_curve *curve) {
  cavum_parallel_layer layers[CAVUM_PARALLEL_LAYERS];
  int count = cavum_parallel_get(layers, curve);
  while (count > 1 && layers[count - 1].offset_m == 0.0 && layers[count - 1].lengthening == 0.0) {
    count--;
  }
  cavum_writer_word(w, "moved");
  cavum_writer_open_list(w);
  for (int i = 0; i < count; i++) {
    cavum_writer_open_mapping(w, true);
    write_mm(w, "offset_mm", layers[i].offset_m);
    cavum_writer_number(w, "lengthening", layers[i].lengthening, CAVUM_UNIT_SI);
    cavum_writer_close_mapping(w);
  }
  cavum_writer_close_list(w);
}

static void write_path(cavum_writer *w, const cavum_contour *path) {
  write_words(w, "kind", "path");
  write_point(w, "start", path->curves[0].start);
  cavum_writer_word(w, "path");
  cavum_writer_open_list(w);
  for (cavum_index i = 0; i < path->num_curves; i++) {
    const cavum_curve *curve = &path->curves[i];
    cavum_writer_open_mapping(w, false);
    if (curve->kind == CAVUM_CURVE_LINE) write_point(w, "line_to", curve->end);
    if (cavum_curve_is_of_ellipse(curve)) write_arc(w, curve);
    if (cavum_curve_is_of_cubic(curve)) write_cubic(w, curve);
    if (cavum_curve_is_parallel(curve)) write_layers(w, curve);
    write_words(w, "boundary", cavum_boundary_name(curve->boundary));
    cavum_writer_close_mapping(w);
  }
  cavum_writer_close_list(w);
  cavum_writer_close_mapping(w);
}

static void write_mesh(cavum_writer *w, const cavum_cell *cell, const char *base64) {
  const cavum_mesh_source *mesh = &cell->mesh;
  const char axis[2] = {mesh->axis, '\0'};
  write_words(w, "kind", "mesh");
  if (base64) {
    cavum_writer_words(w, "file_base64", base64);
  } else {
    cavum_writer_word(w, "file");
    cavum_writer_text(w, mesh->path);
  }
  write_words(w, "unit", cavum_cell_length_word(mesh->unit_m));
  write_words(w, "axis", axis);
  if (mesh->num_regions > 0) {
    cavum_writer_word(w, "regions");
    cavum_writer_open_mapping(w, false);
    for (cavum_index i = 0; i < mesh->num_regions; i++) {
      cavum_writer_text(w, mesh->regions[i].name);
      cavum_writer_open_mapping(w, true);
      cavum_writer_number(w, "eps_r", mesh->regions[i].eps_r, CAVUM_UNIT_SI);
      cavum_writer_number(w, "mu_r", mesh->regions[i].mu_r, CAVUM_UNIT_SI);
      cavum_writer_close_mapping(w);
    }
    cavum_writer_close_mapping(w);
  }
  if (mesh->num_boundaries > 0) {
    cavum_writer_word(w, "boundaries");
    cavum_writer_open_mapping(w, false);
    for (cavum_index i = 0; i < mesh->num_boundaries; i++) {
      cavum_writer_text(w, mesh->boundaries[i].name);
      cavum_writer_word(w, cavum_boundary_name(mesh->boundaries[i].boundary));
    }
    cavum_writer_close_mapping(w);
  }
  cavum_writer_close_mapping(w);
}

static void write_wall(cavum_writer *w, const cavum_wall *wall) {
  if (wall->kind == CAVUM_WALL_NONE) return;
  cavum_writer_word(w, "wall");
  cavum_writer_open_mapping(w, true);
  if (wall->kind == CAVUM_WALL_RESISTANCE) {
    write_words(w, "kind", "resistance");
    cavum_writer_number(w, "surface_resistance_ohm", wall->surface_resistance_ohm, CAVUM_UNIT_SI);
  } else if (wall->kind == CAVUM_WALL_METAL) {
    write_words(w, "kind", "metal");
    cavum_writer_number(w, "conductivity_S_per_m", wall->conductivity_s_per_m, CAVUM_UNIT_SI);
  } else {
    write_words(w, "kind", "niobium");
    cavum_writer_number(w, "temperature_K", wall->temperature_k, CAVUM_UNIT_SI);
    cavum_writer_number(w, "residual_nohm", wall->residual_resistance_ohm, CAVUM_UNIT_NOHM);
  }
  cavum_writer_close_mapping(w);
}

static void write_tasks(cavum_writer *w, const cavum_cell *cell) {
  cavum_writer_word(w, "modes");
  cavum_writer_open_mapping(w, true);
  cavum_writer_number(w, "count", cell->num_modes, CAVUM_UNIT_SI);
  if (cell->near_hz > 0.0) cavum_writer_number(w, "near_MHz", cell->near_hz, CAVUM_UNIT_MHZ);
  cavum_writer_close_mapping(w);
  cavum_writer_word(w, "accuracy");
  cavum_writer_open_mapping(w, true);
  cavum_writer_number(w, "frequency", cell->accuracy_frequency, CAVUM_UNIT_SI);
  cavum_writer_number(w, "other_figures", cell->accuracy_other_figures, CAVUM_UNIT_SI);
  cavum_writer_close_mapping(w);
}

static void write_cell(cavum_writer *w, const cavum_cell *cell, const char *base64) {
  cavum_writer_open_mapping(w, false);
  if (cell->title && *cell->title) {
    cavum_writer_word(w, "title");
    cavum_writer_text(w, cell->title);
  }
  cavum_writer_number(w, "beta", cell->beta, CAVUM_UNIT_SI);
  if (cell->accelerating_length_m > 0.0) {
    write_mm(w, "accelerating_length_mm", cell->accelerating_length_m);
  }
  cavum_writer_word(w, "contour");
  cavum_writer_open_mapping(w, false);
  if (cell->kind == CAVUM_CONTOUR_TWO_ELLIPSE) write_two_ellipse(w, cell);
  if (cell->kind == CAVUM_CONTOUR_PATH) write_path(w, &cell->path);
  if (cell->kind == CAVUM_CONTOUR_MESH_FILE) write_mesh(w, cell, base64);
  write_tasks(w, cell);
  write_wall(w, &cell->wall);
  cavum_writer_close_mapping(w);
}

static bool same_title(const char *a, const char *b) { return strcmp(a ? a : "", b ? b : "") == 0; }

// Whether the path of a mesh file is that of a text: one may have a folder in front.
static bool same_mesh_path(const char *cell, const char *text) {
  size_t long_one = strlen(cell), short_one = strlen(text);
  if (short_one > long_one || strcmp(cell + long_one - short_one, text) != 0) return false;
  return short_one == long_one || (text[0] != '/' && cell[long_one - short_one - 1] == '/');
}

// Of two cells with the same digest: whether the bytes of their meshes, or their places, are alike.
static bool same_mesh(const cavum_cell *cell, const cavum_cell *text) {
  if (cell->kind != CAVUM_CONTOUR_MESH_FILE) return true;
  if (!cell->mesh_data != !text->mesh_data) return false;
  if (!cell->mesh_data) return same_mesh_path(cell->mesh.path, text->mesh.path);
  return cell->mesh_size == text->mesh_size &&
         memcmp(cell->mesh_data, text->mesh_data, cell->mesh_size) == 0;
}

// Whether reading a text gives this cell.
static cavum_status check_text(bool *same, const char *text, const cavum_cell *cell,
                               cavum_error *error) {
  cavum_cell read;
  cavum_status status = cavum_cell_read_text(&read, text, strlen(text), NULL, error);
  if (status != CAVUM_OK) return status;
  *same = cavum_cell_digest_full(&read) == cavum_cell_digest_full(cell) &&
          same_title(read.title, cell->title) && same_mesh(cell, &read);
  cavum_cell_clear(&read);
  return CAVUM_OK;
}

static cavum_status write_text(char **text, const cavum_cell *cell, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char *written = NULL, *base64 = NULL;
  bool same = false;
  bool has_mesh = cell->kind == CAVUM_CONTOUR_MESH_FILE && cell->mesh_data;
  cavum_writer *writer = cavum_writer_create();
  if (has_mesh) base64 = cavum_base64_encode(cell->mesh_data, cell->mesh_size);
  if (!writer || (has_mesh && !base64)) CAVUM_TRY(cavum_fail_memory(error));
  write_cell(writer, cell, base64);
  CAVUM_TRY(cavum_writer_finish(&written, writer, error));
  CAVUM_TRY(check_text(&same, written, cell, error));
  if (!CAVUM_HOLDS(same)) {
    CAVUM_TRY(cavum_fail_internal(error, "a cell that was written reads back as another"));
  }
  *text = written;
  written = NULL;
done:
  free(written);
  free(base64);
  cavum_writer_destroy(&writer);
  return status;
}

cavum_status cavum_cell_to_text(char **text, const cavum_cell *given, cavum_error *error) {
  cavum_cell cell;
  bool same = false;
  if (!text) return cavum_fail_null(error, __func__);
  cavum_status status = cavum_sized_take(&cell, given, &cavum_cell_sized, error);
  if (status == CAVUM_OK) status = cavum_cell_check_whole(&cell, error);
  if (status != CAVUM_OK) return status;
  // A text that is no longer its cell is written anew, not one that there was no memory to read.
  if (cell.text) status = check_text(&same, cell.text, &cell, NULL);
  if (status == CAVUM_ERR_MEMORY) return cavum_fail_memory(error);
  if (same) {
    char *copy = cavum_copy_text(cell.text);
    if (!copy) return cavum_fail_memory(error);
    *text = copy;
    return CAVUM_OK;
  }
  return write_text(text, &cell, error);
}
