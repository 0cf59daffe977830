// SPDX-License-Identifier: GPL-3.0-or-later
// Numbers, columns and texts of a cold-test file.
#include "store/coldtest_write.h"

#include <stdio.h>

#include "base/base.h"

cavum_status cavum_coldtest_write_column(cavum_hdf5_file *file, const char *path, int64_t count,
                                         const double *data, const char *units,
                                         const char *long_name, cavum_error *error) {
  cavum_hdf5_array array = {.path = path,
                            .rank = 1,
                            .extent = {count, 1},
                            .data = data,
                            .units = units,
                            .long_name = long_name};
  return cavum_hdf5_write_array(file, &array, error);
}

cavum_status cavum_coldtest_write_number(cavum_hdf5_file *file, const char *path, double value,
                                         const char *units, const char *long_name,
                                         cavum_error *error) {
  cavum_hdf5_array array = {.path = path, .data = &value, .units = units, .long_name = long_name};
  return cavum_hdf5_write_array(file, &array, error);
}

cavum_status cavum_coldtest_write_estimate(cavum_hdf5_file *file, const char *path,
                                           cavum_estimate estimate, const char *units,
                                           const char *long_name, cavum_error *error) {
  if (isnan(estimate.value)) return CAVUM_OK;
  cavum_hdf5_attribute attribute = {
      .name = "uncertainty", .numbers = &estimate.uncertainty, .count = 1};
  cavum_hdf5_array array = {.path = path,
                            .data = &estimate.value,
                            .units = units,
                            .long_name = long_name,
                            .attributes = &attribute,
                            .num_attributes = isnan(estimate.uncertainty) ? 0 : 1};
  return cavum_hdf5_write_array(file, &array, error);
}

cavum_status cavum_coldtest_write_estimates(cavum_hdf5_file *file, const char *path, int count,
                                            const cavum_estimate *estimates, const char *units,
                                            const char *long_name, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char second[CAVUM_COLDTEST_PATH_SIZE];
  double *work = NULL;
  bool any = false;
  for (int i = 0; i < count; i++) any = any || !isnan(estimates[i].value);
  if (!any) return CAVUM_OK;
  work = cavum_alloc(count, sizeof *work);
  if (!work) return cavum_fail_memory(error);
  for (int i = 0; i < count; i++) work[i] = estimates[i].value;
  CAVUM_TRY(cavum_coldtest_write_column(file, path, count, work, units, long_name, error));
  for (int i = 0; i < count; i++) work[i] = estimates[i].uncertainty;
  snprintf(second, sizeof second, "%s_uncertainty", path);
  CAVUM_TRY(cavum_coldtest_write_column(file, second, count, work, units, long_name, error));
done:
  free(work);
  return status;
}

cavum_status cavum_coldtest_write_text(cavum_hdf5_file *file, const char *path, const char *text,
                                       const char *long_name, cavum_error *error) {
  return cavum_hdf5_write_texts(file, path, 0, &text, long_name, error);
}

cavum_estimate cavum_coldtest_stated(cavum_estimate estimate) {
  if (estimate.value == 0.0) estimate.value = NAN;
  return estimate;
}
