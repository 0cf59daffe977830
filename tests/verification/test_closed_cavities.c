// SPDX-License-Identifier: GPL-3.0-or-later
// Every figure of pillbox, sphere, concentric spheres and shorted coaxial line against its closed
// form, at default accuracy (each within its stated uncertainty) and at 1e-9 / 1e-6 asked.
#include <gsl/gsl_sf_expint.h>

#include "closed_cavities.h"

static tally all;
static const double WALL_OHM = 20e-9;

// What the project promises where 1e-9 and 1e-6 are asked: f to 1e-10, peaks to 1e-7.
static const double FREQUENCY_PROMISE = 1e-10, PEAK_PROMISE = 1e-7;

typedef struct accuracy {
  double frequency, peak;
} accuracy;
static const accuracy ACCURACY_DEFAULT = {1e-6, 1e-4}, ACCURACY_HIGH = {1e-9, 1e-6};

static cavum_result *solve(const char *contour, int count, double beta, double length_m,
                           accuracy wanted) {
  char text[4096];
  snprintf(text, sizeof text,
           "beta: %.17g\naccelerating_length_mm: %.17g\n%smodes: {count: %d}\n"
           "wall: {kind: resistance, surface_resistance_nohm: %.17g}\n",
           beta, 1e3 * length_m, contour, count, 1e9 * WALL_OHM);
  return solving_solve_text(text, wanted.frequency, wanted.peak);
}

static void compare(const char *where, const cavum_result *result, int index,
                    const closed_form *mode, double beta, double length_m, accuracy wanted) {
  closed_form_figures truth = closed_form_compute(mode, beta, length_m, WALL_OHM);
  const cavum_mode_result *solved = &result->modes[index];
  closed_form_compare(&all, where, solved, &truth);
  if (wanted.frequency > ACCURACY_HIGH.frequency) return;
  const cavum_figure_id strict[] = {CAVUM_FIGURE_FREQUENCY, CAVUM_FIGURE_EPK_OVER_EACC,
                                    CAVUM_FIGURE_BPK_OVER_EACC};
  for (int i = 0; i < 3; i++) {
    double expected = truth.value[strict[i]];
    if (isnan(expected)) continue;
    CAVUM_CHECK_RELATIVE(solved->figures[strict[i]].value, expected,
                         i == 0 ? FREQUENCY_PROMISE : PEAK_PROMISE);
  }
}

static void check_pillbox(double radius, double length, double beta, int count, accuracy wanted) {
  char contour[1024], where[96];
  closed_form modes[8];
  int indices[8][2];
  snprintf(contour, sizeof contour,
           "contour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n  path:\n"
           "    - {line_to: {z_mm: %.17g, r_mm: 0}, boundary: axis}\n"
           "    - {line_to: {z_mm: %.17g, r_mm: %.17g}, boundary: metal}\n"
           "    - {line_to: {z_mm: 0, r_mm: %.17g}, boundary: metal}\n"
           "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: metal}\n",
           1e3 * length, 1e3 * length, 1e3 * radius, 1e3 * radius);
  cavum_result *result = solve(contour, count, beta, length, wanted);
  closed_pillbox_lowest(modes, indices, count, radius, length);
  ck_assert_int_eq(result->num_modes, count);
  for (int i = 0; i < count; i++) {
    char label[16];
    snprintf(label, sizeof label, "TM0%d%d", indices[i][0], indices[i][1]);
    snprintf(where, sizeof where, "pillbox %.0f x %.0f mm %s", 1e3 * radius, 1e3 * length, label);
    ck_assert_str_eq(result->modes[i].label, label);
    compare(where, result, i, &modes[i], beta, length, wanted);
  }
  cavum_result_destroy(&result);
}

static void check_sphere(double radius, double beta, accuracy wanted) {
  static const int order[4][2] = {{1, 1}, {2, 1}, {3, 1}, {4, 1}};  // l, n by rising frequency
  char contour[1024], where[96];
  snprintf(contour, sizeof contour,
           "contour:\n  kind: path\n  start: {z_mm: %.17g, r_mm: 0}\n  path:\n"
           "    - {line_to: {z_mm: %.17g, r_mm: 0}, boundary: axis}\n"
           "    - {arc_to: {z_mm: %.17g, r_mm: 0}, centre: {z_mm: 0, r_mm: 0}, turn: left, "
           "boundary: metal}\n",
           -1e3 * radius, 1e3 * radius, -1e3 * radius);
  cavum_result *result = solve(contour, 4, beta, 2.0 * radius, wanted);
  for (int i = 0; i < 4; i++) {
    closed_form mode = closed_sphere(radius, order[i][0], order[i][1]);
    snprintf(where, sizeof where, "sphere %.0f mm l = %d", 1e3 * radius, order[i][0]);
    compare(where, result, i, &mode, beta, 2.0 * radius, wanted);
  }
  // The peak of E is at a pole and that of B at the equator, l = 1.
  cavum_point e = result->modes[0].figures[CAVUM_FIGURE_EPK_OVER_EACC].at;
  cavum_point b = result->modes[0].figures[CAVUM_FIGURE_BPK_OVER_EACC].at;
  // A flat maximum is located to the square root of the field's accuracy.
  CAVUM_CHECK_NEAR(hypot(fabs(e.z_m) - radius, e.r_m), 0.0, 1e-2 * radius);
  CAVUM_CHECK_NEAR(hypot(b.z_m, b.r_m - radius), 0.0, 1e-2 * radius);
  cavum_result_destroy(&result);
}

static void check_shell(double inner, double outer, accuracy wanted) {
  char contour[2048], where[96];
  double inner_mm = 1e3 * inner, outer_mm = 1e3 * outer;
  snprintf(contour, sizeof contour,
           "contour:\n  kind: path\n  start: {z_mm: %.17g, r_mm: 0}\n  path:\n"
           "    - {line_to: {z_mm: %.17g, r_mm: 0}, boundary: axis}\n"
           "    - {arc_to: {z_mm: %.17g, r_mm: 0}, centre: {z_mm: 0, r_mm: 0}, turn: right, "
           "boundary: metal}\n"
           "    - {line_to: {z_mm: %.17g, r_mm: 0}, boundary: axis}\n"
           "    - {arc_to: {z_mm: %.17g, r_mm: 0}, centre: {z_mm: 0, r_mm: 0}, turn: left, "
           "boundary: metal}\n",
           -outer_mm, -inner_mm, inner_mm, outer_mm, -outer_mm);
  cavum_result *result = solve(contour, 2, 1.0, 2.0 * outer, wanted);
  for (int i = 0; i < 2; i++) {
    closed_form mode = closed_shell(inner, outer, i + 1, 1);
    snprintf(where, sizeof where, "spheres %.0f and %.0f mm l = %d", inner_mm, outer_mm, i + 1);
    compare(where, result, i, &mode, 1.0, 2.0 * outer, wanted);
  }
  cavum_result_destroy(&result);
}

static void check_coax(double inner, double outer, double length, accuracy wanted) {
  char contour[1024], where[96];
  snprintf(contour, sizeof contour,
           "contour:\n  kind: path\n  start: {z_mm: 0, r_mm: %.17g}\n  path:\n"
           "    - {line_to: {z_mm: %.17g, r_mm: %.17g}, boundary: metal}\n"
           "    - {line_to: {z_mm: %.17g, r_mm: %.17g}, boundary: metal}\n"
           "    - {line_to: {z_mm: 0, r_mm: %.17g}, boundary: metal}\n"
           "    - {line_to: {z_mm: 0, r_mm: %.17g}, boundary: metal}\n",
           1e3 * inner, 1e3 * length, 1e3 * inner, 1e3 * length, 1e3 * outer, 1e3 * outer,
           1e3 * inner);
  cavum_result *result = solve(contour, 3, 1.0, length, wanted);
  double tm01 = closed_coax_tm01(inner, outer);
  for (int i = 0; i < 3; i++) {
    closed_form mode = closed_coax(inner, outer, length, i + 1);
    ck_assert_double_lt(mode.k_per_m,
                        tm01);  // so the three lowest are TEM, the static one left out
    snprintf(where, sizeof where, "coax %.0f and %.0f mm p = %d", 1e3 * inner, 1e3 * outer, i + 1);
    compare(where, result, i, &mode, 1.0, length, wanted);
  }
  cavum_result_destroy(&result);
}

static void check_all(accuracy wanted) {
  check_pillbox(0.1, 0.12, 1.0, 6, wanted);
  check_pillbox(0.1, 0.09, 0.5, 3, wanted);  // slow particles
  check_pillbox(0.2, 0.03, 1.0, 3, wanted);  // flat
  check_pillbox(0.04, 0.3, 0.9, 5, wanted);  // long
  check_sphere(0.1, 1.0, wanted);
  check_sphere(0.037, 0.7, wanted);
  check_shell(0.05, 0.1, wanted);
  check_shell(0.02, 0.1, wanted);
  check_coax(0.02, 0.06, 0.2, wanted);
  check_coax(0.005, 0.05, 0.25, wanted);  // thin inner conductor
}

START_TEST(figures_at_default_accuracy) {
  check_all(ACCURACY_DEFAULT);
  tally_check(&all, "closed forms, default accuracy", 1.0, TALLY_MEDIAN_MOST_ANALYTIC);
}
END_TEST

START_TEST(figures_at_high_accuracy) {
  check_all(ACCURACY_HIGH);
  tally_check(&all, "closed forms, accuracy 1e-9 and 1e-6", 1.0, TALLY_MEDIAN_MOST_ANALYTIC);
}
END_TEST

// Elements beside a wire are many times longer than it is thick, and the rule for 1 / r has not
// points enough: at 100 um in 100 mm frequencies were off by 1e-8, and 1e-11 was stated. Errors of
// either sign are added up in the uncertainty, so it is some hundred times the error.
START_TEST(conductors_thinner_than_elements) {
  check_coax(1e-4, 0.1, 0.4, ACCURACY_DEFAULT);
  tally_check(&all, "coaxial lines with a thin wire", 1.0, 1e4);
}
END_TEST

// d(x j1)/dx and d(x y1)/dx in elementary functions.
static double riccati_j(double x) { return (cos(x) - sin(x) / x) / x + sin(x); }
static double riccati_y(double x) { return (sin(x) + cos(x) / x) / x - cos(x); }

// Tangential E vanishes on both spheres, l = 1.
static double shell_by_sines(double kb, double ratio) {
  return riccati_j(ratio * kb) * riccati_y(kb) - riccati_j(kb) * riccati_y(ratio * kb);
}

// H_phi = J1 and Y1 together, E_z zero at both radii, by the C library.
static double coax_by_libm(double kb, double ratio) {
  return j0(ratio * kb) * y0(kb) - j0(kb) * y0(ratio * kb);
}

// The lowest root of a condition and no other: looked for from below, in steps far shorter than
// the distance of two roots, some pi / (1 - ratio).
static void check_lowest(double root, double (*condition)(double, double), double ratio) {
  double first = condition(0.1, ratio);
  for (double x = 0.1; x < root * (1.0 - 1e-12); x += 0.01) {
    ck_assert_msg(condition(x, ratio) * first > 0.0, "a root below %.15g, at %.15g", root, x);
  }
  // To a part in 1e12, some thousand roundings.
  ck_assert(condition(root * (1.0 - 1e-12), ratio) * first > 0.0);
  ck_assert(condition(root * (1.0 + 1e-12), ratio) * first < 0.0);
}

// The lowest mode of a sphere without any quadrature: H_phi = j1(k r) sin(theta), so that on the
// axis E_z = 2 eta0 j1(x) / x with x = k z, and with X = k a and I = int_0^X j1(x) cos(x) / x dx =
// 1 / (2 X) - sin(2 X) / (4 X^2), J = int_0^X j1(x) / x dx = (cos(X) - sin(X) / X) / (2 X) + Si(X)
// / 2 the voltage is 4 eta0 I / k, the transit time factor I / J, and the energy mu0 (2 pi / 3) a^3
// (j1^2 - j0 j2). L_acc is 2 a. Si from GSL.
static void check_sphere_in_sines(const closed_form_figures *figures, double x, double j1,
                                  double j0_j2) {
  double i = 0.5 / x - 0.25 * sin(2.0 * x) / (x * x);
  double j = 0.5 * ((cos(x) - sin(x) / x) / x + gsl_sf_Si(x));
  CAVUM_CHECK_RELATIVE(figures->value[CAVUM_FIGURE_R_OVER_Q_LINAC],
                       24.0 * CLOSED_FORM_ETA0 * i * i / (PI * pow(x, 3) * (j1 * j1 - j0_j2)),
                       1e-12);
  CAVUM_CHECK_RELATIVE(figures->value[CAVUM_FIGURE_TRANSIT_TIME_FACTOR], i / j, 1e-12);
  CAVUM_CHECK_RELATIVE(figures->value[CAVUM_FIGURE_EPK_OVER_EACC], j1 / i, 1e-12);
  CAVUM_CHECK_RELATIVE(figures->value[CAVUM_FIGURE_BPK_OVER_EACC], 0.5 * x * j1 / (299792458.0 * i),
                       1e-12);
}

// The closed forms of this file against others, so that neither can drift.
START_TEST(closed_forms_agree_with_others) {
  // Half-wave pillbox TM010, with x = 2.40483 and L = pi R / x: G = eta0 x L / (2 (R + L)) = eta0
  // pi x / (2 (x + pi)), T = 2 / pi, R/Q = (E L T)^2 / (w eps0 E^2 pi R^2 L J1(x)^2 / 2) = 8 eta0 /
  // (pi x J1(x))^2, E_pk / E_acc = 1 / T, B_pk / E_acc = max J1 / (c T), max J1 = J1(1.84118).
  double radius = 0.1, length = PI / 2.4048255576957728 * radius;
  closed_form mode = closed_pillbox(radius, length, 1, 0);
  closed_form_figures pillbox = closed_form_compute(&mode, 1.0, length, 1.0);
  const double root = gsl_sf_bessel_zero_J0(1), at_root = gsl_sf_bessel_J1(root);
  CAVUM_CHECK_RELATIVE(pillbox.value[CAVUM_FIGURE_GEOMETRY_FACTOR],
                       CLOSED_FORM_ETA0 * PI * root / (2.0 * (root + PI)), 1e-12);
  CAVUM_CHECK_RELATIVE(pillbox.value[CAVUM_FIGURE_R_OVER_Q_LINAC],
                       8.0 * CLOSED_FORM_ETA0 / pow(PI * root * at_root, 2), 1e-12);
  CAVUM_CHECK_NEAR(pillbox.value[CAVUM_FIGURE_EPK_OVER_EACC], 0.5 * PI, 1e-12);
  CAVUM_CHECK_RELATIVE(pillbox.value[CAVUM_FIGURE_BPK_OVER_EACC],
                       gsl_sf_bessel_J1(1.8411837813406593) * 0.5 * PI / 299792458.0, 1e-9);
  CAVUM_CHECK_NEAR(pillbox.value[CAVUM_FIGURE_TRANSIT_TIME_FACTOR], 2.0 / PI, 1e-12);
  // Copper pillbox, quality factor (d / delta) / (1 + d / R): the same G by another formula.
  double g = CLOSED_FORM_ETA0 * 0.5 * 2.4048255576957728 * length / (radius + length);
  CAVUM_CHECK_RELATIVE(pillbox.value[CAVUM_FIGURE_GEOMETRY_FACTOR], g, 1e-12);
  // Roots of d(x j_l)/dx: 2.74, 3.87, 6.12 in tables of spherical resonators; half a last digit.
  CAVUM_CHECK_NEAR(0.1 * closed_sphere(0.1, 1, 1).k_per_m, 2.74, 5e-3);
  CAVUM_CHECK_NEAR(0.1 * closed_sphere(0.1, 2, 1).k_per_m, 3.87, 5e-3);
  CAVUM_CHECK_NEAR(0.1 * closed_sphere(0.1, 1, 2).k_per_m, 6.12, 5e-3);
  // G = eta0 (ka / 2) (1 - j0 j2 / j1^2) for l = 1: no quadrature.
  closed_form sphere = closed_sphere(0.1, 1, 1);
  double ka = 0.1 * sphere.k_per_m, j1 = gsl_sf_bessel_jl(1, ka);
  double j0_j2 = gsl_sf_bessel_jl(0, ka) * gsl_sf_bessel_jl(2, ka);
  double expected = CLOSED_FORM_ETA0 * 0.5 * ka * (1.0 - j0_j2 / (j1 * j1));
  closed_form_figures figures = closed_form_compute(&sphere, 1.0, 0.2, 1.0);
  CAVUM_CHECK_RELATIVE(figures.value[CAVUM_FIGURE_GEOMETRY_FACTOR], expected, 1e-12);
  check_sphere_in_sines(&figures, ka, j1, j0_j2);
  check_lowest(0.1 * closed_shell(0.05, 0.1, 1, 1).k_per_m, shell_by_sines, 0.5);
  check_lowest(0.1 * closed_shell(0.02, 0.1, 1, 1).k_per_m, shell_by_sines, 0.2);
  check_lowest(0.06 * closed_coax_tm01(0.02, 0.06), coax_by_libm, 1.0 / 3.0);
}
END_TEST

// A short line: below its first TEM mode lies the TM01 wave at cut-off, H_phi without variation in
// z.
START_TEST(short_coaxial_line_has_its_wave_guide_mode_first) {
  double inner = 0.02, outer = 0.06, length = 0.03;
  char text[1024];
  snprintf(text, sizeof text,
           "contour:\n  kind: path\n  start: {z_mm: 0, r_mm: 20}\n  path:\n"
           "    - {line_to: {z_mm: 30, r_mm: 20}, boundary: metal}\n"
           "    - {line_to: {z_mm: 30, r_mm: 60}, boundary: metal}\n"
           "    - {line_to: {z_mm: 0, r_mm: 60}, boundary: metal}\n"
           "    - {line_to: {z_mm: 0, r_mm: 20}, boundary: metal}\nmodes: {count: 2}\n");
  cavum_result *result = solving_solve_text(text, 1e-9, 1e-6);
  double scale = 299792458.0 / (2 * PI);
  CAVUM_CHECK_RELATIVE(result->modes[0].figures[CAVUM_FIGURE_FREQUENCY].value,
                       scale * closed_coax_tm01(inner, outer), FREQUENCY_PROMISE);
  CAVUM_CHECK_RELATIVE(result->modes[1].figures[CAVUM_FIGURE_FREQUENCY].value, scale * PI / length,
                       FREQUENCY_PROMISE);
  cavum_result_destroy(&result);
}
END_TEST

// Lossless planes at both ends: there is no E on the mantle of the TM010 mode, and no peak of it.
START_TEST(no_electric_field_on_metal) {
  cavum_result *result = solving_solve_text(
      "contour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n  path:\n"
      "    - {line_to: {z_mm: 120, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: 120, r_mm: 100}, boundary: electric}\n"
      "    - {line_to: {z_mm: 0, r_mm: 100}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: electric}\nmodes: {count: 2}\n",
      1e-6, 1e-4);
  ck_assert_int_eq(result->modes[0].figures[CAVUM_FIGURE_EPK_OVER_EACC].state, CAVUM_FIGURE_ABSENT);
  // B is there: J1(x01) of the mantle.
  const cavum_figure *b = &result->modes[0].figures[CAVUM_FIGURE_BPK_OVER_EACC];
  closed_form mode = closed_pillbox(0.1, 0.12, 1, 0);
  double k = mode.k_per_m, length = PI / k, half = 0.5 * k * 0.12;
  double eacc = CLOSED_FORM_ETA0 * 0.12 * (sin(half) / half) / length;
  double expected = 1.25663706212e-6 * gsl_sf_bessel_J1(gsl_sf_bessel_zero_J0(1)) / eacc;
  CAVUM_CHECK_NEAR(b->value, expected, b->uncertainty);
  // TM011 has E on the mantle.
  ck_assert_int_eq(result->modes[1].figures[CAVUM_FIGURE_EPK_OVER_EACC].state,
                   CAVUM_FIGURE_PRESENT);
  cavum_result_destroy(&result);
}
END_TEST

// Without a length of its own, a cell of a path has that of half a wavelength at its beta, and the
// gradient is the voltage over it: V = E L T with T = sin(x) / x, x = w L / (2 beta c).
START_TEST(half_a_wavelength_of_a_slow_particle) {
  const double beta = 0.6, gap_m = 0.08;
  cavum_result *result = solving_solve_text(
      "beta: 0.6\ncontour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n  path:\n"
      "    - {line_to: {z_mm: 80, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: 80, r_mm: 100}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0, r_mm: 100}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: metal}\n",
      1e-6, 1e-4);
  double k = gsl_sf_bessel_zero_J0(1) / 0.1, length_m = beta * PI / k, x = 0.5 * k * gap_m / beta;
  const cavum_figure *figures = result->modes[0].figures;
  const cavum_figure *voltage = &figures[CAVUM_FIGURE_VOLTAGE_AT_1_J];
  const cavum_figure *gradient = &figures[CAVUM_FIGURE_EACC_AT_1_J];
  const cavum_figure *peak = &figures[CAVUM_FIGURE_EPK_OVER_EACC];
  // V is certain to 1e-4 and f to 1e-6.
  CAVUM_CHECK_RELATIVE(result->accelerating_length.value_m, length_m, 1e-6);
  CAVUM_CHECK_RELATIVE(voltage->value / gradient->value, length_m, 1e-6);
  // E is largest on the axis, at the metal of both ends.
  CAVUM_CHECK_NEAR(peak->value, length_m * x / (gap_m * sin(x)), peak->uncertainty);
  cavum_result_destroy(&result);
}
END_TEST

// A metal cylinder between two magnetic planes: H_phi = J1(x r / radius) sin(p pi z / length).
// Short ones have no vertex off the planes.
START_TEST(cylinders_between_magnetic_planes) {
  const double radius = 0.07, lengths[] = {0.02, 0.05, 0.1, 0.12, 0.2};
  for (int i = 0; i < 5; i++) {
    for (int count = 1; count <= 8; count++) {
      char text[1024];
      double length = lengths[i], k[9];
      snprintf(text, sizeof text,
               "contour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n  path:\n"
               "    - {line_to: {z_mm: %.17g, r_mm: 0}, boundary: axis}\n"
               "    - {line_to: {z_mm: %.17g, r_mm: 70}, boundary: magnetic}\n"
               "    - {line_to: {z_mm: 0, r_mm: 70}, boundary: metal}\n"
               "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: magnetic}\nmodes: {count: %d}\n",
               1e3 * length, 1e3 * length, count);
      closed_magnetic_pillbox_lowest(k, count, radius, length);
      cavum_result *result = solving_solve_text(text, 1e-6, 1e-4);
      ck_assert_int_eq(result->num_modes, count);
      for (int m = 0; m < count; m++) {
        const cavum_figure *f = &result->modes[m].figures[CAVUM_FIGURE_FREQUENCY];
        CAVUM_CHECK_NEAR(f->value, 299792458.0 * k[m] / (2 * PI), f->uncertainty);
      }
      cavum_result_destroy(&result);
    }
  }
}
END_TEST

// A cylinder of 100 x 400 mm between magnetic planes: with a = pi / L and b = k / beta the first
// mode has V / int |E_z| dz = a |1 + exp(j b L)| / |a^2 - b^2| over 2 L / pi. Below one millionth a
// voltage counts as none.
START_TEST(voltages_of_slow_particles) {
  const double length = 0.4, betas[] = {0.05, 0.03, 0.011, 0.0091, 0.007, 0.005, 0.003, 0.001};
  int present = 0;
  for (int i = 0; i < 8; i++) {
    char text[1024];
    snprintf(text, sizeof text,
             "beta: %.17g\ncontour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n  path:\n"
             "    - {line_to: {z_mm: 400, r_mm: 0}, boundary: axis}\n"
             "    - {line_to: {z_mm: 400, r_mm: 100}, boundary: magnetic}\n"
             "    - {line_to: {z_mm: 0, r_mm: 100}, boundary: metal}\n"
             "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: magnetic}\n",
             betas[i]);
    double a = PI / length, k = hypot(a, gsl_sf_bessel_zero_J0(1) / 0.1), b = k / betas[i];
    double voltage = a * 2.0 * fabs(cos(0.5 * b * length)) / fabs(a * a - b * b);
    double expected = voltage / (2.0 / a);
    cavum_cell cell = solving_read(text);
    cavum_result *result = NULL;
    // The slowest miss the accuracy that is wanted of R/Q, and say so.
    cavum_status status = cavum_solve(&result, &cell, NULL, NULL);
    ck_assert(status == CAVUM_OK || status == CAVUM_ERR_NOT_CONVERGED);
    cavum_cell_clear(&cell);
    const cavum_figure *t = &result->modes[0].figures[CAVUM_FIGURE_TRANSIT_TIME_FACTOR_ABS];
    printf("beta %g: observed %.9g +- %.2e, closed form %.9g\n", betas[i], t->value, t->uncertainty,
           expected);
    if (t->state == CAVUM_FIGURE_ABSENT) {
      ck_assert_double_lt(expected, 1e-6);
    } else {
      CAVUM_CHECK_NEAR(t->value, expected, t->uncertainty);
      present++;
    }
    cavum_result_destroy(&result);
  }
  ck_assert_int_ge(present, 4);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, no_electric_field_on_metal);
  tcase_add_test(tests, half_a_wavelength_of_a_slow_particle);
  tcase_add_test(tests, cylinders_between_magnetic_planes);
  tcase_add_test(tests, voltages_of_slow_particles);
  tcase_add_test(tests, closed_forms_agree_with_others);
  tcase_add_test(tests, figures_at_default_accuracy);
  tcase_add_test(tests, figures_at_high_accuracy);
  tcase_add_test(tests, conductors_thinner_than_elements);
  tcase_add_test(tests, short_coaxial_line_has_its_wave_guide_mode_first);
}

CAVUM_TEST_MAIN("closed cavities", add_tests)
