// SPDX-License-Identifier: GPL-3.0-or-later
// Surface resistance: waves in a conductor, the fit of niobium and its theory, cautions, refusals.
#include <complex.h>
#include <math.h>
#include <string.h>

#include "base/base.h"
#include "cavum/wall.h"
#include "support.h"

// A plane wave that enters a good conductor (Jackson, Classical Electrodynamics, 3rd ed., 8.1): E /
// H = sqrt(j w mu0 / sigma), whose real part is the resistance, and exp(-j q x) with q^2 = -j w mu0
// sigma, which falls to 1 / e in a skin depth. In complex numbers, which the program does without;
// mu0 is that of CODATA 2018. Of copper, aluminium and steel.
START_TEST(skin_effect_is_that_of_a_wave_in_a_conductor) {
  static const double conductivities[] = {5.8e7, 5.96e7, 3.77e7, 6.58e6};
  static const double frequencies[] = {1.3e9, 4e8, 3.9e9};
  for (int i = 0; i < 12; i++) {
    double sigma = conductivities[i % 4], hz = frequencies[i / 4];
    double complex jwmu = 2.0 * CAVUM_PI * hz * 1.25663706212e-6 * I;
    // A square root and three products: some roundings.
    CAVUM_CHECK_RELATIVE(cavum_wall_skin_resistance_ohm(hz, sigma), creal(csqrt(jwmu / sigma)),
                         2e-15);
    CAVUM_CHECK_RELATIVE(cavum_wall_skin_depth_m(hz, sigma), -1.0 / cimag(csqrt(-jwmu * sigma)),
                         2e-15);
  }
}
END_TEST

// R_s = 1 / (sigma delta) ties the two functions together; rounding alone separates them.
START_TEST(skin_resistance_is_one_over_sigma_delta) {
  double product =
      cavum_wall_skin_resistance_ohm(7.1e8, 3.3e7) * 3.3e7 * cavum_wall_skin_depth_m(7.1e8, 3.3e7);
  CAVUM_CHECK_NEAR(product, 1.0, 1e-15);
}
END_TEST

// The fit of the docstring, 2e-4 ohm (f / 1.5 GHz)^2 / (T / K) exp(-17.67 K / T), in
// logarithms.
static double fit_ohm(double hz, double k) {
  return exp(log(2e-4) + 2.0 * log(hz / 1.5e9) - log(k) - 17.67 / k);
}

START_TEST(niobium_has_the_values_of_its_fit) {
  for (double k = 1.5; k < 4.3; k += 0.1) {
    CAVUM_CHECK_RELATIVE(cavum_wall_niobium_bcs_ohm(1.3e9, k), fit_ohm(1.3e9, k), 1e-13);
    CAVUM_CHECK_RELATIVE(cavum_wall_niobium_bcs_ohm(8.05e8, k), fit_ohm(8.05e8, k), 1e-13);
  }
}
END_TEST

START_TEST(walls_of_every_kind_give_their_resistance) {
  char caution[256];
  double resistance = 0.0;
  cavum_error error = {0};
  cavum_wall wall = {
      .kind = CAVUM_WALL_NIOBIUM, .temperature_k = 2.0, .residual_resistance_ohm = 10e-9};
  ck_assert_int_eq(cavum_wall_resistance(&resistance, caution, &wall, 1.3e9, &error), CAVUM_OK);
  // The fit and what is left of it at no temperature; two roundings.
  CAVUM_CHECK_RELATIVE(resistance, fit_ohm(1.3e9, 2.0) + 10e-9, 1e-13);
  ck_assert_str_eq(caution, "");
  wall.residual_resistance_ohm = 0.0;
  cavum_wall_resistance(&resistance, NULL, &wall, 1.3e9, NULL);
  CAVUM_CHECK_RELATIVE(resistance, fit_ohm(1.3e9, 2.0), 1e-13);
  wall = (cavum_wall){
      .kind = CAVUM_WALL_NIOBIUM, .temperature_k = 4.2, .residual_resistance_ohm = 10e-9};
  cavum_wall_resistance(&resistance, NULL, &wall, 1.3e9, NULL);
  CAVUM_CHECK_RELATIVE(resistance, fit_ohm(1.3e9, 4.2) + 10e-9, 1e-13);
  wall = (cavum_wall){.kind = CAVUM_WALL_METAL, .conductivity_s_per_m = 5.8e7};
  ck_assert_int_eq(cavum_wall_resistance(&resistance, caution, &wall, 1.3e9, &error), CAVUM_OK);
  ck_assert(resistance == cavum_wall_skin_resistance_ohm(1.3e9, 5.8e7));
  ck_assert_str_eq(caution, "");
  wall = (cavum_wall){.kind = CAVUM_WALL_RESISTANCE, .surface_resistance_ohm = 1.25e-8};
  ck_assert_int_eq(cavum_wall_resistance(&resistance, caution, &wall, 1.3e9, &error), CAVUM_OK);
  ck_assert(resistance == 1.25e-8);
}
END_TEST

START_TEST(cautions_name_the_end_of_the_range) {
  char caution[256];
  double resistance = 0.0;
  cavum_wall wall = {.kind = CAVUM_WALL_NIOBIUM, .temperature_k = 6.0};
  cavum_wall_resistance(&resistance, caution, &wall, 1.3e9, NULL);
  ck_assert_ptr_nonnull(strstr(caution, "T_c/2"));
  wall.temperature_k = 2.0;
  cavum_wall_resistance(&resistance, caution, &wall, 2e11, NULL);
  ck_assert_ptr_nonnull(strstr(caution, "1 THz"));
  // Copper at 4 K with a residual resistivity ratio of 50.
  wall = (cavum_wall){.kind = CAVUM_WALL_METAL, .conductivity_s_per_m = 50 * 5.8e7};
  cavum_wall_resistance(&resistance, caution, &wall, 1.3e9, NULL);
  ck_assert_ptr_nonnull(strstr(caution, "anomalous"));
}
END_TEST

START_TEST(impossible_walls_are_refused_and_nothing_is_written) {
  const cavum_wall walls[] = {
      {.kind = CAVUM_WALL_NIOBIUM, .temperature_k = 9.3},
      {.kind = CAVUM_WALL_NIOBIUM, .temperature_k = 0.0},
      {.kind = CAVUM_WALL_NIOBIUM, .temperature_k = NAN},
      {.kind = CAVUM_WALL_NIOBIUM, .temperature_k = 2.0, .residual_resistance_ohm = -1e-9},
      {.kind = CAVUM_WALL_METAL, .conductivity_s_per_m = -1.0},
      {.kind = CAVUM_WALL_METAL, .conductivity_s_per_m = INFINITY},
      {.kind = CAVUM_WALL_RESISTANCE, .surface_resistance_ohm = 0.0},
  };
  for (size_t i = 0; i < sizeof walls / sizeof *walls; i++) {
    double resistance = -7.0;
    cavum_error error = {0};
    ck_assert_int_eq(cavum_wall_resistance(&resistance, NULL, &walls[i], 1.3e9, &error),
                     CAVUM_ERR_RANGE);
    ck_assert(resistance == -7.0);
    ck_assert_ptr_nonnull(strstr(error.message, "expected"));
  }
  double resistance = -7.0;
  const cavum_wall wall = {.kind = CAVUM_WALL_NIOBIUM, .temperature_k = 2.0};
  ck_assert_int_eq(cavum_wall_resistance(&resistance, NULL, &wall, -1.0, NULL), CAVUM_ERR_RANGE);
  ck_assert_int_eq(cavum_wall_resistance(&resistance, NULL, &wall, 8e11, NULL), CAVUM_ERR_RANGE);
  ck_assert(resistance == -7.0);
}
END_TEST

// Real part of the conductivity over the normal one [MattisBardeen1958], with the gap of 17.67 K of
// the fit, by the midpoint rule in u, E = gap cosh(u^3), which takes the roots out:
//     (2 / h f) int (F(E) - F(E + h f)) (E^2 + gap^2 + h f E) / (roots) dE
static double mattis_bardeen(double frequency_hz, double temperature_k) {
  enum { STEPS = 4000 };
  const double gap_k = 17.67, hf_k = 6.62607015e-34 / 1.380649e-23 * frequency_hz;
  double last = cbrt(acosh(1.0 + 60.0 * temperature_k / gap_k)), sum = 0.0;
  for (int i = 0; i < STEPS; i++) {
    double u = last * (i + 0.5) / STEPS, energy = gap_k * cosh(u * u * u), more = energy + hf_k;
    double filled =
        1.0 / (exp(energy / temperature_k) + 1.0) - 1.0 / (exp(more / temperature_k) + 1.0);
    sum += filled * (energy * energy + gap_k * gap_k + hf_k * energy) /
           sqrt(more * more - gap_k * gap_k) * 3.0 * u * u * last / STEPS;
  }
  return 2.0 * sum / hf_k;
}

// R_s goes as f^2 sigma_1 where the penetration depth stays, below T_c / 2. The theory and the fit
// are made to agree at 1.3 GHz and 2.5 K. The stated error holds the difference and is at most
// three times the largest one, so that it says something.
START_TEST(niobium_fit_is_as_good_as_it_says) {
  const double temperatures[] = {1.5, 2.0, 3.0, 4.2, 4.6};
  const double frequencies[] = {0.2e9, 0.5e9, 0.8e9, 1.3e9, 3e9, 10e9};
  cavum_wall wall = {.kind = CAVUM_WALL_NIOBIUM, .temperature_k = 2.0};
  double unit =
      cavum_wall_niobium_bcs_ohm(1.3e9, 2.5) / (1.3e9 * 1.3e9 * mattis_bardeen(1.3e9, 2.5));
  for (int i = 0; i < 6; i++) {
    double f = frequencies[i], worst = 0.0;
    for (int k = 0; k < 5; k++) {
      wall.temperature_k = temperatures[k];
      double fit = cavum_wall_niobium_bcs_ohm(f, temperatures[k]);
      double theory = unit * f * f * mattis_bardeen(f, temperatures[k]);
      double stated = cavum_wall_resistance_error_ohm(&wall, f);
      printf("%4.1f GHz, %.1f K: fit off by %+.3f, stated %.3f\n", 1e-9 * f, temperatures[k],
             theory / fit - 1.0, stated / fit);
      ck_assert(fabs(theory - fit) <= stated);
      worst = fmax(worst, fabs(theory - fit) / stated);
    }
    ck_assert(worst > 1.0 / 3.0);
  }
}
END_TEST

START_TEST(only_a_fit_has_an_error_of_its_own) {
  cavum_wall wall = {
      .kind = CAVUM_WALL_NIOBIUM, .temperature_k = 2.0, .residual_resistance_ohm = 1e-6};
  // A fifth of the BCS part alone.
  CAVUM_CHECK_RELATIVE(cavum_wall_resistance_error_ohm(&wall, 1.3e9), 0.2 * fit_ohm(1.3e9, 2.0),
                       1e-13);
  ck_assert(cavum_wall_resistance_error_ohm(&wall, 8e11) == 0.0);
  ck_assert(cavum_wall_resistance_error_ohm(&wall, NAN) == 0.0);
  wall.temperature_k = 10.0;
  ck_assert(cavum_wall_resistance_error_ohm(&wall, 1.3e9) == 0.0);
  wall = (cavum_wall){.kind = CAVUM_WALL_RESISTANCE, .surface_resistance_ohm = 1.25e-8};
  ck_assert(cavum_wall_resistance_error_ohm(&wall, 1.3e9) == 0.0);
  wall = (cavum_wall){.kind = CAVUM_WALL_METAL, .conductivity_s_per_m = 5.8e7};
  ck_assert(cavum_wall_resistance_error_ohm(&wall, 1.3e9) == 0.0);
  ck_assert(cavum_wall_resistance_error_ohm(NULL, 1.3e9) == 0.0);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, skin_effect_is_that_of_a_wave_in_a_conductor);
  tcase_add_test(tests, skin_resistance_is_one_over_sigma_delta);
  tcase_add_test(tests, niobium_has_the_values_of_its_fit);
  tcase_add_test(tests, niobium_fit_is_as_good_as_it_says);
  tcase_add_test(tests, only_a_fit_has_an_error_of_its_own);
  tcase_add_test(tests, walls_of_every_kind_give_their_resistance);
  tcase_add_test(tests, cautions_name_the_end_of_the_range);
  tcase_add_test(tests, impossible_walls_are_refused_and_nothing_is_written);
}

CAVUM_TEST_MAIN("wall", add_tests)
