// SPDX-License-Identifier: GPL-3.0-or-later
// Electric field lines: on the closed form of a pillbox, smooth on the page, and of a colour that
// is seen on every colour of the map.
#include <string.h>

#include "canvas/colour.h"
#include "cavum/cavum.h"
#include "picture/field_lines.h"
#include "picture/level_lines.h"
#include "support.h"

static const double RADIUS_M = 0.1, LENGTH_M = 0.15;

static const char PILLBOX[] =
    "contour:\n"
    "  kind: path\n"
    "  start: {z_mm: 0.0, r_mm: 0.0}\n"
    "  path:\n"
    "    - {line_to: {z_mm: 150.0, r_mm: 0.0}, boundary: axis}\n"
    "    - {line_to: {z_mm: 150.0, r_mm: 100.0}, boundary: metal}\n"
    "    - {line_to: {z_mm: 0.0, r_mm: 100.0}, boundary: metal}\n"
    "    - {line_to: {z_mm: 0.0, r_mm: 0.0}, boundary: metal}\n"
    "modes: {count: 5}\n";

// A cell with beam tubes: lines around nulls, next to the axis and into the tubes.
static const char TUBES[] =
    "contour:\n"
    "  kind: two-ellipse\n"
    "  half_length_mm: 50.0\n"
    "  iris_radius_mm: 30.0\n"
    "  equator_radius_mm: 90.0\n"
    "  equator_ellipse: {axial_mm: 35.0, radial_mm: 35.0}\n"
    "  iris_ellipse: {axial_mm: 10.0, radial_mm: 15.0}\n"
    "ends:\n"
    "  left: {kind: tube, length_mm: 120.0, close: electric}\n"
    "  right: {kind: tube, length_mm: 120.0, close: electric}\n"
    "modes: {count: 10}\n"
    "accuracy: {frequency: 1.0e-5, other_figures: 1.0e-2}\n";

static cavum_result *solve(const char *text) {
  cavum_cell cell;
  cavum_result *result = NULL;
  cavum_error error = {0};
  cavum_solve_options options = cavum_solve_options_default();
  options.profiles = true;
  options.field_order = CAVUM_FIELD_ORDER_CHOSEN;
  cavum_cell_set_defaults(&cell);
  ck_assert_msg(cavum_cell_read_text(&cell, text, strlen(text), "cell.yaml", &error) == CAVUM_OK,
                "%s", error.message);
  cavum_status status = cavum_solve(&result, &cell, &options, &error);
  ck_assert_msg(status == CAVUM_OK || status == CAVUM_ERR_NOT_CONVERGED, "%s", error.message);
  cavum_cell_clear(&cell);
  return result;
}

static double largest_flux(const cavum_field_grid *field) {
  double largest = 0.0;
  for (cavum_index i = 0; i < field->num_points; i++) {
    largest = fmax(largest, fabs(field->r_m[i] * field->h_phi_a_per_m[i]));
  }
  return largest;
}

// Lines as on a page where the cell is so many points long.
static void find_lines(cavum_level_lines *lines, cavum_level_options *options, cavum_scene *scene,
                       double points) {
  double point_m = (scene->z_high_m - scene->z_low_m) / points;
  *options = (cavum_level_options){.step_a = largest_flux(&scene->mode->field) / 14,
                                   .count = 14,
                                   .coarse_m = 6.0 * point_m,
                                   .fine_m = 0.03 * point_m};
  ck_assert_int_eq(cavum_level_lines_find(lines, scene, options, NULL), CAVUM_OK);
}

// TM_0np of a pillbox: r H_phi is proportional to r J1(k r) cos(p pi z / L), k R a zero of J0
// (J. D. Jackson, Classical Electrodynamics, 3rd ed. 1998, section 8.7).
static double shape_of(double z_m, double r_m, double zero, int p) {
  return r_m * j1(zero * r_m / RADIUS_M) * cos(p * M_PI * z_m / LENGTH_M);
}

START_TEST(lines_of_a_pillbox) {
  cavum_result *result = solve(PILLBOX);
  for (int m = 0; m < result->num_modes; m++) {
    const cavum_mode_result *mode = &result->modes[m];
    int n = mode->label[3] - '0', p = mode->label[4] - '0';
    // First two zeros of J0 (Abramowitz and Stegun 1964, table 9.5).
    double zero = n == 1 ? 2.404825557695773 : 5.520078110286311;
    ck_assert_int_le(n, 2);
    cavum_scene scene;
    cavum_level_lines lines = {0};
    cavum_level_options options;
    ck_assert_int_eq(cavum_scene_create(&scene, result, m + 1, NULL), CAVUM_OK);
    find_lines(&lines, &options, &scene, 400.0);
    const cavum_field_grid *field = &mode->field;
    double above = 0.0, below = 0.0;  // Least squares: what the solution is times the closed form.
    for (cavum_index i = 0; i < field->num_points; i++) {
      double shape = shape_of(field->z_m[i], field->r_m[i], zero, p);
      above += shape * field->r_m[i] * field->h_phi_a_per_m[i];
      below += shape * shape;
    }
    double worst = 0.0;
    ck_assert_int_gt(lines.num_pieces, 10);
    for (int64_t k = 0; k < lines.num_pieces; k++) {
      const cavum_level_piece *piece = &lines.pieces[k];
      for (int64_t i = piece->first; i < piece->first + piece->count; i++) {
        double value = above / below * shape_of(lines.points[i].z_m, lines.points[i].r_m, zero, p);
        worst = fmax(worst, fabs(value / options.step_a - (piece->level + 0.5)));
      }
    }
    // In steps between lines, which are 10 to 30 points wide here. The solution is good to 1e-4 of
    // the largest value, of which a step is a fourteenth.
    printf("%s: %d points\n", mode->label, (int)lines.num_points);
    CAVUM_CHECK_NEAR(worst, 0.0, 14e-4);
    cavum_level_lines_clear(&lines);
    cavum_scene_clear(&scene);
  }
  cavum_result_destroy(&result);
}
END_TEST

// Largest turn from one segment to the next, in degrees, of segments that can be told on paper.
static double largest_turn(const cavum_level_lines *lines, double point_m) {
  double largest = 0.0;
  for (int64_t k = 0; k < lines->num_pieces; k++) {
    const cavum_level_point *at = &lines->points[lines->pieces[k].first];
    double before = NAN, z = at->z_m, r = at->r_m;
    for (int64_t i = 1; i < lines->pieces[k].count; i++) {
      double dz = at[i].z_m - z, dr = at[i].r_m - r;
      if (hypot(dz, dr) < 0.7 * point_m) continue;
      double angle = atan2(dr, dz);
      double turn = isnan(before) ? 0.0 : fabs(remainder(angle - before, 2.0 * M_PI));
      largest = fmax(largest, turn * 180.0 / M_PI);
      before = angle;
      z = at[i].z_m;
      r = at[i].r_m;
    }
  }
  return largest;
}

START_TEST(lines_are_smooth) {
  cavum_result *result = solve(TUBES);
  for (int m = 0; m < result->num_modes; m++) {
    cavum_scene scene;
    cavum_level_lines lines = {0};
    cavum_level_options options;
    ck_assert_int_eq(cavum_scene_create(&scene, result, m + 1, NULL), CAVUM_OK);
    find_lines(&lines, &options, &scene, 600.0);
    // An arc of radius R that its chord c leaves by at most 0.03 points turns by c / R =
    // sqrt(8 * 0.03 / R): 28 degrees where R is a point, which is a ring as small as a letter's
    // dot.
    double turn = largest_turn(&lines, (scene.z_high_m - scene.z_low_m) / 600.0);
    printf("mode %d, %s: largest turn %.1f degrees\n", m + 1, result->modes[m].label, turn);
    ck_assert_double_lt(turn, 28.0);
    cavum_level_lines_clear(&lines);
    cavum_scene_clear(&scene);
  }
  cavum_result_destroy(&result);
}
END_TEST

START_TEST(lines_are_seen_on_every_colour) {
  uint32_t palette[256];
  cavum_colour_fill_palette(palette, CAVUM_COLOUR_EMBER);
  for (int i = 1; i < 256; i++) {
    double dark = cavum_colour_contrast(palette[i], cavum_ink_colour(CAVUM_INK_FIELD_LINE, false));
    double light =
        cavum_colour_contrast(palette[i], cavum_ink_colour(CAVUM_INK_FIELD_LINE_LIGHT, false));
    // 3 is what the Web Content Accessibility Guidelines 2.2 want of graphics (1.4.11).
    ck_assert_double_gt(fmax(dark, light), 3.0);
  }
  // White on black is 21 by the definition, and mid grey #767676 on white the well-known 4.54.
  CAVUM_CHECK_NEAR(cavum_colour_contrast(0x000000, 0xffffff), 21.0, 1e-12);
  CAVUM_CHECK_NEAR(cavum_colour_contrast(0xffffff, 0x767676), 4.54, 5e-3);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, lines_of_a_pillbox);
  tcase_add_test(tests, lines_are_smooth);
  tcase_add_test(tests, lines_are_seen_on_every_colour);
}

CAVUM_TEST_MAIN("field_lines", add)
