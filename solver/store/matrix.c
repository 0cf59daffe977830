// SPDX-License-Identifier: GPL-3.0-or-later
// Numbers of a known shape, one dataset each.
#include "store/matrix.h"

#include <string.h>

#include "base/base.h"

cavum_status cavum_matrix_write(cavum_hdf5_file *file, cavum_matrix_name name, int64_t rows,
                                int64_t columns, const double *data, cavum_error *error) {
  const cavum_hdf5_array array = {.path = name.path,
                                  .rank = columns > 0 ? 2 : 1,
                                  .extent = {rows, columns},
                                  .data = data,
                                  .units = name.units,
                                  .long_name = name.long_name};
  return cavum_hdf5_write_array(file, &array, error);
}

cavum_status cavum_matrix_write_scalar(cavum_hdf5_file *file, cavum_matrix_name name, double value,
                                       cavum_error *error) {
  const cavum_hdf5_array array = {.path = name.path,
                                  .rank = 0,
                                  .data = &value,
                                  .units = name.units,
                                  .long_name = name.long_name};
  return cavum_hdf5_write_array(file, &array, error);
}

cavum_status cavum_matrix_fail_damaged(const char *path, cavum_error *error) {
  return cavum_fail(error, CAVUM_ERR_INPUT, "%s is damaged: it is not what the others say", path);
}

cavum_status cavum_matrix_read(double *values, int64_t count, const cavum_hdf5_file *file,
                               const char *path, cavum_error *error) {
  double *read = NULL;
  int64_t found = 0;
  cavum_status status = cavum_hdf5_read_doubles(&read, &found, file, path, error);
  if (status != CAVUM_OK) return status;
  if (found != count) status = cavum_matrix_fail_damaged(path, error);
  if (status == CAVUM_OK && count > 0) memcpy(values, read, (size_t)count * sizeof *values);
  free(read);
  return status;
}
