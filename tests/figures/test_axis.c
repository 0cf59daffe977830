// SPDX-License-Identifier: GPL-3.0-or-later
// Integrals of E_z along the axis against closed forms and GSL.
#include <gsl/gsl_sf_bessel.h>
#include <gsl/gsl_sf_legendre.h>

#include "closed_form.h"
#include "eigen/modes_find.h"
#include "field_problem.h"
#include "figures/axis.h"
#include "figures/axis_speed.h"
#include "figures/mode_figures.h"

START_TEST(spherical_bessel_functions) {
  double j[33];
  for (int i = 0; i <= 400; i++) {
    double x = i < 200 ? 0.01 * i : 2.0 + 0.9 * (i - 200), worst = 0.0;
    cavum_axis_spherical_bessel(j, 32, x);
    for (int n = 0; n <= 32; n++) {
      // GSL underflows with an error where j_n is below 1e-300.
      double expected = x < 1e-3 && n > 20 ? 0.0 : gsl_sf_bessel_jl(n, x);
      worst = fmax(worst, fabs(j[n] - expected));
    }
    ck_assert_msg(worst < 3e-15, "x = %g: %.1e", x, worst);
  }
}
END_TEST

// Far above the order, where no table of a downward recurrence would be long enough: slow particles
// on long edges.
START_TEST(spherical_bessel_functions_of_large_arguments) {
  double j[33];
  for (int i = 0; i < 400; i++) {
    double x = 350.0 * pow(1.02, i), worst = 0.0;  // up to 9.5e5
    cavum_axis_spherical_bessel(j, 32, x);
    for (int n = 0; n <= 32; n++) worst = fmax(worst, fabs(j[n] - gsl_sf_bessel_jl(n, x)));
    // Of the largest, which is about 1 / x. GSL's own error grows with the angle that it reduces.
    ck_assert_msg(worst * x < 3e-15 + 1e-18 * x * x, "x = %g: %.1e of 1 / x", x, worst * x);
  }
}
END_TEST

// Edges with arbitrary Legendre coefficients and gaps between them.
static cavum_axis_edge edges[3] = {
    {-0.05, 0.03, {1.0, -0.4, 0.7, 0.1, -0.3}, false},
    {0.01, 0.02, {-0.2, 0.9, 0.3, -0.5, 0.2}, false},
    {0.07, 0.04, {0.4, 0.1, -0.6, 0.2, 0.1}, false},
};

typedef struct integrand {
  const cavum_axis_edge *edge;
  double wave_number;
  bool sine, absolute;
} integrand;

static double value_at(double z, void *context) {
  const integrand *f = context;
  double s = (z - f->edge->middle_m) / f->edge->half_m, sum = 0.0;
  for (int n = 0; n <= 4; n++) {
    sum += f->edge->coeff[n] * gsl_sf_legendre_Pl(n, fmax(-1.0, fmin(1.0, s)));
  }
  if (f->absolute) return fabs(sum);
  return sum * (f->sine ? sin(f->wave_number * z) : cos(f->wave_number * z));
}

static double integrate(double wave_number, bool sine, bool absolute) {
  double sum = 0.0;
  for (int i = 0; i < 3; i++) {
    integrand f = {&edges[i], wave_number, sine, absolute};
    sum += closed_form_integral(value_at, &f, edges[i].middle_m - edges[i].half_m,
                                edges[i].middle_m + edges[i].half_m);
  }
  return sum;
}

// A mode without a frequency, of a gap that is nothing but rounding, has none of them.
START_TEST(spherical_bessel_functions_of_no_number) {
  double j[5] = {0};
  cavum_axis_spherical_bessel(j, 4, NAN);
  for (int n = 0; n <= 4; n++) ck_assert(isnan(j[n]));
}
END_TEST

START_TEST(voltage_of_polynomials_is_exact_for_every_speed) {
  cavum_axis_field axis = {3, 4, CAVUM_PARITY_NONE, edges};
  const double k = 27.0, betas[] = {1.0, 0.5, 0.2, 0.05};
  for (int i = 0; i < 4; i++) {
    cavum_phasor v = cavum_axis_voltage(&axis, k, betas[i]);
    CAVUM_CHECK_NEAR(v.re, integrate(k / betas[i], false, false), 1e-14);
    CAVUM_CHECK_NEAR(v.im, integrate(k / betas[i], true, false), 1e-14);
  }
}
END_TEST

// The last edge alone as one half of a mirrored cell: an even field doubles the cosine part, an odd
// one the sine part.
START_TEST(mirrored_halves) {
  cavum_axis_edge half = edges[2];
  half.middle_m = half.half_m;  // from z = 0
  cavum_axis_field axis = {1, 4, CAVUM_PARITY_EVEN, &half};
  integrand f = {&half, 27.0, false, false};
  cavum_phasor v = cavum_axis_voltage(&axis, 27.0, 1.0);
  CAVUM_CHECK_NEAR(v.re, 2.0 * closed_form_integral(value_at, &f, 0.0, 0.08), 1e-14);
  CAVUM_CHECK_NEAR(v.im, 0.0, 0.0);
  axis.parity = CAVUM_PARITY_ODD;
  f.sine = true;
  v = cavum_axis_voltage(&axis, 27.0, 1.0);
  CAVUM_CHECK_NEAR(v.im, 2.0 * closed_form_integral(value_at, &f, 0.0, 0.08), 1e-14);
  CAVUM_CHECK_NEAR(v.re, 0.0, 0.0);
  double of_e, of_abs;
  cavum_axis_plain_integrals(&of_e, &of_abs, &axis);
  CAVUM_CHECK_NEAR(of_e, 0.0, 0.0);
}
END_TEST

START_TEST(plain_integrals_split_at_sign_changes) {
  cavum_axis_field axis = {3, 4, CAVUM_PARITY_NONE, edges};
  double of_e, of_abs, mean = 0.0;
  cavum_axis_plain_integrals(&of_e, &of_abs, &axis);
  // int P_n = 0 for n > 0: only the mean of each edge counts.
  for (int i = 0; i < 3; i++) mean += 2.0 * edges[i].half_m * edges[i].coeff[0];
  CAVUM_CHECK_NEAR(of_e, mean, 1e-16);
  // The reference integrates over the kinks, one in a panel of a 64th of an edge: 1e-4 of the
  // whole.
  CAVUM_CHECK_RELATIVE(of_abs, integrate(0.0, false, true), 1e-4);
}
END_TEST

// The best speed, and that its |V| is what the voltage there says.
static double best_beta(const cavum_axis_field *axis, double k, double from, double hint) {
  double size, best = cavum_axis_best_beta(&size, axis, k, from, hint);
  cavum_phasor v = cavum_axis_voltage(axis, k, best);
  CAVUM_CHECK_NEAR(size, hypot(v.re, v.im), 1e-12 * size);
  return best;
}

// E_z = 1 over a gap of length g: |V| = (2 beta / k) |sin(k g / (2 beta))|.
START_TEST(uniform_gap) {
  cavum_axis_edge gap = {0.0, 0.04, {1.0}, false};
  cavum_axis_field axis = {1, 0, CAVUM_PARITY_NONE, &gap};
  for (double k = 5.0; k < 60.0; k += 11.0) {
    cavum_phasor v = cavum_axis_voltage(&axis, k, 1.0);
    CAVUM_CHECK_NEAR(hypot(v.re, v.im), fabs(2.0 / k * sin(0.04 * k)), 1e-15);
  }
  // The faster the better while k g / (2 beta) is below its first maximum of sin(x) / x, x = 0.
  CAVUM_CHECK_NEAR(best_beta(&axis, 20.0, 0.05, 0.0), 1.0, 0.0);
}
END_TEST

// E_z = cos(q z) on one edge around z = 0.
static cavum_axis_edge standing_wave(double q_per_m, double half_m) {
  // Legendre coefficients of cos(x s): (2 n + 1) (-1)^(n/2) j_n(x) for even n, DLMF 10.60.
  cavum_axis_edge edge = {0.0, half_m, {0.0}, false};
  for (int n = 0; n <= CAVUM_DEGREE_MOST; n += 2) {
    edge.coeff[n] = (2 * n + 1) * (n % 4 == 0 ? 1.0 : -1.0) * gsl_sf_bessel_jl(n, q_per_m * half_m);
  }
  return edge;
}

// E_z = cos(q z) on one long edge is strongest for particles with k / beta close to q.
START_TEST(best_speed_of_a_standing_wave) {
  double q = 300.0, half = 0.03, k = 200.0;
  cavum_axis_edge edge = standing_wave(q, half);
  cavum_axis_field axis = {1, CAVUM_DEGREE_MOST, CAVUM_PARITY_NONE, &edge};
  // |V|(p) = |sin((p - q) h) / (p - q) + sin((p + q) h) / (p + q)|, p = k / beta.
  double best = best_beta(&axis, k, 0.05, 0.0), largest = -1.0, at = 0.0;
  for (int i = 0; i <= 400000; i++) {
    double p = k / (0.6 + 0.2 * i / 400000.0);
    double v = fabs(sin((p - q) * half) / (p - q) + sin((p + q) * half) / (p + q));
    if (v > largest) largest = v, at = k / p;
  }
  // The truncated series is good to 1e-4 of the field, the scan to 5e-7.
  CAVUM_CHECK_NEAR(best, at, 1e-4);
}
END_TEST

// A hint saves the look at all speeds and changes nothing else: right, a little off, at another
// lobe or on a slope, the answer is that of the search without one.
START_TEST(hints_do_not_change_the_best_speed) {
  static const double q_per_m[] = {450.0, 300.0, 240.0, 210.0};
  for (int i = 0; i < 4; i++) {
    cavum_axis_edge edge = standing_wave(q_per_m[i], 0.03);
    cavum_axis_field axis = {1, CAVUM_DEGREE_MOST, CAVUM_PARITY_NONE, &edge};
    double best = best_beta(&axis, 200.0, 0.05, 0.0);
    const double hints[] = {best,        best + 1e-5, best - 1e-5, best + 1.5e-3, best - 1.5e-3,
                            best + 0.01, best - 0.01, best - 0.2,  0.05,          1.0};
    for (size_t h = 0; h < sizeof hints / sizeof *hints; h++) {
      double hint = fmin(1.0, hints[h]);
      // Golden sections end 1e-8 apart, where |V| differs from its largest value by rounding as far
      // as sqrt(eps) from it: 1e-8 of a lobe of width 0.3, a few times over.
      CAVUM_CHECK_NEAR(best_beta(&axis, 200.0, 0.05, hint), best, 1e-7);
    }
  }
}
END_TEST

// The fastest particle as the answer: with a hint of it, and with hints beside it.
START_TEST(hints_at_the_end_of_the_range) {
  cavum_axis_edge gap = {0.0, 0.04, {1.0}, false};
  cavum_axis_field axis = {1, 0, CAVUM_PARITY_NONE, &gap};
  const double hints[] = {1.0, 0.9999, 0.999, 0.99, 0.5, 0.05};
  for (size_t h = 0; h < sizeof hints / sizeof *hints; h++) {
    CAVUM_CHECK_NEAR(best_beta(&axis, 20.0, 0.05, hints[h]), 1.0, 0.0);
  }
}
END_TEST

// Half of a mirrored cell, edges so long that the quick look at the speeds gives way to the other
// one, and both against a plain list of |V| at many speeds.
START_TEST(best_speed_is_that_of_a_list) {
  static const double k_per_m[] = {20.0, 60.0, 150.0};
  for (int parity = CAVUM_PARITY_NONE; parity <= CAVUM_PARITY_ODD; parity++) {
    for (int i = 0; i < 3; i++) {
      cavum_axis_field axis = {3, 4, (cavum_parity)parity, edges};
      double most = 0.0, from = 0.05;
      for (int n = 0; n <= 20000; n++) {
        cavum_phasor v = cavum_axis_voltage(&axis, k_per_m[i], from + (1.0 - from) * n / 20000.0);
        most = fmax(most, hypot(v.re, v.im));
      }
      double best = best_beta(&axis, k_per_m[i], from, 0.0);
      cavum_phasor v = cavum_axis_voltage(&axis, k_per_m[i], best);
      // The list is 5e-5 apart in lobes of more than 0.01: 1e-5 of the top may be missed by it.
      CAVUM_CHECK_NEAR(hypot(v.re, v.im), most, 1e-5 * most);
    }
  }
}
END_TEST

START_TEST(sign_changes_of_lobes) {
  // cos(n pi z / L) over four edges has n sign changes.
  for (int n = 0; n <= 5; n++) {
    cavum_axis_edge part[4];
    for (int i = 0; i < 4; i++) {
      // Coefficients up to degree 8 by integration.
      part[i] = (cavum_axis_edge){0.025 * (i + 0.5), 0.0125, {0.0}, false};
      for (int d = 0; d <= 8; d++) {
        double sum = 0.0;
        for (int k = 0; k < 400; k++) {
          double s = -1.0 + (k + 0.5) / 200.0, z = part[i].middle_m + part[i].half_m * s;
          sum += cos(n * acos(-1.0) * z / 0.1) * gsl_sf_legendre_Pl(d, s) / 200.0;
        }
        part[i].coeff[d] = 0.5 * (2 * d + 1) * sum;
      }
    }
    cavum_axis_field axis = {4, 8, CAVUM_PARITY_NONE, part};
    double z;
    ck_assert_int_eq(cavum_axis_count_sign_changes(&z, &axis), n);
    axis.parity = CAVUM_PARITY_EVEN;
    ck_assert_int_eq(cavum_axis_count_sign_changes(&z, &axis), 2 * n);
  }
}
END_TEST

// How far voltage and integral cancel in the first two modes of a pillbox of radius and length 1 m:
// E_z = 1 and E_z = cos(pi z) on the axis. A part decides which figures exist and how accurate a
// vector has to be, and shows in no figure by itself.
START_TEST(parts_of_a_pillbox) {
  static const double nodes[3] = {0.0, 0.6, 1.0}, j01 = 2.404825557695773;
  double k = hypot(j01, CAVUM_PI), less = CAVUM_PI - k, more = CAVUM_PI + k;
  // V / int |E_z| dz: sin(k / 2) / (k / 2); 2 int_0^1/2 sin(pi u) sin(k u) du over 2 / pi.
  const double voltage[2] = {
      sin(0.5 * j01) / (0.5 * j01),
      0.5 * CAVUM_PI * fabs(sin(0.5 * less) / less - sin(0.5 * more) / more)};
  grid_msh grid = {.num_s = 2,
                   .num_t = 2,
                   .s = nodes,
                   .t = nodes,
                   .order = 1,
                   .unit_m = 1.0,
                   .map = grid_identity,
                   .region_names = {"vacuum"},
                   .sides = {CAVUM_BOUNDARY_AXIS, CAVUM_BOUNDARY_METAL, CAVUM_BOUNDARY_METAL,
                             CAVUM_BOUNDARY_METAL}};
  field_problem p;
  cavum_modes modes = {0};
  cavum_mesh_boundary boundary = {0};
  cavum_cell cell = {.beta = 1.0};
  field_problem_create(&p, field_problem_grid(&grid, NULL), 10);
  ck_assert_int_eq(cavum_mesh_boundary_create(&boundary, &p.mesh, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_modes_find_lowest(&modes, &p.pencil, &p.condensed, 2, NULL, 1e-12, NULL),
                   CAVUM_OK);
  for (int m = 0; m < 2; m++) {
    cavum_mode_values values = {0};
    cavum_view view = cavum_view_create(&p.discretisation, &boundary,
                                        modes.vectors + (int64_t)m * modes.num_unknowns,
                                        modes.k2_per_m2[m], CAVUM_PARITY_NONE);
    ck_assert_int_eq(cavum_mode_measure_cancellation(&values, &view, &cell, NULL), CAVUM_OK);
    // Degree 10 on two elements across has settled to better than that.
    CAVUM_CHECK_NEAR(values.voltage_rcond, voltage[m], 1e-6);
    CAVUM_CHECK_NEAR(values.integral_rcond, m == 0 ? 1.0 : 0.0, 1e-6);
  }
  cavum_modes_clear(&modes);
  cavum_mesh_boundary_clear(&boundary);
  field_problem_clear(&p);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, spherical_bessel_functions);
  tcase_add_test(tests, spherical_bessel_functions_of_large_arguments);
  tcase_add_test(tests, spherical_bessel_functions_of_no_number);
  tcase_add_test(tests, voltage_of_polynomials_is_exact_for_every_speed);
  tcase_add_test(tests, mirrored_halves);
  tcase_add_test(tests, plain_integrals_split_at_sign_changes);
  tcase_add_test(tests, uniform_gap);
  tcase_add_test(tests, best_speed_of_a_standing_wave);
  tcase_add_test(tests, hints_do_not_change_the_best_speed);
  tcase_add_test(tests, hints_at_the_end_of_the_range);
  tcase_add_test(tests, best_speed_is_that_of_a_list);
  tcase_add_test(tests, sign_changes_of_lobes);
  tcase_add_test(tests, parts_of_a_pillbox);
}

CAVUM_TEST_MAIN("axis", add_tests)
