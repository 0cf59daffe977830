// SPDX-License-Identifier: GPL-3.0-or-later
// Fuzz target: any text as a goal of a cell that exists. What is accepted has starts within its
// bounds, whose shapes can be measured.
#include "cavum/cavum.h"
#include "fuzz_support.h"
#include "optimum/point.h"
#include "optimum/rates.h"
#include "optimum/starts.h"

enum { STARTS_TO_ASK = 3 };

static const char *folder;

int LLVMFuzzerInitialize(int *count, char ***arguments) {
  (void)count;
  (void)arguments;
  static const char cell[] =
      "contour:\n  kind: two-ellipse\n  half_length_mm: 57.7\n  iris_radius_mm: 35.0\n"
      "  equator_radius_mm: 103.3\n  equator_ellipse: {axial_mm: 42.0, radial_mm: 42.0}\n"
      "  iris_ellipse: {axial_mm: 12.0, radial_mm: 19.0}\n"
      "ends:\n  left: {kind: magnetic}\n  right: {kind: magnetic}\n";
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

static void ask_for_starts(cavum_goal *goal) {
  cavum_starts starts = {.goal = goal};
  double place[CAVUM_GOAL_MOST_VARIABLES], inputs[CAVUM_STUDY_MOST_INPUTS];
  double values[CAVUM_GOAL_MOST_QUANTITIES];
  for (int i = 0; i < STARTS_TO_ASK && cavum_starts_next(place, &starts); i++) {
    cavum_error error = {0};
    for (int j = 0; j < goal->num_variables; j++) fuzz_check(place[j] >= 0.0 && place[j] <= 1.0);
    cavum_optimum_inputs(inputs, goal, place);
    cavum_status status = cavum_optimum_measure(values, goal, place, &error);
    if (status != CAVUM_OK) fuzz_check_refusal(status, &error);
  }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  char path[128];
  cavum_goal *goal = NULL;
  cavum_error error = {0};
  fuzz_write_file(folder, "goal.yaml", data, size);
  snprintf(path, sizeof path, "%s/goal.yaml", folder);
  cavum_status status = cavum_goal_open(&goal, path, &error);
  if (status != CAVUM_OK) {
    fuzz_check(goal == NULL);
    fuzz_check_refusal(status, &error);
    return 0;
  }
  fuzz_check(goal->num_terms > 0 && goal->num_quantities <= CAVUM_GOAL_MOST_QUANTITIES);
  fuzz_check(goal->num_variables > 0 && goal->num_variables <= CAVUM_GOAL_MOST_VARIABLES);
  for (int j = 0; j < goal->num_variables; j++) fuzz_check(goal->low[j] < goal->high[j]);
  ask_for_starts(goal);
  cavum_goal_close(&goal);
  return 0;
}
