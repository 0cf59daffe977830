// SPDX-License-Identifier: GPL-3.0-or-later
// Figures of the shape by the kind of cell.
#include "scan/study_geometry.h"

bool cavum_study_has_geometry(const cavum_study *study, int id) {
  bool of_halves = id <= CAVUM_GEOMETRY_APERTURE_RADIUS;
  return study->cell.kind == CAVUM_CONTOUR_TWO_ELLIPSE ||
         (study->cell.kind == CAVUM_CONTOUR_PATH && !of_halves);
}

bool cavum_study_wants_contour(const cavum_study *study) {
  return study->wanted_geometry[CAVUM_GEOMETRY_TOTAL_LENGTH] ||
         study->wanted_geometry[CAVUM_GEOMETRY_VOLUME] ||
         study->wanted_geometry[CAVUM_GEOMETRY_WALL_AREA];
}
