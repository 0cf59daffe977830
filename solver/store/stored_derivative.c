// SPDX-License-Identifier: GPL-3.0-or-later
// Derivatives in the units of files, and in the result file.
#include "store/stored_derivative.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "figures/stored_figure.h"
#include "store/columns.h"

static cavum_derivative in_units(cavum_derivative stored, const cavum_result *result, int dimension,
                                 cavum_figure_id id) {
  cavum_unit unit = cavum_stored_figure_unit(id);
  double per = result->dimensions[dimension].unit_si;
  stored.value = cavum_in_unit(stored.value * per, unit);
  stored.uncertainty = cavum_in_unit(stored.uncertainty * per, unit);
  return stored;
}

cavum_derivative cavum_stored_derivative_make(const cavum_result *result, int mode, int dimension,
                                              cavum_figure_id id) {
  return in_units(cavum_result_derivative(result, mode, dimension, id), result, dimension, id);
}

cavum_derivative cavum_stored_one_sided_make(const cavum_result *result, int mode, int dimension,
                                             cavum_figure_id id, cavum_change change) {
  return in_units(cavum_result_one_sided_derivative(result, mode, dimension, id, change), result,
                  dimension, id);
}

void cavum_stored_derivative_unit(char unit[CAVUM_STORED_UNIT_SIZE], cavum_figure_id id,
                                  const cavum_dimension *dimension) {
  const char *figure = cavum_stored_figure_unit_name(id);
  bool pure = strcmp(figure, "1") == 0 || figure[0] == '\0',
       per = strcmp(dimension->unit, "1") != 0;
  snprintf(unit, CAVUM_STORED_UNIT_SIZE, "%.24s%s%.8s%s",
           pure && per ? ""
           : pure      ? "1"
                       : figure,
           !pure && per ? " " : "", per ? dimension->unit : "", per ? "-1" : "");
}

// One derivative at a path, in the unit of files; `sides` may be NULL.
static cavum_status write_at(cavum_hdf5_file *file, const char *path, const cavum_derivative *d,
                             const cavum_derivative *sides, const char *unit, const char *name,
                             cavum_error *error) {
  static const char *const words[2] = {"grows", "shrinks"};
  bool present = d->state == CAVUM_FIGURE_PRESENT;
  double value = present ? d->value : NAN;
  if (!present && !d->reason) return CAVUM_OK;
  double numbers[2][2];
  cavum_hdf5_attribute attributes[3] = {{.name = "reason", .text = d->reason}};
  int count = 1;
  if (present) {
    attributes[0] =
        (cavum_hdf5_attribute){.name = "uncertainty", .numbers = &d->uncertainty, .count = 1};
  }
  for (int k = 0; !present && sides && k < 2; k++) {
    if (sides[k].state != CAVUM_FIGURE_PRESENT) continue;
    numbers[k][0] = sides[k].value;
    numbers[k][1] = sides[k].uncertainty;
    attributes[count++] =
        (cavum_hdf5_attribute){.name = words[k], .numbers = numbers[k], .count = 2};
  }
  const cavum_hdf5_array array = {.path = path,
                                  .data = &value,
                                  .units = unit,
                                  .long_name = name,
                                  .attributes = attributes,
                                  .num_attributes = count};
  return cavum_hdf5_write_array(file, &array, error);
}

static cavum_status write_one(cavum_hdf5_file *file, const cavum_result *result, int mode,
                              int dimension, cavum_figure_id id, cavum_error *error) {
  const cavum_dimension *by = &result->dimensions[dimension];
  cavum_figure_info info = cavum_figure_describe(id);
  cavum_derivative d = cavum_stored_derivative_make(result, mode, dimension, id);
  char path[256], unit[CAVUM_STORED_UNIT_SIZE], name[256];
  snprintf(path, sizeof path, "/modes/%d/derivatives/%s/%s", mode + 1, by->key, info.key);
  snprintf(name, sizeof name, "derivative of %s by %s, other dimensions fixed", info.long_name,
           by->key);
  cavum_stored_derivative_unit(unit, id, by);
  const cavum_derivative sides[2] = {
      cavum_stored_one_sided_make(result, mode, dimension, id, CAVUM_CHANGE_GROWS),
      cavum_stored_one_sided_make(result, mode, dimension, id, CAVUM_CHANGE_SHRINKS)};
  return write_at(file, path, &d, sides, unit, name, error);
}

cavum_derivative cavum_stored_coupling_derivative_make(const cavum_result *result, int dimension) {
  cavum_derivative stored = cavum_result_coupling_derivative(result, dimension);
  double per = result->dimensions[dimension].unit_si;
  stored.value *= per;
  stored.uncertainty *= per;
  return stored;
}

cavum_status cavum_stored_coupling_derivatives_write(cavum_hdf5_file *file,
                                                     const cavum_result *result,
                                                     cavum_error *error) {
  if (!result->coupling_derivatives) return CAVUM_OK;
  for (int i = 0; i < result->num_dimensions; i++) {
    const cavum_dimension *by = &result->dimensions[i];
    cavum_derivative d = cavum_stored_coupling_derivative_make(result, i);
    char path[160], unit[CAVUM_STORED_UNIT_SIZE], name[200];
    snprintf(path, sizeof path, "/coupling/derivatives/%s", by->key);
    snprintf(name, sizeof name, "derivative of k_cc by %s, other dimensions fixed", by->key);
    // Both are pure numbers.
    cavum_stored_derivative_unit(unit, CAVUM_FIGURE_EPK_OVER_EACC, by);
    cavum_status status = write_at(file, path, &d, NULL, unit, name, error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

// Why there are none by a dimension along the wall.
static const char *reason_along_wall(const cavum_result *result, int mode, int dimension) {
  cavum_derivative f = cavum_result_derivative(result, mode, dimension, CAVUM_FIGURE_FREQUENCY);
  if (f.state != CAVUM_FIGURE_PRESENT && f.reason) return f.reason;
  return result->half_model ? "half of the cell was solved, which does not tell its sides apart"
                            : "another mode is too close";
}

// E or H at the points of the wall by a dimension, with the uncertainty.
static cavum_status write_wall(cavum_hdf5_file *file, const cavum_result *result, int mode,
                               int dimension, bool electric, cavum_error *error) {
  const cavum_mode_result *of = &result->modes[mode];
  const cavum_dimension *by = &result->dimensions[dimension];
  cavum_index count = of->wall.num_points;
  const double *from = (electric ? of->wall_e_by : of->wall_h_by) + (int64_t)dimension * count;
  const double *above = from + (int64_t)result->num_dimensions * count;
  const char *name = electric ? "E" : "H", *unit = electric ? "V m-1" : "A m-1";
  char path[192], units[CAVUM_STORED_UNIT_SIZE], long_name[320];
  double *values = cavum_alloc(2 * (int64_t)count, sizeof *values);
  if (!values) return cavum_fail_memory(error);
  bool none = true;
  for (cavum_index i = 0; i < count; i++) {
    none = none && isnan(from[i]);
    values[i] = from[i] * by->unit_si;
    values[count + i] = above[i] * by->unit_si;
  }
  bool pure = strcmp(by->unit, "1") == 0;
  snprintf(units, sizeof units, "%s%s%.8s%s", unit, pure ? "" : " ", pure ? "" : by->unit,
           pure ? "" : "-1");
  snprintf(path, sizeof path, "/modes/%d/wall_derivatives/%s", mode + 1, by->key);
  snprintf(long_name, sizeof long_name,
           "derivative of %s at the points of /modes/%d/wall by %s, other dimensions fixed%s%s",
           name, mode + 1, by->key, none ? "; there is none: " : "",
           none ? reason_along_wall(result, mode, dimension) : "");
  const cavum_store_column columns[] = {
      {name, CAVUM_HDF5_DOUBLE, values, units, long_name},
      {electric ? "E_uncertainty" : "H_uncertainty", CAVUM_HDF5_DOUBLE, values + count, units,
       electric ? "numerical uncertainty of E" : "numerical uncertainty of H"}};
  cavum_status status = cavum_store_write_columns(file, path, count, 2, columns, error);
  free(values);
  return status;
}

static cavum_status write_walls(cavum_hdf5_file *file, const cavum_result *result, int mode,
                                cavum_error *error) {
  const cavum_mode_result *of = &result->modes[mode];
  if (!of->wall_e_by || !of->wall_h_by) return CAVUM_OK;
  for (int i = 0; i < result->num_dimensions; i++) {
    for (int electric = 0; electric < 2; electric++) {
      cavum_status status = write_wall(file, result, mode, i, electric == 1, error);
      if (status != CAVUM_OK) return status;
    }
  }
  return CAVUM_OK;
}

cavum_status cavum_stored_derivatives_write(cavum_hdf5_file *file, const cavum_result *result,
                                            int mode, cavum_error *error) {
  if (!result->modes[mode].derivatives) return CAVUM_OK;
  for (int i = 0; i < result->num_dimensions; i++) {
    for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
      cavum_status status = write_one(file, result, mode, i, (cavum_figure_id)id, error);
      if (status != CAVUM_OK) return status;
    }
  }
  return write_walls(file, result, mode, error);
}

cavum_status cavum_stored_dimensions_write(cavum_hdf5_file *file, const cavum_result *result,
                                           cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int count = result->num_dimensions;
  if (count == 0) return CAVUM_OK;
  const char **keys = cavum_alloc(count, sizeof *keys);
  double *values = cavum_alloc(count, sizeof *values);
  if (!keys || !values) CAVUM_TRY(cavum_fail_memory(error));
  for (int i = 0; i < count; i++) {
    const cavum_dimension *d = &result->dimensions[i];
    keys[i] = d->key;
    values[i] = cavum_in_unit(d->value_si, cavum_unit_of_key(d->key));
  }
  CAVUM_TRY(cavum_hdf5_write_texts(file, CAVUM_STORED_DIMENSION_KEYS, count, keys,
                                   "dimensions by which figures have derivatives", error));
  const cavum_store_column column = {"dimension_value", CAVUM_HDF5_DOUBLE, values,
                                     "as the key says",
                                     "value of each, in the unit that its key names"};
  CAVUM_TRY(cavum_store_write_columns(file, "/input", count, 1, &column, error));
done:
  free(keys);
  free(values);
  return status;
}
