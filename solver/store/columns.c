// SPDX-License-Identifier: GPL-3.0-or-later
// Equally long arrays go into a group one by one.
#include "store/columns.h"

#include <stdio.h>

#include "base/base.h"

cavum_status cavum_store_write_columns(cavum_hdf5_file *file, const char *group,
                                       cavum_index num_rows, int num_columns,
                                       const cavum_store_column *columns, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char path[256];
  for (int i = 0; i < num_columns; i++) {
    if (!columns[i].data) continue;
    snprintf(path, sizeof path, "%s/%s", group, columns[i].name);
    cavum_hdf5_array array = {.path = path,
                              .type = columns[i].type,
                              .rank = 1,
                              .extent = {num_rows, 1},
                              .data = columns[i].data,
                              .units = columns[i].units,
                              .long_name = columns[i].long_name};
    CAVUM_TRY(cavum_hdf5_write_array(file, &array, error));
  }
done:
  return status;
}
