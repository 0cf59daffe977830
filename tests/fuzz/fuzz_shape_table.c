// SPDX-License-Identifier: GPL-3.0-or-later
// Fuzz target: any bytes as a table of shapes. What is accepted has names and finite numbers, in
// whatever order its rows are asked for.
#include <math.h>

#include "fuzz_support.h"
#include "scan/shape_table.h"

static void check_row(cavum_shape_table *table, int64_t row) {
  double values[512];
  cavum_error error = {0};
  fuzz_check(table->num_columns > 0 && table->num_columns <= 512);
  fuzz_check(cavum_shape_table_row(values, table, row, &error) == CAVUM_OK);
  for (int i = 0; i < table->num_columns; i++) fuzz_check(isfinite(values[i]));
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  cavum_shape_table table = {.block = -1};
  cavum_error error = {0};
  cavum_status status = cavum_shape_table_open(&table, fuzz_fill_file(data, size), &error);
  if (status != CAVUM_OK) {
    fuzz_check_refusal(status, &error);
    return 0;
  }
  fuzz_check(table.num_rows > 0);
  for (int i = 0; i < table.num_columns; i++) fuzz_check(table.names[i][0] != '\0');
  check_row(&table, table.num_rows - 1);
  check_row(&table, 0);
  check_row(&table, table.num_rows / 2);
  fuzz_check(cavum_shape_table_row(table.values, &table, table.num_rows, &error) ==
             CAVUM_ERR_RANGE);
  cavum_shape_table_clear(&table);
  return 0;
}
