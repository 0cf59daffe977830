// SPDX-License-Identifier: GPL-3.0-or-later
// Study files: from YAML to a study whose names are bound to places in the base cell.
#include "scan/study_file.h"

#include <math.h>
#include <string.h>

#include "base/base.h"
#include "cavum/cell_text.h"
#include "scan/study_inputs.h"
#include "scan/study_reader.h"
#include "scan/study_wanted.h"
#include "solve/coupling.h"

enum { COUPLING_NO, COUPLING_YES, COUPLING_INNER_CELL };
static const cavum_yaml_word coupling_words[] = {
    {"yes", COUPLING_YES}, {"no", COUPLING_NO}, {"inner-cell", COUPLING_INNER_CELL}, {NULL, 0}};

static const cavum_yaml_field top_fields[] = {
    {.key = "title", .offset = offsetof(cavum_study_top, title), .kind = CAVUM_YAML_FIELD_TEXT},
    {.key = "cell", .offset = offsetof(cavum_study_top, cell), .kind = CAVUM_YAML_FIELD_TEXT},
    {.key = "table", .offset = offsetof(cavum_study_top, table), .kind = CAVUM_YAML_FIELD_TEXT},
    {.key = "vary", .offset = offsetof(cavum_study_top, vary), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "shapes",
     .offset = offsetof(cavum_study_top, shapes),
     .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "sampling",
     .offset = offsetof(cavum_study_top, sampling),
     .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "linked", .offset = offsetof(cavum_study_top, linked), .kind = CAVUM_YAML_FIELD_LIST},
    {.key = "hold", .offset = offsetof(cavum_study_top, hold), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "limits",
     .offset = offsetof(cavum_study_top, limits),
     .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "figures", .offset = offsetof(cavum_study_top, figures), .kind = CAVUM_YAML_FIELD_LIST},
    {.key = "derivatives",
     .offset = offsetof(cavum_study_top, derivatives),
     .kind = CAVUM_YAML_FIELD_LIST},
    {.key = "coupling",
     .offset = offsetof(cavum_study_top, coupling),
     .kind = CAVUM_YAML_FIELD_WORD,
     .words = coupling_words},
    {.key = "mode",
     .offset = offsetof(cavum_study_top, mode),
     .kind = CAVUM_YAML_FIELD_COUNT,
     .low = 1,
     .high = 1000},
    {.key = "modes", .offset = offsetof(cavum_study_top, modes), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "aims", .offset = offsetof(cavum_study_top, aims), .kind = CAVUM_YAML_FIELD_LIST},
    {.key = "batch",
     .offset = offsetof(cavum_study_top, batch),
     .kind = CAVUM_YAML_FIELD_COUNT,
     .low = 1,
     .high = CAVUM_STUDY_LARGEST_BATCH},
};

/** What no shape of the study could have is refused here, not row by row. */
static cavum_status check_coupling(cavum_study_reader *r) {
  if (cavum_coupling_exists(&r->study->cell, r->study->coupling_of_inner_cell)) return CAVUM_OK;
  const cavum_yaml_node *node =
      cavum_yaml_reader_child(r->reader, &r->reader->tree.nodes[0], "coupling");
  return cavum_yaml_reader_fail(
      r->reader, node,
      "coupling: needs a two-ellipse cell whose ends are electric or magnetic planes; 'coupling: "
      "inner-cell' puts planes in the place of tubes");
}

/** Everything that needs the base cell. */
static cavum_status read_body(cavum_study_reader *r) {
  cavum_study *study = r->study;
  cavum_status status = CAVUM_OK;
  study->coupling = r->top.coupling != COUPLING_NO;
  study->coupling_of_inner_cell = r->top.coupling == COUPLING_INNER_CELL;
  if (study->coupling) CAVUM_TRY(check_coupling(r));
  study->batch_size = r->top.batch;
  CAVUM_TRY(cavum_study_read_modes(r));
  CAVUM_TRY(cavum_study_read_inputs(r));
  CAVUM_TRY(cavum_study_read_wanted(r));
done:
  return status;
}

// The base cell of a program, by its text.
static cavum_status take_cell(cavum_study *study, const cavum_cell *cell, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char *text = NULL;
  CAVUM_TRY(cavum_cell_to_text(&text, cell, error));
  CAVUM_TRY(cavum_cell_read_text(&study->cell, text, strlen(text), study->cell_path, error));
done:
  free(text);
  return status;
}

static cavum_status read_base_cell(cavum_study_reader *r, const cavum_cell *cell) {
  cavum_study *study = r->study;
  if (!cell && !r->top.cell) {
    return cavum_yaml_reader_fail(r->reader, &r->reader->tree.nodes[0],
                                  "the file: missing key 'cell'");
  }
  study->title = cavum_copy_text(r->top.title);
  study->cell_path = cell ? cavum_copy_text("cell") : cavum_study_beside(study->path, r->top.cell);
  if (!study->title || !study->cell_path) return cavum_fail_memory(r->reader->error);
  if (cell) return take_cell(study, cell, r->reader->error);
  return cavum_cell_read_file(&study->cell, study->cell_path, r->reader->error);
}

cavum_status cavum_study_read(cavum_study *study, const cavum_cell *cell, cavum_error *error) {
  cavum_yaml_reader reader;
  cavum_place_finder finder = {0};
  cavum_study_reader r = {.reader = &reader, .study = study, .finder = &finder};
  cavum_yaml_table table = CAVUM_YAML_TABLE(top_fields);
  cavum_status status = cavum_yaml_reader_open(&reader, study->text, strlen(study->text),
                                               CAVUM_YAML_LARGEST_TEXT, study->path, error);
  if (status != CAVUM_OK) return status;
  r.top.mode = 1;
  r.top.batch = CAVUM_STUDY_DEFAULT_BATCH;
  study->hold.input = -1;
  study->limits = (cavum_limits){.wall_angle_rad = NAN, .iris_curvature_m = NAN};
  CAVUM_TRY(cavum_yaml_read_fields(&r.top, &reader, &reader.tree.nodes[0], "", table));
  CAVUM_TRY(read_base_cell(&r, cell));
  CAVUM_TRY(cavum_place_finder_open(&finder, &study->cell, study->cell_path, error));
  CAVUM_TRY(read_body(&r));
  study->base = cavum_place_make_base(&finder, study->cell_path);
done:
  cavum_place_finder_clear(&finder);
  cavum_yaml_reader_clear(&reader);
  return status;
}
