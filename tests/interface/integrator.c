// SPDX-License-Identifier: GPL-3.0-or-later
// What a program does that has the library inside, with nothing but its headers: a cell filled in
// memory, warm solves of shapes in turn, a result file read back, a cell as text, the field at
// points, a point of a cold test, errors, a stop. It is compiled as C and as C++.
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cavum/cavum.h"

static int failures;

static void check(bool good, const char *what, const cavum_error *error) {
  if (good) return;
  printf("FAILED: %s: %s\n", what, error->message);
  failures++;
}

static void fill_cell(cavum_cell *cell) {
  cavum_half_cell half;
  memset(&half, 0, sizeof half);
  half.half_length_m = 0.0577;
  half.iris_radius_m = 0.035;
  half.equator_radius_m = 0.1033;
  half.equator_axial_m = half.equator_radial_m = 0.042;
  half.iris_axial_m = 0.012;
  half.iris_radial_m = 0.019;
  cavum_cell_set_defaults(cell);
  cell->kind = CAVUM_CONTOUR_TWO_ELLIPSE;
  cell->left = cell->right = half;
  cell->left_end.kind = cell->right_end.kind = CAVUM_END_MAGNETIC;
  cell->wall.kind = CAVUM_WALL_NIOBIUM;
  cell->wall.temperature_k = 2.0;
  cell->wall.residual_resistance_ohm = 5e-9;
}

static double frequency_of(const cavum_result *result) {
  return cavum_mode_figure(cavum_result_mode(result, 0), CAVUM_FIGURE_FREQUENCY).value;
}

// Shapes in turn: a wider iris pulls the pi mode of this cell the same way at every step.
static void solve_shapes(cavum_cell *cell, int count) {
  cavum_solver *solver = NULL;
  cavum_error error = {CAVUM_OK, ""};
  double before = 0.0;
  int turns = 0;
  check(cavum_solver_create(&solver, NULL, &error) == CAVUM_OK, "solver", &error);
  for (int i = 0; i < count; i++) {
    cavum_result *result = NULL;
    cell->left.iris_radius_m = cell->right.iris_radius_m = 0.035 + 1e-5 * i;
    cavum_status status = cavum_solver_solve(&result, solver, cell, &error);
    check(status == CAVUM_OK, "warm solve", &error);
    double now = frequency_of(result);
    if (i > 1 && now < before) turns++;
    before = now;
    cavum_result_destroy(&result);
  }
  check(turns == 0 || turns == count - 2, "frequency against iris radius", &error);
  printf("%d warm shapes, the last at %.9g Hz\n", count, before);
  cavum_solver_destroy(&solver);
}

// To a file and back, and the cell through its text.
static void store(const cavum_cell *cell, const char *path) {
  cavum_error error = {CAVUM_OK, ""};
  cavum_result *result = NULL, *read = NULL, *again = NULL;
  cavum_cell copy;
  char *text = NULL;
  cavum_cell_set_defaults(&copy);
  check(cavum_solve(&result, cell, NULL, &error) == CAVUM_OK, "solve", &error);
  check(cavum_store_write_result(path, result, cell, NULL, &error) == CAVUM_OK, "write", &error);
  check(cavum_store_read_result(&read, NULL, path, &error) == CAVUM_OK, "read", &error);
  check(frequency_of(result) == frequency_of(read), "what was written is read", &error);
  check(cavum_cell_to_text(&text, cell, &error) == CAVUM_OK, "text", &error);
  if (text) {
    check(cavum_cell_read_text(&copy, text, strlen(text), NULL, &error) == CAVUM_OK,
          "text of a cell", &error);
    check(cavum_solve(&again, &copy, NULL, &error) == CAVUM_OK, "solve of the text", &error);
    check(frequency_of(again) == frequency_of(result), "the text gives the same bits", &error);
  }
  free(text);
  remove(path);
  cavum_cell_clear(&copy);
  cavum_result_destroy(&result);
  cavum_result_destroy(&read);
  cavum_result_destroy(&again);
}

// The accelerating voltage again, from E_z at points on the axis: V = |int E_z exp(j w z / c) dz|.
static void ask_field(const cavum_cell *cell) {
  enum { POINTS = 2001 };
  static double z_m[POINTS], r_m[POINTS], e_z[POINTS];
  cavum_error error = {CAVUM_OK, ""};
  cavum_result *result = NULL;
  cavum_mode_field *field = NULL;
  cavum_solve_options options = cavum_solve_options_default();
  int64_t outside = -1;
  options.field_order = CAVUM_FIELD_ORDER_CHOSEN;
  check(cavum_solve(&result, cell, &options, &error) == CAVUM_OK, "solve with fields", &error);
  check(cavum_mode_field_create(&field, result, 0, &error) == CAVUM_OK, "field", &error);
  double low = -0.0577, step = 2.0 * 0.0577 / (POINTS - 1), re = 0.0, im = 0.0;
  for (int i = 0; i < POINTS; i++) z_m[i] = low + step * i;
  check(cavum_mode_field_at(field, POINTS, z_m, r_m, NULL, e_z, NULL, &outside, &error) == CAVUM_OK,
        "field at points", &error);
  check(outside == 0, "all of the axis is inside", &error);
  double k = 2.0 * 3.14159265358979 * frequency_of(result) / 299792458.0;
  for (int i = 0; i < POINTS; i++) {  // Simpson's rule
    double weight = step / 3.0 * (i == 0 || i == POINTS - 1 ? 1.0 : (i % 2 ? 4.0 : 2.0));
    re += weight * e_z[i] * cos(k * z_m[i]);
    im += weight * e_z[i] * sin(k * z_m[i]);
  }
  double voltage =
      cavum_mode_figure(cavum_result_mode(result, 0), CAVUM_FIGURE_VOLTAGE_AT_1_J).value;
  check(fabs(hypot(re, im) / voltage - 1.0) < 1e-5, "voltage from the field on the axis", &error);
  printf("voltage %.8g V, from the field on the axis %.8g V\n", voltage, hypot(re, im));
  cavum_mode_field_destroy(&field);
  cavum_result_destroy(&result);
}

static void resist(const cavum_cell *cell) {
  cavum_error error = {CAVUM_OK, ""};
  double resistance_ohm = 0.0;
  char caution[256];
  check(cavum_wall_resistance(&resistance_ohm, caution, &cell->wall, 1.3e9, &error) == CAVUM_OK,
        "wall", &error);
  check(resistance_ohm > 5e-9 && resistance_ohm < 1e-7, "surface resistance", &error);
}

// One point of a cold test by its powers and decay time: the circuit model's worked example with
// E_acc = 10 MV/m, Q0 = 2e10, Q_e = 1e10, Q_t = 2e12. Six digits in, so 1e-5 out.
static void test_cold(void) {
  cavum_error error = {CAVUM_OK, ""};
  cavum_coldtest *test = NULL;
  cavum_coldtest_setup setup = cavum_coldtest_setup_default();
  cavum_coldtest_reading reading = cavum_coldtest_reading_empty();
  cavum_coldtest_readings readings;
  memset(&readings, 0, sizeof readings);
  setup.r_over_q_linac_ohm.value = 105.0;
  setup.accelerating_length_m.value = 0.1153;
  setup.frequency_hz = 1.3e9;
  reading.power_w[CAVUM_CHANNEL_FORWARD] = 0.716939;
  reading.power_w[CAVUM_CHANNEL_REFLECTED] = 0.0775568;
  reading.power_w[CAVUM_CHANNEL_TRANSMITTED] = 0.00633052;
  reading.power_w[CAVUM_CHANNEL_EMITTED] = 1.26610;
  reading.decay_time_s = 0.813468;
  readings.num_readings = 1;
  readings.items = &reading;
  check(cavum_coldtest_evaluate(&test, &setup, &readings, &error) == CAVUM_OK, "cold test", &error);
  const cavum_coldtest_point *point = cavum_coldtest_get_point(test, 0);
  if (point) {
    double q0 = point->value[CAVUM_QUANTITY_Q0], eacc = point->value[CAVUM_QUANTITY_E_ACC];
    check(fabs(q0 / 2e10 - 1.0) < 1e-5, "Q0 of a cold test", &error);
    check(fabs(eacc / 10e6 - 1.0) < 1e-5, "E_acc of a cold test", &error);
    printf("cold test: E_acc %.6g V/m, Q0 %.6g\n", eacc, q0);
  }
  check(point != NULL, "a point", &error);
  cavum_coldtest_destroy(&test);
}

static bool say_stop(void *data) {
  int *count = (int *)data;
  return ++*count >= 1;
}

static void err_and_stop(cavum_cell *cell) {
  cavum_error error = {CAVUM_OK, ""};
  cavum_result *result = NULL;
  cavum_solve_options options = cavum_solve_options_default();
  int count = 0;
  options.stop = say_stop;
  options.stop_data = &count;
  check(cavum_solve(&result, cell, &options, &error) == CAVUM_ERR_STOPPED, "stop", &error);
  cell->left_end.kind = CAVUM_END_UNSTATED;
  check(cavum_solve(&result, cell, NULL, &error) == CAVUM_ERR_INPUT, "an end forgotten", &error);
  printf("%s: %s\n", cavum_status_text(error.status), error.message);
  check(cavum_solve(NULL, cell, NULL, &error) == CAVUM_ERR_USAGE, "no place for a result", &error);
  check(result == NULL, "no result after an error", &error);
}

int main(int argc, char **argv) {
  cavum_cell cell;
  int count = argc > 2 ? atoi(argv[2]) : 50;
  fill_cell(&cell);
  solve_shapes(&cell, count);
  store(&cell, argc > 1 ? argv[1] : "integrator.hdf");
  ask_field(&cell);
  resist(&cell);
  test_cold();
  err_and_stop(&cell);
  cavum_cell_clear(&cell);
  printf("%s\n", failures ? "failed" : "done");
  return failures ? 1 : 0;
}
