// SPDX-License-Identifier: GPL-3.0-or-later
// Fuzz target: any text as a cell file, and all that a cell is asked for afterwards.
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "cavum/cell.h"

/** Uses every curve of a contour; a number that is not finite would mean an unchecked shape. */
static void use_contour(const cavum_contour *contour) {
  for (cavum_index i = 0; i < contour->num_curves; i++) {
    double length_m = cavum_curve_length(&contour->curves[i], 0.0, 1.0);
    if (!(length_m > 0.0) || length_m > 1e12) abort();
  }
}

static void use_part(const cavum_cell *cell, cavum_cell_part part) {
  cavum_contour contour = {0};
  cavum_error error = {0};
  cavum_status status = cavum_cell_make_contour(&contour, cell, part, &error);
  // A path or two-ellipse cell that was read has a whole contour.
  if (status != CAVUM_OK && part == CAVUM_PART_WHOLE) abort();
  use_contour(&contour);
  cavum_contour_clear(&contour);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  cavum_cell cell;
  cavum_error error = {0};
  cavum_status status =
      cavum_cell_read_text(&cell, (const char *)data, size, "fuzz/cell.yaml", &error);
  if (status != CAVUM_OK) {
    // Every refusal says so in one line that starts with the file name.
    if (strncmp(error.message, "fuzz/cell.yaml:", 15) != 0 || strchr(error.message, '\n')) abort();
    return 0;
  }
  if (cell.kind != CAVUM_CONTOUR_MESH_FILE) use_part(&cell, CAVUM_PART_WHOLE);
  if (cavum_cell_is_mirror_symmetric(&cell)) use_part(&cell, CAVUM_PART_RIGHT);
  cavum_cell_clear(&cell);
  return 0;
}
