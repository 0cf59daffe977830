// SPDX-License-Identifier: GPL-3.0-or-later
// The file of a best shape: that of its result, with the search that led to it. By itself, so that
// a program which writes results alone needs no reader of goals.
#include <stdlib.h>

#include "base/base.h"
#include "cavum/optimum.h"
#include "cavum/store.h"
#include "hdf5/hdf5_file.h"
#include "store/optimum_file.h"
#include "store/result_private.h"

typedef struct found {
  const cavum_optimum *optimum;
  const cavum_goal *goal;
} found;

static cavum_status write_found(cavum_hdf5_file *file, const void *data, cavum_error *error) {
  const found *f = data;
  return cavum_optimum_write(file, f->optimum, f->goal, error);
}

cavum_status cavum_store_write_optimum(const char *path, const cavum_optimum *optimum,
                                       const cavum_goal *goal, const cavum_result *result,
                                       const cavum_cell *cell, const cavum_solve_options *options,
                                       cavum_error *error) {
  if (!path || !optimum || !goal || !result) return cavum_fail_null(error, __func__);
  found search = {optimum, goal};
  cavum_result_part part = {write_found, &search};
  return cavum_store_write_result_with(path, result, cell, options, &part, error);
}

cavum_status cavum_store_read_optimum(cavum_optimum **optimum, char **title, const char *path,
                                      cavum_error *error) {
  cavum_hdf5_file *file = NULL;
  cavum_optimum *made = NULL;
  char *text = NULL;
  cavum_status status = CAVUM_OK;
  if (!optimum || !path) return cavum_fail_null(error, __func__);
  CAVUM_TRY(cavum_hdf5_open(&file, path, error));
  CAVUM_TRY(cavum_store_check_format(file, path, error));
  if (!cavum_optimum_is_in(file)) {
    CAVUM_TRY(cavum_fail(error, CAVUM_ERR_INPUT,
                         "%s: a result that no search led to: cavum optimise writes those", path));
  }
  CAVUM_TRY(cavum_optimum_read(&made, &text, file, error));
  cavum_hdf5_destroy(&file);
  CAVUM_TRY(cavum_store_read_result(&made->result, NULL, path, error));
  if (made->mode < 0 || made->mode >= made->result->num_modes) {
    CAVUM_TRY(cavum_fail(error, CAVUM_ERR_INPUT, "%s: /optimum/mode is damaged", path));
  }
  *optimum = made;
  made = NULL;
  if (title) *title = text;
  if (title) text = NULL;
done:
  cavum_hdf5_destroy(&file);
  cavum_optimum_destroy(&made);
  free(text);
  return status;
}
