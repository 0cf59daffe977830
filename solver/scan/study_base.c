// SPDX-License-Identifier: GPL-3.0-or-later
// The base cell of a study or of a goal, and its coupling.
#include "scan/study_base.h"

#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "base/files.h"
#include "cavum/cell_text.h"
#include "solve/coupling.h"

enum { COUPLING_NO, COUPLING_YES, COUPLING_INNER_CELL };
// Other writers of YAML make `true` of `yes`.
const cavum_yaml_word cavum_study_coupling_words[] = {
    {"yes", COUPLING_YES},  {"no", COUPLING_NO},    {"inner-cell", COUPLING_INNER_CELL},
    {"true", COUPLING_YES}, {"false", COUPLING_NO}, {NULL, 0}};

// The base cell of a program, by its text.
static cavum_status take_cell(cavum_study *study, const cavum_cell *cell, cavum_error *error) {
  char *text = NULL;
  cavum_status status = cavum_cell_to_text(&text, cell, error);
  if (status != CAVUM_OK) return status;
  status = cavum_cell_read_text(&study->cell, text, strlen(text), study->cell_path, error);
  free(text);
  return status;
}

cavum_status cavum_study_read_base(cavum_study_reader *r, const cavum_cell *cell) {
  cavum_study *study = r->study;
  if (!cell && !r->top.cell) {
    return cavum_yaml_reader_fail(r->reader, &r->reader->tree.nodes[0],
                                  "the file: missing key 'cell'");
  }
  study->title = cavum_copy_text(r->top.title ? r->top.title : "");
  study->cell_path = cell ? cavum_copy_text("cell") : cavum_study_beside(study->path, r->top.cell);
  if (!study->title || !study->cell_path) return cavum_fail_memory(r->reader->error);
  cavum_status status =
      cell ? take_cell(study, cell, r->reader->error)
           : cavum_cell_read_file(&study->cell, study->cell_path, r->reader->error);
  if (status != CAVUM_OK) return status;
  return cavum_files_add_all(&study->files, &study->cell.files, r->reader->error);
}

cavum_status cavum_study_read_coupling(cavum_study_reader *r) {
  cavum_study *study = r->study;
  study->coupling = r->top.coupling != COUPLING_NO;
  study->coupling_of_inner_cell = r->top.coupling == COUPLING_INNER_CELL;
  if (!study->coupling) return CAVUM_OK;
  bool exists = false;
  cavum_status status =
      cavum_coupling_exists(&exists, &study->cell, study->coupling_of_inner_cell, r->reader->error);
  if (status != CAVUM_OK || exists) return status;
  const cavum_yaml_node *root = &r->reader->tree.nodes[0];
  const cavum_yaml_node *node = cavum_yaml_reader_child(r->reader, root, "coupling");
  return cavum_yaml_reader_fail(
      r->reader, node ? node : root,
      "coupling: needs a two-ellipse cell whose ends are electric or magnetic planes; 'coupling: "
      "inner-cell' puts planes in the place of tubes");
}
