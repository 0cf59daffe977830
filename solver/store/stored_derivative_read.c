// SPDX-License-Identifier: GPL-3.0-or-later
// Derivatives of a result file back into a result.
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "cell/dimension.h"
#include "figures/stored_figure.h"
#include "solve/derivative_reason.h"
#include "store/stored_derivative.h"

// A dataset, and what one of its numbers is in SI.
typedef struct place {
  const cavum_hdf5_file *file;
  const char *path;
  double unit_si;
} place;

// The derivative to one side, an attribute of value and uncertainty.
static cavum_status read_side(cavum_derivative *side, const place *at, const char *word,
                              cavum_error *error) {
  double numbers[2];
  if (!cavum_hdf5_has_attribute(at->file, at->path, word)) return CAVUM_OK;
  cavum_status status =
      cavum_hdf5_read_numbers_attribute(numbers, 2, at->file, at->path, word, error);
  if (status != CAVUM_OK) return status;
  *side = (cavum_derivative){.state = CAVUM_FIGURE_PRESENT,
                             .value = numbers[0] * at->unit_si,
                             .uncertainty = numbers[1] * at->unit_si};
  return CAVUM_OK;
}

// NaN with a reason, and where it has them with the derivatives to both sides.
static cavum_status read_absent(cavum_derivative *d, cavum_derivative *sides, const place *at,
                                cavum_error *error) {
  char reason[96];
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(cavum_hdf5_read_text(reason, sizeof reason, at->file, at->path, "reason", error));
  const char *known = cavum_derivative_reason_find(reason);
  d->reason = known ? known : CAVUM_REASON_NOT_DIFFERENTIATED;
  if (!sides) return CAVUM_OK;
  CAVUM_TRY(read_side(&sides[CAVUM_CHANGE_GROWS], at, "grows", error));
  CAVUM_TRY(read_side(&sides[CAVUM_CHANGE_SHRINKS], at, "shrinks", error));
done:
  return status;
}

// A scalar with its uncertainty, or what is absent, left as it is where the file has neither;
// `sides` may be NULL.
static cavum_status read_derivative(cavum_derivative *d, cavum_derivative *sides, const place *at,
                                    cavum_error *error) {
  cavum_status status = CAVUM_OK;
  double value, uncertainty;
  if (!cavum_hdf5_has(at->file, at->path)) return CAVUM_OK;
  CAVUM_TRY(cavum_hdf5_read_number(&value, at->file, at->path, error));
  if (!isfinite(value)) return read_absent(d, sides, at, error);
  CAVUM_TRY(
      cavum_hdf5_read_numbers_attribute(&uncertainty, 1, at->file, at->path, "uncertainty", error));
  *d = (cavum_derivative){.state = CAVUM_FIGURE_PRESENT,
                          .value = value * at->unit_si,
                          .uncertainty = uncertainty * at->unit_si};
done:
  return status;
}

static cavum_status read_figure(cavum_mode_result *mode, const cavum_hdf5_file *file,
                                const cavum_dimension *by, int dimension, int number, int id,
                                cavum_error *error) {
  char path[256];
  snprintf(path, sizeof path, "/modes/%d/derivatives/%s/%s", number, by->key,
           cavum_figure_describe((cavum_figure_id)id).key);
  double unit_si = cavum_from_unit(1.0, cavum_stored_figure_unit((cavum_figure_id)id));
  const place at = {file, path, unit_si / by->unit_si};
  bool electric = id == CAVUM_FIGURE_EPK_OVER_EACC, magnetic = id == CAVUM_FIGURE_BPK_OVER_EACC;
  cavum_derivative *sides = mode->one_sided + 4 * (int64_t)dimension + (magnetic ? 2 : 0);
  return read_derivative(&mode->derivatives[(int64_t)dimension * CAVUM_FIGURES_ROOM + id],
                         electric || magnetic ? sides : NULL, &at, error);
}

static cavum_status read_mode(cavum_result *result, const cavum_hdf5_file *file, int number,
                              cavum_error *error) {
  cavum_mode_result *mode = &result->modes[number - 1];
  int count = result->num_dimensions;
  char group[48];
  snprintf(group, sizeof group, "/modes/%d/derivatives", number);
  if (!cavum_hdf5_has(file, group)) return CAVUM_OK;
  mode->derivatives = cavum_alloc((int64_t)count * CAVUM_FIGURES_ROOM, sizeof *mode->derivatives);
  mode->one_sided = cavum_alloc(4 * (int64_t)count, sizeof *mode->one_sided);
  if (!mode->derivatives || !mode->one_sided) return cavum_fail_memory(error);
  for (int i = 0; i < count; i++) {
    for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
      if (mode->figures[id].state != CAVUM_FIGURE_PRESENT) continue;
      cavum_status status = read_figure(mode, file, &result->dimensions[i], i, number, id, error);
      if (status != CAVUM_OK) return status;
    }
  }
  return CAVUM_OK;
}

static cavum_status read_coupling(cavum_result *result, const cavum_hdf5_file *file,
                                  cavum_error *error) {
  int count = result->num_dimensions;
  if (!cavum_hdf5_has(file, "/coupling/derivatives")) return CAVUM_OK;
  result->coupling_derivatives = cavum_alloc(count, sizeof *result->coupling_derivatives);
  if (!result->coupling_derivatives) return cavum_fail_memory(error);
  for (int i = 0; i < count; i++) {
    char path[160];
    const cavum_dimension *by = &result->dimensions[i];
    snprintf(path, sizeof path, "/coupling/derivatives/%s", by->key);
    const place at = {file, path, 1.0 / by->unit_si};
    cavum_status status = read_derivative(&result->coupling_derivatives[i], NULL, &at, error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

// A dimension by its key, which names its unit, and its value in that.
static cavum_dimension dimension_of(const char *key, double value) {
  cavum_cell_dimension stored = {.unit = cavum_unit_of_key(key)};
  stored.value = cavum_from_unit(value, stored.unit);
  snprintf(stored.key, sizeof stored.key, "%s", key);
  return cavum_cell_dimension_describe(&stored);
}

static cavum_status read_dimensions(cavum_result *result, const cavum_hdf5_file *file,
                                    cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char **keys = NULL;
  double *values = NULL;
  int num_keys = 0;
  int64_t num_values = 0;
  CAVUM_TRY(cavum_hdf5_read_texts(&keys, &num_keys, file, CAVUM_STORED_DIMENSION_KEYS, error));
  CAVUM_TRY(
      cavum_hdf5_read_doubles(&values, &num_values, file, CAVUM_STORED_DIMENSION_VALUES, error));
  bool fits = num_values == num_keys;
  for (int i = 0; i < num_keys; i++) fits = fits && strlen(keys[i]) < CAVUM_CELL_KEY_SIZE;
  if (!fits) {
    CAVUM_TRY(cavum_fail(error, CAVUM_ERR_INPUT,
                         "result file is damaged: %s and %s do not fit each other",
                         CAVUM_STORED_DIMENSION_KEYS, CAVUM_STORED_DIMENSION_VALUES));
  }
  result->dimensions = cavum_alloc(num_keys, sizeof *result->dimensions);
  if (!result->dimensions) CAVUM_TRY(cavum_fail_memory(error));
  result->num_dimensions = num_keys;
  for (int i = 0; i < num_keys; i++) result->dimensions[i] = dimension_of(keys[i], values[i]);
done:
  cavum_hdf5_free_texts(keys, num_keys);
  free(values);
  return status;
}

cavum_status cavum_stored_derivatives_read(cavum_result *result, const cavum_hdf5_file *file,
                                           cavum_error *error) {
  cavum_status status = CAVUM_OK;
  if (!cavum_hdf5_has(file, CAVUM_STORED_DIMENSION_KEYS)) return CAVUM_OK;
  CAVUM_TRY(read_dimensions(result, file, error));
  for (int i = 1; i <= result->num_modes; i++) CAVUM_TRY(read_mode(result, file, i, error));
  CAVUM_TRY(read_coupling(result, file, error));
done:
  return status;
}
