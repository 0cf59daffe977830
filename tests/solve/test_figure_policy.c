// SPDX-License-Identifier: GPL-3.0-or-later
// The table of what figures are like: complete, and right where it can be told from
// the definitions of the figures.
#include <string.h>

#include "solve/figure_policy.h"
#include "support.h"

static cavum_mode_values values_with(double voltage, double integral, double optimum) {
  cavum_mode_values values = {
      .voltage_rcond = voltage, .integral_rcond = integral, .optimum_rcond = optimum};
  values.figures[CAVUM_FIGURE_FREQUENCY].value = 1e9;
  values.figures[CAVUM_FIGURE_TUBE_CUT_FREQUENCY].value = -1e3;
  return values;
}

// A row that is left out is all zeros: no figure is without rounding.
START_TEST(every_figure_has_a_row) {
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    const cavum_figure_policy *policy = cavum_figure_policy_of((cavum_figure_id)id);
    ck_assert_double_gt(policy->rounding_floor, 0.0);
    ck_assert_double_lt(policy->rounding_floor, 1e-6);
  }
}
END_TEST

// How often a figure holds mu0. With energy and shape given, E goes as 1 / sqrt(eps0) = c
// sqrt(mu0), and c is exact; H goes as 1 / sqrt(mu0). So V goes as the root of mu0, R/Q and G as
// mu0, and mu0 H / E not at all. Of the wall the largest power counts: a stated resistance has
// none, one by skin depth the root.
static double power_of_mu0(cavum_figure_id id) {
  switch (id) {
    case CAVUM_FIGURE_VOLTAGE_AT_1_J:
    case CAVUM_FIGURE_EACC_AT_1_J:
    case CAVUM_FIGURE_SURFACE_RESISTANCE:
      return 0.5;
    case CAVUM_FIGURE_R_OVER_Q_LINAC:
    case CAVUM_FIGURE_R_OVER_Q_CIRCUIT:
    case CAVUM_FIGURE_R_OVER_Q_OPTIMUM:
    case CAVUM_FIGURE_TUBE_CUT_R_OVER_Q:
    case CAVUM_FIGURE_GEOMETRY_FACTOR:
    case CAVUM_FIGURE_LOSS_FACTOR:
    case CAVUM_FIGURE_Q0:  // G / R_s
      return 1.0;
    case CAVUM_FIGURE_G_TIMES_R_OVER_Q:
    case CAVUM_FIGURE_SHUNT_IMPEDANCE:  // R/Q times Q0
    case CAVUM_FIGURE_WALL_POWER:       // V^2 over it
      return 2.0;
    case CAVUM_FIGURE_FREQUENCY:
    case CAVUM_FIGURE_EPK_OVER_EACC:
    case CAVUM_FIGURE_BPK_OVER_EACC:
    case CAVUM_FIGURE_TRANSIT_TIME_FACTOR:
    case CAVUM_FIGURE_TRANSIT_TIME_FACTOR_ABS:
    case CAVUM_FIGURE_BETA_OPTIMUM:
    case CAVUM_FIGURE_TUBE_CUT_FREQUENCY:
    case CAVUM_NUM_FIGURES:
      break;
  }
  return 0.0;
}

START_TEST(constants_follow_the_power_of_mu0) {
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    // CODATA 2018 and 2022 differ by 6.8e-10 in mu0.
    CAVUM_CHECK_NEAR(cavum_figure_policy_of((cavum_figure_id)id)->constant_error,
                     power_of_mu0((cavum_figure_id)id) * 7e-10, 1e-20);
  }
}
END_TEST

// Twice the error of the vector is twice that of every figure but those of second order; one that
// cancels to a hundredth is a hundred times as uncertain where the figure holds what cancels.
START_TEST(vector_errors_are_magnified_by_what_cancels) {
  const double error = 1e-8;
  cavum_mode_values plain = values_with(1.0, 1.0, 1.0), voltage = values_with(0.01, 1.0, 1.0),
                    integral = values_with(1.0, 0.01, 1.0), optimum = values_with(1.0, 1.0, 0.01);
  for (int i = 0; i < CAVUM_NUM_FIGURES; i++) {
    cavum_figure_id id = (cavum_figure_id)i;
    const cavum_figure_policy *policy = cavum_figure_policy_of(id);
    double once = cavum_figure_policy_vector_error(id, error, &plain);
    CAVUM_CHECK_NEAR(cavum_figure_policy_vector_error(id, 2.0 * error, &plain), 2.0 * once, 1e-20);
    bool holds_voltage =
        policy->needs != CAVUM_NEEDS_NO_AXIS_INTEGRAL && policy->role != CAVUM_ROLE_ESTIMATE;
    bool holds_best = id == CAVUM_FIGURE_BETA_OPTIMUM || id == CAVUM_FIGURE_R_OVER_Q_OPTIMUM;
    double by_voltage = holds_voltage ? 100.0 : 1.0;
    double by_integral = id == CAVUM_FIGURE_TRANSIT_TIME_FACTOR ? 100.0 : 1.0;
    CAVUM_CHECK_NEAR(cavum_figure_policy_vector_error(id, error, &voltage), by_voltage * once,
                     1e-18);
    CAVUM_CHECK_NEAR(cavum_figure_policy_vector_error(id, error, &integral), by_integral * once,
                     1e-18);
    CAVUM_CHECK_NEAR(cavum_figure_policy_vector_error(id, error, &optimum),
                     (holds_best ? 100.0 : 1.0) * once, 1e-18);
  }
  ck_assert_double_eq(cavum_figure_policy_vector_error(CAVUM_FIGURE_FREQUENCY, error, &plain), 0.0);
  ck_assert_double_gt(cavum_figure_policy_vector_error(CAVUM_FIGURE_Q0, error, &plain), error);
}
END_TEST

static cavum_mode_values values_of(cavum_figure_id id, double value, double uncertainty,
                                   double integral_over_abs) {
  cavum_mode_values values = {.integral_over_abs = integral_over_abs};
  values.figures[id] =
      (cavum_figure){.state = CAVUM_FIGURE_PRESENT, .value = value, .uncertainty = uncertainty};
  values.figures[CAVUM_FIGURE_BETA_OPTIMUM].state = CAVUM_FIGURE_PRESENT;
  return values;
}

// A factor over an integral that is zero within its uncertainty, not one that is merely uncertain;
// the largest R/Q, and its speed, where it is below the 1e-4 ohm of REFERENCE.md and all uncertain.
START_TEST(figures_of_which_nothing_is_left) {
  const cavum_figure_id factor = CAVUM_FIGURE_TRANSIT_TIME_FACTOR,
                        best = CAVUM_FIGURE_R_OVER_Q_OPTIMUM, beta = CAVUM_FIGURE_BETA_OPTIMUM;
  cavum_mode_values v = values_of(factor, 1e5, 2e5, 1e-5);
  ck_assert(cavum_figure_policy_is_lost(factor, &v));
  v = values_of(factor, 1e5, 0.5e5, 1e-5);
  ck_assert(!cavum_figure_policy_is_lost(factor, &v));
  v = values_of(factor, 8.0, 9.0, 0.1);
  ck_assert(!cavum_figure_policy_is_lost(factor, &v));
  v = values_of(CAVUM_FIGURE_TRANSIT_TIME_FACTOR_ABS, 0.5, 0.7, 1e-5);
  ck_assert(!cavum_figure_policy_is_lost(CAVUM_FIGURE_TRANSIT_TIME_FACTOR_ABS, &v));
  v = values_of(best, 1e-14, 1e-13, 1.0);
  ck_assert(cavum_figure_policy_is_lost(best, &v) && cavum_figure_policy_is_lost(beta, &v));
  v = values_of(best, 1e-14, 1e-15, 1.0);
  ck_assert(!cavum_figure_policy_is_lost(best, &v) && !cavum_figure_policy_is_lost(beta, &v));
  // Below 1e-18 ohm rounding may be all of it, however sure it seems.
  v = values_of(best, 2e-22, 1e-24, 1.0);
  ck_assert(cavum_figure_policy_is_lost(best, &v) && cavum_figure_policy_is_lost(beta, &v));
  v = values_of(best, 2e-18, 1e-20, 1.0);
  ck_assert(!cavum_figure_policy_is_lost(best, &v) && !cavum_figure_policy_is_lost(beta, &v));
  v = values_of(best, 1.0, 10.0, 1.0);
  ck_assert(!cavum_figure_policy_is_lost(best, &v) && !cavum_figure_policy_is_lost(beta, &v));
}
END_TEST

// What a figure needs follows from its definition: everything with V or E_acc in it needs V.
START_TEST(figures_of_the_voltage_need_it) {
  for (int i = 0; i < CAVUM_NUM_FIGURES; i++) {
    const cavum_figure_policy *policy = cavum_figure_policy_of((cavum_figure_id)i);
    const char *definition = cavum_figure_describe((cavum_figure_id)i).definition;
    bool has_voltage = strstr(definition, "E_acc") || strstr(definition, "R/Q") ||
                       (strchr(definition, 'V') && !strstr(definition, "dV") &&
                        i != CAVUM_FIGURE_R_OVER_Q_OPTIMUM);
    if (i == CAVUM_FIGURE_BETA_OPTIMUM) has_voltage = false;  // at the speed of the largest V
    ck_assert_msg((policy->needs != CAVUM_NEEDS_NO_AXIS_INTEGRAL) == has_voltage, "%s: %s",
                  cavum_figure_describe((cavum_figure_id)i).key, definition);
  }
  ck_assert_int_eq(cavum_figure_policy_of(CAVUM_FIGURE_TRANSIT_TIME_FACTOR)->needs,
                   CAVUM_NEEDS_INTEGRAL);
}
END_TEST

// Peaks of the wall, and no other figures, have a spread; it is made in the unit of the figure.
START_TEST(peaks_on_the_wall_have_a_spread) {
  for (int i = 0; i < CAVUM_NUM_FIGURES; i++) {
    const cavum_figure_policy *policy = cavum_figure_policy_of((cavum_figure_id)i);
    cavum_figure_info info = cavum_figure_describe((cavum_figure_id)i);
    bool of_e = strstr(info.definition, "largest |E| on metal over E_acc") != NULL;
    bool of_h = strstr(info.definition, "largest mu0 |H| on metal over E_acc") != NULL;
    cavum_wall_spread expected = of_e   ? CAVUM_SPREAD_WALL_E
                                 : of_h ? CAVUM_SPREAD_WALL_H
                                        : CAVUM_SPREAD_NONE;
    ck_assert_msg(policy->spread == expected, "%s", info.key);
    if (of_e) ck_assert_str_eq(info.unit, "1");
    if (of_h) ck_assert_str_eq(info.unit, "T/(V/m)");
    ck_assert_msg((policy->convergence == CAVUM_CONVERGENCE_SPREAD) == (of_e || of_h), "%s",
                  info.key);
  }
}
END_TEST

// R_s, and what is lost in the wall, need a wall of known material; the tube cut needs a tube.
START_TEST(cells_have_what_the_definition_names) {
  for (int i = 0; i < CAVUM_NUM_FIGURES; i++) {
    cavum_figure_info info = cavum_figure_describe((cavum_figure_id)i);
    bool wall = strstr(info.definition, "R_s") || strstr(info.definition, "P_d") ||
                strstr(info.definition, "wall");
    bool tube = strstr(info.definition, "tube ends") != NULL;
    cavum_figure_cell expected = wall   ? CAVUM_CELL_WITH_STATED_WALL
                                 : tube ? CAVUM_CELL_WITH_TUBE
                                        : CAVUM_CELL_WITH_ANY;
    ck_assert_msg(cavum_figure_policy_of((cavum_figure_id)i)->of_cell == expected, "%s", info.key);
  }
}
END_TEST

// Peaks limit the gradient, resistance and power are paid for, a bunch loses k_loss; f, a particle
// speed and a change have no better side; of all others (voltage for the energy, Q) more is wanted.
START_TEST(better_is_less_of_peaks_and_losses) {
  for (int i = 0; i < CAVUM_NUM_FIGURES; i++) {
    cavum_figure_info info = cavum_figure_describe((cavum_figure_id)i);
    bool smaller = strstr(info.definition, "largest |E|") ||
                   strstr(info.definition, "largest mu0 |H|") || strstr(info.key, "loss") ||
                   strstr(info.key, "resistance") || strstr(info.key, "power");
    bool neither = strcmp(info.unit, "Hz") == 0 || strncmp(info.key, "beta_", 5) == 0 ||
                   strstr(info.key, "_change_");
    cavum_figure_better expected = smaller   ? CAVUM_BETTER_SMALLER
                                   : neither ? CAVUM_BETTER_NEITHER
                                             : CAVUM_BETTER_LARGER;
    ck_assert_msg(cavum_figure_policy_of((cavum_figure_id)i)->better == expected, "%s", info.key);
  }
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, every_figure_has_a_row);
  tcase_add_test(tests, constants_follow_the_power_of_mu0);
  tcase_add_test(tests, vector_errors_are_magnified_by_what_cancels);
  tcase_add_test(tests, figures_of_which_nothing_is_left);
  tcase_add_test(tests, figures_of_the_voltage_need_it);
  tcase_add_test(tests, peaks_on_the_wall_have_a_spread);
  tcase_add_test(tests, cells_have_what_the_definition_names);
  tcase_add_test(tests, better_is_less_of_peaks_and_losses);
}

CAVUM_TEST_MAIN("figure policy", add_tests)
