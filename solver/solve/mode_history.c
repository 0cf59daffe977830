// SPDX-License-Identifier: GPL-3.0-or-later
// One degree after the other of one mode: what exists, what it changed by, how uncertain it is.
#include "solve/mode_history.h"

#include "base/base.h"
#include "figures/sharp_corner.h"
#include "solve/accuracy.h"
#include "solve/figure_policy.h"

// An integral over the axis is none below this part of the accuracy asked for, to which the vector
// is no better known.
static const double ZERO_PART = 2e-2;

// Corners below this exponent have layers of elements that become very small: frequencies were off
// by up to 4e-11 of themselves there, elsewhere by 1e-11.
static const double GRADED_EXPONENT = 0.9, ROUNDING_OF_LAYERS = 5.0;

double cavum_mode_history_tail(const cavum_history *history, cavum_convergence convergence,
                               double rounding_floor, double exponent, int degree) {
  if (exponent < 1.0 && convergence == CAVUM_CONVERGENCE_STEADY) {
    convergence = CAVUM_CONVERGENCE_STEADY_BEHIND_CORNERS;
  }
  double tail = cavum_uncertainty_of_last(history, convergence, rounding_floor);
  double power = 4.0 * exponent;
  if (exponent >= CAVUM_SMOOTH_EXPONENT || exponent == 1.0) return tail;
  if (exponent > 1.0) {
    return cavum_max(tail, cavum_uncertainty_all_algebraic(history, convergence, power, degree));
  }
  double value = history->value[history->count - 1];
  if (exponent < GRADED_EXPONENT) {
    tail = cavum_max(tail, ROUNDING_OF_LAYERS * rounding_floor * fabs(value));
  }
  return cavum_max(tail, cavum_uncertainty_algebraic(history, convergence, power, degree));
}

// On the axis the unknown is H / r and its energy has r^3 as a weight: polynomials that are
// orthogonal with it, those of Jacobi with the parameters 0 and 3, go as powers of p + 2
// [Olver2010] 18.15. The R/Q of a slanted window fell as (p + 2.1)^(-2 nu).
static const double TIP_DEGREES = 2.0;

double cavum_mode_history_ungraded(const cavum_history *history, double rounding_floor,
                                   double exponent, bool at_tip, int degree) {
  if (exponent >= 1.0) return 0.0;
  double p = degree + (at_tip ? TIP_DEGREES : 0.0);
  return cavum_uncertainty_ungraded(history, 4.0 * exponent, p, rounding_floor);
}

double cavum_mode_history_tail_of_derivative(const cavum_history *history, double exponent,
                                             int degree) {
  double tail = cavum_mode_history_tail(history, CAVUM_CONVERGENCE_SIGNED, 0.0, exponent, degree);
  if (exponent >= CAVUM_STRONG_EXPONENT) return tail;
  double power = cavum_max(2.0, 4.0 * exponent * log(degree));
  return tail * power / (power - 1.0);
}

// What the rule of quadrature leaves out shows in no difference of degrees, which all have the same
// rule. The frequency has half of it, a quotient of two energies twice as much, a mode whose energy
// is nearer to the thin conductor than that of a TEM wave somewhat more.
static const double OF_QUADRATURE = 4.0;

// A tip at nearly a right angle has a small algebraic tail, which stands behind changes that still
// fall fast, as that of a weak corner does: the last change may be all of it.
static const double WEAK_TIP = 0.45;

static double tail_of(const cavum_history *history, cavum_figure_id id,
                      const cavum_mode_at_degree *mode) {
  const cavum_figure_policy *policy = cavum_figure_policy_of(id);
  double exponent = cavum_figure_policy_exponent(id, mode->values);
  bool at_tip = exponent < mode->values->corner_exponent;
  bool ungraded = mode->ungraded && policy->vector_effect != CAVUM_VECTOR_SECOND_ORDER;
  double tail = cavum_mode_history_tail(history, policy->convergence, policy->rounding_floor,
                                        exponent, mode->degree);
  if (ungraded) {
    tail = cavum_max(tail, cavum_mode_history_ungraded(history, policy->rounding_floor, exponent,
                                                       at_tip, mode->degree));
  }
  if (!at_tip || exponent < WEAK_TIP) return tail;
  return cavum_max(tail, cavum_uncertainty_all_algebraic(history, policy->convergence,
                                                         4.0 * exponent, mode->degree));
}

// Whether a number is what it is: stated, or the end of a range where it has stayed.
static bool is_settled(const cavum_figure *figure, const cavum_history *history) {
  int n = history->count;
  if (figure->basis == CAVUM_BASIS_STATED) return true;
  if (figure->basis != CAVUM_BASIS_END_OF_RANGE || n < CAVUM_DEGREES_LEAST) return false;
  return history->change[n - 1] == 0.0 && history->change[n - 2] == 0.0;
}

static void update_figure(cavum_figure *figure, cavum_history *history, cavum_figure_id id,
                          double spread, const cavum_mode_at_degree *mode) {
  double iteration = cavum_figure_policy_vector_error(id, mode->vector_error, mode->values);
  const cavum_figure_policy *policy = cavum_figure_policy_of(id);
  if (figure->state != CAVUM_FIGURE_PRESENT) {
    history->count = 0;
    return;
  }
  cavum_history_add(history, figure->value, spread, iteration * fabs(figure->value));
  if (is_settled(figure, history)) return;
  // An estimate, or a fit, brings what its formula leaves open.
  double relative =
      iteration + policy->constant_error + OF_QUADRATURE * mode->quadrature_error + mode->unfelt;
  figure->uncertainty += tail_of(history, id, mode) + relative * fabs(figure->value);
}

// A ratio that is zero as far as the hierarchy can tell: at the last degrees there was nothing, or
// it converges to nothing.
static bool is_zero(cavum_history *history, double ratio, double least) {
  double largest = 0.0;
  cavum_history_add(history, ratio, 0.0, 0.0);
  if (history->count < CAVUM_DEGREES_LEAST) return false;
  for (int i = 1; i <= CAVUM_DEGREES_LEAST; i++) {
    largest = cavum_max(largest, history->value[history->count - i]);
  }
  return largest < least ||
         ratio + cavum_uncertainty_of_last(history, CAVUM_CONVERGENCE_UNEVEN, 0.0) < least;
}

static void drop_vanishing(cavum_mode_values *values, cavum_mode_history *history,
                           const cavum_cell *cell) {
  double least = cavum_max(CAVUM_ZERO_RATIO, ZERO_PART * cell->accuracy_other_figures);
  // An odd mode has no int E_z dz, and a mode may have no voltage at the cell's particle speed.
  bool no_integral = is_zero(&history->integral_over_abs, values->integral_over_abs, least);
  bool no_voltage = is_zero(&history->voltage_over_abs, values->voltage_over_abs, least);
  // E vanishes on the mantle of a cylinder between lossless planes, to rounding.
  bool no_wall_e = is_zero(&history->wall_e_over_h, values->wall_e_over_h, CAVUM_ZERO_RATIO);
  for (int i = 0; i < CAVUM_NUM_FIGURES; i++) {
    const cavum_figure_policy *policy = cavum_figure_policy_of((cavum_figure_id)i);
    bool vanishes = (no_voltage && policy->needs != CAVUM_NEEDS_NO_AXIS_INTEGRAL) ||
                    (no_integral && policy->needs == CAVUM_NEEDS_INTEGRAL) ||
                    (no_wall_e && policy->needs == CAVUM_NEEDS_WALL_E);
    // Where E is unbounded it is so without a voltage.
    vanishes = vanishes && values->figures[i].state == CAVUM_FIGURE_PRESENT;
    if (vanishes) values->figures[i].state = CAVUM_FIGURE_ABSENT;
  }
}

double cavum_mode_history_spread(const cavum_mode_history *history,
                                 const cavum_wall_samples *samples, double eacc_v_per_m,
                                 const cavum_mesh_boundary *boundary, cavum_figure_id id) {
  cavum_wall_spread of = cavum_figure_policy_of(id)->spread;
  if (of == CAVUM_SPREAD_NONE) return 0.0;
  if (!history->samples || history->eacc_v_per_m <= 0.0 || eacc_v_per_m <= 0.0) return 0.0;
  bool electric = of == CAVUM_SPREAD_WALL_E;
  double spread = cavum_surface_spread(history->samples, history->eacc_v_per_m, samples,
                                       eacc_v_per_m, boundary, electric);
  return electric ? spread : CAVUM_MU0 * spread;
}

void cavum_mode_history_drop_lost(cavum_mode_values *values) {
  bool lost[CAVUM_NUM_FIGURES];
  for (int i = 0; i < CAVUM_NUM_FIGURES; i++) {
    lost[i] = cavum_figure_policy_is_lost((cavum_figure_id)i, values);
  }
  for (int i = 0; i < CAVUM_NUM_FIGURES; i++) {
    if (lost[i]) values->figures[i].state = CAVUM_FIGURE_ABSENT;
  }
}

// A quotient of the voltage and another integral along the axis: at a tip both converge slowly and
// alike, and the little by which they do not shows late. So a part of what the voltage changed by
// counts as its change.
static const double OF_VOLTAGE = 0.25;

static double change_with_voltage(const cavum_mode_history *history,
                                  const cavum_mode_values *values, cavum_figure_id id) {
  const cavum_history *voltage = &history->figures[CAVUM_FIGURE_VOLTAGE_AT_1_J];
  bool at_tip = values->integral_exponent < values->corner_exponent;
  if (cavum_figure_policy_of(id)->exponent != CAVUM_EXPONENT_INTEGRAL || !at_tip) return 0.0;
  double now = values->figures[CAVUM_FIGURE_VOLTAGE_AT_1_J].value;
  if (voltage->count == 0 || !(now > 0.0)) return 0.0;
  return OF_VOLTAGE * fabs(values->figures[id].value) *
         fabs(1.0 - voltage->value[voltage->count - 1] / now);
}

static double least_change(const cavum_mode_history *history, const cavum_mode_at_degree *mode,
                           cavum_figure_id id) {
  double eacc = mode->values->figures[CAVUM_FIGURE_EACC_AT_1_J].value;
  return cavum_max(change_with_voltage(history, mode->values, id),
                   cavum_mode_history_spread(history, mode->samples, eacc, mode->boundary, id));
}

// How near a speed is to another one: the integral of a change of E_z along an axis of length L,
// int d(E_z) exp(j q z) dz with q = k / beta, has its zeros about pi / L of q apart or more, and so
// has its part along V. Neighbours on the curve may be further apart in q; then some count all the
// same, since of a few values not all are small.
enum { NEAREST_POINTS = 2 };

// The largest change of the voltage among a point of the curve and those near it: a change that is
// small at one speed by luck is not.
static double change_near(const double *change, int point, double k_per_m, double length_m) {
  double q = k_per_m / cavum_mode_beta_point(point), largest = 0.0;
  for (int i = 0; i < CAVUM_BETA_POINTS; i++) {
    double apart = fabs(k_per_m / cavum_mode_beta_point(i) - q);
    if (abs(i - point) > NEAREST_POINTS && apart * length_m > CAVUM_PI) continue;
    largest = cavum_max(largest, change[i]);
  }
  return largest;
}

// The voltages of the cell's own speed and of light stand on their own: they may come from the
// outline, where changes are far smaller.
static bool stands_alone(int point, const cavum_cell *cell) {
  double beta = cavum_mode_beta_point(point);
  return beta == 1.0 || fabs(beta - cell->beta) < CAVUM_SAME_BETA;
}

static void add_to_curve(cavum_mode_history *history, const cavum_mode_at_degree *mode,
                         const cavum_cell *cell) {
  const cavum_mode_values *values = mode->values;
  double change[CAVUM_BETA_POINTS];
  double k = 2.0 * CAVUM_PI / CAVUM_C_M_PER_S * values->figures[CAVUM_FIGURE_FREQUENCY].value;
  for (int i = 0; i < CAVUM_BETA_POINTS; i++) {
    const cavum_history *of_beta = &history->voltage_of_beta[i];
    int count = stands_alone(i, cell) ? 0 : of_beta->count;
    change[i] = count > 0 ? fabs(values->voltage_of_beta[i] - of_beta->value[count - 1]) : 0.0;
  }
  for (int i = 0; i < CAVUM_BETA_POINTS; i++) {
    double left = cavum_figure_policy_voltage_error(mode->vector_error) * values->terms_v;
    left += mode->unfelt * fabs(values->voltage_of_beta[i]);
    double spread = stands_alone(i, cell) ? 0.0 : change_near(change, i, k, values->axis_length_m);
    cavum_history_add(&history->voltage_of_beta[i], values->voltage_of_beta[i], spread, left);
  }
}

void cavum_mode_history_add(cavum_mode_history *history, const cavum_mode_at_degree *mode,
                            const cavum_cell *cell) {
  cavum_mode_values *values = mode->values;
  double eacc = values->figures[CAVUM_FIGURE_EACC_AT_1_J].value;
  double least[CAVUM_NUM_FIGURES];
  drop_vanishing(values, history, cell);
  for (int i = 0; i < CAVUM_NUM_FIGURES; i++) {
    least[i] = least_change(history, mode, (cavum_figure_id)i);
  }
  for (int i = 0; i < CAVUM_NUM_FIGURES; i++) {
    update_figure(&values->figures[i], &history->figures[i], (cavum_figure_id)i, least[i], mode);
  }
  if (history->figures[CAVUM_FIGURE_FREQUENCY].count >= CAVUM_DEGREES_LEAST) {
    cavum_mode_history_drop_lost(values);
  }
  if (mode->curves) add_to_curve(history, mode, cell);
  free(history->samples);
  history->samples = mode->samples;
  history->eacc_v_per_m = eacc;
}

void cavum_mode_history_clear(cavum_mode_history *history) {
  free(history->samples);
  history->samples = NULL;
}
