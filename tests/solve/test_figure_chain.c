// SPDX-License-Identifier: GPL-3.0-or-later
// Figures as products of parts of a mode: the powers obey the definitions that join the figures.
#include "solve/figure_chain.h"
#include "support.h"

// d log R_s / d log f: no number that a mistake would make by chance.
static const double RESISTANCE_POWER = 0.37;

// Powers of figures whose product is a power of the accelerating length and of f alone.
typedef struct identity {
  const char *what;
  struct {
    cavum_figure_id id;
    double power;
  } terms[4];
  double length_power, f_power;
} identity;

static const identity identities[] = {
    {"circuit R/Q is half of linac R/Q",
     {{CAVUM_FIGURE_R_OVER_Q_LINAC, 1.0}, {CAVUM_FIGURE_R_OVER_Q_CIRCUIT, -1.0}},
     0.0,
     0.0},
    {"V^2 = omega R/Q at 1 J",
     {{CAVUM_FIGURE_VOLTAGE_AT_1_J, 2.0}, {CAVUM_FIGURE_R_OVER_Q_LINAC, -1.0}},
     0.0,
     1.0},
    {"E_acc = V / L",
     {{CAVUM_FIGURE_EACC_AT_1_J, 1.0}, {CAVUM_FIGURE_VOLTAGE_AT_1_J, -1.0}},
     -1.0,
     0.0},
    {"k_loss = omega R/Q / 4",
     {{CAVUM_FIGURE_LOSS_FACTOR, 1.0}, {CAVUM_FIGURE_R_OVER_Q_LINAC, -1.0}},
     0.0,
     1.0},
    {"G R/Q is their product",
     {{CAVUM_FIGURE_G_TIMES_R_OVER_Q, 1.0},
      {CAVUM_FIGURE_GEOMETRY_FACTOR, -1.0},
      {CAVUM_FIGURE_R_OVER_Q_LINAC, -1.0}},
     0.0,
     0.0},
    {"Q0 = G / R_s",
     {{CAVUM_FIGURE_Q0, 1.0},
      {CAVUM_FIGURE_GEOMETRY_FACTOR, -1.0},
      {CAVUM_FIGURE_SURFACE_RESISTANCE, 1.0}},
     0.0,
     0.0},
    {"R_s goes as a power of f", {{CAVUM_FIGURE_SURFACE_RESISTANCE, 1.0}}, 0.0, 0.37},
    {"R_sh = R/Q Q0",
     {{CAVUM_FIGURE_SHUNT_IMPEDANCE, 1.0},
      {CAVUM_FIGURE_R_OVER_Q_LINAC, -1.0},
      {CAVUM_FIGURE_Q0, -1.0}},
     0.0,
     0.0},
    {"P_d R_sh = (E_acc L)^2 at E_acc = 1 MV/m",
     {{CAVUM_FIGURE_WALL_POWER, 1.0}, {CAVUM_FIGURE_SHUNT_IMPEDANCE, 1.0}},
     2.0,
     0.0},
};

// Sums of powers, exact but for rounding of a few sums.
START_TEST(powers_obey_the_definitions) {
  const identity *of = &identities[_i];
  double power[CAVUM_NUM_FUNCTIONALS] = {0}, length_power = 0.0;
  for (int t = 0; t < 4 && of->terms[t].power != 0.0; t++) {
    cavum_figure_chain chain = cavum_figure_chain_of(of->terms[t].id, RESISTANCE_POWER);
    ck_assert(chain.known);
    for (int p = 0; p < CAVUM_NUM_FUNCTIONALS; p++) {
      power[p] += of->terms[t].power * chain.power[p];
    }
    length_power += of->terms[t].power * chain.length_power;
  }
  printf("%s\n", of->what);
  for (int p = 0; p < CAVUM_NUM_FUNCTIONALS; p++) {
    CAVUM_CHECK_NEAR(power[p], p == CAVUM_FUNCTIONAL_K2 ? 0.5 * of->f_power : 0.0, 1e-15);
  }
  CAVUM_CHECK_NEAR(length_power, of->length_power, 1e-15);
}
END_TEST

// A peak ratio is the field at the peak over E_acc, a transit-time factor V over an integral.
START_TEST(ratios_have_their_parts) {
  static const struct {
    cavum_figure_id id;
    cavum_functional_id part;
    double part_power, voltage_power, length_power;
  } ratios[] = {{CAVUM_FIGURE_EPK_OVER_EACC, CAVUM_FUNCTIONAL_PEAK_E, 1.0, -1.0, 1.0},
                {CAVUM_FIGURE_BPK_OVER_EACC, CAVUM_FUNCTIONAL_PEAK_H, 1.0, -1.0, 1.0},
                {CAVUM_FIGURE_TRANSIT_TIME_FACTOR, CAVUM_FUNCTIONAL_INTEGRAL, -1.0, 1.0, 0.0},
                {CAVUM_FIGURE_TRANSIT_TIME_FACTOR_ABS, CAVUM_FUNCTIONAL_SIZES, -1.0, 1.0, 0.0}};
  for (size_t i = 0; i < sizeof ratios / sizeof *ratios; i++) {
    cavum_figure_chain chain = cavum_figure_chain_of(ratios[i].id, RESISTANCE_POWER);
    for (int p = 0; p < CAVUM_NUM_FUNCTIONALS; p++) {
      double expected = p == (int)ratios[i].part        ? ratios[i].part_power
                        : p == CAVUM_FUNCTIONAL_VOLTAGE ? ratios[i].voltage_power
                                                        : 0.0;
      CAVUM_CHECK_NEAR(chain.power[p], expected, 1e-15);
    }
    CAVUM_CHECK_NEAR(chain.length_power, ratios[i].length_power, 1e-15);
  }
  ck_assert(!cavum_figure_chain_of(CAVUM_FIGURE_BETA_OPTIMUM, RESISTANCE_POWER).known);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_loop_test(tests, powers_obey_the_definitions, 0,
                      (int)(sizeof identities / sizeof *identities));
  tcase_add_test(tests, ratios_have_their_parts);
}

CAVUM_TEST_MAIN("figure chain", add_tests)
