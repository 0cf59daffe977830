// SPDX-License-Identifier: GPL-3.0-or-later
// Fuzz target: any text as a step file of a cell that exists. What is accepted has shapes behind
// its steps, or says why not. Nothing is solved.
#include "cavum/cavum.h"
#include "fuzz_support.h"
#include "steps/chain.h"

static const char *folder;

int LLVMFuzzerInitialize(int *count, char ***arguments) {
  (void)count;
  (void)arguments;
  static const char cell[] =
      "contour:\n  kind: two-ellipse\n  half_length_mm: 57.7\n  iris_radius_mm: 35.0\n"
      "  equator_radius_mm: 103.3\n  equator_ellipse: {axial_mm: 42.0, radial_mm: 42.0}\n"
      "  iris_ellipse: {axial_mm: 12.0, radial_mm: 19.0}\n"
      "ends:\n  left: {kind: magnetic}\n  right: {kind: tube, length_mm: 50, close: electric}\n";
  static const char path_cell[] =
      "contour:\n  kind: path\n  start: {z_mm: 0.0, r_mm: 0.0}\n  path:\n"
      "    - {line_to: {z_mm: 80.0, r_mm: 0.0}, boundary: axis}\n"
      "    - {line_to: {z_mm: 80.0, r_mm: 90.0}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0.0, r_mm: 90.0}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0.0, r_mm: 0.0}, boundary: magnetic}\n";
  folder = fuzz_make_folder();
  fuzz_write_file(folder, "cell.yaml", cell, strlen(cell));
  fuzz_write_file(folder, "path.yaml", path_cell, strlen(path_cell));
  return 0;
}

// A graded depth makes splines of all pieces: a few of them take long enough.
static int steps_to_ask(const cavum_steps *steps) {
  int graded = 0, i = 0;
  for (; i < steps->num_steps && graded < 2; i++) graded += steps->steps[i].depth.num_places > 0;
  return i;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  char path[128];
  cavum_steps *steps = NULL;
  cavum_error error = {0};
  fuzz_write_file(folder, "steps.yaml", data, size);
  snprintf(path, sizeof path, "%s/steps.yaml", folder);
  cavum_status status = cavum_steps_open(&steps, path, &error);
  if (status != CAVUM_OK) {
    fuzz_check(steps == NULL);
    fuzz_check_refusal(status, &error);
    return 0;
  }
  fuzz_check(steps->num_steps > 0 && steps->num_steps < CAVUM_STEPS_MOST);
  for (int i = 0; i < steps->num_steps; i++) {
    fuzz_check(cavum_steps_find(steps, steps->steps[i].name) >= 0);
    fuzz_check(steps->steps[i].name[0] && steps->steps[i].what[0]);
  }
  cavum_cell shape;
  int last = steps_to_ask(steps);
  status = cavum_steps_shape(&shape, steps, last, &error);
  if (status == CAVUM_OK) {
    fuzz_check(shape.path.num_curves > 0);
    cavum_cell_clear(&shape);
  } else {
    fuzz_check_refusal(status, &error);
  }
  cavum_steps_close(&steps);
  return 0;
}
