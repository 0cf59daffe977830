// SPDX-License-Identifier: GPL-3.0-or-later
// A second program written from the headers alone: a path with an arc filled in memory, shapes in
// turn by the same solver, the field against the closed form, a file, a table of readings in
// memory, a log, errors, a stop.
#include <cavum/cavum.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static int failures;

static void check(bool good, const char *what, const cavum_error *error) {
  if (good) return;
  printf("FAILED: %s: %s\n", what, error->message);
  failures++;
}

static cavum_curve line(double z0, double r0, double z1, double r1, cavum_boundary boundary) {
  cavum_curve curve;
  memset(&curve, 0, sizeof curve);
  curve.kind = CAVUM_CURVE_LINE;
  curve.boundary = boundary;
  curve.start.z_m = z0;
  curve.start.r_m = r0;
  curve.end.z_m = z1;
  curve.end.r_m = r1;
  return curve;
}

// A pillbox of this radius, 0.1 m long, from z = 0.
static void fill_pillbox(cavum_cell *cell, double radius_m) {
  const double length_m = 0.1;
  cavum_contour_clear(&cell->path);
  cell->kind = CAVUM_CONTOUR_PATH;
  cell->path.curves = (cavum_curve *)malloc(4 * sizeof(cavum_curve));
  if (!cell->path.curves) exit(1);
  cell->path.num_curves = 4;
  cell->path.curves[0] = line(0.0, 0.0, length_m, 0.0, CAVUM_BOUNDARY_AXIS);
  cell->path.curves[1] = line(length_m, 0.0, length_m, radius_m, CAVUM_BOUNDARY_METAL);
  cell->path.curves[2] = line(length_m, radius_m, 0.0, radius_m, CAVUM_BOUNDARY_METAL);
  cell->path.curves[3] = line(0.0, radius_m, 0.0, 0.0, CAVUM_BOUNDARY_METAL);
}

// TM010 of a pillbox: j01 c / (2 pi a), j01 = 2.404825557695773.
static double pillbox_hz(double radius_m) {
  return 2.404825557695773 * 299792458.0 / (2.0 * 3.14159265358979324 * radius_m);
}

static void solve_shapes(cavum_cell *cell, int count) {
  cavum_error error = {CAVUM_OK, ""};
  cavum_solver *solver = NULL;
  check(cavum_solver_create(&solver, NULL, &error) == CAVUM_OK, "solver", &error);
  for (int i = 0; i < count; i++) {
    cavum_result *result = NULL;
    double radius_m = 0.09 + 2e-5 * i;
    fill_pillbox(cell, radius_m);
    check(cavum_solver_solve(&result, solver, cell, &error) == CAVUM_OK, "shape", &error);
    cavum_figure f = cavum_mode_figure(cavum_result_mode(result, 0), CAVUM_FIGURE_FREQUENCY);
    check(fabs(f.value - pillbox_hz(radius_m)) <= f.uncertainty + 1e-12 * f.value,
          "the closed form is inside the uncertainty", &error);
    cavum_result_destroy(&result);
  }
  cavum_solver_destroy(&solver);
}

// E_z of TM010 does not change along the axis and is zero at the wall.
static void ask_field(const cavum_cell *cell, double radius_m) {
  const double z_m[4] = {0.01, 0.05, 0.09, 0.05}, r_m[4] = {0.0, 0.0, 0.0, 2.0 * radius_m};
  double e_z[4] = {0.0};
  int64_t outside = 0;
  cavum_error error = {CAVUM_OK, ""};
  cavum_result *result = NULL;
  cavum_mode_field *field = NULL;
  cavum_solve_options options = cavum_solve_options_default();
  options.field_order = CAVUM_FIELD_ORDER_CHOSEN;
  check(cavum_solve(&result, cell, &options, &error) == CAVUM_OK, "solve", &error);
  check(cavum_mode_field_create(&field, result, 0, &error) == CAVUM_OK, "field", &error);
  check(cavum_mode_field_at(field, 4, z_m, r_m, NULL, e_z, NULL, &outside, &error) == CAVUM_OK,
        "field at points", &error);
  check(outside == 1 && isnan(e_z[3]), "one point is outside", &error);
  // The default accuracy of what is not a frequency.
  check(fabs(e_z[0] / e_z[1] - 1.0) < 1e-4 && fabs(e_z[2] / e_z[1] - 1.0) < 1e-4, "E_z", &error);
  cavum_mode_field_destroy(&field);
  cavum_result_destroy(&result);
}

static void note(cavum_log_severity severity, const char *where, const char *message, void *data) {
  int *count = (int *)data;
  (void)severity;
  (void)where;
  *count += message[0] != '\0';
}

static void store(const cavum_cell *cell, const char *path) {
  cavum_error error = {CAVUM_OK, ""};
  cavum_result *result = NULL, *read = NULL;
  cavum_stored_origin origin;
  cavum_solve_options options = cavum_solve_options_default();
  int messages = 0;
  options.log = note;
  options.log_data = &messages;
  check(cavum_solve(&result, cell, &options, &error) == CAVUM_OK, "solve", &error);
  check(messages > 0, "a log", &error);
  check(isnan(result->steps[0].frequency_change), "no change before the first step", &error);
  check(cavum_store_write_result(path, result, cell, &options, &error) == CAVUM_OK, "write",
        &error);
  check(cavum_store_read_result(&read, &origin, path, &error) == CAVUM_OK, "read", &error);
  check(origin.struct_size == sizeof origin && origin.options && origin.options->use_symmetry,
        "origin", &error);
  cavum_stored_origin_clear(&origin);
  cavum_result_destroy(&read);
  cavum_result_destroy(&result);
  remove(path);
}

// Two rows of a table in memory, one of them set aside.
static void test_cold(void) {
  static const char table[] =
      "forward_W,reflected_W,transmitted_mW,emitted_W,decay_energy_s,use\n"
      "0.716939,0.0775568,6.33052,1.26610,0.813468,yes\n"
      "0.7,0.08,6.3,1.3,0.81,no\n";
  cavum_error error = {CAVUM_OK, ""};
  cavum_coldtest *test = NULL;
  cavum_coldtest_readings readings;
  cavum_coldtest_setup setup = cavum_coldtest_setup_default();
  setup.r_over_q_linac_ohm.value = 105.0;
  setup.accelerating_length_m.value = 0.1153;
  setup.frequency_hz = 1.3e9;
  check(cavum_coldtest_read_readings_text(&readings, table, strlen(table), NULL, &setup, &error) ==
            CAVUM_OK,
        "readings", &error);
  check(readings.num_readings == 1 && readings.num_set_aside == 1, "one row is used", &error);
  check(cavum_coldtest_evaluate(&test, &setup, &readings, &error) == CAVUM_OK, "test", &error);
  const cavum_coldtest_point *point = cavum_coldtest_get_point(test, 0);
  // The worked example of the circuit model (integrator.c): six digits in, so 1e-5 out.
  check(point && fabs(point->value[CAVUM_QUANTITY_Q0] / 2e10 - 1.0) < 1e-5, "Q0", &error);
  cavum_coldtest_destroy(&test);
  cavum_coldtest_readings_clear(&readings);
}

static bool say_stop(void *data) {
  (void)data;
  return true;
}

static void err_and_stop(cavum_cell *cell) {
  cavum_error error = {CAVUM_OK, ""};
  cavum_result *result = NULL;
  cavum_solve_options options = cavum_solve_options_default();
  options.stop = say_stop;
  check(cavum_solve(&result, cell, &options, &error) == CAVUM_ERR_STOPPED, "stop", &error);
  cell->path.curves[1].end.r_m = 0.01;
  check(cavum_solve(&result, cell, NULL, &error) != CAVUM_OK && result == NULL, "a gap", &error);
  printf("%s\n", error.message);
}

int main(int argc, char **argv) {
  cavum_cell cell;
  cavum_cell_set_defaults(&cell);
  solve_shapes(&cell, 50);
  fill_pillbox(&cell, 0.1);
  ask_field(&cell, 0.1);
  store(&cell, argc > 1 ? argv[1] : "from_headers.hdf");
  test_cold();
  err_and_stop(&cell);
  cavum_cell_clear(&cell);
  printf("%s\n", failures ? "failed" : "done");
  return failures ? 1 : 0;
}
