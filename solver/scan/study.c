// SPDX-License-Identifier: GPL-3.0-or-later
// A study as an object: opening, sampling, and the cell of a shape.
#include "scan/study.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/files.h"
#include "base/open_file.h"
#include "cell/cell.h"
#include "scan/study_conditions.h"
#include "scan/study_digest.h"
#include "scan/study_file.h"

static cavum_status read_text(char **text, const char *path, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char *read = cavum_alloc(CAVUM_YAML_LARGEST_TEXT + 2, 1);
  FILE *file = fopen(path, "rb");
  if (!read) CAVUM_TRY(cavum_fail_memory(error));
  if (!file) {
    CAVUM_TRY(cavum_fail_to_open(error, path));
  }
  size_t length = fread(read, 1, CAVUM_YAML_LARGEST_TEXT + 1, file);
  if (ferror(file)) {
    CAVUM_TRY(cavum_fail_to_read(error, path));
  }
  if (strlen(read) != length) {
    CAVUM_TRY(cavum_fail(error, CAVUM_ERR_INPUT, "%s: is not text: it holds a zero byte", path));
  }
  *text = read;
  read = NULL;
done:
  free(read);
  if (file) fclose(file);
  return status;
}

// Opens a study; its text becomes its own.
static cavum_status open_owned(cavum_study **study, char *text, const char *path, bool in_memory,
                               const cavum_cell *cell, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_study *opened = cavum_alloc(1, sizeof *opened);
  if (!opened) {
    free(text);
    return cavum_fail_memory(error);
  }
  cavum_cell_set_defaults(&opened->cell);
  opened->table.block = -1;
  opened->text = text;
  opened->path = cavum_copy_text(path);
  if (!opened->path) CAVUM_TRY(cavum_fail_memory(error));
  opened->in_memory = in_memory;
  opened->cell_in_memory = cell != NULL;
  if (!in_memory) CAVUM_TRY(cavum_files_add(&opened->files, path, error));
  CAVUM_TRY(cavum_study_read(opened, cell, error));
  CAVUM_TRY(cavum_study_take_digests(opened, error));
  CAVUM_TRY(cavum_study_lay_out(opened, error));
  *study = opened;
  opened = NULL;
done:
  cavum_study_close(&opened);
  return status;
}

cavum_status cavum_study_open(cavum_study **study, const char *path, cavum_error *error) {
  char *text = NULL;
  if (!study || !path) return cavum_fail_null(error, __func__);
  cavum_status status = read_text(&text, path, error);
  return status == CAVUM_OK ? open_owned(study, text, path, false, NULL, error) : status;
}

cavum_status cavum_study_open_text(cavum_study **study, const char *text, size_t length,
                                   const char *name, const cavum_cell *cell, cavum_error *error) {
  if (!study || !text) return cavum_fail_null(error, __func__);
  if (!name) name = "study";
  if (length > CAVUM_YAML_LARGEST_TEXT + 1 || memchr(text, '\0', length)) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "%s: is not text: it is too long or holds a zero byte", name);
  }
  char *copy = cavum_alloc((int64_t)length + 1, 1);
  if (!copy) return cavum_fail_memory(error);
  memcpy(copy, text, length);
  return open_owned(study, copy, name, true, cell, error);
}

void cavum_study_close(cavum_study **study) {
  if (!study || !*study) return;
  cavum_study *old = *study;
  for (int i = 0; old->inputs && i < CAVUM_STUDY_MOST_INPUTS; i++) {
    cavum_expression_destroy(&old->inputs[i].expression);
  }
  free(old->inputs);
  cavum_files_clear(&old->files);
  cavum_study_clear_conditions(old);
  cavum_requirements_destroy(&old->requirements);
  free(old->layout.columns);
  free(old->layout.units);
  cavum_sampling_clear(&old->sampling);
  cavum_shape_table_clear(&old->table);
  cavum_cell_clear(&old->cell);
  free(old->cell_path);
  free(old->title);
  free(old->aims);
  free(old->text);
  free(old->path);
  free(old);
  *study = NULL;
}

const char *cavum_study_file_path(const cavum_study *study, cavum_study_file_id id) {
  if (!study) return NULL;
  const char *const paths[CAVUM_NUM_STUDY_FILES] = {
      [CAVUM_STUDY_FILE] = study->in_memory ? NULL : study->path,
      [CAVUM_STUDY_CELL_FILE] = study->cell_in_memory ? NULL : study->cell_path,
      [CAVUM_STUDY_TABLE_FILE] = study->table.path,
      [CAVUM_STUDY_MESH_FILE] = study->cell.mesh.path};
  return (unsigned)id < CAVUM_NUM_STUDY_FILES ? paths[id] : NULL;
}

const cavum_files *cavum_study_files(const cavum_study *study) {
  return study ? &study->files : NULL;
}

const char *cavum_study_aims(const cavum_study *study) {
  return study && study->aims ? study->aims : "";
}

const char *cavum_study_title(const cavum_study *study) { return study ? study->title : ""; }

const char *cavum_study_text(const cavum_study *study) { return study ? study->text : ""; }

const char *cavum_study_cell_text(const cavum_study *study) {
  return study ? study->cell.text : "";
}

const char *cavum_study_note(const cavum_study *study) { return study ? study->cell.note : ""; }

int64_t cavum_study_num_shapes(const cavum_study *study) { return study ? study->num_shapes : 0; }

int64_t cavum_study_num_batches(const cavum_study *study) {
  if (!study) return 0;
  return (study->num_shapes + study->batch_size - 1) / study->batch_size;
}

int cavum_study_batch_size(const cavum_study *study) { return study ? study->batch_size : 0; }

int cavum_study_batch_rows(const cavum_study *study, int64_t batch) {
  int64_t left = study->num_shapes - batch * study->batch_size;
  return left < study->batch_size ? (int)left : study->batch_size;
}

const char *cavum_study_fingerprint(const cavum_study *study) {
  return study ? study->fingerprint : "";
}

const char *cavum_study_settings(const cavum_study *study) { return study ? study->settings : ""; }

int cavum_study_num_inputs(const cavum_study *study) { return study ? study->num_inputs : 0; }

const char *cavum_study_input_name(const cavum_study *study, int input) {
  if (!study || input < 0 || input >= study->num_inputs) return "";
  return study->inputs[input].place.name;
}

void cavum_study_link(double *values, const cavum_study *study) {
  for (int i = 0; i < study->num_inputs; i++) {
    const cavum_expression *expression = study->inputs[i].expression;
    if (expression) values[i] = cavum_expression_evaluate(expression, values);
  }
}

cavum_status cavum_study_sample(double *values, cavum_study *study, int64_t shape,
                                cavum_error *error) {
  if (!values || !study) return cavum_fail_null(error, __func__);
  if (shape < 0 || shape >= study->num_shapes) {
    return cavum_fail(error, CAVUM_ERR_RANGE, "shape %lld: expected 0 to %lld", (long long)shape,
                      (long long)study->num_shapes - 1);
  }
  if (study->sampling.kind == CAVUM_SAMPLING_TABLE) {
    cavum_status status = cavum_shape_table_row(values, &study->table, shape, error);
    if (status != CAVUM_OK) return status;
  } else {
    cavum_sampling_point(values, &study->sampling, shape);
  }
  if (study->hold.input >= 0) {
    values[study->hold.input] = study->inputs[study->hold.input].place.base;
  }
  cavum_study_link(values, study);
  return CAVUM_OK;
}

static const cavum_place *place_of(const void *data, int index) {
  return &((const cavum_study *)data)->inputs[index].place;
}

cavum_status cavum_study_apply(cavum_cell *cell, bool *owned, const cavum_study *study,
                               const double *values, cavum_error *error) {
  return cavum_place_apply(cell, owned, &study->base, study->num_inputs, place_of, study, values,
                           error);
}

cavum_status cavum_study_make_cell_sized(cavum_cell *cell, size_t struct_size, cavum_study *study,
                                         const double *values, cavum_error *error) {
  if (!cell || !study || !values) return cavum_fail_null(error, __func__);
  cavum_cell made;
  bool owned = false;
  cavum_status status = cavum_study_apply(&made, &owned, study, values, error);
  if (status != CAVUM_OK) return status;
  if (!owned) {
    // Borrowed members become copies by reading the base cell again.
    cavum_cell copy;
    status = cavum_cell_read_text(&copy, study->cell.text, strlen(study->cell.text),
                                  study->cell_path, error);
    if (status != CAVUM_OK) return status;
    char *title = copy.title, *text = copy.text;
    cavum_contour path = copy.path;
    cavum_mesh_source mesh = copy.mesh;
    char *mesh_data = copy.mesh_data;
    cavum_files files = copy.files;
    copy = made;
    copy.title = title;
    copy.text = text;
    copy.path = path;
    copy.mesh = mesh;
    copy.mesh_data = mesh_data;
    copy.files = files;
    made = copy;
  }
  return cavum_cell_give(cell, struct_size, &made, error);
}
