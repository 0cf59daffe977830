// SPDX-License-Identifier: GPL-3.0-or-later
// Cells that are hard to draw: long and thin, flat, with sharp corners of both kinds.
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cavum/cavum.h"
#include "picture/curves.h"
#include "picture/outline.h"
#include "picture/overlay_shift.h"
#include "picture/section.h"
#include "support.h"

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

static cavum_result *solve_pillbox(double length_mm, double radius_mm) {
  char text[640];
  snprintf(text, sizeof text,
           "contour:\n"
           "  kind: path\n"
           "  start: {z_mm: 0.0, r_mm: 0.0}\n"
           "  path:\n"
           "    - {line_to: {z_mm: %.1f, r_mm: 0.0}, boundary: axis}\n"
           "    - {line_to: {z_mm: %.1f, r_mm: %.1f}, boundary: metal}\n"
           "    - {line_to: {z_mm: 0.0, r_mm: %.1f}, boundary: metal}\n"
           "    - {line_to: {z_mm: 0.0, r_mm: 0.0}, boundary: metal}\n"
           "modes: {count: 1}\n",
           length_mm, length_mm, radius_mm, radius_mm);
  return solve(text);
}

static char *draw(const cavum_result *result) {
  cavum_picture_options options = cavum_picture_options_default();
  char *bytes = NULL;
  size_t size = 0;
  options.format = CAVUM_PICTURE_SVG;
  ck_assert_int_eq(cavum_picture_draw_result(&bytes, &size, result, &options, NULL), CAVUM_OK);
  return bytes;
}

// On a page with little room, too, the scales differ by a number of at most two digits, the second
// a 5 or a 0.
static void check_round(const cavum_scene *scene) {
  for (double room = 90.0; room < 800.0; room += 7.0) {
    cavum_section section = cavum_section_fit(scene, CAVUM_PICTURE_BOTH, false,
                                              CAVUM_ALONG_WALL_NOTHING, 0, 0, room, 0.6 * room);
    double ratio = section.scale_r / section.scale_z;
    if (ratio < 1.0) ratio = 1.0 / ratio;
    double steps = 2.0 * ratio / pow(10.0, floor(log10(ratio) + 1e-9));
    ck_assert_double_eq_tol(steps, round(steps), 1e-6);
    ck_assert_double_ge(ratio, 1.0 - 1e-9);
  }
}

// The scales differ by a round number exactly where the picture says so.
static void check_stretch(double length_mm, double radius_mm, const char *says) {
  cavum_result *result = solve_pillbox(length_mm, radius_mm);
  cavum_scene scene;
  ck_assert_int_eq(cavum_scene_create(&scene, result, 1, NULL), CAVUM_OK);
  cavum_section section = cavum_section_fit(&scene, CAVUM_PICTURE_BOTH, false,
                                            CAVUM_ALONG_WALL_NOTHING, 0, 0, 700.0, 450.0);
  printf("%g x %g mm: scales %g and %g, frame %g x %g\n", length_mm, radius_mm, section.scale_z,
         section.scale_r, section.plot.width, section.plot.height);
  ck_assert_int_eq(section.scale_z != section.scale_r, says != NULL);
  ck_assert_double_le(section.plot.width, 700.0);
  ck_assert_double_le(section.plot.height, 450.0);
  // Room for two numbers, 9.5 points high, on each axis and each half of the colour scales.
  ck_assert_double_ge(section.plot.height, 86.0);
  ck_assert_double_ge(section.plot.width, 66.0);
  check_round(&scene);
  char *svg = draw(result);
  ck_assert_int_eq(strstr(svg, "not to scale") != NULL, says != NULL);
  ck_assert_ptr_null(strstr(svg, "the cell to scale"));  // What is read out.
  if (says) ck_assert_ptr_nonnull(strstr(svg, says));
  free(svg);
  cavum_scene_clear(&scene);
  cavum_result_destroy(&result);
}

START_TEST(long_and_flat_cells_are_stretched) {
  check_stretch(100.0, 100.0, NULL);
  check_stretch(60.0, 170.0, NULL);   // A narrow one, too.
  check_stretch(970.0, 110.0, NULL);  // Five cells with their tubes: to scale it has the room.
  check_stretch(800.0, 20.0, "r stretched");
  check_stretch(10.0, 200.0, "z stretched");
  check_stretch(2.0, 300.0, "z stretched 100 times");  // No power of ten beside it.
}
END_TEST

// Two cylinders, the inner edge at z = 0 sticks out into the cell (E unbounded), the outer corners
// are narrower than 180 degrees (E = 0).
static const char STEP[] =
    "contour:\n"
    "  kind: path\n"
    "  start: {z_mm: -50.0, r_mm: 0.0}\n"
    "  path:\n"
    "    - {line_to: {z_mm: 60.0, r_mm: 0.0}, boundary: axis}\n"
    "    - {line_to: {z_mm: 60.0, r_mm: 90.0}, boundary: metal}\n"
    "    - {line_to: {z_mm: 20.0, r_mm: 96.0}, boundary: metal}\n"
    "    - {line_to: {z_mm: 0.0, r_mm: 90.0}, boundary: metal}\n"
    "    - {line_to: {z_mm: 0.0, r_mm: 30.0}, boundary: metal}\n"
    "    - {line_to: {z_mm: -50.0, r_mm: 30.0}, boundary: metal}\n"
    "    - {line_to: {z_mm: -50.0, r_mm: 0.0}, boundary: metal}\n"
    "modes: {count: 1}\n"
    "accuracy: {frequency: 1.0e-4, other_figures: 1.0e-1}\n";

START_TEST(field_in_corners) {
  cavum_result *result = solve(STEP);
  cavum_scene scene;
  cavum_wall_plot wall;
  ck_assert_int_eq(cavum_scene_create(&scene, result, 1, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_wall_plot_create(&wall, &scene, NULL), CAVUM_OK);
  // (20, 96) is wider than 150 degrees: the field beside it is far from 0, that in it is 0.
  static const double corners[][2] = {{60.0, 90.0}, {20.0, 96.0}, {0.0, 90.0}, {-50.0, 30.0}};
  for (int k = 0; k < 4; k++) {
    int found = 0;
    for (int i = 0; i < wall.num_points; i++) {
      if (hypot(wall.z_mm[i] - corners[k][0], wall.r_mm[i] - corners[k][1]) > 1e-6) continue;
      ck_assert_double_eq(wall.e[i], 0.0);
      found++;
    }
    ck_assert_int_ge(found, 1);
  }
  // Nowhere else on straight walls at right angles to the axis.
  ck_assert_int_eq(result->modes[0].figures[CAVUM_FIGURE_EPK_OVER_EACC].state,
                   CAVUM_FIGURE_UNBOUNDED);
  double top = 0.0;
  for (int i = 0; i < wall.num_points; i++) {
    if (isfinite(wall.e[i])) top = fmax(top, wall.e[i]);
    if (hypot(wall.z_mm[i], wall.r_mm[i] - 30.0) < 1e-6) ck_assert_double_gt(wall.e[i], 0.0);
  }
  ck_assert_double_lt(wall.e_high, top);  // The spike leaves the frame.
  cavum_wall_plot_clear(&wall);
  cavum_scene_clear(&scene);
  cavum_result_destroy(&result);
}
END_TEST

// A ring between two conductors has no gradient; the corner of its inner one is unbounded all the
// same, is said so and does not stretch the scales.
START_TEST(a_corner_without_a_gradient) {
  cavum_result *result = solve(
      "contour:\n"
      "  kind: path\n"
      "  start: {z_mm: 0.0, r_mm: 20.0}\n"
      "  path:\n"
      "    - {line_to: {z_mm: 90.0, r_mm: 20.0}, boundary: metal}\n"
      "    - {line_to: {z_mm: 90.0, r_mm: 35.0}, boundary: metal}\n"
      "    - {line_to: {z_mm: 200.0, r_mm: 35.0}, boundary: metal}\n"
      "    - {line_to: {z_mm: 200.0, r_mm: 60.0}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0.0, r_mm: 60.0}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0.0, r_mm: 20.0}, boundary: metal}\n"
      "modes: {count: 1}\n");
  cavum_scene scene;
  cavum_wall_plot wall;
  ck_assert_int_eq(cavum_scene_create(&scene, result, 1, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_wall_plot_create(&wall, &scene, NULL), CAVUM_OK);
  ck_assert(scene.e_goes_on && !scene.h_goes_on && !scene.per_gradient);
  double top = 0.0;
  for (int i = 0; i < wall.num_points; i++) {
    if (isfinite(wall.e[i])) top = fmax(top, wall.e[i]);
  }
  printf("axis to %.3g, spike to %.3g, colours to %.3g MV/m\n", wall.e_high, top, scene.e_largest);
  ck_assert_double_lt(wall.e_high, top);
  ck_assert_double_lt(scene.e_largest, top);
  char *svg = draw(result);
  ck_assert_ptr_nonnull(strstr(svg, "|E| unbounded: sharp corner at z"));
  // Nothing of the cell is on the axis; its line is drawn, and is in the key.
  ck_assert_ptr_nonnull(strstr(svg, ">axis<"));
  free(svg);
  cavum_wall_plot_clear(&wall);
  cavum_scene_clear(&scene);
  cavum_result_destroy(&result);
}
END_TEST

static int count_of(const char *text, const char *part) {
  int count = 0;
  for (const char *at = strstr(text, part); at; at = strstr(at + 1, part)) count++;
  return count;
}

// Walls of 10 mm that stand in a pillbox of 90 mm, each with two corners of 270 degrees, at both
// sides of z = 0: it is solved as a half. `at_r` is where the walls end.
static cavum_result *solve_walls(double at_r) {
  char text[1400];
  snprintf(text, sizeof text,
           "accelerating_length_mm: 100.0\n"
           "contour:\n"
           "  kind: path\n"
           "  start: {z_mm: -100.0, r_mm: 0.0}\n"
           "  path:\n"
           "    - {line_to: {z_mm: 100.0, r_mm: 0.0}, boundary: axis}\n"
           "    - {line_to: {z_mm: 100.0, r_mm: 90.0}, boundary: metal}\n"
           "    - {line_to: {z_mm: 40.0, r_mm: 90.0}, boundary: metal}\n"
           "    - {line_to: {z_mm: 40.0, r_mm: %g}, boundary: metal}\n"
           "    - {line_to: {z_mm: 30.0, r_mm: %g}, boundary: metal}\n"
           "    - {line_to: {z_mm: 30.0, r_mm: 90.0}, boundary: metal}\n"
           "    - {line_to: {z_mm: -30.0, r_mm: 90.0}, boundary: metal}\n"
           "    - {line_to: {z_mm: -30.0, r_mm: %g}, boundary: metal}\n"
           "    - {line_to: {z_mm: -40.0, r_mm: %g}, boundary: metal}\n"
           "    - {line_to: {z_mm: -40.0, r_mm: 90.0}, boundary: metal}\n"
           "    - {line_to: {z_mm: -100.0, r_mm: 90.0}, boundary: metal}\n"
           "    - {line_to: {z_mm: -100.0, r_mm: 0.0}, boundary: metal}\n"
           "modes: {count: 1}\n"
           "accuracy: {frequency: 1.0e-4, other_figures: 1.0e-1}\n",
           at_r, at_r, at_r, at_r);
  return solve(text);
}

// The figure names one of four corners; section, wall and key have them all.
START_TEST(every_sharp_corner_is_marked) {
  cavum_result *result = solve_walls(30.0);
  cavum_scene scene;
  ck_assert_int_eq(cavum_scene_create(&scene, result, 1, NULL), CAVUM_OK);
  ck_assert(result->half_model);
  ck_assert_int_eq(scene.num_corners, 4);
  for (int k = 0; k < 4; k++) {
    double z_mm = (k % 2 ? 40.0 : 30.0) * (k < 2 ? 1.0 : -1.0);
    int found = 0;
    for (int i = 0; i < 4; i++) {
      found += hypot(scene.corners[i].z_m - 1e-3 * z_mm, scene.corners[i].r_m - 0.03) < 1e-9;
    }
    ck_assert_int_eq(found, 1);
  }
  cavum_scene_clear(&scene);
  char *svg = draw(result);
  ck_assert_ptr_nonnull(strstr(svg, "unbounded: 4 sharp corners, one at z"));
  ck_assert_int_eq(count_of(svg, "<path class=\"f12\""), 4 + 4 + 1);
  free(svg);
  // Solved at one degree alone all of the wall is as uncertain; the figure's own corner is left.
  cavum_mode_result *mode = &result->modes[0];
  for (cavum_index i = 0; i < mode->wall.num_points; i++) {
    mode->wall_e_uncertainty_v_per_m[i] = HUGE_VAL;
  }
  svg = draw(result);
  ck_assert_ptr_nonnull(strstr(svg, "unbounded: sharp corner at z"));
  free(svg);
  cavum_result_destroy(&result);
}
END_TEST

// The view of the wall has the marks of both peaks, and says what they are.
START_TEST(marks_on_the_wall_have_keys) {
  cavum_picture_options options = cavum_picture_options_default();
  cavum_result *sharp = solve_walls(30.0), *smooth = solve_pillbox(100.0, 100.0);
  char *svg = NULL;
  size_t size = 0;
  options.format = CAVUM_PICTURE_SVG;
  options.view = CAVUM_VIEW_WALL;
  ck_assert_int_eq(cavum_picture_draw_result(&svg, &size, sharp, &options, NULL), CAVUM_OK);
  ck_assert_ptr_nonnull(strstr(svg, "unbounded: 4 sharp corners"));
  ck_assert_int_eq(count_of(svg, "<path class=\"f12\""), 4 + 1);
  free(svg);
  ck_assert_int_eq(cavum_picture_draw_result(&svg, &size, smooth, &options, NULL), CAVUM_OK);
  ck_assert_int_eq(count_of(svg, " at z\xc2\xa0="), 2);
  free(svg);
  cavum_result_destroy(&sharp);
  cavum_result_destroy(&smooth);
}
END_TEST

// Highest point on the page of a path's data.
static double top_of(const char *data) {
  double top = HUGE_VAL;
  for (const char *at = data; *at && *at != '"'; at++) {
    char *end = NULL;
    if (*at != 'M' && *at != 'L') continue;
    strtod(at + 1, &end);
    if (*end == ',') top = fmin(top, strtod(end + 1, NULL));
  }
  return top;
}

// Two cells over each other: the field at the corners of the one whose axis would end lower leaves
// the frame as well, above the ends of its samples.
START_TEST(spikes_of_all_cells_leave_the_frame) {
  cavum_result *low = solve_walls(85.0), *high = solve_walls(12.0);
  const cavum_result *results[2] = {low, high};
  const char *names[2] = {"low", "high"};
  const int modes[2] = {0, 0};
  cavum_picture_options options = cavum_picture_options_default();
  char *svg = NULL;
  size_t size = 0;
  options.format = CAVUM_PICTURE_SVG;
  ck_assert_int_eq(
      cavum_picture_compare_results(&svg, &size, results, names, modes, &options, NULL), CAVUM_OK);
  const char *at = svg;
  for (int frame = 0; frame < 3; frame++) at = strstr(at + 1, "<clipPath ");  // |E| on the wall
  double top = top_of(strstr(at, " d=\"") + 4);
  for (int k = 0; k < 2; k++) {
    const char *line = strstr(at, k == 0 ? "<path class=\"s12\"" : "<path class=\"s13\"");
    double reaches = top_of(strstr(line, " d=\"") + 4);
    printf("%s: frame from %g, spike from %g\n", names[k], top, reaches);
    ck_assert_double_lt(reaches, top - 10.0);
  }
  free(svg);
  cavum_result_destroy(&low);
  cavum_result_destroy(&high);
}
END_TEST

// A material in one element of a pillbox that was solved as a half: its edge in both halves and for
// both fields, in the section and in the mesh, and a key that says what it is. The line has a
// colour that nothing else on these pages has.
START_TEST(materials_are_drawn_and_named) {
  cavum_result *result = solve_pillbox(100.0, 100.0);
  cavum_region *regions = calloc(2, sizeof *regions);
  ck_assert(result->half_model);
  ck_assert_int_gt(result->mesh.num_elements, 1);
  ck_assert_int_eq(result->mesh.num_regions, 1);
  char *plain = draw(result);
  const char *line = "class=\"s14\"";  // CAVUM_INK_THIRD.
  ck_assert_ptr_null(strstr(plain, line));
  ck_assert_ptr_null(strstr(plain, "material"));
  regions[0] = result->mesh.regions[0];
  regions[1] = (cavum_region){strdup("support rod"), 9.8, 2.5};
  free(result->mesh.regions);
  result->mesh.regions = regions;
  result->mesh.num_regions = 2;
  result->mesh.elements[0].region = 1;
  for (int view = CAVUM_VIEW_SECTION; view <= CAVUM_VIEW_MESH; view++) {
    cavum_picture_options options = cavum_picture_options_default();
    char *svg = NULL;
    size_t size = 0;
    options.format = CAVUM_PICTURE_SVG;
    options.view = (cavum_picture_view)view;
    if (view != CAVUM_VIEW_SECTION && view != CAVUM_VIEW_MESH) continue;
    ck_assert_int_eq(cavum_picture_draw_result(&svg, &size, result, &options, NULL), CAVUM_OK);
    // One path for each half and field, and the line of the key.
    ck_assert_int_eq(count_of(svg, line), view == CAVUM_VIEW_SECTION ? 5 : 3);
    ck_assert_ptr_nonnull(strstr(svg, "support rod, material of"));
    ck_assert_ptr_nonnull(strstr(svg, "= 9.8, "));
    ck_assert_ptr_nonnull(strstr(svg, "= 2.5<"));
    free(svg);
  }
  free(plain);
  cavum_result_destroy(&result);
}
END_TEST

// A cell whose round wall falls by some tenths of a millimetre from `left_mm` to `right_mm`, all of
// it moved along z.
static cavum_result *solve_slanted(double z_mm, double left_mm, double right_mm) {
  char text[640];
  snprintf(text, sizeof text,
           "contour:\n"
           "  kind: path\n"
           "  start: {z_mm: %g, r_mm: 0.0}\n"
           "  path:\n"
           "    - {line_to: {z_mm: %g, r_mm: 0.0}, boundary: axis}\n"
           "    - {line_to: {z_mm: %g, r_mm: %g}, boundary: metal}\n"
           "    - {line_to: {z_mm: %g, r_mm: %g}, boundary: metal}\n"
           "    - {line_to: {z_mm: %g, r_mm: 0.0}, boundary: metal}\n"
           "modes: {count: 1}\n",
           z_mm, z_mm + 30.0, z_mm + 30.0, right_mm, z_mm, left_mm, z_mm);
  return solve(text);
}

// The widest place of a slanted wall is at its end, and jumps to the other end when the wall tilts:
// such cells lie over each other as they were drawn. A cell that was moved still stands with its
// equator at that of the first.
START_TEST(slanted_walls_lie_over_each_other) {
  cavum_result *results[] = {solve_slanted(0.0, 42.0, 42.0), solve_slanted(0.0, 42.0, 41.9),
                             solve_slanted(0.0, 41.9, 42.0), solve_slanted(500.0, 42.0, 42.0)};
  // The middle of the flat wall at z = 15 mm, and of the moved one.
  static const double expected_m[] = {-0.015, -0.015, -0.015, -0.515};
  cavum_scene scenes[4];
  for (int k = 0; k < 4; k++) {
    ck_assert_int_eq(cavum_scene_create(&scenes[k], results[k], 1, NULL), CAVUM_OK);
    CAVUM_CHECK_NEAR(cavum_overlay_shift_m(&scenes[k], k > 0 ? &scenes[0] : NULL), expected_m[k],
                     1e-12);
  }
  for (int k = 0; k < 4; k++) {
    cavum_scene_clear(&scenes[k]);
    cavum_result_destroy(&results[k]);
  }
}
END_TEST

// Strokes of the hatch of a scene on a page of 2 points a millimetre, over those that the length of
// its metal has room for, one in 6 points.
static double hatched_share(const cavum_scene *scene, bool flipped) {
  const cavum_canvas_page page = {.kind = CAVUM_CANVAS_SVG,
                                  .width = 400.0,
                                  .height = 300.0,
                                  .scale = 1.0,
                                  .title = "",
                                  .description = ""};
  const cavum_field_frame frame = {100.0, flipped ? 20.0 : 280.0, 2000.0, 2000.0, flipped};
  cavum_canvas *canvas = NULL;
  char *svg = NULL;
  size_t size = 0;
  double length = 0.0;
  int strokes = 0;
  ck_assert_int_eq(cavum_canvas_create(&canvas, &page, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_outline_draw(canvas, scene, &frame, true, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_canvas_finish(&svg, &size, canvas, NULL), CAVUM_OK);
  const char *hatch = strstr(svg, "class=\"s5\" stroke-width=\"0.6\" d=\"");
  ck_assert_ptr_nonnull(hatch);
  for (const char *at = strstr(hatch, " d=") + 4; *at != '"'; at++)
    strokes += *at == 'M' || *at == 'm';
  for (int i = 0; i < scene->loops[0].num_points; i++) {
    const cavum_scene_loop *loop = &scene->loops[0];
    int k = (i + 1) % loop->num_points;
    if (loop->boundary[i] != CAVUM_BOUNDARY_METAL) continue;
    length += 2000.0 * hypot(loop->z_m[k] - loop->z_m[i], loop->r_m[k] - loop->r_m[i]);
  }
  cavum_canvas_destroy(&canvas);
  free(svg);
  printf("%d strokes on %.0f points of metal\n", strokes, length);
  return strokes * 6.0 / length;
}

// Metal that bulges into the cell is hatched as well: an iris that is half a circle of 20 mm,
// between two flat walls.
START_TEST(irises_are_hatched) {
  cavum_result *result = solve(
      "accelerating_length_mm: 60\ncontour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n  path:\n"
      "    - {line_to: {z_mm: 60, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: 60, r_mm: 90}, boundary: metal}\n"
      "    - {line_to: {z_mm: 50, r_mm: 90}, boundary: metal}\n"
      "    - {line_to: {z_mm: 50, r_mm: 50}, boundary: metal}\n"
      "    - {arc_to: {z_mm: 10, r_mm: 50}, centre: {z_mm: 30, r_mm: 50}, turn: right, boundary: "
      "metal}\n"
      "    - {line_to: {z_mm: 10, r_mm: 90}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0, r_mm: 90}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: metal}\nmodes: {count: 1}\n"
      "accuracy: {frequency: 1.0e-4, other_figures: 1.0e-1}\n");
  cavum_scene scene;
  ck_assert_int_eq(cavum_scene_create(&scene, result, 1, NULL), CAVUM_OK);
  // A few strokes have no room at the corners; the half circle has a sixth of the metal.
  for (int flipped = 0; flipped < 2; flipped++) {
    ck_assert_double_gt(hatched_share(&scene, flipped != 0), 0.9);
  }
  cavum_scene_clear(&scene);
  cavum_result_destroy(&result);
}
END_TEST

// Nine bells in a row have more than fifty junctions: the eight irises between them are marked
// alone, where the radius is least. One bell shows its own junctions.
START_TEST(of_many_cells_the_irises_are_marked) {
  enum { CELLS = 9, PITCH = 115 };
  for (int cells = 1; cells <= CELLS; cells += CELLS - 1) {
    char text[8000];
    int length = snprintf(text, sizeof text,
                          "accelerating_length_mm: 100\nmodes: {count: 1}\n"
                          "contour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n  path:\n"
                          "    - {line_to: {z_mm: %d, r_mm: 0}, boundary: axis}\n"
                          "    - {line_to: {z_mm: %d, r_mm: 35}, boundary: magnetic}\n",
                          PITCH * cells, PITCH * cells);
    for (int c = cells - 1; c >= 0; c--) {
      double z = PITCH * c;
      length +=
          snprintf(text + length, sizeof text - (size_t)length,
                   "    - {arc_to: {z_mm: %g, r_mm: 45}, centre: {z_mm: %g, r_mm: 45}, turn: "
                   "right, boundary: metal}\n"
                   "    - {line_to: {z_mm: %g, r_mm: 73}, boundary: metal}\n"
                   "    - {arc_to: {z_mm: %g, r_mm: 103}, centre: {z_mm: %g, r_mm: 73}, turn: "
                   "left, boundary: metal}\n"
                   "    - {line_to: {z_mm: %g, r_mm: 103}, boundary: metal}\n"
                   "    - {arc_to: {z_mm: %g, r_mm: 73}, centre: {z_mm: %g, r_mm: 73}, turn: left, "
                   "boundary: metal}\n"
                   "    - {line_to: {z_mm: %g, r_mm: 45}, boundary: metal}\n"
                   "    - {arc_to: {z_mm: %g, r_mm: 35}, centre: {z_mm: %g, r_mm: 45}, turn: "
                   "right, boundary: metal}\n",
                   z + 105, z + 115, z + 105, z + 75, z + 75, z + 40, z + 10, z + 40, z + 10, z, z);
    }
    snprintf(text + length, sizeof text - (size_t)length,
             "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: magnetic}\n");
    cavum_result *result = solve(text);
    cavum_scene scene;
    cavum_wall_plot wall;
    ck_assert_int_eq(cavum_scene_create(&scene, result, 1, NULL), CAVUM_OK);
    ck_assert_int_eq(cavum_wall_plot_create(&wall, &scene, NULL), CAVUM_OK);
    printf("%d cells: %d lines\n", cells, wall.num_junctions);
    ck_assert_int_eq(wall.num_junctions, cells == 1 ? 6 : CELLS - 1);
    for (int i = 0; cells > 1 && i < wall.num_junctions; i++) {
      int at = 0;
      for (int k = 1; k < wall.num_points; k++) {
        double nearer = fabs(wall.s_mm[k] - wall.junction_mm[i]);
        if (nearer < fabs(wall.s_mm[at] - wall.junction_mm[i])) at = k;
      }
      CAVUM_CHECK_NEAR(wall.r_mm[at], 35.0, 0.1);
      CAVUM_CHECK_NEAR(wall.z_mm[at], PITCH * (i + 1.0), 1.0);
    }
    cavum_picture_options options = cavum_picture_options_default();
    char *svg = NULL;
    size_t size = 0;
    options.format = CAVUM_PICTURE_SVG;
    options.view = CAVUM_VIEW_WALL;
    ck_assert_int_eq(cavum_picture_draw_result(&svg, &size, result, &options, NULL), CAVUM_OK);
    ck_assert_int_eq(strstr(svg, "iris between cells") != NULL, cells > 1);
    ck_assert_int_eq(strstr(svg, "junction of the contour") != NULL, cells == 1);
    // In both frames, and in the key.
    ck_assert_int_eq(count_of(svg, "stroke-dasharray=\"1.5,2.5\""), 2 * wall.num_junctions + 1);
    free(svg);
    cavum_wall_plot_clear(&wall);
    cavum_scene_clear(&scene);
    cavum_result_destroy(&result);
  }
}
END_TEST

// A spline of one cell that dips by 0.01 mm beside its end planes has no iris between cells there.
START_TEST(a_dip_is_no_iris) {
  enum { POINTS = 39 };
  char text[8192];
  int length = snprintf(text, sizeof text,
                        "accelerating_length_mm: 120\ncontour:\n  kind: path\n"
                        "  start: {z_mm: -60, r_mm: 0}\n  path:\n"
                        "    - {line_to: {z_mm: 60, r_mm: 0}, boundary: axis}\n"
                        "    - {line_to: {z_mm: 60, r_mm: 40.01}, boundary: magnetic}\n"
                        "    - spline_through:\n");
  for (int i = 1; i <= POINTS; i++) {
    double z = 60.0 - 120.0 * i / (POINTS + 1.0), c = cos(3.14159265358979 * z / 120.0);
    double r = i == 1 || i == POINTS ? 40.0 : 40.0 + 60.0 * c * c;
    length += snprintf(text + length, sizeof text - (size_t)length,
                       "        - {z_mm: %.6f, r_mm: %.6f}\n", z, r);
  }
  snprintf(text + length, sizeof text - (size_t)length,
           "        - {z_mm: -60, r_mm: 40.01}\n      boundary: metal\n"
           "    - {line_to: {z_mm: -60, r_mm: 0}, boundary: magnetic}\n");
  cavum_result *result = solve(text);
  cavum_scene scene;
  cavum_wall_plot wall;
  ck_assert_int_eq(cavum_scene_create(&scene, result, 1, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_wall_plot_create(&wall, &scene, NULL), CAVUM_OK);
  ck_assert(wall.of_irises);
  ck_assert_int_eq(wall.num_junctions, 0);
  cavum_wall_plot_clear(&wall);
  cavum_scene_clear(&scene);
  cavum_result_destroy(&result);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, a_dip_is_no_iris);
  tcase_add_test(tests, irises_are_hatched);
  tcase_add_test(tests, of_many_cells_the_irises_are_marked);
  tcase_add_test(tests, every_sharp_corner_is_marked);
  tcase_add_test(tests, marks_on_the_wall_have_keys);
  tcase_add_test(tests, spikes_of_all_cells_leave_the_frame);
  tcase_add_test(tests, slanted_walls_lie_over_each_other);
  tcase_add_test(tests, materials_are_drawn_and_named);
  tcase_add_test(tests, long_and_flat_cells_are_stretched);
  tcase_add_test(tests, field_in_corners);
  tcase_add_test(tests, a_corner_without_a_gradient);
}

CAVUM_TEST_MAIN("shapes", add)
