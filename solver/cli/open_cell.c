// SPDX-License-Identifier: GPL-3.0-or-later
#include "cli/open_cell.h"

#include <string.h>

#include "cli/input_kind.h"
#include "cli/interrupt.h"
#include "cli/process.h"

// Who tunes a cell with a slip in its requirements would be told by the solve of what came out: all
// commands read them.
static cavum_status take_requirements(cavum_requirements **requirements, const cavum_cell *cell,
                                      const char *path, cavum_error *error) {
  cavum_requirements *made = NULL;
  cavum_status status =
      cavum_requirements_read_text(&made, cell->text, strlen(cell->text), path, error);
  if (requirements) {
    *requirements = made;
  } else {
    cavum_requirements_destroy(&made);
  }
  return status;
}

cavum_status cavum_open_cell(cavum_cell *cell, cavum_requirements **requirements, const char *path,
                             cavum_outputs *outputs, cavum_error *error) {
  cavum_cell_set_defaults(cell);
  cavum_process_reserve_memory();
  cavum_interrupt_catch();
  cavum_status status = cavum_cell_read_file(cell, path, error);
  status = cavum_input_explain(status, path, CAVUM_INPUT_CELL, error);
  if (status != CAVUM_OK) {
    cavum_outputs_clear(outputs);
    return status;
  }
  cavum_outputs_read_all(outputs, &cell->files);
  status = cavum_outputs_check(outputs, error);
  if (status == CAVUM_OK) status = take_requirements(requirements, cell, path, error);
  if (status != CAVUM_OK) return status;
  cavum_process_note(cell->note);
  return CAVUM_OK;
}
