// SPDX-License-Identifier: GPL-3.0-or-later
// A goal as an object.
#include "optimum/goal.h"

#include <string.h>

#include "base/base.h"
#include "base/files.h"
#include "cavum/tolerance.h"
#include "cell/cell.h"
#include "optimum/goal_file.h"
#include "yaml/reader.h"

// Opens a goal; its text becomes its own.
static cavum_status open_owned(cavum_goal **goal, char *text, const char *path, bool in_memory,
                               const cavum_cell *cell, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_goal *opened = cavum_alloc(1, sizeof *opened);
  if (opened) opened->study = cavum_alloc(1, sizeof *opened->study);
  if (!opened || !opened->study) {
    free(text);
    free(opened);
    return cavum_fail_memory(error);
  }
  cavum_study *study = opened->study;
  opened->num_threads = 1;
  opened->num_cells = 1;
  opened->cells[0].study = study;
  cavum_cell_set_defaults(&study->cell);
  study->table.block = -1;
  study->text = text;
  study->path = cavum_copy_text(path);
  study->in_memory = in_memory;
  study->cell_in_memory = cell != NULL;
  if (!study->path) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(cavum_goal_read(opened, cell, error));
  *goal = opened;
  opened = NULL;
done:
  cavum_goal_close(&opened);
  return status;
}

cavum_status cavum_goal_open_text(cavum_goal **goal, const char *text, size_t length,
                                  const char *name, const cavum_cell *cell, cavum_error *error) {
  if (!goal || !text) return cavum_fail_null(error, __func__);
  if (!name) name = "goal";
  if (length > CAVUM_YAML_LARGEST_TEXT || memchr(text, '\0', length)) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "%s: is not text: it is too long or holds a zero byte", name);
  }
  char *copy = cavum_alloc((int64_t)length + 1, 1);
  if (!copy) return cavum_fail_memory(error);
  memcpy(copy, text, length);
  return open_owned(goal, copy, name, true, cell, error);
}

cavum_status cavum_goal_open(cavum_goal **goal, const char *path, cavum_error *error) {
  char *text = NULL;
  size_t length = 0;
  if (!goal || !path) return cavum_fail_null(error, __func__);
  cavum_status status = cavum_yaml_load_text(&text, &length, path, CAVUM_YAML_LARGEST_TEXT, error);
  if (status != CAVUM_OK) return status;
  cavum_goal *opened = NULL;
  CAVUM_TRY(cavum_goal_open_text(&opened, text, length, path, NULL, error));
  opened->study->in_memory = false;
  CAVUM_TRY(cavum_files_add(&opened->study->files, path, error));
  *goal = opened;
  opened = NULL;
done:
  cavum_goal_close(&opened);
  free(text);
  return status;
}

void cavum_goal_close(cavum_goal **goal) {
  if (!goal || !*goal) return;
  for (int c = 1; c < (*goal)->num_cells; c++) cavum_study_close(&(*goal)->cells[c].study);
  cavum_study_close(&(*goal)->study);
  cavum_tolerances_destroy(&(*goal)->tolerances);
  free((*goal)->mean_draws);
  free(*goal);
  *goal = NULL;
}

const char *cavum_goal_title(const cavum_goal *goal) {
  return goal ? cavum_study_title(goal->study) : "";
}

const char *cavum_goal_text(const cavum_goal *goal) {
  return goal ? cavum_study_text(goal->study) : "";
}

const char *cavum_goal_cell_path(const cavum_goal *goal) {
  return goal ? cavum_study_file_path(goal->study, CAVUM_STUDY_CELL_FILE) : NULL;
}

const char *cavum_goal_mesh_path(const cavum_goal *goal) {
  return goal ? cavum_study_file_path(goal->study, CAVUM_STUDY_MESH_FILE) : NULL;
}

const cavum_files *cavum_goal_files(const cavum_goal *goal) {
  return goal ? cavum_study_files(goal->study) : NULL;
}

bool cavum_goal_has_free_wall(const cavum_goal *goal) {
  return goal && goal->free_wall.num_points > 0;
}

int cavum_goal_num_cells(const cavum_goal *goal) { return goal ? goal->num_cells : 0; }

static bool has_cell(const cavum_goal *goal, int cell) {
  return goal && cell >= 0 && cell < goal->num_cells;
}

const char *cavum_goal_cell_name(const cavum_goal *goal, int cell) {
  return has_cell(goal, cell) ? goal->cells[cell].name : "";
}

const char *cavum_goal_other_path(const cavum_goal *goal, int cell) {
  if (!has_cell(goal, cell)) return NULL;
  return cavum_study_file_path(goal->cells[cell].study, CAVUM_STUDY_CELL_FILE);
}

const char *cavum_goal_note(const cavum_goal *goal, int cell) {
  return has_cell(goal, cell) ? cavum_study_note(goal->cells[cell].study) : "";
}

cavum_status cavum_goal_set_threads(cavum_goal *goal, int threads, cavum_error *error) {
  if (!goal) return cavum_fail_null(error, __func__);
  if (threads < 1) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "%d threads: expected at least 1", threads);
  }
  goal->num_threads = threads;
  return CAVUM_OK;
}

cavum_status cavum_goal_set_watcher(cavum_goal *goal, cavum_optimum_watcher *watcher, void *data,
                                    cavum_error *error) {
  if (!goal) return cavum_fail_null(error, __func__);
  goal->watcher = watcher;
  goal->watcher_data = data;
  return CAVUM_OK;
}
