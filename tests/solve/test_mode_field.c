// SPDX-License-Identifier: GPL-3.0-or-later
// The field at any points: against closed forms in pillboxes of quadrilaterals and of triangles, in
// halves and in whole cells, on curved elements, and outside.
#include <gsl/gsl_sf_bessel.h>

#include "cavum/field.h"
#include "grid_msh.h"
#include "test_cell.h"

enum { POINTS = 5000 };

static double z_m[POINTS], r_m[POINTS], h[POINTS], e_z[POINTS], e_r[POINTS];

// Random points of a box, among them the corners of the box itself.
static void spread(double low_z, double high_z, double high_r) {
  uint64_t state = 7;
  for (int i = 0; i < POINTS; i++) {
    z_m[i] = low_z + (high_z - low_z) * (double)(grid_random(&state) >> 11) / 9007199254740992.0;
    r_m[i] = high_r * (double)(grid_random(&state) >> 11) / 9007199254740992.0;
  }
  for (int i = 0; i < 4; i++) {
    z_m[i] = i & 1 ? high_z : low_z;
    r_m[i] = i & 2 ? high_r : 0.0;
  }
}

static int64_t ask(const cavum_result *result, int mode) {
  cavum_mode_field *field = NULL;
  cavum_error error = {0};
  int64_t outside = -1;
  ck_assert_int_eq(cavum_mode_field_create(&field, result, mode, &error), CAVUM_OK);
  ck_assert_int_eq(cavum_mode_field_at(field, POINTS, z_m, r_m, h, e_z, e_r, &outside, &error),
                   CAVUM_OK);
  cavum_mode_field_destroy(&field);
  ck_assert_ptr_null(field);
  return outside;
}

static cavum_result *solve(const char *text, bool use_symmetry) {
  cavum_cell cell = solving_read(text);
  cavum_solve_options options = cavum_solve_options_default();
  options.field_order = CAVUM_FIELD_ORDER_CHOSEN;
  options.use_symmetry = use_symmetry;
  cavum_result *result = solving_solve(&cell, &options);
  cavum_cell_clear(&cell);
  return result;
}

// TM01p of a pillbox between metal ends from z = low: E_z = E0 J0(a r) cos(b z),
// H = E0 (w eps0 / a) J1(a r) cos(b z), e_r = E0 (b / a) J1(a r) sin(b z), at one joule.
static void check_pillbox(const cavum_result *result, int mode, double low, double length,
                          double radius, int p) {
  double x = gsl_sf_bessel_zero_J0(1), a = x / radius, b = p * M_PI / length;
  double w = CAVUM_C_M_PER_S * hypot(a, b), ratio = w * CAVUM_EPS0 / a, j1 = gsl_sf_bessel_J1(x);
  double volume = M_PI * radius * radius * length * j1 * j1 * (p > 0 ? 0.5 : 1.0);
  double e0 = sqrt(2.0 / (CAVUM_MU0 * volume)) / ratio, sign = 0.0, worst[3] = {0};
  ck_assert_int_eq(ask(result, mode), 0);
  for (int i = 0; i < POINTS; i++) {
    double j = gsl_sf_bessel_J1(a * r_m[i]), phase = b * (z_m[i] - low);
    double of_h = e0 * ratio * j * cos(phase);
    if (sign == 0.0 && fabs(of_h) > 0.1 * e0 * ratio) sign = of_h * h[i] > 0.0 ? 1.0 : -1.0;
  }
  for (int i = 0; i < POINTS; i++) {
    double j = sign * gsl_sf_bessel_J1(a * r_m[i]), phase = b * (z_m[i] - low);
    double j0 = sign * gsl_sf_bessel_J0(a * r_m[i]);
    worst[0] = fmax(worst[0], fabs(h[i] - e0 * ratio * j * cos(phase)) / (e0 * ratio));
    worst[1] = fmax(worst[1], fabs(e_z[i] - e0 * j0 * cos(phase)) / e0);
    worst[2] = fmax(worst[2], fabs(e_r[i] - e0 * b / a * j * sin(phase)) / e0);
  }
  for (int q = 0; q < 3; q++) CAVUM_CHECK_NEAR(worst[q], 0.0, 2e-6);  // 1e-6 of the field grid
}

#define BOX                                                                                      \
  "accelerating_length_mm: 100\ncontour:\n  kind: path\n  start: {z_mm: 20, r_mm: 0}\n  path:\n" \
  "    - {line_to: {z_mm: 120, r_mm: 0}, boundary: axis}\n"                                      \
  "    - {line_to: {z_mm: 120, r_mm: 90}, boundary: metal}\n"                                    \
  "    - {line_to: {z_mm: 20, r_mm: 90}, boundary: metal}\n"                                     \
  "    - {line_to: {z_mm: 20, r_mm: 0}, boundary: metal}\n"                                      \
  "modes: {count: 2}\n"

#define TIGHT_CELL TEST_CELL "accuracy: {frequency: 1.0e-9, other_figures: 1.0e-6}\n"

START_TEST(pillbox_as_half_and_whole) {
  for (int half = 0; half < 2; half++) {
    cavum_result *result = solve(BOX, half);
    ck_assert_int_eq(result->half_model, half);
    spread(0.02, 0.12, 0.09);
    check_pillbox(result, 0, 0.02, 0.1, 0.09, 0);
    check_pillbox(result, 1, 0.02, 0.1, 0.09, 1);
    cavum_result_destroy(&result);
  }
}
END_TEST

START_TEST(pillbox_of_a_mesh_file) {
  double s[4], t[4];
  grid_equal_steps(s, 3, 0.0, 0.1);
  grid_equal_steps(t, 3, 0.0, 0.09);
  cavum_solve_options options = cavum_solve_options_default();
  options.field_order = CAVUM_FIELD_ORDER_CHOSEN;
  const grid_request request = {.more = "accelerating_length_mm: 100\n",
                                .count = 1,
                                .accuracy_frequency = 1e-6,
                                .accuracy_other_figures = 1e-4};
  for (int order = 1; order <= 3; order++) {
    for (int triangles = 0; triangles < 2; triangles++) {
      grid_msh grid = {.num_s = 3,
                       .num_t = 3,
                       .s = s,
                       .t = t,
                       .order = order,
                       .triangles = triangles,
                       .shuffle = 5,
                       .unit_m = 1.0,
                       .map = grid_identity,
                       .sides = {CAVUM_BOUNDARY_AXIS, CAVUM_BOUNDARY_METAL, CAVUM_BOUNDARY_METAL,
                                 CAVUM_BOUNDARY_METAL}};
      cavum_result *result = grid_solve(&grid, &request, &options);
      spread(0.0, 0.1, 0.09);
      check_pillbox(result, 0, 0.0, 0.1, 0.09, 0);
      cavum_result_destroy(&result);
    }
  }
}
END_TEST

// Two meshes of one cell agree, also where the cell ends.
START_TEST(curved_cell_as_half_and_whole) {
  static double first[3][POINTS];
  cavum_result *half = solve(TIGHT_CELL, true), *whole = solve(TIGHT_CELL, false);
  spread(-0.07, 0.07, 0.12);
  int64_t outside = ask(half, 0);
  memcpy(first[0], h, sizeof h);
  memcpy(first[1], e_z, sizeof h);
  memcpy(first[2], e_r, sizeof h);
  ck_assert_int_gt(outside, POINTS / 10);
  ck_assert_int_eq(ask(whole, 0), outside);
  double worst[3] = {0}, most[3] = {0};
  int64_t missing = 0;
  for (int i = 0; i < POINTS; i++) {
    const double now[3] = {h[i], e_z[i], e_r[i]};
    ck_assert_int_eq(isnan(h[i]), isnan(first[0][i]));
    missing += isnan(h[i]);
    for (int q = 0; q < 3 && !isnan(h[i]); q++) {
      worst[q] = fmax(worst[q], fabs(now[q] - first[q][i]));
      most[q] = fmax(most[q], fabs(now[q]));
    }
  }
  ck_assert_int_eq(missing, outside);
  for (int q = 0; q < 3; q++)
    CAVUM_CHECK_NEAR(worst[q], 0.0, 2e-6 * most[q]);  // the accuracy asked for
  cavum_result_destroy(&half);
  cavum_result_destroy(&whole);
}
END_TEST

// The points of the field grid themselves, on elements with curved sides, and the wall. On a side
// between elements the value may be the other element's: H_phi is the same there.
START_TEST(points_of_the_grid_are_met) {
  cavum_result *result = solve(TEST_CELL, true);
  const cavum_field_grid *grid = &result->modes[0].field;
  cavum_mode_field *field = NULL;
  cavum_error error = {0};
  int64_t outside = -1;
  double most = 0.0, worst = 0.0, *values = malloc((size_t)grid->num_points * sizeof *values);
  ck_assert_int_eq(cavum_mode_field_create(&field, result, 0, &error), CAVUM_OK);
  ck_assert_int_eq(cavum_mode_field_at(field, grid->num_points, grid->z_m, grid->r_m, values, NULL,
                                       NULL, &outside, &error),
                   CAVUM_OK);
  ck_assert_int_eq(outside, 0);
  for (cavum_index i = 0; i < grid->num_points; i++) {
    most = fmax(most, fabs(grid->h_phi_a_per_m[i]));
    worst = fmax(worst, fabs(values[i] - grid->h_phi_a_per_m[i]));
  }
  CAVUM_CHECK_NEAR(worst, 0.0, 1e-9 * most);  // of the terms that are cut
  free(values);
  cavum_mode_field_destroy(&field);
  cavum_result_destroy(&result);
}
END_TEST

// A disc with sharp edges. For two modes the elements at its corners are millionths of the cell and
// smaller, where the rounding of a position is much of them.
#define DISC                                                      \
  "accelerating_length_mm: 100\ncontour:\n  kind: path\n"         \
  "  start: {z_mm: 0, r_mm: 0}\n  path:\n"                        \
  "    - {line_to: {z_mm: 152.9, r_mm: 0}, boundary: axis}\n"     \
  "    - {line_to: {z_mm: 152.9, r_mm: 78.9}, boundary: metal}\n" \
  "    - {line_to: {z_mm: 71.6, r_mm: 78.9}, boundary: metal}\n"  \
  "    - {line_to: {z_mm: 71.6, r_mm: 30.1}, boundary: metal}\n"  \
  "    - {line_to: {z_mm: 65.1, r_mm: 30.1}, boundary: metal}\n"  \
  "    - {line_to: {z_mm: 65.1, r_mm: 78.9}, boundary: metal}\n"  \
  "    - {line_to: {z_mm: 0, r_mm: 78.9}, boundary: electric}\n"  \
  "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: metal}\n"        \
  "modes: {count: 2}\n"

// Points on the outline are inside, as the header says, and those a nanometre behind it outside.
START_TEST(sharp_corners_keep_their_outline) {
  cavum_cell cell = solving_read(DISC);
  cavum_solve_options options = cavum_solve_options_default();
  options.field_order = CAVUM_FIELD_ORDER_CHOSEN;
  options.profiles = true;
  cavum_result *result = solving_solve(&cell, &options);
  const cavum_profile *wall = &result->modes[0].wall;
  ck_assert_int_lt(wall->num_points, POINTS);
  // The rest of the points is on the axis.
  memset(z_m, 0, sizeof z_m);
  memset(r_m, 0, sizeof r_m);
  memcpy(z_m, wall->z_m, (size_t)wall->num_points * sizeof *z_m);
  memcpy(r_m, wall->r_m, (size_t)wall->num_points * sizeof *r_m);
  ck_assert_int_eq(ask(result, 0), 0);
  int64_t behind = 0;
  for (cavum_index i = 0; i < wall->num_points; i++) {
    if (r_m[i] < 0.0788999) continue;  // the outer wall
    r_m[i] += 1e-9;
    behind++;
  }
  ck_assert_int_gt(behind, 0);
  ck_assert_int_eq(ask(result, 0), behind);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(what_cannot_be_asked) {
  cavum_result *result = solving_solve_text(BOX, 1e-6, 1e-4);
  cavum_mode_field *field = NULL;
  cavum_error error = {0};
  ck_assert_int_eq(cavum_mode_field_create(&field, result, 0, &error), CAVUM_ERR_USAGE);
  ck_assert_ptr_nonnull(strstr(error.message, "field_order"));
  cavum_result_destroy(&result);
  result = solve(BOX, true);
  ck_assert_int_eq(cavum_mode_field_create(&field, result, 2, &error), CAVUM_ERR_USAGE);
  ck_assert_int_eq(cavum_mode_field_create(&field, NULL, 0, &error), CAVUM_ERR_USAGE);
  ck_assert_int_eq(cavum_mode_field_create(&field, result, 0, &error), CAVUM_OK);
  const double z[] = {0.05, NAN, 0.05, 0.2, INFINITY}, r[] = {0.01, 0.01, -0.01, 0.01, 0.01};
  double values[5];
  int64_t outside = 0;
  ck_assert_int_eq(cavum_mode_field_at(field, 5, z, r, values, NULL, NULL, &outside, &error),
                   CAVUM_OK);
  ck_assert_int_eq(outside, 4);
  ck_assert(!isnan(values[0]));
  for (int i = 1; i < 5; i++) ck_assert(isnan(values[i]));
  ck_assert_int_eq(cavum_mode_field_at(field, -1, z, r, values, NULL, NULL, NULL, &error),
                   CAVUM_ERR_USAGE);
  ck_assert_int_eq(cavum_mode_field_at(field, 0, NULL, NULL, NULL, NULL, NULL, &outside, &error),
                   CAVUM_OK);
  ck_assert_int_eq(outside, 0);
  ck_assert_int_eq(cavum_mode_field_at(NULL, 1, z, r, values, NULL, NULL, NULL, &error),
                   CAVUM_ERR_USAGE);
  cavum_mode_field_destroy(&field);
  cavum_mode_field_destroy(NULL);
  cavum_result_destroy(&result);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, pillbox_as_half_and_whole);
  tcase_add_test(tests, pillbox_of_a_mesh_file);
  tcase_add_test(tests, curved_cell_as_half_and_whole);
  tcase_add_test(tests, points_of_the_grid_are_met);
  tcase_add_test(tests, sharp_corners_keep_their_outline);
  tcase_add_test(tests, what_cannot_be_asked);
}

CAVUM_TEST_MAIN("mode_field", add_tests)
