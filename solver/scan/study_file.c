// SPDX-License-Identifier: GPL-3.0-or-later
// Study files: from YAML to a study whose names are bound to places in the base cell.
#include "scan/study_file.h"

#include <math.h>
#include <string.h>

#include "base/base.h"
#include "scan/study_base.h"
#include "scan/study_inputs.h"
#include "scan/study_reader.h"
#include "scan/study_wanted.h"

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
     .words = cavum_study_coupling_words},
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

// What is known of each batch while records are put together is kept in memory.
static cavum_status check_batches(cavum_study_reader *r) {
  int64_t most = CAVUM_STUDY_MOST_BATCHES, size = r->study->batch_size;
  int64_t batches = (r->study->num_shapes + size - 1) / size;
  if (batches <= most) return CAVUM_OK;
  return cavum_yaml_reader_fail(r->reader, &r->reader->tree.nodes[0],
                                "%lld shapes are %lld batches of %d; a study has at most %lld: "
                                "raise batch to %lld",
                                (long long)r->study->num_shapes, (long long)batches,
                                r->study->batch_size, (long long)most,
                                (long long)((r->study->num_shapes + most - 1) / most));
}

/** Everything that needs the base cell. */
static cavum_status read_body(cavum_study_reader *r) {
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(cavum_study_read_coupling(r));
  r->study->batch_size = r->top.batch;
  CAVUM_TRY(cavum_study_read_modes(r));
  CAVUM_TRY(cavum_study_read_inputs(r));
  CAVUM_TRY(check_batches(r));
  CAVUM_TRY(cavum_study_read_wanted(r));
done:
  return status;
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
  CAVUM_TRY(cavum_study_read_base(&r, cell));
  CAVUM_TRY(cavum_place_finder_open(&finder, &study->cell, study->cell_path, error));
  CAVUM_TRY(read_body(&r));
  study->base = cavum_place_make_base(&finder, study->cell_path);
done:
  cavum_place_finder_clear(&finder);
  cavum_yaml_reader_clear(&reader);
  return status;
}
