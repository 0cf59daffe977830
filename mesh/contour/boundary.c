// SPDX-License-Identifier: GPL-3.0-or-later
// The words for boundary kinds.
#include "cavum/contour.h"

const char *cavum_boundary_name(cavum_boundary boundary) {
  switch (boundary) {
    case CAVUM_BOUNDARY_NONE:
      return "inside";
    case CAVUM_BOUNDARY_METAL:
      return "metal";
    case CAVUM_BOUNDARY_ELECTRIC:
      return "electric";
    case CAVUM_BOUNDARY_MAGNETIC:
      return "magnetic";
    case CAVUM_BOUNDARY_AXIS:
      return "axis";
    case CAVUM_BOUNDARY_SYMMETRY:
      return "symmetry";
  }
  return "unknown";
}
