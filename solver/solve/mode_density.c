// SPDX-License-Identifier: GPL-3.0-or-later
// Density of modes by the area of a mesh.
#include "solve/mode_density.h"

#include "base/base.h"

// The lowest modes of a cell are longer than its elements, whatever their number up to this.
enum { MODES_LONG = 8 };

// Area of an element by its corners, weighted as the squares of wavelengths are.
static double optical_area_m2(const cavum_mesh *mesh, const cavum_element *element) {
  const cavum_region *region = &mesh->regions[element->region];
  double twice = 0.0;
  for (int i = 0; i < element->num_corners; i++) {
    const cavum_point *a = &mesh->vertices[element->vertex[i]];
    const cavum_point *b = &mesh->vertices[element->vertex[(i + 1) % element->num_corners]];
    twice += a->z_m * b->r_m - b->z_m * a->r_m;
  }
  return 0.5 * region->eps_r * region->mu_r * fabs(twice);
}

double cavum_mode_density(const cavum_mesh *mesh) {
  double area = 0.0;
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    area += optical_area_m2(mesh, &mesh->elements[e]);
  }
  return area / (4.0 * CAVUM_PI);
}

double cavum_mode_phase_rad(const cavum_cell *cell, const cavum_mesh *mesh, bool half_model) {
  double area = 0.0, squares = 0.0;
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    double part = optical_area_m2(mesh, &mesh->elements[e]);
    area += part;
    squares += part * part;
  }
  double density = (half_model ? 2.0 : 1.0) * area / (4.0 * CAVUM_PI);
  double near = 2.0 * CAVUM_PI * cell->near_hz / CAVUM_C_M_PER_S;
  // k^2 over which so many modes spread: from zero, or from (near - d)^2 to (near + d)^2.
  double spread = cell->num_modes / density, highest = spread;
  if (spread < 4.0 * near * near) {
    double farthest = near + 0.25 * spread / near;
    highest = farthest * farthest;
  }
  // The mean over the area: small elements at corners say nothing of the others.
  return sqrt(highest * squares / area);
}

bool cavum_mode_phase_counts(const cavum_cell *cell) {
  return cell->num_modes > MODES_LONG || cell->near_hz > 0.0;
}
