// SPDX-License-Identifier: GPL-3.0-or-later
// Steps on cells that lean to one side: a cell and its mirror image are one cavity, whatever moves
// their walls. Pieces become parallels of circles, of ellipses and of cubics.
#include "step_chain.h"

// Of each curved kind one piece that is no circle; `s` is the side to which it leans.
static void write_cell(const char *name, int s) {
  char text[1024];
  const char *const forwards =
      "accelerating_length_mm: 60\n"
      "contour:\n  kind: path\n  start: {z_mm: -25, r_mm: 0}\n  path:\n"
      "    - {line_to: {z_mm: 75, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: 75, r_mm: 20}, boundary: metal}\n"
      "    - {line_to: {z_mm: 60, r_mm: 20}, boundary: metal}\n"
      "    - {spline_through: [{z_mm: 52, r_mm: 40}, {z_mm: 50, r_mm: 62}, {z_mm: 40, r_mm: 80},\n"
      "                        {z_mm: 5, r_mm: 90}],\n"
      "       direction_at_end_deg: 180, boundary: metal}\n"
      "    - {ellipse_to: {z_mm: -25, r_mm: 50}, centre: {z_mm: 5, r_mm: 50},\n"
      "       axial_mm: 30, radial_mm: 40, turn: left, boundary: metal}\n"
      "    - {line_to: {z_mm: -25, r_mm: 0}, boundary: metal}\n";
  const char *const backwards =
      "accelerating_length_mm: 60\n"
      "contour:\n  kind: path\n  start: {z_mm: -75, r_mm: 0}\n  path:\n"
      "    - {line_to: {z_mm: 25, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: 25, r_mm: 50}, boundary: metal}\n"
      "    - {ellipse_to: {z_mm: -5, r_mm: 90}, centre: {z_mm: -5, r_mm: 50},\n"
      "       axial_mm: 30, radial_mm: 40, turn: left, boundary: metal}\n"
      "    - {spline_through: [{z_mm: -40, r_mm: 80}, {z_mm: -50, r_mm: 62}, {z_mm: -52, r_mm: "
      "40},\n"
      "                        {z_mm: -60, r_mm: 20}],\n"
      "       direction_at_start_deg: 180, boundary: metal}\n"
      "    - {line_to: {z_mm: -75, r_mm: 20}, boundary: metal}\n"
      "    - {line_to: {z_mm: -75, r_mm: 0}, boundary: metal}\n";
  snprintf(text, sizeof text, "%saccuracy: {frequency: 1e-10}\n", s > 0 ? forwards : backwards);
  program_write_text(step_chain_folder, name, text);
}

static void set_up(void) {
  step_chain_set_up();
  write_cell("right.yaml", 1);
  write_cell("left.yaml", -1);
  ck_assert_int_eq(program_run(step_chain_folder,
                               "cp $CELLS/mid-cell.yaml . && "
                               "echo 'accuracy: {frequency: 1e-10}' >> mid-cell.yaml"),
                   0);
}

// Uniform, graded and uniform, and put on; stretched before it is etched again.
static const char *const chains[] = {
    "steps:\n  - remove: {depth_um: 1}\n",
    "steps:\n  - deposit: {depth_um: 300}\n",
    "steps:\n  - remove: {equator_um: 100, iris_um: 25}\n  - remove: {depth_um: 1}\n",
    ("steps:\n  - remove: {depth_um: 20}\n  - stretch: {length_mm: 0.1}\n"
     "  - remove: {depth_um: 30}\n"),
};

START_TEST(mirror_images_are_one_cavity) {
  cavum_steps_result *right = step_chain_run("right.yaml", chains[_i]);
  cavum_steps_result *left = step_chain_run("left.yaml", chains[_i]);
  for (int i = 0; i < right->num_steps; i++) {
    const cavum_step *a = right->steps[i], *b = left->steps[i];
    printf("%s: %.3f Hz, %.3f Hz\n", a->name, a->frequency_hz, b->frequency_hz);
    CAVUM_CHECK_RELATIVE(a->frequency_hz, b->frequency_hz, 1e-9);  // ten times what is asked for
    // The second order is a part of the depth over the radii of the wall, 0.3 mm of some 20 mm.
    if (i > 0) CAVUM_CHECK_RELATIVE(b->change_hz, b->estimate_hz, 0.03);
  }
  cavum_steps_result_destroy(&right);
  cavum_steps_result_destroy(&left);
}
END_TEST

// Halves between plates lean as well.
START_TEST(a_half_is_etched_evenly_once_it_was_etched_unevenly) {
  static const char *const halves[] = {"left", "right"};
  cavum_steps_result *of[2];
  char text[256];
  for (int k = 0; k < 2; k++) {
    snprintf(text, sizeof text,
             "dumb_bell: {half: %s}\nsteps:\n  - remove: {equator_um: 120, iris_um: 180}\n"
             "  - remove: {depth_um: 40}\n",
             halves[k]);
    of[k] = step_chain_run("mid-cell.yaml", text);
  }
  for (int i = 0; i < 3; i++) {
    const cavum_step *a = of[0]->steps[i], *b = of[1]->steps[i];
    printf("%s: %.3f Hz, %.3f Hz\n", a->name, a->frequency_hz, b->frequency_hz);
    CAVUM_CHECK_RELATIVE(a->frequency_hz, b->frequency_hz, 1e-9);
    if (i > 0) CAVUM_CHECK_RELATIVE(b->change_hz, b->estimate_hz, 0.03);
  }
  cavum_steps_result_destroy(&of[0]);
  cavum_steps_result_destroy(&of[1]);
}
END_TEST

// Thinned a lot and cut short at one iris: the ellipses are parallels of themselves by 2 mm.
START_TEST(a_cell_is_cut_alike_at_either_iris) {
  static const char *const irises[] = {"left", "right"};
  cavum_steps_result *of[2];
  char text[192];
  for (int k = 0; k < 2; k++) {
    snprintf(text, sizeof text,
             "steps:\n  - remove: {depth_um: 1943.598}\n"
             "  - weld: {at: %s iris, each_side_mm: 26.6417107}\n",
             irises[k]);
    of[k] = step_chain_run("mid-cell.yaml", text);
  }
  CAVUM_CHECK_RELATIVE(of[0]->steps[2]->frequency_hz, of[1]->steps[2]->frequency_hz, 1e-9);
  cavum_steps_result_destroy(&of[0]);
  cavum_steps_result_destroy(&of[1]);
}
END_TEST

// Halves of unequal length with an allowance that a trim and a weld use up in two cuts: what is
// left is the drawing, as the cuts are at the plane where the halves meet.
START_TEST(an_allowance_is_used_up_at_the_equator) {
  static const char *const right[] = {"{half_length_mm: 57, iris_radius_mm: 38}",
                                      "{half_length_mm: 59, iris_radius_mm: 38}"};
  for (int k = 0; k < 2; k++) {
    char text[640];
    snprintf(text, sizeof text,
             "contour:\n  kind: two-ellipse\n  half_length_mm: 57.7\n  iris_radius_mm: 35\n"
             "  equator_radius_mm: 103.3\n  equator_ellipse: {axial_mm: 42, radial_mm: 42}\n"
             "  iris_ellipse: {axial_mm: 12, radial_mm: 19}\n  right: %s\n"
             "ends: {left: {kind: magnetic}, right: {kind: tube, length_mm: 60, close: electric}}\n"
             "accuracy: {frequency: 1e-10}\n",
             right[k]);
    program_write_text(step_chain_folder, "uneven.yaml", text);
    cavum_steps_result *cut =
        step_chain_run("uneven.yaml",
                       "drawing: {equator_allowance_mm: 0.8}\nsteps:\n"
                       "  - {name: trimmed, trim: {at: equator, each_side_mm: 0.5}}\n"
                       "  - {name: welded, weld: {at: equator, each_side_mm: 0.3}}\n");
    cavum_steps_result *drawn =
        step_chain_run("uneven.yaml", "steps:\n  - {name: a, air: {gas: vacuum}}\n");
    CAVUM_CHECK_RELATIVE(cut->steps[2]->frequency_hz, drawn->steps[0]->frequency_hz, 2e-10);
    cavum_steps_result_destroy(&cut);
    cavum_steps_result_destroy(&drawn);
  }
}
END_TEST

static void add(TCase *tests) {
  tcase_add_unchecked_fixture(tests, set_up, step_chain_tear_down);
  tcase_add_loop_test(tests, mirror_images_are_one_cavity, 0, sizeof chains / sizeof chains[0]);
  tcase_add_test(tests, a_half_is_etched_evenly_once_it_was_etched_unevenly);
  tcase_add_test(tests, an_allowance_is_used_up_at_the_equator);
  tcase_add_test(tests, a_cell_is_cut_alike_at_either_iris);
}

CAVUM_TEST_MAIN("steps leaning", add)
