// SPDX-License-Identifier: GPL-3.0-or-later
// Fuzz target: any text as a study of a cell and a table that exist. What is accepted has columns,
// and its first shapes can be asked for.
#include "cavum/cavum.h"
#include "fuzz_support.h"

enum { SHAPES_TO_ASK = 3, MOST_INPUTS = 256 };

static const char *folder;

int LLVMFuzzerInitialize(int *count, char ***arguments) {
  (void)count;
  (void)arguments;
  static const char cell[] =
      "contour:\n  kind: two-ellipse\n  half_length_mm: 57.7\n  iris_radius_mm: 35.0\n"
      "  equator_radius_mm: 103.3\n  equator_ellipse: {axial_mm: 42.0, radial_mm: 42.0}\n"
      "  iris_ellipse: {axial_mm: 12.0, radial_mm: 19.0}\n"
      "ends:\n  left: {kind: magnetic}\n  right: {kind: tube, length_mm: 90.0, close: electric}\n";
  static const char path_cell[] =
      "contour:\n  kind: path\n  start: {z_mm: 0.0, r_mm: 0.0}\n  path:\n"
      "    - {line_to: {z_mm: 80.0, r_mm: 0.0}, boundary: axis}\n"
      "    - {line_to: {z_mm: 80.0, r_mm: 90.0}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0.0, r_mm: 90.0}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0.0, r_mm: 0.0}, boundary: magnetic}\n";
  static const char table[] = "iris_radius_mm,half_length_mm\n33.0,57.0\n35.5,58.25\n";
  folder = fuzz_make_folder();
  fuzz_write_file(folder, "cell.yaml", cell, strlen(cell));
  fuzz_write_file(folder, "path.yaml", path_cell, strlen(path_cell));
  fuzz_write_file(folder, "table.csv", table, strlen(table));
  return 0;
}

static void ask_for_shape(cavum_study *study, int64_t shape) {
  double values[MOST_INPUTS];
  cavum_cell cell;
  cavum_error error = {0};
  fuzz_check(cavum_study_num_inputs(study) <= MOST_INPUTS);
  cavum_status status = cavum_study_sample(values, study, shape, &error);
  if (status == CAVUM_OK) status = cavum_study_make_cell(&cell, study, values, &error);
  if (status != CAVUM_OK) {
    fuzz_check_refusal(status, &error);
    return;
  }
  cavum_contour contour = {0};
  status = cavum_cell_make_contour(&contour, &cell, CAVUM_PART_WHOLE, &error);
  if (status == CAVUM_OK) cavum_contour_clear(&contour);
  cavum_cell_clear(&cell);
}

static void check_columns(const cavum_study *study) {
  int count = 0;
  const cavum_column *columns = cavum_study_columns(&count, study);
  fuzz_check(count > 0);
  for (int i = 0; i < count; i++) {
    fuzz_check(columns[i].key[0] != '\0' && columns[i].unit != NULL);
    fuzz_check(columns[i].offset + cavum_column_size(columns[i].type) <=
               cavum_study_row_size(study));
  }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  char path[128];
  cavum_study *study = NULL;
  cavum_error error = {0};
  fuzz_write_file(folder, "study.yaml", data, size);
  snprintf(path, sizeof path, "%s/study.yaml", folder);
  cavum_status status = cavum_study_open(&study, path, &error);
  if (status != CAVUM_OK) {
    fuzz_check_refusal(status, &error);
    return 0;
  }
  int64_t shapes = cavum_study_num_shapes(study);
  fuzz_check(shapes > 0 && strlen(cavum_study_fingerprint(study)) == 64);
  check_columns(study);
  for (int64_t i = 0; i < shapes && i < SHAPES_TO_ASK; i++) ask_for_shape(study, i);
  cavum_study_close(&study);
  return 0;
}
