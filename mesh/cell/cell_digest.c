// SPDX-License-Identifier: GPL-3.0-or-later
// One number for a cell: what a solve takes from it, member by member, since structs have gaps.
#include "cell/cell_digest.h"

#include <string.h>

#include "base/base.h"
#include "cell/cell.h"

// Mixes 64 bits in: the finaliser of [Steele2014] after each.
static void mix(uint64_t *digest, uint64_t bits) {
  uint64_t z = (*digest ^ bits) + 0x9e3779b97f4a7c15u;
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
  z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
  *digest = z ^ (z >> 31);
}

static void mix_numbers(uint64_t *digest, const double *values, size_t count) {
  for (size_t i = 0; i < count; i++) {
    uint64_t bits;
    double value = values[i] + 0.0;  // -0 is 0
    memcpy(&bits, &value, sizeof bits);
    mix(digest, bits);
  }
}

static void mix_text(uint64_t *digest, const char *text) {
  for (size_t i = 0; text && text[i]; i++) mix(digest, (unsigned char)text[i]);
  mix(digest, 0);
}

static void mix_half(uint64_t *digest, const cavum_half_cell *half) {
  const double values[] = {half->half_length_m,   half->iris_radius_m,    half->equator_radius_m,
                           half->equator_axial_m, half->equator_radial_m, half->iris_axial_m,
                           half->iris_radial_m};
  mix_numbers(digest, values, sizeof values / sizeof *values);
}

static void mix_end(uint64_t *digest, const cavum_end *end) {
  mix(digest, (uint64_t)end->kind);
  if (end->kind != CAVUM_END_TUBE) return;
  const double values[] = {end->tube_length_m, end->tube_radius_m};
  mix_numbers(digest, values, 2);
  mix(digest, (uint64_t)end->tube_close);
}

static void mix_point(uint64_t *digest, cavum_point point) {
  const double values[] = {point.z_m, point.r_m};
  mix_numbers(digest, values, 2);
}

static void mix_curve(uint64_t *digest, const cavum_curve *curve) {
  mix(digest, (uint64_t)curve->kind);
  mix(digest, (uint64_t)curve->boundary);
  mix_point(digest, curve->start);
  mix_point(digest, curve->end);
  if (curve->kind != CAVUM_CURVE_LINE && curve->kind != CAVUM_CURVE_CUBIC) {
    const double values[] = {curve->axial_m, curve->radial_m, curve->angle_start_rad,
                             curve->angle_end_rad};
    mix_point(digest, curve->centre);
    mix_numbers(digest, values, 4);
  }
  bool has_points = curve->kind != CAVUM_CURVE_LINE && curve->kind != CAVUM_CURVE_ELLIPSE;
  for (int k = 0; has_points && k < 4; k++) {
    mix_point(digest, curve->cubic[k]);
  }
}

// Eight bytes at a time: a mesh has many.
static void mix_bytes(uint64_t *digest, const char *bytes, size_t size) {
  mix(digest, (uint64_t)size);
  for (size_t at = 0; at < size; at += sizeof(uint64_t)) {
    uint64_t bits = 0;
    memcpy(&bits, bytes + at, size - at < sizeof bits ? size - at : sizeof bits);
    mix(digest, bits);
  }
}

static void mix_mesh(uint64_t *digest, const cavum_cell *cell) {
  const cavum_mesh_source *mesh = &cell->mesh;
  const char *slash = mesh->path ? strrchr(mesh->path, '/') : NULL;
  if (cell->mesh_data) mix_bytes(digest, cell->mesh_data, cell->mesh_size);
  if (!cell->mesh_data) mix_text(digest, slash ? slash + 1 : mesh->path);
  mix_numbers(digest, &mesh->unit_m, 1);
  mix(digest, (uint64_t)mesh->axis);
  for (cavum_index i = 0; mesh->regions && i < mesh->num_regions; i++) {
    const double values[] = {mesh->regions[i].eps_r, mesh->regions[i].mu_r};
    mix_text(digest, mesh->regions[i].name);
    mix_numbers(digest, values, 2);
  }
  for (cavum_index i = 0; mesh->boundaries && i < mesh->num_boundaries; i++) {
    mix_text(digest, mesh->boundaries[i].name);
    mix(digest, (uint64_t)mesh->boundaries[i].boundary);
  }
}

static void mix_wall(uint64_t *digest, const cavum_wall *wall) {
  const double niobium[] = {wall->temperature_k, wall->residual_resistance_ohm};
  mix(digest, (uint64_t)wall->kind);
  if (wall->kind == CAVUM_WALL_RESISTANCE) mix_numbers(digest, &wall->surface_resistance_ohm, 1);
  if (wall->kind == CAVUM_WALL_METAL) mix_numbers(digest, &wall->conductivity_s_per_m, 1);
  if (wall->kind == CAVUM_WALL_NIOBIUM) mix_numbers(digest, niobium, 2);
}

static void mix_path(uint64_t *digest, const cavum_contour *path) {
  for (cavum_index i = 0; path->curves && i < path->num_curves; i++) {
    mix_curve(digest, &path->curves[i]);
  }
}

uint64_t cavum_path_digest(const cavum_contour *path) {
  uint64_t digest = 0;
  mix_path(&digest, path);
  return digest;
}

uint64_t cavum_cell_digest_full(const cavum_cell *cell) {
  uint64_t digest = 0;
  const double values[] = {cell->beta, cell->accelerating_length_m, cell->near_hz,
                           cell->accuracy_frequency, cell->accuracy_other_figures};
  mix_numbers(&digest, values, sizeof values / sizeof *values);
  mix(&digest, (uint64_t)cell->num_modes);
  mix(&digest, (uint64_t)cell->kind);
  mix_wall(&digest, &cell->wall);
  if (cell->kind == CAVUM_CONTOUR_TWO_ELLIPSE) {
    mix_half(&digest, &cell->left);
    mix_half(&digest, &cell->right);
    mix_end(&digest, &cell->left_end);
    mix_end(&digest, &cell->right_end);
  }
  if (cell->kind == CAVUM_CONTOUR_PATH) mix_path(&digest, &cell->path);
  if (cell->kind == CAVUM_CONTOUR_MESH_FILE) mix_mesh(&digest, cell);
  return digest;
}

uint64_t cavum_cell_digest(const cavum_cell *given) {
  cavum_cell full;
  bool known = cavum_sized_take(&full, given, &cavum_cell_sized, NULL) == CAVUM_OK;
  return known ? cavum_cell_digest_full(&full) : 0;
}
