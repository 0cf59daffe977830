// SPDX-License-Identifier: GPL-3.0-or-later
// The table of what each figure is like numerically.
#include "solve/figure_policy.h"

#include "base/base.h"

// Rounding floors relative to a figure, from repeated solves of one cell on different meshes: the
// eigenvalue is good to a few 1e-15 times the condition of the condensation, quantities that are
// linear in the eigenvector to what the iteration leaves in it (2e-11 in half of a flat pillbox),
// peaks of E (a derivative) to no more than a few times that. The place of a flat maximum is good
// to the square root of the rounding of the value only.
#define FLOOR_FREQUENCY 1e-11
#define FLOOR_OTHER 5e-11
#define FLOOR_PEAK 1e-10
#define FLOOR_FLAT 3e-8
// mu0 is a measured constant: CODATA 2018 gives 1.5e-10 as its relative standard uncertainty, and
// the 2022 value is 6.8e-10 lower. A field of given energy has E as the root of mu0, so V goes as
// its root, R/Q and G as mu0, a resistance by skin depth as its root. Ratios, lengths and
// frequencies do not depend on it; nor does mu0 H over E.
#define MU0_ERROR 7e-10
// Figures are linear or quadratic in the vector, the two in a quotient. An integral over the wall
// has twice the error of the field there, which is about that of the vector: modes have their
// energy near the wall in similar parts.
static const double VECTOR_FACTOR = 6.0, ENERGY_FACTOR = 3.0;

// Figure; convergence; spread of; rounding floor; error of the constants; what the vector's error
// does; the exponents of corners and tips that count; what it needs; its role; what the cell
// must have; better when. The speed of the largest R/Q is a flat maximum and the tube-cut estimates
// are about tiny numbers: these are exempt.
// clang-format off
#define POLICY_TABLE(X)                                                                                                                                   \
  X(FREQUENCY,               STEADY, NONE,   FLOOR_FREQUENCY, 0.0,             SECOND_ORDER, CORNER,   NO_AXIS_INTEGRAL, REQUIRED, ANY,         NEITHER)  \
  X(R_OVER_Q_LINAC,          SIGNED, NONE,   FLOOR_OTHER,     MU0_ERROR,       VOLTAGE,      VOLTAGE,  VOLTAGE,          REQUIRED, ANY,         LARGER)   \
  X(R_OVER_Q_CIRCUIT,        SIGNED, NONE,   FLOOR_OTHER,     MU0_ERROR,       VOLTAGE,      VOLTAGE,  VOLTAGE,          REQUIRED, ANY,         LARGER)   \
  X(GEOMETRY_FACTOR,         STEADY, NONE,   FLOOR_OTHER,     MU0_ERROR,       ENERGY,       CORNER,   NO_AXIS_INTEGRAL, REQUIRED, ANY,         LARGER)   \
  X(G_TIMES_R_OVER_Q,        SIGNED, NONE,   FLOOR_OTHER,     2.0 * MU0_ERROR, VOLTAGE,      VOLTAGE,  VOLTAGE,          REQUIRED, ANY,         LARGER)   \
  X(EPK_OVER_EACC,           SPREAD, WALL_E, FLOOR_PEAK,      0.0,             VOLTAGE,      VOLTAGE,  WALL_E,           REQUIRED, ANY,         SMALLER)  \
  X(BPK_OVER_EACC,           SPREAD, WALL_H, FLOOR_OTHER,     0.0,             VOLTAGE,      VOLTAGE,  VOLTAGE,          REQUIRED, ANY,         SMALLER)  \
  X(TRANSIT_TIME_FACTOR,     SIGNED, NONE,   FLOOR_OTHER,     0.0,             INTEGRAL,     INTEGRAL, INTEGRAL,         REQUIRED, ANY,         LARGER)   \
  X(TRANSIT_TIME_FACTOR_ABS, SIGNED, NONE,   FLOOR_OTHER,     0.0,             VOLTAGE,      INTEGRAL, VOLTAGE,          REQUIRED, ANY,         LARGER)   \
  X(LOSS_FACTOR,             SIGNED, NONE,   FLOOR_OTHER,     MU0_ERROR,       VOLTAGE,      VOLTAGE,  VOLTAGE,          REQUIRED, ANY,         SMALLER)  \
  X(VOLTAGE_AT_1_J,          SIGNED, NONE,   FLOOR_OTHER,     0.5 * MU0_ERROR, VOLTAGE,      VOLTAGE,  VOLTAGE,          REQUIRED, ANY,         LARGER)   \
  X(EACC_AT_1_J,             SIGNED, NONE,   FLOOR_OTHER,     0.5 * MU0_ERROR, VOLTAGE,      VOLTAGE,  VOLTAGE,          REQUIRED, ANY,         LARGER)   \
  X(BETA_OPTIMUM,            SIGNED, NONE,   FLOOR_FLAT,      0.0,             BEST_VOLTAGE, AXIS,     NO_AXIS_INTEGRAL, EXEMPT,   ANY,         NEITHER)  \
  X(R_OVER_Q_OPTIMUM,        SIGNED, NONE,   FLOOR_OTHER,     MU0_ERROR,       BEST_VOLTAGE, OPTIMUM,  NO_AXIS_INTEGRAL, REQUIRED, ANY,         LARGER)   \
  X(SURFACE_RESISTANCE,      STEADY, NONE,   FLOOR_OTHER,     0.5 * MU0_ERROR, ENERGY,       CORNER,   NO_AXIS_INTEGRAL, REQUIRED, STATED_WALL, SMALLER)  \
  X(Q0,                      STEADY, NONE,   FLOOR_OTHER,     MU0_ERROR,       ENERGY,       CORNER,   NO_AXIS_INTEGRAL, REQUIRED, STATED_WALL, LARGER)   \
  X(SHUNT_IMPEDANCE,         SIGNED, NONE,   FLOOR_OTHER,     2.0 * MU0_ERROR, VOLTAGE,      VOLTAGE,  VOLTAGE,          REQUIRED, STATED_WALL, LARGER)   \
  X(WALL_POWER,              SIGNED, NONE,   FLOOR_OTHER,     2.0 * MU0_ERROR, VOLTAGE,      VOLTAGE,  VOLTAGE,          REQUIRED, STATED_WALL, SMALLER)  \
  X(TUBE_CUT_FREQUENCY,      SIGNED, NONE,   FLOOR_OTHER,     0.0,             TUBE_END,     CORNER,   NO_AXIS_INTEGRAL, ESTIMATE, TUBE,        NEITHER)  \
  X(TUBE_CUT_R_OVER_Q,       SIGNED, NONE,   FLOOR_OTHER,     MU0_ERROR,       TUBE_END,     CORNER,   VOLTAGE,          ESTIMATE, TUBE,        NEITHER)
// clang-format on

// A figure without a row names a constant here that does not exist: the compiler says which.
#define POLICY_EXISTS(name, ...) HAS_POLICY_##name,
enum { POLICY_TABLE(POLICY_EXISTS) NUM_POLICIES };
#define POLICY_NEEDED(name, ...) NEEDS_POLICY_##name = HAS_POLICY_##name,
enum { CAVUM_FIGURE_TABLE(POLICY_NEEDED) };
_Static_assert((int)NUM_POLICIES == (int)CAVUM_NUM_FIGURES, "one row a figure");

#define SPREAD_NEEDED(name, kind, spread, ...)                             \
  _Static_assert((CAVUM_CONVERGENCE_##kind == CAVUM_CONVERGENCE_SPREAD) == \
                     (CAVUM_SPREAD_##spread != CAVUM_SPREAD_NONE),         \
                 #name ": CONVERGENCE_SPREAD and a spread go together");
POLICY_TABLE(SPREAD_NEEDED)

#define POLICY_ROW(name, kind, spread_of, floor, constants, effect, exponent_of, need, which_role, \
                   has, when)                                                                      \
  [CAVUM_FIGURE_##name] = {.convergence = CAVUM_CONVERGENCE_##kind,                                \
                           .spread = CAVUM_SPREAD_##spread_of,                                     \
                           .rounding_floor = (floor),                                              \
                           .constant_error = (constants),                                          \
                           .vector_effect = CAVUM_VECTOR_##effect,                                 \
                           .exponent = CAVUM_EXPONENT_##exponent_of,                               \
                           .needs = CAVUM_NEEDS_##need,                                            \
                           .role = CAVUM_ROLE_##which_role,                                        \
                           .of_cell = CAVUM_CELL_WITH_##has,                                       \
                           .better = CAVUM_BETTER_##when},
static const cavum_figure_policy POLICIES[CAVUM_NUM_FIGURES] = {POLICY_TABLE(POLICY_ROW)};

const cavum_figure_policy *cavum_figure_policy_of(cavum_figure_id id) {
  CAVUM_ASSERT((int)id >= 0 && id < CAVUM_NUM_FIGURES);
  return &POLICIES[id];
}

double cavum_figure_policy_vector_error(cavum_figure_id id, double vector_error,
                                        const cavum_mode_values *values) {
  double voltage = cavum_max(values->voltage_rcond, CAVUM_ZERO_RATIO);
  double integral = cavum_max(values->integral_rcond, CAVUM_ZERO_RATIO);
  double cut = fabs(values->figures[CAVUM_FIGURE_TUBE_CUT_FREQUENCY].value) /
               values->figures[CAVUM_FIGURE_FREQUENCY].value;
  switch (POLICIES[id].vector_effect) {
    case CAVUM_VECTOR_SECOND_ORDER:
      return 0.0;
    case CAVUM_VECTOR_ENERGY:
      return ENERGY_FACTOR * vector_error;
    case CAVUM_VECTOR_BEST_VOLTAGE:
      return VECTOR_FACTOR * vector_error / cavum_max(values->optimum_rcond, CAVUM_ZERO_RATIO);
    case CAVUM_VECTOR_INTEGRAL:
      return VECTOR_FACTOR * vector_error / cavum_min(voltage, integral);
    case CAVUM_VECTOR_TUBE_END:
      // From the decayed field, whose square the change of f is.
      return VECTOR_FACTOR * vector_error / cavum_max(sqrt(cut), vector_error);
    case CAVUM_VECTOR_VOLTAGE:
      break;
  }
  return VECTOR_FACTOR * vector_error / voltage;
}

double cavum_figure_policy_exponent(cavum_figure_id id, const cavum_mode_values *values) {
  switch (POLICIES[id].exponent) {
    case CAVUM_EXPONENT_CORNER:
      return values->corner_exponent;
    case CAVUM_EXPONENT_AXIS:
      return values->axis_exponent;
    case CAVUM_EXPONENT_OPTIMUM:
      return values->optimum_exponent;
    case CAVUM_EXPONENT_INTEGRAL:
      return values->integral_exponent;
    case CAVUM_EXPONENT_VOLTAGE:
      break;
  }
  return values->voltage_exponent;
}

double cavum_figure_policy_voltage_error(double vector_error) {
  return VECTOR_FACTOR * vector_error;
}

// A part of the natural scale below which nobody wants more digits, and R/Q of a usual cell.
static const double SMALL_PART = 1e-3, USUAL_R_OVER_Q_OHM = 100.0;
// A voltage below this part of a usual one is nothing: the rounding of a mode's vector, some 5e-11
// of it, may make as much.
static const double NOTHING_PART = 1e-10, WITHOUT_LIMIT = 1e300;
// The least part that is told apart, of a voltage that may be absent and of one that may not: a
// mode away from the axis has hardly any field there, at any particle speed.
static const double PART_LEAST = CAVUM_ZERO_RATIO * 1e-3, BEST_PART_LEAST = 1e-30;

// A thousandth of the scale over a voltage that is a part of what it is the sum of.
static double relaxation_of_voltage(double voltage_v, double rcond, double frequency_hz,
                                    double part_least) {
  double usual_v = sqrt(USUAL_R_OVER_Q_OHM * 2.0 * CAVUM_PI * frequency_hz);
  if (voltage_v < NOTHING_PART * usual_v) return WITHOUT_LIMIT;
  double part = cavum_min(rcond, voltage_v / usual_v);
  return cavum_max(1.0, SMALL_PART / cavum_max(part, part_least));
}

double cavum_figure_policy_relaxation(cavum_figure_id id, const cavum_mode_values *values) {
  const cavum_figure *figures = values->figures;
  double frequency_hz = figures[CAVUM_FIGURE_FREQUENCY].value;
  if (POLICIES[id].vector_effect == CAVUM_VECTOR_BEST_VOLTAGE) {
    double r_over_q = figures[CAVUM_FIGURE_R_OVER_Q_OPTIMUM].value;
    double voltage_v = sqrt(cavum_max(0.0, r_over_q) * 2.0 * CAVUM_PI * frequency_hz);
    return relaxation_of_voltage(voltage_v, values->optimum_rcond, frequency_hz, BEST_PART_LEAST);
  }
  if (POLICIES[id].needs == CAVUM_NEEDS_NO_AXIS_INTEGRAL) return 1.0;
  double rcond = values->voltage_rcond;
  if (POLICIES[id].needs == CAVUM_NEEDS_INTEGRAL) rcond = cavum_min(rcond, values->integral_rcond);
  return relaxation_of_voltage(figures[CAVUM_FIGURE_VOLTAGE_AT_1_J].value, rcond, frequency_hz,
                               PART_LEAST);
}

bool cavum_figure_policy_is_lost(cavum_figure_id id, const cavum_mode_values *values) {
  const cavum_figure *figure = &values->figures[id];
  const cavum_figure *best = &values->figures[CAVUM_FIGURE_R_OVER_Q_OPTIMUM];
  if (figure->state != CAVUM_FIGURE_PRESENT) return false;
  if (POLICIES[id].needs == CAVUM_NEEDS_INTEGRAL) {
    return values->integral_over_abs < SMALL_PART && figure->uncertainty >= fabs(figure->value);
  }
  if (POLICIES[id].vector_effect != CAVUM_VECTOR_BEST_VOLTAGE) return false;
  double small_ohm = SMALL_PART * SMALL_PART * USUAL_R_OVER_Q_OHM;
  double nothing_ohm = NOTHING_PART * NOTHING_PART * USUAL_R_OVER_Q_OHM;
  return best->value < nothing_ohm || (best->value < small_ohm && best->uncertainty >= best->value);
}
