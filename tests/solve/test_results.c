// SPDX-License-Identifier: GPL-3.0-or-later
// What a solve says beyond numbers: absent and unbounded figures, labels, coupling, tube cut,
// windows, completeness, close modes, accuracy that is out of reach.
#include "cavum/wall.h"
#include "solving.h"

#define PATH(points) "accelerating_length_mm: 100\ncontour:\n  kind: path\n" points
#define TO(z, r, kind) "    - {line_to: {z_mm: " z ", r_mm: " r "}, boundary: " kind "}\n"
#define ARC(z, r, cz, cr, turn)                                                                  \
  "    - {arc_to: {z_mm: " z ", r_mm: " r "}, centre: {z_mm: " cz ", r_mm: " cr "}, turn: " turn \
  ", boundary: metal}\n"
#define START(z, r) "  start: {z_mm: " z ", r_mm: " r "}\n  path:\n"
#define WALL "wall: {kind: resistance, surface_resistance_nohm: 20}\n"
#define CUP(ends, more)                                                            \
  "contour:\n  kind: two-ellipse\n  half_length_mm: 57.7\n  iris_radius_mm: 35\n"  \
  "  equator_radius_mm: 103.3\n  equator_ellipse: {axial_mm: 42, radial_mm: 42}\n" \
  "  iris_ellipse: {axial_mm: 12, radial_mm: 19}\n" ends more
#define BOX(length, radius)                                                \
  PATH(START("0", "0") TO(length, "0", "axis") TO(length, radius, "metal") \
           TO("0", radius, "metal") TO("0", "0", "metal"))
#define STEP                                                                                   \
  PATH(START("0", "0") TO("120", "0", "axis") TO("120", "50", "metal") TO("60", "50", "metal") \
           TO("60", "110", "metal") TO("0", "110", "metal") TO("0", "0", "metal"))

static cavum_result *solve(const char *text) { return solving_solve_text(text, 1e-6, 1e-4); }

// ---- sharp corners

static void check_corner(const char *what, const char *text, bool sharp, double z_mm, double r_mm) {
  cavum_result *result = solve(text);
  const cavum_figure *e = &result->modes[0].figures[CAVUM_FIGURE_EPK_OVER_EACC];
  printf("%s: state %d at z %.3f r %.3f mm\n", what, e->state, 1e3 * e->at.z_m, 1e3 * e->at.r_m);
  ck_assert_int_eq(e->state, sharp ? CAVUM_FIGURE_UNBOUNDED : CAVUM_FIGURE_PRESENT);
  // H stays finite at every corner.
  ck_assert_int_eq(result->modes[0].figures[CAVUM_FIGURE_BPK_OVER_EACC].state,
                   CAVUM_FIGURE_PRESENT);
  if (sharp) {
    CAVUM_CHECK_NEAR(1e3 * e->at.z_m, z_mm, 1e-9);
    CAVUM_CHECK_NEAR(1e3 * e->at.r_m, r_mm, 1e-9);
  }
  cavum_result_destroy(&result);
}

START_TEST(sharp_corners_are_found) {
  check_corner("metal step", STEP, true, 60.0, 50.0);
  // A wall that meets a magnetic plane at more than 90 degrees: mirrored, a re-entrant edge.
  check_corner("wall rising from a magnetic plane",
               PATH(START("0", "0") TO("80", "0", "axis") TO("80", "40", "magnetic")
                        TO("60", "100", "metal") TO("0", "100", "metal") TO("0", "0", "metal")),
               true, 80.0, 40.0);
  check_corner("wall falling from a magnetic plane",
               PATH(START("0", "0") TO("80", "0", "axis") TO("80", "100", "magnetic")
                        TO("0", "90", "metal") TO("0", "0", "metal")),
               false, 0.0, 0.0);
  // A metal cone whose tip points along the axis into the cavity.
  check_corner("tip on the axis",
               PATH(START("0", "0") TO("80", "0", "axis") TO("110", "40", "metal")
                        TO("110", "100", "metal") TO("0", "100", "metal") TO("0", "0", "metal")),
               true, 80.0, 0.0);
  // A hollow cone meets the axis at less than 90 degrees: no field there.
  check_corner("hollow cone on the axis",
               PATH(START("0", "0") TO("110", "0", "axis") TO("90", "100", "metal")
                        TO("0", "100", "metal") TO("0", "0", "metal")),
               false, 0.0, 0.0);
}
END_TEST

START_TEST(smooth_walls_have_no_sharp_corner) {
  check_corner("pillbox", BOX("100", "100"), false, 0.0, 0.0);
  check_corner("capsule",
               PATH(START("-90", "0") TO("90", "0", "axis") ARC("30", "60", "30", "0", "left")
                        TO("-30", "60", "metal") ARC("-90", "0", "-30", "0", "left")),
               false, 0.0, 0.0);
  check_corner("iris planes, magnetic",
               CUP("ends: {left: {kind: magnetic}, right: {kind: magnetic}}\n", ""), false, 0, 0);
  check_corner("iris planes, electric",
               CUP("ends: {left: {kind: electric}, right: {kind: electric}}\n", ""), false, 0, 0);
  check_corner(
      "tubes",
      CUP("ends: {left: {kind: tube, length_mm: 100, close: electric}, right: {kind: tube, "
          "length_mm: 100, close: magnetic}}\n",
          ""),
      false, 0, 0);
  check_corner("metal plates at the iris planes",
               CUP("ends: {left: {kind: metal}, right: {kind: metal}}\n", ""), false, 0, 0);
}
END_TEST

// A tube wider or narrower than the iris makes an edge.
START_TEST(tube_of_another_radius_makes_an_edge) {
  check_corner("wider tube",
               CUP("ends: {left: {kind: magnetic}, right: {kind: tube, length_mm: 100, radius_mm: "
                   "40, close: electric}}\n",
                   ""),
               true, 57.7, 35.0);
  check_corner("narrower tube",
               CUP("ends: {left: {kind: magnetic}, right: {kind: tube, length_mm: 100, radius_mm: "
                   "30, close: electric}}\n",
                   ""),
               true, 57.7, 30.0);
}
END_TEST

// ---- absent figures

static const cavum_figure_id voltage_figures[] = {
    CAVUM_FIGURE_R_OVER_Q_LINAC,          CAVUM_FIGURE_R_OVER_Q_CIRCUIT,
    CAVUM_FIGURE_G_TIMES_R_OVER_Q,        CAVUM_FIGURE_EPK_OVER_EACC,
    CAVUM_FIGURE_BPK_OVER_EACC,           CAVUM_FIGURE_TRANSIT_TIME_FACTOR,
    CAVUM_FIGURE_TRANSIT_TIME_FACTOR_ABS, CAVUM_FIGURE_LOSS_FACTOR,
    CAVUM_FIGURE_VOLTAGE_AT_1_J,          CAVUM_FIGURE_EACC_AT_1_J,
    CAVUM_FIGURE_SHUNT_IMPEDANCE,         CAVUM_FIGURE_WALL_POWER};
enum { NUM_VOLTAGE_FIGURES = sizeof voltage_figures / sizeof *voltage_figures };

static void check_state(const cavum_mode_result *mode, cavum_figure_id id,
                        cavum_figure_state expected) {
  ck_assert_msg(mode->figures[id].state == expected, "%s: state %d, expected %d",
                cavum_figure_describe(id).key, mode->figures[id].state, expected);
}

START_TEST(ring_domains_have_no_voltage_and_no_static_mode) {
  cavum_result *result =
      solve(PATH(START("0", "20") TO("200", "20", "metal") TO("200", "60", "metal")
                     TO("0", "60", "metal") TO("0", "20", "metal")) "modes: {count: 2}\n" WALL);
  for (int m = 0; m < 2; m++) {
    // TEM modes p c / (2 L), closed form; not the static one at zero.
    CAVUM_CHECK_RELATIVE(result->modes[m].figures[CAVUM_FIGURE_FREQUENCY].value,
                         (m + 1) * 299792458.0 / 0.4, 1e-6);
    for (int i = 0; i < NUM_VOLTAGE_FIGURES; i++) {
      check_state(&result->modes[m], voltage_figures[i], CAVUM_FIGURE_ABSENT);
    }
    check_state(&result->modes[m], CAVUM_FIGURE_GEOMETRY_FACTOR, CAVUM_FIGURE_PRESENT);
    check_state(&result->modes[m], CAVUM_FIGURE_Q0, CAVUM_FIGURE_PRESENT);
    ck_assert_str_eq(result->modes[m].label, "");
  }
  cavum_result_destroy(&result);
}
END_TEST

// A step of the inner conductor, at which E is unbounded: there is no gradient to compare it with,
// and it is unbounded all the same. B has no peak without a gradient.
START_TEST(a_sharp_corner_of_a_ring_domain_is_named) {
  cavum_result *result = solve(PATH(START("0", "20") TO("90", "20", "metal") TO("90", "35", "metal")
                                        TO("200", "35", "metal") TO("200", "60", "metal")
                                            TO("0", "60", "metal") TO("0", "20", "metal")));
  const cavum_figure *e = &result->modes[0].figures[CAVUM_FIGURE_EPK_OVER_EACC];
  check_state(&result->modes[0], CAVUM_FIGURE_EPK_OVER_EACC, CAVUM_FIGURE_UNBOUNDED);
  check_state(&result->modes[0], CAVUM_FIGURE_BPK_OVER_EACC, CAVUM_FIGURE_ABSENT);
  check_state(&result->modes[0], CAVUM_FIGURE_EACC_AT_1_J, CAVUM_FIGURE_ABSENT);
  ck_assert(e->has_position);
  CAVUM_CHECK_NEAR(1e3 * e->at.z_m, 90.0, 1e-9);
  CAVUM_CHECK_NEAR(1e3 * e->at.r_m, 35.0, 1e-9);
  cavum_result_destroy(&result);
}
END_TEST

// Peaks of a cell that is its own mirror image stand at both sides; the one at larger z is told,
// of E and of B, whether half of the cell is solved or the whole.
START_TEST(peaks_of_mirrored_cells_are_told_at_one_side) {
  static const char *const texts[] = {
      // Flatter than any half model.
      PATH(START("0", "0") TO("2", "0", "axis") TO("2", "150", "metal") TO("0", "150", "metal")
               TO("0", "0", "metal")) "modes: {count: 3}\n",
      PATH(START("-40", "0") TO("60", "0", "axis") TO("60", "100", "metal")
               TO("-40", "100", "metal") TO("-40", "0", "metal")) "modes: {count: 3}\n",
      CUP("ends: {left: {kind: magnetic}, right: {kind: magnetic}}\n", "modes: {count: 2}\n")};
  static const double plane_m[] = {1e-3, 1e-2, 0.0};
  for (int i = 0; i < 6; i++) {
    cavum_cell cell = solving_read(texts[i / 2]);
    cavum_solve_options options = cavum_solve_options_default();
    options.use_symmetry = i % 2 == 0;
    cavum_result *result = solving_solve(&cell, &options);
    for (int m = 0; m < result->num_modes; m++) {
      const cavum_figure *e = &result->modes[m].figures[CAVUM_FIGURE_EPK_OVER_EACC],
                         *b = &result->modes[m].figures[CAVUM_FIGURE_BPK_OVER_EACC];
      printf("%d, mode %d: E at z = %.9g, B at z = %.9g m\n", i, m + 1, e->at.z_m, b->at.z_m);
      if (e->has_position) ck_assert_double_ge(e->at.z_m, plane_m[i / 2] - 1e-12);
      if (b->has_position) ck_assert_double_ge(b->at.z_m, plane_m[i / 2] - 1e-12);
    }
    cavum_result_destroy(&result);
    cavum_cell_clear(&cell);
  }
}
END_TEST

START_TEST(figures_that_need_metal_or_a_wall) {
  // Lossless planes all round: no losses, no peaks, but a voltage.
  cavum_result *result = solve(PATH(START("0", "0") TO("100", "0", "axis") TO(
      "100", "100", "electric") TO("0", "100", "electric") TO("0", "0", "electric")) WALL);
  const cavum_mode_result *mode = &result->modes[0];
  check_state(mode, CAVUM_FIGURE_R_OVER_Q_LINAC, CAVUM_FIGURE_PRESENT);
  const cavum_figure_id none[] = {CAVUM_FIGURE_GEOMETRY_FACTOR,
                                  CAVUM_FIGURE_G_TIMES_R_OVER_Q,
                                  CAVUM_FIGURE_EPK_OVER_EACC,
                                  CAVUM_FIGURE_BPK_OVER_EACC,
                                  CAVUM_FIGURE_Q0,
                                  CAVUM_FIGURE_SHUNT_IMPEDANCE,
                                  CAVUM_FIGURE_WALL_POWER,
                                  CAVUM_FIGURE_TUBE_CUT_FREQUENCY};
  for (size_t i = 0; i < sizeof none / sizeof *none; i++) {
    check_state(mode, none[i], CAVUM_FIGURE_ABSENT);
  }
  cavum_result_destroy(&result);
  // No wall stated: G but no Q0.
  result = solve(CUP("ends: {left: {kind: magnetic}, right: {kind: magnetic}}\n", ""));
  mode = &result->modes[0];
  check_state(mode, CAVUM_FIGURE_GEOMETRY_FACTOR, CAVUM_FIGURE_PRESENT);
  check_state(mode, CAVUM_FIGURE_SURFACE_RESISTANCE, CAVUM_FIGURE_ABSENT);
  check_state(mode, CAVUM_FIGURE_Q0, CAVUM_FIGURE_ABSENT);
  check_state(mode, CAVUM_FIGURE_SHUNT_IMPEDANCE, CAVUM_FIGURE_ABSENT);
  check_state(mode, CAVUM_FIGURE_WALL_POWER, CAVUM_FIGURE_ABSENT);
  cavum_result_destroy(&result);
}
END_TEST

// What an uncertainty is of: a stated resistance has none, that of a fit holds the fit, and a
// search that ends at the speed of light says so. More accuracy is not asked of these.
START_TEST(numbers_that_are_not_computed) {
  const cavum_figure_id resistance = CAVUM_FIGURE_SURFACE_RESISTANCE, q0 = CAVUM_FIGURE_Q0;
  cavum_result *result =
      solve(CUP("ends: {left: {kind: magnetic}, right: {kind: magnetic}}\n", WALL));
  const cavum_figure *figures = result->modes[0].figures;
  ck_assert_int_eq(figures[resistance].basis, CAVUM_BASIS_STATED);
  ck_assert(figures[resistance].uncertainty == 0.0);
  ck_assert_int_eq(figures[q0].basis, CAVUM_BASIS_COMPUTED);
  // R/Q of TM010 grows with the speed up to that of light in a cell of half a wavelength.
  ck_assert_int_eq(figures[CAVUM_FIGURE_BETA_OPTIMUM].basis, CAVUM_BASIS_END_OF_RANGE);
  ck_assert(figures[CAVUM_FIGURE_BETA_OPTIMUM].value == 1.0);
  ck_assert(figures[CAVUM_FIGURE_BETA_OPTIMUM].uncertainty == 0.0);
  cavum_result_destroy(&result);
  result = solve(CUP("ends: {left: {kind: magnetic}, right: {kind: magnetic}}\n",
                     "wall: {kind: niobium, temperature_K: 2.0, residual_nohm: 5.0}\n"));
  figures = result->modes[0].figures;
  ck_assert(result->accuracy_reached);
  ck_assert_int_eq(figures[resistance].basis, CAVUM_BASIS_FIT);
  const cavum_wall wall = {.kind = CAVUM_WALL_NIOBIUM, .temperature_k = 2.0};
  double fit = cavum_wall_resistance_error_ohm(&wall, figures[CAVUM_FIGURE_FREQUENCY].value);
  // Beside the fit the numerical part, 2e-6 of the resistance at most, hardly shows.
  CAVUM_CHECK_RELATIVE(figures[resistance].uncertainty, fit, 2e-5);
  const cavum_figure_id with_fit[] = {q0, CAVUM_FIGURE_SHUNT_IMPEDANCE, CAVUM_FIGURE_WALL_POWER};
  for (int i = 0; i < 3; i++) {
    ck_assert_int_eq(figures[with_fit[i]].basis, CAVUM_BASIS_WITH_FIT);
    ck_assert(figures[with_fit[i]].uncertainty <= 1e-4 * figures[with_fit[i]].value);
  }
  cavum_result_destroy(&result);
}
END_TEST

// TM010 of a pillbox of length beta lambda gives no voltage at that speed, whatever rounding makes
// of it, but does at others.
START_TEST(no_voltage_at_a_zero_of_the_transit_time) {
  char text[1024];
  double beta_lambda_mm = 0.5 * 2.0 * acos(-1.0) * 100.0 / 2.404825557695773;
  snprintf(text, sizeof text, "beta: 0.5\n" BOX("%.15g", "100") WALL, beta_lambda_mm,
           beta_lambda_mm);
  cavum_result *result = solve(text);
  for (int i = 0; i < NUM_VOLTAGE_FIGURES; i++) {
    check_state(&result->modes[0], voltage_figures[i], CAVUM_FIGURE_ABSENT);
  }
  check_state(&result->modes[0], CAVUM_FIGURE_R_OVER_Q_OPTIMUM, CAVUM_FIGURE_PRESENT);
  check_state(&result->modes[0], CAVUM_FIGURE_Q0, CAVUM_FIGURE_PRESENT);
  cavum_result_destroy(&result);
}
END_TEST

// ---- labels

// A cell of two ellipses a side is as long as its two halves, unless it says otherwise.
START_TEST(a_cell_of_unequal_halves_is_as_long_as_both) {
  cavum_result *result =
      solve(CUP("  right: {half_length_mm: 56.2}\n"
                "ends: {left: {kind: magnetic}, right: {kind: magnetic}}\n",
                ""));
  const cavum_figure *figures = result->modes[0].figures;
  CAVUM_CHECK_RELATIVE(result->accelerating_length.value_m, 57.7e-3 + 56.2e-3, 1e-14);
  ck_assert_str_eq(result->accelerating_length.from, "left half_length + right half_length");
  CAVUM_CHECK_RELATIVE(
      figures[CAVUM_FIGURE_VOLTAGE_AT_1_J].value / figures[CAVUM_FIGURE_EACC_AT_1_J].value,
      57.7e-3 + 56.2e-3, 1e-14);
  cavum_result_destroy(&result);
}
END_TEST

static void check_labels(const char *text, const char *const *labels, int count) {
  cavum_result *result = solve(text);
  for (int m = 0; m < count; m++) {
    printf("%.6f GHz: observed \"%s\" expected \"%s\"\n", 1e-9 * result->modes[m].figures[0].value,
           result->modes[m].label, labels[m]);
    ck_assert_str_eq(result->modes[m].label, labels[m]);
  }
  cavum_result_destroy(&result);
}

// A little longer, and there is some: of R/Q below 1e-4 ohm an accuracy relative to that is enough,
// so that it never decides whether a solve succeeds. Before, 1e-6 of 8.7e-9 ohm was asked for and
// not reached. Closed form: R/Q = 2 L (sin(x) / x)^2 / (w eps0 pi R^2 J1(x01)^2), x = w L / 2 c.
START_TEST(hardly_any_voltage_decides_nothing) {
  static const double beyond[] = {1e-3, 3e-5, 1e-5, 3e-6};
  const double radius_m = 0.1, x01 = 2.404825557695773, k = x01 / radius_m, w = k * CAVUM_C_M_PER_S;
  const double eps0 = 1.0 / (CAVUM_MU0 * CAVUM_C_M_PER_S * CAVUM_C_M_PER_S);
  for (int i = 0; i < 4; i++) {
    char text[1024];
    double length_m = 2.0 * CAVUM_PI / k * (1.0 + beyond[i]), x = 0.5 * k * length_m;
    snprintf(text, sizeof text,
             PATH(START("0", "0") TO("%.15g", "0", "axis") TO("%.15g", "100", "metal")
                      TO("0", "100", "metal") TO("0", "0", "metal")),
             1e3 * length_m, 1e3 * length_m);
    cavum_result *result = solving_solve_text(text, 1e-9, 1e-6);
    const cavum_figure *figure = &result->modes[0].figures[CAVUM_FIGURE_R_OVER_Q_LINAC];
    double part = sin(x) / x, of_light = radius_m * j1(x01);
    double truth = 2.0 * length_m * part * part / (w * eps0 * CAVUM_PI * of_light * of_light);
    printf("R/Q of %.8g ohm: %.8g +- %.1e\n", truth, figure->value, figure->uncertainty);
    ck_assert(result->accuracy_reached && figure->state == CAVUM_FIGURE_PRESENT);
    // The length is rounded to 15 digits, which changes sin(x) by 1e-15 over its distance to the
    // zero.
    ck_assert(fabs(figure->value - truth) <= figure->uncertainty + 1e-14 / beyond[i] * truth);
    ck_assert(figure->uncertainty <= 1.01e-6 * fmax(1e-4, sqrt(1e-4 * truth)));
    cavum_result_destroy(&result);
  }
}
END_TEST

// Two cells with a disc between them: a pattern with a nodal circle has one in each cell. A little
// wider, the right one makes the chain unlike its mirror image.
START_TEST(labels_of_a_chain_are_those_of_its_cells) {
  static const char *const chain[] = {"TM010", "TM011", "TM020", "TM021"}, *const right[] = {
                                                                               "100", "100.02"};
  for (int i = 0; i < 2; i++) {
    char text[2048];
    snprintf(
        text, sizeof text,
        PATH(START("-52", "0") TO("52", "0", "axis") TO("52", "%s", "metal") TO("2", "%s", "metal")
                 TO("2", "30", "metal") TO("-2", "30", "metal") TO("-2", "100", "metal")
                     TO("-52", "100", "metal") TO("-52", "0", "metal")) "modes: {count: 4}\n",
        right[i], right[i]);
    check_labels(text, chain, 4);
  }
}
END_TEST

// The fifth mode of a periodic cell has the nodes of the third along the outline and along the
// axis, but not along the radius of its equator: one label is for one mode.
START_TEST(no_two_modes_share_a_label) {
  static const char *const periodic[] = {"TM010", "TM011", "TM020", "TM021", "", "TM030"};
  check_labels(
      CUP("ends: {left: {kind: magnetic}, right: {kind: magnetic}}\n", "modes: {count: 6}\n"),
      periodic, 6);
}
END_TEST

// The passbands of a two-ellipse cell are called TM010, TM011, TM020 in this order throughout the
// trade; E_z of its TM011 turns over near the wall, which must not count.
START_TEST(labels_follow_the_pattern) {
  static const char *const cup[] = {"TM010", "TM011", "TM020"};
  check_labels(
      CUP("ends: {left: {kind: tube, length_mm: 100, close: electric}, right: {kind: tube, "
          "length_mm: 100, close: electric}}\n",
          "modes: {count: 3}\n"),
      cup, 3);
  check_labels(
      CUP("ends: {left: {kind: magnetic}, right: {kind: magnetic}}\n", "modes: {count: 3}\n"), cup,
      3);
  check_labels(
      CUP("ends: {left: {kind: electric}, right: {kind: electric}}\n", "modes: {count: 2}\n"), cup,
      2);
  // l = 1 and 2 of a sphere.
  check_labels(PATH(START("-100", "0") TO("100", "0", "axis")
                        ARC("-100", "0", "0", "0", "left")) "modes: {count: 2}\n",
               cup, 2);
  // Between two spheres the axis has two pieces and the pattern no name.
  static const char *const none[] = {""};
  check_labels(PATH(START("-100", "0") TO("-40", "0", "axis") ARC("40", "0", "0", "0", "right")
                        TO("100", "0", "axis") ARC("-100", "0", "0", "0", "left")),
               none, 1);
}
END_TEST

// ---- coupling

START_TEST(coupling_is_that_of_the_two_solves) {
  cavum_cell cell =
      solving_read(CUP("ends: {left: {kind: magnetic}, right: {kind: magnetic}}\n", ""));
  cavum_solve_options options = cavum_solve_options_default();
  options.coupling = true;
  cavum_result *result = solving_solve(&cell, &options);
  // By spectral elements, tests/verification/spectral_elements.py: f_0 and f_pi of this cell, ten
  // digits.
  double f0 = 1276664063.8226433, fpi = 1300957950.1588056;
  double expected = 2.0 * (fpi - f0) / (fpi + f0);
  ck_assert_int_eq(result->coupling.state, CAVUM_FIGURE_PRESENT);
  CAVUM_CHECK_NEAR(result->coupling.value, expected, result->coupling.uncertainty + 1e-10);
  // Two frequencies to 1e-6 each.
  CAVUM_CHECK_NEAR(result->coupling.uncertainty, 0.0, 2e-6);
  CAVUM_CHECK_NEAR(result->zero_mode_hz, f0, result->zero_mode_uncertainty_hz + 1e-10 * f0);
  CAVUM_CHECK_NEAR(result->pi_mode_hz, fpi, result->pi_mode_uncertainty_hz + 1e-10 * fpi);
  // 1e-6 is what was asked for.
  ck_assert(result->zero_mode_uncertainty_hz > 0.0 && result->zero_mode_uncertainty_hz < 1e-6 * f0);
  ck_assert(result->pi_mode_uncertainty_hz > 0.0 && result->pi_mode_uncertainty_hz < 1e-6 * fpi);
  // Aune et al., Phys. Rev. ST Accel. Beams 3, 092001 (2000), not checked against the source: 1.87
  // % by design; 3 % for what the published dimensions round off.
  CAVUM_CHECK_RELATIVE(result->coupling.value, 0.0187, 0.03);
  cavum_result_destroy(&result);
  // Not asked for, not given; not periodic, refused.
  result = solving_solve(&cell, NULL);
  ck_assert_int_eq(result->coupling.state, CAVUM_FIGURE_ABSENT);
  cavum_result_destroy(&result);
  cell.right_end = (cavum_end){CAVUM_END_TUBE, 0.1, 0.035, CAVUM_BOUNDARY_ELECTRIC};
  cavum_error error = {0};
  ck_assert_int_eq(cavum_solve(&result, &cell, &options, &error), CAVUM_ERR_USAGE);
  ck_assert_ptr_null(result);
  ck_assert_ptr_nonnull(strstr(error.message, "coupling=inner-cell"));
  // Its tube is dropped when that is asked for; the mode itself keeps it.
  options.coupling_of_inner_cell = true;
  result = solving_solve(&cell, &options);
  CAVUM_CHECK_NEAR(result->coupling.value, expected, result->coupling.uncertainty + 1e-10);
  ck_assert(result->coupling_without_tubes);
  ck_assert(fabs(result->modes[0].figures[CAVUM_FIGURE_FREQUENCY].value - fpi) > 1e6);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

static double coupling_with_irises(const char *left_mm, const char *right_mm) {
  char text[1024];
  snprintf(text, sizeof text,
           CUP("  left: {iris_radius_mm: %s}\n  right: {iris_radius_mm: %s}\n"
               "ends: {left: {kind: magnetic}, right: {kind: magnetic}}\n",
               ""),
           left_mm, right_mm);
  cavum_cell cell = solving_read(text);
  cavum_solve_options options = cavum_solve_options_default();
  options.coupling = true;
  cavum_result *result = solving_solve(&cell, &options);
  double coupling = result->coupling.value;
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
  return coupling;
}

// Coupled resonators with couplings k1 and k2 in turn, (f_c/f)^2 x_n = x_n + (k1 x_(n-1) + k2
// x_(n+1)) / 2, have the ends of their first band where neighbours swing together or against each
// other: those of a chain with (k1 + k2) / 2 throughout.
START_TEST(unequal_irises_couple_as_their_mean) {
  double mean = 0.5 * (coupling_with_irises("34", "34") + coupling_with_irises("36", "36"));
  double change = coupling_with_irises("36", "36") - coupling_with_irises("34", "34");
  // What the two irises do to the resonators themselves is of second order: a twentieth of the
  // change.
  CAVUM_CHECK_NEAR(coupling_with_irises("34", "36"), mean, 0.05 * change);
  ck_assert(change > 1e-3);
}
END_TEST

// d k = 4 (f_0 df_pi + f_pi df_0) / (f_0 + f_pi)^2 in the worst case, with what the same cell says
// of its two frequencies when it is solved with the ends of each; rounding alone is left.
START_TEST(uncertainty_of_the_coupling_is_that_of_the_two_frequencies) {
  static const char *const ends[] = {"ends: {left: {kind: electric}, right: {kind: electric}}\n",
                                     "ends: {left: {kind: magnetic}, right: {kind: magnetic}}\n"};
  cavum_figure f[2];
  for (int i = 0; i < 2; i++) {
    char text[1024];
    snprintf(text, sizeof text, CUP("%s", ""), ends[i]);
    cavum_result *result = solve(text);
    f[i] = result->modes[0].figures[CAVUM_FIGURE_FREQUENCY];
    cavum_result_destroy(&result);
  }
  cavum_cell cell =
      solving_read(CUP("ends: {left: {kind: magnetic}, right: {kind: magnetic}}\n", ""));
  cavum_solve_options options = cavum_solve_options_default();
  options.coupling = true;
  cavum_result *result = solving_solve(&cell, &options);
  double sum = f[0].value + f[1].value;
  CAVUM_CHECK_RELATIVE(
      result->coupling.uncertainty,
      4.0 * (f[0].value * f[1].uncertainty + f[1].value * f[0].uncertainty) / (sum * sum), 1e-9);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

// ---- tube cut: the estimate against solving with the other closure

static void check_cut(double left_mm, double right_mm, double beta) {
  char text[1024];
  double f[2], r_over_q[2], df[2], dr[2], uf[2], ur[2], own_f = 0.0, own_r = 0.0;
  for (int i = 0; i < 2; i++) {
    const char *close = i == 0 ? "electric" : "magnetic";
    snprintf(text, sizeof text,
             "beta: %g\n" CUP("ends: {left: {kind: tube, length_mm: %g, close: %s}, right: {kind: "
                              "tube, length_mm: %g, close: %s}}\n",
                              ""),
             beta, left_mm, close, right_mm, close);
    cavum_result *result = solving_solve_text(text, 1e-10, 1e-7);
    const cavum_figure *figure = result->modes[0].figures;
    f[i] = figure[CAVUM_FIGURE_FREQUENCY].value;
    r_over_q[i] = figure[CAVUM_FIGURE_R_OVER_Q_LINAC].value;
    own_f += figure[CAVUM_FIGURE_FREQUENCY].uncertainty;
    own_r += figure[CAVUM_FIGURE_R_OVER_Q_LINAC].uncertainty;
    df[i] = figure[CAVUM_FIGURE_TUBE_CUT_FREQUENCY].value;
    dr[i] = figure[CAVUM_FIGURE_TUBE_CUT_R_OVER_Q].value;
    uf[i] = figure[CAVUM_FIGURE_TUBE_CUT_FREQUENCY].uncertainty;
    ur[i] = figure[CAVUM_FIGURE_TUBE_CUT_R_OVER_Q].uncertainty;
    cavum_result_destroy(&result);
  }
  for (int i = 0; i < 2; i++) {
    printf("tubes %g and %g mm, from the %s end:\n", left_mm, right_mm,
           i ? "magnetic" : "electric");
    CAVUM_CHECK_NEAR(df[i], f[1] - f[0], uf[i] + own_f);
    CAVUM_CHECK_NEAR(dr[i], r_over_q[1] - r_over_q[0], ur[i] + own_r);
    ck_assert_double_lt(uf[i], 0.5 * fabs(df[i]));  // and says something
  }
}

START_TEST(tube_cut_is_what_the_other_closure_gives) {
  check_cut(100.0, 100.0, 1.0);
  check_cut(75.0, 75.0, 0.8);
  check_cut(80.0, 110.0, 1.0);
}
END_TEST

// ---- windows and completeness

START_TEST(modes_near_a_frequency) {
  cavum_result *all = solve(BOX("120", "100") "modes: {count: 6}\n");
  // Between the third (TM020, 2633.8 MHz) and fourth (TM012, 2749.2 MHz), closer to the latter.
  cavum_result *near = solve(BOX("120", "100") "modes: {count: 3, near_MHz: 2740}\n");
  ck_assert_int_eq(near->num_modes, 3);
  for (int i = 0; i < 3; i++) {  // 2633.8, 2749.2, 2915.0
    const cavum_figure *f = &near->modes[i].figures[CAVUM_FIGURE_FREQUENCY];
    const cavum_figure *g = &all->modes[2 + i].figures[CAVUM_FIGURE_FREQUENCY];
    CAVUM_CHECK_NEAR(f->value, g->value, f->uncertainty + g->uncertainty);
    ck_assert_str_eq(near->modes[i].label, all->modes[2 + i].label);
  }
  ck_assert_double_lt(near->complete_above_hz, 2633.9e6);
  ck_assert_double_gt(near->complete_below_hz, 2915.0e6);
  ck_assert(all->complete_above_hz == 0.0);
  ck_assert_double_gt(all->complete_below_hz, all->modes[5].figures[0].value);
  cavum_result_destroy(&all);
  cavum_result_destroy(&near);
}
END_TEST

// TM011 and TM020 of this length differ by less than a millionth in k^2, and only one is asked for.
START_TEST(close_modes_beyond_the_wanted_ones_are_no_failure) {
  double x1 = 2.404825557695773, x2 = 5.520078110286311, pi = acos(-1.0);
  double length_mm = 100.0 * pi / sqrt(x2 * x2 - x1 * x1) * (1.0 + 1e-6);
  char text[1024];
  snprintf(text, sizeof text, BOX("%.15g", "100") "modes: {count: 2}\n", length_mm, length_mm);
  cavum_result *result = solve(text);
  ck_assert_int_eq(result->num_modes, 2);
  // TM011 is the lower of the two: f = c / (2 pi) hypot(x01 / R, pi / d), closed form.
  double k = hypot(x1 / 0.1, pi / (1e-3 * length_mm));
  CAVUM_CHECK_RELATIVE(result->modes[1].figures[0].value, 299792458.0 * k / (2 * pi), 1e-9);
  ck_assert_str_eq(result->modes[1].label, "TM011");
  cavum_result_destroy(&result);
}
END_TEST

// ---- accuracy that cannot be reached

START_TEST(unreachable_accuracy_is_said_and_the_best_is_given) {
  cavum_cell cell = solving_read(STEP);
  cell.accuracy_frequency = 1e-13;
  cavum_result *result = NULL;
  cavum_error error = {0};
  ck_assert_int_eq(cavum_solve(&result, &cell, NULL, &error), CAVUM_ERR_NOT_CONVERGED);
  ck_assert_ptr_nonnull(result);
  ck_assert(!result->accuracy_reached);
  ck_assert(!result->modes[0].accuracy_reached);
  ck_assert_ptr_nonnull(strstr(error.message, "frequency"));
  const cavum_figure *f = &result->modes[0].figures[CAVUM_FIGURE_FREQUENCY];
  ck_assert_double_gt(f->uncertainty, 1e-13 * f->value);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

// A quarter-wave resonator whose mesh is so coarse for degree 2 that inverse iteration from there
// would end at the second mode (1069.3 MHz), and that the count at degree 4 would agree. The lowest
// one by another mesh and degree: 356.636480617(4) MHz at refinement 2.5 and degree 13.
START_TEST(the_lowest_mode_is_the_lowest) {
  const char *text =
      PATH(START("176.9", "0") TO("187.6", "0", "axis") TO("187.6", "62.96", "metal")
               TO("0", "62.96", "metal") TO("0", "14.37", "metal") TO("171.9", "14.37", "metal")
                   ARC("176.9", "9.37", "171.9", "9.37", "right")
                       TO("176.9", "0", "metal")) "modes: {count: 1}\n";
  cavum_cell cell = solving_read(text);
  const double lowest_hz = 356.636480617e6, left_open_hz = 4.0;
  static const double refinements[] = {1.0, 1.5, 1.75};
  for (int i = 0; i < 3; i++) {
    cavum_solve_options options = cavum_solve_options_default();
    options.refinement = refinements[i];
    options.degree = 10;
    cavum_result *result = solving_solve(&cell, &options);
    const cavum_figure *f = &result->modes[0].figures[CAVUM_FIGURE_FREQUENCY];
    printf("refinement %.2f: %.12g +- %.2g Hz, complete below %.9g Hz\n", refinements[i], f->value,
           f->uncertainty, result->complete_below_hz);
    ck_assert(fabs(f->value - lowest_hz) <= f->uncertainty + left_open_hz);
    // A hundred thousandth, so that the interval tells this mode from all others.
    ck_assert(f->uncertainty < 1e-5 * lowest_hz && result->complete_below_hz > f->value);
    cavum_result_destroy(&result);
  }
  cavum_cell_clear(&cell);
}
END_TEST

// Three large elements carry fewer than 50 modes at the first degrees: none may be lost for that.
// Closed form: the 50th lowest of c / (2 pi) sqrt((x0n / R)^2 + (p pi / L)^2), zeros of J0 by
// McMahon's expansion (Abramowitz, Stegun 9.5.12), good to 1e-6 from the second zero on.
static int by_value(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

START_TEST(many_modes_of_few_elements) {
  enum { WANTED = 50, ZEROS = 20, WAVES = 20 };
  double k[ZEROS * WAVES];
  cavum_result *result = solving_solve_text(BOX("100", "100") "modes: {count: 50}\n", 1e-3, 3e-2);
  ck_assert_int_eq(result->num_modes, WANTED);
  for (int n = 1; n <= ZEROS; n++) {
    double b = (n - 0.25) * M_PI, c = 8.0 * b;
    double zero = b + 1.0 / c - 124.0 / (3.0 * c * c * c) + 120928.0 / (15.0 * pow(c, 5.0));
    if (n == 1) zero = 2.404825557695773;
    for (int p = 0; p < WAVES; p++) k[(n - 1) * WAVES + p] = hypot(zero / 0.1, p * M_PI / 0.1);
  }
  qsort(k, ZEROS * WAVES, sizeof *k, by_value);
  for (int m = 0; m < WANTED; m++) {
    // The accuracy asked for.
    CAVUM_CHECK_RELATIVE(result->modes[m].figures[CAVUM_FIGURE_FREQUENCY].value,
                         299792458.0 * k[m] / (2.0 * M_PI), 1e-3);
  }
  cavum_result_destroy(&result);
}
END_TEST

// The curve over beta is V^2 / w. At the speed of the cell V is a figure, known to u, and the curve
// to (V + u)^2 - V^2, over w. The figure has the 7e-10 of mu0 in its uncertainty, the curve has
// not.
START_TEST(uncertainty_of_the_curve_is_that_of_the_figure) {
  static const char *const ends[] = {"magnetic", "electric"};
  static const double betas[] = {1.0, 0.7};
  for (int i = 0; i < 4; i++) {
    char text[1024];
    snprintf(
        text, sizeof text,
        "beta: %g\n" CUP("ends: {left: {kind: %s}, right: {kind: %s}}\n", "modes: {count: 3}\n"),
        betas[i / 2], ends[i % 2], ends[i % 2]);
    cavum_cell cell = solving_read(text);
    cavum_solve_options options = cavum_solve_options_default();
    options.profiles = true;
    cavum_result *result = solving_solve(&cell, &options);
    for (int m = 0; m < result->num_modes; m++) {
      const cavum_figure *figures = result->modes[m].figures;
      const cavum_figure *voltage = &figures[CAVUM_FIGURE_VOLTAGE_AT_1_J];
      const cavum_beta_curve *curve = &result->modes[m].beta_curve;
      double w = 2.0 * CAVUM_PI * figures[CAVUM_FIGURE_FREQUENCY].value, v = voltage->value;
      int at = (int)lround((cell.beta - curve->beta[0]) / (curve->beta[1] - curve->beta[0]));
      CAVUM_CHECK_NEAR(curve->beta[at], cell.beta, 1e-14);
      CAVUM_CHECK_RELATIVE(curve->r_over_q_linac_ohm[at], v * v / w, 1e-14);
      double u = voltage->uncertainty, of_mu0 = 7e-10 * v;
      CAVUM_CHECK_RELATIVE(curve->uncertainty_ohm[at], ((v + u) * (v + u) - v * v) / w,
                           1.01 * of_mu0 / u);
      ck_assert(of_mu0 < 0.1 * u);
    }
    cavum_result_destroy(&result);
    cavum_cell_clear(&cell);
  }
}
END_TEST

// A ring chamber and a slot to the axis, with H = 0 on the middle plane of the slot: its waves die
// out as exp(-pi r / (2 d)), d being half its width, over 30 mm. At d = 1 mm nothing is left on the
// axis; at d = 3 mm what is there is small, but known.
#define RING_WITH_SLOT(d)                                                              \
  PATH(START("0", "0") TO(d, "0", "axis") TO(d, "30", "metal") TO("30", "30", "metal") \
           TO("30", "100", "metal") TO("0", "100", "metal") TO("0", "0", "magnetic"))  \
  "modes: {count: 3}\n"

START_TEST(modes_without_a_field_on_the_axis_have_no_largest_r_over_q) {
  cavum_result *none = solving_solve_text(RING_WITH_SLOT("1"), 1e-9, 1e-6);
  cavum_result *small = solving_solve_text(RING_WITH_SLOT("3"), 1e-9, 1e-6);
  cavum_result *usual = solve(RING_WITH_SLOT("3"));
  for (int m = 0; m < 3; m++) {
    check_state(&none->modes[m], CAVUM_FIGURE_R_OVER_Q_OPTIMUM, CAVUM_FIGURE_ABSENT);
    check_state(&none->modes[m], CAVUM_FIGURE_BETA_OPTIMUM, CAVUM_FIGURE_ABSENT);
    check_state(&small->modes[m], CAVUM_FIGURE_R_OVER_Q_OPTIMUM, CAVUM_FIGURE_PRESENT);
    const cavum_figure *a = &usual->modes[m].figures[CAVUM_FIGURE_R_OVER_Q_OPTIMUM];
    const cavum_figure *b = &small->modes[m].figures[CAVUM_FIGURE_R_OVER_Q_OPTIMUM];
    printf("%.8g +- %.1e, %.8g +- %.1e ohm\n", a->value, a->uncertainty, b->value, b->uncertainty);
    ck_assert_double_le(fabs(a->value - b->value), a->uncertainty + b->uncertainty);
    ck_assert_double_lt(a->uncertainty, 1e-3 * a->value);
  }
  cavum_result_destroy(&none);
  cavum_result_destroy(&small);
  cavum_result_destroy(&usual);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, the_lowest_mode_is_the_lowest);
  tcase_add_test(tests, many_modes_of_few_elements);
  tcase_add_test(tests, modes_without_a_field_on_the_axis_have_no_largest_r_over_q);
  tcase_add_test(tests, sharp_corners_are_found);
  tcase_add_test(tests, smooth_walls_have_no_sharp_corner);
  tcase_add_test(tests, tube_of_another_radius_makes_an_edge);
  tcase_add_test(tests, ring_domains_have_no_voltage_and_no_static_mode);
  tcase_add_test(tests, a_sharp_corner_of_a_ring_domain_is_named);
  tcase_add_test(tests, peaks_of_mirrored_cells_are_told_at_one_side);
  tcase_add_test(tests, figures_that_need_metal_or_a_wall);
  tcase_add_test(tests, numbers_that_are_not_computed);
  tcase_add_test(tests, no_voltage_at_a_zero_of_the_transit_time);
  tcase_add_test(tests, hardly_any_voltage_decides_nothing);
  tcase_add_test(tests, a_cell_of_unequal_halves_is_as_long_as_both);
  tcase_add_test(tests, labels_follow_the_pattern);
  tcase_add_test(tests, no_two_modes_share_a_label);
  tcase_add_test(tests, labels_of_a_chain_are_those_of_its_cells);
  tcase_add_test(tests, coupling_is_that_of_the_two_solves);
  tcase_add_test(tests, unequal_irises_couple_as_their_mean);
  tcase_add_test(tests, uncertainty_of_the_coupling_is_that_of_the_two_frequencies);
  tcase_add_test(tests, tube_cut_is_what_the_other_closure_gives);
  tcase_add_test(tests, modes_near_a_frequency);
  tcase_add_test(tests, close_modes_beyond_the_wanted_ones_are_no_failure);
  tcase_add_test(tests, uncertainty_of_the_curve_is_that_of_the_figure);
  tcase_add_test(tests, unreachable_accuracy_is_said_and_the_best_is_given);
}

CAVUM_TEST_MAIN("results", add_tests)
