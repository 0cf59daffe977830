// SPDX-License-Identifier: GPL-3.0-or-later
// Reads the figures of one mode back from a result file.
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "cavum/store.h"
#include "figures/stored_figure.h"
#include "format/quantity.h"
#include "hdf5/hdf5_file.h"
#include "store/result_private.h"

cavum_status cavum_store_check_format(const cavum_hdf5_file *file, const char *path,
                                      cavum_error *error) {
  char format[64];
  cavum_status status = cavum_hdf5_read_text(format, sizeof format, file, "/", "format", NULL);
  if (status == CAVUM_OK && strcmp(format, CAVUM_STORE_FORMAT) == 0) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_INPUT, "%s: not a result file of cavum, expected format '%s'",
                    path, CAVUM_STORE_FORMAT);
}

cavum_status cavum_store_read_figure(cavum_figure *figure, const cavum_hdf5_file *file,
                                     const char *path, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  double position[2];
  char basis[CAVUM_BASIS_SIZE];
  if (!cavum_hdf5_has(file, path)) return CAVUM_OK;
  if (cavum_hdf5_has_attribute(file, path, "reason")) {
    figure->state = CAVUM_FIGURE_UNBOUNDED;
  } else {
    figure->state = CAVUM_FIGURE_PRESENT;
    CAVUM_TRY(cavum_hdf5_read_number(&figure->value, file, path, error));
    CAVUM_TRY(cavum_hdf5_read_numbers_attribute(&figure->uncertainty, 1, file, path, "uncertainty",
                                                error));
  }
  if (cavum_hdf5_has_attribute(file, path, "basis")) {
    CAVUM_TRY(cavum_hdf5_read_text(basis, sizeof basis, file, path, "basis", error));
    figure->basis = cavum_basis_of_word(basis);
  }
  if (cavum_hdf5_has_attribute(file, path, "position_z_r_m")) {
    CAVUM_TRY(cavum_hdf5_read_numbers_attribute(position, 2, file, path, "position_z_r_m", error));
    figure->has_position = true;
    figure->at = (cavum_point){position[0], position[1]};
  }
done:
  return status;
}

static cavum_status read_accelerating_length(cavum_stored_mode *mode, const cavum_hdf5_file *file,
                                             cavum_error *error) {
  const char *path = "/input/accelerating_length";
  cavum_status status = CAVUM_OK;
  if (!cavum_hdf5_has(file, path)) return CAVUM_OK;
  CAVUM_TRY(cavum_hdf5_read_number(&mode->accelerating_length_m, file, path, error));
  CAVUM_TRY(cavum_hdf5_read_text(mode->accelerating_length_from,
                                 sizeof mode->accelerating_length_from, file, path, "from", error));
done:
  return status;
}

static cavum_status read_mode(cavum_stored_mode *mode, const cavum_hdf5_file *file,
                              const char *group, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char path[128];
  CAVUM_TRY(
      cavum_hdf5_read_text(mode->title, sizeof mode->title, file, "/input/title", NULL, error));
  CAVUM_TRY(cavum_hdf5_read_text(mode->cell_sha256, sizeof mode->cell_sha256, file,
                                 "/input/cell_sha256", NULL, error));
  CAVUM_TRY(cavum_hdf5_read_number(&mode->beta, file, "/input/beta", error));
  CAVUM_TRY(read_accelerating_length(mode, file, error));
  CAVUM_TRY(cavum_hdf5_read_text(mode->label, sizeof mode->label, file, group, "label", error));
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    const char *key = cavum_figure_describe((cavum_figure_id)id).key;
    snprintf(path, sizeof path, "%s/figures/%s", group, key);
    CAVUM_TRY(cavum_store_read_figure(&mode->figures[id], file, path, error));
    mode->figures[id] = cavum_stored_figure_read(&mode->figures[id], (cavum_figure_id)id);
  }
done:
  return status;
}

cavum_status cavum_store_read_mode(cavum_stored_mode *mode, const char *path, int index,
                                   cavum_error *error) {
  if (!mode || !path) return cavum_fail_null(error, __func__);
  cavum_hdf5_file *file = NULL;
  cavum_status status = CAVUM_OK;
  cavum_stored_mode read = {0};
  char group[64];
  // The groups of a file are for people, who count from 1.
  snprintf(group, sizeof group, "/modes/%lld", (long long)index + 1);
  CAVUM_TRY(cavum_hdf5_open(&file, path, error));
  CAVUM_TRY(cavum_store_check_format(file, path, error));
  if (index < 0 || !cavum_hdf5_has(file, group)) {
    status = cavum_fail(error, CAVUM_ERR_INPUT, "%s: has no mode %lld", path, (long long)index + 1);
    goto done;
  }
  CAVUM_TRY(read_mode(&read, file, group, error));
  *mode = read;
done:
  cavum_hdf5_destroy(&file);
  return status;
}
