// SPDX-License-Identifier: GPL-3.0-or-later
// Peaks of mirror-symmetric cells are told at one side.
#include "solve/peak_side.h"

#include "base/base.h"
#include "cell/cell.h"

void cavum_peak_side_settle(cavum_result *result, const cavum_cell *cell) {
  double plane_m;
  if (!cavum_cell_whole_find_plane(&plane_m, cell)) return;
  for (int m = 0; m < result->num_modes; m++) {
    for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
      cavum_figure *figure = &result->modes[m].figures[id];
      if (!figure->has_position || figure->at.z_m >= plane_m) continue;
      figure->at.z_m = 2.0 * plane_m - figure->at.z_m;
    }
  }
}
