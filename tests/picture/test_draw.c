// SPDX-License-Identifier: GPL-3.0-or-later
// Pictures of solved demo cells: every view in every form, the same bytes each time, scenes that
// agree with the cell, and errors for what cannot be drawn.
#include <string.h>

#include "cavum/cavum.h"
#include "picture/curves.h"
#include "picture/field_map.h"
#include "picture/scene.h"
#include "support.h"

static cavum_result *solve(const char *name, int field_order) {
  char path[512];
  cavum_cell cell;
  cavum_result *result = NULL;
  cavum_error error = {0};
  cavum_solve_options options = cavum_solve_options_default();
  options.profiles = true;
  options.field_order = field_order;
  cavum_cell_set_defaults(&cell);
  snprintf(path, sizeof path, "%s/%s.yaml", CAVUM_CELLS_FOLDER, name);
  ck_assert_msg(cavum_cell_read_file(&cell, path, &error) == CAVUM_OK, "%s", error.message);
  ck_assert_msg(cavum_solve(&result, &cell, &options, &error) == CAVUM_OK, "%s", error.message);
  cavum_cell_clear(&cell);
  return result;
}

static cavum_result *solve_text(const char *text) {
  cavum_cell cell;
  cavum_result *result = NULL;
  cavum_error error = {0};
  cavum_solve_options options = cavum_solve_options_default();
  options.profiles = true;
  options.field_order = 4;
  cavum_cell_set_defaults(&cell);
  cavum_status status = cavum_cell_read_text(&cell, text, strlen(text), "cell.yaml", &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  ck_assert_msg(cavum_solve(&result, &cell, &options, &error) == CAVUM_OK, "%s", error.message);
  cavum_cell_clear(&cell);
  return result;
}

static void expect_start(const char *bytes, cavum_picture_format format) {
  static const char *const starts[] = {
      [CAVUM_PICTURE_PNG] = "\x89PNG", [CAVUM_PICTURE_SVG] = "<?xml", [CAVUM_PICTURE_PDF] = "%PDF"};
  ck_assert_int_eq(strncmp(bytes, starts[format], strlen(starts[format])), 0);
}

START_TEST(every_view_in_every_form) {
  static const char *const cells[] = {"injector-cell", "coaxial-resonator", "end-cell"};
  for (int c = 0; c < 3; c++) {
    cavum_result *result = solve(cells[c], CAVUM_FIELD_ORDER_CHOSEN);
    for (int view = CAVUM_VIEW_SHEET; view <= CAVUM_VIEW_MESH; view++) {
      for (int format = 0; format < 3; format++) {
        cavum_picture_options options = cavum_picture_options_default();
        char *bytes = NULL, *again = NULL;
        size_t size = 0, size_again = 0;
        options.view = (cavum_picture_view)view;
        options.format = (cavum_picture_format)format;
        options.width_px = 400;
        ck_assert_int_eq(cavum_picture_draw_result(&bytes, &size, result, &options, NULL),
                         CAVUM_OK);
        ck_assert_int_eq(cavum_picture_draw_result(&again, &size_again, result, &options, NULL),
                         CAVUM_OK);
        printf("%s view %d format %d: %zu bytes\n", cells[c], view, format, size);
        expect_start(bytes, options.format);
        ck_assert_uint_eq(size, size_again);
        ck_assert_int_eq(memcmp(bytes, again, size), 0);
        free(bytes);
        free(again);
      }
    }
    cavum_result_destroy(&result);
  }
}
END_TEST

START_TEST(half_models_are_drawn_whole) {
  cavum_result *result = solve("injector-cell", CAVUM_FIELD_ORDER_CHOSEN);
  cavum_scene scene;
  cavum_wall_plot wall;
  cavum_axis_curve axis;
  ck_assert(result->half_model);
  ck_assert_int_eq(cavum_scene_create(&scene, result, 1, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_wall_plot_create(&wall, &scene, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_axis_curve_create(&axis, &scene, NULL), CAVUM_OK);
  // Half length 57.7 mm and a tube of 150 mm on either side; equator radius 103.3 mm: the cell
  // file.
  CAVUM_CHECK_NEAR(scene.z_low_m, -0.2077, 1e-12);
  CAVUM_CHECK_NEAR(scene.z_high_m, 0.2077, 1e-12);
  CAVUM_CHECK_NEAR(scene.r_high_m, 0.1033, 1e-12);
  ck_assert_int_eq(scene.num_loops, 1);
  double area = 0.0;
  const cavum_scene_loop *loop = &scene.loops[0];
  for (int i = 0; i < loop->num_points; i++) {
    int k = (i + 1) % loop->num_points;
    area += 0.5 * (loop->z_m[i] * loop->r_m[k] - loop->z_m[k] * loop->r_m[i]);
  }
  printf("area of the outline %.9g m2\n", area);
  ck_assert(area > 0.0);  // Counterclockwise.
  // The wall starts at the left end and is symmetric for an even mode.
  int n = wall.num_points;
  CAVUM_CHECK_NEAR(wall.z_mm[0], -207.7, 1e-9);
  CAVUM_CHECK_NEAR(wall.z_mm[n - 1], 207.7, 1e-9);
  CAVUM_CHECK_NEAR(wall.e[n / 3], wall.e[n - 1 - n / 3], 1e-12);
  // Two junctions of ellipses and lines and one with the tube, on either side.
  ck_assert_int_eq(wall.num_junctions, 6);
  // The largest E on the wall is E_pk / E_acc; the samples are 1/23 of an edge apart.
  double largest = 0.0;
  for (int i = 0; i < n; i++) largest = fmax(largest, wall.e[i]);
  double peak = result->modes[0].figures[CAVUM_FIGURE_EPK_OVER_EACC].value;
  CAVUM_CHECK_NEAR(largest, peak, 1e-3 * peak);
  ck_assert(axis.e_z[axis.num_points / 2] > 0.0);
  cavum_axis_curve_clear(&axis);
  cavum_wall_plot_clear(&wall);
  cavum_scene_clear(&scene);
  cavum_result_destroy(&result);
}
END_TEST

// The mirror plane of a path may be anywhere.
START_TEST(plane_away_from_zero) {
  const char *text =
      "accelerating_length_mm: 100\ncontour:\n  kind: path\n  start: {z_mm: 813, r_mm: 0}\n"
      "  path:\n    - {line_to: {z_mm: 933, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: 933, r_mm: 100}, boundary: metal}\n"
      "    - {line_to: {z_mm: 813, r_mm: 100}, boundary: metal}\n"
      "    - {line_to: {z_mm: 813, r_mm: 0}, boundary: metal}\nmodes: {count: 1}\n";
  cavum_cell cell;
  cavum_result *result = NULL;
  cavum_scene scene;
  cavum_wall_plot wall;
  cavum_solve_options options = cavum_solve_options_default();
  options.profiles = true;
  options.field_order = CAVUM_FIELD_ORDER_CHOSEN;
  ck_assert_int_eq(cavum_cell_read_text(&cell, text, strlen(text), NULL, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_solve(&result, &cell, &options, NULL), CAVUM_OK);
  ck_assert(result->half_model);
  ck_assert_int_eq(cavum_scene_create(&scene, result, 1, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_wall_plot_create(&wall, &scene, NULL), CAVUM_OK);
  CAVUM_CHECK_NEAR(scene.z_low_m, 0.813, 1e-12);
  CAVUM_CHECK_NEAR(scene.z_high_m, 0.933, 1e-12);
  // Up the left plate, along, and down the right one.
  CAVUM_CHECK_NEAR(wall.z_mm[0], 813.0, 1e-9);
  CAVUM_CHECK_NEAR(wall.z_mm[wall.num_points - 1], 933.0, 1e-9);
  CAVUM_CHECK_NEAR(wall.s_mm[wall.num_points - 1], 320.0, 1e-9);
  cavum_wall_plot_clear(&wall);
  cavum_scene_clear(&scene);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

// In a pillbox E_z = E0 J0(x01 r / R), so |E| at half the radius is J0(x01 / 2) = 0.669903 of that
// on the axis (closed form; x01 = 2.404825557695773).
START_TEST(map_of_a_pillbox) {
  cavum_result *result = solve("pillbox", CAVUM_FIELD_ORDER_CHOSEN);
  cavum_scene scene;
  static uint8_t indices[100 * 100];
  const uint32_t palette[256] = {0};
  cavum_image image = {100, 100, indices, palette};
  ck_assert_int_eq(cavum_scene_create(&scene, result, 1, NULL), CAVUM_OK);
  double scale = 100.0 / scene.r_high_m;
  const cavum_field_frame frame = {50.0, 100.0, scale, scale, false};
  ck_assert_int_eq(cavum_field_map_fill(&image, &scene, &frame, CAVUM_FIELD_ELECTRIC, 255, NULL),
                   CAVUM_OK);
  // Row 49 is r = 50.5 percent of R, row 99 is 0.5 percent; one index is 1/254 of the axis field.
  double x01 = 2.404825557695773;
  CAVUM_CHECK_NEAR((indices[49 * 100 + 50] - 1) / 254.0, j0(x01 * 0.505), 1.0 / 254.0);
  CAVUM_CHECK_NEAR((indices[99 * 100 + 50] - 1) / 254.0, j0(x01 * 0.005), 1.0 / 254.0);
  cavum_scene_clear(&scene);
  cavum_result_destroy(&result);
}
END_TEST

// A metal bead on the axis, solved as a half: the outer wall is one piece and the bead another, and
// E_z is not drawn inside the bead.
START_TEST(bead_on_the_axis) {
  cavum_result *result = solve_text(
      "accelerating_length_mm: 100\ncontour:\n  kind: path\n  start: {z_mm: -50, r_mm: 0}\n"
      "  path:\n    - {line_to: {z_mm: -3, r_mm: 0}, boundary: axis}\n"
      "    - {arc_to: {z_mm: 3, r_mm: 0}, centre: {z_mm: 0, r_mm: 0}, turn: right, boundary: "
      "metal}\n"
      "    - {line_to: {z_mm: 50, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: 50, r_mm: 100}, boundary: metal}\n"
      "    - {line_to: {z_mm: -50, r_mm: 100}, boundary: metal}\n"
      "    - {line_to: {z_mm: -50, r_mm: 0}, boundary: metal}\n"
      "accuracy: {frequency: 1.0e-3, other_figures: 1.0e-1}\n");
  cavum_scene scene;
  cavum_wall_plot wall;
  cavum_axis_curve axis;
  ck_assert(result->half_model);
  ck_assert_int_eq(cavum_scene_create(&scene, result, 1, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_wall_plot_create(&wall, &scene, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_axis_curve_create(&axis, &scene, NULL), CAVUM_OK);
  int gaps = 0, bead = 0;
  for (int i = 0; i < wall.num_points; i++) {
    gaps += isnan(wall.e[i]);
    bead += hypot(wall.z_mm[i], wall.r_mm[i]) < 3.1;
    if (i == 0 || isnan(wall.e[i]) || isnan(wall.e[i - 1])) continue;
    double along = wall.s_mm[i] - wall.s_mm[i - 1];
    double jump = hypot(wall.z_mm[i] - wall.z_mm[i - 1], wall.r_mm[i] - wall.r_mm[i - 1]);
    ck_assert_msg(along >= 0.0 && jump <= 1.1 * along + 1e-6, "%g mm at %g mm", jump, along);
  }
  ck_assert_int_eq(gaps, 1);
  ck_assert_int_gt(bead, 10);
  // Two plates, the round wall, half the way around the bead; the trapezoidal rule is exact here.
  CAVUM_CHECK_NEAR(wall.s_mm[wall.num_points - 1], 300.0 + 3.0 * acos(-1.0), 1e-3);
  gaps = 0;
  for (int i = 0; i < axis.num_points; i++) {
    gaps += isnan(axis.e_z[i]);
    ck_assert(fabs(axis.z_mm[i]) >= 3.0 - 1e-9);
  }
  ck_assert_int_eq(gaps, 1);
  cavum_axis_curve_clear(&axis);
  cavum_wall_plot_clear(&wall);
  cavum_scene_clear(&scene);
  cavum_result_destroy(&result);
}
END_TEST

// Places in a cell of a millimetre have more decimals than those in one of a tenth of a metre: the
// largest H of TM010 is at 1.8412 / 2.4048 of the radius, 1.1484 mm (closed form), and text stays
// together with its number.
START_TEST(places_in_a_small_cell) {
  cavum_result *result = solve_text(
      "accelerating_length_mm: 1.5\ncontour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n  path:\n"
      "    - {line_to: {z_mm: 1.5, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: 1.5, r_mm: 1.5}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0, r_mm: 1.5}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: metal}\n");
  cavum_picture_options options = cavum_picture_options_default();
  char *bytes = NULL;
  size_t size = 0;
  options.format = CAVUM_PICTURE_SVG;
  ck_assert_int_eq(cavum_picture_draw_result(&bytes, &size, result, &options, NULL), CAVUM_OK);
  const char *place = strstr(bytes,
                             "r\xc2\xa0=\xc2\xa0"
                             "1.14");
  ck_assert_ptr_nonnull(place);
  printf("%.24s\n", place);
  CAVUM_CHECK_NEAR(strtod(place + 6, NULL), 1.1484, 2e-4);
  ck_assert_ptr_eq(strstr(place + 6, "\xc2\xa0mm"), place + 12);
  free(bytes);
  cavum_result_destroy(&result);
}
END_TEST

START_TEST(what_cannot_be_drawn) {
  cavum_result *result = solve("pillbox", 0);
  cavum_error error = {0};
  char *bytes = NULL;
  size_t size = 0;
  cavum_picture_options options = cavum_picture_options_default();
  ck_assert_int_eq(cavum_picture_draw_result(&bytes, &size, result, &options, &error),
                   CAVUM_ERR_INPUT);
  ck_assert_ptr_nonnull(strstr(error.message, "field grid"));
  options.mode = result->num_modes;
  ck_assert_int_eq(cavum_picture_draw_result(&bytes, &size, result, &options, &error),
                   CAVUM_ERR_INPUT);
  options.width_px = 10;
  ck_assert_int_eq(cavum_picture_draw_result(&bytes, &size, result, &options, &error),
                   CAVUM_ERR_RANGE);
  cavum_picture_format format;
  ck_assert_int_eq(cavum_picture_find_format(&format, "a.jpg", &error), CAVUM_ERR_USAGE);
  ck_assert_int_eq(cavum_picture_find_format(&format, "a.PDF", &error), CAVUM_OK);
  ck_assert_int_eq(format, CAVUM_PICTURE_PDF);
  ck_assert_ptr_null(bytes);
  cavum_result_destroy(&result);
}
END_TEST

START_TEST(report_without_fields) {
  cavum_result *result = solve("pillbox", 0);
  char *bytes = NULL;
  size_t size = 0;
  free(result->title);
  result->title = strdup("<b>\"title\" & more</b>");
  ck_assert_int_eq(cavum_picture_report_result(&bytes, &size, result, NULL, NULL), CAVUM_OK);
  ck_assert_uint_eq(strlen(bytes), size);
  ck_assert_ptr_nonnull(strstr(bytes, "&lt;b&gt;&quot;title&quot; &amp; more"));
  ck_assert_ptr_null(strstr(bytes, "<b>"));
  ck_assert_ptr_nonnull(strstr(bytes, "holds no fields"));
  free(bytes);
  cavum_result_destroy(&result);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, every_view_in_every_form);
  tcase_add_test(tests, half_models_are_drawn_whole);
  tcase_add_test(tests, plane_away_from_zero);
  tcase_add_test(tests, map_of_a_pillbox);
  tcase_add_test(tests, bead_on_the_axis);
  tcase_add_test(tests, places_in_a_small_cell);
  tcase_add_test(tests, what_cannot_be_drawn);
  tcase_add_test(tests, report_without_fields);
}

CAVUM_TEST_MAIN("draw", add)
